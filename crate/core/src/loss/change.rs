//! Steps of the loss along the output current, found jointly with the loss model.
//!
//! For every possible place the gain of chi-squared by one further step is known in closed form
//! from the suffix sums. The best place is taken if its gain beats the penalty and if the rows on
//! both sides of it show the same jump by themselves: a smooth misfit of the model does not.

use super::moments::{CAUSES, Moments, Solved};
use crate::math::small::{WIDEST, ZERO, form, inverse};

/// How far on both sides rows are asked to confirm a step, as factors of its current: the first
/// that holds rows at two currents on each side.
const REACH: [f64; 3] = [1.25, 1.7, 2.6];
/// Most steps looked for.
const MOST: usize = 4;

/// A step found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Change {
    /// Bin from which it counts.
    pub(crate) bin: usize,
    /// Interval of output current that holds it with 95 %, A.
    pub(crate) between: [f64; 2],
    /// Gain of chi-squared over the penalty.
    pub(crate) gain: f64,
}

/// Adds steps to the model of `columns` while they pay.
///
/// **Formula** penalty `2 ln N` per step, in units of the reduced chi-squared.
/// **Source** Killick, Fearnhead, Eckley, Journal of the American Statistical Association 107
/// (2012) 1590 for the penalised cost; interval where chi-squared rises by 3.84.
pub(crate) fn search(moments: &Moments, columns: &[usize]) -> Option<(Solved, Vec<Change>)> {
    let mut solved = moments.solve(columns, &[])?;
    let mut places: Vec<usize> = Vec::new();
    let penalty = 2.0 * libm::log(moments.n.max(2) as f64);
    while places.len() < MOST {
        let Some((bin, gain)) = best(moments, &solved) else { break };
        let mut trial: Vec<usize> = places.clone();
        trial.push(bin);
        trial.sort_unstable();
        let Some(mut with) = moments.solve(columns, &trial) else { break };
        // The others may move once one is added.
        for k in 0..trial.len() {
            let mut rest = trial.clone();
            let own = rest.remove(k);
            let Some(without) = moments.solve(columns, &rest) else { continue };
            if let Some((moved, _)) = best(moments, &without)
                && moved != own
            {
                rest.push(moved);
                rest.sort_unstable();
                if let Some(better) = moments.solve(columns, &rest)
                    && better.chi2 < with.chi2
                {
                    with = better;
                    trial = rest;
                }
            }
        }
        let scale = with.reduced(moments.n).max(1e-300) * moments.widening;
        if gain / scale < penalty || !trial.iter().all(|&b| confirmed(moments, &with, b)) {
            break;
        }
        solved = with;
        places = trial;
    }
    let changes = places.iter().map(|&bin| interval(moments, columns, &places, bin)).collect();
    Some((solved, changes))
}

/// Gain of chi-squared by a further step, per bin.
fn gains(moments: &Moments, solved: &Solved) -> Vec<f64> {
    let n = solved.columns.len();
    let total = solved.size();
    let all = moments.suffix[0][0];
    moments
        .suffix
        .iter()
        .enumerate()
        .map(|(bin, sums)| {
            // A step needs a fair share of the weight on both sides.
            if bin == 0 || sums[0] < 1e-3 * all || all - sums[0] < 1e-3 * all {
                return 0.0;
            }
            let mut b = [0.0; WIDEST];
            for (k, &column) in solved.columns.iter().enumerate() {
                b[k] = sums[column];
            }
            let mut residual = moments.residual(sums, solved);
            for (k, &step) in solved.steps.iter().enumerate() {
                let overlap = moments.suffix[step.max(bin)][0];
                b[n + k] = overlap;
                residual -= solved.values[n + k] * overlap;
            }
            let left = sums[0] - form(&solved.inverse, &b, total);
            if left > 1e-6 * sums[0] { residual * residual / left } else { 0.0 }
        })
        .collect()
}

fn best(moments: &Moments, solved: &Solved) -> Option<(usize, f64)> {
    let gains = gains(moments, solved);
    let mut best = (0, 0.0);
    for (bin, &gain) in gains.iter().enumerate() {
        if gain > best.1 {
            best = (bin, gain);
        }
    }
    (best.1 > 0.0).then_some(best)
}

