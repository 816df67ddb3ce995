//! One input: its text on the way in, what was understood of it, and its readings.

use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::{InputSettings, Kind};
use crate::channel::{
    self, Ask, CHANNELS, Channel, ColumnGuess, Preview, Readings, SegmentStart, TimeUnderstood,
};
use crate::log::{self, Outcome, Problem};

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
    /// Columns in file order.
    pub columns: Vec<InputColumn>,
    /// Time.
    pub time: TimeUnderstood,
}

/// How a column was understood.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InputColumn {
    /// Number, header, role, unit and scale.
    #[serde(flatten)]
    pub guess: ColumnGuess,
    /// Why.
    pub reason: String,
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
    /// `read`, `read_with_warning`, `asks` or `refused`.
    pub outcome: &'static str,
    /// Why nothing could be read.
    pub refusal: Option<String>,
    /// What it asks.
    pub asks: Vec<Ask>,
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

/// One input at work.
#[derive(Debug)]
pub(super) struct Input {
    pub(super) name: String,
    reader: Option<log::Reader>,
    hasher: Option<Sha256>,
    pub(super) sha256: Option<String>,
    stated: Option<Kind>,
    guessed: Kind,
    evidence: Option<String>,
    pub(super) readings: Option<Readings>,
    pub(super) preview: Preview,
    order: [usize; 5],
    bytes: u64,
    outcome: &'static str,
    refusal: Option<String>,
    asks: Vec<Ask>,
    understood: Understood,
    problems: Vec<Problem>,
    usable: usize,
    sums: channel::Sums,
    duration: f64,
}

/// Records kept for a preview, good and bad.
const PREVIEWED: usize = 20;

impl Input {
    pub(super) fn new(name: &str) -> Self {
        Self {
            name: name.rsplit(['/', '\\']).next().unwrap_or(name).to_owned(),
            reader: None,
            hasher: Some(Sha256::new()),
            sha256: None,
            stated: None,
            guessed: Kind::Run,
            evidence: None,
            readings: None,
            preview: Preview::default(),
            order: [0, 1, 2, 3, 4],
            bytes: 0,
            outcome: "read",
            refusal: None,
            asks: Vec::new(),
            understood: Understood::default(),
            problems: Vec::new(),
            usable: 0,
            sums: channel::Sums::default(),
            duration: 0.0,
        }
    }

    /// Begins to read the text, also anew.
    pub(super) fn open(&mut self, settings: &InputSettings, bytes: Option<u64>) {
        self.reader = Some(log::Reader::new(&settings.read, bytes));
        self.readings = None;
    }

    pub(super) fn push(&mut self, bytes: &[u8]) {
        if let Some(reader) = &mut self.reader {
            reader.push(bytes);
        }
    }

    /// Ends the text: columns get roles and become readings.
    pub(super) fn finish(&mut self, settings: &InputSettings) {
        let Some(reader) = self.reader.take() else { return };
        self.bytes = reader.bytes();
        let log = reader.finish();
        let guess = channel::guess(&log, &settings.columns);
        self.preview = channel::preview(&log, &guess, PREVIEWED, PREVIEWED);
        self.order = order(&guess.columns);
        self.understood = Understood {
            encoding: log.understood.encoding,
            separator: log.understood.separator.to_string(),
            decimal_mark: log.understood.decimal_mark.to_string(),
            evidence: log.understood.evidence.clone(),
            columns: guess
                .columns
                .iter()
                .map(|column| InputColumn { reason: column.reason.clone(), guess: column.clone() })
                .collect(),
            time: TimeUnderstood::default(),
        };
        let warned = match &log.outcome {
            Outcome::Read => false,
            Outcome::ReadWithWarning => true,
            Outcome::Refused(refusal) => {
                self.refusal = Some(refusal.message.clone());
                self.outcome = "refused";
                self.problems = log.problems;
                self.asks.clear();
                self.readings = None;
                return;
            }
        };
        self.refusal = None;
        let converted = channel::to_readings(log, &guess, &settings.columns);
        self.understood.time = converted.time;
        self.usable = usize::try_from(converted.rows_usable).unwrap_or(usize::MAX);
        self.sums = converted.sums;
        self.duration = converted.duration;
        self.problems = converted.problems;
        self.asks = converted.asks;
        let lost = warned || self.problems.iter().any(|problem| problem.code.loses_data());
        self.outcome = match (self.asks.is_empty(), lost) {
            (false, _) => "asks",
            (true, true) => "read_with_warning",
            (true, false) => "read",
        };
        let told = channel::recognise(&converted.readings);
        self.guessed = Kind::told(told.kind);
        self.evidence = Some(told.evidence);
        self.readings = Some(converted.readings);
    }

    pub(super) fn hash(&mut self, bytes: &[u8]) {
        if let Some(hasher) = &mut self.hasher {
            hasher.update(bytes);
        }
    }

    pub(super) fn finish_hash(&mut self) {
        if let Some(hasher) = self.hasher.take() {
            self.sha256 = Some(hasher.finalize().iter().map(|byte| format!("{byte:02x}")).collect());
        }
    }

    /// States what the input is; `None` leaves it to its content.
    pub(super) fn state(&mut self, kind: Option<Kind>) {
        self.stated = kind;
    }

    /// What the input is.
    pub(super) fn kind(&self) -> Kind {
        self.stated.unwrap_or(self.guessed)
    }

    /// Whether its readings can be used.
    pub(super) fn usable(&self) -> bool {
        self.readings.is_some() && self.asks.is_empty()
    }

    /// Column numbers of the channels, for the order of sampling.
    pub(super) fn order(&self) -> [usize; 5] {
        self.order
    }

    pub(super) fn result(&self) -> InputResult {
        let empty = Readings::default();
        let readings = self.readings.as_ref().unwrap_or(&empty);
        InputResult {
            name: self.name.clone(),
            sha256: self.sha256.clone(),
            bytes: self.bytes,
            role: self.kind(),
            role_evidence: if self.stated.is_none() { self.evidence.clone() } else { None },
            outcome: self.outcome,
            refusal: self.refusal.clone(),
            asks: self.asks.clone(),
            rows_found: readings.rows(),
            rows_usable: self.usable,
            sums: Sums::of(&self.sums, readings),
            duration: timed(readings).then_some(self.duration),
            row_period: timed(readings).then_some(readings.row_period),
            segments: segments(readings),
            understood: self.understood.clone(),
            problems: self.problems.clone(),
        }
    }
}

impl Sums {
    fn of(sums: &channel::Sums, readings: &Readings) -> Self {
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

/// Place of each channel's column in the file; absent channels come last.
fn order(columns: &[ColumnGuess]) -> [usize; 5] {
    use channel::Role::{IIn, IOut, VIn, VOut, VOutHigh, VOutLow};
    CHANNELS.map(|channel| {
        let wanted: &[channel::Role] = match channel {
            Channel::VIn => &[VIn],
            Channel::VOutHigh => &[VOutHigh, VOut],
            Channel::VOutLow => &[VOutLow],
            Channel::IIn => &[IIn],
            Channel::IOut => &[IOut],
        };
        columns.iter().position(|column| wanted.contains(&column.role)).unwrap_or(columns.len())
    })
}

fn segments(readings: &Readings) -> Vec<SegmentResult> {
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
fn timed(readings: &Readings) -> bool {
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
