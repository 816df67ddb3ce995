//! Where a channel jumps between two rows.
//!
//! A ramp also changes from row to row, so a change counts as a step only by what it exceeds the
//! changes on both sides of it. A single row that stands out and returns is a spike, not a step.

use crate::channel::{CHANNELS, Readings};
use crate::math::stats;

/// Noise of one reading per channel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Noise {
    /// Standard deviation from second differences, SI units; 0 where it cannot be told.
    pub sigma: [f64; 5],
    /// The same, never below half a resolution step: what gates compare with.
    pub floor: [f64; 5],
}

impl Noise {
    /// The noise of every channel of a log; see [`stats::noise`].
    #[must_use]
    pub fn of(readings: &Readings) -> Self {
        let mut noise = Self::default();
        for channel in CHANNELS {
            let at = channel.index();
            noise.sigma[at] = stats::noise(readings.column(channel)).unwrap_or(0.0);
            noise.floor[at] = noise.sigma[at].max(0.5 * readings.resolution[at]);
        }
        noise
    }

    /// Noise as given, with the same floor.
    #[must_use]
    pub fn given(sigma: [f64; 5], resolution: [f64; 5]) -> Self {
        let mut noise = Self { sigma, floor: sigma };
        for (floor, step) in noise.floor.iter_mut().zip(resolution) {
            *floor = floor.max(0.5 * step);
        }
        noise
    }
}

/// The intervals between rows in which at least one channel steps.
///
/// **Shape** interval `n` lies between rows `n` and `n + 1`; ascending.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Steps {
    /// Interval numbers and the channels that step there, bit k for channel k.
    found: Vec<(u32, u8)>,
    /// Rows in which a reading stands out alone and returns, with the channels, bit k for channel k.
    lone: Vec<(u32, u8)>,
    /// Intervals looked at (both rows readable, one clock).
    looked_at: usize,
}

/// Changes around one interval: two before it, itself, two after it. Missing ones are 0.
struct Around([f64; 5]);

impl Around {
    /// What the change exceeds the changes on its sides, signed.
    ///
    /// On each side the smaller of the two neighbours is taken, so that a step spread over two rows
    /// does not pass as a ramp; anything between the two sides is a ramp, its start, its end or
    /// its turning point.
    fn excess(&self) -> f64 {
        let [far_before, before, here, after, far_after] = self.0;
        let left = smaller(far_before, before);
        let right = smaller(far_after, after);
        let (low, high) = if left < right { (left, right) } else { (right, left) };
        here - here.clamp(low.min(0.0), high.max(0.0))
    }
}

fn smaller(a: f64, b: f64) -> f64 {
    if a.abs() < b.abs() { a } else { b }
}

impl Steps {
    /// Finds steps of more than `limit * sqrt 2` noises in the readings as logged.
    ///
    /// **Formula** `|x[n+1] - x[n]|` beyond the local slope `> limit sqrt 2 sigma`. **Source** the
    /// noise of a difference is `sqrt 2` that of a reading; the limit is the project's own.
    /// **Missing data** intervals with a `NaN` or between two clocks are not looked at.
    #[must_use]
    pub fn find(readings: &Readings, noise: &Noise, limit: f64) -> Self {
        Self::scan(readings, noise, limit, true)
    }

    /// As [`Steps::find`] with every change counted whole, ramps included.
    #[must_use]
    pub fn find_changes(readings: &Readings, noise: &Noise, limit: f64) -> Self {
        Self::scan(readings, noise, limit, false)
    }

