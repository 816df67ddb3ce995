//! The command as its user meets it: exit statuses, files written, options that answer.
#![allow(clippy::unwrap_used, reason = "tests")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

fn demo(name: &str) -> String {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo-data").join(name).display().to_string()
}

fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    folder
}

fn wattsieve(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_wattsieve")).args(words).output().unwrap()
}

fn status(output: &Output) -> i32 {
    output.status.code().unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    fs::write(&path, text).unwrap();
    path.display().to_string()
}

const LOG: &str = "t_s,v_in_V,i_in_A,v_out_V,i_out_A\n";

fn rows(count: usize) -> String {
    let mut text = LOG.to_owned();
    for row in 0..count {
        let amps = 0.5 + 0.001 * row as f64;
        text.push_str(&format!(
            "{:.2},12.000,{:.4},5.000,{amps:.4}\n",
            0.02 * row as f64,
            amps * 5.0 / 12.0 / 0.9
        ));
    }
    text
}

#[test]
fn status_0_when_complete() {
    let folder = folder("complete");
    let log = write(&folder, "plain.csv", &rows(400));
    let json = folder.join("r.json").display().to_string();
    let output = wattsieve(&[
        "analyse",
        &format!("One={log}"),
        "--json",
        &json,
        "--at",
        &write(&folder, "at.csv", "v_in,i_out\n12,0.7\n"),
    ]);
    assert_eq!(status(&output), 0, "{}", said(&output));
    let results: Value = serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
    assert_eq!(results["schema"], "wattsieve-results/1");
    assert_eq!(results["runs"][0]["name"], "One");
    let efficiency = results["runs"][0]["at"][0]["value"].as_f64().unwrap();
    assert!((efficiency - 0.9).abs() < 0.001, "{efficiency}");
    let table = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(table.contains("as logged"), "{table}");
}

#[test]
fn status_2_names_the_option() {
    for (words, named) in [
        (vec!["analyse"], "no log"),
        (vec!["analyse", "x.csv", "--cells", "many"], "--cells"),
        (vec!["analyse", "x.csv", "--gates", "flow=off"], "flow"),
        (vec!["compare", "A=x.csv"], "two runs"),
        (vec!["analyse", "x.csv", "--columns", "volts=1"], "volts"),
        (vec!["analyse", "x.csv", "--calibration-resistor", "1"], "--straight-through"),
        (vec!["analyse", "x.csv", "--separator", "B:;"], "no log is called"),
    ] {
        let output = wattsieve(&words);
        assert_eq!(status(&output), 2, "{words:?}: {}", said(&output));
        assert!(said(&output).contains(named), "{words:?}: {}", said(&output));
    }
}

