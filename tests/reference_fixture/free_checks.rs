//! Checks that cost no run of their own: a linear regulator's currents and the low output node of ordinary runs.

use std::fmt::Write as _;

use wattsieve_core::bench::{Bench, Detail, InputSettings, Kind, Settings};
use wattsieve_core::fixture::{Checks, Stated};
use wattsieve_tests::sim::Random;

const SEEDS: u64 = 12;
const NOISE: [f64; 5] = [0.0012, 0.0012, 0.0004, 0.002, 0.003];
const STEP: [f64; 5] = [0.0005, 0.0005, 0.0002, 0.001, 0.001];
const GAIN: [f64; 5] = [1.0004, 0.9995, 1.0003, 1.0, 1.006];
const OFFSET: [f64; 5] = [0.002, -0.001, 0.0004, 0.003, -0.004];
const ROWS: usize = 3000;

/// The converter of the ordinary run.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Converter {
    /// 9.4 V from what is above it; needs 4 mA itself.
    Linear,
    /// 5 V.
    StepDown,
}

/// What changes between calibration and ordinary run, or in the latter.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Change {
    None,
    /// The output current channel's gain by this factor.
    Gain(f64),
    /// Output minus contact: ohm more from a share of the run on.
    Contact(f64, f64),
    /// Output minus contact: so many ohm less at the start, and as many more at the end.
    Drift(f64),
}

fn triangle(turns: f64, share: f64) -> f64 {
    1.0 - (2.0 * turns * share % 2.0 - 1.0).abs()
}

fn log(rows: usize, change: Change, random: &mut Random, nodes: impl Fn(f64) -> [f64; 5]) -> String {
    let mut text = "t [s],V_in [V],V_out+ [V],V_out- [V],I_in [A],I_out [A]\n".to_owned();
    for row in 0..rows {
        write!(text, "{:.3}", 0.02 * row as f64).unwrap();
        for (k, x) in nodes(row as f64 / rows as f64).into_iter().enumerate() {
            let more = if let (4, Change::Gain(factor)) = (k, change) { factor } else { 1.0 };
            let reading = GAIN[k] * more * x + OFFSET[k] + NOISE[k] * random.normal();
            write!(text, ",{:.4}", (reading / STEP[k]).round() * STEP[k]).unwrap();
        }
        text.push('\n');
    }
    text
}

/// Checks of one ordinary run on a calibrated bench.
fn checks(seed: u64, converter: Converter, change: Change) -> Checks {
    let random = &mut Random::new(7000 + seed, 0);
    let [pa, ag, bq, nb]: [f64; 4] = std::array::from_fn(|_| random.between(0.015, 0.035));
    let jumper = 0.0008;
    let through = |load: f64, top: f64| {
        move |share: f64| {
            let v = triangle(2.0, share) * top;
            let i = v / (pa + jumper + bq + load + nb + jumper + ag);
            [v, v - i * (pa + jumper + bq), i * (nb + jumper + ag), i, i]
        }
    };
    let short = |share: f64| 5.0 * triangle(2.0, share);
    let service = |share: f64| {
        let p = 11.5 + 2.5 * triangle(1.0, share);
        let i_out = if converter == Converter::Linear {
            0.1 + 1.7 * triangle(9.0, share)
        } else {
            0.4 + 3.6 * triangle(9.0, share)
        };
        let nb = nb
            + match change {
                Change::Contact(more, from) if share >= from => more,
                Change::Drift(size) => size * (2.0 * share - 1.0),
                _ => 0.0,
            };
        let v_out = if converter == Converter::Linear { 9.4 } else { 5.0 };
        let mut i_in = i_out + 0.004;
        if converter == Converter::StepDown {
            let power = v_out * i_out + 0.22 + 0.085 * i_out + 0.014 * i_out * i_out;
            for _ in 0..20 {
                i_in = power / (p - i_in * (pa + ag));
            }
        }
        let low = i_out * nb + i_in * ag;
        [p, low + v_out - i_out * (bq + nb), low, i_in, i_out]
    };
    let none = Change::None;
    let logs = [
        (Kind::AllOff, log(150, none, random, |_| [0.0; 5])),
        (
            Kind::OpenSweep,
            log(300, none, random, |s| [15.0 * triangle(2.0, s), 15.0 * triangle(2.0, s), 0.0, 0.0, 0.0]),
        ),
        (Kind::StraightThrough, log(800, none, random, through(0.68, 4.5))),
        (Kind::StraightThrough, log(800, none, random, through(2.2, 10.0))),
        (
            Kind::InputShorted,
            log(300, none, random, |s| [short(s) * (pa + ag + jumper), 0.0, 0.0, short(s), 0.0]),
        ),
        (
            Kind::OutputShorted,
            log(300, none, random, |s| [0.0, -short(s) * (bq + nb + jumper), 0.0, 0.0, short(s)]),
        ),
        (Kind::Run, log(ROWS, change, random, service)),
    ];
    let mut settings = Settings::default();
    settings.fixture.jumper = Stated { value: jumper, u: Some(0.0002) };
    for (kind, _) in &logs {
        settings.inputs.push(InputSettings { kind: Some(*kind), ..InputSettings::default() });
    }
    let mut bench = Bench::new(settings);
    for (place, (_, text)) in logs.iter().enumerate() {
        let input = bench.begin(&format!("{place}.csv"), None);
        bench.push(input, text.as_bytes());
        bench.finish(input);
    }
    bench.complete();
    bench.results(Detail::Full).fixture.unwrap().checks
}

