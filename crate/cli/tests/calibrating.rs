//! The options of a calibration, each by what it does to a number or by what it refuses.
#![allow(clippy::unwrap_used, reason = "tests")]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

fn wattsieve(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wattsieve")).args(words).output().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Pieces of the fixture, ohm: in_high, in_low, out_high, out_low; its jumpers; the resistor.
const PIECES: [f64; 4] = [0.031, 0.022, 0.018, 0.027];
const JUMPER: f64 = 0.0008;
const RESISTOR: f64 = 0.68;

/// A log of 240 rows that sweep up and down twice; a small seeded noise.
fn log(nodes: impl Fn(f64) -> [f64; 5]) -> String {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut noise = || {
        // Sum of four even ones: near enough to normal.
        let mut sum = -2.0;
        for _ in 0..4 {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (state >> 11) as f64 / (1_u64 << 53) as f64;
        }
        sum * 3.0_f64.sqrt()
    };
    let mut text = "t [s],V_in [V],V_out+ [V],V_out- [V],I_in [A],I_out [A]\n".to_owned();
    for row in 0..240 {
        let level = 1.0 - (4.0 * f64::from(row) / 240.0 % 2.0 - 1.0).abs();
        write!(text, "{:.2}", 0.02 * f64::from(row)).unwrap();
        for (x, sigma) in nodes(level).into_iter().zip([8e-4, 8e-4, 3e-4, 1.5e-3, 1.5e-3]) {
            write!(text, ",{:.4}", x + sigma * noise()).unwrap();
        }
        text.push('\n');
    }
    text
}

/// Logs of one fixture in a folder of their own.
struct Bench(PathBuf);

impl Bench {
    fn new(name: &str) -> Self {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("calibrating").join(name);
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        let bench = Self(folder);
        let [pa, ag, bq, nb] = PIECES;
        bench.write("zero.csv", &log(|_| [0.0; 5]));
        bench.write("open.csv", &log(|l| [14.0 * l, 14.0 * l, 0.0, 0.0, 0.0]));
        for (name, resistor, top) in
            [("through.csv", RESISTOR, 4.5), ("again.csv", RESISTOR, 4.5), ("moved.csv", RESISTOR, 4.5)]
        {
            let plug = if name == "moved.csv" { 0.01 } else { 0.0 };
            bench.write(
                name,
                &log(|l| {
                    let v = top * l;
                    let i = v / (pa + bq + plug + nb + ag + 2.0 * JUMPER + resistor);
                    [v, v - i * (pa + bq + plug + JUMPER), i * (nb + ag + JUMPER), i, i]
                }),
            );
        }
        bench.write("short.csv", &log(|l| [5.0 * l * (pa + ag + JUMPER), 0.0, 0.0, 5.0 * l, 0.0]));
        bench.write(
            "run.csv",
            &log(|l| {
                let (v_a, i_o) = (12.0, 0.5 + 3.5 * l);
                let i_i = 5.0 * i_o / 0.9 / v_a;
                let low = i_o * nb + i_i * ag;
                [v_a + i_i * (pa + ag), low + 5.0 - i_o * (bq + nb), low, i_i, i_o]
            }),
        );
        bench
    }

    fn write(&self, name: &str, text: &str) -> String {
        let path = self.at(name);
        fs::write(&path, text).unwrap();
        path
    }

    fn at(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }

    /// Results of the run with calibration options; names of files ending in `.csv` or `.json` are those of the folder.
    fn results(&self, options: &[&str]) -> Value {
        let output = self.run(options);
        assert_eq!(output.status.code(), Some(0), "{options:?}: {}", said(&output));
        serde_json::from_str(&fs::read_to_string(self.at("results")).unwrap()).unwrap()
    }

    fn run(&self, options: &[&str]) -> Output {
        let mut words = vec!["analyse".to_owned(), format!("A={}", self.at("run.csv"))];
        for option in options {
            let file = option.ends_with(".csv") || option.ends_with(".json");
            words.push(match option.split_once('=') {
                Some((channel, name)) if file => format!("{channel}={}", self.at(name)),
                None if file => self.at(option),
                _ => (*option).to_owned(),
            });
        }
        words.extend(["--quiet".to_owned(), "--json".to_owned(), self.at("results")]);
        wattsieve(&words.iter().map(String::as_str).collect::<Vec<_>>())
    }

    fn refused(&self, options: &[&str], part: &str) {
        let output = self.run(options);
        assert_eq!(output.status.code(), Some(2), "{options:?}: {}", said(&output));
        assert!(said(&output).contains(part), "{options:?}: {}", said(&output));
    }
}

const CALIBRATED: [&str; 8] = [
    "--all-off",
    "zero.csv",
    "--open-sweep",
    "open.csv",
    "--straight-through",
    "through.csv",
    "--input-shorted",
    "short.csv",
];

fn with(more: &[&'static str]) -> Vec<&'static str> {
    CALIBRATED.iter().chain(more).copied().collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("{value}"))
}

/// Every gain within 1 %, evenly: u is the share by root 3 (JCGM 100:2008 clause 4.3.7).
#[test]
fn accuracy() {
    let bench = Bench::new("accuracy");
    let channels = &bench.results(&["--all-off", "zero.csv", "--accuracy", "1%"])["fixture"]["channels"];
    let u = number(&channels["i_in"]["gain"]["u"]);
    assert!((u - 0.01 / 3.0_f64.sqrt()).abs() < 1e-9, "{u}");
    bench.refused(&["--accuracy", "good"], "--accuracy");
}

/// A line of a channel that reads 0.2 % high; the reference meter's own 0.1 % comes on top.
#[test]
fn line_and_reference_meter() {
    let bench = Bench::new("line");
    bench.write("pairs.csv", "reference,reading\n0,0.0001\n1,1.0021\n2,2.0040\n3,3.0059\n4,4.0081\n");
    let gain = |more: &[&'static str]| {
        let results = bench.results(
            &[&["--all-off", "zero.csv", "--accuracy", "calibrated", "--line", "i_in=pairs.csv"], more]
                .concat(),
        );
        let gain = &results["fixture"]["channels"]["i_in"]["gain"];
        (number(&gain["value"]), number(&gain["u"]))
    };
    let (value, alone) = gain(&[]);
    assert!((value - 1.002).abs() < 1e-4 && alone < 1e-4, "{value} {alone}");
    let (_, both) = gain(&["--reference-meter", "0.1%"]);
    assert!((both / (alone * alone + 1e-6 * value * value).sqrt() - 1.0).abs() < 0.02, "{both}");
    bench.refused(&["--line", "volts=pairs.csv"], "volts");
    bench.write("one.csv", "1,one\n");
    let output = bench.run(&["--accuracy", "calibrated", "--line", "i_in=one.csv"]);
    assert_ne!(output.status.code(), Some(0));
    assert!(said(&output).contains("one"), "{}", said(&output));
    bench.refused(&["--reference-meter", "fine"], "--reference-meter");
}

/// What all voltage channels share widens each gain and no efficiency.
#[test]
fn common_voltage_gain() {
    let bench = Bench::new("common");
    let (plain, shared) =
        (bench.results(&CALIBRATED), bench.results(&with(&["--common-voltage-gain", "1%"])));
    let gain = |results: &Value| number(&results["fixture"]["channels"]["v_in"]["gain"]["u"]);
    let eta = |results: &Value| number(&results["fixture"]["budget"]["points"][2]["u"]);
    assert!(gain(&plain) < 0.0011 && gain(&shared) > 0.0095, "{} {}", gain(&plain), gain(&shared));
    assert!((eta(&shared) / eta(&plain) - 1.0).abs() < 0.03, "{} {}", eta(&plain), eta(&shared));
    bench.refused(&["--common-voltage-gain", "-1%"], "--common-voltage-gain");
}

/// A meter across one contact gives that contact: 3 A times its resistance.
#[test]
fn meter() {
    let bench = Bench::new("meter");
    let results = bench.results(&with(&["--meter", "out_low=0.081+-0.00003@3+-0.0003"]));
    let contact = &results["fixture"]["contacts"]["out_low"];
    assert!(
        (number(&contact["value"]) - PIECES[3]).abs() < 2e-4 && number(&contact["u"]) < 1e-4,
        "{contact}"
    );
    bench.refused(&["--meter", "out_low=0.081"], "@");
    bench.refused(&["--meter", "thumb=0.081@3"], "thumb");
    bench.refused(&["--meter", "source=12.4@3"], "logged");
    bench.refused(&["--meter", "out_low=0.081@0"], "0 A");
}

/// 90 % at the converter's terminals are fewer at the board: its contacts count then.
#[test]
fn plane() {
    let bench = Bench::new("plane");
    let at = |plane: &'static str| {
        let results = bench.results(&with(&["--plane", plane]));
        assert_eq!(results["fixture"]["plane"], plane);
        number(&results["fixture"]["budget"]["points"][2]["efficiency"])
    };
    let (converter, board) = (at("converter"), at("board"));
    assert!((converter - 0.9).abs() < 0.005, "{converter}");
    assert!(converter - board > 0.02, "{converter} {board}");
    let lost = bench.results(&with(&["--plane", "source-to-load"]));
    assert!(lost["fixture"]["plane_problem"].as_str().unwrap().contains("leads"));
    bench.refused(&["--plane", "moon"], "moon");
}

/// A resistor sensed at its own terminals sets the scale of the currents: stated 1 % lower, currents are 1 % higher.
#[test]
fn four_wire() {
    let bench = Bench::new("four-wire");
    let stated = format!("{}+-0.0001", RESISTOR / 1.01);
    let gain = |more: &[&str]| {
        let options = [
            &[
                "--all-off",
                "zero.csv",
                "--straight-through",
                "through.csv",
                "--calibration-resistor",
                &stated,
            ],
            more,
        ]
        .concat();
        let results = bench.results(&options);
        number(&results["fixture"]["channels"]["i_in"]["gain"]["value"])
    };
    assert!((gain(&[]) - 1.0).abs() < 1e-9);
    let scaled = gain(&["--four-wire"]);
    assert!((scaled - 1.0 / 1.01).abs() < 1e-3, "{scaled}");
    bench.refused(&["--four-wire"], "after a calibration run");
}

/// A run held back is judged and not used.
#[test]
fn hold_back() {
    let bench = Bench::new("hold-back");
    let used = bench.results(&with(&["--straight-through", "again.csv"]));
    let held = bench.results(&with(&["--straight-through", "again.csv", "--hold-back"]));
    assert_eq!(used["fixture"]["acceptance_from"], "fitted");
    assert_eq!(held["fixture"]["acceptance_from"], "held_back");
    let rows = |results: &Value| -> f64 {
        results["fixture"]["acceptance"].as_array().unwrap().iter().map(|band| number(&band["n"])).sum()
    };
    assert!(rows(&used) > 1.8 * rows(&held), "{} {}", rows(&used), rows(&held));
    bench.refused(&["--hold-back"], "after a calibration run");
}

/// The way of the current written down is that of the wiring; another way gives another sum.
#[test]
fn path() {
    let bench = Bench::new("path");
    let sum = |way: &[&'static str]| {
        let results =
            bench.results(&[&["--all-off", "zero.csv", "--input-shorted", "short.csv"], way].concat());
        (results["fixture"]["correction_in"]["value"].as_f64(), results["fixture"]["circuit"]["runs"].clone())
    };
    let (named, _) = sum(&[]);
    let (written, _) = sum(&["--path", "v_in,i_in,in_high,jumper_high,in_low,ground"]);
    assert!((named.unwrap() - PIECES[0] - PIECES[1]).abs() < 1e-3, "{named:?}");
    assert!((named.unwrap() - written.unwrap()).abs() < 1e-6, "{named:?} {written:?}");
    // The minus lead was moved past its contact: only the plus contact is on the way.
    let (moved, runs) = sum(&["--path", "v_in,i_in,in_high,jumper_high,ground"]);
    assert_ne!(named, moved);
    assert!(!runs.to_string().contains("in_low"), "{runs}");
    bench.refused(&["--input-shorted", "short.csv", "--path", "v_in,moon"], "moon");
    bench.refused(&["--path", "v_in,ground"], "after a calibration run");
}

/// Runs beside a record replace it, or check it where asked.
#[test]
fn check_calibration() {
    let bench = Bench::new("check");
    bench.results(&with(&["--write-calibration", "record.json"]));
    let checked = |log: &'static str| {
        let options = ["--calibration", "record.json", "--straight-through", log, "--check-calibration"];
        bench.results(&options)["fixture"].clone()
    };
    let same = checked("again.csv");
    assert_eq!(same["basis"], "record");
    assert_eq!(same["checks"]["record"]["verdict"], "same", "{}", same["checks"]["record"]);
    let moved = checked("moved.csv");
    assert_eq!(moved["checks"]["record"]["verdict"], "changed", "{}", moved["checks"]["record"]);
    let replaced = bench.results(&["--calibration", "record.json", "--straight-through", "again.csv"]);
    assert_eq!(replaced["fixture"]["basis"], "fitted");
}
