//! Ten logs of one simulated bench; `answers.json` was made by a generator outside this project.

use serde_json::Value;
use wattsieve_core::channel::{self, Channel, Conversion, Guess, Role, SegmentStart, guess, to_readings};
use wattsieve_core::log::{self, Log};

use crate::support::{file, json};

struct Read {
    log: Log,
    guess: Guess,
    conversion: Conversion,
    answer: Value,
}

fn open(name: &str) -> Read {
    let log = log::read(&file(&format!("logs/bench/{name}")), &log::Settings::default());
    let settings = channel::Settings::default();
    let guess = guess(&log, &settings);
    let conversion = to_readings(log.clone(), &guess, &settings);
    let answer = json("logs/bench/answers.json")[name].clone();
    let usable = conversion.rows_usable;
    let rejected = answer["rejected"].as_u64().or(answer["bad_lines"].as_u64()).unwrap_or(0);
    if let Some(rows) = answer["rows"].as_u64() {
        let found = log.rows() as u64 - rejected;
        assert_eq!(found, rows, "{name}: rows that are no rejected record");
        assert!(usable <= rows, "{name}");
    }
    if let Some(separator) = answer["sep"].as_str() {
        assert_eq!(log.understood.separator.to_string(), separator, "{name}");
    }
    if let Some(mark) = answer["decimal"].as_str() {
        assert_eq!(log.understood.decimal_mark.to_string(), mark, "{name}");
    }
    if let Some(segments) = answer["segments"].as_u64() {
        assert_eq!(conversion.readings.segments.len() as u64, segments, "{name}");
    }
    if let Some(duration) = answer["duration_s"].as_f64() {
        assert!((conversion.duration - duration).abs() < 1e-9, "{name}: {}", conversion.duration);
    }
    if let Some(units) = answer["units"].as_object() {
        for (key, unit) in units {
            let role = match key.as_str() {
                "t" => Role::Time,
                "v_p" => Role::VIn,
                "i_in" => Role::IIn,
                "v_q" => Role::VOutHigh,
                "v_n" => Role::VOutLow,
                _ => Role::IOut,
            };
            let column = guess.column_of(role).unwrap_or_else(|| panic!("{name}: no {key}"));
            assert_eq!(guess.columns[column].unit, unit.as_str().unwrap(), "{name} {key}");
        }
    }
    Read { log, guess, conversion, answer }
}

fn count(read: &Read, code: &str) -> u64 {
    read.conversion
        .problems
        .iter()
        .filter(|problem| problem.code.code() == code)
        .map(|problem| problem.count)
        .sum()
}

#[test]
fn clean() {
    let read = open("01_clean.csv");
    assert!(read.conversion.asks.is_empty() && read.conversion.problems.is_empty());
}

#[test]
fn decimal_comma() {
    let read = open("02_decimal_comma.csv");
    assert!(read.conversion.asks.is_empty());
    // Rounded otherwise than the clean log, but the same run.
    let clean = open("01_clean.csv");
    for channel in channel::CHANNELS {
        for (found, expected) in
            read.conversion.readings.column(channel).iter().zip(clean.conversion.readings.column(channel))
        {
            assert!((found - expected).abs() < 1.1e-4, "{found} {expected}");
        }
    }
}

#[test]
fn resaved() {
    let read = open("03_resaved.csv");
    assert_eq!(read.answer["time_usable"], false);
    let damaged =
        read.conversion.problems.iter().find(|problem| problem.code.code() == "damaged_time").unwrap();
    assert_eq!(damaged.examples[0].found, "2 distinct times in 300 rows");
    assert_eq!(read.conversion.asks[0].code, "row_period_missing");
    // Its output current only ever takes every third step.
    assert_eq!(read.conversion.readings.resolution, [0.01, 0.01, 0.01, 0.01, 0.03]);
    assert_eq!(count(&read, "coarse_readings"), 1, "10 mV at 5 V is 0.2 %");
}

#[test]
fn wrap_restart_and_cut_line() {
    let read = open("04_wrap_reset_partial.csv");
    assert_eq!(u64::from(read.conversion.time.wraps), read.answer["wraps"].as_u64().unwrap());
    assert_eq!(read.log.repeated_headers, [200]);
    assert_eq!(count(&read, "repeated_header"), read.answer["repeated_headers"].as_u64().unwrap());
    assert_eq!(count(&read, "cut_last_line"), 1);
    let readings = &read.conversion.readings;
    for (segment, expected) in
        readings.segments.iter().zip(read.answer["segment_durations_s"].as_array().unwrap())
    {
        // The rejected record is the last one and has no time.
        let times =
            readings.time[segment.first..=segment.last].iter().copied().filter(|time| time.is_finite());
        let found = times.clone().fold(0.0, f64::max) - times.fold(f64::INFINITY, f64::min);
        assert!((found - expected.as_f64().unwrap()).abs() < 1e-9, "{found}");
    }
    assert_eq!(readings.segments[1].start, SegmentStart::Header);
    assert_eq!(read.conversion.rows_usable, 399);
}

