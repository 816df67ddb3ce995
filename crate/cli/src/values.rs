//! Values of options: numbers with their uncertainty, lists, pairs.

use wattsieve_core::fixture::Stated;

/// A finite number; comma or point as decimal mark.
///
/// **Errors** a sentence that names the option.
pub(crate) fn number(option: &str, text: &str) -> Result<f64, String> {
    match text.trim().replace(',', ".").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("`--{option}`: found `{text}`, expected a number")),
    }
}

/// A number that is not below zero.
pub(crate) fn non_negative(option: &str, text: &str) -> Result<f64, String> {
    let value = number(option, text)?;
    if value < 0.0 {
        return Err(format!("`--{option}`: found `{text}`, expected a number not below 0"));
    }
    Ok(value)
}

/// `OHMS` or `OHMS+-U`, U a standard uncertainty.
pub(crate) fn stated(option: &str, text: &str) -> Result<Stated, String> {
    let (value, u) = match text.split_once("+-").or_else(|| text.split_once('±')) {
        Some((value, u)) => (value, Some(non_negative(option, u)?)),
        None => (text, None),
    };
    Ok(Stated { value: number(option, value)?, u })
}

/// `name=value,name=value` in order.
pub(crate) fn pairs<'a>(option: &str, text: &'a str) -> Result<Vec<(&'a str, &'a str)>, String> {
    text.split(',')
        .map(|part| {
            part.split_once('=')
                .map(|(name, value)| (name.trim(), value.trim()))
                .filter(|(name, value)| !name.is_empty() && !value.is_empty())
                .ok_or_else(|| format!("`--{option}`: found `{part}`, expected name=value"))
        })
        .collect()
}

/// A number with a unit of volts, amperes or seconds and an SI prefix, or a percentage.
pub(crate) fn with_unit(option: &str, text: &str) -> Result<f64, String> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+' | 'e' | 'E')))
        .unwrap_or(text.len());
    let (digits, unit) = text.split_at(end);
    let factor = match unit.trim() {
        "" | "V" | "A" | "s" => 1.0,
        "%" => 0.01,
        "mV" | "mA" | "ms" => 1e-3,
        "uV" | "uA" | "us" | "µV" | "µA" | "µs" | "μV" | "μA" | "μs" => 1e-6,
        other => {
            return Err(format!("`--{option}`: unit `{other}` in `{text}` is not V, A, s with m or u, or %"));
        }
    };
    Ok(number(option, digits)? * factor)
}

/// Two numbers per line of a small table, a header line allowed.
///
/// **Errors** names the file and the line.
pub(crate) fn table_of_two(path: &str, text: &str) -> Result<Vec<[f64; 2]>, String> {
    let mut rows = Vec::new();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .comment(Some(b'#'))
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    for (index, record) in reader.records().enumerate() {
        let record = record.map_err(|error| format!("{path}: {error}"))?;
        let line = record.position().map_or(index as u64 + 1, csv::Position::line);
        let values: Vec<Option<f64>> =
            record.iter().take(2).map(|cell| cell.parse::<f64>().ok().filter(|v| v.is_finite())).collect();
        match values[..] {
            [Some(a), Some(b)] => rows.push([a, b]),
            _ if index == 0 => {}
            _ => {
                return Err(format!(
                    "{path}, line {line}: expected two numbers, found `{}`",
                    record.iter().collect::<Vec<_>>().join(",")
                ));
            }
        }
    }
    if rows.is_empty() {
        return Err(format!("{path}: holds no line with two numbers"));
    }
    Ok(rows)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_values_with_units_and_uncertainty() {
        assert_eq!(stated("x", "0.68+-0.01").unwrap(), Stated { value: 0.68, u: Some(0.01) });
        assert_eq!(stated("x", "2.2").unwrap(), Stated { value: 2.2, u: None });
        assert!((with_unit("x", "0.25mA").unwrap() - 0.00025).abs() < 1e-18);
        assert!((with_unit("x", "0.1%").unwrap() - 0.001).abs() < 1e-18);
        assert!(with_unit("x", "3 kV").is_err());
        assert_eq!(pairs("x", "a=1,b=mV").unwrap(), [("a", "1"), ("b", "mV")]);
        assert!(number("x", "nan").is_err());
    }

    #[test]
    fn reads_a_table_of_two_and_names_the_line_that_is_wrong() {
        assert_eq!(table_of_two("p", "v_in,i_out\n12,1\n10,2\n").unwrap(), [[12.0, 1.0], [10.0, 2.0]]);
        assert!(table_of_two("p", "1,2\nx,3\n").unwrap_err().contains("line 2"));
        assert!(table_of_two("p", "").is_err());
    }
}
