//! Settled points as a table: rows of a hand-taken table, or the averages of a stepped run.

use serde::Serialize;

use super::Bench;
use super::run::Run;
use crate::channel::Readings;
use crate::fixture::{Correction, Grade};
use crate::plateau::{Plateau, Plateaus, WhyNot};
use crate::point::{RowPoint, Rows};
use crate::quantity::Quantity;
use crate::sieve::{Mask, Reason, Settled};

/// Points that results hold at most.
const MOST: usize = 5000;

/// Settled points of a run.
#[derive(Clone, Debug, Serialize)]
pub struct SettledResult {
    /// Whether its rows were taken for settled points: time gates and sieve are then off.
    pub recognised: bool,
    /// Why.
    pub why: Option<Settled>,
    /// Its rows, where it is one.
    pub rows: usize,
    /// Whether the run is its settled points: its row numbers then count points.
    pub used: bool,
    /// Whether it is clearly stepped, so that it is used as its settled points without being told.
    pub stepped: bool,
    /// Stretches at rest.
    pub found: usize,
    /// Time dropped after each change, s.
    pub settle: Option<f64>,
    /// Median time at a setting, s.
    pub dwell: Option<f64>,
    /// Share of the rows at settings at rest.
    pub covered: Option<f64>,
    /// Why it is not used as its settled points; `null` where it is stepped or a table.
    pub why_not: Option<WhyNot>,
    /// The points, at most five thousand.
    pub points: Vec<SettledPoint>,
}

/// One settled point at the converter's terminals.
///
/// **Units** V, A, W, s, fractions; rows are those of the log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SettledPoint {
    /// First row averaged.
    pub first: usize,
    /// Last row averaged.
    pub last: usize,
    /// Its middle instant, s; `null` where no time is known.
    pub time: Option<f64>,
    /// Time from first to last row, s.
    pub seconds: Option<f64>,
    /// Rows averaged.
    pub n: usize,
    /// Rows between first and last that were left out.
    pub left_out: usize,
    /// Rows that count as independent.
    pub n_effective: f64,
    /// Input voltage.
    pub v_in: Quantity,
    /// Input current.
    pub i_in: Quantity,
    /// Output voltage.
    pub v_out: Quantity,
    /// Output current.
    pub i_out: Quantity,
    /// Input power.
    pub p_in: Quantity,
    /// Output power.
    pub p_out: Quantity,
    /// Input less output power.
    pub loss: Quantity,
    /// Efficiency.
    pub value: Option<f64>,
    /// Its standard uncertainty; `null` without a calibration.
    pub u: Option<f64>,
    /// Part from scatter.
    pub u_random: Option<f64>,
    /// Part that all points share.
    pub u_systematic: Option<f64>,
    /// Whether it is in the statistics.
    pub kept: bool,
}

/// Averages as rows, each with its own scatter.
struct Averages<'a> {
    list: &'a [Plateau],
    correction: &'a Correction,
    noise: [f64; 5],
    low: bool,
}

impl Rows for Averages<'_> {
    fn rows(&self) -> usize {
        self.list.len()
    }
    fn time(&self, _: usize) -> f64 {
        f64::NAN
    }
    fn mask(&self, _: usize) -> Mask {
        0
    }
    fn reading(&self, row: usize) -> [f64; 5] {
        let mut mean = self.list[row].mean;
        if !self.low {
            mean[2] = 0.0;
        }
        mean
    }
    fn correction(&self) -> &Correction {
        self.correction
    }
    fn noise(&self) -> [f64; 5] {
        self.noise
    }
    fn settled(&self) -> bool {
        true
    }
}

impl Bench {
    /// What is said of a run's settled points; `readings` are those in use.
    pub(super) fn settled_result(&self, index: usize, readings: &Readings) -> SettledResult {
        let empty = Plateaus::default();
        let run = self.runs.get(index);
        let settled = run.and_then(|run| run.settled);
        let recognised = settled.is_some_and(Settled::recognised);
        let looked = run.and_then(|run| run.plateaus.as_ref());
        let plateaus = looked.unwrap_or(&empty);
        let any = !plateaus.list.is_empty();
        SettledResult {
            recognised,
            why: settled,
            rows: if recognised { readings.rows() } else { 0 },
            used: run.is_some_and(|run| run.averaged.is_some()),
            stepped: looked.is_some() && plateaus.why_not.is_none() && any,
            found: plateaus.list.len(),
            settle: any.then_some(plateaus.settle),
            dwell: any.then_some(plateaus.dwell),
            covered: looked.map(|plateaus| plateaus.covered),
            why_not: looked.and_then(|plateaus| plateaus.why_not),
            points: run.map(|run| self.settled_points(index, run)).unwrap_or_default(),
        }
    }

