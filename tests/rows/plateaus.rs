//! Settled points of stepped runs, and runs that must not be cut to pieces.

use wattsieve_core::align::Noise;
use wattsieve_core::bench::{Bench, Detail, Results, RunSettings, Settings};
use wattsieve_core::channel::Readings;
use wattsieve_core::plateau::{self, Use};
use wattsieve_core::sieve::{Settled, SettledPoints};

use super::counting::Numbers;
use super::load;

/// Noise of standard deviation one.
fn white(numbers: &mut Numbers) -> f64 {
    (0..12).map(|_| numbers.unit()).sum::<f64>() - 6.0
}

const NOISE: [f64; 5] = [1.5e-3, 1e-3, 0.4e-3, 1e-3, 1.5e-3];
const ROW: f64 = 0.02;

/// True readings of a converter that settles exponentially.
fn state(v_in: f64, i_out: f64) -> [f64; 5] {
    let v_out = 5.0 - 0.04 * i_out;
    let p_in = v_out * i_out + 0.25 + 0.08 * i_out + 0.015 * i_out * i_out;
    [v_in, v_out + 0.01 * i_out, 0.01 * i_out, p_in / v_in, i_out]
}

/// Twelve voltages times fifteen currents, three seconds each, of which the first 0.4 s settle.
fn stepped(seed: u64, correlated: bool) -> (Readings, Vec<[f64; 5]>) {
    let mut numbers = Numbers(seed);
    let mut truth = Vec::new();
    for v in 0..12 {
        for i in 0..15 {
            let current = 0.1 * libm::pow(45.0, f64::from(i) / 14.0);
            truth.push(state(10.5 + 0.3 * f64::from(v), current));
        }
    }
    let mut columns: [Vec<f64>; 5] = std::array::from_fn(|_| Vec::new());
    let mut held = [0.0; 5];
    let mut before = truth[0];
    for target in &truth {
        for row in 0..150 {
            let t = f64::from(row) * ROW;
            let left = if t < 0.4 { libm::exp(-t / 0.08) } else { 0.0 };
            for k in 0..5 {
                let fresh = white(&mut numbers);
                held[k] = if correlated { 0.6 * held[k] + 0.8 * fresh } else { fresh };
                let spike = if numbers.unit() < 2e-4 { 0.5 } else { 0.0 };
                columns[k].push(target[k] + (before[k] - target[k]) * left + NOISE[k] * held[k] + spike);
            }
        }
        before = *target;
    }
    let time = (0..columns[0].len()).map(|row| row as f64 * ROW).collect();
    (load::readings(time, columns), truth)
}

fn find(readings: &Readings) -> plateau::Plateaus {
    plateau::find(readings, &Noise::of(readings), &plateau::Settings::default())
}

#[test]
fn a_stepped_run_gives_a_point_for_every_setting_within_its_interval() {
    for correlated in [false, true] {
        let (mut inside, mut all) = (0, 0);
        for seed in 1..4 {
            let (readings, truth) = stepped(seed, correlated);
            let found = find(&readings);
            println!(
                "{} points, settle {:.3} s, dwell {:.3} s, covered {:.3}, {:?}",
                found.list.len(),
                found.settle,
                found.dwell,
                found.covered,
                found.why_not
            );
            assert_eq!(found.list.len(), 180, "seed {seed}");
            assert!(found.why_not.is_none() && found.used(Use::Auto) && !found.used(Use::Off));
            assert!((0.1..=0.6).contains(&found.settle), "{}", found.settle);
            assert!((found.dwell - 3.0).abs() < 0.1);
            for (plateau, truth) in found.list.iter().zip(&truth) {
                for k in 0..5 {
                    all += 1;
                    inside += usize::from((plateau.mean[k] - truth[k]).abs() <= 1.96 * plateau.u[k]);
                    assert!(plateau.u[k] < 0.5 * NOISE[k], "{plateau:?}");
                    assert!((plateau.mean[k] - truth[k]).abs() <= 5.5 * plateau.u[k], "{plateau:?}");
                }
            }
        }
        let share = inside as f64 / all as f64;
        println!("correlated {correlated}: {share:.4} of {all} means within their intervals");
        assert!((0.92..=0.985).contains(&share), "{share}");
    }
}