/// A linear regulator hands its output current on and needs some itself: whatever the voltages, I_in >= I_out. The
/// gain ratio of the calibration's straight-through runs obeys it; 1.5 % more on the output current's channel does not.
///
/// **Source** the conservation of current; what a regulator needs itself is the ground pin current of its data sheet.
#[test]
fn a_linear_regulator_bounds_the_current_ratio() {
    for seed in 0..SEEDS {
        let sound = &checks(seed, Converter::Linear, Change::None).linear_regulator[0];
        assert_eq!(sound.verdict, "agrees", "{seed}: {sound:?}");
        let (ratio, u) = (sound.current_ratio.value.unwrap(), sound.current_ratio.u.unwrap());
        assert!((ratio - 1.0).abs() < 4.0 * u && u < 0.003, "{seed}: {sound:?}");
        let need = (sound.own_current.value.unwrap(), sound.own_current.u.unwrap());
        assert!((need.0 - 0.004).abs() < 4.0 * need.1, "{seed}: {sound:?}");
        let wrong = &checks(seed, Converter::Linear, Change::Gain(1.015)).linear_regulator[0];
        assert_eq!(wrong.verdict, "breaks_the_bound", "{seed}: {wrong:?}");
        assert!((wrong.current_ratio.value.unwrap() - 1.015).abs() < 0.004, "{seed}: {wrong:?}");
        assert!(wrong.words.contains("is off by about 1."), "{}", wrong.words);
    }
    // A step-down converter obeys no such bound and is not asked.
    assert!(checks(0, Converter::StepDown, Change::None).linear_regulator.is_empty());
}

#[test]
fn contacts_that_stay_are_steady() {
    for seed in 0..SEEDS {
        for converter in [Converter::StepDown, Converter::Linear] {
            let watch = &checks(seed, converter, Change::None).contacts[0];
            assert_eq!(watch.verdict, "steady", "{seed} {converter:?}: {watch:?}");
            assert_eq!(watch.step_row, None);
        }
    }
}

#[test]
fn contacts_that_move_are_told() {
    for seed in 0..SEEDS {
        // Opened and closed again between calibration and run.
        let moved = &checks(seed, Converter::StepDown, Change::Contact(0.006, 0.0)).contacts[0];
        assert_eq!(moved.verdict, "moved", "{seed}: {moved:?}");
        // Touched at one moment of the run, at a place that differs from seed to seed.
        let from = 0.25 + 0.5 * seed as f64 / SEEDS as f64;
        let stepped = &checks(seed, Converter::StepDown, Change::Contact(0.006, from)).contacts[0];
        assert_eq!(stepped.verdict, "stepped", "{seed}: {stepped:?}");
        let row = stepped.step_row.unwrap() as f64;
        assert!((row - from * ROWS as f64).abs() < ROWS as f64 / 20.0, "{seed}: {row} {from}");
        // Warmed or worked loose in the course of it; its mean is as calibrated.
        let drifts = &checks(seed, Converter::StepDown, Change::Drift(0.004)).contacts[0];
        assert_eq!(drifts.verdict, "drifts", "{seed}: {drifts:?}");
        let change = drifts.out_low_drift.value.unwrap();
        assert!((change - 0.0053).abs() < 0.0015, "{seed}: {change}");
    }
}
