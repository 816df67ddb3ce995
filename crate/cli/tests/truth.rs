//! The command on the demo logs, as `demo-data/README.md` describes them, against the generator's
//! truth; and on copies under other names, in other column orders and other units.
#![allow(clippy::unwrap_used, reason = "tests")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;

use serde_json::Value;

/// Half width of a 95 % interval in standard uncertainties.
const K95: f64 = 1.959_963_985;
/// Runs: name given to the command, log, points to ask for.
const RUNS: [(&str, &str, &str); 6] = [
    ("Synchronous", "lamp-synchronous.csv", "points-synchronous.csv"),
    ("Diode", "lamp-diode.csv", "points-diode.csv"),
    ("Again", "lamp-synchronous-again.csv", "points-synchronous.csv"),
    ("Inductor", "lamp-synchronous-better-inductor.csv", "points-synchronous.csv"),
    ("Limited", "lamp-synchronous-limited-supply.csv", "points-limited-supply.csv"),
    ("Settled", "lamp-synchronous-settled.csv", "points-settled.csv"),
];
/// Calibration logs: option, log, what follows it.
const CALIBRATION: [(&str, &str, &[&str]); 5] = [
    ("--all-off", "fixture-all-off.csv", &[]),
    ("--open-sweep", "fixture-open-sweep.csv", &[]),
    ("--straight-through", "fixture-through-0r68.csv", &["--calibration-resistor", "0.68"]),
    ("--straight-through", "fixture-through-2r2.csv", &["--calibration-resistor", "2.2"]),
    ("--input-shorted", "fixture-input-shorted.csv", &[]),
];

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-data").join(name)
}

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

/// The lines of all point files under one header.
fn points() -> String {
    let mut files: Vec<&str> = RUNS.iter().map(|run| run.2).collect();
    files.dedup();
    files.sort_unstable();
    files.dedup();
    let mut text = "v_in,i_out\n".to_owned();
    for file in files {
        let whole = fs::read_to_string(demo(file)).unwrap();
        text.extend(whole.lines().skip(1).map(|line| line.to_owned() + "\n"));
    }
    text
}

/// Results JSON of `compare` on the runs chosen, every log found by `path`.
fn compare(folder: &Path, chosen: &[usize], path: impl Fn(&str) -> PathBuf) -> Value {
    let json = folder.join("results.json");
    let at = folder.join("points.csv");
    fs::write(&at, points()).unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_wattsieve"));
    command.arg("compare");
    for (name, log, _) in chosen.iter().map(|run| RUNS[*run]) {
        command.arg(format!("{name}={}", path(log).display()));
    }
    for (option, log, more) in CALIBRATION {
        command.arg(option).arg(path(log)).args(more);
    }
    command.args(["--input-shunt", "0.010", "--output-shunt", "0.005"]);
    let output = command.arg("--at").arg(&at).arg("--json").arg(&json).arg("--quiet").output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap()
}

fn truth() -> &'static Value {
    static TRUTH: OnceLock<Value> = OnceLock::new();
    TRUTH.get_or_init(|| serde_json::from_str(&fs::read_to_string(demo("truth.json")).unwrap()).unwrap())
}

/// Truth of one log.
fn truth_of(log: &str) -> &'static Value {
    truth()["logs"].as_array().unwrap().iter().find(|truth| truth["file"] == log).unwrap()
}

fn results() -> &'static Value {
    static RESULTS: OnceLock<Value> = OnceLock::new();
    RESULTS.get_or_init(|| compare(&folder("truth"), &[0, 1, 2, 3, 4, 5], demo))
}

fn run(name: &str) -> &'static Value {
    results()["runs"].as_array().unwrap().iter().find(|run| run["name"] == name).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("no number: {value}"))
}

/// A value and its standard uncertainty hold the truth within 95 %.
fn holds(what: &str, answer: &Value, truth: f64) {
    let (value, u) = (number(&answer["value"]), number(&answer["u"]));
    assert!((value - truth).abs() <= K95 * u, "{what}: {value} +- {} against {truth}", K95 * u);
}

