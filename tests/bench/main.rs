//! The bench as a whole: what is stale, what is not, and that the same input gives the same bytes.
#![allow(clippy::unwrap_used, clippy::disallowed_methods, reason = "tests")]

mod delays;
mod held;
mod looking;
mod pulsed;
mod two_loggers;

use std::fs;
use std::path::PathBuf;

use wattsieve_core::bench::{Bench, CalibrationUse, Detail, InputSettings, Kind, Settings};
use wattsieve_core::channel::{ColumnRef, ColumnRole, Role};
use wattsieve_core::fixture::Stated;
use wattsieve_core::sieve::SettledPoints;
use wattsieve_tests::sim::Random;

/// Lines of a demo log that a test uses.
const LINES: usize = 4000;

fn demo(name: &str) -> Vec<u8> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../demo-data");
    fs::read(folder.join(name)).unwrap()
}

/// The first lines of a demo log.
fn short(name: &str) -> Vec<u8> {
    let whole = demo(name);
    let end = whole
        .iter()
        .enumerate()
        .filter(|(_, byte)| **byte == b'\n')
        .nth(LINES)
        .map_or(whole.len(), |(at, _)| at + 1);
    whole[..end].to_vec()
}

fn feed(bench: &mut Bench, name: &str, bytes: &[u8], chunk: usize) -> usize {
    let input = bench.begin(name, Some(bytes.len() as u64));
    for piece in bytes.chunks(chunk) {
        bench.push(input, piece);
        bench.hash(input, piece);
    }
    bench.finish(input);
    bench.finish_hash(input);
    input
}

const CALIBRATION: [&str; 4] =
    ["fixture-all-off.csv", "fixture-open-sweep.csv", "fixture-through-2r2.csv", "fixture-input-shorted.csv"];

/// A bench with calibration runs, two runs of converters, everything told by content.
fn bench(chunk: usize) -> Bench {
    bench_with(chunk, Settings::default())
}

fn bench_with(chunk: usize, settings: Settings) -> Bench {
    let mut bench = Bench::new(settings);
    for name in CALIBRATION {
        feed(&mut bench, name, &short(name), chunk);
    }
    feed(&mut bench, "lamp-synchronous.csv", &short("lamp-synchronous.csv"), chunk);
    feed(&mut bench, "lamp-diode.csv", &short("lamp-diode.csv"), chunk);
    bench
}

fn json(bench: &mut Bench) -> String {
    let results = bench.results(Detail::Full);
    bench.json(&results)
}

#[test]
fn calibration_runs_are_told_by_content() {
    let mut bench = bench(1 << 16);
    let results = bench.results(Detail::Brief);
    let kinds: Vec<Kind> = results.inputs.iter().map(|input| input.role).collect();
    assert_eq!(
        kinds,
        [Kind::AllOff, Kind::OpenSweep, Kind::StraightThrough, Kind::InputShorted, Kind::Run, Kind::Run]
    );
    assert!(results.inputs.iter().all(|input| input.role_evidence.is_some()));
    assert!(results.fixture.is_some());
    assert!(results.runs.iter().all(|run| run.answers.grade == "settled"));
}

#[test]
fn any_split_of_the_bytes_gives_the_same_results() {
    let whole = json(&mut bench(usize::MAX));
    for chunk in [7, 65_536] {
        assert_eq!(json(&mut bench(chunk)), whole, "chunks of {chunk}");
    }
}

#[test]
fn work_in_small_slices_gives_the_same_results() {
    let whole = json(&mut bench(1 << 16));
    let mut sliced = bench(1 << 16);
    let mut steps = 0;
    while !sliced.advance(500).done {
        steps += 1;
    }
    assert!(steps > 20, "only {steps} steps: the budget is not heeded");
    assert_eq!(json(&mut sliced), whole);
}