#[test]
fn serial_capture() {
    let read = open("05_serial.log");
    assert_eq!(
        read.log.comment_count,
        read.answer["comment_lines"].as_u64().unwrap() - 1,
        "one of them is the header"
    );
    assert_eq!(read.log.header_lines.len(), 1);
    let text_lines = u64::from(read.log.preamble_lines) + count(&read, "chatter");
    assert_eq!(text_lines, read.answer["text_lines"].as_u64().unwrap());
    assert_eq!(
        read.log.rows() as u64,
        read.answer["rows"].as_u64().unwrap() + read.answer["bad_lines"].as_u64().unwrap()
    );
    assert!(read.guess.column_of(Role::VOutLow).is_some() && read.guess.asks.is_empty());
}

/// Reads again with the roles that the readings themselves suggest.
fn with_suggestion(read: &Read) -> (Guess, Conversion) {
    let columns = read.guess.suggestions[0]
        .columns
        .iter()
        .map(|(role, number)| channel::ColumnRole {
            column: channel::ColumnRef::Number(*number),
            role: *role,
        })
        .collect();
    let settings = channel::Settings { columns, ..channel::Settings::default() };
    let guess = guess(&read.log, &settings);
    let conversion = to_readings(read.log.clone(), &guess, &settings);
    (guess, conversion)
}

#[test]
fn raw_counts() {
    let read = open("06_counts.csv");
    assert_eq!(
        read.guess.suggestions[0].option(),
        "--columns time=1,v_in=2,i_in=3,v_out_high=4,v_out_low=5,i_out=6"
    );
    let (guess, conversion) = with_suggestion(&read);
    assert!(guess.asks.is_empty() && guess.columns[1].unit == "counts");
    for (channel, key, scale) in [
        (Channel::VIn, "v_p", "v"),
        (Channel::IIn, "i_in", "i"),
        (Channel::VOutHigh, "v_q", "v"),
        (Channel::VOutLow, "v_n", "v"),
        (Channel::IOut, "i_out", "i"),
    ] {
        let first = read.answer["first"][key].as_f64().unwrap();
        let count = read.answer["scale"][scale].as_f64().unwrap();
        let found = conversion.readings.column(channel)[0];
        assert!((found - first).abs() <= 0.51 * count, "{key}: {found} {first}");
    }
}

#[test]
fn no_header() {
    let read = open("07_noheader.tsv");
    assert!(read.log.header_lines.is_empty());
    assert!(
        read.guess.asks.iter().any(|ask| ask.code == "role_missing"),
        "a suggestion is never applied unasked"
    );
    assert_eq!(read.guess.suggestions.len(), 2, "the best and the next best");
    let (guess, conversion) = with_suggestion(&read);
    assert!(conversion.asks.is_empty());
    assert_eq!([&*guess.columns[1].unit, &*guess.columns[2].unit], ["mV", "mA"]);
    assert_eq!(conversion.time.form, "milliseconds");
    // Without a header, but the same bench as the log of named values.
    let named = open("09_keyvalue.log");
    for channel in channel::CHANNELS {
        for (found, expected) in
            conversion.readings.column(channel).iter().zip(named.conversion.readings.column(channel))
        {
            assert!((found - expected).abs() < 6e-4, "{found} {expected}");
        }
    }
}

#[test]
fn bench_export() {
    let read = open("08_bench.csv");
    assert_eq!(
        u64::from(read.log.preamble_lines) + 1,
        read.answer["preamble_lines"].as_u64().unwrap(),
        "one is blank"
    );
    assert_eq!(count(&read, "over_range"), read.answer["overload_cells"].as_u64().unwrap());
    assert!(read.guess.column_of(Role::VOut).is_some(), "the output is logged as a difference");
    assert_eq!(read.conversion.readings.extras[0].name, read.answer["sparse_columns"][0].as_str().unwrap());
    assert_eq!(read.conversion.time.form, "date_time");
    assert_eq!(read.conversion.rows_usable, 118);
}

#[test]
fn named_values() {
    let read = open("09_keyvalue.log");
    assert_eq!(read.conversion.asks.iter().map(|ask| ask.code).collect::<Vec<_>>(), ["row_period_missing"]);
    assert!(read.conversion.readings.has(Channel::VOutLow));
}

#[test]
fn pair_of_boards() {
    for (name, missing) in [("10a_input.csv", 2), ("10b_output.csv", 2)] {
        let read = open(name);
        assert_eq!(read.log.rows(), 2000);
        assert_eq!(read.guess.asks.len(), missing, "{name} holds one side only");
    }
}
