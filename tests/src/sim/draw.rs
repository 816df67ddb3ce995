//! Benches drawn at random: other fixtures, loggers, converters, units and names.
//!
//! What the analysis takes for granted unless told otherwise is really drawn from there: gains of
//! the voltage channels 1 +- 0.1 %, leaks 0 +- 0.5 mA/V, jumpers 0.8 +- 0.2 milliohm, and a stated
//! gain of the input current channel of 1 +- 0.2 %.

use super::bench::Bench;
use super::circuit::{Converter, Fixture, LightMode, Load, Loss, Meter, Resistor};
use super::faults::Faults;
use super::job::{Job, Wiring};
use super::program::{Program, Sweep};
use super::random::Random;
use super::text::{Column, Dialect, Field};

/// Standard uncertainty of the input current channel's gain that goes with a drawn bench.
pub const CURRENT_GAIN_U: f64 = 0.002;

/// Rows of a drawn run.
const RUN_ROWS: usize = 3000;
/// Rows of one way up and down of a drawn run.
const SWING_ROWS: f64 = 750.0;

/// What a drawn converter is asked to do.
struct Ratings {
    v_low: f64,
    v_high: f64,
    v_out: f64,
    i_out: f64,
    i_in: f64,
}

/// A bench drawn from a seed: a handful of calibration runs and one run of one converter, with two
/// points that the run visits.
#[must_use]
pub fn drawn(seed: u64) -> Bench {
    let mut random = Random::new(seed, u64::MAX);
    let ratings = ratings(&mut random);
    let fixture = fixture(&mut random, &ratings);
    let meter = meter(&mut random, &ratings);
    let load = load(&mut random, &ratings);
    let resistors = resistors(&mut random, &ratings);
    let converter = converter(&mut random, &ratings, &load);
    let jobs = jobs(&mut random, &ratings, &meter, &fixture, &resistors);
    let dialect = dialect(&mut random);
    let mut bench =
        Bench { seed, fixture, meter, resistors, load, converters: vec![converter], dialect, jobs };
    let visited = visited_points(&bench);
    if let Some(run) = bench.jobs.last_mut() {
        run.points = visited;
    }
    bench
}

fn ratings(random: &mut Random) -> Ratings {
    let up = random.unit() < 0.4;
    let v_high = if up { random.between(6.0, 14.0) } else { random.between(9.0, 28.0) };
    let v_low = v_high * random.between(0.72, 0.85);
    let v_out =
        if up { v_high * random.between(1.4, 2.6) } else { (v_low * random.between(0.2, 0.7)).max(2.5) };
    let i_out = random.between_log(1.0, 8.0).min(60.0 / v_out);
    Ratings { v_low, v_high, v_out, i_out, i_in: v_out * i_out / (0.9 * v_low) }
}

fn fixture(random: &mut Random, ratings: &Ratings) -> Fixture {
    let mut piece = || random.between_log(0.003, 0.030);
    let (in_high, in_low, out_high, out_low) = (piece(), piece(), piece(), piece());
    let (load_high, load_low) = (piece(), piece());
    let most = 0.08 * ratings.v_low / ratings.i_in;
    let leads = random.between(0.2, 1.0) * most.min(0.3);
    Fixture {
        source_high: 0.55 * leads,
        source_low: 0.45 * leads,
        in_high,
        in_low,
        out_high,
        out_low,
        load_high,
        load_low,
        jumper_high: 0.0008 + 0.0002 * random.normal(),
        jumper_low: 0.0008 + 0.0002 * random.normal(),
        input_shunt: 0.3 * in_high,
        output_shunt: 0.3 * out_high,
    }
}

fn meter(random: &mut Random, ratings: &Ratings) -> Meter {
    let row_period = [0.01, 0.02, 0.05][random.below(3)];
    let volts = ratings.v_high.max(ratings.v_out);
    let amps = ratings.i_out.max(ratings.i_in);
    let volt_noise = volts * random.between_log(1e-4, 5e-4);
    let low_noise = volt_noise * random.between(0.2, 1.0);
    let amp_noise = amps * random.between_log(3e-4, 1e-3);
    let noise = [volt_noise, volt_noise, low_noise, amp_noise, amp_noise];
    let coarse = random.between(0.1, 0.8);
    let step = noise.map(|x| decimal_step(coarse * x));
    let scan = if random.unit() < 0.2 { 0.0 } else { random.between(0.03, 0.19) * row_period };
    let order = shuffled(random, 5);
    let mut delay = [0.0; 5];
    for (place, channel) in order.into_iter().enumerate() {
        delay[channel] = place as f64 * scan;
    }
    let mut about = |spread: f64| spread * random.normal();
    Meter {
        row_period,
        gain: [
            1.0 + about(0.001),
            1.0 + about(0.001),
            1.0 + about(0.001),
            1.0 + about(CURRENT_GAIN_U),
            1.0 + about(0.005),
        ],
        offset: [
            about(1e-4 * volts),
            about(1e-4 * volts),
            about(5e-5 * volts),
            about(1e-3 * amps),
            about(1e-3 * amps),
        ],
        leak: [about(0.0005), about(0.0005)],
        noise,
        step,
        delay,
    }
}

