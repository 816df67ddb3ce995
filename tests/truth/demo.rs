//! The demo's logs against the truth beside them, stage by stage.

use std::fs;
use std::sync::OnceLock;

use wattsieve_core::align::{self, Delays, Noise, Steps};
use wattsieve_core::channel::Readings;
use wattsieve_core::fixture::{Calibration, RunKind, Settings};
use wattsieve_core::quantity::Quantity;
use wattsieve_core::sieve::{self, Mask, Reason};
use wattsieve_tests::sim::{Bench, LogTruth, SEED, demo, record};

use crate::stages;

/// Half width of a 95 % interval in standard uncertainties.
const K95: f64 = 1.959_963_985;

/// The shipped logs, calibrated once for all tests.
struct Demo {
    bench: Bench,
    calibrations: Vec<(RunKind, Readings)>,
    runs: Vec<(Readings, LogTruth)>,
    delays: Delays,
    calibration: Calibration,
}

fn shipped() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let bench = demo(SEED);
        let (mut calibrations, mut runs) = (Vec::new(), Vec::new());
        for (stream, job) in bench.jobs.iter().enumerate() {
            let truth = record(&bench, job, stream as u64).truth;
            let path = format!("{}/../demo-data/{}", env!("CARGO_MANIFEST_DIR"), job.file);
            let readings = stages::read(&fs::read(path).unwrap());
            match stages::recognised(&readings) {
                Some(kind) => calibrations.push((kind, readings)),
                None => runs.push((readings, truth)),
            }
        }
        let delays = stages::delays(calibrations.iter());
        let calibration = stages::calibrate(&calibrations, &delays, &Settings::default());
        Demo { bench, calibrations, runs, delays, calibration }
    })
}

impl Demo {
    fn run(&self, file: &str) -> &(Readings, LogTruth) {
        self.runs.iter().find(|run| run.1.file == file).unwrap()
    }
}

/// Wrong rows out, wrong rows, good rows out, good rows.
fn score(masks: &[Mask], truth: &LogTruth) -> [usize; 4] {
    let wrong = truth.wrong();
    let mut score = [0; 4];
    for (row, &mask) in masks.iter().enumerate() {
        let at = if wrong.binary_search(&row).is_ok() { 0 } else { 2 };
        score[at + 1] += 1;
        score[at] += usize::from(!Reason::kept(mask));
    }
    score
}

fn check(what: &str, answer: &Quantity, truth: f64) {
    let (value, u) = (answer.value.unwrap(), answer.u.unwrap());
    println!("{what}: {value} +- {u}, truth {truth}, {:.2} u off", (value - truth) / u);
    assert!((value - truth).abs() <= K95 * u, "{what}: {value} +- {} against {truth}", K95 * u);
}

/// The resistor warms by 0.75 % along this run: a load that lags looks like a late channel.
#[test]
fn delays_from_a_warming_straight_through_run_are_true() {
    let demo = shipped();
    for (_, readings) in demo.calibrations.iter().filter(|run| run.0 == RunKind::StraightThrough) {
        let steps = Steps::find(readings, &Noise::of(readings), 8.0);
        let through = align::through_delays(readings, &steps);
        let delay = demo.bench.meter.delay;
        for k in [0, 1, 2, 4] {
            // A channel that says little of its delay says so.
            let Some(u) = through.u[k] else { continue };
            let off = through.seconds[k] - (delay[k] - delay[3]);
            assert!(off.abs() < 3.0 * u, "channel {k}: {off} s off with u {u} s");
        }
        assert!(through.u[4].unwrap() < 0.0003);
    }
}

#[test]
fn the_fixture_lies_within_the_stated_intervals() {
    let demo = shipped();
    let (sums, report) = (demo.bench.sums(), &demo.calibration.report);
    check("R_I", &report.correction_in, sums.correction_in);
    check("R_O", &report.correction_out, sums.correction_out);
    check("current gain ratio", &report.current_gain_ratio, sums.current_gain_ratio);
    check("voltage gain ratio", &report.voltage_gain_ratio, sums.voltage_gain_ratio);
    check("high side", &report.sums.high_side, sums.high_side);
    check("low side", &report.sums.low_side, sums.low_side);
}

#[test]
fn efficiency_lies_within_the_stated_intervals_at_ten_points_of_every_run() {
    let demo = shipped();
    for (readings, truth) in &demo.runs {
        assert_eq!(truth.points.len(), 10);
        let points: Vec<[f64; 2]> = truth.points.iter().map(|p| [p.v_in, p.i_out]).collect();
        let sieved = stages::sieved(readings, &demo.delays);
        let answers = stages::answers(&sieved.corrected(&demo.calibration), &points);
        for (answer, truth_at) in answers.iter().zip(&truth.points) {
            let what = format!("{} at {} V {} A", truth.file, truth_at.v_in, truth_at.i_out);
            let answer = Quantity { value: answer.value, u: answer.u, why: answer.why };
            check(&what, &answer, truth_at.efficiency);
        }
    }
}

#[test]
fn wrong_rows_of_the_demo_go_and_good_ones_stay() {
    let demo = shipped();
    let mut all = [0; 4];
    for (readings, truth) in &demo.runs {
        let score = score(&stages::sieved(readings, &demo.delays).masks, truth);
        let [wrong_out, wrong, good_out, good] = score;
        println!("{}: {score:?}", truth.file);
        assert!(wrong_out * 100 >= 95 * wrong, "{}: {score:?}", truth.file);
        assert!(good_out * 200 <= good, "{}: {score:?}", truth.file);
        all = [0, 1, 2, 3].map(|at| all[at] + score[at]);
    }
    assert!(all[1] > 100, "{all:?}");
}

/// Rows that straddle the same step again and again are popular: the sieve alone keeps them, the
/// step gate does not.
#[test]
fn rows_that_straddle_a_repeated_step_go() {
    let demo = shipped();
    let (readings, truth) = demo.run("lamp-synchronous.csv");
    let straddled = &truth.corrupted[0].rows;
    assert!(straddled.len() > 30);
    let masks = stages::sieved(readings, &demo.delays).masks;
    let kept = straddled.iter().filter(|row| Reason::kept(masks[**row])).count();
    assert_eq!(kept, 0);
}

#[test]
fn no_preset_of_the_diode_driver_is_lost() {
    let demo = shipped();
    let (readings, _) = demo.run("lamp-diode.csv");
    let masks = stages::sieved(readings, &demo.delays).masks;
    // 80 s at each preset; the restart moves later rows by some.
    for preset in 0..3 {
        let rows = preset * 4000 + 50..(preset + 1) * 4000 - 150;
        let kept = masks[rows.clone()].iter().filter(|mask| Reason::operating(**mask)).count();
        assert!(kept * 100 >= 99 * rows.len(), "preset {preset}: {kept} of {}", rows.len());
    }
}

/// A table written down by hand, one row every 15 s, is no log: nothing in it is rare or a step.
#[test]
fn settled_points_are_recognised_and_kept() {
    let demo = shipped();
    let (readings, _) = demo.run("lamp-synchronous-settled.csv");
    let settings = sieve::Settings::default();
    let noise = Noise::of(readings);
    let steps = Steps::find(readings, &noise, settings.step_limit);
    assert!(sieve::settled(readings, &noise, &steps, &settings).recognised());
    let masks = stages::sieved(readings, &demo.delays).masks;
    assert!(masks.iter().all(|mask| Reason::kept(*mask)));
}
