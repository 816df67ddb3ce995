//! What the converter draws without load, and what is drawn while it is off.

use serde::Serialize;

use super::model::LossModel;
use crate::fixture::{Grade, PARAMETERS};
use crate::map::Operating;
use crate::math::small::median;
use crate::point::{Rows, each_reading};
use crate::quantity::Quantity;
use crate::sieve::Reason;

/// Input power without load.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Quiescent {
    /// Measured: mean over rows with the output on and no load, W.
    pub power: Quantity,
    /// Input voltage that `power` and `fitted` belong to, V.
    pub v_in: Option<f64>,
    /// Measured, by input voltage.
    pub by_v_in: Vec<AtVoltage>,
    /// From the loss model towards no load, W.
    pub fitted: Quantity,
}

/// A mean at one input voltage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AtVoltage {
    /// Mean input voltage, V.
    pub v_in: f64,
    /// Value, W.
    pub value: f64,
    /// Standard uncertainty; `None` where the accuracy is not known.
    pub u: Option<f64>,
    /// Rows.
    pub n: usize,
}

/// Input current while the output is off.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Off {
    /// Mean input current, A.
    pub input_current: Quantity,
    /// Rows.
    pub rows: usize,
}

struct Idle {
    v_in: Vec<f64>,
    i_in: Vec<f64>,
    reading: [f64; 5],
}

impl Idle {
    fn new() -> Self {
        Self { v_in: Vec::new(), i_in: Vec::new(), reading: [0.0; 5] }
    }

    fn push(&mut self, v_in: f64, i_in: f64, reading: [f64; 5]) {
        self.v_in.push(v_in);
        self.i_in.push(i_in);
        for (sum, x) in self.reading.iter_mut().zip(reading) {
            *sum += x;
        }
    }

    fn mean_reading(&self) -> [f64; 5] {
        self.reading.map(|x| x / self.v_in.len().max(1) as f64)
    }
}

/// Mean and its random standard uncertainty from blocks of sixteen rows.
fn mean(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let first = values[0];
    let centre = first + values.iter().map(|x| x - first).sum::<f64>() / n;
    let square = values.iter().map(|x| (x - centre) * (x - centre)).sum::<f64>();
    if values.len() < 2 {
        return (centre, 0.0);
    }
    let single = square / (n - 1.0) / n;
    let blocks: Vec<f64> = values.chunks(16).map(|c| c.iter().map(|x| x - centre).sum::<f64>()).collect();
    let count = blocks.len() as f64;
    let by_block = if blocks.len() >= 6 {
        blocks.iter().map(|b| b * b).sum::<f64>() * count / (count - 1.0) / (n * n)
    } else {
        4.0 * single
    };
    (centre, single.max(by_block).sqrt())
}

/// Looks for rows without load.
///
/// **Units** `asked`: input voltage to state it at, V; else the median of the rows without load, or
/// of the operating rows where there are none.
#[must_use]
pub fn quiescent(rows: &dyn Rows, op: &Operating, model: &LossModel, asked: Option<f64>) -> (Quiescent, Off) {
    let mut v_out: Vec<f64> = op.v_out.clone();
    let typical = median(&mut v_out);
    let noise = op.axis_noise().1;
    let mut idle = Idle::new();
    let mut off = Idle::new();
    each_reading(rows, 0..rows.rows(), |row, reading| {
        let mask = rows.mask(row);
        if !Reason::kept(mask) || mask & Reason::SupplyLimit.bit() != 0 {
            return;
        }
        let state = op.correction.apply(reading);
        let none = mask & Reason::Off.bit() != 0 || state.i_out < 3.0 * noise;
        let finite = state.v_in.is_finite() && state.i_in.is_finite() && state.v_out.is_finite();
        if !none || !finite || state.v_in <= 0.0 {
            return;
        }
        // With its voltage up the output is on and carries nothing; without, it is off.
        if typical.is_finite() && state.v_out > 0.5 * typical {
            idle.push(state.v_in, state.i_in, reading);
        } else {
            off.push(state.v_in, state.i_in, reading);
        }
    });
    let known = op.correction.grade != Grade::AsLogged;
    let mut volts = if idle.v_in.is_empty() { op.v_in.clone() } else { idle.v_in.clone() };
    let middle = median(&mut volts);
    let v_in = asked.or_else(|| middle.is_finite().then_some(middle));
    let by_v_in = by_voltage(op, &idle, known);
    let power = match v_in {
        Some(v) => near(op, &idle, v, known),
        None => Quantity::unknown("no_rows"),
    };
    let fitted = v_in.map_or_else(|| Quantity::unknown("no_rows"), |v| model.at_no_load(v));
    let input_current = if off.i_in.is_empty() {
        Quantity::unknown("no_rows")
    } else {
        let (value, random) = mean(&off.i_in);
        let jacobian = op.correction.jacobian(off.mean_reading());
        let systematic = op.correction.variance(&jacobian[1]).max(0.0).sqrt();
        Quantity { value: Some(value), u: known.then(|| libm::hypot(random, systematic)), why: None }
    };
    let off = Off { input_current, rows: off.v_in.len() };
    (Quiescent { power, v_in, by_v_in, fitted }, off)
}

/// Mean power of some rows without load, with its uncertainty.
fn power_of(op: &Operating, idle: &Idle, points: &[usize], known: bool) -> (f64, Option<f64>) {
    let powers: Vec<f64> = points.iter().map(|&k| idle.v_in[k] * idle.i_in[k]).collect();
    let (value, random) = mean(&powers);
    let n = points.len() as f64;
    let v_in = points.iter().map(|&k| idle.v_in[k]).sum::<f64>() / n;
    let jacobian = op.correction.jacobian(idle.mean_reading());
    let sensitivity: [f64; PARAMETERS] =
        std::array::from_fn(|k| jacobian[0][k] * value / v_in + jacobian[1][k] * v_in);
    let systematic = op.correction.variance(&sensitivity).max(0.0).sqrt();
    (value, known.then(|| libm::hypot(random, systematic)))
}

fn near(op: &Operating, idle: &Idle, v_in: f64, known: bool) -> Quantity {
    let points: Vec<usize> =
        (0..idle.v_in.len()).filter(|&k| (idle.v_in[k] - v_in).abs() <= 0.03 * v_in).collect();
    if points.is_empty() {
        return Quantity::unknown("no_rows");
    }
    let (value, u) = power_of(op, idle, &points, known);
    Quantity { value: Some(value), u, why: None }
}

fn by_voltage(op: &Operating, idle: &Idle, known: bool) -> Vec<AtVoltage> {
    let mut order: Vec<usize> = (0..idle.v_in.len()).collect();
    order.sort_by(|&a, &b| idle.v_in[a].total_cmp(&idle.v_in[b]).then(a.cmp(&b)));
    let mut out = Vec::new();
    let mut first = 0;
    for k in 1..=order.len() {
        // A new group once the voltage has moved by 2 %.
        let closed = k == order.len() || idle.v_in[order[k]] > 1.02 * idle.v_in[order[first]];
        if closed {
            let mut points = order[first..k].to_vec();
            points.sort_unstable();
            let (value, u) = power_of(op, idle, &points, known);
            let n = points.len();
            let v_in = points.iter().map(|&j| idle.v_in[j]).sum::<f64>() / n as f64;
            out.push(AtVoltage { v_in, value, u, n });
            first = k;
        }
    }
    out
}
