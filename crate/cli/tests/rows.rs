//! Options about rows: settled points, pulsed outputs, two loggers, strictness. Each changes a number, and wrong use is named.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "tests")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

const LOG: &str = "t_s,v_in_V,i_in_A,v_out_V,i_out_A\n";

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("rows-{name}"));
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    fs::write(&path, text).unwrap();
    path.display().to_string()
}

fn wattsieve(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wattsieve")).args(words).output().unwrap()
}

/// The first run of an analysis that succeeds.
fn run(folder: &Path, words: &[&str]) -> Value {
    let json = folder.join("r.json").display().to_string();
    let output = wattsieve(&[&["analyse"], words, &["--json", &json, "--quiet"]].concat());
    assert_eq!(output.status.code(), Some(0), "{words:?}: {}", String::from_utf8_lossy(&output.stderr));
    let results: Value = serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
    results["runs"][0].clone()
}

/// Wrong use: status 2, and the message names what is wrong.
fn wrong(words: &[&str], named: &[&str]) {
    let output = wattsieve(&[&["analyse"], words].concat());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{words:?}: {said}");
    assert!(named.iter().all(|named| said.contains(named)), "{words:?}: {said}");
}

/// Noise of up to a thousandth, the same in every run of a test.
struct Noise(u32);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        0.002 * (f64::from(self.0 >> 8) / f64::from(1 << 24) - 0.5)
    }
}

/// Ten settings of 1.2 s at 50 rows a second; the output current comes to rest with a time constant of 40 ms.
fn stepped() -> String {
    let mut noise = Noise(1);
    let mut text = LOG.to_owned();
    for row in 0..600 {
        let (setting, within) = (f64::from(row / 60), f64::from(row % 60));
        let i_out = 0.4 + 0.3 * setting - if row < 60 { 0.0 } else { 0.3 * (-within / 2.0).exp() };
        text.push_str(&format!(
            "{:.2},{:.5},{:.5},{:.5},{:.5}\n",
            0.02 * f64::from(row),
            12.0 + noise.next(),
            i_out * 5.0 / 12.0 / 0.9 + noise.next(),
            5.0 + noise.next(),
            i_out + noise.next()
        ));
    }
    text
}

#[test]
fn plateaus_decides_whether_a_stepped_run_is_its_settled_points() {
    let folder = folder("plateaus");
    let log = write(&folder, "stepped.csv", &stepped());
    for (word, rows) in [("auto", 10), ("on", 10), ("off", 600)] {
        assert_eq!(run(&folder, &[&log, "--plateaus", word])["rows"]["read"], rows, "{word}");
    }
    wrong(&[&log, "--plateaus", "maybe"], &["--plateaus", "maybe"]);
}

#[test]
fn settle_is_dropped_from_every_setting() {
    let folder = folder("settle");
    let log = write(&folder, "stepped.csv", &stepped());
    for (seconds, rows) in [("0.4", 40), ("0.8", 20)] {
        let run = run(&folder, &[&log, "--plateaus", "on", "--settle", seconds]);
        assert_eq!(run["settled_points"]["settle"].as_f64().unwrap(), seconds.parse::<f64>().unwrap());
        let n = run["settled_points"]["points"][5]["n"].as_i64().unwrap();
        assert!((n - rows).abs() <= 2, "{seconds} s leave {n} rows of 60");
    }
    wrong(&[&log, "--settle", "-1"], &["--settle", "-1"]);
    wrong(&[&log, "--settle", "soon"], &["--settle", "soon"]);
}

#[test]
fn settled_csv_holds_a_line_for_every_point() {
    let folder = folder("settled-csv");
    let log = write(&folder, "stepped.csv", &stepped());
    let csv = folder.join("points.csv").display().to_string();
    run(&folder, &[&log, "--settled-csv", &csv]);
    let text = fs::read_to_string(csv).unwrap();
    let lines: Vec<Vec<&str>> = text.lines().map(|line| line.split(',').collect()).collect();
    assert_eq!(lines.len(), 11);
    let at = |name: &str| lines[0].iter().position(|column| *column == name).unwrap();
    for (setting, line) in lines[1..].iter().enumerate() {
        let amps: f64 = line[at("i_out_A")].parse().unwrap();
        assert!((amps - 0.4 - 0.3 * setting as f64).abs() < 1e-3, "{line:?}");
        assert!((line[at("efficiency")].parse::<f64>().unwrap() - 0.9).abs() < 2e-3, "{line:?}");
    }
    let nowhere = folder.join("no/such/points.csv").display().to_string();
    let output = wattsieve(&["analyse", &log, "--quiet", "--settled-csv", &nowhere]);
    assert_eq!(output.status.code(), Some(5));
}

#[test]
fn pulsed_refuses_products_of_averages_and_steady_uses_them() {
    let folder = folder("pulsed");
    let mut noise = Noise(2);
    let mut text = LOG.to_owned();
    for row in 0..300 {
        let (t, v) = (0.02 * f64::from(row), 8.1 + noise.next());
        text.push_str(&format!(
            "{t:.2},12.000,{:.5},{v:.5},{:.5}\n",
            0.47 + noise.next(),
            0.54 + noise.next()
        ));
    }
    let log = write(&folder, "dimmed.csv", &text);
    let pulsed = run(&folder, &[&log, "--pulsed", "pulsed"]);
    assert_eq!(pulsed["pulsed"]["used"], "refused");
    assert_eq!(pulsed["peak"]["efficiency"]["value"], Value::Null);
    let steady = run(&folder, &[&log, "--pulsed", "steady"]);
    assert_eq!(steady["pulsed"]["used"], "rows");
    let efficiency = steady["peak"]["efficiency"]["value"].as_f64().unwrap();
    assert!((efficiency - 8.1 * 0.54 / (12.0 * 0.47)).abs() < 2e-3, "{efficiency}");
    wrong(&[&log, "--pulsed", "often"], &["--pulsed", "often"]);
}

