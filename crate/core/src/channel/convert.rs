//! A log's columns to readings in SI units. Columns are moved, not copied.

use serde::Serialize;

use crate::log::{Column, Example, Form, Log, MarkCause, Problem, ProblemCode, Problems, Shape};
use crate::math::stats::{BlockSum, even_sample, median};

use super::Role;
use super::clock::{Clock, TimeUnderstood, count_rows, read_clock};
use super::column::ColumnGuess;
use super::guess::{Ask, Guess};
use super::range::{self, RangesShown};
use super::raw::{Raw, RawColumn, Undo};
use super::readings::{CHANNELS, Channel, Extra, Mark, MarkKind, Readings};
use super::scale::scaled;
use super::settings::Settings;

/// What becomes of a log.
#[derive(Clone, Debug, Default)]
pub struct Conversion {
    /// The readings.
    pub readings: Readings,
    /// How time was understood.
    pub time: TimeUnderstood,
    /// Why time was understood so.
    pub time_reason: String,
    /// Rows in which no needed channel is missing.
    pub rows_usable: u64,
    /// Sums as logged in SI units over the usable rows, uncorrected.
    pub sums: Sums,
    /// Seconds, summed over segments; 0 where rows are only counted.
    pub duration: f64,
    /// Problems of the log, and those found here.
    pub problems: Vec<Problem>,
    /// What a person must still say.
    pub asks: Vec<Ask>,
    /// Channels that switch their range.
    pub ranges: Vec<RangesShown>,
    /// How the log's columns come back out of the readings; `None` where that was not asked for, or
    /// cannot be.
    pub raw: Option<Raw>,
}

/// Sums over the usable rows, V and A; `None` where the channel is absent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Sums {
    /// Input voltage.
    pub v_in: Option<f64>,
    /// Input current.
    pub i_in: Option<f64>,
    /// High output node, or the output difference where only that is logged.
    pub v_out_high: Option<f64>,
    /// Low output node.
    pub v_out_low: Option<f64>,
    /// Output current.
    pub i_out: Option<f64>,
}

const fn channel_of(role: Role) -> Option<Channel> {
    match role {
        Role::VIn => Some(Channel::VIn),
        Role::VOutHigh | Role::VOut => Some(Channel::VOutHigh),
        Role::VOutLow => Some(Channel::VOutLow),
        Role::IIn => Some(Channel::IIn),
        Role::IOut => Some(Channel::IOut),
        _ => None,
    }
}

/// Turns a log into readings by the roles of `guess`. Asks for the row period where the log has no
/// usable time and `settings` gives none.
#[must_use]
pub fn to_readings(log: Log, guess: &Guess, settings: &Settings) -> Conversion {
    turn(log, guess, settings, false)
}

/// The same, and keeps what it takes to get the log's columns back ([`Conversion::raw`]).
#[must_use]
pub fn to_readings_keeping(log: Log, guess: &Guess, settings: &Settings) -> Conversion {
    turn(log, guess, settings, true)
}

