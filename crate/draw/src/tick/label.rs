//! The text of a number on an axis.

/// A number with a fixed count of decimals, true minus sign, and digits grouped by thin spaces
/// from five digits on.
///
/// **Source** decimal marker and grouping: SI Brochure, 9th edition, 5.4.4.
/// Very large and very small numbers are written with a power of ten.
#[must_use]
pub fn decimal_label(value: f64, decimals: i32) -> String {
    if value != 0.0 && (value.abs() >= 1e7 || decimals > 6) {
        let digits = libm::floor(libm::log10(value.abs())) as i32 + decimals;
        return powered(value, digits.clamp(0, 16) as usize);
    }
    let text = format!("{:.*}", decimals.max(0) as usize, value.abs());
    let negative = value < 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b));
    let (whole, fraction) = text.split_once('.').map_or((text.as_str(), None), |(a, b)| (a, Some(b)));
    let mut out = String::new();
    if negative {
        out.push('\u{2212}');
    }
    for (at, digit) in whole.chars().enumerate() {
        if whole.len() > 4 && at > 0 && (whole.len() - at) % 3 == 0 {
            out.push('\u{2009}');
        }
        out.push(digit);
    }
    if let Some(fraction) = fraction {
        out.push('.');
        out.push_str(fraction);
    }
    out
}

/// A number with as many decimals as it needs, at most five.
#[must_use]
pub fn number_label(value: f64) -> String {
    if value != 0.0 && (value.abs() < 9.99e-4 || value.abs() >= 1e4) {
        return powered(value, 6);
    }
    let decimals = (0..5)
        .find(|&d| {
            let scaled = value * super::power_of_ten(d);
            (scaled - libm::round(scaled)).abs() < 1e-6 * scaled.abs()
        })
        .unwrap_or(5);
    decimal_label(value, decimals)
}

/// A number as digits, so many of them after the marker, times a power of ten.
fn powered(value: f64, decimals: usize) -> String {
    let text = format!("{:.*e}", decimals, value.abs());
    let (digits, exponent) = text.split_once('e').unwrap_or((&text, "0"));
    let digits =
        if digits.contains('.') { digits.trim_end_matches('0').trim_end_matches('.') } else { digits };
    let mut out = String::new();
    if value < 0.0 {
        out.push('\u{2212}');
    }
    if digits != "1" {
        out.push_str(digits);
        out.push('·');
    }
    out.push_str("10");
    for c in exponent.chars() {
        out.push(match c {
            '-' => '⁻',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            digit => digit.to_digit(10).and_then(|d| char::from_u32(0x2070 + d)).unwrap_or(digit),
        });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_numbers_as_the_si_brochure_wants_them() {
        assert_eq!(decimal_label(-0.5, 1), "−0.5");
        assert_eq!(decimal_label(-0.0, 1), "0.0");
        assert_eq!(decimal_label(1234.0, 0), "1234");
        assert_eq!(decimal_label(43279.0, 0), "43\u{2009}279");
        assert_eq!(decimal_label(1_234_567.5, 1), "1\u{2009}234\u{2009}567.5");
        assert_eq!(decimal_label(2e8, 0), "2·10⁸");
        assert_eq!(number_label(0.03), "0.03");
        assert_eq!(number_label(1e-6), "10⁻⁶");
        assert_eq!(number_label(2.5e-12), "2.5·10⁻¹²");
    }
}