#[test]
fn twenty_moves_of_least_rows_only_judge() {
    // Narrow cells, so that the threshold has something to take.
    let mut settings = Settings::default();
    settings.sieve.cells = Some(150.0);
    let mut bench = bench_with(1 << 16, settings);
    bench.complete();
    let fits = bench.evaluations().fixture;
    let mut removed = Vec::new();
    for step in 0..20 {
        let mut settings = bench.settings().clone();
        settings.sieve.least_rows = (settings.sieve.least_rows + 5 + step % 2) % 13;
        assert!(bench.set_settings(settings).is_empty());
        let results = bench.results(Detail::Brief);
        removed.push(results.runs[0].rows.removed_count);
    }
    for run in bench.evaluations().runs {
        let counts = run.stages;
        assert_eq!(
            (counts.log, counts.alignment, counts.gates, counts.count, counts.judge),
            (1, 1, 1, 1, 20)
        );
        assert_eq!(counts.label, 1, "a threshold changes no label");
    }
    assert_eq!(bench.evaluations().fixture, fits);
    removed.sort_unstable();
    removed.dedup();
    assert!(removed.len() > 1, "the threshold changed nothing: {removed:?}");
}

#[test]
fn a_setting_that_changes_between_two_steps_counts_for_all() {
    // Every number of steps after which the settings can change, answers and comparison included.
    let wanted = |settings: &mut Settings| {
        settings.sieve.least_rows = 9;
        settings.at = vec![[12.9, 0.5], [12.5, 2.0]];
        settings.sieve.gates.slew = false;
    };
    let mut settings = Settings::default();
    settings.sieve.cells = Some(150.0);
    let before = settings.clone();
    wanted(&mut settings);
    let expected = json(&mut bench_with(1 << 16, settings.clone()));
    let mut bench = bench_with(1 << 16, before.clone());
    let mut steps = 0;
    while !bench.advance(65_536).done {
        steps += 1;
    }
    assert!(steps > 30, "answers and comparisons go in steps: {steps}");
    for after in (0..steps).step_by(7).chain([steps]) {
        bench.set_settings(settings.clone());
        assert_eq!(json(&mut bench), expected, "changed after {after} steps");
        bench.set_settings(before.clone());
        for _ in 0..after {
            bench.advance(65_536);
        }
    }
}

#[test]
fn calibrating_anew_never_changes_who_is_removed() {
    let mut bench = bench(1 << 16);
    let before: Vec<_> = bench.results(Detail::Full).runs.into_iter().map(|run| run.rows.removed).collect();
    let mut settings = bench.settings().clone();
    settings.fixture.input_correction = Some(Stated { value: 0.1, u: Some(0.001) });
    settings.fixture.output_correction = Some(Stated { value: 0.2, u: Some(0.001) });
    bench.set_settings(settings);
    let after = bench.results(Detail::Full);
    assert_eq!(before, after.runs.iter().map(|run| run.rows.removed.clone()).collect::<Vec<_>>());
    assert!(bench.evaluations().runs.iter().all(|run| run.stages.gates == 1 && run.stages.count == 1));
}

#[test]
fn a_setting_moved_and_moved_back_gives_the_same_bytes() {
    let mut bench = bench(1 << 16);
    let before = json(&mut bench);
    let original = bench.settings().clone();
    let mut changed = original.clone();
    changed.sieve.cells = Some(31.0);
    changed.sieve.gates.step = false;
    changed.map.grid = Some([5, 5]);
    changed.align.mode = wattsieve_core::align::Mode::None;
    bench.set_settings(changed);
    assert_ne!(json(&mut bench), before);
    bench.set_settings(original);
    assert_eq!(json(&mut bench), before);
}

#[test]
fn settings_survive_their_file() {
    let mut settings = bench(1 << 16).settings().clone();
    settings.at = vec![[12.5, 0.1], [11.0, 2.0 / 3.0]];
    settings.inputs[0] =
        InputSettings { kind: Some(Kind::AllOff), run: Some("x".to_owned()), ..InputSettings::default() };
    let text = serde_json::to_string(&settings).unwrap();
    let read: Settings = serde_json::from_str(&text).unwrap();
    assert_eq!(read, settings);
    assert_eq!(serde_json::to_string(&read).unwrap(), text);
    assert_eq!(serde_json::from_str::<Settings>("{}").unwrap(), Settings::default());
}

#[test]
fn a_changed_way_of_reading_asks_for_the_bytes_and_only_of_that_log() {
    let mut bench = bench(1 << 16);
    bench.complete();
    let mut settings = bench.settings().clone();
    settings.inputs[5].columns.columns.push(ColumnRole { column: ColumnRef::Number(1), role: Role::Time });
    let wanted = bench.set_settings(settings);
    assert_eq!(wanted, [5]);
    bench.begin_again(5, None);
    bench.push(5, &short("lamp-diode.csv"));
    bench.finish(5);
    bench.complete();
    let logs: Vec<u64> = bench.evaluations().runs.iter().map(|run| run.stages.log).collect();
    assert_eq!(logs, [1, 2]);
}