fn turn(mut log: Log, guess: &Guess, settings: &Settings, keeps: bool) -> Conversion {
    let mut out = Conversion { asks: guess.asks.clone(), ..Conversion::default() };
    let mut found = Problems::default();
    let rows = log.rows();
    // Named values are shown from the columns themselves, which would have to be kept as well.
    let mut raw = (keeps && log.understood.shape == Shape::Delimited).then(|| first_raw(&log, guess));
    let forms: Vec<Form> = log.columns.iter().map(|column| column.form).collect();
    let clock = clock(&mut log, guess, settings, &mut out, &mut found);
    if log.columns.iter().zip(&forms).any(|(column, form)| column.form != *form) {
        raw = None;
    }
    out.time_reason = clock.reason;
    out.time = clock.understood;
    let mut readings = Readings {
        time: clock.time,
        segments: clock.segments,
        row_period: clock.row_period,
        ..Readings::default()
    };
    let coded = range::code_rows(&log, &guess.ranges);
    let starts: Vec<usize> = readings.segments.iter().map(|segment| segment.first).collect();
    let stated_ranges = &guess.ranges;
    let lines = core::mem::take(&mut log.lines);
    for (place, (column, guess)) in log.columns.iter_mut().zip(&guess.columns).enumerate() {
        let numbers = matches!(column.form, Form::Number | Form::DateTime);
        if !numbers || guess.role == Role::Ignore || guess.role == Role::Time {
            continue;
        }
        let mut values = core::mem::take(&mut column.values);
        values.resize(rows, f64::NAN);
        let sign = if settings.reverse.contains(&guess.role) { -1.0 } else { 1.0 };
        let before = raw.is_some().then(|| values.clone());
        convert(&mut values, guess.scale * sign, guess.offset);
        if let (Some(before), Some(raw)) = (before, &mut raw)
            && let Some(target) = raw.columns.get_mut(place)
        {
            *target = match (
                Undo::of(&before, &values, guess.scale * sign, guess.offset),
                channel_of(guess.role),
            ) {
                // A second column of one channel takes its place.
                (_, Some(channel)) if readings.has(channel) => RawColumn::Kept(before),
                (Some(undo), Some(channel)) => RawColumn::Channel(channel, undo),
                (Some(undo), None) => RawColumn::Extra(readings.extras.len(), undo),
                (None, _) => RawColumn::Kept(before),
            };
        }
        match channel_of(guess.role) {
            Some(channel) => {
                let named = coded.iter().find(|coded| coded.role() == guess.role).cloned();
                let ranges = named.or_else(|| range::code_by_steps(guess.role, &values, stated_ranges));
                let mut step = resolution(&values, guess);
                if let Some(ranges) = ranges {
                    let (shown, usual) = range::apply(&ranges, &mut values, &starts, &lines, &mut found);
                    // Corrected by ranges: what was read is not kept.
                    if shown.ranges.iter().any(|range| range.gain != 1.0 || range.offset != 0.0) {
                        raw = None;
                    }
                    out.ranges.push(shown);
                    step = usual;
                }
                if let Some(resolution) = readings.resolution.get_mut(channel.index()) {
                    *resolution = step;
                }
                if let Some(target) = readings.columns.get_mut(channel.index()) {
                    *target = values;
                }
            }
            None => {
                let unit = si_symbol(guess.role).unwrap_or(&guess.unit).to_owned();
                readings.extras.push(Extra { role: guess.role, name: guess.header.clone(), unit, values });
            }
        }
    }
    readings.marks = marks(&log, guess);
    readings.lines = lines;
    out.raw = raw.filter(|_| coded.is_empty());
    if out.time.form != "none" {
        out.duration = readings
            .segments
            .iter()
            .map(|segment| span(readings.time.get(segment.first..=segment.last)))
            .sum();
    }
    sum_up(&readings, &mut out);
    doubts(&readings, &mut found);
    out.problems = log.problems;
    out.problems.extend(found.into_list());
    out.problems.sort_by_key(|problem| problem.code);
    out.readings = readings;
    out
}

/// Columns that come back without the readings: the time, since counters are unwrapped in place, and
/// those that nothing is read from.
fn first_raw(log: &Log, guess: &Guess) -> Raw {
    let time = guess.column_of(Role::Time);
    let of = |(place, column): (usize, &Column)| match column.form {
        Form::Text => RawColumn::Empty,
        _ if Some(place) == time => {
            let mut values = column.values.clone();
            values.shrink_to_fit();
            RawColumn::Kept(values)
        }
        _ => RawColumn::Dropped,
    };
    Raw { columns: log.columns.iter().enumerate().map(of).collect() }
}

fn si_symbol(role: Role) -> Option<&'static str> {
    match role {
        Role::VSourceHigh | Role::VSourceLow | Role::VLoadHigh | Role::VLoadLow => Some("V"),
        Role::Temperature => Some("°C"),
        Role::PIn | Role::POut => Some("W"),
        _ => None,
    }
}

pub(super) fn convert(values: &mut [f64], scale: f64, offset: f64) {
    if scale == 1.0 && offset == 0.0 {
        return;
    }
    let inverse = libm::round(1.0 / scale);
    let divides = scale.abs() < 1.0 && ((1.0 / scale) - inverse).abs() <= 1e-9 * inverse.abs();
    for value in values {
        *value = if divides { *value / inverse } else { *value * scale } + offset;
    }
}