/// The largest of 1, 2, 5 times a power of ten that is not above a value.
fn decimal_step(value: f64) -> f64 {
    let mut unit = 1.0;
    while unit > value {
        unit /= 10.0;
    }
    [5.0, 2.0].into_iter().map(|m| m * unit).find(|s| *s <= value).unwrap_or(unit)
}

fn load(random: &mut Random, ratings: &Ratings) -> Load {
    if random.unit() < 0.6 {
        let fixed = random.between(0.75, 0.92) * ratings.v_out;
        Load { fixed, slope: (ratings.v_out - fixed) / ratings.i_out }
    } else {
        Load { fixed: 0.0, slope: ratings.v_out / ratings.i_out }
    }
}

fn resistors(random: &mut Random, ratings: &Ratings) -> Vec<Resistor> {
    let first = random.between(0.6, 1.0) * (0.8 * ratings.v_high).min(6.0) / ratings.i_out;
    let second = first * random.between(2.5, 4.0);
    [first, second]
        .map(|cold| Resistor {
            cold,
            coefficient: random.between(50e-6, 200e-6),
            stages: vec![[random.between(0.3, 1.0), 3.0], [random.between(1.0, 3.0), 80.0]],
        })
        .to_vec()
}

fn converter(random: &mut Random, ratings: &Ratings, load: &Load) -> Converter {
    let (v, i) = (0.5 * (ratings.v_low + ratings.v_high), ratings.i_out);
    let full = random.between(0.04, 0.14) * load.volts(i) * i;
    let fixed = random.between(0.05, 0.25) * full;
    let linear = random.between(0.1, 0.5) * full;
    let square = full - fixed - linear;
    let (a, b) = (random.between(0.0, 0.6), random.between(0.0, 0.4));
    let mode = random.unit() < 0.3;
    Converter {
        name: "drawn".into(),
        loss: Loss {
            fixed: (1.0 - a) * fixed,
            per_volt: a * fixed / v,
            per_amp: (1.0 - b) * linear / i,
            per_amp_volt: b * linear / (i * v),
            per_amp2: square / (i * i),
            light_mode: mode.then_some(LightMode { ends_at: 0.12 * i, saves: 0.15 * fixed, band: 0.02 * i }),
        },
        presets: Vec::new(),
        cut_off: None,
        restart_above: 0.0,
        off_current: 0.002,
        sinks: 1.0,
    }
}

fn jobs(
    random: &mut Random,
    ratings: &Ratings,
    meter: &Meter,
    fixture: &Fixture,
    resistors: &[Resistor],
) -> Vec<Job> {
    let dt = meter.row_period;
    let name = |what: &str, n: usize| format!("{what}-{n}.csv");
    let mut jobs = vec![Job::new(&name("nothing-on", random.below(90)), Wiring::AllOff, 300)];
    let mut open = Job::new(&name("no-load", random.below(90)), Wiring::OpenSweep, 900);
    open.volts = Program::swing(0.0, ratings.v_high, 900.0 * dt, 1.0);
    jobs.push(open);
    for (which, resistor) in resistors.iter().enumerate() {
        let mut job = Job::new(
            &name(["bridged-a", "bridged-b"][which], random.below(90)),
            Wiring::StraightThrough(which),
            1500,
        );
        let path = fixture.source_leads()
            + fixture.high_side()
            + fixture.low_side()
            + fixture.load_leads()
            + resistor.cold;
        let most = (ratings.i_out.max(ratings.i_in) * path).min(ratings.v_high);
        job.volts = Program::swing(0.0, most, 750.0 * dt, 1.0);
        job.faults.spikes = 2;
        jobs.push(job);
    }
    let shorts = random.below(4);
    if shorts != 1 {
        let mut job = Job::new(&name("front-short", 1), Wiring::InputShorted, 900);
        job.amps = Program::swing(0.0, ratings.i_in.max(ratings.i_out), 900.0 * dt, 1.0);
        jobs.push(job);
    }
    if (1..3).contains(&shorts) {
        let mut job = Job::new(&name("back-short", 2), Wiring::OutputShorted, 900);
        job.amps = Program::swing(0.0, ratings.i_in.max(ratings.i_out), 900.0 * dt, 1.0);
        jobs.push(job);
    }
    let mut run = Job::new(&name("board", random.below(900)), Wiring::Converter(0), RUN_ROWS);
    let half = 0.5 * RUN_ROWS as f64 * dt;
    let (top, low) = (ratings.v_high, ratings.v_low * 1.08);
    run.volts = Program::default()
        .then(half, Sweep::Line { from: top, to: low })
        .then(half, Sweep::Line { from: low, to: top });
    run.amps = Program::swing(0.03 * ratings.i_out, ratings.i_out, SWING_ROWS * dt, 1.3);
    let restarts = if random.unit() < 0.2 { vec![500 + random.below(2000)] } else { Vec::new() };
    run.faults = Faults { spikes: 4, unreadable: 2, restarts };
    jobs.push(run);
    jobs
}

