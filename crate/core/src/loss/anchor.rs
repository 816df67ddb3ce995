//! An asked point on or beside a settled point: that row decides, its neighbours do not.
//!
//! A table of settled points is thin: a fit through neighbours smooths over a step of the loss
//! between them. A row knows its own place as well as its readings are quiet.

use super::model::LossModel;
use crate::map::local::Place;
use crate::map::{Operating, plus, times};

/// Farthest row that speaks for a place, in shares of the output current and of the input voltage.
const NEAR: [f64; 2] = [0.05, 0.03];
/// Share of the loss model's change between row and place that stays in doubt. Judgement.
const DOUBT: f64 = 0.3;

/// What the settled points beside a place say of it, brought there along the loss model.
///
/// **Formula** mean of the rows, each weighted by its variance: noise of its readings, widened to
/// the scatter about the model, and the doubt of the way to the place.
/// **Missing data** `None` without a row near enough or without a model.
pub(super) fn anchored(op: &Operating, model: &LossModel, v_in: f64, i_out: f64) -> Option<Place> {
    let here = model.predict(op, v_in, i_out)?;
    let splits = model.splits();
    let side = |current: f64| splits.iter().filter(|split| **split <= current).count();
    let (mut weights, mut loss, mut v_out, mut low, mut v_weights) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut n = 0;
    let scale = model.row_scale();
    for k in 0..op.len() {
        let away = [op.i_out[k] / i_out - 1.0, op.v_in[k] / v_in - 1.0];
        if away.iter().zip(NEAR).any(|(x, near)| x.abs() > near) || side(op.i_out[k]) != side(i_out) {
            continue;
        }
        let Some(there) = model.predict(op, op.v_in[k], op.i_out[k]) else { continue };
        let shift = here.loss - there.loss;
        let own = op.loss_variance(k) * scale * scale;
        let weight = 1.0 / (own + DOUBT * DOUBT * shift * shift).max(1e-300);
        weights += weight;
        loss += weight * (op.loss(k) + shift);
        let v_shift = here.state.v_out - there.state.v_out;
        let noise = v_out_noise(op, k);
        let v_weight = 1.0 / (noise * noise + DOUBT * DOUBT * v_shift * v_shift).max(1e-300);
        v_weights += v_weight;
        v_out += v_weight * (op.v_out[k] + v_shift);
        low += v_weight * op.v_low[k];
        n += 1;
    }
    if n == 0 {
        return None;
    }
    let (loss, u_loss) = (loss / weights, (1.0 / weights).sqrt());
    let (v_out, u_v_out) = (v_out / v_weights, (1.0 / v_weights).sqrt());
    let p_out = v_out * i_out;
    let p_in = p_out + loss;
    if !(p_out > 0.0 && p_in > 0.0) {
        return None;
    }
    let square = p_in * p_in;
    let u_p_out = u_v_out * i_out;
    let state = crate::fixture::State { v_in, i_in: p_in / v_in, v_out, i_out };
    let jacobian = op.correction.jacobian(op.reading_of(state, low / v_weights));
    let out = times(&jacobian[2], i_out);
    let by_loss = here.sensitivity;
    let efficiency = plus(&times(&out, loss / square), &times(&by_loss, -p_out / square));
    Some(Place {
        v_in,
        i_out,
        efficiency: p_out / p_in,
        loss,
        p_out,
        u_random: [libm::hypot(p_out * u_loss, loss * u_p_out) / square, u_loss, u_p_out],
        sensitivity: [efficiency, by_loss, out],
        // Settled points stand still.
        per_second: [[0.0; 5]; 3],
        n,
        n_effective: n as f64,
        by_rows: true,
        aside: 0.0,
        centre: [v_in, i_out],
    })
}

/// Noise of a row's output voltage, V; a thousandth where none is known.
fn v_out_noise(op: &Operating, k: usize) -> f64 {
    if !op.noise_known() {
        return 1e-3 * op.v_out[k];
    }
    let gain = &op.correction.values;
    libm::hypot(op.noise[1] / gain[1], op.noise[2] / gain[2])
}
