//! How long a run settles after each change.

use std::ops::Range;

use crate::align::Noise;
use crate::channel::{CHANNELS, Readings};
use crate::math::stats::{self, QuantileRule};

/// Largest part of a stretch that may be dropped.
const MOST: f64 = 0.5;

/// Rows to drop from the start of a stretch so that the mean of the rest is known best.
///
/// **Formula** the number d that makes `sum over channels of the squares about the mean of the rest, over the
/// channel's variance, divided by (n - d)²` smallest. **Source** marginal standard error rule, K. P. White, Simulation 69
/// (1997) 323.
fn dropped(readings: &Readings, noise: &Noise, stretch: &Range<usize>) -> usize {
    let n = stretch.len();
    let most = (n as f64 * MOST) as usize;
    let mut spread = vec![0.0; most + 1];
    for channel in CHANNELS {
        let column = readings.column(channel);
        let sigma = noise.floor[channel.index()];
        if column.is_empty() || sigma <= 0.0 {
            continue;
        }
        let column = &column[stretch.clone()];
        let mut tail: Vec<f64> = column[n / 2..].iter().copied().filter(|x| x.is_finite()).collect();
        let middle = stats::median(&mut tail).unwrap_or(0.0);
        let (mut sum, mut square, mut count) = (0.0, 0.0, 0.0);
        for d in (0..n).rev() {
            let value = (column[d] - middle) / sigma;
            if value.is_finite() {
                // A reading that stands out far is no settling, unless its neighbours do as well.
                let alone = value.abs() > 8.0 && !near_alike(column, d, middle, sigma);
                if !alone {
                    sum += value;
                    square += value * value;
                    count += 1.0;
                }
            }
            if d <= most && count > 1.0 {
                spread[d] += (square - sum * sum / count) / (count * count);
            }
        }
    }
    (0..=most).fold(0, |best, d| if spread[d] < spread[best] { d } else { best })
}

/// Whether a neighbour stands off the same way.
fn near_alike(column: &[f64], at: usize, middle: f64, sigma: f64) -> bool {
    let here = column[at] - middle;
    [at.checked_sub(1), Some(at + 1)].into_iter().flatten().filter_map(|k| column.get(k)).any(|other| {
        let other = other - middle;
        other * here > 0.0 && other.abs() > 3.0 * sigma
    })
}

/// Time that three quarters of the stretches need to settle, s.
pub(super) fn common(readings: &Readings, noise: &Noise, stretches: &[Range<usize>]) -> f64 {
    let mut times: Vec<f64> = stretches
        .iter()
        .map(|stretch| dropped(readings, noise, stretch) as f64 * readings.row_period)
        .collect();
    stats::quantile(&mut times, 0.75, QuantileRule::Linear).unwrap_or(0.0)
}

/// First row of a stretch that is averaged.
pub(super) fn from(
    readings: &Readings,
    noise: &Noise,
    stretch: &Range<usize>,
    settle: f64,
    stated: bool,
) -> usize {
    let rows =
        if readings.row_period > 0.0 { libm::ceil(settle / readings.row_period - 1e-6) as usize } else { 0 };
    if stated {
        return (stretch.start + rows).min(stretch.end);
    }
    let most = (stretch.len() as f64 * MOST) as usize;
    stretch.start + rows.max(dropped(readings, noise, stretch)).min(most)
}
