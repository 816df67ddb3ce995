//! The variance of a weighted sum of rows that may hang together in time.

use super::cell::VISIT_GAP;
use crate::math::small::small_sample;

/// Longest distance in rows over which residuals may hang together.
const LAGS: usize = 12;

/// Variance of a weighted sum of rows that may hang together in time, and the number of independent
/// rows it is worth.
///
/// **Formula** `s^2 (sum l^2 + 2 sum_k rho_k sum l_n l_(n+k))` with s^2 and the correlation rho_k at
/// distance k from the residuals, up to the first k that is not significant; where whole visits
/// scatter more than this allows, the scatter of the visits is used instead. Widened for few
/// degrees of freedom.
/// **Source** JCGM 100:2008 clauses 4.2 and 5.2; common practice for the cut at the first
/// insignificant distance, no source.
pub(crate) fn chained(rows: &[u32], influence: &[f64], residuals: &[f64], freedom: f64) -> (f64, f64) {
    let n = rows.len();
    let mut squares = 0.0;
    let mut weights = 0.0;
    for (l, r) in influence.iter().zip(residuals) {
        squares += l.abs() * r * r;
        weights += l.abs();
    }
    let mut products = [0.0; LAGS + 1];
    let mut cross = [0.0; LAGS + 1];
    let mut pairs = [0usize; LAGS + 1];
    let mut plain = 0.0;
    let mut alone = 0.0;
    for a in 0..n {
        alone += influence[a] * influence[a];
        plain += residuals[a] * residuals[a];
        for b in a + 1..n {
            let lag = (rows[b] - rows[a]) as usize;
            if lag > LAGS {
                break;
            }
            products[lag] += residuals[a] * residuals[b];
            cross[lag] += influence[a] * influence[b];
            pairs[lag] += 1;
        }
    }
    let mut correlation = [0.0; LAGS + 1];
    let mut chain = 1.0;
    for lag in 1..=LAGS {
        if pairs[lag] < 10 || plain <= 0.0 {
            break;
        }
        let count = pairs[lag] as f64;
        let seen = products[lag] / count / (plain / n as f64);
        // Bringing channels to one instant ties neighbours together: the first distance is
        // believed sooner.
        let significant = if lag == 1 { 1.0 } else { 2.0 };
        if seen < significant / count.sqrt() {
            break;
        }
        correlation[lag] = seen;
        chain += 2.0 * seen;
    }
    // The fit follows what hangs together: it takes `chain` times as much of the scatter with it,
    // and of the correlation too.
    let taken = ((n as f64 - freedom).max(0.0) * chain / n as f64).min(0.5);
    let variance = squares / weights.max(1e-300) / (1.0 - taken);
    let mut sum = alone;
    for lag in 1..=LAGS {
        if correlation[lag] > 0.0 {
            let whole = correlation[lag] * (1.0 - taken) + taken;
            sum += 2.0 * whole * cross[lag];
        }
    }
    let widened = small_sample(freedom);
    let mut out = variance * sum * widened * widened;
    let mut visits = 0;
    let (mut clusters, mut part) = (0.0, 0.0);
    for k in 0..n {
        if k == 0 || rows[k] - rows[k - 1] > VISIT_GAP {
            clusters += part * part;
            part = 0.0;
            visits += 1;
        }
        part += influence[k] * residuals[k];
    }
    clusters += part * part;
    if visits >= 6 {
        let count = visits as f64;
        let scatter = clusters * count / (count - 1.0);
        // Upper 0.5 % point of chi-squared per degree of freedom (Wilson and Hilferty 1931).
        let ninth = 2.0 / (9.0 * count);
        let root = 1.0 - ninth + 2.576 * ninth.sqrt();
        if scatter > out * root * root * root {
            let widened = small_sample(count - 1.0);
            out = scatter * widened * widened;
        }
    }
    let effective = if sum > 0.0 { (1.0 / sum).min(n as f64) } else { n as f64 };
    (out, effective)
}
