//! The whole chain on the demo, from bytes to results: what the command writes with `--json`.

use std::fs;
use std::sync::OnceLock;

use serde_json::Value;
use wattsieve_core::bench::{Bench, Detail, Settings};
use wattsieve_tests::sim::{self, LogTruth, SEED};

/// Half width of a 95 % interval in standard uncertainties.
const K95: f64 = 1.959_963_985;

/// Evaluates logs in the order given, kinds told by content.
fn evaluate(logs: &[(String, Vec<u8>)], at: &[[f64; 2]]) -> Value {
    let mut bench = Bench::new(Settings { at: at.to_vec(), ..Settings::default() });
    for (name, bytes) in logs {
        let input = bench.begin(name, Some(bytes.len() as u64));
        bench.push(input, bytes);
        bench.hash(input, bytes);
        bench.finish(input);
        bench.finish_hash(input);
    }
    bench.complete();
    serde_json::to_value(bench.results(Detail::Full)).unwrap()
}

fn truths() -> &'static Vec<LogTruth> {
    static TRUTHS: OnceLock<Vec<LogTruth>> = OnceLock::new();
    TRUTHS.get_or_init(|| {
        let bench = sim::demo(SEED);
        let jobs = bench.jobs.iter().enumerate();
        jobs.map(|(stream, job)| sim::record(&bench, job, stream as u64).truth).collect()
    })
}

/// The points of all runs, each once.
fn points() -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = Vec::new();
    for point in truths().iter().flat_map(|truth| &truth.points) {
        let point = [point.v_in, point.i_out];
        if !points.contains(&point) {
            points.push(point);
        }
    }
    points
}

/// Results of the shipped logs.
fn results() -> &'static Value {
    static RESULTS: OnceLock<Value> = OnceLock::new();
    RESULTS.get_or_init(|| {
        let logs: Vec<(String, Vec<u8>)> = truths()
            .iter()
            .map(|truth| {
                let path = format!("{}/../demo-data/{}", env!("CARGO_MANIFEST_DIR"), truth.file);
                (truth.file.clone(), fs::read(path).unwrap())
            })
            .collect();
        evaluate(&logs, &points())
    })
}

fn run(name: &str) -> &'static Value {
    let runs = results()["runs"].as_array().unwrap();
    runs.iter().find(|run| run["name"] == name).unwrap()
}

/// A value and its standard uncertainty hold the truth within 95 %.
fn holds(what: &str, answer: &Value, truth: f64) {
    let value = answer["value"].as_f64().unwrap_or_else(|| panic!("{what}: {answer}"));
    let u = answer["u"].as_f64().unwrap_or_else(|| panic!("{what}: {answer}"));
    println!("{what}: {value} +- {u}, truth {truth}, {:.2} u off", (value - truth) / u);
    assert!((value - truth).abs() <= K95 * u, "{what}: {value} +- {} against {truth}", K95 * u);
}

#[test]
fn inputs_are_told_by_content() {
    for (input, truth) in results()["inputs"].as_array().unwrap().iter().zip(truths()) {
        let role = input["role"].as_str().unwrap();
        let wanted = if truth.file.contains("settled") { "table" } else { truth.role };
        assert!(role == wanted || role == truth.role, "{}: {role}", truth.file);
        assert_eq!(input["rows_found"].as_u64().unwrap() as usize, truth.rows, "{}", truth.file);
    }
}

#[test]
fn the_fixture_is_found() {
    let sums = sim::demo(SEED).sums();
    let fixture = &results()["fixture"];
    holds("R_I", &fixture["correction_in"], sums.correction_in);
    holds("R_O", &fixture["correction_out"], sums.correction_out);
    holds("current gain ratio", &fixture["current_gain_ratio"], sums.current_gain_ratio);
    holds("voltage gain ratio", &fixture["voltage_gain_ratio"], sums.voltage_gain_ratio);
    assert_eq!(fixture["split"]["by"], "measured");
}

