//! Delays and interpolation.

use wattsieve_core::align::{self, Aligned, Delays, Mode, Noise, Settings, Source, Steps};
use wattsieve_core::channel::{CHANNELS, Channel, Readings};

use super::counting::Numbers;
use super::load;

fn steps(readings: &Readings) -> Steps {
    Steps::find(readings, &Noise::of(readings), 8.0)
}

/// Source: the simulation's truth, 3.480 ms and 0.9965; a least-squares fit elsewhere found 3.478 ms and 0.99653.
#[test]
fn finds_the_delay_between_two_current_channels() {
    let columns = load::columns("cases/align_through/rows.csv");
    let [time, i_in, i_out]: [Vec<f64>; 3] = columns.try_into().unwrap();
    let readings = load::readings(time, [vec![], vec![], vec![], i_in, i_out]);
    let through = align::through_delays(&readings, &steps(&readings));
    let at = Channel::IOut.index();
    println!("delay {} u {:?} gain {:?}", through.seconds[at], through.u[at], through.gain[at]);
    assert!((through.seconds[at] - 3.478e-3).abs() < 0.03e-3);
    assert!((through.gain[at].unwrap() - 0.99653).abs() < 5e-5);
    let u = through.u[at].unwrap();
    assert!((through.seconds[at] - 3.480e-3).abs() < 3.0 * u && u < 20e-6);
    assert!(through.useful());
}

/// Source: the simulation's truth, 1.160 ms; a scan of the same gap elsewhere found 1.166 ms.
#[test]
fn finds_the_spacing_of_channels_from_the_gap_of_up_and_down() {
    let case = load::case("align_run");
    let steps = steps(&case.readings);
    assert!(steps.is_empty(), "a ramp has no steps, found {}", steps.len());
    let found = align::up_down_delay(&case.readings, &steps, &load::ORDER).unwrap();
    println!("spacing {} u {}", found.spacing, found.spacing_u);
    assert!((found.spacing - 1.166e-3).abs() < 0.05e-3);
    assert!((found.spacing - 1.160e-3).abs() < 3.0 * found.spacing_u);
    let delays = align::estimate(&case.readings, &steps, None, &load::ORDER, &Settings::default());
    assert_eq!(delays.from, Source::UpDown);
    let summary = align::Summary::of(&case.readings, &steps, &delays);
    println!("gap {:?} -> {:?}", summary.gap_before, summary.gap_after);
    // Source: the same scan, 1.825 points before.
    assert!((summary.gap_before.unwrap() - 0.018).abs() < 0.003);
    assert!(summary.gap_after.unwrap() < 0.1 * summary.gap_before.unwrap());
}

#[test]
fn cannot_tell_where_nothing_moves() {
    let time: Vec<f64> = (0..4000).map(|row| f64::from(row) * 0.02).collect();
    let mut numbers = Numbers(4);
    let mut flat = |value: f64| -> Vec<f64> { (0..4000).map(|_| value + 1e-3 * numbers.unit()).collect() };
    let readings = load::readings(time, [flat(12.0), flat(5.0), flat(0.1), flat(1.0), flat(2.0)]);
    let steps = steps(&readings);
    let through = align::through_delays(&readings, &steps);
    assert!(!through.useful());
    assert_eq!(through.u, [None; 5]);
    let delays = align::estimate(&readings, &steps, Some(&through), &load::ORDER, &Settings::default());
    assert_eq!((delays.from, delays.u), (Source::None, [None; 5]));
    let json = serde_json::to_value(align::Summary::of(&readings, &steps, &delays)).unwrap();
    assert_eq!(json["from"], "none");
    assert_eq!(json["delays"]["i_out"]["value"], serde_json::Value::Null);
}

/// The ratio of powers of a sweep: channels `spacing` apart, a triangle of output current.
mod sweep {
    pub(super) const SPACING: f64 = 1.16e-3;
    pub(super) const ROW: f64 = 6.0e-3;

    /// Output current at a time, A: 0.4 to 5.6 A and back.
    pub(super) fn current(time: f64, period: f64) -> f64 {
        let phase = (time / period).rem_euclid(1.0);
        0.4 + 5.2 * (1.0 - (2.0 * phase - 1.0).abs())
    }

    /// Readings in channel order at an output current: a 5 V converter behind source leads.
    pub(super) fn state(i_out: f64) -> [f64; 5] {
        let (leads, inside, outside) = (0.1205, 0.065, 0.0481);
        let power = 5.0 * i_out + 0.22 + 0.085 * i_out + 0.014 * i_out * i_out;
        let all: f64 = leads + inside;
        let i_in = (13.2 - (13.2_f64 * 13.2 - 4.0 * all * power).sqrt()) / (2.0 * all);
        let low = 0.0267 * i_out + 0.0218 * i_in;
        [13.2 - leads * i_in, 5.0 - outside * i_out + low, low, i_in, i_out]
    }

    pub(super) fn ratio(x: [f64; 5]) -> f64 {
        (x[1] - x[2]) * x[4] / (x[0] * x[3])
    }
}

