//! The best efficiency, from a fit over the broad top instead of the luckiest row.

use serde::Serialize;

use crate::fixture::State;
use crate::map::{Levels, Map, Operating};
use crate::math::small::{WIDEST, ZERO, apply, form, inverse};
use crate::quantity::Quantity;

/// The best efficiency of a run and where it lies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Peak {
    /// Efficiency at the top.
    pub efficiency: Quantity,
    /// Input voltage, V.
    pub v_in: Quantity,
    /// Output current, A.
    pub i_out: Quantity,
    /// Lowest output current within 0.2 points of it, A.
    pub i_from: Option<f64>,
    /// Highest output current within 0.2 points of it, A.
    pub i_to: Option<f64>,
    /// Random part of the efficiency's `u`.
    #[serde(skip)]
    pub u_random: Option<f64>,
}

/// Drop below the peak that still counts as the top, as a fraction.
const TOP: f64 = 0.002;

impl Peak {
    fn unknown(why: &'static str) -> Self {
        Self {
            efficiency: Quantity::unknown(why),
            v_in: Quantity::unknown(why),
            i_out: Quantity::unknown(why),
            i_from: None,
            i_to: None,
            u_random: None,
        }
    }
}

/// The peak over the whole map: each column of cells is fitted on its own, the best fit wins.
///
/// **Units** `splits`: output currents at which the loss steps, A.
#[must_use]
pub fn peak(op: &Operating, map: &Map, levels: &Levels, splits: &[f64]) -> Peak {
    if levels.count > 1 {
        return best_level(op, map, levels);
    }
    let mut columns = vec![Vec::new(); map.grid.columns()];
    for k in 0..op.len() {
        if let Some(column) = map.grid.column(op.v_in[k]) {
            columns[column].push(k as u32);
        }
    }
    let found: Vec<Peak> = columns
        .iter()
        .map(|points| peak_of(op, points, splits))
        .filter(|peak| peak.efficiency.value.is_some())
        .collect();
    // A column with few rows must not win by luck.
    let least = found.iter().filter_map(|p| p.u_random).fold(f64::INFINITY, f64::min);
    found
        .into_iter()
        .filter(|p| p.u_random.is_some_and(|u| u <= (4.0 * least).max(2e-4)))
        .max_by(|a, b| {
            let value = |p: &Peak| p.efficiency.value.unwrap_or(0.0);
            value(a).total_cmp(&value(b))
        })
        .unwrap_or_else(|| Peak::unknown("too_few_rows"))
}

fn best_level(op: &Operating, map: &Map, levels: &Levels) -> Peak {
    let best = map
        .efficiency
        .iter()
        .filter(|cell| cell.level.is_some() && !cell.thin)
        .max_by(|a, b| a.value.total_cmp(&b.value));
    let Some(cell) = best else { return Peak::unknown("too_few_rows") };
    let current = cell.level.and_then(|level| levels.currents.get(level).copied());
    Peak {
        efficiency: Quantity { value: Some(cell.value), u: cell.u, why: None },
        v_in: axis(op, cell.v_in, 0),
        i_out: axis(op, cell.i_out, 3),
        i_from: current,
        i_to: current,
        u_random: cell.u_random,
    }
}

/// An axis value with the fixture's uncertainty of that axis at a typical row.
fn axis(op: &Operating, value: f64, which: usize) -> Quantity {
    let k = op.len() / 2;
    let state = State { v_in: op.v_in[k], i_in: op.i_in[k], v_out: op.v_out[k], i_out: op.i_out[k] };
    let jacobian = op.correction.jacobian(op.reading_of(state, op.v_low[k]));
    let u = op.correction.variance(&jacobian[which]).max(0.0).sqrt();
    Quantity { value: Some(value), u: op.accuracy_known().then_some(u), why: None }
}

/// The peak among the rows between two input voltages, V: a cubic in ln I_o over the top, on one
/// side of any step of the loss.
#[must_use]
pub fn peak_between(op: &Operating, v_in: [f64; 2], splits: &[f64]) -> Peak {
    let points: Vec<u32> =
        (0..op.len()).filter(|&k| op.v_in[k] >= v_in[0] && op.v_in[k] < v_in[1]).map(|k| k as u32).collect();
    peak_of(op, &points, splits)
}

