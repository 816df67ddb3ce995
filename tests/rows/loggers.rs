//! Two logs of one run from two loggers: clocks found, told unknown, and joined.

use wattsieve_core::align::clocks::{self, Clocks, From, Stated, Why};
use wattsieve_core::channel::{Channel, Readings};

use super::counting::Numbers;
use super::load;

/// What the run does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Motion {
    /// Current up and down, the supply sinking.
    Ramps,
    /// A new current every few seconds.
    Steps,
    /// Nothing but noise.
    Still,
    /// Two that have nothing to do with each other.
    Strangers,
}

/// A pair of loggers.
#[derive(Clone, Copy, Debug)]
struct Loggers {
    offset: f64,
    ratio: f64,
    periods: [f64; 2],
    seconds: f64,
    /// Both log the input voltage.
    common: bool,
}

/// Noise of standard deviation one.
fn white(numbers: &mut Numbers) -> f64 {
    (0..12).map(|_| numbers.unit()).sum::<f64>() - 6.0
}

/// Output current at an instant; the steps are drawn by `seed`.
fn current(motion: Motion, seed: u64, t: f64) -> f64 {
    match motion {
        Motion::Ramps => {
            let phase = (t / 7.3).rem_euclid(1.0);
            0.3 + 4.4 * (1.0 - (2.0 * phase - 1.0).abs()) * (0.8 + 0.2 * (t / 41.0).sin())
        }
        Motion::Steps | Motion::Strangers => {
            let step = (t / 2.9037).floor();
            let mut numbers =
                Numbers(seed.wrapping_mul(0x9e37_79b9) ^ ((step + 50.0) as u64).wrapping_mul(0x85eb_ca6b));
            for _ in 0..4 {
                let _ = numbers.unit();
            }
            2.2 + 1.9 * (2.0 * numbers.unit() - 1.0)
        }
        Motion::Still => 1.5,
    }
}

/// State at an instant: input voltage, input current, output voltage, output current.
fn state(motion: Motion, seed: u64, t: f64) -> [f64; 4] {
    let i_out = current(motion, seed, t);
    let v_out = 5.0 - 0.05 * i_out;
    let power = v_out * i_out + 0.2 + 0.08 * i_out + 0.015 * i_out * i_out;
    let source = if motion == Motion::Still { 13.0 } else { 13.1 - 0.002 * t };
    let mut i_in = power / source;
    for _ in 0..20 {
        i_in = power / (source - 0.12 * i_in);
    }
    [source - 0.12 * i_in, i_in, v_out, i_out]
}

fn logs(motion: Motion, loggers: Loggers, seed: u64) -> [Readings; 2] {
    let mut numbers = Numbers(seed * 77 + 5);
    let rows = (loggers.seconds / loggers.periods[0]) as usize;
    let time: Vec<f64> = (0..rows).map(|row| row as f64 * loggers.periods[0]).collect();
    let noise = [2e-3, 1e-3, 1e-3, 2e-3];
    let mut first: [Vec<f64>; 5] = std::array::from_fn(|_| Vec::new());
    for &t in &time {
        let x = state(motion, seed, t);
        first[0].push(x[0] + noise[0] * white(&mut numbers));
        first[3].push(x[1] + noise[1] * white(&mut numbers));
    }
    let rows = (loggers.seconds / loggers.periods[1]) as usize;
    let own: Vec<f64> = (0..rows).map(|row| row as f64 * loggers.periods[1]).collect();
    let mut other: [Vec<f64>; 5] = std::array::from_fn(|_| Vec::new());
    for &t in &own {
        let foreign = if motion == Motion::Strangers { 500 } else { 0 };
        let x = state(motion, seed + foreign, loggers.offset + loggers.ratio * t);
        if loggers.common {
            other[0].push(x[0] * 1.001 + 0.003 + noise[0] * white(&mut numbers));
        }
        other[1].push(x[2] + noise[2] * white(&mut numbers));
        other[4].push(x[3] + noise[3] * white(&mut numbers));
    }
    [load::readings(time, first), load::readings(own, other)]
}

const USUAL: Loggers =
    Loggers { offset: 3.2, ratio: 1.0 + 80e-6, periods: [0.02, 0.02], seconds: 120.0, common: false };

#[test]
fn offset_and_clock_ratio_of_two_loggers_are_found_within_their_uncertainty() {
    for (motion, common, periods, seconds) in [
        (Motion::Ramps, false, [0.02, 0.02], 120.0),
        (Motion::Ramps, true, [0.02, 0.031], 120.0),
        (Motion::Steps, false, [0.02, 0.0173], 120.0),
        (Motion::Steps, false, [0.02, 0.05], 300.0),
    ] {
        let (mut inside, mut ratios, mut largest) = (0, 0, [0.0_f64; 2]);
        let seeds = 20_usize;
        for seed in 0..seeds {
            let offset = 3.2 + 0.0137 * seed as f64 * if seed % 2 == 0 { 1.0 } else { -9.0 };
            let ratio = 1.0 + [80e-6, -45e-6, 2.1e-3, 0.0][seed % 4];
            let loggers = Loggers { offset, ratio, periods, seconds, common };
            let [first, other] = logs(motion, loggers, seed as u64 + 1);
            let found = clocks::find(&first, &other, &Stated::default());
            assert_eq!(
                found.from,
                if common { From::CommonChannel } else { From::SameChanges },
                "{motion:?} {seed}: {found:?}"
            );
            let off = [(found.offset - offset).abs(), (found.ratio - ratio).abs()];
            let u = [found.offset_u.unwrap(), found.ratio_u.unwrap()];
            inside += usize::from(off[0] <= 1.96 * u[0]);
            ratios += usize::from(off[1] <= 1.96 * u[1]);
            largest = [largest[0].max(off[0]), largest[1].max(off[1])];
            assert!(off[0] < periods[0].max(periods[1]), "{motion:?} {seed}: {found:?}");
            assert!(found.misfit_after.unwrap() < 0.2 * found.misfit_before.unwrap(), "{found:?}");
        }
        println!(
            "{motion:?} {common} {periods:?}: {inside} and {ratios} of {seeds} within, largest {largest:?}"
        );
        assert!(inside >= seeds - 3 && ratios >= seeds - 3, "{motion:?}: {inside}, {ratios} of {seeds}");
    }
}