/// Whether two currents at least, 5 % apart, were visited on both sides of a bin.
fn rests(moments: &Moments, bin: usize, reach: f64) -> bool {
    let current = moments.edge(bin);
    let count = |from: usize, to: usize| {
        let (mut count, mut last) = (0, 0.0);
        for (k, _) in moments.bins.iter().enumerate().take(to).skip(from).filter(|(_, sums)| sums[0] > 0.0) {
            if moments.edge(k) > 1.05 * last {
                last = moments.edge(k);
                count += 1;
            }
        }
        count
    };
    count(moments.bin(current / reach), bin) >= 2 && count(bin, moments.bin(current * reach) + 1) >= 2
}

/// Whether the rows on both sides of a step, as near as there are some, show the jump by
/// themselves, above a straight line through them.
fn confirmed(moments: &Moments, solved: &Solved, bin: usize) -> bool {
    let n = solved.columns.len();
    let Some(place) = solved.steps.iter().position(|&step| step == bin) else { return false };
    let jump = solved.values[n + place];
    let current = moments.edge(bin);
    let reach = REACH.into_iter().find(|reach| rests(moments, bin, *reach)).unwrap_or(REACH[0]);
    let mut low = moments.bin(current / reach);
    let mut high = moments.bin(current * reach);
    for &step in &solved.steps {
        if step < bin {
            low = low.max(step);
        }
        if step > bin {
            high = high.min(step - 1);
        }
    }
    let mut a = ZERO;
    let mut right = [0.0; WIDEST];
    let mut loss = [0.0, 0.0];
    for (k, sums) in moments.bins.iter().enumerate().take(high + 1).skip(low) {
        let weight = sums[0];
        // Rows that noise may have carried across tell of the noise: where the load rests at one
        // current its two halves differ by it.
        let blurred = moments.edge(k) < current + 4.0 * moments.blur
            && moments.edge(k + 1) > current - 4.0 * moments.blur;
        if weight <= 0.0 || blurred {
            continue;
        }
        let x = [1.0, sums[2] / weight / current - 1.0, f64::from(u8::from(k >= bin))];
        // What the model leaves once this step is put back in.
        let residual = moments.residual(sums, solved)
            - solved
                .steps
                .iter()
                .enumerate()
                .filter(|(m, step)| *m != place && **step <= k)
                .map(|(m, _)| solved.values[n + m] * weight)
                .sum::<f64>();
        for i in 0..3 {
            right[i] += x[i] * residual;
            for j in 0..3 {
                a[i][j] += weight * x[i] * x[j];
            }
        }
        loss[0] += sums[CAUSES];
        loss[1] += weight;
    }
    let Some(inverse) = inverse(&a, 3) else { return false };
    let local: f64 = (0..3).map(|k| inverse[2][k] * right[k]).sum();
    let u = (inverse[2][2] * solved.reduced(moments.n) * moments.widening).sqrt();
    let typical = (loss[0] / loss[1]).abs();
    local.abs() > 2.0 * u
        && local * jump > 0.0
        && local.abs() > 0.4 * jump.abs()
        && local.abs() < 2.5 * jump.abs()
        && jump.abs() > 0.01 * typical
}

/// Where chi-squared rises by no more than 3.84 when one step moves and the others stay.
fn interval(moments: &Moments, columns: &[usize], places: &[usize], bin: usize) -> Change {
    let rest: Vec<usize> = places.iter().copied().filter(|&b| b != bin).collect();
    let edge = moments.edge(bin);
    let fallback = Change { bin, between: [edge, edge], gain: 0.0 };
    let Some(without) = moments.solve(columns, &rest) else { return fallback };
    let gains = gains(moments, &without);
    let top = gains[bin];
    let reduced = moments.solve(columns, places).map_or(1.0, |s| s.reduced(moments.n)) * moments.widening;
    let limit = top - 3.84 * reduced;
    let mut low = bin;
    while low > 1 && gains[low - 1] >= limit {
        low -= 1;
    }
    let mut high = bin;
    while high + 1 < gains.len() && gains[high + 1] >= limit {
        high += 1;
    }
    // A step at bin k lies above the rows of bin k - 1 and below those of bin k: empty bins on
    // both sides belong to the interval.
    while low > 1 && moments.bins[low - 1][0] <= 0.0 {
        low -= 1;
    }
    while high + 1 < gains.len() && moments.bins[high][0] <= 0.0 {
        high += 1;
    }
    let penalty = 2.0 * libm::log(moments.n.max(2) as f64);
    Change { bin, between: [moments.edge(low), moments.edge(high + 1)], gain: top / reduced - penalty }
}
