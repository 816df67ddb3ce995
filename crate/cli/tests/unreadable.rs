//! Files that cannot be used: exit status and sentence of each, from the table that the page's test
//! uses too (`tests/logs/refused/cases.json`).
#![allow(clippy::unwrap_used, reason = "tests")]

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

fn logs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../tests/logs")
}

fn wattsieve(words: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_wattsieve")).args(words).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn path(name: &str) -> String {
    logs().join(name).display().to_string()
}

#[test]
fn every_case_has_its_sentence_and_status() {
    let cases: Value =
        serde_json::from_slice(&std::fs::read(logs().join("refused/cases.json")).unwrap()).unwrap();
    for case in cases.as_array().unwrap() {
        let name = case["file"].as_str().unwrap();
        for verb in ["read", "analyse"] {
            let (status, said, complained) = wattsieve(&[verb, &path(name)]);
            let all = format!("{said}{complained}");
            assert_eq!(status, 3, "{verb} {name}: {all}");
            for words in case["says"].as_array().unwrap() {
                assert!(all.contains(words.as_str().unwrap()), "{verb} {name}: {all}");
            }
            let base = name.rsplit('/').next().unwrap();
            assert!(all.contains(base), "{verb} {name} is not named: {all}");
        }
    }
}

#[test]
fn a_refused_log_leaves_the_others_read() {
    let json = Path::new(env!("CARGO_TARGET_TMPDIR")).join("mixed.json").display().to_string();
    let (status, ..) =
        wattsieve(&["read", &path("packed/mixed.zip"), &path("shapes/plain.csv"), "--json", &json]);
    assert_eq!(status, 3);
    let results: Value = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
    let found: Vec<(&str, &str, u64)> = results["inputs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|input| {
            let text = |key: &str| input[key].as_str().unwrap();
            (text("name"), text("outcome"), input["rows_found"].as_u64().unwrap())
        })
        .collect();
    assert_eq!(found[0], ("one.csv", "read", 40));
    assert_eq!((found[1].0, found[1].1), ("photo.csv", "refused"));
    assert_eq!((found[2].0, found[2].1), ("plain.csv", "read"));
}

#[test]
fn one_row_and_a_folder_and_a_missing_file() {
    let (status, said, _) = wattsieve(&["read", &path("shapes/one_row.csv")]);
    assert!(status == 0 && said.contains("one row") && said.contains("logger ran on"), "{status} {said}");
    let (status, _, complained) = wattsieve(&["read", &path("shapes")]);
    assert!(status == 3 && complained.contains("this is a folder"), "{status} {complained}");
    let (status, _, complained) = wattsieve(&["read", &path("nowhere.csv")]);
    assert!(status == 3 && complained.contains("nowhere.csv: cannot be read"), "{status} {complained}");
}

#[test]
fn the_logs_of_an_archive_are_parts_of_the_run_that_it_is_named() {
    let json = Path::new(env!("CARGO_TARGET_TMPDIR")).join("parts.json").display().to_string();
    let (status, said, complained) =
        wattsieve(&["analyse", &format!("A={}", path("packed/parts.zip")), "--json", &json]);
    assert_eq!(status, 0, "{said}{complained}");
    let results: Value = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
    assert_eq!(results["runs"][0]["name"], "A");
    assert_eq!(results["runs"][0]["parts"][0]["rows"], 20);
    assert_eq!(results["runs"][0]["parts"][1]["first_row"], 20);
    assert_eq!(results["runs"].as_array().unwrap().len(), 1);
}

#[test]
fn counts_and_ranges_and_writing_can_be_stated() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let counts = folder.join("counts.csv");
    let mut text = "ms,vin,iin,vout,iout\n".to_owned();
    for row in 0..40 {
        text.push_str(&format!("{},{},{},{},{}\n", 20 * row, 2000 + row, 700 + row, 1000, 1500 + 2 * row));
    }
    std::fs::write(&counts, text).unwrap();
    let json = folder.join("counts.json").display().to_string();
    let log = counts.display().to_string();
    let divided = "v_in=bits:12,reference:3.3,divider:90000/10000";
    let shunt = "i_in=bits:12,reference:3.3,shunt:0.02,gain:50,zero:0";
    let (status, said, complained) = wattsieve(&[
        "read",
        &log,
        "--counts",
        divided,
        "--counts",
        shunt,
        "--counts",
        "v_out=bits:12,reference:3.3,divider:30/10",
        "--counts",
        "i_out=bits:12,reference:3.3,shunt:0.01,gain:50",
        "--json",
        &json,
    ]);
    assert_eq!(status, 0, "{said}{complained}");
    let results: Value = serde_json::from_slice(&std::fs::read(&json).unwrap()).unwrap();
    let input = &results["inputs"][0];
    // By hand: 3.3 V / 4096 · 10 = 8.0566 mV; 3.3 V / 4096 / 50 / 0.02 Ω = 0.80566 mA.
    let step = |name: &str| input["understood"]["resolution"][name].as_f64().unwrap();
    assert!((step("v_in") - 0.008_056_640_625).abs() < 1e-12, "{}", step("v_in"));
    assert!((step("i_in") - 0.000_805_664_062_5).abs() < 1e-13, "{}", step("i_in"));
    assert!((step("i_out") - 0.001_611_328_125).abs() < 1e-13, "one count, though every step is two");
    let sum: f64 = (0..40).map(|row| f64::from(2000 + row) * 3.3 / 4096.0 * 10.0).sum();
    assert!((input["sums"]["v_in"].as_f64().unwrap() - sum).abs() < 1e-9 * sum);

    let (status, _, complained) = wattsieve(&["read", &log, "--counts", "i_in=bits:12,reference:3.3"]);
    assert!(status == 4 && complained.contains("shunt"), "{status} {complained}");
    let (status, _, complained) = wattsieve(&["read", &log, "--encoding", "latin"]);
    assert!(status == 2 && complained.contains("windows-1252"), "{status} {complained}");

    let ranged = path("shapes/range_column.csv");
    let (_, said, _) = wattsieve(&["read", &ranged]);
    assert!(said.contains("range LO") && said.contains("range HI"), "{said}");
    let (status, said, _) = wattsieve(&["read", &ranged, "--ranges", "i_out=column:6,HI:offset:20mA"]);
    assert!(status == 0 && !said.contains("range HI"), "{status} {said}");
}
