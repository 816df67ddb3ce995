//! Plays one job and writes its log.

use std::fmt::Write as _;

use super::bench::{Bench, Operation};
use super::circuit::{Converter, Nodes};
use super::faults::Cause;
use super::job::{Job, Wiring};
use super::random::Random;
use super::text::Field;
use super::truth::{Corrupted, LogTruth};

/// Time that a restart of the logger takes, s.
const RESTART_SECONDS: f64 = 1.5;
/// Output current at which a dimmer counts as turned down, as a share of the most asked.
const TURNED_DOWN: f64 = 0.02;

/// One written log and its truth.
#[derive(Clone, Debug)]
pub struct Recording {
    /// File name.
    pub file: String,
    /// The log.
    pub bytes: Vec<u8>,
    /// Its truth.
    pub truth: LogTruth,
}

/// Plays one job of a bench.
#[must_use]
pub fn record(bench: &Bench, job: &Job, stream: u64) -> Recording {
    Player::new(bench, job).play(stream)
}

/// What a row is, besides its readings.
#[derive(Clone, Copy, PartialEq)]
struct Fate {
    cause: Option<Cause>,
    beside: bool,
}

struct Player<'a> {
    bench: &'a Bench,
    job: &'a Job,
    period: f64,
    /// Stretches of time in which the converter is stopped.
    stopped: Vec<[f64; 2]>,
    /// Resistance of the calibration resistor at every row's time.
    track: Vec<f64>,
    /// Times at which the circuit's state jumps.
    jumps: Vec<f64>,
}

impl<'a> Player<'a> {
    fn new(bench: &'a Bench, job: &'a Job) -> Self {
        let period = job.row_period.unwrap_or(bench.meter.row_period);
        let mut player =
            Self { bench, job, period, stopped: Vec::new(), track: Vec::new(), jumps: Vec::new() };
        let end = player.row_time(job.rows) + 1.0;
        match job.wiring {
            Wiring::StraightThrough(which) => player.warm_up(which),
            Wiring::Converter(which) => {
                player.find_stops(&bench.converters[which], end);
                // A table written down by hand has no rows next to a step: it was left to settle.
                if job.row_period.is_none() {
                    player.jumps = job.amps.jumps(end);
                    player.jumps.extend(job.volts.jumps(end));
                }
                player.jumps.extend(player.stopped.iter().flatten());
                player.jumps.sort_by(f64::total_cmp);
            }
            _ => {}
        }
        player
    }

    /// Real time of a row: restarts cost time.
    fn row_time(&self, row: usize) -> f64 {
        let restarts = self.job.faults.restarts.iter().filter(|&&at| at <= row).count();
        row as f64 * self.period + restarts as f64 * RESTART_SECONDS
    }

    fn through_resistance(&self, resistor: f64) -> f64 {
        let f = &self.bench.fixture;
        f.source_leads() + f.high_side() + f.low_side() + f.load_leads() + resistor
    }

    /// Heats the calibration resistor along the run, row by row.
    fn warm_up(&mut self, which: usize) {
        let resistor = &self.bench.resistors[which];
        let mut rises = vec![0.0; resistor.stages.len()];
        self.track.reserve(self.job.rows + 2);
        for row in 0..self.job.rows + 2 {
            let ohms = resistor.ohms(&rises);
            self.track.push(ohms);
            let time = self.row_time(row);
            let current = self.job.volts.value(time) / self.through_resistance(ohms);
            resistor.warm(&mut rises, current * current * ohms, self.row_time(row + 1) - time);
        }
    }

    /// Finds when the converter stops below its cut-off and starts again.
    fn find_stops(&mut self, converter: &Converter, end: f64) {
        let Some(cut_off) = converter.cut_off else { return };
        let tick = 0.001;
        let ticks = (end / tick) as usize;
        let most = (0..1000).map(|k| self.job.amps.value(end * f64::from(k) / 1000.0)).fold(0.0, f64::max);
        let mut since: Option<f64> = None;
        for k in 0..ticks {
            let time = k as f64 * tick;
            let asked = self.job.amps.value(time);
            let volts = self.job.volts.value(time);
            match since {
                None => {
                    let x = self.bench.operate(converter, volts, asked, self.job.limit);
                    if x.v_in < cut_off {
                        since = Some(time);
                    }
                }
                Some(start) => {
                    let down = asked <= self.lowest_asked() + TURNED_DOWN * most;
                    if volts > converter.restart_above && down {
                        self.stopped.push([start, time]);
                        since = None;
                    }
                }
            }
        }
        if let Some(start) = since {
            self.stopped.push([start, f64::INFINITY]);
        }
    }

    fn lowest_asked(&self) -> f64 {
        self.job.amps.value(0.0)
    }

    fn is_stopped(&self, time: f64) -> bool {
        let after = self.stopped.partition_point(|stretch| stretch[0] <= time);
        after > 0 && time < self.stopped[after - 1][1]
    }

