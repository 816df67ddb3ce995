//! Stretches of rows at rest.

use std::ops::Range;

use super::{Plateau, Plateaus, Settings, WhyNot, average, settle};
use crate::align::Noise;
use crate::channel::{CHANNELS, Channel, Readings};
use crate::math::stats::{self, QuantileRule};

/// Rows on each side that are compared.
const HALF: usize = 5;
/// Standard deviations of the difference of two means from which a row is not at rest.
const RESTLESS: f64 = 6.0;
/// Rows at rest that make a point.
const LEAST: usize = 10;
/// Stretches that make a stepped run.
const FEWEST: usize = 8;
/// Share of the rows that a stepped run spends at its settings.
const MOST_OF: f64 = 0.6;
/// Different states of a stepped run, at least so many and such a share of its stretches.
const STATES: (usize, f64) = (6, 0.2);
/// Largest part of a stretch that a change may take to count as settling.
const SHORT: f64 = 0.3;
/// Drift inside a stretch, as a share of the usual change between settings or of the reading, whichever is more.
const DRIFT: (f64, f64) = (0.1, 0.005);

/// Finds the stretches at rest of a run.
///
/// A row is at rest where no channel's mean of five rows after it differs from that of five rows before it by more than
/// six of its standard deviations; the scatter of these differences themselves widens the limit, so that neither noise that
/// hangs together nor a ramp is cut. **Missing data** is passed over. **Units** s, rows.
#[must_use]
pub fn find(readings: &Readings, noise: &Noise, settings: &Settings) -> Plateaus {
    let least = settings
        .least
        .filter(|_| readings.row_period > 0.0)
        .map_or(LEAST, |least| (libm::ceil(least / readings.row_period) as usize).max(3));
    let stretches = joined(readings, noise, stretches(readings, noise, least));
    let mut found = Plateaus::default();
    let fits = steady(readings, &stretches);
    let candidates = stretches.len();
    let stretches: Vec<Range<usize>> =
        stretches.into_iter().zip(fits).filter(|(_, fits)| *fits).map(|(stretch, _)| stretch).collect();
    found.settle = settings.settle.unwrap_or_else(|| settle::common(readings, noise, &stretches));
    let usual: Vec<f64> = stretches.iter().map(|stretch| duration(readings, stretch)).collect();
    found.dwell = stats::median(&mut usual.clone()).unwrap_or(0.0);
    let held: usize = stretches.iter().map(ExactSizeIterator::len).sum();
    found.covered = held as f64 / readings.rows().max(1) as f64;
    found.list = stretches
        .iter()
        .filter_map(|stretch| {
            let first = settle::from(readings, noise, stretch, found.settle, settings.settle.is_some());
            average::average(readings, noise, stretch.start, first..stretch.end, least.min(LEAST) / 2)
        })
        .collect();
    average::widen(&mut found.list, readings);
    found.why_not = why_not(&found, candidates);
    found
}

fn why_not(found: &Plateaus, candidates: usize) -> Option<WhyNot> {
    let n = found.list.len();
    if n < FEWEST {
        return Some(WhyNot::Few);
    }
    if found.covered < MOST_OF || (n as f64) < 0.8 * candidates as f64 {
        return Some(WhyNot::Moving);
    }
    let states = states(&found.list);
    (states < STATES.0 || (states as f64) < STATES.1 * n as f64).then_some(WhyNot::TwoStates)
}

/// Number of different settings: input voltage and output current to a fiftieth of their range.
fn states(list: &[Plateau]) -> usize {
    let key = |channel: Channel| {
        let values = list.iter().map(|plateau| plateau.mean[channel.index()]);
        let (low, high) =
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        let width = (high - low).max(1e-9) / 50.0;
        move |plateau: &Plateau| libm::round((plateau.mean[channel.index()] - low) / width) as i64
    };
    let (v, i) = (key(Channel::VIn), key(Channel::IOut));
    let mut keys: Vec<(i64, i64)> = list.iter().map(|plateau| (v(plateau), i(plateau))).collect();
    keys.sort_unstable();
    // Neighbouring keys are one setting whose noise straddles a border.
    let mut kept: Vec<(i64, i64)> = Vec::new();
    for key in keys {
        if !kept.iter().rev().take(40).any(|k| (k.0 - key.0).abs() <= 1 && (k.1 - key.1).abs() <= 1) {
            kept.push(key);
        }
    }
    kept.len()
}

fn duration(readings: &Readings, rows: &Range<usize>) -> f64 {
    let (first, last) = (readings.time[rows.start], readings.time[rows.end - 1]);
    let span = last - first + readings.row_period;
    if span.is_finite() { span } else { rows.len() as f64 * readings.row_period }
}

/// Stretches at rest of at least so many rows, from the change before each to the change after it.
fn stretches(readings: &Readings, noise: &Noise, least: usize) -> Vec<Range<usize>> {
    let changes = Changes::of(readings, noise);
    let mut out = Vec::new();
    for segment in &readings.segments {
        let (first, end) = (segment.first, segment.last + 1);
        if end - first < least + 2 * HALF {
            continue;
        }
        // Where the change before the stretch was, and where rows came to rest.
        let mut start = [first, first];
        let mut row = first;
        let mut close = |[changed, rest]: [usize; 2], stop: usize| {
            // A short change settles and is dropped later; a long one is a stretch of motion of its own.
            let short = (rest - changed) as f64 <= SHORT * stop.saturating_sub(changed) as f64;
            let start = if short { changed } else { rest };
            if stop >= rest + least {
                out.push(start..stop);
            }
        };
        while row < end {
            if changes.size[row] <= 1.0 {
                row += 1;
                continue;
            }
            // A zone of change: with holes of less than a window.
            let zone_start = row;
            let (mut zone_end, mut quiet) = (row, 0);
            while row < end && quiet < HALF {
                if changes.size[row] > 1.0 {
                    zone_end = row;
                    quiet = 0;
                } else {
                    quiet += 1;
                }
                row += 1;
            }
            let zone = zone_start..zone_end + 1;
            let peak = zone
                .clone()
                .fold(zone_start, |best, at| if changes.size[at] > changes.size[best] { at } else { best });
            // Each side's farthest row is passed over, so that a change shows from its second row on.
            let changed = (zone_start + HALF - 2).min(peak);
            close(start, changed);
            start = [changed, (zone_end + 2).saturating_sub(HALF).max(peak)];
            row = zone_end + 1;
        }
        close(start, end);
    }
    out
}