#[test]
fn two_loggers_of_a_run_in_which_nothing_moves_cannot_be_told_and_do_no_harm() {
    let [first, other] = logs(Motion::Still, USUAL, 3);
    let found = clocks::find(&first, &other, &Stated::default());
    assert_eq!((found.from, found.why), (From::None, Some(Why::NothingMoves)));
    assert_eq!((found.offset_u, found.usable()), (None, true));
    let json = serde_json::to_value(clocks::LoggerResult::of(1, &[Channel::IOut], &found)).unwrap();
    assert_eq!(json["offset"]["value"], serde_json::Value::Null);
    assert_eq!(json["offset"]["why"], "nothing_moves");
}

#[test]
fn logs_that_do_not_belong_together_are_not_joined() {
    for seed in 0..6 {
        let [first, other] = logs(Motion::Strangers, USUAL, 10 + seed);
        let found = clocks::find(&first, &other, &Stated::default());
        assert_eq!((found.from, found.why), (From::None, Some(Why::NoCommonTime)), "{found:?}");
        assert!(!found.usable());
    }
}

#[test]
fn a_run_that_repeats_says_which_other_offsets_fit() {
    // Source: the generator's truth of the stored pair, 37.5 ms and 80 ppm; period 6 s.
    let read = |name: &str| load::columns(&format!("cases/two_loggers/{name}"));
    let Ok([t, v, i]) = <[Vec<f64>; 3]>::try_from(read("input.csv")) else { panic!("three columns") };
    let Ok([t2, v2, i2]) = <[Vec<f64>; 3]>::try_from(read("output.csv")) else { panic!("three columns") };
    let ms = |t: Vec<f64>| t.into_iter().map(|t| t / 1e3).collect::<Vec<_>>();
    let first = load::readings(ms(t), [v, vec![], vec![], i, vec![]]);
    let other = load::readings(ms(t2), [vec![], v2, vec![], vec![], i2]);
    let found = clocks::find(&first, &other, &Stated::default());
    println!("{found:?}");
    assert!((found.offset - 0.0375).abs() < 3e-4, "{found:?}");
    assert!((found.ratio - 1.0 - 80e-6).abs() < 2e-5, "{found:?}");
    assert_eq!(found.why, Some(Why::Repeats));
    assert!(
        found.others.iter().all(|other| (other.abs() - 6.0).abs() < 0.1 || (other.abs() - 12.0).abs() < 0.1)
    );
}

#[test]
fn a_joined_log_holds_both_loggers_channels_at_one_instant() {
    let [first, other] = logs(Motion::Ramps, USUAL, 4);
    let found = clocks::find(&first, &other, &Stated::default());
    let joined = clocks::merge(&first, &other, &found);
    assert_eq!(joined.rows(), first.rows());
    let (mut worst, mut compared) = (0.0_f64, 0);
    for row in 0..joined.rows() {
        let known = joined.column(Channel::IOut)[row];
        if (joined.time[row] - 3.2).abs() > 0.01 {
            assert_eq!(known.is_finite(), joined.time[row] > 3.2, "row {row}");
        }
        // Turning points are cut by a straight line.
        if known.is_finite() {
            worst = worst.max((known - current(Motion::Ramps, 4, joined.time[row])).abs());
            compared += 1;
        }
    }
    assert!(compared > 5000 && worst < 0.03, "{worst} A off over {compared} rows");
    // Started together they are 3.2 s apart.
    let apart = clocks::merge(&first, &other, &Clocks::together());
    assert!((apart.column(Channel::IOut)[500] - current(Motion::Ramps, 4, 10.0)).abs() > 0.3);
}

#[test]
fn rows_of_the_slower_logger_are_kept_and_none_is_invented() {
    let loggers = Loggers { periods: [0.01, 0.1], ..USUAL };
    let [first, other] = logs(Motion::Ramps, loggers, 5);
    let stated = Stated { offset: Some(3.2), ratio: Some(1.0 + 80e-6), ..Stated::default() };
    let found = clocks::find(&first, &other, &stated);
    assert_eq!(found.from, From::Stated);
    let joined = clocks::merge(&first, &other, &found);
    assert_eq!(joined.rows(), other.rows());
    assert!((joined.time[0] - 3.2).abs() < 1e-9);
    let row = 400;
    let truth = state(Motion::Ramps, 5, joined.time[row]);
    assert!((joined.column(Channel::IIn)[row] - truth[1]).abs() < 0.01);
    assert!((joined.column(Channel::IOut)[row] - truth[3]).abs() < 0.01);
}