/// Source: a simulation elsewhere of the same circuit; largest error of the ratio as logged and interpolated, as
/// fractions.
#[test]
fn interpolation_takes_the_error_of_skew_away() {
    let published = [(0.5, 0.108_73, 2.834e-5), (2.0, 0.026_63, 1.760e-6), (20.0, 2.677e-3, 1.775e-8)];
    for (period, raw, interpolated) in published {
        let rows = ((6.0 * period / sweep::ROW) as usize).min(40_000);
        let order = [0.0, 2.0, 3.0, 1.0, 4.0];
        let time: Vec<f64> = (0..rows).map(|row| row as f64 * sweep::ROW).collect();
        let columns = std::array::from_fn(|k| {
            let at = |time: &f64| sweep::state(sweep::current(time + order[k] * sweep::SPACING, period))[k];
            time.iter().map(at).collect()
        });
        let readings = load::readings(time, columns);
        let none = Steps::default();
        let delays = Delays {
            from: Source::Stated,
            seconds: order.map(|place| place * sweep::SPACING),
            u: [Some(0.0); 5],
        };
        let mut largest = [0.0_f64; 2];
        for (kind, delays) in [Delays::none(), delays.clone()].into_iter().enumerate() {
            let aligned = Aligned::new(&readings, &none, &delays);
            for row in 3..rows - 3 {
                let i_out = sweep::current(readings.time[row] + 2.0 * sweep::SPACING, period);
                if i_out > 0.6 && i_out < 5.3 {
                    let error = sweep::ratio(aligned.reading(row)) - sweep::ratio(sweep::state(i_out));
                    largest[kind] = largest[kind].max(error.abs());
                }
            }
        }
        println!("period {period}: {largest:?}");
        assert!((largest[0] / raw - 1.0).abs() < 0.01, "{period} s raw {}", largest[0]);
        assert!((largest[1] / interpolated - 1.0).abs() < 0.05, "{period} s interpolated {}", largest[1]);
    }
}

#[test]
fn without_delays_readings_stay_bit_for_bit() {
    let case = load::case("sieve_toggle");
    let steps = steps(&case.readings);
    for seconds in [[0.0; 5], [3.5e-3; 5]] {
        let delays = Delays { from: Source::Stated, seconds, u: [Some(0.0); 5] };
        let aligned = Aligned::new(&case.readings, &steps, &delays);
        assert!(aligned.is_identity());
        let mut out = vec![0.0; 1000];
        for channel in CHANNELS {
            aligned.fill(channel, 500..1500, &mut out);
            let logged = &case.readings.column(channel)[500..1500];
            assert!(out.iter().zip(logged).all(|(a, b)| a.to_bits() == b.to_bits()));
        }
    }
}

#[test]
fn blocks_and_single_rows_agree() {
    let case = load::case("sieve_toggle");
    let steps = steps(&case.readings);
    let delays =
        Delays { from: Source::Stated, seconds: [0.0, 16e-3, 24e-3, 8e-3, 32e-3], u: [Some(0.0); 5] };
    let aligned = Aligned::new(&case.readings, &steps, &delays);
    let mut out = vec![0.0; 700];
    for channel in CHANNELS {
        aligned.fill(channel, 123..823, &mut out);
        for (place, value) in out.iter().enumerate() {
            assert_eq!(value.to_bits(), aligned.value(channel, 123 + place).to_bits());
        }
    }
}

#[test]
fn never_interpolates_across_a_start_a_gap_or_a_step() {
    let mut time: Vec<f64> = (0..60).map(|row| f64::from(row) * 0.1).collect();
    time[20..].iter_mut().for_each(|time| *time += 5.0);
    let level = |row: usize| if row < 40 { 1.0 } else { 3.0 };
    let mut numbers = Numbers(2);
    let mut column = || -> Vec<f64> { (0..60).map(|row| level(row) + 1e-4 * numbers.unit()).collect() };
    let columns = [column(), column(), vec![], column(), column()];
    let readings = load::readings(time, columns);
    assert_eq!(readings.segments.len(), 2);
    let steps = steps(&readings);
    assert_eq!(steps.intervals().map(|entry| entry.0).collect::<Vec<_>>(), [39]);
    let settings = Settings {
        mode: Mode::Stated,
        seconds: [Some(0.0), None, None, None, Some(0.04)],
        ..Settings::default()
    };
    let aligned = Aligned::new(&readings, &steps, &Delays::stated(&settings));
    for (row, other) in [(19, 20), (20, 19), (39, 40), (40, 39), (0, 1), (59, 58)] {
        for channel in CHANNELS {
            let value = aligned.value(channel, row);
            let range = (level(row) - 1e-2)..(level(row) + 1e-2);
            assert!(
                channel == Channel::VOutLow || range.contains(&value),
                "row {row} against {other}: {value}"
            );
        }
        // Flat on the side that can be used: nothing to mend.
        assert!(!aligned.cannot(row, &[1e-3; 5], 0.0));
    }
}

#[test]
fn says_which_rows_cannot_be_mended() {
    let time: Vec<f64> = (0..100).map(|row| f64::from(row) * 0.02).collect();
    let ramp: Vec<f64> =
        (0..100).map(|row| f64::from(row) * 0.05 + if row < 50 { 0.0 } else { 4.0 }).collect();
    let flat = vec![5.0; 100];
    let readings = load::readings(time, [flat.clone(), flat, vec![], ramp.clone(), ramp]);
    let noise = [1e-3; 5];
    let steps = Steps::find(&readings, &Noise::given(noise, [0.0; 5]), 8.0);
    let delays = Delays { from: Source::Stated, seconds: [0.0, 0.0, 0.0, 0.0, 0.01], u: [Some(0.0); 5] };
    let aligned = Aligned::new(&readings, &steps, &delays);
    let cannot: Vec<usize> = (0..100).filter(|&row| aligned.cannot(row, &noise, 0.0)).collect();
    // The input current needs the next row, the output current the one before.
    assert_eq!(cannot, [0, 49, 50, 99]);
}
