//! One log made of two.

use std::ops::Range;

use super::{Clocks, added};
use crate::align::{Noise, Steps};
use crate::channel::{Readings, SegmentStart};

/// Row periods beyond which two rows have a hole between them.
pub(super) const HOLE: f64 = 5.0;

/// The longest stretch of rows with one running clock; holes do not end it.
pub(super) fn longest(readings: &Readings) -> Range<usize> {
    let mut best = 0..0;
    let mut first = 0;
    for segment in &readings.segments {
        if matches!(segment.start, SegmentStart::ClockBack | SegmentStart::Header) {
            first = segment.first;
        }
        if segment.last + 1 - first > best.len() {
            best = first..segment.last + 1;
        }
    }
    best
}

/// The rows of the slower logger with the channels of both; `NaN` where the faster one has no value.
///
/// Values are linear between the faster log's own neighbours; never across a hole or a restart, and beside a step its
/// nearer sample. Channels that both hold stay the first log's, further columns of both stay. Rows are those of the
/// slower logger, so that none is invented; lines are those of the first log.
#[must_use]
pub fn merge(first: &Readings, other: &Readings, clocks: &Clocks) -> Readings {
    if other.row_period > 1.2 * first.row_period && first.row_period > 0.0 {
        return onto_other(first, other, clocks);
    }
    let mut merged = first.clone();
    let at = |row: usize| clocks.to_other(first.time[row]);
    let rows = longest(first);
    let places = Places::new(other, rows.clone().map(at), rows.start, first.rows());
    for channel in added(first, other) {
        let k = channel.index();
        merged.columns[k] = places.take(&other.columns[k]);
        merged.resolution[k] = other.resolution[k];
    }
    for extra in other.extras.iter().filter(|extra| first.extras.iter().all(|own| own.name != extra.name)) {
        let mut taken = extra.clone();
        taken.values = places.take(&extra.values);
        merged.extras.push(taken);
    }
    merged
}

/// The same on the other log's rows.
fn onto_other(first: &Readings, other: &Readings, clocks: &Clocks) -> Readings {
    let mut merged = other.clone();
    merged.time.iter_mut().for_each(|t| *t = clocks.to_first(*t));
    merged.row_period = other.row_period * clocks.ratio;
    let rows = longest(other);
    let places = Places::new(first, rows.clone().map(|row| merged.time[row]), rows.start, other.rows());
    for channel in crate::channel::CHANNELS.into_iter().filter(|&channel| first.has(channel)) {
        let k = channel.index();
        merged.columns[k] = places.take(&first.columns[k]);
        merged.resolution[k] = first.resolution[k];
    }
    let own = std::mem::take(&mut merged.extras);
    for extra in &first.extras {
        let mut taken = extra.clone();
        taken.values = places.take(&extra.values);
        merged.extras.push(taken);
    }
    merged
        .extras
        .extend(own.into_iter().filter(|extra| first.extras.iter().all(|known| known.name != extra.name)));
    merged.lines =
        places.nearest.iter().map(|&row| first.lines.get(row as usize).copied().unwrap_or(0)).collect();
    if first.lines.is_empty() {
        merged.lines.clear();
    }
    merged
}

/// Where the instants of one log fall in another.
struct Places {
    /// Row before, and the part of the way to the next one; `NaN` where there is no value.
    place: Vec<(u32, f64)>,
    nearest: Vec<u32>,
    steps: Steps,
}

impl Places {
    /// **Shape** `instants` are those of the rows from `start` on; `rows` is the number of all rows.
    fn new(log: &Readings, instants: impl Iterator<Item = f64>, start: usize, rows: usize) -> Self {
        let used = longest(log);
        let steps = Steps::find(log, &Noise::of(log), 8.0);
        let mut place = vec![(0, f64::NAN); start];
        let mut nearest = vec![u32::try_from(used.start).unwrap_or(0); start];
        let mut at = used.start;
        for instant in instants {
            while at + 1 < used.end
                && log.time[at + 1].partial_cmp(&instant) != Some(std::cmp::Ordering::Greater)
            {
                at += 1;
            }
            let inside = at + 1 < used.end && instant >= log.time[at] && instant.is_finite();
            let wide = || log.time[at + 1] - log.time[at] > HOLE * log.row_period;
            let part = if inside && !wide() {
                (instant - log.time[at]) / (log.time[at + 1] - log.time[at])
            } else {
                f64::NAN
            };
            place.push((at as u32, part));
            nearest.push((at + usize::from(part > 0.5)) as u32);
        }
        place.resize(rows, (0, f64::NAN));
        let last = nearest.last().copied().unwrap_or(0);
        nearest.resize(rows, last);
        Self { place, nearest, steps }
    }

    fn take(&self, column: &[f64]) -> Vec<f64> {
        let value = |&(row, part): &(u32, f64)| {
            let row = row as usize;
            let (Some(&here), Some(&next)) = (column.get(row), column.get(row + 1)) else { return f64::NAN };
            if part.is_nan() {
                f64::NAN
            } else if self.steps.any_at(row) {
                if part > 0.5 { next } else { here }
            } else {
                here + (next - here) * part
            }
        };
        self.place.iter().map(value).collect()
    }
}