fn clock(
    log: &mut Log,
    guess: &Guess,
    settings: &Settings,
    out: &mut Conversion,
    found: &mut Problems,
) -> Clock {
    let rows = log.rows();
    let place = guess.column_of(Role::Time);
    if let Some(place) = place {
        join_date_and_time(log, place);
    }
    if let (Some(column), Some(guess)) =
        (place.and_then(|place| log.columns.get_mut(place)), place.and_then(|place| guess.columns.get(place)))
    {
        let mut values = core::mem::take(&mut column.values);
        values.resize(rows, f64::NAN);
        let clock = read_clock(column, values, guess, &log.repeated_headers);
        match clock.damaged {
            None => return clock,
            Some((code, example)) => found.add(code, None, || example),
        }
    }
    let period = settings.row_period.filter(|period| *period > 0.0 && period.is_finite());
    if period.is_none() {
        out.asks.push(Ask {
            code: "row_period_missing",
            message: if place.is_some() {
                "the time column cannot tell the rows apart; state the seconds from row to row".to_owned()
            } else {
                "no column was recognised as time; state the seconds from row to row, or name the column"
                    .to_owned()
            },
            option: "--row-period SECONDS".to_owned(),
            role: None,
        });
    }
    let mut clock = count_rows(rows, period.unwrap_or(0.0), &log.repeated_headers);
    clock.reason = if period.is_some() { "row period as set" } else { "rows are only counted" }.to_owned();
    clock
}

/// Adds a column of dates without times to one of times of day, where the time stands in two columns.
fn join_date_and_time(log: &mut Log, place: usize) {
    let dates_only = |column: &Column| {
        column.form == Form::DateTime
            && column.epoch_secs != 0.0
            && column.values.iter().all(|secs| secs.is_nan() || secs % 86_400.0 == 0.0)
    };
    let of_day = |column: &Column| column.form == Form::DateTime && column.epoch_secs == 0.0;
    let Some(column) = log.columns.get(place) else { return };
    let (is_date, is_time) = (dates_only(column), of_day(column));
    let other = log.columns.iter().enumerate().find(|(other, column)| {
        *other != place && ((is_date && of_day(column)) || (is_time && dates_only(column)))
    });
    let Some(other) = other.map(|(other, _)| other) else { return };
    let Some(taken) = log.columns.get_mut(other) else { return };
    taken.form = Form::Text;
    let (values, epoch_secs) = (core::mem::take(&mut taken.values), taken.epoch_secs);
    if let Some(column) = log.columns.get_mut(place) {
        column.epoch_secs += epoch_secs;
        for (secs, more) in column.values.iter_mut().zip(values) {
            *secs += more;
        }
    }
}

/// Row marks of the channels and of time.
fn marks(log: &Log, guess: &Guess) -> Vec<Mark> {
    let used: Vec<bool> = guess
        .columns
        .iter()
        .map(|column| column.role == Role::Time || channel_of(column.role).is_some())
        .collect();
    let mut marks: Vec<Mark> = log
        .marks
        .iter()
        .filter(|mark| mark.column.is_none_or(|column| used.get(column as usize) == Some(&true)))
        .map(|mark| Mark {
            row: mark.row,
            kind: match mark.cause {
                MarkCause::Unreadable => MarkKind::Unreadable,
                MarkCause::OverRange => MarkKind::OverRange,
            },
        })
        .collect();
    marks.sort_unstable();
    marks.dedup();
    marks
}

/// Resolution of a channel: what the converter behind it can tell apart, or where that is not stated
/// the smallest step seen. Counts that were averaged may be finer than one, rounded text coarser.
fn resolution(values: &[f64], guess: &ColumnGuess) -> f64 {
    let seen = smallest_step(values);
    match guess.step.map(f64::abs) {
        // Every value a whole number of counts: steps that do not occur are possible all the same.
        Some(step) if guess.unit == "counts" => {
            let turns = seen / step;
            if seen == 0.0 || turns > 0.99 { step } else { seen }
        }
        Some(step) => step.max(seen),
        None => seen,
    }
}

/// Smallest step between neighbouring rows, or between the values of an even sample in order of
/// size; without the last digits that subtraction blurs.
pub(super) fn smallest_step(values: &[f64]) -> f64 {
    let mut sample = even_sample(values, 10_000);
    sample.sort_unstable_by(f64::total_cmp);
    let smallest = values
        .windows(2)
        .chain(sample.windows(2))
        .map(|pair| (pair[1] - pair[0]).abs())
        .filter(|step| *step > 0.0)
        .fold(f64::INFINITY, f64::min);
    if !smallest.is_finite() {
        return 0.0;
    }
    let unit = libm::pow(10.0, libm::floor(libm::log10(smallest)) - 5.0);
    let digits = libm::round(smallest / unit);
    scaled(digits, unit)
}

