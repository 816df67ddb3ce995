//! The chain of stages from the bytes of logs to answers, called one by one.

use wattsieve_core::align::{self, Aligned, Delays, Noise, Steps};
use wattsieve_core::channel::{self, CHANNELS, Readings, RunKind as Recognised};
use wattsieve_core::fixture::{self, Calibration, CalibrationRun, RunKind};
use wattsieve_core::log;
use wattsieve_core::loss::{self, LossModel};
use wattsieve_core::map;
use wattsieve_core::point::Rows;
use wattsieve_core::sieve::{self, Mask, Reason};

/// A log as the real reader understands it.
pub(crate) fn read(bytes: &[u8]) -> Readings {
    let log = log::read(bytes, &log::Settings::default());
    let settings = channel::Settings::default();
    let guess = channel::guess(&log, &settings);
    channel::to_readings(log, &guess, &settings).readings
}

/// The wiring that a log is recognised to show; `None` for a run.
pub(crate) fn recognised(readings: &Readings) -> Option<RunKind> {
    Some(match channel::recognise(readings).kind {
        Recognised::AllOff => RunKind::AllOff,
        Recognised::OpenSweep => RunKind::OpenSweep,
        Recognised::StraightThrough => RunKind::StraightThrough,
        Recognised::InputShorted => RunKind::InputShorted,
        Recognised::OutputShorted => RunKind::OutputShorted,
        Recognised::CrossBridge => RunKind::CrossBridge,
        Recognised::Run | Recognised::Table => return None,
    })
}

/// Delays from the straight-through run that tells them best.
pub(crate) fn delays<'a>(runs: impl Iterator<Item = &'a (RunKind, Readings)>) -> Delays {
    let limit = sieve::Settings::default().step_limit;
    runs.filter(|run| run.0 == RunKind::StraightThrough)
        .map(|run| align::through_delays(&run.1, &Steps::find(&run.1, &Noise::of(&run.1), limit)))
        .filter(align::Through::useful)
        .min_by(|a, b| a.u[4].unwrap().total_cmp(&b.u[4].unwrap()))
        .map_or_else(Delays::none, |through| through.delays())
}

/// The calibration from runs, rows that cannot be true left out.
pub(crate) fn calibrate(
    runs: &[(RunKind, Readings)],
    delays: &Delays,
    settings: &fixture::Settings,
) -> Calibration {
    let mut gates = sieve::Settings::default();
    gates.gates.sign = false;
    gates.gates.off = false;
    gates.gates.supply_limit = false;
    gates.gates.slew = false;
    let prepared: Vec<_> = runs
        .iter()
        .map(|(_, readings)| {
            let noise = Noise::of(readings);
            let steps = Steps::find(readings, &noise, gates.step_limit);
            let aligned = Aligned::new(readings, &steps, delays);
            let input = sieve::Input { aligned: &aligned, noise: &noise, delays, settled: false };
            let kept: Vec<bool> = sieve::gates(&input, &gates).into_iter().map(Reason::kept).collect();
            let columns = CHANNELS.map(|channel| {
                let mut column = vec![0.0; readings.rows()];
                aligned.fill(channel, 0..readings.rows(), &mut column);
                column
            });
            (columns, kept, noise.sigma)
        })
        .collect();
    let runs: Vec<CalibrationRun<'_>> = runs
        .iter()
        .zip(&prepared)
        .enumerate()
        .map(|(input, ((kind, readings), (columns, kept, noise)))| CalibrationRun {
            input,
            kind: *kind,
            time: &readings.time,
            columns: std::array::from_fn(|k| columns[k].as_slice()),
            kept: Some(kept),
            noise: Some(*noise),
            ..CalibrationRun::default()
        })
        .collect();
    fixture::fit(&runs, settings).unwrap()
}

/// One run, sieved.
pub(crate) struct Sieved<'a> {
    pub(crate) readings: &'a Readings,
    pub(crate) noise: Noise,
    pub(crate) steps: Steps,
    pub(crate) delays: Delays,
    pub(crate) masks: Vec<Mask>,
    pub(crate) settled: bool,
}

/// Gates and sieve with their defaults.
pub(crate) fn sieved<'a>(readings: &'a Readings, delays: &Delays) -> Sieved<'a> {
    let settings = sieve::Settings::default();
    let noise = Noise::of(readings);
    let steps = Steps::find(readings, &noise, settings.step_limit);
    let settled = sieve::settled(readings, &noise, &steps, &settings).recognised();
    let delays = if settled { Delays::none() } else { delays.clone() };
    let aligned = Aligned::new(readings, &steps, &delays);
    let input = sieve::Input { aligned: &aligned, noise: &noise, delays: &delays, settled };
    let mut masks = sieve::gates(&input, &settings);
    if !settled {
        let table = sieve::Picked::new(&aligned, &settings);
        let kind = sieve::Kind { names: table.names().to_vec(), resolution: table.resolution() };
        sieve::count(&table, kind, &settings).judge(settings.least_rows, &mut masks);
    }
    Sieved { readings, noise, steps, delays, masks, settled }
}

/// One run with a correction.
pub(crate) struct Corrected<'a> {
    aligned: Aligned<'a>,
    masks: &'a [Mask],
    correction: &'a fixture::Correction,
    noise: [f64; 5],
    settled: bool,
}

impl<'a> Sieved<'a> {
    /// The run's rows under a calibration.
    pub(crate) fn corrected(&'a self, calibration: &'a Calibration) -> Corrected<'a> {
        let aligned = Aligned::new(self.readings, &self.steps, &self.delays);
        let noise = if self.settled { calibration.noise() } else { self.noise.sigma };
        let correction = &calibration.correction;
        Corrected { aligned, masks: &self.masks, correction, noise, settled: self.settled }
    }
}

impl Rows for Corrected<'_> {
    fn rows(&self) -> usize {
        self.masks.len()
    }
    fn time(&self, row: usize) -> f64 {
        self.aligned.readings().time[row]
    }
    fn mask(&self, row: usize) -> Mask {
        self.masks[row]
    }
    fn reading(&self, row: usize) -> [f64; 5] {
        self.aligned.reading(row)
    }
    fn correction(&self) -> &fixture::Correction {
        self.correction
    }
    fn noise(&self) -> [f64; 5] {
        self.noise
    }
    fn settled(&self) -> bool {
        self.settled
    }
}

/// Answers at points of a run.
pub(crate) fn answers(rows: &dyn Rows, points: &[[f64; 2]]) -> Vec<map::Point> {
    let op = map::Operating::collect(rows);
    loss::at(&op, &map::Index::of(&op), &LossModel::fit(&op), points)
}
