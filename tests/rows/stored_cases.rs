//! Stored simulated runs with known wrong rows.

use wattsieve_core::align::{Aligned, Delays, Noise, Steps};
use wattsieve_core::channel::{CHANNELS, Readings};
use wattsieve_core::sieve::{
    self, Counts, Gates, Input, Kind, Mask, Picked, Reason, Settings, Settled, Vote,
};

use super::load;

/// Widths and noise that an independent count used, in channel order.
///
/// Source: the simulation of the case and a count of it elsewhere with an array library.
const CELL_RUN_WIDTHS: [f64; 5] = [
    0.095_213_600_000_177_05,
    0.186_771_458_297_004_48,
    0.008_344_058_285_500_252,
    0.108_551_992_136_509_93,
    0.225_077_841_822_021_42,
];
/// Standard deviations of the simulated noise, in channel order.
const NOISE: [f64; 5] = [0.0012, 0.0012, 0.0004, 0.002, 0.002];

pub(crate) fn counts(readings: &Readings, settings: &Settings) -> Counts {
    let steps = Steps::default();
    let aligned = Aligned::new(readings, &steps, &Delays::none());
    let picked = Picked::new(&aligned, settings);
    let kind = Kind { names: picked.names().to_vec(), resolution: picked.resolution() };
    sieve::count(&picked, kind, settings)
}

fn with_widths(widths: [f64; 5]) -> Settings {
    Settings {
        widths: CHANNELS.iter().map(|channel| channel.name().to_owned()).zip(widths).collect(),
        vote: Vote::Off,
        ..Settings::default()
    }
}

fn out(counts: &Counts, least_rows: u32) -> Vec<usize> {
    (0..counts.rows()).filter(|&row| counts.out(row, least_rows)).collect()
}

#[test]
fn the_exact_count_finds_wrong_rows_and_no_good_one() {
    let case = load::case("sieve_cell_run");
    let counts = counts(&case.readings, &with_widths(CELL_RUN_WIDTHS));
    // Source: the independent count: rows out and wrong rows among them for counts up to 1, 2, 3, 5.
    for (least_rows, all, wrong) in [(2, 42, 42), (3, 44, 44), (4, 46, 46), (6, 47, 46)] {
        let rows = out(&counts, least_rows);
        let hits = rows.iter().filter(|&&row| case.wrong[row]).count();
        assert_eq!((rows.len(), hits), (all, wrong), "least rows {least_rows}");
    }
    // The same count's curve, share out against the largest count that is out.
    let published = [0.0, 0.0035, 0.003_667, 0.003_833, 0.003_833, 0.003_917, 0.004_083, 0.00425, 0.007_083];
    let curve = sieve::share_out(&counts);
    for (most, share) in published.iter().enumerate() {
        assert!((curve[most + 1].1 - share).abs() < 1e-6, "{most}: {} against {share}", curve[most + 1].1);
    }
    assert_eq!(curve[0].1, 0.0);
    let (low, high) = sieve::plateau(&curve).unwrap();
    assert!(low <= 3 && high >= 8, "{low} to {high}");
}

#[test]
fn automatic_widths_are_those_of_the_independent_search() {
    let case = load::case("sieve_cell_run");
    let settings = Settings { vote: Vote::Off, ..Settings::default() };
    let counts = counts(&case.readings, &settings);
    println!("lambda {:?} widths {:?}", counts.lambda, counts.widths);
    for (found, expected) in counts.widths.iter().zip(CELL_RUN_WIDTHS) {
        assert!((found / expected - 1.0).abs() < 2e-3, "{found} against {expected}");
    }
    assert_eq!(out(&counts, 3).len(), 44);
}

#[test]
fn noise_is_told_from_second_differences() {
    let case = load::case("sieve_cell_run");
    let noise = Noise::of(&case.readings);
    for (found, truth) in noise.sigma.iter().zip(NOISE) {
        assert!((found / truth - 1.0).abs() < 0.06, "{found} against {truth}");
    }
}

/// Three presets of a driver; the top one falls out of regulation along a line that is crossed quickly.
#[test]
fn presets_survive_as_well_as_published_and_better_by_default() {
    let case = load::case("sieve_presets");
    let kept = |vote: Vote| -> [f64; 3] {
        let settings = Settings { vote, ..Settings::default() };
        let counts = counts(&case.readings, &settings);
        let out = out(&counts, 3);
        std::array::from_fn(|preset| {
            let here = out.iter().filter(|&&row| row / 1000 == preset).count();
            1.0 - here as f64 / 1000.0
        })
    };
    // Source: the independent count with and without its second vote.
    let (plain, saved, default) = (kept(Vote::Off), kept(Vote::Revisited), kept(Settings::default().vote));
    println!("{plain:?} {saved:?} {default:?}");
    for (found, expected) in plain.iter().zip([0.995, 0.995, 0.838]) {
        assert!((found - expected).abs() <= 0.005, "{plain:?}");
    }
    for (found, expected) in saved.iter().zip([0.995, 0.995, 0.998]) {
        assert!((found - expected).abs() <= 0.005 && *found >= 0.99, "{saved:?}");
    }
    assert!(default.iter().all(|kept| *kept >= 0.99), "{default:?}");
    let counts = counts(&case.readings, &Settings::default());
    let good_lost = out(&counts, 3).iter().filter(|&&row| !case.wrong[row]).count();
    assert!(good_lost <= 3, "{good_lost}");
}