fn span(times: Option<&[f64]>) -> f64 {
    let mut readable = times.unwrap_or_default().iter().copied().filter(|time| !time.is_nan());
    let Some(first) = readable.next() else { return 0.0 };
    readable.next_back().map_or(0.0, |last| last - first)
}

fn sum_up(readings: &Readings, out: &mut Conversion) {
    let present: Vec<&[f64]> =
        readings.columns.iter().map(Vec::as_slice).filter(|column| !column.is_empty()).collect();
    let usable: Vec<bool> = (0..readings.rows())
        .map(|row| present.iter().all(|column| column.get(row).is_some_and(|v| !v.is_nan())))
        .collect();
    out.rows_usable = usable.iter().filter(|usable| **usable).count() as u64;
    let sum = |channel: Channel| {
        readings.has(channel).then(|| {
            let mut sum = BlockSum::new();
            for (value, usable) in readings.column(channel).iter().zip(&usable) {
                sum.push(if *usable { *value } else { 0.0 });
            }
            sum.total()
        })
    };
    out.sums = Sums {
        v_in: sum(Channel::VIn),
        i_in: sum(Channel::IIn),
        v_out_high: sum(Channel::VOutHigh),
        v_out_low: sum(Channel::VOutLow),
        i_out: sum(Channel::IOut),
    };
}

/// A resolution above this share of the usual reading is worth a word. Common practice, no source.
const COARSE: f64 = 1e-3;

/// Readings that look exchanged, turned or rounded. Noticed, never mended.
fn doubts(readings: &Readings, found: &mut Problems) {
    for channel in CHANNELS {
        let mut sample = even_sample(readings.column(channel), 20_000);
        if sample.len() < 10 {
            continue;
        }
        let negative = sample.iter().filter(|value| **value < 0.0).count();
        let usual = median(&mut sample).unwrap_or(0.0);
        let resolution = readings.resolution.get(channel.index()).copied().unwrap_or(0.0);
        let name = channel.name();
        if negative * 100 > sample.len() * 95 && usual < -20.0 * resolution && channel != Channel::VOutLow {
            found.add(ProblemCode::Backwards, None, || Example {
                found: format!("{name} below zero in {negative} of {} rows looked at", sample.len()),
                expected: "readings above zero".to_owned(),
                hint: format!("if the leads are exchanged, turn its sign (--reverse {name})"),
                ..Example::default()
            });
        }
        let coarse = matches!(channel, Channel::VIn | Channel::VOutHigh) && resolution > COARSE * usual.abs();
        if coarse && usual.abs() > 0.5 {
            let unit = "V";
            found.add(ProblemCode::CoarseReadings, None, || Example {
                found: format!("{name} in steps of {resolution} {unit}"),
                expected: format!("steps below {} {unit}", COARSE * usual.abs()),
                hint: "the log seems rounded; use the original where there is one".to_owned(),
                ..Example::default()
            });
        }
    }
    exchanged(readings, found);
}

fn exchanged(readings: &Readings, found: &mut Problems) {
    let column = |channel| readings.column(channel);
    let (v_in, i_in) = (column(Channel::VIn), column(Channel::IIn));
    let (high, low, i_out) = (column(Channel::VOutHigh), column(Channel::VOutLow), column(Channel::IOut));
    let stride = readings.rows().div_ceil(20_000).max(1);
    let (mut looked_at, mut above) = (0_u32, 0_u32);
    let largest = |values: &[f64]| even_sample(values, 20_000).into_iter().fold(0.0, f64::max);
    let floor = 0.02 * largest(v_in) * largest(i_in);
    for row in (0..readings.rows()).step_by(stride) {
        let (Some(v), Some(i), Some(h), Some(o)) =
            (v_in.get(row), i_in.get(row), high.get(row), i_out.get(row))
        else {
            return;
        };
        let power_in = v * i;
        let power_out = (h - low.get(row).copied().unwrap_or(0.0)) * o;
        if power_in > floor && floor > 0.0 && power_out > 0.0 {
            looked_at += 1;
            above += u32::from(power_out > 1.05 * power_in);
        }
    }
    if looked_at >= 10 && f64::from(above) > 0.9 * f64::from(looked_at) {
        found.add(ProblemCode::Exchanged, None, || Example {
            found: format!("more power out than in, by over 5 %, in {above} of {looked_at} rows looked at"),
            expected: "less power out than in".to_owned(),
            hint: "if input and output columns are exchanged, give the roles the other way round (--columns)"
                .to_owned(),
            ..Example::default()
        });
    }
}
