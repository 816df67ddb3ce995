//! Three converters, three loggers, thirty runs of each: wrong rows are told from samples without noise.
//!
//! A row is wrong where the efficiency between its sense nodes, computed from its five samples before noise and rounding,
//! is off that of its common instant by more than 2 % and by more than four standard deviations of its noise. Slow
//! motion between the samples is not wrong: the delays are known and it is cured. What is left are rows across which
//! the load stepped, in bursts of equal steps too, and rows in which one reading jumped.

use wattsieve_core::align::{Delays, Settings as AlignSettings};
use wattsieve_core::channel::Readings;
use wattsieve_core::sieve::{Reason, Settings};
use wattsieve_tests::sim::Random;

use super::load;
use super::truth::masks;

const ROWS: usize = 2000;
const RUNS: u64 = 30;

/// Output voltage against current, and loss at an input voltage, V and W.
struct Converter {
    name: &'static str,
    volts: [f64; 2],
    amps: f64,
    out: fn(f64) -> f64,
    loss: fn(f64, f64) -> f64,
}

/// A step-down module, a step-up module and a lamp driver; invented.
const CONVERTERS: [Converter; 3] = [
    Converter {
        name: "step-down",
        volts: [10.0, 14.0],
        amps: 5.0,
        out: |i| 5.0 - 0.01 * i,
        loss: |v, i| 0.15 + 0.01 * v + 0.10 * i + 0.022 * i * i,
    },
    Converter {
        name: "step-up",
        volts: [5.0, 8.0],
        amps: 1.5,
        out: |i| 19.0 - 0.05 * i,
        loss: |v, i| 0.25 + (2.4 / v) * i + 0.9 * i * i,
    },
    Converter {
        name: "lamp driver",
        volts: [11.5, 13.5],
        amps: 0.9,
        out: |i| 8.4 + 1.3 * i,
        loss: |v, i| 0.06 + 0.004 * v + 0.25 * i + 0.12 * i * i,
    },
];

/// Row period, time between two channels of a row, order of the channels, noise and step as shares of the range.
struct Logger {
    name: &'static str,
    period: f64,
    scan: f64,
    order: [f64; 5],
    noise: f64,
    step: f64,
}

const LOGGERS: [Logger; 3] = [
    Logger {
        name: "quick",
        period: 0.01,
        scan: 0.0011,
        order: [0.0, 1.0, 2.0, 3.0, 4.0],
        noise: 3e-4,
        step: 1e-4,
    },
    Logger {
        name: "slow",
        period: 0.05,
        scan: 0.008,
        order: [3.0, 0.0, 1.0, 4.0, 2.0],
        noise: 2e-4,
        step: 5e-5,
    },
    Logger {
        name: "coarse",
        period: 0.02,
        scan: 0.002,
        order: [1.0, 3.0, 4.0, 0.0, 2.0],
        noise: 5e-4,
        step: 1e-3,
    },
];

/// What is asked of the converter in one run: a swing up and down, and a burst of equal steps within it.
struct Program {
    swing: f64,
    supply: f64,
    burst: [f64; 2],
    stay: f64,
    levels: [f64; 2],
}

impl Program {
    fn draw(random: &mut Random, seconds: f64, period: f64) -> Self {
        let start = random.between(0.2, 0.6) * seconds;
        Self {
            swing: random.between(0.16, 0.3) * seconds,
            supply: random.between(0.4, 1.1) * seconds,
            burst: [start, start + random.between(0.12, 0.25) * seconds],
            stay: random.between(12.0, 40.0) * period,
            levels: [random.between(0.1, 0.3), random.between(0.5, 0.95)],
        }
    }

    /// Which of the burst's stays a time lies in; steps stand between them.
    fn stay(&self, time: f64) -> i64 {
        if time < self.burst[0] {
            -1
        } else if time >= self.burst[1] {
            -2
        } else {
            ((time - self.burst[0]) / self.stay) as i64
        }
    }

    /// Share of the full current and of the range of supply voltage.
    fn at(&self, time: f64) -> [f64; 2] {
        let triangle = |period: f64| 1.0 - (2.0 * (time / period).fract() - 1.0).abs();
        let amps = match self.stay(time) {
            stay if stay >= 0 => self.levels[(stay % 2) as usize],
            _ => 0.04 + 0.96 * triangle(self.swing),
        };
        [amps, triangle(self.supply)]
    }
}

