//! The slew gate: rows that change too fast for what is not known of the delays.

use super::{Input, Mask, Reason};
use crate::align::factor;
use crate::channel::{CHANNELS, Readings};

/// Rows on each side that tell the slope.
const HALF: usize = 2;

/// Marks rows in which the remaining uncertainty of the delays may move a product of readings by more
/// than `limit` of it and by more than its noise.
///
/// **Formula** root of the sum over channels of `(x' / x u(d))²`, `x'` from five rows less three of its own noises, and
/// no more than the three rows on either side tell: a row next to a spike or to a step does not move.
/// **Source** first-order propagation of a time error. **Missing data** where the delays' uncertainty is not known
/// nothing is marked.
pub(super) fn slew(input: &Input<'_>, limit: f64, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    let known = CHANNELS.into_iter().any(|channel| input.delays.u[channel.index()].is_some_and(|u| u > 0.0));
    if !known || readings.row_period <= 0.0 {
        return;
    }
    // Slope noise of a straight line through five rows is sigma / sqrt 10 per row, that of the three
    // rows on one side sigma / sqrt 2.
    let noise = |at: usize| input.noise.floor[at] / readings.row_period;
    let slope_noise = |at: usize| 3.0 * noise(at) / libm::sqrt(10.0);
    let side_noise = |at: usize| noise(at) / libm::sqrt(2.0);
    for segment in &readings.segments {
        if segment.last - segment.first < 2 * HALF {
            continue;
        }
        let moving = masks.iter_mut().enumerate().take(segment.last + 1 - HALF).skip(segment.first + HALF);
        for (row, mask) in moving {
            let (mut error, mut noisy) = (0.0, 0.0);
            for channel in CHANNELS {
                let at = channel.index();
                let column = readings.column(channel);
                let Some(u) = input.delays.u[at].filter(|u| *u > 0.0) else { continue };
                if column.is_empty() {
                    continue;
                }
                let moved = (slope(readings, column, row).abs() - slope_noise(at)).max(0.0);
                let sides = one_sided(readings, column, row).map(|side| side.abs() + side_noise(at));
                let moved = moved.min(sides[0]).min(sides[1]);
                let size = factor(readings, channel, row).abs().max(3.0 * input.noise.floor[at]);
                if size > 0.0 {
                    let (off, noise) = (moved / size * u, input.noise.floor[at] / size);
                    error += off * off;
                    noisy += noise * noise;
                }
            }
            if error > limit * limit && error > noisy {
                *mask |= Reason::Slew.bit();
            }
        }
    }
}

/// Slope of a straight line through five rows, per second.
fn slope(readings: &Readings, column: &[f64], row: usize) -> f64 {
    let change = 2.0 * (column[row + 2] - column[row - 2]) + (column[row + 1] - column[row - 1]);
    change / 10.0 / readings.row_period
}

/// Slopes from the two rows before and the two rows after, per second.
fn one_sided(readings: &Readings, column: &[f64], row: usize) -> [f64; 2] {
    [column[row] - column[row - 2], column[row + 2] - column[row]]
        .map(|change| change / 2.0 / readings.row_period)
}
