//! A column of times to seconds: counters unwrapped, restarts and gaps as segments.

use serde::Serialize;

use crate::log::{Column, Example, Form, ProblemCode};
use crate::math::stats::{even_sample, median};

use super::column::ColumnGuess;
use super::readings::{Segment, SegmentStart};

/// How time was understood.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TimeUnderstood {
    /// `seconds`, `milliseconds`, `microseconds`, `nanoseconds`, `minutes`, `hours`, `days`,
    /// `date_time`, `epoch_seconds`, `epoch_milliseconds`, `epoch_microseconds`, `row_period`, or
    /// `none` where rows are only counted.
    pub form: &'static str,
    /// How often a counter started again at its end.
    pub wraps: u32,
}

/// Time of every row.
#[derive(Clone, Debug, Default)]
pub(super) struct Clock {
    pub(super) time: Vec<f64>,
    pub(super) segments: Vec<Segment>,
    pub(super) row_period: f64,
    pub(super) understood: TimeUnderstood,
    /// The column cannot serve as time: why.
    pub(super) damaged: Option<(ProblemCode, Example)>,
    pub(super) reason: String,
}

/// A step this many times the usual one is a gap. Common practice, no source.
const GAP: f64 = 5.0;

/// Fewer distinct times than this share of the rows: the column was re-saved with too few digits.
const DISTINCT_SHARE: f64 = 0.01;

/// Largest counts of common counters, plus one.
const COUNTERS: [f64; 2] = [4_294_967_296.0, 65_536.0];

const DAY_SECS: f64 = 86_400.0;

/// Times of a log without a usable time column: rows counted at a period; where that is 0 (not
/// known) each row counts as one second and the period stays 0.
pub(super) fn count_rows(rows: usize, period: f64, headers: &[u32]) -> Clock {
    let step = if period > 0.0 { period } else { 1.0 };
    let mut clock = Clock {
        time: (0..rows).map(|row| row as f64 * step).collect(),
        row_period: period.max(0.0),
        understood: TimeUnderstood { form: if period > 0.0 { "row_period" } else { "none" }, wraps: 0 },
        ..Clock::default()
    };
    let mut start = SegmentStart::Start;
    let mut first = 0;
    for &header in headers {
        let header = header as usize;
        if header > first && header < rows {
            clock.segments.push(Segment { first, last: header - 1, start });
            (first, start) = (header, SegmentStart::Header);
        }
    }
    if rows > 0 {
        clock.segments.push(Segment { first, last: rows - 1, start });
    }
    clock
}

/// Reads a column of times.
pub(super) fn read_clock(column: &Column, values: Vec<f64>, guess: &ColumnGuess, headers: &[u32]) -> Clock {
    let mut clock = Clock { time: values, ..Clock::default() };
    if let Some(example) = damage(&clock.time, guess) {
        clock.damaged = Some((ProblemCode::DamagedTime, example));
        return clock;
    }
    let steps = positive_steps(&clock.time);
    let step = median(&mut steps.clone()).unwrap_or(0.0);
    let (scale, form, reason) = unit(column, guess, &clock.time, step);
    clock.understood.form = form;
    clock.reason = reason;
    unwrap(&mut clock, column, step, headers);
    // From the first time on, so that large counts keep their last digits.
    let begin = clock.time.iter().copied().find(|time| !time.is_nan()).unwrap_or(0.0);
    for time in &mut clock.time {
        *time = super::scale::scaled(*time - begin, scale);
    }
    clock.row_period = super::scale::scaled(step, scale);
    continue_over_segments(&mut clock);
    clock
}

fn damage(times: &[f64], guess: &ColumnGuess) -> Option<Example> {
    if times.len() < 50 {
        return None;
    }
    let mut distinct: Vec<u64> =
        times.iter().filter(|time| !time.is_nan()).map(|time| time.to_bits()).collect();
    let readable = distinct.len();
    distinct.sort_unstable();
    distinct.dedup();
    let repeats = times.windows(2).filter(|pair| pair[0] == pair[1]).count();
    let damaged =
        (distinct.len() as f64) < (DISTINCT_SHARE * readable as f64).max(2.5) || repeats * 2 > readable;
    damaged.then(|| Example {
        line: None,
        column: Some(guess.number),
        header: Some(guess.header.clone()),
        found: format!("{} distinct times in {readable} rows", distinct.len()),
        expected: "a time that tells the rows apart".to_owned(),
        hint: "the log was re-saved with too few digits; use the original, or state the row period"
            .to_owned(),
    })
}

/// Steps forward between neighbouring rows, a sample of them.
fn positive_steps(times: &[f64]) -> Vec<f64> {
    const MOST: usize = 200_000;
    let stride = times.len().div_ceil(MOST).max(1);
    times
        .windows(2)
        .step_by(stride)
        .map(|pair| pair[1] - pair[0])
        .filter(|step| *step > 0.0 && step.is_finite())
        .collect()
}

