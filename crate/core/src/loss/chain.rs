//! How far the rows' residuals hang together, and what a loss model misses beyond noise.

use super::moments::{CAUSES, Moments, causes};
use crate::map::Operating;

/// Distances in rows that belong to the readings themselves (bringing channels to one instant ties
/// neighbours together).
const NEAR: usize = 6;
/// Distances at which only what the model misses is left.
const FAR: [usize; 3] = [9, 12, 15];

/// What the residuals of a loss model show.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Chain {
    /// Widening of a variance by neighbouring rows that hang together, at least 1.
    pub(crate) widening: f64,
    /// Variance that the model misses smoothly, W^2.
    pub(crate) missed: f64,
}

/// Serial correlation of the residuals of the model with these coefficients.
///
/// **Formula** `1 + 2 sum_k (rho_k - rho_far)/(1 - rho_far)` over distances 1 to 6, up to the first
/// that is not significant; rho_far is the mean at 9, 12 and 15 rows: a smooth misfit.
pub(crate) fn chain(
    op: &Operating,
    moments: &Moments,
    columns: &[usize],
    values: &[f64],
    steps: &[usize],
) -> Chain {
    let none = Chain { widening: 1.0, missed: 0.0 };
    let n = op.len();
    if n < 100 {
        return none;
    }
    let mut coefficient = [0.0; CAUSES];
    for (&column, &value) in columns.iter().zip(values) {
        coefficient[column] = value;
    }
    let edges: Vec<f64> = steps.iter().map(|&step| moments.edge(step)).collect();
    let jumps = &values[columns.len()..];
    let mut scaled = Vec::with_capacity(n);
    let (mut variance, mut squares) = (0.0, 0.0);
    for k in 0..n {
        let x = causes(op.v_in[k], op.i_out[k], op.i_in[k]);
        let mut r = op.loss(k);
        for (a, b) in coefficient.iter().zip(x) {
            r -= a * b;
        }
        for (edge, jump) in edges.iter().zip(jumps) {
            if op.i_out[k] >= *edge {
                r -= jump;
            }
        }
        let own = op.loss_variance(k);
        let sigma = if own > 0.0 { own.sqrt() } else { 1.0 };
        variance += if own > 0.0 { own } else { 1.0 };
        // A stray row must not decide.
        let e = (r / sigma).clamp(-8.0, 8.0);
        squares += e * e;
        scaled.push(e);
    }
    let mean = squares / n as f64;
    if mean.is_nan() || mean <= 0.0 {
        return none;
    }
    let product = |lag: usize| -> (f64, f64) {
        let (mut sum, mut count) = (0.0, 0.0);
        let mut b = 0;
        for a in 0..n {
            let wanted = op.row[a] + lag as u32;
            while b < n && op.row[b] < wanted {
                b += 1;
            }
            if b < n && op.row[b] == wanted {
                sum += scaled[a] * scaled[b];
                count += 1.0;
            }
        }
        (sum, count)
    };
    let (mut far, mut count) = (0.0, 0.0);
    for lag in FAR {
        let (sum, pairs) = product(lag);
        far += sum;
        count += pairs;
    }
    if count < 30.0 {
        return none;
    }
    let mut rho_far = far / count / mean;
    if rho_far < 2.0 / count.sqrt() {
        rho_far = 0.0;
    }
    let rho_far = rho_far.min(0.9);
    let mut widening = 1.0;
    for lag in 1..=NEAR {
        let (sum, pairs) = product(lag);
        if pairs < 30.0 {
            break;
        }
        let rho = (sum / pairs / mean - rho_far) / (1.0 - rho_far);
        if rho < 2.0 / pairs.sqrt() {
            break;
        }
        widening += 2.0 * rho;
    }
    Chain { widening, missed: rho_far * mean * variance / n as f64 }
}
