//! Lines of megabytes, hundreds of columns, and two loggers of one run.

use wattsieve_core::bench::{Bench, Detail, InputSettings, Settings};
use wattsieve_core::log::{self, Log, ProblemCode, Reader};

use crate::support::file;

/// The log read at once, after the same in pieces has given the same.
fn read(bytes: &[u8]) -> Log {
    let log = log::read(bytes, &log::Settings::default());
    for size in [4096, 1 << 20] {
        let mut reader = Reader::new(&log::Settings::default(), None);
        bytes.chunks(size).for_each(|piece| reader.push(piece));
        let pieces = reader.finish();
        assert_eq!((&pieces.problems, &pieces.lines, &pieces.marks), (&log.problems, &log.lines, &log.marks));
        for (one, other) in pieces.columns.iter().zip(&log.columns) {
            assert_eq!(one.values.len(), other.values.len());
            assert!(one.values.iter().zip(&other.values).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
    }
    log
}

fn rows(from: u32, to: u32, out: &mut Vec<u8>) {
    for row in from..to {
        out.extend_from_slice(format!("{}.5,12.{row},0.25,note {row}\n", row).as_bytes());
    }
}

#[test]
fn a_line_of_megabytes_loses_no_row() {
    let mut bytes = b"t_s,vin_V,iin_A,note\n".to_vec();
    rows(0, 300, &mut bytes);
    // Chatter of three megabytes, a note of five, and a quote that nobody closes.
    bytes.extend_from_slice(&b"boot ".repeat(600_000));
    bytes.push(b'\n');
    bytes.extend_from_slice(b"300.5,12.300,0.25,");
    bytes.extend_from_slice(&b"x".repeat(5_000_000));
    bytes.push(b'\n');
    rows(301, 600, &mut bytes);
    bytes.extend_from_slice(b"600.5,12.600,0.25,\"");
    bytes.extend_from_slice(&b"y".repeat(2_000_000));
    bytes.push(b'\n');
    rows(601, 900, &mut bytes);
    let log = read(&bytes);
    assert_eq!(log.refusal(), None);
    let times: Vec<f64> = (0..900).map(|row| f64::from(row) + 0.5).collect();
    let found = &log.columns[0].values;
    assert_eq!(found.len(), times.len());
    assert_eq!(found, &times);
    assert_eq!(log.lines[300], 303, "the chatter is one line");
    assert_eq!(log.lines[899], 902, "so is the one with the open quote");
    let of =
        |code: ProblemCode| log.problems.iter().find(|problem| problem.code == code).map(|one| one.count);
    assert_eq!((of(ProblemCode::Chatter), of(ProblemCode::OpenQuote)), (Some(1), Some(1)));
    let longest = log.problems.iter().flat_map(|one| &one.examples).map(|at| at.found.len()).max();
    assert!(longest < Some(300), "a message of {longest:?} bytes");
}

#[test]
fn three_hundred_columns_are_read_and_the_five_that_count_are_found() {
    let mut text = (1..=300)
        .map(|column| match column {
            7 => "t (s)".to_owned(),
            60 => "Vin (V)".to_owned(),
            120 => "Iin (A)".to_owned(),
            180 => "Vout (V)".to_owned(),
            299 => "Iout (A)".to_owned(),
            _ => format!("probe {column}"),
        })
        .collect::<Vec<_>>()
        .join(";");
    text.push('\n');
    for row in 0..200 {
        let cells = (1..=300).map(|column| match column {
            7 => format!("{},02", row),
            60 => format!("12,{row:03}"),
            _ => format!("{column},{row:03}"),
        });
        text.push_str(&cells.collect::<Vec<_>>().join(";"));
        text.push('\n');
    }
    let log = read(text.as_bytes());
    assert_eq!((log.columns.len(), log.rows(), log.problems.len()), (300, 200, 0));
    assert_eq!(log.columns[298].values[199], 299.199);
    let mut bench = Bench::new(Settings { inputs: vec![InputSettings::default()], ..Settings::default() });
    let input = bench.begin("wide.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    let results = bench.results(Detail::Brief);
    let roles: Vec<u32> = results.inputs[0]
        .understood
        .columns
        .iter()
        .filter(|column| !matches!(column.guess.role, wattsieve_core::channel::Role::Extra))
        .map(|column| column.guess.number)
        .collect();
    assert_eq!(roles, [7, 60, 120, 180, 299]);
}

/// Ten logs of one simulated bench: `10a` and `10b` are the two boards of one run; `answers.json` was
/// made by the same generator outside this project.
#[test]
fn a_second_loggers_log_joins_the_run_of_the_log_before_it() {
    let inputs = vec![InputSettings::default(), InputSettings { beside: true, ..InputSettings::default() }];
    let mut bench = Bench::new(Settings { inputs, ..Settings::default() });
    for name in ["10a_input.csv", "10b_output.csv"] {
        let input = bench.begin(name, None);
        file(&format!("logs/bench/{name}")).chunks(7000).for_each(|piece| bench.push(input, piece));
        bench.finish(input);
    }
    while !bench.advance(1 << 20).done {}
    let results = bench.results(Detail::Full);
    let results = serde_json::to_value(&results).unwrap();
    assert_eq!(results["runs"].as_array().unwrap().len(), 1, "{}", results["inputs"][1]["asks"]);
    for input in results["inputs"].as_array().unwrap() {
        assert_eq!(input["asks"].as_array().unwrap().len(), 0, "{}: {}", input["name"], input["asks"]);
    }
    let loggers = &results["runs"][0]["alignment"]["loggers"];
    let pair: serde_json::Value = crate::support::json("logs/bench/answers.json")["10_pair"].clone();
    let value = |quantity: &serde_json::Value| quantity["value"].as_f64().unwrap_or(f64::NAN);
    let offset = value(&loggers[0]["offset"]).abs() * 1e3;
    let drift = value(&loggers[0]["ratio_ppm"]).abs();
    assert!((offset - pair["offset_ms"].as_f64().unwrap()).abs() < 1.0, "{loggers}");
    assert!((drift - pair["drift_ppm"].as_f64().unwrap()).abs() < 40.0, "{loggers}");
}