#[test]
fn a_calibration_file_gives_what_its_runs_gave() {
    let mut fitted = bench(1 << 16);
    fitted.complete();
    let record = fitted.calibration_record().unwrap();
    let correction = fitted.calibration().unwrap().correction.clone();
    let settings =
        Settings { calibration: Some(serde_json::from_str(&record).unwrap()), ..Settings::default() };
    let mut inherited = Bench::new(settings);
    feed(&mut inherited, "lamp-diode.csv", &short("lamp-diode.csv"), 1 << 16);
    inherited.complete();
    assert_eq!(inherited.calibration().unwrap().correction, correction);
    assert_eq!(inherited.results(Detail::Brief).runs[0].answers.grade, "settled");
}

#[test]
fn a_run_that_a_calibration_was_made_of_finds_its_fixture_unchanged() {
    let mut fitted = bench(1 << 16);
    fitted.complete();
    let record = fitted.calibration_record().unwrap();
    for run in ["fixture-through-2r2.csv", "fixture-through-0r68.csv"] {
        let settings = Settings {
            calibration: Some(serde_json::from_str(&record).unwrap()),
            calibration_use: CalibrationUse::CheckedByRuns,
            ..Settings::default()
        };
        let mut checking = Bench::new(settings);
        feed(&mut checking, run, &demo(run), 1 << 16);
        feed(&mut checking, "lamp-diode.csv", &short("lamp-diode.csv"), 1 << 16);
        let results = checking.results(Detail::Brief);
        let check = results.fixture.unwrap().checks.record.unwrap();
        assert_eq!(check.verdict, "same", "{run}: {} {:#?}", check.words, check.parameters);
    }
}

#[test]
fn without_calibration_nothing_is_said_of_accuracy() {
    let mut bench = Bench::new(Settings::default());
    feed(&mut bench, "lamp-diode.csv", &short("lamp-diode.csv"), 1 << 16);
    let results = bench.results(Detail::Brief);
    assert!(results.fixture.is_none());
    let run = &results.runs[0];
    assert_eq!(run.answers.grade, "as_logged");
    assert!(!run.answers.map.efficiency.is_empty());
    assert!(run.answers.map.efficiency.iter().all(|cell| cell.u.is_none() && cell.u_systematic.is_none()));
}

#[test]
fn a_run_against_itself_differs_by_exactly_nothing() {
    let mut bench = Bench::new(Settings::default());
    for name in CALIBRATION {
        feed(&mut bench, name, &short(name), 1 << 16);
    }
    for name in ["one.csv", "other.csv"] {
        feed(&mut bench, name, &short("lamp-diode.csv"), 1 << 16);
    }
    let results = bench.results(Detail::Brief);
    let pairs = results.comparison.unwrap().pairs;
    assert_eq!(pairs.len(), 1);
    assert!(!pairs[0].difference.is_empty());
    for cell in &pairs[0].difference {
        assert_eq!(cell.value, 0.0);
        assert_eq!(cell.u_systematic, Some(0.0));
    }
    assert!(pairs[0].winner.iter().all(|winner| winner.value.is_none()));
}

#[test]
fn parts_of_one_run_are_joined_with_a_gap_between() {
    let inputs = vec![
        InputSettings { run: Some("both".to_owned()), ..InputSettings::default() },
        InputSettings { continues: true, ..InputSettings::default() },
    ];
    let settings = Settings { inputs, ..Settings::default() };
    let mut bench = Bench::new(settings);
    feed(&mut bench, "a.csv", &short("lamp-diode.csv"), 1 << 16);
    feed(&mut bench, "b.csv", &short("lamp-diode.csv"), 1 << 16);
    let results = bench.results(Detail::Brief);
    assert_eq!(results.runs.len(), 1);
    let run = &results.runs[0];
    assert_eq!(run.name, "both");
    assert_eq!(run.parts.len(), 2);
    assert_eq!(run.rows.read, run.parts[0].rows + run.parts[1].rows);
    assert_eq!(run.parts[1].first_row, run.parts[0].rows);
    let readings = bench.readings(0).unwrap();
    assert!(
        readings.time.windows(2).all(|pair| pair[1] >= pair[0] || pair.iter().any(|t| t.is_nan())),
        "time falls where the parts meet"
    );
}

