//! Weighted, robust regression with normal priors on its coefficients.

use crate::math::small::{Square, WIDEST, ZERO, apply, form, inverse};

/// Columns: 1, b, b^2, a, ab, a^2 with a and b the scaled distances in V_A and I_o.
pub(crate) const COLUMNS: usize = 6;
/// Rounds of the robust fit.
const ROUNDS: usize = 3;

/// One row near the point.
pub(crate) struct Near {
    pub(crate) point: u32,
    pub(crate) weight: f64,
    pub(crate) columns: [f64; COLUMNS],
}

/// A fitted response: coefficients by column, and for every row its share in the value at the point
/// and what the fit leaves of it.
pub(crate) struct Fit {
    pub(crate) coefficients: [f64; WIDEST],
    pub(crate) influence: Vec<f64>,
    pub(crate) residuals: Vec<f64>,
    pub(crate) prior_variance: f64,
    pub(crate) freedom: f64,
}

/// Weighted fit with priors; the noise is found from the residuals, rows far out count less.
pub(crate) fn regress(
    near: &[Near],
    y: &[f64],
    active: &[usize],
    prior: [f64; COLUMNS],
    first_variance: f64,
) -> Option<Fit> {
    let n = active.len();
    let mut variance = first_variance;
    let mut trust = vec![1.0; near.len()];
    let mut out = None;
    for round in 0..ROUNDS {
        let mut normal = ZERO;
        let mut right = [0.0; WIDEST];
        for ((row, &y), &trust) in near.iter().zip(y).zip(&trust) {
            let w = row.weight * trust / variance;
            for (i, &p) in active.iter().enumerate() {
                let wx = w * row.columns[p];
                right[i] += wx * y;
                for (j, &q) in active.iter().enumerate().take(i + 1) {
                    normal[i][j] += wx * row.columns[q];
                }
            }
        }
        let data = mirror(&normal, n);
        let mut full = data;
        for (i, &p) in active.iter().enumerate() {
            if prior[p].is_finite() {
                full[i][i] += 1.0 / (prior[p] * prior[p]);
            }
        }
        let covariance = inverse(&full, n)?;
        let solution = apply(&covariance, &right, n);
        let mut residuals = Vec::with_capacity(near.len());
        let (mut squares, mut weights, mut counted) = (0.0, 0.0, 0.0);
        for (row, &y) in near.iter().zip(y) {
            let mut r = y;
            for (i, &p) in active.iter().enumerate() {
                r -= solution[i] * row.columns[p];
            }
            residuals.push(r);
        }
        for ((row, r), trust) in near.iter().zip(&residuals).zip(&trust) {
            squares += row.weight * trust * r * r;
            weights += row.weight * trust;
            counted += trust;
        }
        let used: f64 = (0..n).map(|i| (0..n).map(|j| covariance[i][j] * data[j][i]).sum::<f64>()).sum();
        let freedom = (counted - used).max(1.0);
        if round + 1 == ROUNDS {
            let mut influence = Vec::with_capacity(near.len());
            for (row, trust) in near.iter().zip(&trust) {
                let mut sum = 0.0;
                for (i, &p) in active.iter().enumerate() {
                    sum += covariance[0][i] * row.columns[p];
                }
                influence.push(sum * row.weight * trust / variance);
            }
            let mut coefficients = [0.0; WIDEST];
            for (i, &p) in active.iter().enumerate() {
                coefficients[p] = solution[i];
            }
            out = Some(Fit {
                coefficients,
                influence,
                residuals,
                prior_variance: prior_part(&covariance, active, &prior, n),
                freedom,
            });
            break;
        }
        variance = (squares / weights * counted / freedom).max(1e-6 * first_variance);
        let limit = 3.5 * variance.sqrt();
        for (trust, r) in trust.iter_mut().zip(&residuals) {
            *trust = if r.abs() > limit { limit / r.abs() } else { 1.0 };
        }
    }
    out
}

fn mirror(lower: &Square, n: usize) -> Square {
    let mut out = *lower;
    for i in 0..n {
        for j in 0..i {
            out[j][i] = lower[i][j];
        }
    }
    out
}

/// Part of the variance at the centre that comes from the priors' widths.
fn prior_part(covariance: &Square, active: &[usize], prior: &[f64; COLUMNS], n: usize) -> f64 {
    let mut weight = ZERO;
    for (i, &p) in active.iter().enumerate() {
        if prior[p].is_finite() {
            weight[i][i] = 1.0 / (prior[p] * prior[p]);
        }
    }
    form(&weight, &covariance[0], n)
}
