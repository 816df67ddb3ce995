//! Fields and records. Sources are named in `tests/reference/csv/README.md`.

use serde_json::Value;
use wattsieve_core::log::{Settings, read, split_records};

use crate::support::{Random, from_base64, json};

fn rows_of(value: &Value) -> Vec<Vec<String>> {
    let field = |field: &Value| field.as_str().unwrap().to_owned();
    value.as_array().unwrap().iter().map(|row| row.as_array().unwrap().iter().map(field).collect()).collect()
}

#[test]
fn rfc_4180_rules_hold() {
    let cases = json("reference/csv/rfc4180.json");
    let cases = cases["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 11);
    for case in cases {
        let bytes = from_base64(case["input_base64"].as_str().unwrap());
        assert_eq!(split_records(&bytes, b','), rows_of(&case["expected_rows"]), "{}", case["meaning"]);
    }
}

#[test]
fn csv_spectrum_is_read() {
    let cases = json("reference/csv/csv-spectrum.json");
    let cases = cases["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 11);
    for case in cases {
        let bytes = from_base64(case["bytes_base64"].as_str().unwrap());
        let records = split_records(&bytes, b',');
        let (header, rows) = records.split_first().unwrap();
        let expected = case["expected_records"].as_array().unwrap();
        assert_eq!(rows.len(), expected.len(), "{}", case["name"]);
        for (row, expected) in rows.iter().zip(expected) {
            assert_eq!(row.len(), header.len());
            for (name, field) in header.iter().zip(row) {
                assert_eq!(expected[name].as_str(), Some(field.as_str()), "{} {name}", case["name"]);
            }
        }
        // As a log: every number in it is in its column, and every record with a number is a row.
        let log = read(&bytes, &Settings::default());
        for (place, column) in log.columns.iter().enumerate().filter(|(_, column)| !column.values.is_empty())
        {
            assert_eq!(column.header, header[place]);
            let numbers: Vec<f64> = rows
                .iter()
                .filter(|row| row.iter().any(|field| field.parse::<f64>().is_ok()))
                .map(|row| row[place].parse().unwrap_or(f64::NAN))
                .collect();
            assert_eq!(numbers.len(), column.values.len(), "{}", case["name"]);
            for (found, expected) in column.values.iter().zip(&numbers) {
                assert!(
                    found == expected || (found.is_nan() && expected.is_nan()),
                    "{} {found}",
                    case["name"]
                );
            }
        }
    }
}

/// Cases left out, with the reason. Malformed quotes: parsers differ on them and what a logger
/// could mean by them is not known; the reader reports such a record. The others concern what a log
/// does not have: a comment sign of the caller's choice, comments switched off, a record for an
/// empty line.
const LEFT_OUT: [&str; 10] = [
    "Quoted field has invalid trailing quote after delimiter with a valid closer",
    "Quoted field has invalid trailing quote after delimiter",
    "Quoted field has invalid trailing quote before delimiter",
    "Quoted field has invalid trailing quote after new line",
    "Comment with non-default character",
    "Multi-character comment string",
    "Input with only a commented line, without comments enabled",
    "Input with only a commented line and blank line after",
    "One column input with empty fields",
    "Input without comments with line starting with whitespace",
];

#[test]
fn published_parser_cases_hold() {
    let cases = json("reference/csv/parser-cases.json");
    let mut checked = 0;
    for case in cases["cases"].as_array().unwrap() {
        let name = case["description"].as_str().unwrap();
        if LEFT_OUT.contains(&name) {
            continue;
        }
        let found = split_records(case["input"].as_str().unwrap().as_bytes(), b',');
        assert_eq!(found, rows_of(&case["expected_rows"]), "{name}");
        checked += 1;
    }
    assert_eq!(checked, 43);
}

/// The csv crate as a slow twin: random tables, written by it, come back from both alike.
#[test]
fn agrees_with_the_csv_crate() {
    let mut random = Random(0x7ab1e);
    let pieces = ["1", "2.5", "a", " ", "\"", ",", "\n", "\r\n", "µ", "-", ""];
    for _ in 0..2000 {
        let columns = 1 + random.below(5);
        let separator = b",;\t|"[random.below(4)];
        let mut writer = csv::WriterBuilder::new().delimiter(separator).from_writer(Vec::new());
        let mut expected = Vec::new();
        for _ in 0..1 + random.below(5) {
            let mut row: Vec<String> = (0..columns)
                .map(|_| (0..random.below(5)).map(|_| pieces[random.below(pieces.len())]).collect())
                .collect();
            // Neither an empty line nor a comment.
            row[0].insert(0, 'x');
            writer.write_record(&row).unwrap();
            expected.push(row);
        }
        let text = writer.into_inner().unwrap();
        let twin: Vec<Vec<String>> = csv::ReaderBuilder::new()
            .delimiter(separator)
            .has_headers(false)
            .from_reader(text.as_slice())
            .records()
            .map(|record| record.unwrap().iter().map(str::to_owned).collect())
            .collect();
        assert_eq!(twin, expected);
        assert_eq!(split_records(&text, separator), expected, "{:?}", String::from_utf8_lossy(&text));
    }
}