#[test]
fn resistances_and_gain_ratios_are_found() {
    let fixture = &results()["fixture"];
    for name in ["correction_in", "correction_out", "current_gain_ratio", "voltage_gain_ratio"] {
        holds(name, &fixture[name], number(&truth()["sums"][name]));
    }
    assert_eq!(fixture["split"]["by"], "measured");
}

#[test]
fn efficiency_and_loss_are_found_at_ten_points_of_every_run() {
    for (name, log, file) in RUNS {
        let (found, truth) = (run(name), truth_of(log));
        assert_eq!(found["grade"], "settled", "{name}");
        let asked = fs::read_to_string(demo(file)).unwrap();
        let points = truth["points"].as_array().unwrap();
        assert_eq!(points.len(), 10);
        for (line, point) in asked.lines().skip(1).zip(points) {
            let (v_in, i_out) = (number(&point["v_in"]), number(&point["i_out"]));
            assert_eq!(line, format!("{v_in},{i_out}"), "{file}");
            let answers = found["at"].as_array().unwrap();
            let answer = answers.iter().find(|a| a["v_in"] == v_in && a["i_out"] == i_out).unwrap();
            let what = format!("{name} at {v_in} V {i_out} A");
            holds(&what, answer, number(&point["efficiency"]));
            holds(&format!("{what}, loss"), &answer["loss"], number(&point["loss"]));
        }
    }
}

#[test]
fn wrong_rows_are_out_and_good_ones_in() {
    for (name, log, _) in RUNS {
        let (found, truth) = (run(name), truth_of(log));
        let rows = truth["rows"].as_u64().unwrap() as usize;
        assert_eq!(found["rows"]["read"].as_u64().unwrap() as usize, rows, "{name}");
        let mut out = vec![false; rows];
        for stretch in found["rows"]["removed"].as_array().unwrap() {
            let [first, last] = [0, 1].map(|end| stretch[end].as_u64().unwrap() as usize);
            out[first..=last].fill(true);
        }
        let groups = truth["corrupted"].as_array().unwrap();
        let wrong: Vec<usize> = groups
            .iter()
            .flat_map(|group| group["rows"].as_array().unwrap())
            .map(|row| row.as_u64().unwrap() as usize)
            .collect();
        let caught = wrong.iter().filter(|row| out[**row]).count();
        let lost = out.iter().filter(|out| **out).count() - caught;
        assert!(caught * 100 >= 95 * wrong.len(), "{name}: {caught} of {}", wrong.len());
        assert!(lost * 200 <= rows - wrong.len(), "{name}: {lost} good rows out");
    }
}

#[test]
fn no_preset_is_lost() {
    let driver =
        truth()["converters"].as_array().unwrap().iter().find(|c| c["name"] == "lamp-diode").unwrap();
    let presets: Vec<f64> = driver["presets"].as_array().unwrap().iter().map(number).collect();
    let found = run("Diode")["levels"]["currents"].as_array().unwrap();
    assert_eq!((presets.len(), found.len()), (3, 3), "{found:?}");
    // No meter was read along: the scale of the currents is that of the input channel.
    let scale = number(&truth()["meter"]["gain"][3]);
    for (found, preset) in found.iter().zip(presets) {
        let found = number(found);
        assert!((found / preset / scale - 1.0).abs() < 0.0015, "{found} for {preset}");
    }
}

/// Both give the same output power at one place, so that equal efficiency is equal loss: with the
/// losses of `truth.json` a quadratic in the current.
fn crossing(first: &Value, second: &Value, v_in: f64) -> f64 {
    let gap = |name: &str| number(&first["loss"][name]) - number(&second["loss"][name]);
    let c = gap("fixed") + gap("per_volt") * v_in;
    let b = gap("per_amp") + gap("per_amp_volt") * v_in;
    let a = gap("per_amp2");
    let root = (b * b - 4.0 * a * c).sqrt();
    (-b - root) / (2.0 * a)
}

