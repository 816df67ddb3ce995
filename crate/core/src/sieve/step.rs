//! The step gate: rows of which a part was read before a step and a part after it.

use super::{Input, Mask, Reason, Settings};
use crate::align::factor;
use crate::channel::CHANNELS;

/// Rows inside steps: between the first and the last change of a run of intervals that all change.
///
/// Where every channel changes in one interval, the rows on both sides are whole and stay. Next to a step
/// a change of four noises already belongs to it. `step_hold` takes further rows on each side. A row whose readings are
/// so near to those before or after the step that a product of them is off by no more than `slew_limit` stays.
pub(super) fn steps(input: &Input<'_>, settings: &Settings, masks: &mut [Mask]) {
    const TAIL: f64 = 4.0;
    let readings = input.aligned.readings();
    let hold = settings.step_hold as usize;
    let mut intervals = input.aligned.steps().intervals().map(|entry| entry.0).peekable();
    let changes = |interval: usize| {
        CHANNELS.into_iter().any(|channel| {
            let column = readings.column(channel);
            if column.is_empty() {
                return false;
            }
            let change = (column[interval + 1] - column[interval]).abs();
            change > TAIL * libm::sqrt(2.0) * input.noise.floor[channel.index()]
        })
    };
    for segment in &readings.segments {
        while let Some(first) = intervals.next_if(|&interval| interval < segment.last) {
            let mut last = first;
            while intervals.next_if(|&interval| interval == last + 1).is_some() {
                last += 1;
            }
            let (mut low, mut high) = (first, last);
            if low > segment.first
                && tail(&changes, low, low.checked_sub(1), low.checked_sub(2), segment.first)
            {
                low -= 1;
            }
            let (next, after) = (high + 1, high + 2);
            if next < segment.last && changes(next) && !(after < segment.last && changes(after)) {
                high = next;
            }
            let from = (low + 1).saturating_sub(hold).max(segment.first);
            let to = (high + hold).min(segment.last);
            for (row, mask) in masks.iter_mut().enumerate().take(to + 1).skip(from) {
                let off = distance(input, row, low).min(distance(input, row, high + 1));
                if hold > 0 || off > settings.slew_limit {
                    *mask |= Reason::Step.bit();
                }
            }
        }
    }
}

/// Whether the interval before a step belongs to it: it changes and the one before it does not, so that it is no ramp.
fn tail(
    changes: &impl Fn(usize) -> bool,
    step: usize,
    before: Option<usize>,
    earlier: Option<usize>,
    first: usize,
) -> bool {
    let Some(before) = before.filter(|&before| before < step && before >= first) else { return false };
    changes(before) && !earlier.is_some_and(|earlier| earlier >= first && changes(earlier))
}

/// How far two rows' readings differ beyond their noise, as a share of a product of them.
fn distance(input: &Input<'_>, row: usize, other: usize) -> f64 {
    let readings = input.aligned.readings();
    CHANNELS
        .into_iter()
        .filter(|&channel| readings.has(channel))
        .map(|channel| {
            let (column, noise) = (readings.column(channel), input.noise.floor[channel.index()]);
            let change = (column[row] - column[other]).abs() - 3.0 * libm::sqrt(2.0) * noise;
            let size = factor(readings, channel, row).abs().max(3.0 * noise);
            if size > 0.0 { change.max(0.0) / size } else { 0.0 }
        })
        .sum()
}