/// The input side on one logger; the output side on another that started 3.2 s later and reads twice as often.
fn two_loggers(folder: &Path) -> [String; 2] {
    let amps = |t: f64| 0.5 + 2.0 * (1.0 - (2.0 * (t / 4.0).fract() - 1.0).abs()) + 0.3 * (t / 2.7).sin();
    let mut noise = Noise(3);
    let (mut input, mut output) = ("t_s,v_in_V,i_in_A\n".to_owned(), "t_s,v_out_V,i_out_A\n".to_owned());
    for row in 0..1000 {
        let t = 0.02 * f64::from(row);
        let i_in = amps(t) * 5.0 / 12.0 / 0.9;
        input.push_str(&format!("{t:.2},{:.5},{:.5}\n", 12.0 + noise.next(), i_in + noise.next()));
    }
    for row in 0..1600 {
        let t = 0.01 * f64::from(row);
        let i_out = amps(t + 3.2);
        output.push_str(&format!("{t:.2},{:.5},{:.5}\n", 5.0 + noise.next(), i_out + noise.next()));
    }
    [write(folder, "input.csv", &input), write(folder, "output.csv", &output)]
}

#[test]
fn beside_joins_two_loggers_and_clock_states_the_offset() {
    let folder = folder("beside");
    let [input, output] = two_loggers(&folder);
    let at = write(&folder, "at.csv", "v_in,i_out\n12,1.5\n");
    let found = run(&folder, &[&input, "--beside", &output, "--at", &at]);
    let logger = &found["alignment"]["loggers"][0];
    assert_eq!(logger["from"], "same_changes");
    assert!((logger["offset"]["value"].as_f64().unwrap() - 3.2).abs() < 5e-3, "{logger}");
    assert!((found["at"][0]["value"].as_f64().unwrap() - 0.9).abs() < 2e-3, "{}", found["at"][0]);

    let stated = |clock: &str| run(&folder, &[&input, "--beside", &output, "--clock", clock, "--at", &at]);
    let right = stated("output:offset=3.2+-0.001,ratio=1");
    let logger = &right["alignment"]["loggers"][0];
    assert_eq!((&logger["from"], logger["offset"]["value"].as_f64()), (&"stated".into(), Some(3.2)));
    assert_eq!(logger["offset"]["u"].as_f64(), Some(0.001));
    // A clock stated wrongly is believed, and its answers are off.
    let off = stated("output:offset=2.7,ratio=1");
    assert_eq!(off["alignment"]["loggers"][0]["offset"]["value"].as_f64(), Some(2.7));
    let efficiency = |run: &Value| run["at"][0]["value"].as_f64().unwrap();
    assert!((efficiency(&right) - 0.9).abs() < 5e-4, "{}", efficiency(&right));
    assert!((efficiency(&off) - 0.9).abs() > 3e-3, "{}", efficiency(&off));
}

#[test]
fn beside_and_clock_name_wrong_use() {
    let folder = folder("beside-wrong");
    let [input, output] = two_loggers(&folder);
    wrong(&["--beside", &output, &input], &["--beside"]);
    wrong(&[&input, "--beside", &output, "--clock", "output:drift=1"], &["--clock", "drift"]);
    wrong(&[&input, "--beside", &output, "--clock", "nobody:offset=1"], &["nobody"]);
    // Without it each log lacks half of the channels.
    let asked = wattsieve(&["analyse", &input, &output, "--quiet"]);
    assert_eq!(asked.status.code(), Some(4));
}

#[test]
fn strictness_sets_least_rows_and_widths() {
    let folder = folder("strictness");
    let mut noise = Noise(4);
    let mut text = LOG.to_owned();
    for row in 0..600 {
        let i_out = 0.5 + 0.002 * f64::from(row % 300);
        let i_in = i_out * 5.0 / 12.0 / 0.9 + noise.next();
        let t = 0.02 * f64::from(row);
        text.push_str(&format!("{t:.2},12.000,{i_in:.5},{:.5},{i_out:.5}\n", 5.0 + noise.next()));
    }
    let log = write(&folder, "plain.csv", &text);
    let of = |words: &[&str]| run(&folder, &[&[log.as_str()], words].concat())["sieve"].clone();
    let width = |sieve: &Value| sieve["cell_width"]["i_out"].as_f64().unwrap();
    // Least rows 3 times 2 to the power 1.2 s, widths divided by the root of 2 to the power s.
    let plain = of(&[]);
    for (word, least_rows, narrower) in [("-1", 1, 0.5_f64.sqrt()), ("0", 3, 1.0), ("1", 7, 2.0_f64.sqrt())] {
        let sieve = of(&["--strictness", word]);
        assert_eq!(sieve["least_rows"], least_rows, "{word}");
        let ratio = width(&plain) / width(&sieve);
        assert!((ratio / narrower - 1.0).abs() < 1e-9 || word == "1" && ratio >= 1.0, "{word}: {ratio}");
    }
    wrong(&[&log, "--strictness", "2"], &["--strictness", "2"]);
    wrong(&[&log, "--strictness", "firm"], &["--strictness", "firm"]);
}