#[test]
fn the_two_drivers_cross_where_they_do() {
    let converters = truth()["converters"].as_array().unwrap();
    let named = |name: &str| converters.iter().find(|c| c["name"] == name).unwrap();
    let drivers = [named("lamp-synchronous"), named("lamp-diode")];
    for known in truth()["crossings"].as_array().unwrap() {
        let found = crossing(drivers[0], drivers[1], number(&known["v_in"]));
        assert!((found - number(&known["i_out"])).abs() < 1e-6, "{found} {known}");
    }
    let pairs = results()["comparison"]["pairs"].as_array().unwrap();
    let pair = pairs.iter().find(|p| p["first"] == "Synchronous" && p["second"] == "Diode").unwrap();
    let crossovers = pair["crossovers"].as_array().unwrap();
    assert!(!crossovers.is_empty());
    for found in crossovers {
        let v_in = number(&found["v_in"]);
        holds(&format!("crossing at {v_in} V"), found, crossing(drivers[0], drivers[1], v_in));
    }
}

/// Three digits to the left: volts as written into millivolts as written, no rounding.
fn thousandfold(cell: &str) -> String {
    let (sign, digits) = cell.strip_prefix('-').map_or(("", cell), |digits| ("-", digits));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let numeric = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || !numeric(whole) || !numeric(part) {
        return cell.to_owned();
    }
    let part = format!("{part:0<3}");
    let whole = format!("{whole}{}", &part[..3]);
    let whole = whole.trim_start_matches('0');
    let whole = if whole.is_empty() { "0" } else { whole };
    let rest = &part[3..];
    if rest.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{rest}") }
}

/// A copy with the columns in another order, under other headers, in mV and mA; lines that hold no
/// whole row stay as they are.
fn copied(text: &str) -> String {
    const ORDER: [usize; 6] = [4, 1, 3, 0, 5, 2];
    const HEADERS: [&str; 6] = ["t_s", "vin_mV", "iin_mA", "vout_high_mV", "vout_low_mV", "iout_mA"];
    let mut out = String::new();
    for line in text.lines() {
        let cells: Vec<&str> = line.split(',').collect();
        if line.starts_with('#') || cells.len() < 6 {
            out.push_str(line);
        } else if cells[0] == "time (s)" {
            let headers = ORDER.map(|column| HEADERS[column]);
            out.push_str(&headers.join(","));
        } else {
            let moved = ORDER.map(|k| if k == 0 { cells[0].to_owned() } else { thousandfold(cells[k]) });
            out.push_str(&moved.join(","));
        }
        for extra in cells.iter().skip(6) {
            out.push(',');
            out.push_str(extra);
        }
        out.push('\n');
    }
    out
}

/// Equal but for the last digits of numbers: 12934.7 mV and 12.9347 V are not the same double.
fn same(place: &str, a: &Value, b: &Value) {
    match (a, b) {
        (Value::Number(_), Value::Number(_)) => {
            let (x, y) = (number(a), number(b));
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

#[test]
fn names_column_order_and_units_change_nothing() {
    assert_eq!(thousandfold("-0.0045"), "-4.5");
    assert_eq!(thousandfold("12.93"), "12930");
    assert_eq!(thousandfold("0"), "0");
    let folder = folder("renamed");
    let chosen = [1, 2, 5];
    let logs: Vec<&str> =
        chosen.iter().map(|run| RUNS[*run].1).chain(CALIBRATION.iter().map(|run| run.1)).collect();
    let renamed = |log: &str| folder.join(format!("x{}.txt", logs.iter().position(|l| *l == log).unwrap()));
    for log in &logs {
        fs::write(renamed(log), copied(&fs::read_to_string(demo(log)).unwrap())).unwrap();
    }
    let (first, second) = (results(), compare(&folder, &chosen, renamed));
    for part in ["correction_in", "correction_out", "current_gain_ratio", "voltage_gain_ratio", "channels"] {
        same(part, &first["fixture"][part], &second["fixture"][part]);
    }
    same("covariance", &first["fixture"]["covariance"], &second["fixture"]["covariance"]);
    for found in second["runs"].as_array().unwrap() {
        let name = found["name"].as_str().unwrap();
        for part in
            ["rows", "sieve", "map", "at", "peak", "levels", "loss_model", "energy", "findings", "grade"]
        {
            same(&format!("{name} {part}"), &run(name)[part], &found[part]);
        }
    }
}
