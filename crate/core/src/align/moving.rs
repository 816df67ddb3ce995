//! How much a row's product of readings changes until the next row: what unknown delays may cost at most.

use super::Noise;
use super::aligned::factor;
use crate::channel::{CHANNELS, Readings};
use crate::math::stats::{QuantileRule, quantile};

/// Intervals looked at, evenly spaced.
const LOOKED_AT: usize = 20_000;
/// Share of the intervals that change by no more than what is given.
const MOST: f64 = 0.9;

/// Relative change of a product of the readings from one row to the next that nine of ten intervals do not exceed.
///
/// **Formula** sum over channels of `|x[n+1] - x[n]| / |x[n]|`, each less three times the noise of a difference.
/// **Source** a delay of a whole row moves a channel by that much; the project's own measure. **Missing data** such
/// intervals are left out; 0 where there are none.
#[must_use]
pub fn change_of_a_row(readings: &Readings, noise: &Noise) -> f64 {
    let rows = readings.rows();
    let stride = rows.div_ceil(LOOKED_AT).max(1);
    let mut changes: Vec<f64> = (0..rows.saturating_sub(1))
        .step_by(stride)
        .map(|row| {
            let one = |channel| {
                let (column, noise) = (readings.column(channel), noise.sigma[channel.index()]);
                let change = (column[row + 1] - column[row]).abs();
                let size = factor(readings, channel, row).abs();
                // A reading within its noise has no size to speak of.
                if size <= 10.0 * noise && change.is_finite() {
                    return 0.0;
                }
                let beyond = change - 3.0 * libm::sqrt(2.0) * noise;
                if beyond < 0.0 { 0.0 } else { beyond / size }
            };
            CHANNELS.into_iter().filter(|&channel| readings.has(channel)).map(one).sum::<f64>()
        })
        .filter(|change| change.is_finite())
        .collect();
    quantile(&mut changes, MOST, QuantileRule::Linear).unwrap_or(0.0)
}