    /// The converter at a time, or nothing where no converter is in place or it is stopped.
    fn operation(&self, time: f64) -> Option<Operation> {
        let Wiring::Converter(which) = self.job.wiring else { return None };
        if self.is_stopped(time) {
            return None;
        }
        let (volts, asked) = (self.job.volts.value(time), self.job.amps.value(time));
        Some(self.bench.operate(&self.bench.converters[which], volts, asked, self.job.limit))
    }

    /// State of the circuit at a time in s; `row` is the row that is being read.
    fn nodes(&self, time: f64, row: usize) -> Nodes {
        let f = &self.bench.fixture;
        match self.job.wiring {
            Wiring::AllOff => [0.0; 5],
            Wiring::OpenSweep => {
                let volts = self.job.volts.value(time);
                [volts, volts, 0.0, 0.0, 0.0]
            }
            Wiring::StraightThrough(_) => {
                let part = (time - self.row_time(row)) / self.period;
                let ohms = self.track[row] + (self.track[row + 1] - self.track[row]) * part;
                let volts = self.job.volts.value(time);
                let current = volts / self.through_resistance(ohms);
                let v_p = volts - current * f.source_leads();
                [v_p, v_p - current * f.high_side(), current * f.low_side(), current, current]
            }
            Wiring::InputShorted => {
                let current = self.job.amps.value(time);
                [current * (f.input_resistance() + f.jumper_high), 0.0, 0.0, current, 0.0]
            }
            Wiring::OutputShorted => {
                let current = self.job.amps.value(time);
                [0.0, -current * (f.output_resistance() + f.jumper_high), 0.0, 0.0, current]
            }
            Wiring::Converter(which) => match self.operation(time) {
                Some(x) => self.bench.nodes(&x),
                None => {
                    let current = self.bench.converters[which].off_current;
                    let v_p = self.job.volts.value(time) - current * f.source_leads();
                    [v_p, current * f.in_low, current * f.in_low, current, 0.0]
                }
            },
        }
    }

    /// Which rows a step spoils, which lines break, where a reading jumps.
    fn fates(&self, random: &mut Random) -> Vec<Fate> {
        let rows = self.job.rows;
        let mut fates = vec![Fate { cause: None, beside: false }; rows];
        let (first, last) = self.bench.meter.span();
        let jumps_within = |from: f64, to: f64| {
            self.jumps.partition_point(|&jump| jump <= to) > self.jumps.partition_point(|&jump| jump <= from)
        };
        if !self.jumps.is_empty() {
            for (row, fate) in fates.iter_mut().enumerate() {
                let time = self.row_time(row);
                if jumps_within(time + first, time + last) {
                    fate.cause = Some(Cause::Straddled);
                } else if jumps_within(time - self.period + first, time + self.period + last) {
                    fate.beside = true;
                }
            }
        }
        for &row in &self.job.faults.restarts {
            fates[row - 1].cause = Some(Cause::Unreadable);
            fates[row].cause = Some(Cause::Restart);
        }
        let faults = &self.job.faults;
        for (count, cause) in [(faults.spikes, Cause::Spike), (faults.unreadable, Cause::Unreadable)] {
            let mut placed = 0;
            while placed < count && rows > 100 {
                let row = 10 + random.below(rows - 20);
                let quiet = fates[row - 3..=row + 3].iter().all(|f| f.cause.is_none());
                if quiet {
                    fates[row].cause = Some(cause);
                    placed += 1;
                }
            }
        }
        fates
    }

    fn play(&self, stream: u64) -> Recording {
        let (bench, job) = (self.bench, self.job);
        let mut random = Random::new(bench.seed, stream);
        let fates = self.fates(&mut random);
        let mut out = String::with_capacity(job.rows * 60);
        bench.dialect.open(&mut out);
        bench.dialect.header(&mut out, job.temperature);
        let mut clock_zero = 0.0;
        let mut rise = 0.0;
        let (mut off, mut limited) = (Vec::new(), Vec::new());
        for (row, fate) in fates.iter().enumerate() {
            let time = self.row_time(row);
            if job.faults.restarts.contains(&row) {
                clock_zero = time;
                out.push_str("# logger started");
                bench.dialect.end(&mut out);
                bench.dialect.header(&mut out, job.temperature);
            }
            let mut reading = self.read(time, row, &mut random);
            match fate.cause {
                Some(Cause::Spike) => {
                    let channel = random.below(5);
                    let side = if random.unit() < 0.5 { -1.0 } else { 1.0 };
                    let size = side * random.between(100.0, 900.0) * bench.meter.noise[channel];
                    reading[channel] = round_to(reading[channel] + size, bench.meter.step[channel]);
                }
                Some(Cause::Restart) => reading[3..].fill(0.0),
                _ => {}
            }
            let operation = self.operation(time);
            if matches!(job.wiring, Wiring::Converter(_)) && operation.is_none() {
                off.push(row);
            }
            if let Some(x) = operation {
                let loss = x.v_in * x.i_in - x.v_out * x.i_out;
                // Case to air 6 K/W with 90 s, invented.
                rise += (6.0 * loss - rise) * (1.0 - libm::exp(-self.period / 90.0));
                if x.limited {
                    limited.push(row);
                }
            }
            let broken = (fate.cause == Some(Cause::Unreadable))
                .then(|| if job.faults.restarts.contains(&(row + 1)) { 0 } else { random.below(4) });
            self.write_row(&mut out, time - clock_zero, reading, 23.5 + rise, broken);
        }
        Recording {
            file: job.file.clone(),
            bytes: out.into_bytes(),
            truth: self.truth(&fates, &off, &limited),
        }
    }

