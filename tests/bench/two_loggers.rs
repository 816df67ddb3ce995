//! Calibration runs that two loggers recorded, each on its own clock, against the same runs recorded by one.

use serde_json::{Value, json};
use wattsieve_core::bench::{Bench, Detail, InputSettings, Kind, Settings};

use crate::{CALIBRATION, demo, feed};

/// Rows by which the other logger is started later, and that time, s.
const LATER: usize = 135;
const OFFSET: f64 = 2.7;
/// Seconds of the first clock per second of the other one.
const RATIO: f64 = 1.0 + 60e-6;
/// The other logger takes one row in so many.
const EVERY: usize = 3;

/// A log as two loggers would have it: time, input voltage and input current in the first, the rest in the other.
fn split(text: &str) -> [String; 2] {
    let mut parts = [String::new(), String::new()];
    let lines = text.lines().skip_while(|line| line.starts_with('#'));
    for (row, line) in lines.enumerate() {
        let fields: Vec<&str> = line.split(',').collect();
        parts[0].push_str(&fields[..3].join(","));
        parts[0].push('\n');
        if row == 0 || (row > LATER && (row - LATER) % EVERY == 1) {
            let time = match fields[0].parse::<f64>() {
                Ok(time) => format!("{:.6}", (time - OFFSET) / RATIO),
                Err(_) => fields[0].to_owned(),
            };
            parts[1].push_str(&format!("{time},{}\n", fields[3..].join(",")));
        }
    }
    parts
}

fn fixture(bench: &mut Bench) -> Value {
    bench.complete();
    serde_json::to_value(bench.results(Detail::Brief).fixture.unwrap()).unwrap()
}

fn text_of(name: &str) -> String {
    String::from_utf8(demo(name)).unwrap()
}

/// Every calibration run in two files; the second of each is said to be beside the first.
fn two_loggers(joined: bool) -> Bench {
    let mut bench = Bench::new(Settings::default());
    for name in CALIBRATION {
        let [first, other] = split(&text_of(name));
        feed(&mut bench, &format!("a-{name}"), first.as_bytes(), 1 << 16);
        feed(&mut bench, &format!("b-{name}"), other.as_bytes(), 1 << 16);
    }
    let mut settings = bench.settings().clone();
    let kinds = [Kind::AllOff, Kind::OpenSweep, Kind::StraightThrough, Kind::InputShorted];
    for (k, kind) in kinds.into_iter().enumerate() {
        settings.inputs[2 * k] = InputSettings { kind: Some(kind), ..InputSettings::default() };
        settings.inputs[2 * k + 1] = InputSettings { beside: joined, ..InputSettings::default() };
    }
    assert!(bench.set_settings(settings).is_empty());
    bench
}

#[test]
fn the_fixture_is_the_one_that_a_single_logger_finds() {
    let mut single = Bench::new(Settings::default());
    for name in CALIBRATION {
        feed(&mut single, name, &demo(name), 1 << 16);
    }
    let (single, two) = (fixture(&mut single), fixture(&mut two_loggers(true)));
    assert_eq!(two["basis"], "fitted");
    for path in ["/sums/path", "/sums/input_side", "/current_gain_ratio", "/voltage_gain_ratio"] {
        let of =
            |result: &Value, what: &str| result.pointer(&format!("{path}/{what}")).unwrap().as_f64().unwrap();
        let (found, known) = (of(&two, "value"), of(&single, "value"));
        let u = of(&two, "u").hypot(of(&single, "u"));
        println!("{path}: {found:.7} against {known:.7}, u {u:.2e}");
        assert!((found - known).abs() < 2.0 * u, "{path}");
        // A third of the rows carry the other logger's channels: no more than that is lost.
        assert!(of(&two, "u") < 4.0 * of(&single, "u"), "{path}");
    }
}

#[test]
fn clocks_are_told_where_something_moves_and_every_channel_is_said_once() {
    let mut bench = two_loggers(true);
    bench.complete();
    let inputs = serde_json::to_value(bench.results(Detail::Brief).inputs).unwrap();
    for k in 0..CALIBRATION.len() {
        let (first, other) = (&inputs[2 * k], &inputs[2 * k + 1]);
        let logger = &first["loggers"][0];
        let channels = json!(["v_out_high", "v_out_low", "i_out"]);
        assert_eq!((&logger["input"], &logger["channels"]), (&json!(2 * k + 1), &channels));
        assert_eq!((&other["role"], &other["loggers"]), (&first["role"], &json!(null)), "{other}");
        let asks: Vec<&Value> = other["asks"].as_array().unwrap().iter().map(|ask| &ask["code"]).collect();
        assert!(asks.is_empty(), "{other}");
        match logger["why"].as_str() {
            None => {
                // All channels of a row are read within one row's time.
                let offset = logger["offset"]["value"].as_f64().unwrap();
                assert!((offset - OFFSET).abs() < 0.02, "{logger}");
            }
            Some("nothing_moves") => {}
            // With the input shorted the output says nothing, and is not needed.
            why => assert_eq!((k, why), (3, Some("no_common_time"))),
        }
    }
    let from = |k: usize| inputs[2 * k]["loggers"][0]["from"].as_str().unwrap();
    assert_eq!([from(0), from(1), from(2)], ["none", "same_changes", "same_changes"]);
}

#[test]
fn half_a_calibration_run_alone_says_what_it_lacks() {
    let mut bench = two_loggers(false);
    bench.complete();
    let inputs = serde_json::to_value(bench.results(Detail::Brief).inputs).unwrap();
    assert_eq!(inputs[4]["loggers"], json!(null));
    assert_eq!(inputs[4]["outcome"], "asks", "{}", inputs[4]);
}

#[test]
fn the_other_log_may_come_before_or_after_it_is_said_to_be_beside() {
    let mut early = two_loggers(true);
    let mut late = two_loggers(false);
    late.complete();
    let mut settings = late.settings().clone();
    for k in 0..CALIBRATION.len() {
        settings.inputs[2 * k + 1].beside = true;
    }
    late.set_settings(settings.clone());
    let (one, other) = (fixture(&mut early), fixture(&mut late));
    assert_eq!(one, other);
    // Another clock is another fit.
    settings.inputs[5].clock =
        Some(wattsieve_core::align::clocks::Stated { offset: Some(OFFSET + 0.4), ..Default::default() });
    late.set_settings(settings);
    assert_ne!(fixture(&mut late), one);
}
