//! Faults planted one at a time in simulated calibrations, many seeds each: what is left names its cause, and nothing
//! where there is none.

use crate::data::{Run, borrowed};
use wattsieve_core::fixture::{self, Report, RunKind, Settings};
use wattsieve_tests::sim::Random;

const SEEDS: u64 = 30;
const NOISE: [f64; 5] = [0.0012, 0.0012, 0.0004, 0.002, 0.003];
const STEP: [f64; 5] = [0.0005, 0.0005, 0.0002, 0.001, 0.001];

/// What is wrong with a calibration.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Fault {
    None,
    /// The output current channel reads 2 mA per volt, and the fit is told of no leak.
    Leak,
    /// The input voltage channel jumps by so many volts at a reading, the output current channel by amperes.
    Code(usize, f64, f64),
    /// The output plus path rises by this many ohm at this share of the first run under load.
    Contact(f64, f64),
    /// The input voltage ripples by this many volts, with this period in rows.
    Ripple(f64, f64),
    /// The input voltage channel wanders: each row keeps this much of the last one's error, V of each new part.
    Wander(f64, f64),
}

fn run(kind: RunKind, n: usize, random: &mut Random, fault: Fault, nodes: impl Fn(f64) -> [f64; 5]) -> Run {
    let mut columns: [Vec<f64>; 5] = Default::default();
    let mut wandering = 0.0;
    for i in 0..n {
        let level = 1.0 - (4.0 * i as f64 / n as f64 % 2.0 - 1.0).abs();
        let mut x = nodes(level);
        match fault {
            Fault::Leak => x[4] += 0.002 * x[1].max(0.0),
            Fault::Code(channel, at, jump) if x[channel] > at => x[channel] += jump,
            Fault::Contact(ohm, share)
                if kind == RunKind::StraightThrough && n == 800 && i as f64 > share * n as f64 =>
            {
                x[1] -= ohm * x[3];
            }
            Fault::Ripple(volts, period) if kind == RunKind::StraightThrough => {
                x[0] += volts * libm::sin(std::f64::consts::TAU * i as f64 / period);
            }
            Fault::Wander(kept, volts) if kind == RunKind::StraightThrough => {
                wandering = kept * wandering + volts * random.normal();
                x[0] += wandering;
            }
            _ => {}
        }
        for k in 0..5 {
            columns[k].push(((x[k] + NOISE[k] * random.normal()) / STEP[k]).round() * STEP[k]);
        }
    }
    Run { kind, time: (0..n).map(|i| 0.02 * i as f64).collect(), columns }
}

fn runs(seed: u64, fault: Fault) -> Vec<Run> {
    let random = &mut Random::new(4000 + seed, 0);
    let piece: [f64; 4] = std::array::from_fn(|_| random.between(0.015, 0.035));
    let [pa, ag, bq, nb] = piece;
    let jumper = 0.0008;
    let through = |load: f64, top: f64| {
        move |level: f64| {
            let v = level * top;
            let i = v / (pa + jumper + bq + load + nb + jumper + ag);
            [v, v - i * (pa + jumper + bq), i * (nb + jumper + ag), i, i]
        }
    };
    vec![
        run(RunKind::AllOff, 120, random, fault, |_| [0.0; 5]),
        run(RunKind::OpenSweep, 240, random, fault, |l| [15.0 * l, 15.0 * l, 0.0, 0.0, 0.0]),
        run(RunKind::StraightThrough, 800, random, fault, through(0.68, 4.5)),
        run(RunKind::StraightThrough, 600, random, fault, through(2.2, 10.0)),
        run(RunKind::InputShorted, 200, random, fault, |l| {
            [5.0 * l * (pa + ag + jumper), 0.0, 0.0, 5.0 * l, 0.0]
        }),
    ]
}

fn report(seed: u64, fault: Fault) -> Report {
    let leak = if fault == Fault::Leak { 0.0 } else { Settings::default().leak };
    fixture::fit(&borrowed(&runs(seed, fault)), &Settings { leak, ..Settings::default() }).unwrap().report
}

fn causes(report: &Report) -> Vec<&str> {
    report.residual_shape.iter().map(|shape| shape.cause.as_ref()).collect()
}