pub(crate) fn gated(readings: &Readings, settings: &Settings, noise: &Noise, delays: &Delays) -> Vec<Mask> {
    let steps = Steps::find(readings, noise, settings.step_limit);
    let aligned = Aligned::new(readings, &steps, delays);
    let settled = sieve::settled(readings, noise, &steps, settings).recognised();
    let input = Input { aligned: &aligned, noise, delays, settled };
    sieve::gates(&input, settings)
}

/// 437 equal steps: the sieve is blind to the rows that straddle them, the step gate is not.
#[test]
fn repeated_steps_pass_the_sieve_and_not_the_step_gate() {
    let case = load::case("sieve_toggle");
    let straddling = case.wrong.iter().filter(|wrong| **wrong).count();
    assert_eq!(straddling, 288);
    for vote in [Vote::Off, Vote::Smooth] {
        let counts = counts(&case.readings, &Settings { vote, ..Settings::default() });
        assert_eq!(out(&counts, 3).iter().filter(|&&row| case.wrong[row]).count(), 0);
    }
    let noise = Noise::given(NOISE, [0.0; 5]);
    for (hold, cost) in [(0, 0..=3), (1, 864..=884)] {
        let settings = Settings { step_hold: hold, ..Settings::default() };
        let masks = gated(&case.readings, &settings, &noise, &Delays::none());
        let caught = |wrong: bool| {
            let step = |row: usize| masks[row] & Reason::Step.bit() != 0 && case.wrong[row] == wrong;
            (0..masks.len()).filter(|&row| step(row)).count()
        };
        println!("hold {hold}: {} of 288, {} good", caught(true), caught(false));
        assert_eq!(caught(true), 288);
        // Source: a step gate elsewhere with one row of hold-off on each side, 874 good rows.
        assert!(cost.contains(&caught(false)), "hold {hold} costs {}", caught(false));
    }
}

/// Spike gate alone and together with the sieve on the cell run.
///
/// Source: an independent Hampel filter with padded ends: 38 of 49 alone, 47 together, no good row. The gate finds lone
/// readings on the run's ramps besides, which that filter cannot see.
#[test]
fn the_spike_gate_adds_to_the_sieve() {
    let case = load::case("sieve_cell_run");
    let only = Gates { spike: true, ..no_gates() };
    let settings = Settings { gates: only, ..with_widths(CELL_RUN_WIDTHS) };
    let mut masks = gated(&case.readings, &settings, &Noise::of(&case.readings), &Delays::none());
    let removed = |masks: &[Mask]| {
        let rows = (0..masks.len()).filter(|&row| !Reason::kept(masks[row]));
        rows.fold((0, 0), |(all, wrong), row| (all + 1, wrong + usize::from(case.wrong[row])))
    };
    let noise = Noise::of(&case.readings);
    let mut hampel = vec![0; masks.len()];
    for channel in CHANNELS {
        let floor = noise.floor[channel.index()];
        for row in sieve::standing_out(case.readings.column(channel), 3, settings.spike_limit, floor) {
            hampel[row] |= Reason::Spike.bit();
        }
    }
    assert_eq!(removed(&hampel), (38, 38));
    assert!(masks.iter().zip(&hampel).all(|(gate, hampel)| gate & hampel == *hampel));
    // The one that is not wrong is a lone rush of input current while the output is off.
    assert_eq!(removed(&masks), (41, 40));
    counts(&case.readings, &settings).judge(3, &mut masks);
    assert_eq!(removed(&masks), (48, 47));
}

pub(crate) fn no_gates() -> Gates {
    Gates {
        over_range: false,
        time_jump: false,
        sign: false,
        step: false,
        unaligned: false,
        slew: false,
        settling: false,
        spike: false,
        rare: false,
        off: false,
        supply_limit: false,
    }
}

#[test]
fn a_fast_ramp_is_no_table_of_settled_points() {
    for name in ["sieve_cell_run", "align_run", "sieve_presets", "sieve_toggle"] {
        let readings = load::case(name).readings;
        let noise = Noise::of(&readings);
        let steps = Steps::find(&readings, &noise, 8.0);
        assert_eq!(sieve::settled(&readings, &noise, &steps, &Settings::default()), Settled::No, "{name}");
    }
}

#[test]
fn a_table_of_settled_points_is_recognised_and_kept_whole() {
    // 6 voltages by 7 currents, read by hand from a fast meter.
    let rows: Vec<[f64; 2]> = (0..42).map(|k| [10.0 + f64::from(k / 7), 0.5 + f64::from(k % 7)]).collect();
    for (period, why) in [(0.02, Settled::Restless), (12.0, Settled::Slow)] {
        let time = (0..42).map(|k| f64::from(k) * period).collect();
        let column = |value: fn(&[f64; 2]) -> f64| rows.iter().map(value).collect::<Vec<f64>>();
        let readings = load::readings(
            time,
            [
                column(|x| x[0]),
                column(|x| 5.0 - 0.01 * x[1]),
                vec![],
                column(|x| (5.0 * x[1] + 0.3) / x[0]),
                column(|x| x[1]),
            ],
        );
        let noise = Noise::of(&readings);
        let steps = Steps::find(&readings, &noise, 8.0);
        assert_eq!(sieve::settled(&readings, &noise, &steps, &Settings::default()), why);
        let masks = gated(&readings, &Settings::default(), &noise, &Delays::none());
        assert!(masks.iter().all(|&mask| Reason::operating(mask)));
    }
}