    fn settled_points(&self, index: usize, run: &Run) -> Vec<SettledPoint> {
        let (Some(calibration), Some(logged)) = (self.calibration.as_ref(), self.logged(index)) else {
            return Vec::new();
        };
        let known = calibration.correction.grade != Grade::AsLogged;
        let kept = |row: usize| {
            let masks = run.masks.as_deref().filter(|_| run.averaged.is_some() || run.plateaus.is_none());
            masks.and_then(|masks| masks.get(row)).is_none_or(|mask| Reason::kept(*mask))
        };
        let time = |row: usize| {
            let timed = run.settled != Some(Settled::Untimed);
            logged.time.get(row).copied().filter(|time| timed && time.is_finite())
        };
        if let Some(plateaus) = &run.plateaus {
            let one = |(at, plateau): (usize, &Plateau)| {
                let rows = Averages {
                    list: std::slice::from_ref(plateau),
                    correction: &calibration.correction,
                    noise: plateau.u,
                    low: logged.has(crate::channel::Channel::VOutLow),
                };
                let point = RowPoint::without_interval(&rows, 0);
                let (from, to) = (time(plateau.first), time(plateau.last));
                let span = from.zip(to).map(|(from, to)| (0.5 * (from + to), to - from));
                SettledPoint {
                    first: plateau.first,
                    last: plateau.last,
                    time: span.map(|span| span.0),
                    seconds: span.map(|span| span.1),
                    n: plateau.rows,
                    left_out: plateau.left_out,
                    n_effective: plateau.effective,
                    kept: kept(at),
                    ..described(&rows, &point, 0, known)
                }
            };
            return plateaus.list.iter().take(MOST).enumerate().map(one).collect();
        }
        if !run.settled.is_some_and(Settled::recognised) {
            return Vec::new();
        }
        let Some(rows) = self.rows_of(index) else { return Vec::new() };
        (0..rows.rows().min(MOST))
            .map(|row| SettledPoint {
                first: row,
                last: row,
                time: time(row),
                seconds: None,
                n: 1,
                left_out: 0,
                n_effective: 1.0,
                kept: kept(row),
                ..described(&rows, &RowPoint::without_interval(&rows, row), row, known)
            })
            .collect()
    }

    /// The settled points of a run as CSV, one line each, decimal point; empty where there are none.
    #[must_use]
    pub fn settled_csv(&self, index: usize, header: bool) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        if header {
            let names = "run,first_row,last_row,time_s,rows,v_in_V,u_v_in_V,i_in_A,u_i_in_A,v_out_V,u_v_out_V,\
                         i_out_A,u_i_out_A,p_in_W,u_p_in_W,p_out_W,u_p_out_W,loss_W,u_loss_W,efficiency,\
                         u_efficiency,u_efficiency_scatter";
            let _ = writer.write_record(names.split(','));
        }
        let name = self.run_name(index).unwrap_or_default();
        let points = self.runs.get(index).map(|run| self.settled_points(index, run)).unwrap_or_default();
        for point in points {
            let text = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
            let mut fields = vec![
                name.to_owned(),
                point.first.to_string(),
                point.last.to_string(),
                text(point.time),
                point.n.to_string(),
            ];
            let quantities = [
                &point.v_in,
                &point.i_in,
                &point.v_out,
                &point.i_out,
                &point.p_in,
                &point.p_out,
                &point.loss,
            ];
            for quantity in quantities {
                fields.push(text(quantity.value));
                fields.push(text(quantity.u));
            }
            fields.extend([text(point.value), text(point.u), text(point.u_random)]);
            let _ = writer.write_record(&fields);
        }
        writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
    }
}

/// The electrical part of a point.
fn described(rows: &dyn Rows, point: &RowPoint, row: usize, known: bool) -> SettledPoint {
    let correction = rows.correction();
    let reading = rows.reading(row);
    let jacobian = correction.jacobian(reading);
    let noise = rows.noise();
    let value = |value: f64| value.is_finite().then_some(value);
    // A reading enters as its difference to the channel's offset.
    let total = |sensitivity: &[f64; crate::fixture::PARAMETERS]| {
        let mut random = 0.0;
        for (k, sigma) in noise.iter().enumerate() {
            let one = sensitivity[5 + k] * sigma;
            random += one * one;
        }
        known.then(|| libm::sqrt((random + correction.variance(sensitivity)).max(0.0)))
    };
    let quantity = |x: f64, sensitivity: &[f64; crate::fixture::PARAMETERS]| match value(x) {
        Some(x) => Quantity { value: Some(x), u: total(sensitivity), why: None },
        None => Quantity::unknown("missing"),
    };
    let power = |volts: usize, amps: usize, v: f64, i: f64| {
        std::array::from_fn(|k| jacobian[volts][k] * i + jacobian[amps][k] * v)
    };
    let (of_in, of_out) = (power(0, 1, point.v_in, point.i_in), power(2, 3, point.v_out, point.i_out));
    SettledPoint {
        first: row,
        last: row,
        time: None,
        seconds: None,
        n: 1,
        left_out: 0,
        n_effective: 1.0,
        v_in: quantity(point.v_in, &jacobian[0]),
        i_in: quantity(point.i_in, &jacobian[1]),
        v_out: quantity(point.v_out, &jacobian[2]),
        i_out: quantity(point.i_out, &jacobian[3]),
        p_in: quantity(point.p_in, &of_in),
        p_out: quantity(point.p_out, &of_out),
        loss: Quantity { value: value(point.loss), u: point.loss_u, why: None },
        value: value(point.efficiency),
        u: point.u,
        u_random: value(point.u_random),
        u_systematic: point.u_systematic,
        kept: true,
    }
}