#[test]
fn a_picture_is_refused_and_the_rest_stays() {
    let mut bench = bench(1 << 16);
    let before = bench.results(Detail::Full);
    feed(&mut bench, "photo.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01", 5);
    let after = bench.results(Detail::Full);
    assert_eq!(after.inputs.last().unwrap().outcome, "refused");
    assert!(after.inputs.last().unwrap().refusal.as_deref().unwrap().contains("picture"));
    assert_eq!(serde_json::to_string(&after.runs).unwrap(), serde_json::to_string(&before.runs).unwrap());
    bench.remove(6);
    assert_eq!(
        serde_json::to_string(&bench.results(Detail::Full)).unwrap(),
        serde_json::to_string(&before).unwrap()
    );
}

/// A quantity without a value says why.
fn explained(place: &str, value: &serde_json::Value) {
    match value {
        serde_json::Value::Object(map) => {
            let quantity = map.contains_key("u")
                && map.contains_key("value")
                && map.keys().all(|key| ["value", "u", "why"].contains(&key.as_str()));
            assert!(!quantity || !map["value"].is_null() || map.contains_key("why"), "{place}: {value}");
            for (key, value) in map.iter().filter(|(key, _)| *key != "settings") {
                explained(&format!("{place}/{key}"), value);
            }
        }
        serde_json::Value::Array(list) => {
            for (k, value) in list.iter().enumerate() {
                explained(&format!("{place}/{k}"), value);
            }
        }
        _ => {}
    }
}

#[test]
fn a_log_without_time_claims_no_duration() {
    let log = b"v_in_V,i_in_A,v_out_V,i_out_A\n12,0.5,5,1\n12,0.6,5,1.2\n12,0.61,5,1.22\n";
    let mut denied = Settings::default();
    denied.sieve.settled_points = SettledPoints::No;
    let mut bench = Bench::new(denied);
    let input = bench.begin("no-time.csv", None);
    bench.push(input, log);
    bench.finish(input);
    let results = serde_json::to_value(bench.results(Detail::Full)).unwrap();
    assert_eq!(results["inputs"][0]["outcome"], "asks");
    let mut bench = Bench::new(Settings::default());
    let input = bench.begin("no-time.csv", None);
    bench.push(input, log);
    bench.finish(input);
    let results = serde_json::to_value(bench.results(Detail::Full)).unwrap();
    let input = &results["inputs"][0];
    assert_eq!(input["outcome"], "read", "few rows are a table");
    assert_eq!(results.pointer("/runs/0/energy/p_in"), Some(&serde_json::Value::Null));
    assert_eq!(results.pointer("/runs/0/settled_points/points/2/time"), Some(&serde_json::Value::Null));
    for place in ["/duration", "/row_period", "/segments/0/duration"] {
        assert_eq!(input.pointer(place), Some(&serde_json::Value::Null), "{place}");
    }
    assert!((input["sums"]["i_in"].as_f64().unwrap() - 1.71).abs() < 1e-12);
}

