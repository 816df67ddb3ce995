//! One input: its text on the way in, what was understood of it, and its readings.

use sha2::{Digest as _, Sha256};

use super::shown::{
    Grown, InputColumn, InputResult, InputTime, NextKind, Resolutions, Sums, Understood, segments, timed,
};
use super::{InputSettings, Kind};
use crate::channel::{self, Ask, CHANNELS, Channel, ColumnGuess, Preview, Raw, Readings, Role, Suggestion};
use crate::log::{self, Checkpoint, Fingerprint, Outcome, Problem, Refusal};
use crate::sieve::SettledPoints;

/// Where an input stood when a longer state of its log began to be read.
#[derive(Debug)]
struct Growing {
    /// `None` where it is read anew.
    checkpoint: Option<Checkpoint>,
    rows: usize,
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
    next: Option<NextKind>,
    pub(super) readings: Option<Readings>,
    pub(super) preview: Preview,
    order: [usize; 5],
    bytes: u64,
    outcome: &'static str,
    refusal: Option<Refusal>,
    asks: Vec<Ask>,
    suggestions: Vec<Suggestion>,
    understood: Understood,
    problems: Vec<Problem>,
    usable: usize,
    sums: channel::Sums,
    duration: f64,
    /// Sum of its bytes and how many there are; of the last complete reading.
    sum: (u64, u64),
    /// Where reading stopped and how the columns come back; `None`: a grown log is read anew.
    resume: Option<(Checkpoint, Raw)>,
    /// Where it stood while a longer one is read, and its rows then.
    growing: Option<Growing>,
    pub(super) grown: Grown,
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
            next: None,
            readings: None,
            preview: Preview::default(),
            order: [0, 1, 2, 3, 4],
            bytes: 0,
            outcome: "read",
            refusal: None,
            asks: Vec::new(),
            suggestions: Vec::new(),
            understood: Understood::default(),
            problems: Vec::new(),
            usable: 0,
            sums: channel::Sums::default(),
            duration: 0.0,
            sum: Fingerprint::new().value(),
            resume: None,
            growing: None,
            grown: Grown::default(),
        }
    }

    /// Begins to read the text, also anew; what was read before stays until that is done.
    pub(super) fn open(&mut self, settings: &InputSettings, bytes: Option<u64>) {
        let mut read = settings.read.clone();
        // A column that names ranges is read as words, whatever it is called.
        read.word_columns.extend(settings.columns.ranges.iter().filter_map(|ranges| match ranges.column {
            Some(channel::ColumnRef::Number(number)) => Some(number),
            _ => None,
        }));
        self.reader = Some(log::Reader::new(&read, bytes));
    }

    /// Bytes of the last complete reading.
    pub(super) fn bytes(&self) -> u64 {
        self.sum.1
    }

    /// Begins to read a longer text that starts with the bytes read so far, whose sum is given; gives
    /// the place from which bytes are wanted. `None` where it does not start so.
    pub(super) fn grow(
        &mut self,
        settings: &InputSettings,
        beginning: &Fingerprint,
        bytes: Option<u64>,
    ) -> Option<u64> {
        if self.reader.is_some() || beginning.value() != self.sum {
            return None;
        }
        let rows = self.readings.as_ref().map_or(0, Readings::rows);
        if let Some((checkpoint, raw)) = self.resume.take()
            && let Some(mut readings) = self.readings.take()
        {
            let (columns, lines) = raw.restore(&mut readings);
            if let Some(reader) = checkpoint.resume(columns, lines) {
                self.reader = Some(reader);
                self.growing = Some(Growing { checkpoint: Some(checkpoint), rows });
                return Some(self.sum.1);
            }
        }
        self.open(settings, bytes);
        self.growing = Some(Growing { checkpoint: None, rows });
        Some(0)
    }

    /// Ends reading without what came of it: the input is as it was before.
    pub(super) fn abandon(&mut self, settings: &InputSettings) {
        let Some(reader) = self.reader.take() else { return };
        let Some(checkpoint) = self.growing.take().and_then(|growing| growing.checkpoint) else { return };
        let (columns, lines) = reader.into_columns();
        self.reader = checkpoint.resume(columns, lines);
        self.finish(settings, true);
    }

    pub(super) fn push(&mut self, bytes: &[u8]) {
        if let Some(reader) = &mut self.reader {
            reader.push(bytes);
        }
    }

    /// Ends the text: columns get roles and become readings. `follows`: a longer one may come.
    pub(super) fn finish(&mut self, settings: &InputSettings, follows: bool) {
        let Some(reader) = self.reader.take() else { return };
        let before = self.growing.take().map(|growing| growing.rows);
        if before.is_some() {
            (self.hasher, self.sha256) = (Some(Sha256::new()), None);
        }
        self.bytes = reader.bytes();
        self.sum = reader.sum();
        let (log, checkpoint) = if follows { reader.finish_resumable() } else { (reader.finish(), None) };
        let guess = channel::guess(&log, &settings.columns);
        self.preview = channel::preview(&log, &guess, PREVIEWED, PREVIEWED);
        self.order = order(&guess.columns);
        self.understood = understood(&log, &guess);
        self.problems.clear();
        self.asks.clear();
        self.suggestions.clear();
        (self.usable, self.sums, self.duration) = (0, channel::Sums::default(), 0.0);
        (self.guessed, self.evidence, self.next) = (Kind::Run, None, None);
        (self.readings, self.resume) = (None, None);
        let warned = match &log.outcome {
            Outcome::Read => false,
            Outcome::ReadWithWarning => true,
            Outcome::Refused(refusal) => {
                self.refusal = Some(refusal.clone());
                self.outcome = "refused";
                self.problems = log.problems;
                return;
            }
        };
        self.refusal = None;
        let converted = if checkpoint.is_some() {
            channel::to_readings_keeping(log, &guess, &settings.columns)
        } else {
            channel::to_readings(log, &guess, &settings.columns)
        };
        self.understood.time = InputTime { understood: converted.time, reason: converted.time_reason };
        self.understood.resolution = Resolutions::of(&converted.readings);
        self.understood.ranges = converted.ranges;
        self.usable = usize::try_from(converted.rows_usable).unwrap_or(usize::MAX);
        self.sums = converted.sums;
        self.duration = converted.duration;
        self.problems = converted.problems;
        self.asks = converted.asks;
        self.suggestions = guess.suggestions;
        let lost = warned || self.problems.iter().any(|problem| problem.code.loses_data());
        self.outcome = match (self.asks.is_empty(), lost) {
            (false, _) => "asks",
            (true, true) => "read_with_warning",
            (true, false) => "read",
        };
        let told = channel::recognise(&converted.readings);
        self.guessed = Kind::told(told.kind);
        self.evidence = Some(told.evidence);
        self.next = told.next.map(|(kind, evidence)| NextKind { role: Kind::told(kind), evidence });
        self.resume = checkpoint.zip(converted.raw);
        self.readings = Some(converted.readings);
        if let Some(before) = before {
            self.count_growth(before);
        }
    }

    fn count_growth(&mut self, before: usize) {
        let rows = self.readings.as_ref().map_or(0, Readings::rows);
        self.grown = Grown { times: self.grown.times + 1, rows: rows.saturating_sub(before) };
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

    /// Whether its readings can be used, where other inputs of the run have columns of these roles.
    pub(super) fn usable(&self, elsewhere: &[Role], settled: SettledPoints) -> bool {
        self.readings.is_some() && self.asks.iter().all(|ask| self.answered(ask, elsewhere, settled))
    }

    /// Whether another input of the run has what this one asks for, or it need not be known: a table of settled points
    /// needs no time.
    fn answered(&self, ask: &Ask, elsewhere: &[Role], settled: SettledPoints) -> bool {
        if ask.code == "row_period_missing" {
            let table = self.guessed == Kind::Table || self.stated == Some(Kind::Table);
            return self.kind().is_run()
                && match settled {
                    SettledPoints::Auto => table,
                    SettledPoints::Yes => true,
                    SettledPoints::No => false,
                };
        }
        let has = |role| elsewhere.contains(&role);
        ask.role.is_some_and(|role| has(role) || (role == Role::VOut && has(Role::VOutHigh)))
    }

    /// Encoding of its text.
    pub(super) fn encoding(&self) -> &'static str {
        self.understood.encoding
    }

    /// Roles that it has a column of.
    pub(super) fn roles(&self) -> Vec<Role> {
        self.understood.columns.iter().map(|column| column.guess.role).collect()
    }

    /// Column numbers of the channels, for the order of sampling.
    pub(super) fn order(&self) -> [usize; 5] {
        self.order
    }

    /// How its columns were understood, in file order.
    pub(super) fn columns(&self) -> &[InputColumn] {
        &self.understood.columns
    }

    /// The input in the results, where other inputs of the run have columns of these roles.
    pub(super) fn result(&self, elsewhere: &[Role], settled: SettledPoints) -> InputResult {
        let empty = Readings::default();
        let readings = self.readings.as_ref().unwrap_or(&empty);
        InputResult {
            name: self.name.clone(),
            sha256: self.sha256.clone(),
            bytes: self.bytes,
            role: self.kind(),
            role_evidence: if self.stated.is_none() { self.evidence.clone() } else { None },
            role_next: if self.stated.is_none() { self.next.clone() } else { None },
            loggers: None,
            outcome: match self.outcome {
                "asks" if self.asks.iter().all(|ask| self.answered(ask, elsewhere, settled)) => "read",
                outcome => outcome,
            },
            refusal: self.refusal.as_ref().map(|refusal| refusal.message.clone()),
            refusal_code: self.refusal.as_ref().map(|refusal| refusal.code),
            correctable: self.refusal.as_ref().is_some_and(Refusal::correctable),
            asks: self.asks.iter().filter(|ask| !self.answered(ask, elsewhere, settled)).cloned().collect(),
            suggestions: self.suggestions.clone(),
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

fn understood(log: &log::Log, guess: &channel::Guess) -> Understood {
    let columns = guess.columns.iter().zip(&log.columns).map(|(guess, column)| InputColumn {
        reason: guess.reason.clone(),
        guess: guess.clone(),
        form: column.form,
    });
    Understood {
        encoding: log.understood.encoding,
        separator: log.understood.separator.to_string(),
        decimal_mark: log.understood.decimal_mark.to_string(),
        evidence: log.understood.evidence.clone(),
        shape: log.understood.shape,
        header_lines: log.header_lines.iter().map(|line| line.line).collect(),
        preamble_lines: log.preamble_lines,
        comment_lines: log.comment_count,
        columns: columns.collect(),
        ..Understood::default()
    }
}

/// Place of each channel's column in the file; absent channels come last.
fn order(columns: &[ColumnGuess]) -> [usize; 5] {
    use channel::Role::{IIn, IOut, VIn, VOut, VOutHigh, VOutLow};
    CHANNELS.map(|channel| {
        let wanted: &[Role] = match channel {
            Channel::VIn => &[VIn],
            Channel::VOutHigh => &[VOutHigh, VOut],
            Channel::VOutLow => &[VOutLow],
            Channel::IIn => &[IIn],
            Channel::IOut => &[IOut],
        };
        columns.iter().position(|column| wanted.contains(&column.role)).unwrap_or(columns.len())
    })
}
