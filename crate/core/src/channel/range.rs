//! Channels that switch their range: which row is in which, gain and offset of each, and whether the
//! readings agree where the range changes.

use serde::Serialize;

use crate::log::{Column, Example, Form, Log, ProblemCode, Problems};
use crate::math::stats::{median, noise, scaled_mad};
use crate::wording;

use super::Role;
use super::column::{ColumnGuess, role_name};
use super::convert::smallest_step;
use super::guess::{Ask, find};
use super::name::{electrical, understand};
use super::settings::{ChannelRange, ColumnRef, Settings};
use super::spelling::{Quantity, key_of};
use super::steps::{coarse_rows, split_by_steps};

/// Ranges of one channel, at most.
const MOST_RANGES: usize = 16;

/// The row's range is not known.
const UNKNOWN: u8 = u8::MAX;

/// A channel that switches its range, and how its range is told.
#[derive(Clone, Debug, PartialEq)]
pub struct RangeGuess {
    /// The channel's role.
    pub role: Role,
    /// Place of the column that names the range; `None`: told from the size of the steps.
    pub place: Option<usize>,
    /// Gains and offsets as set.
    pub ranges: Vec<ChannelRange>,
    /// Why.
    pub reason: String,
}

/// One range as found.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct RangeShown {
    /// Its name.
    pub name: String,
    /// Rows in it.
    pub rows: u64,
    /// Smallest step of the readings in it, V or A; `null` where they do not vary.
    pub resolution: Option<f64>,
    /// Smallest and largest reading in it, corrected, V or A; `null` without a reading.
    pub from: Option<f64>,
    /// See `from`.
    pub to: Option<f64>,
    /// Gain in use.
    pub gain: f64,
    /// Offset in use, V or A.
    pub offset: f64,
}

/// The ranges of one channel as found.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RangesShown {
    /// The channel's role.
    pub role: Role,
    /// `column` or `steps`: how the range of a row is told.
    pub by: &'static str,
    /// Number of the column that names the range, from 1; `null` where it is told from the steps.
    pub column: Option<u32>,
    /// Why it is thought to switch its range.
    pub reason: String,
    /// The ranges.
    pub ranges: Vec<RangeShown>,
    /// Changes of range inside a segment, with readings enough on both sides.
    pub switches: u64,
    /// Step of the corrected reading at the change that agrees worst, later range less earlier, V or
    /// A; `null` without a change.
    pub step: Option<f64>,
    /// Its standard uncertainty, V or A.
    pub step_u: Option<f64>,
    /// Whether the ranges agree within twice that; `null` where it cannot be told.
    pub agrees: Option<bool>,
}

/// Channels whose range is named by a column, as set or because a column's name says so.
pub(super) fn find_ranges(
    log: &Log,
    columns: &[ColumnGuess],
    settings: &Settings,
    asks: &mut Vec<Ask>,
) -> Vec<RangeGuess> {
    let mut found: Vec<RangeGuess> = Vec::new();
    for stated in &settings.ranges {
        let place = stated.column.as_ref().map(|column| find(log, column));
        let names_ranges = |place: usize| log.columns.get(place).is_some_and(|c| !names_in(c).is_empty());
        let problem = match (place, &stated.column) {
            (Some(None), Some(ColumnRef::Number(number))) => {
                Some(format!("there is no column {number} to name the range of {}", role_name(stated.role)))
            }
            (Some(None), Some(ColumnRef::Header(header))) => Some(format!(
                "no column is headed `{header}` to name the range of {}",
                role_name(stated.role)
            )),
            (Some(Some(place)), _) if !names_ranges(place) => Some(format!(
                "column {} names no range: it needs words, or at most {MOST_RANGES} different numbers",
                place + 1
            )),
            _ => None,
        };
        if let Some(message) = problem {
            asks.push(Ask {
                code: "range_unknown",
                message,
                option: format!("--ranges {}=column:NUMBER", role_name(stated.role)),
                role: None,
            });
            continue;
        }
        found.push(RangeGuess {
            role: stated.role,
            place: place.flatten(),
            ranges: stated.ranges.clone(),
            reason: "as set".to_owned(),
        });
    }
    for (place, column) in log.columns.iter().enumerate() {
        let Some(rest) = without_range_word(&column.header) else { continue };
        if column.form == Form::DateTime || names_in(column).len() < 2 {
            continue;
        }
        let currents: Vec<Role> = columns
            .iter()
            .map(|column| column.role)
            .filter(|role| electrical(*role) == Some(Quantity::Current))
            .collect();
        let role = understand(&rest, "", "").role.filter(|role| electrical(*role).is_some());
        let only = if let [only] = currents[..] { Some(only) } else { None };
        let role = if rest.trim().is_empty() { only } else { role };
        if let Some(role) = role.filter(|role| found.iter().all(|known| known.role != *role)) {
            let reason = format!("column {} `{}` names its range", place + 1, column.header);
            found.push(RangeGuess { role, place: Some(place), ranges: Vec::new(), reason });
        }
    }
    found
}