#[test]
fn status_3_when_an_input_is_refused() {
    let folder = folder("refused");
    let missing = wattsieve(&["analyse", &folder.join("nothing.csv").display().to_string()]);
    assert_eq!(status(&missing), 3);
    assert!(said(&missing).contains("nothing.csv"));
    let picture = folder.join("picture.csv");
    fs::write(&picture, b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR").unwrap();
    let json = folder.join("r.json").display().to_string();
    let output = wattsieve(&["read", &picture.display().to_string(), "--json", &json]);
    assert_eq!(status(&output), 3);
    let results: Value = serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
    assert_eq!(results["inputs"][0]["outcome"], "refused");
    assert!(String::from_utf8_lossy(&output.stdout).contains("picture"));
}

#[test]
fn status_4_names_the_option_that_answers_and_it_does() {
    let folder = folder("asks");
    let text =
        rows(200).lines().map(|line| line.split_once(',').unwrap().1.to_owned() + "\n").collect::<String>();
    let log = write(&folder, "no-time.csv", &text);
    let json = folder.join("r.json").display().to_string();
    let output = wattsieve(&["analyse", &log, "--json", &json]);
    assert_eq!(status(&output), 4, "{}", said(&output));
    assert!(said(&output).contains("--row-period"), "{}", said(&output));
    let results: Value = serde_json::from_str(&fs::read_to_string(&json).unwrap()).unwrap();
    assert_eq!(results["inputs"][0]["outcome"], "asks");
    let answered = wattsieve(&["analyse", &log, "--row-period", "0.02", "--json", &json]);
    assert_eq!(status(&answered), 0, "{}", said(&answered));
}

#[test]
fn status_5_when_it_cannot_write() {
    let folder = folder("unwritable");
    let log = write(&folder, "plain.csv", &rows(100));
    let output = wattsieve(&[
        "analyse",
        &log,
        "--quiet",
        "--json",
        &folder.join("no/such/folder.json").display().to_string(),
    ]);
    assert_eq!(status(&output), 5);
    assert!(said(&output).contains("folder.json"));
}

#[test]
fn a_bad_line_is_named_and_the_rest_is_read() {
    let folder = folder("badline");
    let mut text = rows(300);
    text = text.replacen("2.00,12.000", "2.00,twelve", 1);
    let log = write(&folder, "bad.csv", &text);
    let output = wattsieve(&["read", &log]);
    assert_eq!(status(&output), 0);
    let table = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(table.contains("line 102, column 2 `v_in_V`: found `twelve`"), "{table}");
    assert!(table.contains("300 rows, 299 usable"), "{table}");
}

#[test]
fn settings_and_calibration_files_give_the_same_answer_again() {
    let folder = folder("again");
    let file = |name: &str| folder.join(name).display().to_string();
    let lamp = format!("Lamp={}", demo("lamp-diode.csv"));
    let through = demo("fixture-through-2r2.csv");
    let shorted = demo("fixture-input-shorted.csv");
    let first = wattsieve(&[
        "analyse",
        &lamp,
        "--straight-through",
        &through,
        "--calibration-resistor",
        "2.2",
        "--input-shorted",
        &shorted,
        "--cells",
        "40",
        "--least-rows",
        "4",
        "--write-settings",
        &file("settings.json"),
        "--write-calibration",
        &file("calibration.json"),
        "--json",
        &file("first.json"),
        "--csv",
        &file("rows.csv"),
        "--quiet",
    ]);
    assert_eq!(status(&first), 0, "{}", said(&first));
    let again = wattsieve(&[
        "analyse",
        &lamp,
        "--straight-through",
        &through,
        "--input-shorted",
        &shorted,
        "--settings",
        &file("settings.json"),
        "--json",
        &file("again.json"),
        "--quiet",
    ]);
    assert_eq!(status(&again), 0, "{}", said(&again));
    assert_eq!(fs::read(file("first.json")).unwrap(), fs::read(file("again.json")).unwrap());
    let inherited = wattsieve(&[
        "analyse",
        &lamp,
        "--calibration",
        &file("calibration.json"),
        "--cells",
        "40",
        "--least-rows",
        "4",
        "--json",
        &file("inherited.json"),
        "--quiet",
    ]);
    assert_eq!(status(&inherited), 0, "{}", said(&inherited));
    let read =
        |name: &str| -> Value { serde_json::from_str(&fs::read_to_string(file(name)).unwrap()).unwrap() };
    let (one, other) = (read("first.json"), read("inherited.json"));
    assert_eq!(other["fixture"]["basis"], "record");
    assert_eq!(one["fixture"]["correction_in"], other["fixture"]["correction_in"]);
    assert_eq!(one["fixture"]["covariance"], other["fixture"]["covariance"]);
    assert_eq!(other["runs"][0]["grade"], one["runs"][0]["grade"]);
    let kept = fs::read_to_string(file("rows.csv")).unwrap();
    assert!(kept.starts_with("run,row,line,time_s,v_in_V"));
    assert_eq!(kept.lines().count() as u64 - 1, one["runs"][0]["rows"]["kept"].as_u64().unwrap());
}

#[test]
fn corrections_can_be_given_instead_of_measured() {
    let folder = folder("given");
    let log = write(&folder, "plain.csv", &rows(400));
    let json = folder.join("r.json").display().to_string();
    let at = write(&folder, "at.csv", "11.98,0.7\n");
    let output = wattsieve(&[
        "analyse",
        &log,
        "--input-correction",
        "0.05+-0.001",
        "--output-correction",
        "0.03+-0.001",
        "--at",
        &at,
        "--json",
        &json,
        "--quiet",
    ]);
    assert_eq!(status(&output), 0, "{}", said(&output));
    let results: Value = serde_json::from_str(&fs::read_to_string(json).unwrap()).unwrap();
    assert_eq!(results["fixture"]["basis"], "given");
    assert_eq!(results["fixture"]["correction_in"]["value"], 0.05);
    // At 0.7 A: I_in = 0.7*5/12/0.9 A, V_A = 12 - I_in*0.05 V, V_B = 5 + 0.7*0.03 V, by hand.
    let i_in = 0.7 * 5.0 / 12.0 / 0.9;
    let expected = (5.0 + 0.7 * 0.03) * 0.7 / ((12.0 - i_in * 0.05) * i_in);
    let found = results["runs"][0]["at"][0]["value"].as_f64().unwrap();
    assert!((found - expected).abs() < 2e-4, "{found} {expected}");
}

#[test]
fn a_page_carries_its_logs_and_escapes_them() {
    let folder = folder("page");
    let empty = write(
        &folder,
        "empty.html",
        "<body><script type=\"application/json\" id=\"bench\">null</script></body>",
    );
    let log = write(&folder, "plain.csv", &rows(100));
    let page = folder.join("page.html").display().to_string();
    let output =
        wattsieve(&["analyse", &format!("<b>={log}"), "--page", &page, "--page-from", &empty, "--quiet"]);
    assert_eq!(status(&output), 0, "{}", said(&output));
    let text = fs::read_to_string(page).unwrap();
    assert!(text.contains("data-name=\"plain.csv\""));
    assert!(text.contains("\\u003cb>"));
    assert!(!text.contains("<b>"));
}