#[test]
fn runs_that_move_or_pulse_are_not_cut_to_points() {
    let mut numbers = Numbers(9);
    let mut runs: Vec<(&str, Readings)> = Vec::new();
    let mut add = |name, current: &dyn Fn(f64) -> f64, volts: &dyn Fn(f64) -> f64| {
        let mut columns: [Vec<f64>; 5] = std::array::from_fn(|_| Vec::new());
        for row in 0..9000 {
            let t = f64::from(row) * ROW;
            for (k, value) in state(volts(t), current(t)).into_iter().enumerate() {
                columns[k].push(value + NOISE[k] * white(&mut numbers));
            }
        }
        let time = (0..9000).map(|row| f64::from(row) * ROW).collect();
        runs.push((name, load::readings(time, columns)));
    };
    let triangle = |t: f64, period: f64| 1.0 - (2.0 * (t / period).rem_euclid(1.0) - 1.0).abs();
    add("ramps", &|t| 0.1 + 4.0 * triangle(t, 20.0), &|_| 12.0);
    add("slow ramp", &|t| 0.1 + 4.0 * triangle(t, 180.0), &|_| 12.0);
    add("fast ramps", &|t| 0.1 + 4.0 * triangle(t, 2.0), &|_| 12.0);
    add("held", &|_| 2.0, &|_| 12.0);
    add("presets", &|t| [0.15, 0.6, 1.8][(t / 60.0) as usize % 3], &|t| 10.5 + 3.0 * triangle(t, 30.0));
    add("to and fro", &|t| if ((t / 0.7) as u32).is_multiple_of(2) { 0.3 } else { 1.5 }, &|_| 12.0);
    add("pulsed", &|t| if t.rem_euclid(0.9) < 0.3 { 1.8 } else { 0.01 }, &|_| 12.0);
    for (name, readings) in &runs {
        let found = find(readings);
        println!("{name}: {} points, covered {:.2}, {:?}", found.list.len(), found.covered, found.why_not);
        assert!(found.why_not.is_some() && !found.used(Use::Auto), "{name}");
    }
}