/// The five nodes of a converter behind leads of 60 and 40 milliohm; 25 milliohm from its minus to the low sense node.
fn nodes(converter: &Converter, program: &Program, time: f64) -> [f64; 5] {
    let [amps, volts] = program.at(time);
    let (i, v) =
        (amps * converter.amps, converter.volts[0] + volts * (converter.volts[1] - converter.volts[0]));
    let b = (converter.out)(i);
    let mut i_in = 0.0;
    let mut v_in = v;
    for _ in 0..30 {
        v_in = v - 0.06 * i_in;
        i_in = (b * i + (converter.loss)(v_in, i)) / v_in;
    }
    [v_in, b - 0.04 * i + 0.025 * i, 0.025 * i, i_in, i]
}

fn efficiency(x: [f64; 5]) -> f64 {
    (x[1] - x[2]) * x[4] / (x[0] * x[3])
}

/// Readings of one run, and which rows are wrong.
fn play(converter: &Converter, logger: &Logger, random: &mut Random) -> (Readings, Delays, Vec<bool>) {
    let program = Program::draw(random, ROWS as f64 * logger.period, logger.period);
    let delay = logger.order.map(|place| place * logger.scan);
    let instant = delay.iter().sum::<f64>() / 5.0;
    let range = [converter.volts[1], 20.0, 2.0, 2.0 * converter.amps, converter.amps];
    let noise = range.map(|range| logger.noise * range);
    let step = range.map(|range| logger.step * range);
    let spikes: Vec<usize> = (0..8).map(|_| 10 + random.below(ROWS - 20)).collect();
    let mut columns: [Vec<f64>; 5] = Default::default();
    let mut wrong = Vec::with_capacity(ROWS);
    for row in 0..ROWS {
        let time = row as f64 * logger.period;
        let common = nodes(converter, &program, time + instant);
        let mut sample: [f64; 5] = std::array::from_fn(|k| nodes(converter, &program, time + delay[k])[k]);
        let stepped = program.stay(time) != program.stay(time + 4.0 * logger.scan);
        let mut spoilt = stepped;
        if spikes.contains(&row) {
            let channel = random.below(5);
            sample[channel] *=
                if random.unit() < 0.5 { random.between(0.3, 0.9) } else { random.between(1.1, 2.0) };
            spoilt = true;
        }
        let truth = efficiency(common);
        let off = (efficiency(sample) / truth - 1.0).abs();
        let share = |k: usize, of: f64| noise[k] / of;
        let out = common[1] - common[2];
        let u = [share(0, common[0]), share(1, out), share(2, out), share(3, common[3]), share(4, common[4])];
        let u = u.iter().map(|u| u * u).sum::<f64>().sqrt();
        wrong.push(spoilt && off > 0.02 && off > 4.0 * u);
        for (k, column) in columns.iter_mut().enumerate() {
            let reading = sample[k] + noise[k] * random.normal();
            column.push((reading / step[k]).round() * step[k]);
        }
    }
    let time = (0..ROWS).map(|row| row as f64 * logger.period).collect();
    let known =
        AlignSettings { seconds: delay.map(Some), seconds_u: [Some(2e-5); 5], ..AlignSettings::default() };
    (load::readings(time, columns), Delays::stated(&known), wrong)
}

/// On every pair of a converter and a logger at least 95 % of the wrong rows go and at most 0.5 % of the others.
#[test]
fn wrong_rows_go_and_good_ones_stay_on_fresh_runs() {
    let settings = Settings::default();
    let mut all = [0_usize; 4];
    let mut short = Vec::new();
    let holds = |[wrong, found, good, lost]: [usize; 4]| found * 100 >= wrong * 95 && lost * 1000 <= good * 5;
    for (c, converter) in CONVERTERS.iter().enumerate() {
        for (l, logger) in LOGGERS.iter().enumerate() {
            let mut pair = [0_usize; 4];
            for run in 0..RUNS {
                let mut random = Random::new(6000 + run, (3 * c + l) as u64);
                let (readings, delays, truth) = play(converter, logger, &mut random);
                for (mask, wrong) in masks(&readings, &delays, &settings).into_iter().zip(truth) {
                    let out = usize::from(!Reason::kept(mask));
                    let at = if wrong { 0 } else { 2 };
                    pair[at] += 1;
                    pair[at + 1] += out;
                }
            }
            let [wrong, found, good, lost] = pair;
            println!(
                "{} on {}: {found} of {wrong} wrong rows found, {lost} of {good} good ones lost",
                converter.name, logger.name
            );
            if wrong < 150 || !holds(pair) {
                short.push(format!("{} on {}", converter.name, logger.name));
            }
            all = std::array::from_fn(|k| all[k] + pair[k]);
        }
    }
    println!("all: {} of {} wrong rows found, {} of {} good ones lost", all[1], all[0], all[3], all[2]);
    assert!(holds(all), "{all:?}");
    assert!(short.is_empty(), "{short:?}");
}
