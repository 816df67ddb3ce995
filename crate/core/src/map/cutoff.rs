//! Where the converter stops, by the voltage at which its output collapses.

use serde::Serialize;

use crate::fixture::Grade;
use crate::math::small::{median, quantile};
use crate::point::{Rows, each_reading};
use crate::quantity::Quantity;
use crate::sieve::Reason;

/// Under-voltage behaviour seen in a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CutOff {
    /// Last input voltage before the output stopped, V.
    pub voltage: Quantity,
    /// Input voltage at which it started again, V.
    pub restart_voltage: Quantity,
    /// The same cut-off with the source's sag added back, V.
    pub open_circuit: Quantity,
    /// How often it was seen.
    pub times: usize,
    /// Rows around each occurrence.
    #[serde(skip)]
    pub rows: Vec<[usize; 2]>,
}

/// The output counts as stopped below this share of its largest current.
const STOPPED: f64 = 0.02;
/// It stays stopped for more rows than this.
const STAYS: usize = 5;

impl CutOff {
    /// Looks for collapses of the output at the low end of the input voltage.
    ///
    /// A load that is swept or switched to zero is not one: the current must fall within three
    /// rows, at the lowest voltages at which the output runs at all.
    /// **Units** `resistance`: of the source, ohm, where known.
    #[must_use]
    pub fn find(rows: &dyn Rows, resistance: Option<f64>) -> Self {
        let worthless = Reason::Unreadable.bit()
            | Reason::Missing.bit()
            | Reason::OverRange.bit()
            | Reason::Spike.bit()
            | Reason::TimeJump.bit();
        let mut row = Vec::new();
        let mut state = Vec::new();
        let correction = rows.correction();
        each_reading(rows, 0..rows.rows(), |k, reading| {
            if rows.mask(k) & worthless != 0 {
                return;
            }
            let s = correction.apply(reading);
            if s.v_in.is_finite() && s.i_out.is_finite() && s.i_in.is_finite() {
                row.push(k);
                state.push(s);
            }
        });
        let none = Self {
            voltage: Quantity::unknown("not_seen"),
            restart_voltage: Quantity::unknown("not_seen"),
            open_circuit: Quantity::unknown("not_seen"),
            times: 0,
            rows: Vec::new(),
        };
        if state.len() < 20 {
            return none;
        }
        let mut currents: Vec<f64> = state.iter().map(|s| s.i_out).collect();
        let full = quantile(&mut currents, 0.99);
        if full.is_nan() || full <= 0.0 {
            return none;
        }
        let stopped = STOPPED * full;
        let mut running: Vec<f64> =
            state.iter().filter(|s| s.i_out > 2.5 * stopped).map(|s| s.v_in).collect();
        let lowest = quantile(&mut running, 0.001);
        let near = lowest + (0.02 * lowest).max(0.1);
        let mut drops: Vec<(usize, f64, f64)> = Vec::new();
        let mut restarts = Vec::new();
        let mut k = 1;
        while k < state.len() {
            let falls = state[k].i_out < stopped && state[k - 1].i_out >= stopped;
            let stays = state.len() - k > STAYS && state[k..=k + STAYS].iter().all(|s| s.i_out < stopped);
            if !(falls && stays) {
                k += 1;
                continue;
            }
            let before = (k.saturating_sub(4)..k).rfind(|&j| state[j].i_out > 2.5 * stopped);
            let sudden = before.is_some_and(|j| row[k] - row[j] <= 3);
            let end = (k..state.len()).find(|&j| state[j].i_out > 2.5 * stopped);
            if let (Some(j), true) = (before, sudden)
                && state[j].v_in <= near
            {
                drops.push((j, state[j].v_in, state[j].i_in));
                if let Some(end) = end {
                    restarts.push(state[end - 1].v_in.max(lowest));
                }
            }
            k = end.unwrap_or(state.len());
        }
        if drops.is_empty() {
            return none;
        }
        let systematic = {
            let reading = rows.reading(row[drops[0].0]);
            let jacobian = rows.correction().jacobian(reading);
            rows.correction().variance(&jacobian[0]).max(0.0).sqrt()
        };
        let known = rows.correction().grade != Grade::AsLogged;
        let quantity = |values: &mut Vec<f64>, step: f64| -> Quantity {
            let centre = median(values);
            let low = quantile(values, 0.0);
            let high = quantile(values, 1.0);
            // Between two rows the voltage can lie anywhere; over occurrences it scatters.
            let random = libm::hypot(step / 12.0_f64.sqrt(), (high - low) / 12.0_f64.sqrt());
            let u = libm::hypot(random, systematic);
            Quantity { value: Some(centre), u: known.then_some(u), why: None }
        };
        let step = (drops[0].0.max(1)..=drops[0].0)
            .map(|j| (state[j].v_in - state[j - 1].v_in).abs())
            .fold(rows.noise()[0] * 3.0, f64::max);
        let mut volts: Vec<f64> = drops.iter().map(|d| d.1).collect();
        let voltage = quantity(&mut volts, step);
        let restart_voltage =
            if restarts.is_empty() { Quantity::unknown("not_seen") } else { quantity(&mut restarts, step) };
        let open_circuit = match resistance {
            Some(resistance) => {
                let mut open: Vec<f64> = drops.iter().map(|d| d.1 + d.2 * resistance).collect();
                quantity(&mut open, step)
            }
            None => Quantity::unknown("source_resistance_not_known"),
        };
        let span = |j: usize| [row[j.saturating_sub(3)], row[(j + 3).min(row.len() - 1)]];
        Self {
            voltage,
            restart_voltage,
            open_circuit,
            times: drops.len(),
            rows: drops.iter().map(|d| span(d.0)).collect(),
        }
    }
}
