//! One input in the results.

use serde::Serialize;

use super::Kind;
use crate::align::clocks::LoggerResult;
use crate::channel::{
    self, Ask, Channel, ColumnGuess, RangesShown, Readings, SegmentStart, Suggestion, TimeUnderstood,
};
use crate::log::{Form, Problem, Shape};

/// Sums of the usable rows as logged, V and A.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Sums {
    /// Input voltage.
    pub v_in: Option<f64>,
    /// Input current.
    pub i_in: Option<f64>,
    /// High output node; absent where only the difference is logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub v_out_high: Option<f64>,
    /// Low output node; absent where only the difference is logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub v_out_low: Option<f64>,
    /// Output voltage, where only the difference is logged.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub v_out: Option<f64>,
    /// Output current.
    pub i_out: Option<f64>,
}

/// A stretch of rows with one running clock.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SegmentResult {
    /// First row.
    pub first: usize,
    /// Last row.
    pub last: usize,
    /// Time from first to last row, s; `null` where no time is known.
    pub duration: Option<f64>,
    /// Why it starts here: `start`, `clock_back`, `header` or `gap`.
    pub why: &'static str,
}

/// What was understood of a text.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Understood {
    /// Character encoding.
    pub encoding: &'static str,
    /// Separator.
    pub separator: String,
    /// Decimal mark.
    pub decimal_mark: String,
    /// Why these were chosen, one sentence each.
    pub evidence: Vec<String>,
    /// How a record is written: `delimited`, `name_value` or `json`.
    pub shape: Shape,
    /// Lines of the header, from 1; empty where there is none.
    pub header_lines: Vec<u32>,
    /// Lines before the header that are neither comments nor blank.
    pub preamble_lines: u32,
    /// Comment lines.
    pub comment_lines: u64,
    /// Columns in file order.
    pub columns: Vec<InputColumn>,
    /// Time.
    pub time: InputTime,
    /// Smallest step of each channel, SI; `null` where it does not vary or is not logged.
    pub resolution: Resolutions,
    /// Channels that switch their range.
    pub ranges: Vec<RangesShown>,
}

/// How a column was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputColumn {
    /// Number, header, role, unit and scale.
    #[serde(flatten)]
    pub guess: ColumnGuess,
    /// Why.
    pub reason: String,
    /// What its cells hold: `number`, `date_time`, `words` or `text`.
    pub form: Form,
}

/// How time was understood.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct InputTime {
    /// Form and wraps.
    #[serde(flatten)]
    pub understood: TimeUnderstood,
    /// Why.
    pub reason: String,
}

/// Smallest steps, V and A.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Resolutions {
    /// Input voltage.
    pub v_in: Option<f64>,
    /// High output node, or the output voltage where only that is logged.
    pub v_out_high: Option<f64>,
    /// Low output node.
    pub v_out_low: Option<f64>,
    /// Input current.
    pub i_in: Option<f64>,
    /// Output current.
    pub i_out: Option<f64>,
}

impl Resolutions {
    /// Of these readings.
    pub(super) fn of(readings: &Readings) -> Self {
        let [v_in, v_out_high, v_out_low, i_in, i_out] =
            readings.resolution.map(|step| Some(step).filter(|step| *step > 0.0));
        Self { v_in, v_out_high, v_out_low, i_in, i_out }
    }
}

/// The next best kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextKind {
    /// The kind.
    pub role: Kind,
    /// What speaks for it and what against.
    pub evidence: String,
}

/// How a log grew since it was first given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Grown {
    /// How often it was given again longer.
    pub times: u32,
    /// Rows that were new the last time.
    pub rows: usize,
}

/// One input in the results.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputResult {
    /// File name without its folder.
    pub name: String,
    /// Hash of its bytes, hexadecimal; `null` until it was made.
    pub sha256: Option<String>,
    /// Bytes.
    pub bytes: u64,
    /// What it is.
    pub role: Kind,
    /// Why it is taken for that, where it was told by content.
    pub role_evidence: Option<String>,
    /// The next best guess and what speaks for it and against it; `null` where it was stated or there
    /// is none.
    pub role_next: Option<NextKind>,
    /// Other loggers whose channels belong to this calibration run; `null` where it has none or is a run, which
    /// tells of them itself.
    pub loggers: Option<Vec<LoggerResult>>,
    /// `read`, `read_with_warning`, `asks` or `refused`.
    pub outcome: &'static str,
    /// Why nothing could be read.
    pub refusal: Option<String>,
    /// Short code of that: `empty`, `picture`, `not_text`, `header_only`, `no_numbers`,
    /// `too_many_columns`, `memory`, `saved_file`; `null` where it was read.
    pub refusal_code: Option<&'static str>,
    /// Whether it was refused and another way of reading may help.
    pub correctable: bool,
    /// What it asks.
    pub asks: Vec<Ask>,
    /// Where roles are missing: the best and the next best way to give them by the readings.
    pub suggestions: Vec<Suggestion>,
    /// Data rows.
    pub rows_found: usize,
    /// Rows with all used channels present.
    pub rows_usable: usize,
    /// Sums over those.
    pub sums: Sums,
    /// Time over all segments, s; `null` where no time is known.
    pub duration: Option<f64>,
    /// Median time from row to row, s; `null` where no time is known.
    pub row_period: Option<f64>,
    /// Stretches with one running clock.
    pub segments: Vec<SegmentResult>,
    /// What was understood.
    pub understood: Understood,
    /// What was not read, by kind.
    pub problems: Vec<Problem>,
}

impl Sums {
    pub(super) fn of(sums: &channel::Sums, readings: &Readings) -> Self {
        let nodes = readings.has(Channel::VOutLow);
        Self {
            v_in: sums.v_in,
            i_in: sums.i_in,
            v_out_high: sums.v_out_high.filter(|_| nodes),
            v_out_low: sums.v_out_low.filter(|_| nodes),
            v_out: sums.v_out_high.filter(|_| !nodes),
            i_out: sums.i_out,
        }
    }
}

pub(super) fn segments(readings: &Readings) -> Vec<SegmentResult> {
    readings
        .segments
        .iter()
        .map(|segment| SegmentResult {
            first: segment.first,
            last: segment.last,
            duration: readings.time.get(segment.first..=segment.last).filter(|_| timed(readings)).map(span),
            why: match segment.start {
                SegmentStart::Start => "start",
                SegmentStart::ClockBack => "clock_back",
                SegmentStart::Header => "header",
                SegmentStart::Gap => "gap",
            },
        })
        .collect()
}

/// Whether the rows' time is known: logged, or stated as a row period.
pub(super) fn timed(readings: &Readings) -> bool {
    readings.row_period > 0.0
}

/// Time from the first to the last readable row, s.
fn span(times: &[f64]) -> f64 {
    let first = times.iter().find(|time| time.is_finite());
    let last = times.iter().rev().find(|time| time.is_finite());
    match (first, last) {
        (Some(first), Some(last)) => last - first,
        _ => 0.0,
    }
}