/// Two operating points that the run passes, at about a third and at most of the full current.
fn visited_points(bench: &Bench) -> Vec<[f64; 2]> {
    let Some(run) = bench.jobs.last() else { return Vec::new() };
    let dt = bench.meter.row_period;
    [1.32, 2.42]
        .map(|swing| {
            let time = swing * SWING_ROWS * dt;
            let asked = run.amps.value(time);
            let x = bench.operate(&bench.converters[0], run.volts.value(time), asked, None);
            [x.v_in, x.i_out]
        })
        .to_vec()
}

/// Header texts by style: time, V_P, V_Q, V_N, I_i, I_o; `#` stands for the unit.
const STYLES: [[&str; 6]; 4] = [
    ["time (#)", "V in (#)", "V out + (#)", "V out - (#)", "I in (#)", "I out (#)"],
    ["t [#]", "V_in [#]", "V_out+ [#]", "V_out- [#]", "I_in [#]", "I_out [#]"],
    ["t_#", "vin_#", "vout_high_#", "vout_low_#", "iin_#", "iout_#"],
    [
        "Time (#)",
        "Input voltage (#)",
        "Output high (#)",
        "Output low (#)",
        "Input current (#)",
        "Output current (#)",
    ],
];

fn dialect(random: &mut Random) -> Dialect {
    let style = STYLES[random.below(STYLES.len())];
    let mut columns: Vec<Column> = (0..6)
        .map(|place| {
            let small = random.unit() < 0.5;
            let (unit, small_unit) = match place {
                0 => ("s", "ms"),
                1..=3 => ("V", "mV"),
                _ => ("A", "mA"),
            };
            Column {
                field: if place == 0 { Field::Time } else { Field::Channel(place - 1) },
                name: style[place].replace('#', if small { small_unit } else { unit }),
                scale: if small { 1000.0 } else { 1.0 },
                decimals: if small { 2 } else { 5 },
            }
        })
        .collect();
    let order = shuffled(random, 6);
    columns = order.into_iter().map(|place| columns[place].clone()).collect();
    Dialect {
        separator: [',', ';', '\t'][random.below(3)],
        carriage_return: random.unit() < 0.5,
        byte_order_mark: random.unit() < 0.3,
        comments: if random.unit() < 0.5 { vec!["drawn bench".into()] } else { Vec::new() },
        columns,
    }
}

/// The numbers below `n` in random order.
fn shuffled(random: &mut Random, n: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..n).collect();
    for last in (1..n).rev() {
        order.swap(last, random.below(last + 1));
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn drawn_benches_stay_within_their_source_and_visit_their_points() {
        for seed in 0..200 {
            let bench = drawn(seed);
            let run = bench.jobs.last().unwrap();
            let end = run.rows as f64 * bench.meter.row_period;
            for k in 0..100 {
                let t = end * f64::from(k) / 100.0;
                let asked = run.amps.value(t);
                let x = bench.operate(&bench.converters[0], run.volts.value(t), asked, None);
                let in_power = x.v_in * x.i_in;
                let wanted = bench.input_power(&bench.converters[0], x.v_in, asked);
                assert!((in_power - wanted).abs() < 1e-9 * wanted, "seed {seed}");
                assert!(x.v_in > 0.6 * run.volts.value(t), "seed {seed}");
            }
            for point in &run.points {
                let eta = bench.efficiency(&bench.converters[0], point[0], point[1]);
                assert!(eta > 0.5 && eta < 0.99, "seed {seed}: {eta}");
            }
        }
    }
}