    fn read(&self, time: f64, row: usize, random: &mut Random) -> Nodes {
        let meter = &self.bench.meter;
        std::array::from_fn(|k| {
            let nodes = self.nodes(time + meter.delay[k], row);
            let noise = meter.noise[k] * self.job.noise_scale * random.normal();
            round_to(meter.ideal(nodes)[k] + noise, meter.step[k] * self.job.noise_scale.min(1.0))
        })
    }

    /// Writes one row; a broken one is cut, or has a field that is no number.
    fn write_row(
        &self,
        out: &mut String,
        time: f64,
        reading: Nodes,
        temperature: f64,
        broken: Option<usize>,
    ) {
        let dialect = &self.bench.dialect;
        let start = out.len();
        let columns = dialect.columns(self.job.temperature).count();
        for (place, column) in dialect.columns(self.job.temperature).enumerate() {
            if place > 0 {
                out.push(dialect.separator);
            }
            let value = match column.field {
                Field::Time => time,
                Field::Channel(k) => reading[k],
                Field::Temperature => temperature,
            };
            let value = value * column.scale;
            let decimals = column.decimals;
            // Which field is spoiled; never the time, so that the row's place stays known.
            let spoiled = |wanted: usize| {
                let time = |at: usize| {
                    let mut columns = dialect.columns(self.job.temperature);
                    columns.nth(at).is_some_and(|c| c.field == Field::Time)
                };
                place == if time(wanted) { wanted - 1 } else { wanted }
            };
            match broken {
                Some(1) if spoiled(columns - 2) => out.push_str("0.#1:"),
                Some(2) if spoiled(columns / 2) => out.push_str("ERR"),
                _ => {
                    let from = out.len();
                    let _ = write!(out, "{value:.decimals$}");
                    if out[from..].starts_with('-')
                        && out[from..].bytes().all(|b| matches!(b, b'-' | b'0' | b'.'))
                    {
                        out.remove(from);
                    }
                }
            }
        }
        if matches!(broken, Some(0 | 3)) {
            // Cut after the second separator, so that a whole number of a used column is left.
            let cut =
                out[start..].match_indices(dialect.separator).nth(2).map_or(out.len(), |(at, _)| start + at);
            out.truncate(cut);
        }
        dialect.end(out);
    }

    fn truth(&self, fates: &[Fate], off: &[usize], limited: &[usize]) -> LogTruth {
        let job = self.job;
        let corrupted = [Cause::Straddled, Cause::Spike, Cause::Unreadable, Cause::Restart]
            .into_iter()
            .map(|cause| Corrupted {
                cause,
                rows: (0..fates.len()).filter(|&row| fates[row].cause == Some(cause)).collect(),
            })
            .filter(|group| !group.rows.is_empty())
            .collect();
        let beside_steps = (0..fates.len()).filter(|&row| fates[row].beside && fates[row].cause.is_none());
        let (role, converter) = match job.wiring {
            Wiring::AllOff => ("all_off", None),
            Wiring::OpenSweep => ("open_sweep", None),
            Wiring::StraightThrough(_) => ("straight_through", None),
            Wiring::InputShorted => ("input_shorted", None),
            Wiring::OutputShorted => ("output_shorted", None),
            Wiring::Converter(which) => ("run", Some(&self.bench.converters[which])),
        };
        let cold = match job.wiring {
            Wiring::StraightThrough(which) => Some(self.bench.resistors[which].cold),
            _ => None,
        };
        LogTruth {
            file: job.file.clone(),
            role,
            converter: converter.map(|c| c.name.clone()),
            rows: job.rows,
            corrupted,
            beside_steps: beside_steps.collect(),
            off: runs_of(off),
            limited: runs_of(limited),
            largest_drift: cold
                .map(|cold| self.track.iter().fold(0.0_f64, |most, r| most.max(r / cold - 1.0))),
            cold,
            points: converter.map_or_else(Vec::new, |converter| {
                let point = |p: &[f64; 2]| self.bench.point(converter, p[0], p[1]);
                job.points.iter().map(point).collect()
            }),
        }
    }
}

/// Nearest multiple of a step; unchanged for a step of 0.
fn round_to(value: f64, step: f64) -> f64 {
    if step > 0.0 { (value / step).round() * step } else { value }
}

/// Ascending rows as inclusive runs.
fn runs_of(rows: &[usize]) -> Vec<[usize; 2]> {
    let mut runs: Vec<[usize; 2]> = Vec::new();
    for &row in rows {
        match runs.last_mut() {
            Some(run) if run[1] + 1 == row => run[1] = row,
            _ => runs.push([row, row]),
        }
    }
    runs
}