/// A name without the word that says range; `None` where there is none.
fn without_range_word(name: &str) -> Option<String> {
    let lower = name.to_lowercase();
    ["bereich", "range", "rng"].iter().find_map(|word| {
        let at = lower.find(word)?;
        let rest = format!("{} {}", lower.get(..at)?, lower.get(at + word.len()..)?);
        Some(if key_of(&rest).is_empty() { String::new() } else { rest.replace('_', " ").trim().to_owned() })
    })
}

/// Names that a column gives ranges; empty where it cannot.
fn names_in(column: &Column) -> Vec<String> {
    if column.form == Form::Words {
        return if column.words.len() <= MOST_RANGES { column.words.clone() } else { Vec::new() };
    }
    let mut seen: Vec<f64> = Vec::new();
    for value in column.values.iter().filter(|value| value.is_finite()) {
        if !seen.contains(value) {
            seen.push(*value);
            if seen.len() > MOST_RANGES {
                return Vec::new();
            }
        }
    }
    seen.sort_by(f64::total_cmp);
    seen.iter().map(f64::to_string).collect()
}

/// The range of every row.
#[derive(Clone, Debug)]
pub(super) struct Coded {
    guess: RangeGuess,
    by: &'static str,
    names: Vec<String>,
    codes: Vec<u8>,
}

impl Coded {
    pub(super) fn role(&self) -> Role {
        self.guess.role
    }
}

/// Reads the columns that name ranges.
pub(super) fn code_rows(log: &Log, ranges: &[RangeGuess]) -> Vec<Coded> {
    let coded = |guess: &RangeGuess| {
        let column = log.columns.get(guess.place?)?;
        let names = names_in(column);
        let code_of = |value: &f64| {
            let place = if column.form == Form::Words {
                Some(*value as usize).filter(|_| value.is_finite())
            } else {
                let text = value.to_string();
                names.iter().position(|name| *name == text)
            };
            place.and_then(|place| u8::try_from(place).ok()).unwrap_or(UNKNOWN)
        };
        let codes = column.values.iter().map(code_of).collect();
        Some(Coded { guess: guess.clone(), by: "column", names, codes })
    };
    ranges.iter().filter_map(coded).collect()
}

/// Ranges told from the size of the steps of a current; also where nobody said that there are any.
pub(super) fn code_by_steps(role: Role, values: &[f64], ranges: &[RangeGuess]) -> Option<Coded> {
    let stated = ranges.iter().find(|guess| guess.role == role);
    if stated.is_some_and(|guess| guess.place.is_some())
        || (stated.is_none() && electrical(role) != Some(Quantity::Current))
    {
        return None;
    }
    let split = split_by_steps(values)?;
    let guess = stated.cloned().unwrap_or(RangeGuess {
        role,
        place: None,
        ranges: Vec::new(),
        reason: String::new(),
    });
    let guess = RangeGuess {
        reason: format!(
            "steps of {} below {} and of {} above",
            wording::plain(split.fine),
            wording::plain(split.at),
            wording::plain(split.coarse)
        ),
        ..guess
    };
    let codes = coarse_rows(values, &split).into_iter().map(|row| row.map_or(UNKNOWN, u8::from)).collect();
    Some(Coded { guess, by: "steps", names: vec!["fine".to_owned(), "coarse".to_owned()], codes })
}

/// Corrects a channel by its ranges and says what was found. Gives the resolution of the range that
/// most rows are in.
pub(super) fn apply(
    coded: &Coded,
    values: &mut [f64],
    starts: &[usize],
    lines: &[u32],
    found: &mut Problems,
) -> (RangesShown, f64) {
    let mut shown: Vec<RangeShown> = Vec::new();
    for (code, name) in coded.names.iter().enumerate() {
        let mut inside: Vec<f64> = values
            .iter()
            .zip(&coded.codes)
            .filter(|(value, own)| usize::from(**own) == code && !value.is_nan())
            .map(|(value, _)| *value)
            .collect();
        let rows = inside.len() as u64;
        let resolution = Some(smallest_step(&inside)).filter(|step| *step > 0.0);
        let stated = coded.guess.ranges.iter().find(|range| range.name == *name);
        let (gain, offset) = stated.map_or((1.0, 0.0), |range| (range.gain, range.offset));
        inside.iter_mut().for_each(|value| *value = (*value - offset) / gain);
        let from = inside.iter().copied().reduce(f64::min);
        let to = inside.iter().copied().reduce(f64::max);
        shown.push(RangeShown { name: name.clone(), rows, resolution, from, to, gain, offset });
    }
    for (value, code) in values.iter_mut().zip(&coded.codes) {
        if let Some(range) = shown.get(usize::from(*code))
            && (range.gain != 1.0 || range.offset != 0.0)
        {
            *value = (*value - range.offset) / range.gain;
        }
    }
    let usual = shown.iter().max_by_key(|range| range.rows).and_then(|range| range.resolution).unwrap_or(0.0);
    let seam = worst_seam(coded, &shown, values, starts);
    let switches = seam.as_ref().map_or(0, |seam| seam.count);
    let agrees = seam.as_ref().and_then(|seam| seam.u.map(|u| seam.step.abs() <= 2.0 * u));
    if let (Some(seam), Some(false)) = (&seam, agrees) {
        let unit = if electrical(coded.guess.role) == Some(Quantity::Current) { "A" } else { "V" };
        let (first, second) = (&coded.names[seam.ranges[0]], &coded.names[seam.ranges[1]]);
        let name = role_name(coded.guess.role);
        found.add(ProblemCode::RangeSeam, u32::try_from(seam.row).ok(), || Example {
            line: lines.get(seam.row).copied(),
            column: coded.guess.place.map(|place| place as u32 + 1),
            header: None,
            found: format!(
                "{name} {:.6} {unit} in range {first} and {:.6} {unit} in range {second} where the range changes; over {} changes {second} reads {} more",
                seam.sides[0],
                seam.sides[1],
                seam.count,
                wording::said(seam.step, seam.u, unit)
            ),
            expected: "the same reading in both ranges".to_owned(),
            hint: format!(
                "state the gain or the offset of one range (--ranges {name}=...,{second}:offset:{:.6}{unit})",
                seam.step
            ),
        });
    }
    let shown = RangesShown {
        role: coded.guess.role,
        by: coded.by,
        column: coded.guess.place.map(|place| place as u32 + 1),
        reason: coded.guess.reason.clone(),
        ranges: shown,
        switches,
        step: seam.as_ref().map(|seam| seam.step),
        step_u: seam.as_ref().and_then(|seam| seam.u),
        agrees,
    };
    (shown, usual)
}

