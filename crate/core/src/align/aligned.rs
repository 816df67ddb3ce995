//! Readings at one instant per row, computed on demand.

use std::ops::Range;

use super::{Delays, Steps};
use crate::channel::{CHANNELS, Channel, Readings};

/// A view of a log with every channel brought to the row's common instant.
///
/// **Formula** channel k was sampled at `t[n] + d[k]`; the common instant is `t[n] + mean d`. The value
/// there is linear between the channel's own two neighbouring samples; one sample that is missing or stands out
/// alone is passed over. **Source** linear interpolation; its error is at most `|x''| T² / 8`. Never across a
/// clock's start, a longer hole or a step: there the channel's own sample stays, and [`Aligned::cannot`] tells
/// whether that matters.
#[derive(Clone, Debug)]
pub struct Aligned<'a> {
    readings: &'a Readings,
    steps: &'a Steps,
    /// Time from each channel's own sample to the common instant, s.
    shift: [f64; 5],
    identity: bool,
    /// One bit per row: it stands at a clock's start or end, in a step or beside a lone reading.
    careful: Vec<u64>,
}

/// Samples passed over in search of one that can be used.
const PASSED_OVER: usize = 1;

/// A sample that may be used for interpolation, or why there is none.
enum Partner {
    At(usize),
    Blocked,
}

impl<'a> Aligned<'a> {
    /// The readings brought to one instant with these delays; nothing is copied.
    #[must_use]
    pub fn new(readings: &'a Readings, steps: &'a Steps, delays: &Delays) -> Self {
        let instant = delays.instant(readings);
        let identity = delays.is_identity(readings);
        let shift = if identity { [0.0; 5] } else { delays.seconds.map(|delay| instant - delay) };
        let careful = if identity { Vec::new() } else { careful_rows(readings, steps) };
        Self { readings, steps, shift, identity, careful }
    }

    /// Whether a row needs care.
    fn needs_care(&self, row: usize) -> bool {
        self.careful[row / WORD] & (1 << (row % WORD)) != 0
    }

    /// The value between two direct neighbours, where nothing stands in the way.
    fn direct(&self, column: &[f64], shift: f64, row: usize) -> Option<f64> {
        if self.needs_care(row) {
            return None;
        }
        let time = &self.readings.time;
        // Rows at the ends of a clock need care, so that both neighbours are there.
        let far = if shift > 0.0 { row + 1 } else { row - 1 };
        let part = (time[row] + shift - time[row]) / (time[far] - time[row]);
        let value = column[row] + (column[far] - column[row]) * part;
        ((0.0..=1.0).contains(&part) && !value.is_nan()).then_some(value)
    }

