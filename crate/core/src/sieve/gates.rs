//! The gates: each sets one bit of the rows it concerns, whatever the others say.

use super::spike::spikes;
use super::{Input, Mask, Reason, Settings};
use crate::align::Noise;
use crate::channel::{CHANNELS, Channel, MarkKind, SegmentStart};
use crate::math::stats::{self, QuantileRule};

/// Reasons of every row from all gates but the sieve.
///
/// **Shape** one mask per row. **Units** see [`Settings`].
#[must_use]
pub fn gates(input: &Input<'_>, settings: &Settings) -> Vec<Mask> {
    let mut masks = Vec::new();
    for part in 0..GATE_PARTS {
        gates_part(input, settings, part, &mut masks);
    }
    masks
}

/// Parts in which the gates can be applied one after another.
pub const GATE_PARTS: usize = 5;

/// One part of [`gates()`]; **shape** `masks` is empty before the first part and then kept.
pub fn gates_part(input: &Input<'_>, settings: &Settings, part: usize, masks: &mut Vec<Mask>) {
    // In a table of settled points neither second differences nor the smallest change tell of noise.
    let quiet = Noise::default();
    let input = &Input { noise: if input.settled { &quiet } else { input.noise }, ..*input };
    let on = settings.gates;
    let moving = !input.settled;
    match part {
        0 => {
            *masks = vec![0; input.aligned.rows()];
            missing(input, masks);
            if on.over_range {
                over_range(input, settings, masks);
            }
            if on.time_jump && moving {
                time_jumps(input, masks);
            }
            if on.sign {
                signs(input, masks);
            }
        }
        1 => {
            if on.step && moving {
                super::step::steps(input, settings, masks);
            }
            if on.unaligned && moving {
                unaligned(input, settings.slew_limit, masks);
            }
        }
        2 if on.slew && moving => super::slew::slew(input, settings.slew_limit, masks),
        3 if on.spike && moving => spikes(input, settings.spike_limit, masks),
        4 => {
            if on.settling && moving && settings.settle > 0.0 {
                settling(input, settings.settle, masks);
            }
            if on.off {
                off(input, settings.off_below, masks);
            }
            if let Some(limit) = settings.supply_limit.filter(|_| on.supply_limit) {
                supply_limit(input, limit, masks);
            }
            set_runs(masks, &settings.remove, Reason::ByHand);
            set_runs(masks, &settings.keep, Reason::KeptByHand);
        }
        _ => {}
    }
}

/// Sets a reason on inclusive runs of rows; rows beyond the end are passed over.
pub fn set_runs(masks: &mut [Mask], runs: &[[usize; 2]], reason: Reason) {
    for &[first, last] in runs {
        let end = last.saturating_add(1).min(masks.len());
        for mask in masks.iter_mut().take(end).skip(first) {
            *mask |= reason.bit();
        }
    }
}

/// Rows without a needed value: as marked in reading, else missing. No switch: there is nothing to use.
fn missing(input: &Input<'_>, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    for mark in &readings.marks {
        let reason = match mark.kind {
            MarkKind::Unreadable => Reason::Unreadable,
            MarkKind::OverRange => Reason::OverRange,
        };
        if let Some(mask) = masks.get_mut(mark.row as usize) {
            *mask |= reason.bit();
        }
    }
    for channel in CHANNELS {
        for (mask, value) in masks.iter_mut().zip(readings.column(channel)) {
            if !value.is_finite() && *mask == 0 {
                *mask = Reason::Missing.bit();
            }
        }
    }
}

