//! The slew gate: rows that change too fast for what is not known of the delays.

use super::gates::Input;
use super::{Mask, Reason};
use crate::channel::{CHANNELS, Readings};

/// Rows on each side that tell the slope.
const HALF: usize = 2;

/// Marks rows in which the remaining uncertainty of the delays may move a product of readings by more
/// than `limit` of it.
///
/// **Formula** `sum over channels of |x'| / |x| u(d)`, `x'` from five rows less three of its own noises.
/// **Source** first-order propagation of a time error. **Missing data** where the delays' uncertainty is not known
/// nothing is marked.
pub(super) fn slew(input: &Input<'_>, limit: f64, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    let known = CHANNELS.into_iter().any(|channel| input.delays.u[channel.index()].is_some_and(|u| u > 0.0));
    if !known || readings.row_period <= 0.0 {
        return;
    }
    // Slope noise of a straight line through five rows is sigma / sqrt 10 per row.
    let slope_noise = |at: usize| 3.0 * input.noise.floor[at] / libm::sqrt(10.0) / readings.row_period;
    for segment in &readings.segments {
        if segment.last - segment.first < 2 * HALF {
            continue;
        }
        for row in segment.first + HALF..=segment.last - HALF {
            let mut error = 0.0;
            for channel in CHANNELS {
                let at = channel.index();
                let column = readings.column(channel);
                let Some(u) = input.delays.u[at].filter(|u| *u > 0.0) else { continue };
                if column.is_empty() {
                    continue;
                }
                let moved = (slope(readings, column, row).abs() - slope_noise(at)).max(0.0);
                let size = column[row].abs().max(3.0 * input.noise.floor[at]);
                if moved > 0.0 && size > 0.0 {
                    error += moved / size * u;
                }
            }
            if error > limit {
                masks[row] |= Reason::Slew.bit();
            }
        }
    }
}

/// Slope of a straight line through five rows, per second.
fn slope(readings: &Readings, column: &[f64], row: usize) -> f64 {
    let change = 2.0 * (column[row + 2] - column[row - 2]) + (column[row + 1] - column[row - 1]);
    change / 10.0 / readings.row_period
}