/// What the readings do where the range changes between two ranges.
struct Seam {
    ranges: [usize; 2],
    count: u64,
    /// Second less first, median over the changes.
    step: f64,
    u: Option<f64>,
    /// Readings on both sides of the change nearest the median, and its row.
    sides: [f64; 2],
    row: usize,
}

/// Two ranges, and of each change between them the step, its row and the readings of both sides.
type Pair = ([usize; 2], Vec<(f64, usize, [f64; 2])>);

/// The pair of ranges that agrees worst.
///
/// **Formula** on each side of a change the two readings next to it are carried on in a straight line
/// to half way between the ranges; the difference is `s`. The median over the changes takes out what
/// the current itself does, up or down. `u² = (1.4826 MAD / sqrt n)² pi/2 + (noise² · 5 + q²/12 · 5) / n`,
/// with q the coarser step: a value carried half a row beyond two readings has 2.5 times their
/// variance.
/// **Source** common practice, no source.
fn worst_seam(coded: &Coded, shown: &[RangeShown], values: &[f64], starts: &[usize]) -> Option<Seam> {
    let mut pairs: Vec<Pair> = Vec::new();
    let codes = &coded.codes;
    for row in 2..values.len().saturating_sub(1) {
        let (before, after) = (codes[row - 1], codes[row]);
        let settled = before != after
            && before != UNKNOWN
            && after != UNKNOWN
            && codes[row - 2] == before
            && codes[row + 1] == after
            && !(row - 1..=row + 1).any(|row| starts.binary_search(&row).is_ok());
        if !settled {
            continue;
        }
        let left = 1.5 * values[row - 1] - 0.5 * values[row - 2];
        let right = 1.5 * values[row] - 0.5 * values[row + 1];
        if !(left.is_finite() && right.is_finite()) {
            continue;
        }
        let up = before < after;
        let key = if up { [before, after] } else { [after, before] }.map(usize::from);
        let sides = if up { [left, right] } else { [right, left] };
        let entry = (sides[1] - sides[0], row, sides);
        match pairs.iter_mut().find(|(known, _)| *known == key) {
            Some((_, list)) => list.push(entry),
            None => pairs.push((key, vec![entry])),
        }
    }
    let sigma = noise(values).unwrap_or(0.0);
    let seam = |(ranges, list): &Pair| {
        let mut steps: Vec<f64> = list.iter().map(|(step, _, _)| *step).collect();
        let step = median(&mut steps.clone())?;
        let n = list.len() as f64;
        let coarse = ranges.iter().filter_map(|range| shown.get(*range)?.resolution).fold(0.0, f64::max);
        let scatter = if list.len() < 3 { 0.0 } else { scaled_mad(&mut steps)? };
        let single = 5.0 * sigma * sigma + 5.0 * coarse * coarse / 12.0;
        let u = ((scatter * scatter * core::f64::consts::FRAC_PI_2 + single) / n).sqrt();
        let nearest = list.iter().min_by(|a, b| (a.0 - step).abs().total_cmp(&(b.0 - step).abs()))?;
        Some(Seam {
            ranges: *ranges,
            count: list.len() as u64,
            step,
            u: Some(u).filter(|u| *u > 0.0),
            sides: nearest.2,
            row: nearest.1,
        })
    };
    let ratio = |seam: &Seam| seam.u.map_or(0.0, |u| seam.step.abs() / u);
    pairs.iter().filter_map(seam).max_by(|a, b| ratio(a).total_cmp(&ratio(b)))
}
