//! The invented bench of the demo: a greenhouse-lamp maker chooses a driver for an emitter array.

use super::bench::Bench;
use super::circuit::{Converter, Fixture, LightMode, Load, Loss, Meter, Resistor};
use super::faults::Faults;
use super::job::{Job, Wiring};
use super::program::{Program, Sweep};
use super::text::{Column, Dialect, Field};

/// Seed of the shipped demo logs.
pub const SEED: u64 = 38;
/// Output currents of the hand-taken table, A.
const SETTLED_AMPS: [f64; 10] = [0.1, 0.25, 0.5, 0.8, 1.2, 2.0, 3.0, 4.5, 6.0, 8.0];
/// Source voltages of the hand-taken table, V.
const SETTLED_VOLTS: [f64; 3] = [13.4, 12.7, 11.9];

fn fixture() -> Fixture {
    Fixture {
        source_high: 0.1532,
        source_low: 0.1468,
        in_high: 0.0187,
        in_low: 0.0112,
        out_high: 0.0116,
        out_low: 0.0093,
        load_high: 0.0078,
        load_low: 0.0092,
        jumper_high: 0.000_91,
        jumper_low: 0.000_68,
        input_shunt: 0.010,
        output_shunt: 0.005,
    }
}

/// Five channels read in the order of the columns, 3.4 ms each.
fn meter() -> Meter {
    Meter {
        row_period: 0.02,
        gain: [1.000_62, 0.999_41, 1.000_35, 1.000_40, 0.996_30],
        offset: [0.0021, -0.0014, 0.0009, 0.0042, -0.0031],
        leak: [0.000_11, 0.000_16],
        noise: [0.0015, 0.0015, 0.0004, 0.0012, 0.0020],
        step: [0.0005, 0.0005, 0.0001, 0.0005, 0.0005],
        delay: [0.0, 0.0068, 0.0102, 0.0034, 0.0136],
    }
}

/// Wirewound in an aluminium housing: element to case in seconds, case to air in minutes.
fn resistors() -> Vec<Resistor> {
    let stages = vec![[1.2, 3.0], [3.6, 80.0]];
    [0.6794, 2.2060].map(|cold| Resistor { cold, coefficient: 150e-6, stages: stages.clone() }).to_vec()
}

/// A: synchronous step-down, dimmed continuously. At 12 V it loses 0.30 + 0.03 I + 0.028 I^2.
fn synchronous() -> Converter {
    Converter {
        name: "lamp-synchronous".into(),
        loss: Loss {
            fixed: 0.156,
            per_volt: 0.012,
            per_amp: 0.012,
            per_amp_volt: 0.0015,
            per_amp2: 0.028,
            light_mode: Some(LightMode { ends_at: 0.70, saves: 0.04, band: 0.02 }),
        },
        presets: Vec::new(),
        cut_off: Some(10.2),
        restart_above: 10.5,
        off_current: 0.0018,
        sinks: 1.2,
    }
}

/// A with an inductor that has 6 milliohm less.
fn better_inductor() -> Converter {
    let mut converter = synchronous();
    converter.name = "lamp-synchronous-better-inductor".into();
    converter.loss.per_amp2 -= 0.006;
    converter
}

/// B: step-down with a diode and three presets.
fn diode() -> Converter {
    Converter {
        name: "lamp-diode".into(),
        loss: Loss {
            fixed: 0.02,
            per_volt: 0.0,
            per_amp: 0.34,
            per_amp_volt: 0.0,
            per_amp2: 0.02,
            light_mode: None,
        },
        presets: vec![0.5, 2.5, 8.0],
        cut_off: None,
        restart_above: 0.0,
        off_current: 0.0004,
        sinks: 1.2,
    }
}

fn dialect() -> Dialect {
    let column = |field, name: &str, decimals| Column { field, name: name.to_owned(), scale: 1.0, decimals };
    Dialect {
        separator: ',',
        carriage_return: false,
        byte_order_mark: false,
        comments: vec![
            "bench logger, 50 rows per second, five channels read one after another".into(),
            "input shunt 0.010 ohm and output shunt 0.005 ohm, both inside the sense nodes".into(),
        ],
        columns: vec![
            column(Field::Time, "time (s)", 2),
            column(Field::Channel(0), "V in (V)", 4),
            column(Field::Channel(3), "I in (A)", 4),
            column(Field::Channel(1), "V out + (V)", 4),
            column(Field::Channel(2), "V out - (V)", 4),
            column(Field::Channel(4), "I out (A)", 4),
            column(Field::Temperature, "T case (degC)", 1),
        ],
    }
}