#[test]
fn every_key_of_the_format_is_there() {
    let mut bench = bench(1 << 16);
    let results = serde_json::to_value(bench.results(Detail::Full)).unwrap();
    let has = |path: &str| results.pointer(path).is_some();
    for path in [
        "/schema",
        "/colour_from",
        "/runs/0/rows/operating",
        "/runs/0/rows/stages/4/left",
        "/tool/version",
        "/settings/sieve/least_rows",
        "/inputs/0/sha256",
        "/inputs/0/sums/v_out_low",
        "/inputs/0/role",
        "/inputs/0/outcome",
        "/inputs/0/asks",
        "/inputs/0/rows_found",
        "/inputs/0/rows_usable",
        "/inputs/0/duration",
        "/inputs/0/row_period",
        "/inputs/0/understood/decimal_mark",
        "/inputs/0/problems",
        "/inputs/4/segments/0/why",
        "/inputs/4/understood/columns/0/scale",
        "/inputs/4/understood/time/wraps",
        "/fixture/basis",
        "/fixture/wiring/input_shunt/inside",
        "/fixture/sums/path/u",
        "/fixture/sums/load_side",
        "/fixture/correction_in/value",
        "/fixture/contacts/in_high",
        "/fixture/split/width",
        "/fixture/current_gain_ratio/u",
        "/fixture/voltage_gain_ratio/u",
        "/fixture/channels/v_in/gain_from",
        "/fixture/calibration_resistors/0/track/0/before",
        "/fixture/channels/i_in/leak/value",
        "/fixture/channels/i_out/delay/u",
        "/fixture/calibration_resistors/0/largest_drift/value",
        "/fixture/calibration_resistors/0/heating_warning",
        "/fixture/calibration_resistors/0/time_constant/low",
        "/fixture/known/alone",
        "/fixture/known/by_assumption",
        "/fixture/parameters/14",
        "/fixture/known/in_sums",
        "/fixture/null_space",
        "/fixture/refused",
        "/fixture/condition_number",
        "/fixture/covariance/14/14",
        "/fixture/chi2_reduced",
        "/fixture/down_weighted",
        "/fixture/acceptance/0/efficiency/u",
        "/fixture/residual_shape",
        "/runs/0/parts/0/rows",
        "/runs/0/rows/removed_share",
        "/runs/0/alignment/delays/i_out/value",
        "/runs/0/alignment/from",
        "/runs/0/alignment/gap_after",
        "/runs/0/sieve/share_out/0/1",
        "/runs/0/grade",
        "/runs/0/settled_points/recognised",
        "/runs/0/source/timescale",
        "/runs/0/loss_model/steps",
        "/runs/0/temperature",
        "/runs/0/light",
        "/runs/0/alignment/gap_before",
        "/runs/0/sieve/cell_width/v_in",
        "/runs/0/sieve/plateau",
        "/runs/0/map/efficiency/0/n_effective",
        "/runs/0/map/loss/0/visits",
        "/runs/0/map/blank",
        "/runs/0/at",
        "/runs/0/peak/i_from",
        "/runs/0/quiescent/by_v_in",
        "/runs/0/off/rows",
        "/runs/0/cut_off/times",
        "/runs/0/source/current_limit",
        "/runs/1/levels/count",
        "/runs/0/loss_model/chi2_reduced",
        "/runs/0/energy/map_closure",
        "/runs/0/findings/0/confidence",
        "/comparison/pairs/0/common_share/1",
        "/comparison/pairs/0/verdict/class",
        "/comparison/pairs/0/verdict/bound",
        "/comparison/pairs/0/difference",
        "/comparison/pairs/0/difference_at",
        "/comparison/pairs/0/winner",
        "/comparison/pairs/0/winner_at",
        "/comparison/pairs/0/crossovers",
        "/comparison/pairs/0/unlike",
        "/duty",
        "/weighted",
    ] {
        assert!(has(path), "{path} is missing");
    }
    for channel in ["v_in", "i_in", "i_out"] {
        let step = &results["fixture"]["channels"][channel]["step"];
        assert!(step.as_f64().is_some_and(|step| step > 0.0), "{channel}: {step}");
    }
    explained("", &results);
    let text = serde_json::to_string(&results).unwrap();
    assert!(!text.contains("NaN"));
}

#[test]
fn noise_is_no_supply_limit() {
    let mut random = Random::new(4, 0);
    let mut log = String::from("t_s,v_in_V,i_in_A,v_out_V,i_out_A\n");
    for row in 0..3000 {
        let [v_in, i_in, v_out, i_out] =
            [(8.0, 15.0), (0.0, 3.0), (1.0, 5.0), (0.0, 8.0)].map(|(low, high)| random.between(low, high));
        log.push_str(&format!("{:.2},{v_in:.4},{i_in:.4},{v_out:.4},{i_out:.4}\n", 0.02 * f64::from(row)));
    }
    let mut bench = Bench::new(Settings::default());
    feed(&mut bench, "noise.csv", log.as_bytes(), 1 << 16);
    let results = bench.results(Detail::Full);
    let run = &results.runs[0];
    assert_eq!(run.answers.source.current_limit.why, Some("not_reached"));
    assert!(
        !run.rows.by_reason.iter().any(|reason| reason.code == "supply_limit"),
        "{:?}",
        run.rows.by_reason
    );
}