    /// The readings as logged.
    #[must_use]
    pub fn readings(&self) -> &'a Readings {
        self.readings
    }

    /// The steps across which nothing is interpolated.
    #[must_use]
    pub fn steps(&self) -> &'a Steps {
        self.steps
    }

    /// Number of data rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.readings.rows()
    }

    /// Whether values are the readings as logged, bit for bit.
    #[must_use]
    pub fn is_identity(&self) -> bool {
        self.identity
    }

    /// One channel at the common instant of one row, SI units; `NaN` where missing, 0 for an absent
    /// low output node.
    #[must_use]
    pub fn value(&self, channel: Channel, row: usize) -> f64 {
        let column = self.readings.column(channel);
        if column.is_empty() {
            return absent(channel);
        }
        let shift = self.shift[channel.index()];
        if shift == 0.0 {
            return column[row];
        }
        if let Some(value) = self.direct(column, shift, row) {
            return value;
        }
        let Some(segment) = self.segment_of(row) else { return column[row] };
        self.interpolated(channel, row, segment).unwrap_or(column[row])
    }

    /// The five readings of one row at its common instant, in channel order.
    #[must_use]
    pub fn reading(&self, row: usize) -> [f64; 5] {
        CHANNELS.map(|channel| self.value(channel, row))
    }

    /// One channel at the common instants of a range of rows.
    ///
    /// **Shape** `out` is as long as `rows`.
    pub fn fill(&self, channel: Channel, rows: Range<usize>, out: &mut [f64]) {
        let column = self.readings.column(channel);
        if column.is_empty() {
            out.fill(absent(channel));
            return;
        }
        out.copy_from_slice(&column[rows.clone()]);
        let shift = self.shift[channel.index()];
        if shift == 0.0 {
            return;
        }
        let mut from = rows.start;
        while from < rows.end {
            let to = ((from / WORD + 1) * WORD).min(rows.end);
            let part = &mut out[from - rows.start..to - rows.start];
            if self.careful[from / WORD] != 0 || !self.fill_calm(column, shift, from, part) {
                for (row, value) in (from..to).zip(part) {
                    *value = match self.direct(column, shift, row) {
                        Some(value) => value,
                        None => self.value(channel, row),
                    };
                }
            }
            from = to;
        }
    }

    /// What [`Aligned::fill`] would give where the logged readings are that already; `None` where a delay is
    /// corrected or the channel was not logged.
    #[must_use]
    pub fn stored(&self, channel: Channel, rows: Range<usize>) -> Option<&[f64]> {
        let column = self.readings.column(channel);
        (self.shift[channel.index()] == 0.0 && !column.is_empty()).then(|| &column[rows])
    }

    /// As [`Self::direct`] for rows of which none needs care; `false` where one of them still has
    /// no value between its direct neighbours.
    fn fill_calm(&self, column: &[f64], shift: f64, first: usize, out: &mut [f64]) -> bool {
        let time = &self.readings.time;
        let n = out.len();
        let other = if shift > 0.0 { first + 1 } else { first - 1 };
        let (time, far_time) = (&time[first..first + n], &time[other..other + n]);
        let (column, far_column) = (&column[first..first + n], &column[other..other + n]);
        let mut fine = true;
        for k in 0..n {
            let part = (time[k] + shift - time[k]) / (far_time[k] - time[k]);
            let value = column[k] + (far_column[k] - column[k]) * part;
            fine &= (0.0..=1.0).contains(&part) & !value.is_nan();
            out[k] = value;
        }
        fine
    }

    /// Whether a row needs interpolation that is not possible: the changes that would be made, told
    /// from the side that can be used, exceed three noises of their channels and move a product of the
    /// readings by more than `limit` of it.
    #[must_use]
    pub fn cannot(&self, row: usize, noise: &[f64; 5], limit: f64) -> bool {
        if self.identity {
            return false;
        }
        let moved: f64 = CHANNELS
            .into_iter()
            .map(|channel| {
                let change = self.change_not_made(channel, row);
                let size = factor(self.readings, channel, row).abs().max(3.0 * noise[channel.index()]);
                if change.abs() > 3.0 * noise[channel.index()] { change.abs() / size } else { 0.0 }
            })
            .sum();
        moved > limit
    }

    /// The change that a channel's reading needs and cannot get, told from its other side; 0 where it is brought to the
    /// common instant or nothing tells.
    fn change_not_made(&self, channel: Channel, row: usize) -> f64 {
        let column = self.readings.column(channel);
        let shift = self.shift[channel.index()];
        if column.is_empty() || shift == 0.0 || column[row].is_nan() {
            return 0.0;
        }
        if self.direct(column, shift, row).is_some() {
            return 0.0;
        }
        let Some(segment) = self.segment_of(row) else { return 0.0 };
        if self.interpolated(channel, row, segment.clone()).is_some() {
            return 0.0;
        }
        let Partner::At(other) = self.partner(channel, row, shift < 0.0, &segment) else { return 0.0 };
        let span = self.readings.time[other] - self.readings.time[row];
        (column[other] - column[row]) / span * shift
    }

    /// Visits the rows for which [`Aligned::cannot`] holds, ascending.
    pub fn each_that_cannot(&self, noise: &[f64; 5], limit: f64, mut visit: impl FnMut(usize)) {
        if self.identity {
            return;
        }
        let mut scratch = [0.0; WORD];
        let moved = CHANNELS.map(|channel| (self.readings.column(channel), self.shift[channel.index()]));
        for first in (0..self.rows()).step_by(WORD) {
            let last = (first + WORD).min(self.rows());
            let calm = self.careful[first / WORD] == 0
                && moved.iter().all(|&(column, shift)| {
                    column.is_empty()
                        || shift == 0.0
                        || self.fill_calm(column, shift, first, &mut scratch[..last - first])
                });
            if !calm {
                (first..last).filter(|&row| self.cannot(row, noise, limit)).for_each(&mut visit);
            }
        }
    }

    fn interpolated(&self, channel: Channel, row: usize, segment: Range<usize>) -> Option<f64> {
        let column = self.readings.column(channel);
        let shift = self.shift[channel.index()];
        let forward = shift > 0.0;
        let target = self.readings.time[row] + shift;
        let mut near = row;
        loop {
            let Partner::At(far) = self.partner(channel, near, forward, &segment) else { return None };
            let (from, to) = (self.readings.time[near], self.readings.time[far]);
            let part = (target - from) / (to - from);
            if part <= 1.0 {
                return Some(column[near] + (column[far] - column[near]) * part);
            }
            near = far;
        }
    }

    /// The next usable sample of the channel forward or back in time.
    fn partner(&self, channel: Channel, row: usize, forward: bool, segment: &Range<usize>) -> Partner {
        let column = self.readings.column(channel);
        let time = &self.readings.time;
        if column[row].is_nan() || time[row].is_nan() {
            return Partner::Blocked;
        }
        let mut other = row;
        for _ in 0..=PASSED_OVER {
            let interval = if forward { other } else { other.wrapping_sub(1) };
            other = if forward { other + 1 } else { interval };
            if !segment.contains(&other) || self.steps.any_at(interval) {
                return Partner::Blocked;
            }
            let missing = column[other].is_nan() || time[other].is_nan();
            if missing || self.steps.lone_at(channel.index(), other) {
                continue;
            }
            let ordered = if forward { time[other] > time[row] } else { time[other] < time[row] };
            return if ordered { Partner::At(other) } else { Partner::Blocked };
        }
        Partner::Blocked
    }

    fn segment_of(&self, row: usize) -> Option<Range<usize>> {
        let segments = &self.readings.segments;
        let place = segments.partition_point(|segment| segment.last < row);
        segments
            .get(place)
            .filter(|segment| segment.first <= row)
            .map(|segment| segment.first..segment.last + 1)
    }
}

