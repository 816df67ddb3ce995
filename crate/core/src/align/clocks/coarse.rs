//! Where two signals may belong together: changes compared at all offsets and at several clock ratios.

use super::series::Series;
use crate::math::stats::{self, QuantileRule};

/// Bins that the longer signal is cut into.
const BINS: usize = 1024;
/// Clock ratios tried: so many steps each way of so much; one step smears by half a bin.
const RATIOS: (i32, f64) = (10, 1e-3);
/// Places that are looked at more closely.
const PLACES: usize = 5;
/// Score below which a place is not looked at, relative to the best one.
const LEAST: f64 = 0.4;

/// A place to start from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Place {
    pub(super) offset: f64,
    pub(super) ratio: f64,
    /// How closely it is known, s.
    pub(super) within: f64,
}

/// The most likely offsets with their clock ratios, best first.
pub(super) fn places(first: &Series, other: &Series, signed: bool) -> Vec<Place> {
    let (Some((a0, a1)), Some((b0, b1))) = (first.ends(), other.ends()) else { return Vec::new() };
    let width = ((a1 - a0).max(b1 - b0) / BINS as f64).max(first.period).max(other.period);
    let a = changes(first, a0, a1, width, 1.0);
    // Best score by whole bins of offset, over the ratios.
    let mut scores: Vec<(f64, i32)> = vec![(0.0, 0); 2 * BINS + 4];
    let zero = BINS + 2;
    let middle = 0.5 * (b0 + b1);
    for step in -RATIOS.0..=RATIOS.0 {
        let ratio = 1.0 + f64::from(step) * RATIOS.1;
        let b = changes(other, b0, b1, width, ratio);
        let size = libm::sqrt(square(&a) * square(&b));
        if size <= 0.0 {
            return Vec::new();
        }
        // Offsets are told at the middle of the other log, so that a ratio does not move them.
        let shift = (ratio - 1.0) * (middle - b0) / width;
        for lag in -(b.len() as isize - 1)..a.len() as isize {
            let from = lag.max(0) as usize;
            let to = (lag + b.len() as isize).clamp(0, a.len() as isize) as usize;
            if to <= from + 16 {
                continue;
            }
            let start = (from as isize - lag) as usize;
            let sum: f64 = a[from..to].iter().zip(&b[start..]).map(|(x, y)| x * y).sum();
            let score = if signed { sum } else { sum.abs() } / size;
            let at = (zero as isize + lag + libm::round(shift) as isize).clamp(0, scores.len() as isize - 1);
            let held = &mut scores[at as usize];
            // A clock that runs alike is likelier: others must be clearly better.
            if score * (1.0 - 0.005 * f64::from(step.abs()))
                > held.0 * (1.0 - 0.005 * f64::from(held.1.abs()))
            {
                *held = (score, step);
            }
        }
    }
    let value = |at: usize| scores.get(at).map_or(0.0, |entry| entry.0);
    let mut peaks: Vec<usize> = (1..scores.len() - 1)
        .filter(|&at| value(at) > 0.0 && value(at) >= value(at - 1) && value(at) > value(at + 1))
        .collect();
    peaks.sort_by(|&x, &y| value(y).total_cmp(&value(x)).then(x.cmp(&y)));
    let most = peaks.first().map_or(0.0, |&at| value(at));
    peaks.retain(|&at| value(at) >= LEAST * most);
    peaks.truncate(PLACES);
    peaks
        .into_iter()
        .map(|at| {
            let ratio = 1.0 + f64::from(scores[at].1) * RATIOS.1;
            // The first log's time that belongs to the middle of the other one.
            let here = a0 + (at as f64 - zero as f64) * width + (middle - b0);
            Place { offset: here - ratio * middle, ratio, within: 1.5 * width }
        })
        .collect()
}

/// Changes from bin to bin of the median, outliers cut down; 0 across bins without rows.
fn changes(series: &Series, start: f64, end: f64, width: f64, ratio: f64) -> Vec<f64> {
    let bins = (libm::ceil((end - start) * ratio / width) as usize).clamp(2, 2 * BINS);
    let mut medians = vec![f64::NAN; bins];
    let mut held: Vec<f64> = Vec::new();
    let mut current = 0;
    let bin_of = |time: f64| (((time - start) * ratio / width) as usize).min(bins - 1);
    for (time, value) in series.time.iter().zip(&series.value) {
        let bin = bin_of(*time);
        if bin != current {
            medians[current] = stats::median(&mut held).unwrap_or(f64::NAN);
            held.clear();
            current = bin;
        }
        held.push(*value);
    }
    medians[current] = stats::median(&mut held).unwrap_or(f64::NAN);
    let mut changes: Vec<f64> = medians
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .map(|change| if change.is_finite() { change } else { 0.0 })
        .collect();
    let mut sizes: Vec<f64> = changes.iter().map(|change| change.abs()).collect();
    let most = 3.0 * stats::quantile(&mut sizes, 0.99, QuantileRule::Linear).unwrap_or(0.0);
    if most > 0.0 {
        changes.iter_mut().for_each(|change| *change = change.clamp(-most, most));
    }
    changes
}

fn square(values: &[f64]) -> f64 {
    values.iter().map(|value| value * value).sum()
}