fn analysed(text: &str, settings: Settings) -> Results {
    let mut bench = Bench::new(settings);
    let input = bench.begin("steps.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    bench.results(Detail::Full)
}

fn text_of(readings: &Readings) -> String {
    let mut text = String::from("time (s),v_in (V),v_out_high (V),v_out_low (V),i_in (A),i_out (A)\n");
    for row in 0..readings.rows() {
        let x = |k: usize| readings.columns[k][row];
        text.push_str(&format!(
            "{:.3},{:.4},{:.4},{:.4},{:.4},{:.4}\n",
            readings.time[row],
            x(0),
            x(1),
            x(2),
            x(3),
            x(4)
        ));
    }
    text
}

#[test]
fn a_stepped_run_is_used_as_its_points_and_can_be_used_as_its_rows() {
    let (readings, truth) = stepped(7, false);
    let text = text_of(&readings);
    let mut settings = Settings::default();
    settings.fixture.input_correction = Some(wattsieve_core::fixture::Stated { value: 0.0, u: Some(1e-5) });
    settings.fixture.output_correction = Some(wattsieve_core::fixture::Stated { value: 0.0, u: Some(1e-5) });
    let results = analysed(&text, settings.clone());
    let run = &results.runs[0];
    assert!(run.settled_points.used && run.settled_points.stepped && run.settled_points.recognised);
    assert_eq!((run.settled_points.points.len(), run.rows.read, run.rows.kept), (180, 180, 180));
    assert_eq!(run.alignment.why, Some("settled_points"));
    let mut inside = 0;
    for (point, truth) in run.settled_points.points.iter().zip(&truth) {
        let efficiency = (truth[1] - truth[2]) * truth[4] / (truth[0] * truth[3]);
        let (value, u) = (point.value.unwrap(), point.u_random.unwrap());
        inside += usize::from((value - efficiency).abs() <= 1.96 * u);
        assert!((value - efficiency).abs() < 5.5 * u && point.n > 100, "{point:?}");
    }
    println!("{inside} of 180 efficiencies within their intervals");
    assert!(inside >= 162);
    // The same run by rows; the points stay there to look at.
    settings.runs.insert("steps".into(), RunSettings { plateaus: Some(Use::Off), ..RunSettings::default() });
    let by_rows = analysed(&text, settings);
    let run = &by_rows.runs[0];
    assert_eq!(
        (run.rows.read, run.settled_points.used, run.settled_points.points.len()),
        (27_000, false, 180)
    );
    assert!(run.settled_points.stepped);
}

/// 42 rows typed by hand, with the time at which each was read or without any.
fn by_hand(timed: bool) -> String {
    let mut text = String::from(if timed { "time (s)," } else { "" });
    text.push_str("v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for v in 0..6 {
        for i in 0..7 {
            let x = state(10.5 + 0.5 * f64::from(v), 0.1 * libm::pow(45.0, f64::from(i) / 6.0));
            if timed {
                text.push_str(&format!("{},", (v * 7 + i) * 20));
            }
            text.push_str(&format!("{:.3},{:.3},{:.4},{:.3}\n", x[0], x[1] - x[2], x[3], x[4]));
        }
    }
    text
}

#[test]
fn a_table_by_hand_gives_a_point_for_every_row_past_gates_and_sieve() {
    for (timed, why) in [(true, Settled::Slow), (false, Settled::Untimed)] {
        let results = analysed(&by_hand(timed), Settings::default());
        assert!(results.inputs[0].asks.is_empty());
        let run = &results.runs[0];
        assert!(run.settled_points.recognised && !run.settled_points.used);
        assert_eq!(run.settled_points.why, Some(why));
        assert_eq!((run.settled_points.points.len(), run.rows.kept, run.rows.removed_count), (42, 42, 0));
        assert!(
            run.settled_points.points.iter().all(|point| point.n == 1 && point.kept && point.u.is_none())
        );
        let said = run.answers.findings.iter().find(|said| said.code == "settled_points").unwrap();
        assert_eq!(said.numbers["points"].value, Some(42.0));
    }
}

/// A log that moves smoothly needs its time and asks for it, whatever its length; one that is said to be a table does not.
#[test]
fn a_log_that_needs_its_time_still_asks_for_it() {
    let log = |rows: u32| {
        let mut text = String::from("v_in (V),v_out (V),i_in (A),i_out (A)\n");
        for row in 0..rows {
            let x = state(12.0, 0.2 + 4.0 * f64::from(row) / f64::from(rows));
            text.push_str(&format!("{:.3},{:.3},{:.4},{:.4}\n", x[0], x[1] - x[2], x[3], x[4]));
        }
        text
    };
    for rows in [100, 400, 2000] {
        let results = analysed(&log(rows), Settings::default());
        assert_eq!(results.inputs[0].asks[0].code, "row_period_missing", "{rows}");
        assert!(results.runs.is_empty());
        let mut said = Settings::default();
        said.sieve.settled_points = SettledPoints::Yes;
        assert_eq!(analysed(&log(rows), said).runs[0].rows.kept, rows as usize);
    }
    let mut denied = Settings::default();
    denied.sieve.settled_points = SettledPoints::No;
    assert_eq!(analysed(&by_hand(false), denied).inputs[0].asks[0].code, "row_period_missing");
}