#[test]
fn efficiency_is_found_at_ten_points_of_every_run() {
    let asked = points();
    for truth in truths().iter().filter(|truth| truth.role == "run") {
        let found = run(truth.file.trim_end_matches(".csv"));
        assert_eq!(found["grade"], "settled");
        assert_eq!(truth.points.len(), 10);
        for point in &truth.points {
            let place = asked.iter().position(|p| *p == [point.v_in, point.i_out]).unwrap();
            let what = format!("{} at {} V {} A", truth.file, point.v_in, point.i_out);
            holds(&what, &found["at"][place], point.efficiency);
            holds(&what, &found["at"][place]["loss"], point.loss);
        }
    }
}

#[test]
fn wrong_rows_are_out_and_good_ones_in() {
    for truth in truths().iter().filter(|truth| truth.role == "run") {
        let found = run(truth.file.trim_end_matches(".csv"));
        let mut out = vec![false; truth.rows];
        for stretch in found["rows"]["removed"].as_array().unwrap() {
            let (first, last) = (stretch[0].as_u64().unwrap(), stretch[1].as_u64().unwrap());
            out[first as usize..=last as usize].fill(true);
        }
        let wrong = truth.wrong();
        let caught = wrong.iter().filter(|row| out[**row]).count();
        let lost = out.iter().filter(|out| **out).count() - caught;
        println!("{}: {caught} of {} wrong rows out, {lost} good ones", truth.file, wrong.len());
        assert!(caught * 100 >= 95 * wrong.len(), "{}: {caught} of {}", truth.file, wrong.len());
        assert!(lost * 200 <= truth.rows - wrong.len(), "{}: {lost} good rows out", truth.file);
    }
}

#[test]
fn all_three_presets_are_levels() {
    let levels = &run("lamp-diode")["levels"];
    let currents: Vec<f64> =
        levels["currents"].as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect();
    assert_eq!(currents.len(), 3, "{currents:?}");
    for (found, preset) in currents.iter().zip([0.5, 2.5, 8.0]) {
        // The scale of the currents is that of the input channel, 0.04 % off.
        assert!((found / preset - 1.0).abs() < 0.002, "{found} for {preset}");
    }
}

#[test]
fn the_two_drivers_cross_where_they_do() {
    let pairs = results()["comparison"]["pairs"].as_array().unwrap();
    let pair = pairs
        .iter()
        .find(|pair| pair["first"] == "lamp-synchronous" && pair["second"] == "lamp-diode")
        .unwrap();
    let crossovers = pair["crossovers"].as_array().unwrap();
    assert!(!crossovers.is_empty());
    let bench = sim::demo(SEED);
    for found in crossovers {
        let v_in = found["v_in"].as_f64().unwrap();
        let truth = bench.crossing(&bench.converters[0], &bench.converters[2], v_in, [0.75, 3.0]);
        holds(&format!("crossing at {v_in} V"), found, truth.i_out);
    }
}

#[test]
fn source_and_limits_are_found() {
    let bench = sim::demo(SEED);
    holds("source resistance", &run("lamp-synchronous")["source"]["resistance"], bench.sums().source);
    let limit = &run("lamp-synchronous-limited-supply")["source"]["current_limit"];
    assert!((limit["value"].as_f64().unwrap() - 2.0).abs() < 0.005, "{limit}");
    let cut_off = &run("lamp-synchronous")["cut_off"]["voltage"];
    assert!((cut_off["value"].as_f64().unwrap() - 10.2).abs() < 0.05, "{cut_off}");
}

/// Equal but for the last digits of numbers: 12934.7 mV and 12.9347 V are not the same double.
fn same(place: &str, a: &Value, b: &Value) {
    match (a, b) {
        (Value::Number(x), Value::Number(y)) => {
            let (x, y) = (x.as_f64().unwrap(), y.as_f64().unwrap());
            let near = (x - y).abs() <= 1e-7 * x.abs().max(y.abs()) + 1e-12;
            assert!(near, "{place}: {x} and {y}");
        }
        (Value::Array(x), Value::Array(y)) => {
            assert_eq!(x.len(), y.len(), "{place}");
            for (k, (x, y)) in x.iter().zip(y).enumerate() {
                same(&format!("{place}[{k}]"), x, y);
            }
        }
        (Value::Object(x), Value::Object(y)) => {
            assert!(x.keys().eq(y.keys()), "{place}");
            for (key, x) in x {
                same(&format!("{place}.{key}"), x, &y[key]);
            }
        }
        _ => assert_eq!(a, b, "{place}"),
    }
}