    fn scan(readings: &Readings, noise: &Noise, limit: f64, beyond_slope: bool) -> Self {
        let mut steps = Self::default();
        let limits = noise.floor.map(|floor| limit * libm::sqrt(2.0) * floor);
        for segment in &readings.segments {
            for first in segment.first..segment.last {
                let mut channels = 0_u8;
                let mut lone = 0_u8;
                let mut seen = false;
                for channel in CHANNELS {
                    let column = readings.column(channel);
                    if column.is_empty() {
                        continue;
                    }
                    let here = column[first + 1] - column[first];
                    if here.is_nan() {
                        continue;
                    }
                    seen = true;
                    let at = channel.index();
                    if here.abs() <= limits[at] {
                        continue;
                    }
                    let column = &column[segment.first..=segment.last];
                    let row = first - segment.first;
                    // The way back from a reading that stood out is no step, on a ramp either.
                    let way_back = row > 0 && is_lone(column, row, limits[at]);
                    if beyond_slope && is_lone(column, row + 1, limits[at]) {
                        lone |= 1 << at;
                    } else if !beyond_slope || !way_back && is_step(column, row, limits[at]) {
                        channels |= 1 << at;
                    }
                }
                steps.looked_at += usize::from(seen);
                if lone != 0 {
                    steps.lone.push((first as u32 + 1, lone));
                }
                if channels != 0 {
                    steps.found.push((first as u32, channels));
                }
            }
        }
        steps
    }

    /// Number of intervals with a step.
    #[must_use]
    pub fn len(&self) -> usize {
        self.found.len()
    }

    /// Whether no step was found.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// Share of the intervals that have a step; 0 if none could be looked at.
    #[must_use]
    pub fn share(&self) -> f64 {
        if self.looked_at == 0 { 0.0 } else { self.found.len() as f64 / self.looked_at as f64 }
    }

    /// Interval numbers with their channels (bit k for channel k), ascending.
    pub fn intervals(&self) -> impl Iterator<Item = (usize, u8)> + '_ {
        self.found.iter().map(|&(interval, channels)| (interval as usize, channels))
    }

    /// Whether a channel steps between `row` and `row + 1`.
    #[must_use]
    pub fn any_at(&self, row: usize) -> bool {
        !self.found.is_empty() && self.found.binary_search_by(|entry| (entry.0 as usize).cmp(&row)).is_ok()
    }

    /// Whether a channel's reading stands out alone in a row: nothing is interpolated from it.
    pub(super) fn lone_at(&self, channel: usize, row: usize) -> bool {
        !self.lone.is_empty()
            && self
                .lone
                .binary_search_by(|entry| (entry.0 as usize).cmp(&row))
                .is_ok_and(|place| self.lone[place].1 & (1 << channel) != 0)
    }

    /// Rows before a step and rows with a lone reading, in no order.
    pub(super) fn disturbed(&self) -> impl Iterator<Item = usize> + '_ {
        self.found.iter().chain(&self.lone).map(|entry| entry.0 as usize)
    }

    /// The first entry whose interval is not before `row`, for walks along the rows.
    pub(super) fn from(&self, row: usize) -> &[(u32, u8)] {
        let place = self.found.partition_point(|entry| (entry.0 as usize) < row);
        &self.found[place..]
    }
}

fn is_step(column: &[f64], first: usize, limit: f64) -> bool {
    let change = |interval: isize| -> f64 {
        let place = first as isize + interval;
        if place < 0 || place as usize + 1 >= column.len() {
            return 0.0;
        }
        let value = column[place as usize + 1] - column[place as usize];
        if value.is_nan() { 0.0 } else { value }
    };
    let around = Around([change(-2), change(-1), change(0), change(1), change(2)]);
    if around.excess().abs() <= limit {
        return false;
    }
    let [_, before, here, after, _] = around.0;
    // The way back from a single row that stood out is no step either.
    let returns = |other: f64| other.abs() > limit && (here + other).abs() <= 0.25 * here.abs().max(limit);
    !(returns(before) || returns(after))
}

/// Whether a single row stands out and returns: both its changes exceed the changes outside them, and cancel.
fn is_lone(column: &[f64], row: usize, limit: f64) -> bool {
    let change = |from: usize, to: usize| match (column.get(from), column.get(to)) {
        (Some(from), Some(to)) => to - from,
        _ => 0.0,
    };
    let away = change(row - 1, row);
    let back = change(row, row + 1);
    let before = if row >= 2 { change(row - 2, row - 1) } else { 0.0 };
    let after = change(row + 1, row + 2);
    let beyond = |change: f64, slope: f64| (change - slope).abs() > limit;
    let slope = |change: f64| if change.is_nan() { 0.0 } else { change };
    beyond(away, slope(before))
        && beyond(back, slope(after))
        && (away + back).abs() <= 0.25 * away.abs().max(limit) + slope(before).abs() + slope(after).abs()
}