/// The pack's open-circuit voltage played through in a given time.
fn pack_played(seconds: f64) -> Program {
    let line = |from, to| Sweep::Line { from, to };
    Program::default()
        .then(0.3 * seconds, line(13.6, 13.0))
        .then(0.35 * seconds, line(13.0, 12.3))
        .then(0.35 * seconds, line(12.3, 10.6))
}

/// The dimmer up and down.
fn dimming() -> Sweep {
    Sweep::Swing { low: 0.05, high: 8.0, period: 30.0, power: 1.5, first: 1.0 }
}

fn faults(spikes: usize, unreadable: usize, restarts: &[usize]) -> Faults {
    Faults { spikes, unreadable, restarts: restarts.to_vec() }
}

/// Up and down from nothing, the first swing smaller.
fn rising(high: f64, period: f64, seconds: f64) -> Program {
    Program::default().then(seconds, Sweep::Swing { low: 0.0, high, period, power: 1.0, first: 0.5 })
}

fn calibration_jobs() -> Vec<Job> {
    let all_off = Job::new("fixture-all-off.csv", Wiring::AllOff, 1500);
    let mut open = Job::new("fixture-open-sweep.csv", Wiring::OpenSweep, 3000);
    open.volts = Program::swing(0.0, 13.0, 60.0, 1.0);
    open.faults = faults(2, 0, &[]);
    let mut small = Job::new("fixture-through-0r68.csv", Wiring::StraightThrough(0), 5000);
    small.volts = rising(7.0, 25.0, 100.0);
    small.faults = faults(5, 1, &[]);
    let mut large = Job::new("fixture-through-2r2.csv", Wiring::StraightThrough(1), 4000);
    large.volts = rising(10.5, 40.0, 80.0);
    large.faults = faults(4, 1, &[]);
    let mut shorted = Job::new("fixture-input-shorted.csv", Wiring::InputShorted, 2500);
    shorted.amps = rising(5.0, 25.0, 50.0);
    shorted.faults = faults(2, 0, &[]);
    vec![all_off, open, small, large, shorted]
}

/// Points of the runs on the pack, at the converter's terminals.
const POINTS: [[f64; 2]; 10] = [
    [13.2, 0.12],
    [12.6, 0.30],
    [11.4, 0.50],
    [13.0, 0.95],
    [11.9, 1.50],
    [12.7, 2.50],
    [11.0, 2.50],
    [12.2, 4.00],
    [11.3, 6.00],
    [12.2, 7.80],
];

fn synchronous_jobs() -> Vec<Job> {
    let mut first = Job::new("lamp-synchronous.csv", Wiring::Converter(0), 30_000);
    first.volts = pack_played(600.0);
    // In the middle somebody plays with the dimmer: the same step up and down, again and again.
    first.amps = Program::default()
        .then(240.0, dimming())
        .then(48.0, Sweep::Toggle { low: 0.5, high: 4.0, stay: 1.0007 })
        .then(330.0, dimming());
    first.temperature = true;
    first.faults = faults(25, 6, &[17_200]);
    first.points = POINTS.to_vec();

    let mut again = Job::new("lamp-synchronous-again.csv", Wiring::Converter(0), 12_000);
    again.volts = pack_played(240.0);
    again.amps = Program::default().then(240.0, dimming());
    again.temperature = true;
    again.faults = faults(10, 2, &[]);
    again.points = POINTS.to_vec();

    let mut better = Job { file: "lamp-synchronous-better-inductor.csv".into(), ..again.clone() };
    better.wiring = Wiring::Converter(1);
    better.temperature = false;

    let mut limited = Job::new("lamp-synchronous-limited-supply.csv", Wiring::Converter(0), 6000);
    limited.volts = Program::hold(13.0);
    limited.amps = Program::default().then(120.0, dimming());
    limited.limit = Some(2.0);
    limited.faults = faults(6, 1, &[]);
    vec![first, again, better, limited]
}

