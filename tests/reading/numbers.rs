//! Decimal text to binary64. Sources are named in `tests/reference/decimal/README.md`.

use wattsieve_core::log::{Settings, parse_number, read};

use crate::support::{file, json};

fn cases() -> Vec<(String, u64)> {
    let mut cases = Vec::new();
    for name in ["lemire-fast-float.txt", "more-test-cases.txt"] {
        let text = String::from_utf8(file(&format!("reference/decimal/{name}"))).unwrap();
        for line in text.lines().filter(|line| !line.is_empty()) {
            let (bits, decimal) = line.split_once(' ').unwrap();
            cases.push((decimal.to_owned(), u64::from_str_radix(bits, 16).unwrap()));
        }
    }
    for case in json("reference/decimal/corner-cases.json")["cases"].as_array().unwrap() {
        let bits = u64::from_str_radix(case["f64_bits"].as_str().unwrap(), 16).unwrap();
        cases.push((case["text"].as_str().unwrap().to_owned(), bits));
    }
    assert!(cases.len() >= 3359 + 71, "{}", cases.len());
    cases
}

#[test]
fn every_decimal_is_correctly_rounded() {
    for (text, bits) in cases() {
        let found = parse_number(text.as_bytes(), b'.').map(f64::to_bits);
        assert_eq!(found, Some(bits), "{text}");
        let with_comma = text.replace('.', ",");
        assert_eq!(parse_number(with_comma.as_bytes(), b',').map(f64::to_bits), Some(bits), "{with_comma}");
    }
}

/// The same through the reader, whose fast scanner takes most of them. What is beyond 9.9E37 is
/// over-range to a log by rule.
#[test]
fn a_log_reads_them_the_same() {
    let cases: Vec<(String, u64)> =
        cases().into_iter().filter(|(_, bits)| f64::from_bits(*bits).abs() < 9.9e37).collect();
    for (separator, decimal_mark) in [(",", "."), (";", ","), ("\t", "."), ("  ", ",")] {
        let mut text = format!("a{separator}b\n");
        for (decimal, _) in &cases {
            text.push_str(&format!("{}{separator}1\n", decimal.replace('.', decimal_mark)));
        }
        let settings = Settings { decimal_mark: decimal_mark.chars().next(), ..Settings::default() };
        let log = read(text.as_bytes(), &settings);
        assert_eq!(log.rows(), cases.len());
        for ((decimal, bits), found) in cases.iter().zip(&log.columns[0].values) {
            assert_eq!(found.to_bits(), *bits, "{decimal} between {separator:?}");
        }
    }
}
