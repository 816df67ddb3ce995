//! Energy over the run, and whether the map closes on it.

use serde::Serialize;

use super::Map;
use super::operating::{BLOCK, Operating};
use crate::math::small::median;
use crate::quantity::Quantity;

/// Energy over the operating stretches of a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Energy {
    /// Into the converter, J; `None` without a time column.
    pub p_in: Option<f64>,
    /// Out of the converter, J.
    pub p_out: Option<f64>,
    /// Energy efficiency along the map's cells over the measured one: 1 closes.
    pub map_closure: Quantity,
}

/// Integrates over neighbouring operating rows by the trapezoid rule; gaps are left out.
#[must_use]
pub fn energy(op: &Operating, map: &Map) -> Energy {
    let mut periods: Vec<f64> = (1..op.len())
        .filter(|&k| op.row[k] - op.row[k - 1] == 1)
        .map(|k| op.time[k] - op.time[k - 1])
        .filter(|t| *t > 0.0)
        .collect();
    let period = median(&mut periods);
    if period.is_nan() || period <= 0.0 {
        return Energy { p_in: None, p_out: None, map_closure: Quantity::unknown("no_time") };
    }
    let mut value = vec![None; map.grid.cells()];
    for (cell, (efficiency, place)) in map.efficiency.iter().zip(&map.places).enumerate() {
        value[*place] = Some((efficiency.value, cell));
    }
    let mut totals = [0.0; 4];
    let mut block = [0.0; 4];
    let mut weights = vec![0.0; map.efficiency.len()];
    let mut current = 0;
    for k in 1..op.len() {
        let which = op.row[k] as usize / BLOCK;
        if which != current {
            for (total, part) in totals.iter_mut().zip(&mut block) {
                *total += *part;
                *part = 0.0;
            }
            current = which;
        }
        let time = op.time[k] - op.time[k - 1];
        if time.is_nan() || time <= 0.0 || time > 5.0 * period || op.row[k] - op.row[k - 1] > 5 {
            continue;
        }
        let p_in = 0.5 * (op.p_in(k) + op.p_in(k - 1)) * time;
        let p_out = 0.5 * (op.p_out(k) + op.p_out(k - 1)) * time;
        block[0] += p_in;
        block[1] += p_out;
        let cell = map.grid.cell(op.v_in[k], op.i_out[k]).and_then(|cell| value[cell]);
        if let Some((efficiency, place)) = cell {
            block[2] += p_in;
            block[3] += p_out / efficiency;
            weights[place] += p_out / efficiency;
        }
    }
    for (total, part) in totals.iter_mut().zip(&block) {
        *total += *part;
    }
    let map_closure = if totals[2] > 0.0 {
        let mut variance = 0.0;
        for (weight, cell) in weights.iter().zip(&map.efficiency) {
            let u = weight / totals[3] * cell.u_random.unwrap_or(0.0) / cell.value;
            variance += u * u;
        }
        Quantity::new(totals[2] / totals[3], variance.sqrt())
    } else {
        Quantity::unknown("no_rows")
    };
    Energy { p_in: Some(totals[0]), p_out: Some(totals[1]), map_closure }
}