fn unit(column: &Column, guess: &ColumnGuess, times: &[f64], step: f64) -> (f64, &'static str, String) {
    if column.form == Form::DateTime {
        return (1.0, "date_time", "dates and times of day".to_owned());
    }
    if guess.unit_said {
        let form = match guess.unit.as_str() {
            "ms" => "milliseconds",
            "µs" => "microseconds",
            "ns" => "nanoseconds",
            "min" => "minutes",
            "h" => "hours",
            "d" => "days",
            _ => "seconds",
        };
        return (guess.scale, form, format!("unit {}", guess.unit));
    }
    let size = median(&mut even_sample(times, 10_000)).unwrap_or(0.0);
    let whole = even_sample(times, 1000).iter().all(|time| libm::floor(*time) == *time);
    let said = |what: &str| {
        format!("no unit given; {what} from the size of the steps ({} per row)", crate::wording::plain(step))
    };
    match (size, step) {
        // Seconds, milliseconds, microseconds since 1970, between the years 2001 and 2286.
        (1e9..1e10, _) if step < 1e5 => (1.0, "epoch_seconds", said("seconds since 1970")),
        (1e12..1e13, _) => (1e-3, "epoch_milliseconds", said("milliseconds since 1970")),
        (1e15..1e16, _) => (1e-6, "epoch_microseconds", said("microseconds since 1970")),
        // Spreadsheets count days; 30 000 is the year 1982, 80 000 the year 2119.
        (3e4..8e4, ..0.1) if !whole => (DAY_SECS, "days", said("days of a spreadsheet")),
        (_, 500.0..) if whole => (1e-6, "microseconds", said("microseconds")),
        (_, 2.0..) if whole => (1e-3, "milliseconds", said("milliseconds")),
        _ => (1.0, "seconds", said("seconds")),
    }
}

/// Undoes counter wraps and cuts segments. Times stay in their own unit.
fn unwrap(clock: &mut Clock, column: &Column, step: f64, headers: &[u32]) {
    let counters: Vec<f64> = if column.form == Form::DateTime {
        if column.epoch_secs == 0.0 { vec![DAY_SECS] } else { Vec::new() }
    } else {
        let highest = clock.time.iter().copied().filter(|time| time.is_finite()).fold(0.0, f64::max);
        COUNTERS.iter().copied().filter(|counter| highest < *counter && highest > counter * 0.5).collect()
    };
    let mut headers = headers.iter().map(|&header| header as usize).peekable();
    let (mut added, mut last, mut last_row) = (0.0, f64::NAN, 0);
    let (mut first, mut start) = (0, SegmentStart::Start);
    for row in 0..clock.time.len() {
        let mut repeated = false;
        while headers.next_if(|&header| header <= row).is_some() {
            repeated = row > 0;
        }
        let Some(time) = clock.time.get_mut(row) else { break };
        let mut cut = repeated.then_some(SegmentStart::Header);
        if !time.is_nan() {
            let raw_last = last - added;
            if *time < raw_last {
                let wrapped = counters.iter().find(|counter| {
                    let forward = *time + **counter - raw_last;
                    raw_last - *time > **counter * 0.5 && forward <= (GAP * step).max(**counter * 1e-3)
                });
                if let Some(counter) = wrapped.filter(|_| !repeated) {
                    added += counter;
                    clock.understood.wraps += 1;
                } else {
                    added = 0.0;
                    cut = cut.or(Some(SegmentStart::ClockBack));
                }
            }
            *time += added;
            // Rows whose time could not be read are there all the same.
            let usual = (row - last_row) as f64 + GAP - 1.0;
            if cut.is_none() && step > 0.0 && *time - last > usual * step {
                cut = Some(SegmentStart::Gap);
            }
            (last, last_row) = (*time, row);
        }
        if let Some(cut) = cut.filter(|_| row > first) {
            clock.segments.push(Segment { first, last: row - 1, start });
            (first, start) = (row, cut);
        }
    }
    if !clock.time.is_empty() {
        clock.segments.push(Segment { first, last: clock.time.len() - 1, start });
    }
}

/// Starts at 0 and never falls: a clock that restarted goes on one row period after the row before.
fn continue_over_segments(clock: &mut Clock) {
    let mut shift = f64::NAN;
    let mut last = f64::NAN;
    for segment in &clock.segments {
        let Some(times) = clock.time.get_mut(segment.first..=segment.last) else { continue };
        if let Some(begin) = times.iter().copied().find(|time| !time.is_nan()) {
            if shift.is_nan() {
                shift = begin;
            } else if begin - shift < last {
                shift = begin - last - clock.row_period;
            }
        }
        for time in times.iter_mut().filter(|time| !time.is_nan()) {
            *time -= shift;
            last = *time;
        }
    }
}