fn peak_of(op: &Operating, points: &[u32], splits: &[f64]) -> Peak {
    let Some(highest) = rough_top(op, points) else { return Peak::unknown("too_few_rows") };
    let mut side = [highest / 2.8, highest * 2.8];
    for &split in splits {
        if split <= highest {
            side[0] = side[0].max(split * 1.02);
        } else {
            side[1] = side[1].min(split / 1.02);
        }
    }
    let points: Vec<usize> = points
        .iter()
        .map(|&k| k as usize)
        .filter(|&k| op.i_out[k] >= side[0] && op.i_out[k] <= side[1])
        .collect();
    if points.len() < 12 {
        return Peak::unknown("too_few_rows");
    }
    let centre = libm::log(highest);
    let columns = |x: f64| {
        let s = x - centre;
        let mut row = [0.0; WIDEST];
        row[..4].copy_from_slice(&[1.0, s, s * s, s * s * s]);
        row
    };
    let mut a = ZERO;
    let mut right = [0.0; WIDEST];
    let mut reach = [f64::INFINITY, f64::NEG_INFINITY];
    let noise_known = op.noise_known();
    let weight = |k: usize| {
        let p_in = op.p_in(k);
        if noise_known { p_in * p_in / op.loss_variance(k) } else { p_in * p_in }
    };
    for &k in &points {
        let x = libm::log(op.i_out[k]);
        reach = [reach[0].min(x), reach[1].max(x)];
        let row = columns(x);
        let w = weight(k);
        let y = op.p_out(k) / op.p_in(k);
        for i in 0..4 {
            right[i] += w * row[i] * y;
            for j in 0..4 {
                a[i][j] += w * row[i] * row[j];
            }
        }
    }
    let Some(inverse) = inverse(&a, 4) else { return Peak::unknown("too_few_currents") };
    let fit = apply(&inverse, &right, 4);
    let value = |x: f64| {
        let row = columns(x);
        (0..4).map(|k| fit[k] * row[k]).sum::<f64>()
    };
    let mut chi2 = 0.0;
    for &k in &points {
        let r = op.p_out(k) / op.p_in(k) - value(libm::log(op.i_out[k]));
        chi2 += weight(k) * r * r;
    }
    let scale = chi2 / (points.len() - 4) as f64;
    let steps = 400;
    let place = |k: usize| reach[0] + (reach[1] - reach[0]) * k as f64 / f64::from(steps);
    let mut top = 0;
    for k in 1..=steps as usize {
        if value(place(k)) > value(place(top)) {
            top = k;
        }
    }
    let best = value(place(top));
    let mut from = top;
    while from > 0 && value(place(from - 1)) >= best - TOP {
        from -= 1;
    }
    let mut to = top;
    while to < steps as usize && value(place(to + 1)) >= best - TOP {
        to += 1;
    }
    let current = libm::exp(place(top));
    let u_random = (form(&inverse, &columns(place(top)), 4) * scale).sqrt();
    // State at the top, from the rows near it.
    let mut sums = [0.0; 4];
    let mut slope = [0.0; 5];
    for &k in &points {
        let s = libm::log(op.i_out[k]) - place(top);
        if s.abs() < 0.2 {
            for (sum, x) in sums.iter_mut().zip([1.0, op.v_in[k], op.v_out[k], op.v_low[k]]) {
                *sum += x;
            }
            if !op.doubt.is_none() {
                slope.iter_mut().zip(op.slope(k)).for_each(|(sum, own)| *sum += own);
            }
        }
    }
    let (volts, v_out, low) = (sums[1] / sums[0], sums[2] / sums[0], sums[3] / sums[0]);
    let state = State { v_in: volts, i_in: v_out * current / best / volts, v_out, i_out: current };
    let reading = op.reading_of(state, low);
    let sensitivity = op.correction.sensitivity(reading);
    let delays = op.doubt.variance(&op.per_second(&sensitivity, slope.map(|sum| sum / sums[0])));
    let systematic = (op.correction.variance(&sensitivity).max(0.0) + delays).sqrt() * best;
    let known = op.accuracy_known();
    // The top is flat: its place is known to where the curve falls by its own uncertainty.
    let curvature = (value(place(top) + 0.1) + value(place(top) - 0.1) - 2.0 * best) / 0.01;
    let u_place = if curvature < 0.0 { (2.0 * u_random / -curvature).sqrt() * current } else { current };
    Peak {
        efficiency: Quantity {
            value: Some(best),
            u: known.then(|| libm::hypot(u_random, systematic)),
            why: None,
        },
        v_in: axis(op, volts, 0),
        i_out: Quantity { value: Some(current), u: known.then_some(u_place), why: None },
        i_from: Some(libm::exp(place(from))),
        i_to: Some(libm::exp(place(to))),
        u_random: Some(u_random),
    }
}

/// Output current of the best of sixteen groups of equal size, by ratio of sums.
///
/// Evenly taken rows will do to find it.
fn rough_top(op: &Operating, points: &[u32]) -> Option<f64> {
    if points.len() < 24 {
        return None;
    }
    let mut sorted: Vec<(f64, usize)> = points
        .iter()
        .step_by(points.len().div_ceil(4000))
        .map(|&k| (op.i_out[k as usize], k as usize))
        .collect();
    sorted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let groups = 16.min(sorted.len() / 6).max(2);
    let mut best = (0.0, 0.0);
    for group in 0..groups {
        let part = &sorted[group * sorted.len() / groups..(group + 1) * sorted.len() / groups];
        let (mut p_in, mut p_out, mut current) = (0.0, 0.0, 0.0);
        for &(i, k) in part {
            p_in += op.p_in(k);
            p_out += op.p_out(k);
            current += i;
        }
        if p_out / p_in > best.0 {
            best = (p_out / p_in, current / part.len() as f64);
        }
    }
    Some(best.1)
}