/// Readings within two codes of a stated end, or a largest value held for four rows by a channel whose noise
/// would not hold it.
fn over_range(input: &Input<'_>, settings: &Settings, masks: &mut [Mask]) {
    const HELD: usize = 4;
    let readings = input.aligned.readings();
    for channel in CHANNELS {
        let column = readings.column(channel);
        let (at, bit) = (channel.index(), Reason::OverRange.bit());
        let code = readings.resolution[at];
        if let Some(end) = settings.range[at] {
            for (mask, &value) in masks.iter_mut().zip(column) {
                if value.abs() >= end.abs() - 2.0 * code {
                    *mask |= bit;
                }
            }
        }
        if code <= 0.0 || input.noise.sigma[at] < code {
            continue;
        }
        let largest = column.iter().copied().filter(|value| value.is_finite()).fold(0.0, f64::max);
        let mut run = 0;
        for row in 0..=column.len() {
            if row < column.len() && column[row] == largest && largest > 0.0 {
                run += 1;
                continue;
            }
            if run >= HELD {
                masks[row - run..row].iter_mut().for_each(|mask| *mask |= bit);
            }
            run = 0;
        }
    }
}

/// Rows whose time repeats, and the first row after a restart or a gap.
fn time_jumps(input: &Input<'_>, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    for segment in &readings.segments {
        if segment.start != SegmentStart::Start {
            masks[segment.first] |= Reason::TimeJump.bit();
        }
        let times = &readings.time[segment.first..=segment.last];
        for (at, pair) in times.windows(2).enumerate() {
            if pair[1] <= pair[0] {
                masks[segment.first + at + 1] |= Reason::TimeJump.bit();
            }
        }
    }
}

/// Input and output voltage and both currents below zero by more than three noises and 2 % of the largest reading in
/// the same unit, which leaves room for offsets: readings are not corrected yet.
fn signs(input: &Input<'_>, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    for group in [[Channel::VIn, Channel::VOutHigh], [Channel::IIn, Channel::IOut]] {
        let top = group.iter().fold(0.0_f64, |top, &channel| top.max(top_of(readings.column(channel))));
        for channel in group {
            let limit = (3.0 * input.noise.floor[channel.index()]).max(0.02 * top);
            for (mask, &value) in masks.iter_mut().zip(readings.column(channel)) {
                if value < -limit {
                    *mask |= Reason::Sign.bit();
                }
            }
        }
    }
}

/// The 99.5 % quantile of a column; 0 without values.
fn top_of(column: &[f64]) -> f64 {
    let mut sample = stats::even_sample(column, 65_536);
    stats::quantile(&mut sample, 0.995, QuantileRule::Linear).unwrap_or(0.0)
}

fn unaligned(input: &Input<'_>, limit: f64, masks: &mut [Mask]) {
    input.aligned.each_that_cannot(&input.noise.floor, limit, |row| masks[row] |= Reason::Unaligned.bit());
}

fn settling(input: &Input<'_>, settle: f64, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    for segment in readings.segments.iter().filter(|segment| segment.start != SegmentStart::Gap) {
        let start = readings.time[segment.first];
        let rows = segment.first..=segment.last;
        for (mask, &time) in masks[rows.clone()].iter_mut().zip(&readings.time[rows]) {
            if time - start < settle {
                *mask |= Reason::Settling.bit();
            }
        }
    }
}

fn off(input: &Input<'_>, below: Option<f64>, masks: &mut [Mask]) {
    let readings = input.aligned.readings();
    let column = readings.column(Channel::IOut);
    let mut sample = stats::even_sample(column, 65_536);
    let top = stats::quantile(&mut sample, 0.995, QuantileRule::Linear).unwrap_or(0.0);
    let limit = below.unwrap_or_else(|| (3.0 * input.noise.floor[Channel::IOut.index()]).max(0.002 * top));
    for (mask, &value) in masks.iter_mut().zip(column) {
        if value < limit {
            *mask |= Reason::Off.bit();
        }
    }
}

fn supply_limit(input: &Input<'_>, limit: f64, masks: &mut [Mask]) {
    let column = input.aligned.readings().column(Channel::IIn);
    let room = 6.0 * input.noise.floor[Channel::IIn.index()];
    for (mask, &value) in masks.iter_mut().zip(column) {
        if value >= limit - room {
            *mask |= Reason::SupplyLimit.bit();
        }
    }
}