fn diode_job() -> Job {
    let mut job = Job::new("lamp-diode.csv", Wiring::Converter(2), 12_000);
    job.volts = Program::swing(11.0, 13.6, 40.0, 1.0);
    job.amps = Program::default()
        .then(80.0, Sweep::Hold { value: 0.5 })
        .then(80.0, Sweep::Hold { value: 2.5 })
        .then(80.0, Sweep::Hold { value: 8.0 });
    job.faults = faults(12, 3, &[7000]);
    job.points = vec![
        [11.4, 0.5],
        [12.2, 0.5],
        [13.0, 0.5],
        [11.2, 2.5],
        [11.8, 2.5],
        [12.4, 2.5],
        [13.0, 2.5],
        [10.6, 8.0],
        [11.4, 8.0],
        [12.2, 8.0],
    ];
    job
}

/// Settings set by hand, one written down every 15 s once the readings stand still.
fn settled_job() -> Job {
    let mut job = Job::new("lamp-synchronous-settled.csv", Wiring::Converter(0), 30);
    job.row_period = Some(15.0);
    job.noise_scale = 0.2;
    let mut first = 7.5;
    for volts in SETTLED_VOLTS {
        for amps in SETTLED_AMPS {
            job.volts = std::mem::take(&mut job.volts).then(first, Sweep::Hold { value: volts });
            job.amps = std::mem::take(&mut job.amps).then(first, Sweep::Hold { value: amps });
            first = 15.0;
        }
    }
    job
}

/// The demo's bench.
#[must_use]
pub fn demo(seed: u64) -> Bench {
    let mut jobs = calibration_jobs();
    jobs.extend(synchronous_jobs());
    jobs.insert(6, diode_job());
    let mut settled = settled_job();
    settled.volts.parts.remove(0);
    settled.amps.parts.remove(0);
    jobs.push(settled);
    let mut bench = Bench {
        seed,
        fixture: fixture(),
        meter: meter(),
        resistors: resistors(),
        load: Load { fixed: 2.78, slope: 0.065 },
        converters: vec![synchronous(), better_inductor(), diode()],
        dialect: dialect(),
        jobs,
    };
    let points = [settled_points(&bench), limited_points(&bench)];
    let asked = [("settled", &points[0]), ("limited-supply", &points[1])];
    for job in &mut bench.jobs {
        for (what, points) in asked {
            if job.file.contains(what) {
                job.points.clone_from(points);
            }
        }
    }
    bench
}

/// Ten settings of the hand-taken table inside its outermost ones, at the converter's terminals.
fn settled_points(bench: &Bench) -> Vec<[f64; 2]> {
    let inner = &SETTLED_AMPS[1..SETTLED_AMPS.len() - 1];
    let settings = SETTLED_VOLTS.iter().flat_map(|&v| inner.iter().map(move |&i| (v, i)));
    settings.step_by(2).take(10).map(|(volts, amps)| at_terminals(bench, volts, amps)).collect()
}

/// Ten points of the run on a limited supply, below its limit.
fn limited_points(bench: &Bench) -> Vec<[f64; 2]> {
    [0.12, 0.3, 0.6, 1.0, 1.5, 2.2, 3.0, 4.0, 5.0, 6.0].map(|amps| at_terminals(bench, 13.0, amps)).to_vec()
}

/// Input voltage, to a millivolt, and output current of A with this source and setting.
fn at_terminals(bench: &Bench, volts: f64, amps: f64) -> [f64; 2] {
    let x = bench.operate(&bench.converters[0], volts, amps, None);
    [(x.v_in * 1e3).round() / 1e3, amps]
}

/// A run of A with any number of rows: the pack is played through once, however long it takes.
#[must_use]
pub fn long_run(file: &str, rows: usize) -> Job {
    let mut job = Job::new(file, Wiring::Converter(0), rows);
    job.volts = pack_played(rows as f64 * 0.02);
    job.amps = Program::default().then(f64::MAX, dimming());
    job.faults = faults(rows / 1500, rows / 5000, &[]);
    job.points = POINTS.to_vec();
    job
}