/// Rows in one word of bits.
const WORD: usize = 64;

fn careful_rows(readings: &Readings, steps: &Steps) -> Vec<u64> {
    let mut careful = vec![0_u64; readings.rows().div_ceil(WORD)];
    let mut mark = |row: usize| {
        if let Some(bits) = careful.get_mut(row / WORD) {
            *bits |= 1 << (row % WORD);
        }
    };
    for segment in &readings.segments {
        mark(segment.first);
        mark(segment.last);
    }
    for row in steps.disturbed() {
        mark(row.saturating_sub(1));
        mark(row);
        mark(row + 1);
    }
    careful
}

/// The factor of the product that a channel belongs to: an output node counts by the output voltage.
pub(crate) fn factor(readings: &Readings, channel: Channel, row: usize) -> f64 {
    let column = readings.column(channel);
    match channel {
        Channel::VOutHigh | Channel::VOutLow
            if readings.has(Channel::VOutHigh) && readings.has(Channel::VOutLow) =>
        {
            readings.column(Channel::VOutHigh)[row] - readings.column(Channel::VOutLow)[row]
        }
        _ => column.get(row).copied().unwrap_or(0.0),
    }
}

/// An absent low output node stands at ground; any other absent channel is missing.
fn absent(channel: Channel) -> f64 {
    if channel == Channel::VOutLow { 0.0 } else { f64::NAN }
}