/// Puts the number of a run where its name stands.
fn number_runs(value: &mut Value, names: &[String]) {
    match value {
        Value::String(text) => {
            for (place, name) in names.iter().enumerate() {
                *text = text.replace(name, &format!("run {place}"));
            }
        }
        Value::Array(all) => all.iter_mut().for_each(|one| number_runs(one, names)),
        Value::Object(all) => all.values_mut().for_each(|one| number_runs(one, names)),
        _ => {}
    }
}

/// Takes line numbers out.
fn without_lines(value: &mut Value) {
    match value {
        Value::Array(all) => all.iter_mut().for_each(without_lines),
        Value::Object(all) => {
            all.remove("line");
            all.values_mut().for_each(without_lines);
        }
        _ => {}
    }
}

/// The same readings under other file names, with columns in another order, other header texts,
/// mV, mA and ms, another separator and other line ends.
#[test]
fn names_column_order_and_units_change_nothing() {
    use wattsieve_tests::sim::{Column, Field};
    let plain = sim::demo(SEED);
    let mut other = plain.clone();
    let column = |field, name: &str, scale, decimals| Column { field, name: name.into(), scale, decimals };
    other.dialect.separator = ';';
    other.dialect.carriage_return = true;
    other.dialect.byte_order_mark = true;
    other.dialect.comments = Vec::new();
    other.dialect.columns = vec![
        column(Field::Channel(4), "iout_mA", 1000.0, 1),
        column(Field::Channel(1), "vout_high_mV", 1000.0, 1),
        column(Field::Channel(0), "vin_mV", 1000.0, 1),
        column(Field::Time, "t_ms", 1000.0, 0),
        column(Field::Channel(3), "iin_mA", 1000.0, 1),
        column(Field::Channel(2), "vout_low_mV", 1000.0, 1),
    ];
    let chosen = ["all-off", "open", "0r68", "shorted", "diode", "limited"];
    let mut logs = [Vec::new(), Vec::new()];
    for (stream, job) in plain.jobs.iter().enumerate() {
        if !chosen.iter().any(|part| job.file.contains(part)) {
            continue;
        }
        let mut job = job.clone();
        // Lines broken in another place leave other values readable.
        job.faults.unreadable = 0;
        job.faults.restarts = Vec::new();
        logs[0].push((job.file.clone(), sim::record(&plain, &job, stream as u64).bytes));
        let name = format!("x{stream:02}.txt");
        logs[1].push((name, sim::record(&other, &job, stream as u64).bytes));
    }
    let points = [[12.2, 0.5], [11.8, 2.5], [12.8, 3.0]];
    let [mut first, mut second] = logs.map(|logs| evaluate(&logs, &points));
    for results in [&mut first, &mut second] {
        // Sentences name the logs: whole names before those without an ending.
        for part in ["inputs", "runs"] {
            let named = results[part].as_array().unwrap().iter();
            let names: Vec<String> = named.map(|one| one["name"].as_str().unwrap().into()).collect();
            number_runs(&mut results["fixture"], &names);
        }
        for (place, run) in results["runs"].as_array_mut().unwrap().iter_mut().enumerate() {
            run["name"] = Value::from(place);
            // One of the two has comments above its rows.
            without_lines(&mut run["trust"]);
            // Sentences name the run.
            for finding in run["findings"].as_array_mut().unwrap() {
                finding["text"] = Value::Null;
            }
        }
        assert!(results["runs"][0]["at"][0]["value"].as_f64().is_some());
    }
    for part in ["fixture", "runs"] {
        same(part, &first[part], &second[part]);
    }
}