/// Seeds in which a cause is named.
fn named(cause: &str, fault: impl Fn(u64) -> Fault) -> u64 {
    let (mut count, mut wrong) = (0, Vec::new());
    for seed in 0..SEEDS {
        let report = report(seed, fault(seed));
        let causes = causes(&report);
        count += u64::from(causes.contains(&cause));
        // No other of the sudden causes instead.
        let others =
            ["code_steps", "contact", "not_white", "leak"].into_iter().filter(|other| *other != cause);
        wrong.extend(others.filter(|other| causes.contains(other)).map(|other| (seed, other)));
    }
    assert!(wrong.is_empty(), "{cause}: {wrong:?}");
    count
}

/// A place in the second run under load that differs from seed to seed.
fn share(seed: u64) -> f64 {
    0.2 + 0.6 * (seed as f64 / SEEDS as f64)
}

#[test]
fn a_sound_calibration_has_no_shape() {
    for seed in 0..SEEDS {
        let report = report(seed, Fault::None);
        assert!(report.residual_shape.is_empty(), "{seed}: {:?}", report.residual_shape);
        for cause in [
            "gain_ratio_or_resistance",
            "current_offset",
            "channel_not_straight",
            "delay_between_channels",
            "drift_or_warming",
            "code_steps",
            "contact",
            "not_white",
            "leak",
            "voltage_offset",
        ] {
            assert!(report.shapes_looked_for.iter().any(|looked| looked == cause), "{cause}");
        }
    }
}

#[test]
fn volts_that_a_current_channel_sees_are_named() {
    assert_eq!(named("leak", |_| Fault::Leak), SEEDS);
}

/// Jumps at codes of a converter, as of the two middle bits of a common microcontroller's, or at the change of a range.
#[test]
fn jumps_at_fixed_readings_are_named() {
    assert_eq!(named("code_steps", |seed| Fault::Code(0, 1.6 + 2.0 * share(seed), 0.012)), SEEDS);
    assert_eq!(named("code_steps", |seed| Fault::Code(4, 1.5 + 2.0 * share(seed), 0.025)), SEEDS);
}

#[test]
fn a_contact_that_moves_once_is_named() {
    assert_eq!(named("contact", |seed| Fault::Contact(0.004, share(seed))), SEEDS);
    assert_eq!(named("contact", |seed| Fault::Contact(-0.004, share(seed))), SEEDS);
    // It is sized as well.
    let report = report(0, Fault::Contact(0.004, 0.5));
    let contact = report.residual_shape.iter().find(|shape| shape.cause == "contact").unwrap();
    assert!(contact.evidence.contains("At 8.") && contact.evidence.contains("rises"), "{}", contact.evidence);
    let size: f64 =
        contact.evidence.split(" mΩ").next().unwrap().rsplit(' ').next().unwrap().parse().unwrap();
    assert!((size - 4.0).abs() < 0.8, "{}", contact.evidence);
}

#[test]
fn ripple_and_wandering_are_named() {
    assert_eq!(named("not_white", |seed| Fault::Ripple(0.004, 5.3 + 10.0 * share(seed))), SEEDS);
    assert_eq!(named("not_white", |_| Fault::Wander(0.9, 0.002)), SEEDS);
}

/// What cannot be told is not said to have been looked for.
#[test]
fn only_what_can_be_told_counts_as_looked_for() {
    let all = runs(0, Fault::None);
    let looked = |keep: &[usize]| -> Vec<String> {
        let list: Vec<_> = keep.iter().map(|k| all[*k].borrow(*k)).collect();
        let c = fixture::fit(&list, &Settings::default()).unwrap();
        c.report.shapes_looked_for.iter().map(ToString::to_string).collect()
    };
    assert!(looked(&[0, 4]).is_empty(), "no current goes through both channels");
    assert_eq!(looked(&[0, 1]), ["voltage_offset", "gain_ratio_or_resistance"], "no current to compare with");
    let without_sweep = looked(&[0, 2]);
    assert!(!without_sweep.iter().any(|cause| cause == "leak" || cause == "voltage_offset"));
    assert!(without_sweep.iter().any(|cause| cause == "contact"));
    // A run at one level cannot tell what follows current or its speed.
    let flat = run(RunKind::StraightThrough, 300, &mut Random::new(1, 1), Fault::None, |_| {
        [4.0, 3.8, 0.1, 4.0, 4.0]
    });
    let c = fixture::fit(&[all[0].borrow(0), flat.borrow(1)], &Settings::default()).unwrap();
    for cause in ["current_offset", "channel_not_straight", "delay_between_channels"] {
        assert!(!c.report.shapes_looked_for.iter().any(|looked| looked == cause), "{cause}");
    }
}