/// Joins neighbours that read alike to two noises: a few stray readings close together look like a change.
fn joined(readings: &Readings, noise: &Noise, stretches: Vec<Range<usize>>) -> Vec<Range<usize>> {
    let middle = |channel: Channel, rows: &Range<usize>| {
        let late = rows.start + rows.len() / 2..rows.end;
        let mut known: Vec<f64> =
            readings.column(channel)[late].iter().copied().filter(|value| value.is_finite()).collect();
        stats::median(&mut known).unwrap_or(f64::NAN)
    };
    let mut out: Vec<Range<usize>> = Vec::new();
    for stretch in stretches {
        let alike = out.last().is_some_and(|before| {
            stretch.start < before.end + 3 * HALF
                && CHANNELS.into_iter().filter(|&channel| readings.has(channel)).all(|channel| {
                    let apart = (middle(channel, before) - middle(channel, &stretch)).abs();
                    apart <= 2.0 * noise.floor[channel.index()]
                })
        });
        match out.last_mut().filter(|_| alike) {
            Some(before) => before.end = stretch.end,
            None => out.push(stretch),
        }
    }
    out
}

/// How far each row is from rest, in units of the limit.
struct Changes {
    size: Vec<f32>,
}

impl Changes {
    fn of(readings: &Readings, noise: &Noise) -> Self {
        let rows = readings.rows();
        let mut size = vec![0.0_f32; rows];
        let mut difference = vec![0.0_f64; rows];
        for channel in CHANNELS {
            let column = readings.column(channel);
            let sigma = noise.floor[channel.index()];
            if column.is_empty() || sigma <= 0.0 {
                continue;
            }
            for segment in &readings.segments {
                differences(
                    &column[segment.first..=segment.last],
                    &mut difference[segment.first..=segment.last],
                );
            }
            let unit = sigma * libm::sqrt(2.0 / HALF as f64);
            let mut sample = stats::even_sample(&difference, 65_536);
            sample.iter_mut().for_each(|d| *d = d.abs());
            let usual = 1.4826 * stats::quantile(&mut sample, 0.5, QuantileRule::Linear).unwrap_or(0.0);
            let limit = RESTLESS * unit.max(usual);
            for (size, d) in size.iter_mut().zip(&difference) {
                *size = size.max((d.abs() / limit) as f32);
            }
        }
        Self { size }
    }
}

/// Mean of the rows from each row on less that of the rows before it; 0 at the ends. A single reading that stands
/// out is halved away by taking each side's mean without its farthest value.
fn differences(column: &[f64], out: &mut [f64]) {
    let n = column.len();
    out.fill(0.0);
    for row in HALF..(n + 1).saturating_sub(HALF) {
        let before = calm_mean(&column[row - HALF..row]);
        let after = calm_mean(&column[row..row + HALF]);
        let d = after - before;
        out[row] = if d.is_finite() { d } else { 0.0 };
    }
}

/// Mean of a few values without the one that is farthest from their mean; missing ones are passed over.
fn calm_mean(values: &[f64]) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0);
    for value in values.iter().filter(|value| value.is_finite()) {
        sum += value;
        count += 1.0;
    }
    if count < 3.0 {
        return f64::NAN;
    }
    let mean = sum / count;
    let mut far = mean;
    for &value in values.iter().filter(|value| value.is_finite()) {
        if (value - mean).abs() > (far - mean).abs() {
            far = value;
        }
    }
    (sum - far) / (count - 1.0)
}

/// Whether each stretch stays where it is: its second half reads as its last quarter does.
fn steady(readings: &Readings, stretches: &[Range<usize>]) -> Vec<bool> {
    let usual_of = |channel: Channel, rows: Range<usize>| {
        let column = &readings.column(channel)[rows];
        let mut known: Vec<f64> = column.iter().copied().filter(|value| value.is_finite()).collect();
        stats::median(&mut known).unwrap_or(f64::NAN)
    };
    let mut fits = vec![true; stretches.len()];
    for channel in CHANNELS.into_iter().filter(|&channel| readings.has(channel)) {
        if channel == Channel::VOutLow {
            continue;
        }
        let middles: Vec<f64> = stretches
            .iter()
            .map(|stretch| usual_of(channel, stretch.start + stretch.len() / 2..stretch.end))
            .collect();
        let mut changes: Vec<f64> = middles.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
        let usual = stats::median(&mut changes).unwrap_or(0.0);
        for (fits, (stretch, middle)) in fits.iter_mut().zip(stretches.iter().zip(&middles)) {
            let quarter = (stretch.len() / 4).max(1);
            let early = usual_of(channel, stretch.start + stretch.len() / 2..stretch.end - quarter);
            let late = usual_of(channel, stretch.end - quarter..stretch.end);
            let room = (DRIFT.0 * usual).max(DRIFT.1 * middle.abs());
            *fits &= (late - early).abs().partial_cmp(&room) != Some(std::cmp::Ordering::Greater);
        }
    }
    fits
}
