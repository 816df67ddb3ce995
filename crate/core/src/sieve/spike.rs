//! The spike gate: one reading that stands out from its neighbours in time.

use super::{Input, Mask, Reason};
use crate::channel::CHANNELS;
use crate::math::stats::MAD_TO_SIGMA;

/// Rows on each side of the window of seven.
const HALF: usize = 3;

/// Marks rows in which a reading lies further from the median of the window than `limit` times the larger of the
/// window's scaled MAD and the channel's noise; on a ramp, where the window spreads by the ramp itself, those that leave
/// the straight lines of both sides.
///
/// **Formula** `|x - median| > limit max(1.4826 MAD, sigma)`. **Source** Hampel, J. Amer. Statist.
/// Assoc. 69 (1974) 383; Pearson, IEEE Trans. Control Syst. Technol. 10 (2002) 55. Windows
/// shrink at the ends of a clock's rows. **Missing data** left out of the window.
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
            each_lone(column, limit, noise, |row| masks[row] |= Reason::Spike.bit());
        }
    }
}

/// Rows whose value stands out from the `2 half + 1` values around it; see the gate's formula. Windows shrink
/// at the ends.
///
/// A value that agrees with both its neighbours to half the smallest distance that counts is no spike, whatever the
/// others are. **Missing data** `NaN` is left out of windows and never stands out.
#[must_use]
pub fn standing_out(column: &[f64], half: usize, limit: f64, noise: f64) -> Vec<usize> {
    let mut rows = Vec::new();
    each_spike(column, half, limit, noise, |row| rows.push(row));
    rows
}

fn each_spike(column: &[f64], half: usize, limit: f64, noise: f64, mut found: impl FnMut(usize)) {
    let mut window = Vec::with_capacity(2 * half + 1);
    let least = limit * noise;
    for (row, &value) in column.iter().enumerate() {
        let near = |other: Option<&f64>| other.is_none_or(|other| (value - other).abs() <= 0.5 * least);
        let before = row.checked_sub(1).and_then(|before| column.get(before));
        if value.is_nan() || near(before) && near(column.get(row + 1)) {
            continue;
        }
        let around = row.saturating_sub(half)..(row + half + 1).min(column.len());
        window.clear();
        window.extend(column[around].iter().copied().filter(|other| !other.is_nan()));
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

/// Readings that leave the straight line through the two before them, the one through the two after them, and the mean of
/// both neighbours, all to the same side and alike.
///
/// **Formula** with `d = x[n] - (x[n-1] + x[n+1]) / 2`: `|d| > limit sqrt 6 sigma`, and both
/// `x[n] - 2 x[n±1] + x[n±2]` between `d / 2` and `3 d / 2`. The noise of the latter is `sqrt 6 sigma`. In a
/// smooth bend they have the other sign, at a corner or a step one of them is 0. **Source** the project's own.
/// **Missing data** nothing is told next to a missing reading.
fn each_lone(column: &[f64], limit: f64, noise: f64, mut found: impl FnMut(usize)) {
    let least = limit * libm::sqrt(6.0) * noise;
    for (first, five) in column.windows(5).enumerate() {
        let &[far_before, before, here, after, far_after] = five else { continue };
        let off = here - 0.5 * (before + after);
        if off.is_nan() || off.abs() <= least {
            continue;
        }
        let alike = |side: f64| (0.5..=1.5).contains(&(side / off));
        if alike(here - 2.0 * before + far_before) && alike(here - 2.0 * after + far_after) {
            found(first + 2);
        }
    }
}

fn sorted_median(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let half = values.len() / 2;
    if values.len() % 2 == 1 { values[half] } else { 0.5 * (values[half - 1] + values[half]) }
}
