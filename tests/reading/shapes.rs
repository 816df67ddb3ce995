//! One small log per shape, with what reading it must give beside it.

use serde_json::{Value, json};
use wattsieve_core::channel::{self, guess, role_name, to_readings};
use wattsieve_core::log::{self, Outcome, Reader};

use crate::support::file;

fn logs() -> Vec<String> {
    let folder = format!("{}/logs/shapes", env!("CARGO_MANIFEST_DIR"));
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| !name.ends_with(".json"))
        .collect();
    names.sort();
    names
}

fn rounded(value: f64) -> Value {
    // Twelve digits: sums are of decimal readings.
    json!(format!("{value:.12e}").parse::<f64>().unwrap())
}

fn understood(bytes: &[u8]) -> Value {
    let log = log::read(bytes, &log::Settings::default());
    for size in [1, 7, 100] {
        let mut reader = Reader::new(&log::Settings::default(), None);
        bytes.chunks(size).for_each(|piece| reader.push(piece));
        let pieces = reader.finish();
        assert_eq!(
            (&pieces.lines, &pieces.problems, &pieces.understood),
            (&log.lines, &log.problems, &log.understood)
        );
    }
    let (encoding, separator, mark) = (
        log.understood.encoding,
        log.understood.separator.to_string(),
        log.understood.decimal_mark.to_string(),
    );
    let outcome = match &log.outcome {
        Outcome::Refused(refusal) => return json!({ "outcome": "refused", "code": refusal.code }),
        Outcome::Read => "read",
        Outcome::ReadWithWarning => "read_with_warning",
    };
    let rows = log.rows();
    let settings = channel::Settings::default();
    let guess = guess(&log, &settings);
    let conversion = to_readings(log, &guess, &settings);
    let sums = serde_json::to_value(conversion.sums).unwrap();
    let sums: serde_json::Map<String, Value> = sums
        .as_object()
        .unwrap()
        .iter()
        .map(|(name, sum)| (name.clone(), sum.as_f64().map_or(Value::Null, rounded)))
        .collect();
    json!({
        "outcome": outcome,
        "encoding": encoding,
        "separator": separator,
        "decimal_mark": mark,
        "columns": guess.columns.iter().map(|column| json!([column.header, role_name(column.role), column.unit])).collect::<Vec<_>>(),
        "rows": rows,
        "usable": conversion.rows_usable,
        "sums": sums,
        "duration": rounded(conversion.duration),
        "segments": conversion.readings.segments.len(),
        "time": serde_json::to_value(&conversion.time).unwrap(),
        "problems": conversion.problems.iter().map(|problem| json!([problem.code.code(), problem.count])).collect::<Vec<_>>(),
        "asks": conversion.asks.iter().map(|ask| ask.code).collect::<Vec<_>>(),
    })
}

#[test]
fn every_shape_is_read_as_stated() {
    let rewrite = std::env::var_os("REWRITE_EXPECTED").is_some();
    let names = logs();
    assert!(names.len() >= 20, "{names:?}");
    for name in names {
        let found = understood(&file(&format!("logs/shapes/{name}")));
        let beside = format!("logs/shapes/{name}.json");
        if rewrite {
            let path = format!("{}/{beside}", env!("CARGO_MANIFEST_DIR"));
            std::fs::write(path, serde_json::to_string_pretty(&found).unwrap() + "\n").unwrap();
        } else {
            let expected: Value = serde_json::from_slice(&file(&beside)).unwrap();
            assert_eq!(found, expected, "{name}");
        }
    }
}
