//! The spike gate: one reading that stands out from its neighbours in time.

use super::gates::Input;
use super::{Mask, Reason};
use crate::channel::CHANNELS;
use crate::math::stats::MAD_TO_SIGMA;

/// Rows on each side of the window of seven.
const HALF: usize = 3;

/// Marks rows in which a reading lies further from the median of the window than `limit` times the larger of the
/// window's scaled MAD and the channel's noise.
///
/// **Formula** `|x - median| > limit max(1.4826 MAD, sigma)`. **Source** Hampel, J. Amer. Statist.
/// Assoc. 69 (1974) 383; Pearson, IEEE Trans. Control Syst. Technol. 10 (2002) 55. At the ends of a
/// clock's rows the outermost reading is repeated. **Missing data** left out of the window.
pub(super) fn spikes(input: &Input<'_>, limit: f64, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    for channel in CHANNELS {
        let column = readings.column(channel);
        if column.is_empty() {
            continue;
        }
        let noise = input.noise.floor[channel.index()];
        for segment in &readings.segments {
            let column = &column[segment.first..=segment.last];
            let masks = &mut masks[segment.first..=segment.last];
            each_spike(column, HALF, limit, noise, |row| masks[row] |= Reason::Spike.bit());
        }
    }
}

/// Calls `found` with each row whose value stands out; see [`spikes`].
pub(super) fn each_spike(column: &[f64], half: usize, limit: f64, noise: f64, mut found: impl FnMut(usize)) {
    let Some(last) = column.len().checked_sub(1) else { return };
    let mut window = Vec::with_capacity(2 * half + 1);
    for (row, &value) in column.iter().enumerate() {
        // Neighbours on both sides within the noise: no need to sort.
        let before = column[row.saturating_sub(1)];
        let after = column[(row + 1).min(last)];
        let least = limit * noise;
        if (value - before).abs() <= 0.5 * least && (value - after).abs() <= 0.5 * least {
            continue;
        }
        window.clear();
        for place in 0..=2 * half {
            let other = column[(row + place).saturating_sub(half).min(last)];
            if !other.is_nan() {
                window.push(other);
            }
        }
        if value.is_nan() || window.len() < 3 {
            continue;
        }
        let middle = sorted_median(&mut window);
        let distance = (value - middle).abs();
        if distance <= least {
            continue;
        }
        window.iter_mut().for_each(|other| *other = (*other - middle).abs());
        let spread = MAD_TO_SIGMA * sorted_median(&mut window);
        if distance > limit * spread {
            found(row);
        }
    }
}

fn sorted_median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
}
