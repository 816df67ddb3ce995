//! Takes the bytes of one log in pieces.

use super::dialect::find as find_dialect;
use super::edge::Edge;
use super::fast::Fast;
use super::fingerprint::Fingerprint;
use super::header::{self, Header};
use super::nothing::{no_records, refused};
use super::problem::{Example, ProblemCode};
use super::record::{KEPT_RECORDS, Sink};
use super::refusal::{Refusal, not_a_log};
use super::result::{Column, Form, Log, Outcome};
use super::settings::{HeaderRow, Settings};
use super::text::{Encoding, ToUtf8, encoding_of, replaced_letter, transcoder};
use super::writing::{Line, Shape, Understood, lines as cut_lines};

/// Bytes that are looked at before the first record is read; doubled while they do not suffice.
const SAMPLE: usize = 64 * 1024;

/// Beyond this a log without a single record is given up.
const LARGEST_SAMPLE: usize = 8 * 1024 * 1024;

/// A quoted record longer than this counts as one whose quote is never closed.
const LONGEST_QUOTED: usize = 64 * 1024;

/// After so many quotes that are never closed, quotes are taken as letters.
const OPEN_QUOTES: u32 = 16;

/// Longer pieces are cut.
const LARGEST_PIECE: usize = 1 << 30;

/// More columns than this are not a log.
const MOST_COLUMNS: usize = 4096;

/// Reads one log from its bytes, in pieces of any size.
///
/// ```
/// use wattsieve_core::log::{Reader, Settings};
/// let mut reader = Reader::new(&Settings::default(), None);
/// reader.push(b"t [s],V in ");
/// reader.push(b"(V)\n0.0,12.5\n0.1,12.4\n");
/// let log = reader.finish();
/// assert_eq!(log.columns[1].header, "V in (V)");
/// assert_eq!(log.columns[1].values, [12.5, 12.4]);
/// ```
#[derive(Debug)]
pub struct Reader {
    pub(super) settings: Settings,
    expected_bytes: Option<u64>,
    pub(super) sum: Fingerprint,
    /// Bytes as they came, until the dialect is known.
    head: Vec<u8>,
    next_sample: usize,
    pub(super) state: State,
}

#[derive(Debug)]
pub(super) enum State {
    /// The dialect is not known yet.
    Sampling,
    Scanning(Box<Scan>),
    /// Nothing more is taken.
    Refused(Refusal),
}

/// Reads a whole log at once.
#[must_use]
pub fn read(bytes: &[u8], settings: &Settings) -> Log {
    let mut reader = Reader::new(settings, Some(bytes.len() as u64));
    reader.push(bytes);
    reader.finish()
}

impl Reader {
    /// Starts a log. `expected_bytes`, where known, lets the columns be reserved at once; a wrong
    /// figure does no harm.
    #[must_use]
    pub fn new(settings: &Settings, expected_bytes: Option<u64>) -> Self {
        Self {
            settings: settings.clone(),
            expected_bytes,
            sum: Fingerprint::new(),
            head: Vec::new(),
            next_sample: SAMPLE,
            state: State::Sampling,
        }
    }

    /// Changes how many bytes are looked at before the first record is read: 64 KiB, more while those
    /// do not suffice. The columns of a log may depend on it, never on how the log is cut into pieces.
    #[must_use]
    pub fn sampling(mut self, bytes: usize) -> Self {
        self.next_sample = bytes.max(1);
        self
    }

    /// A reader in the middle of a log.
    pub(super) fn at(settings: Settings, sum: Fingerprint, scan: Box<Scan>) -> Self {
        Self { sum, state: State::Scanning(scan), ..Self::new(&settings, None) }
    }

    /// Bytes taken so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.sum.bytes()
    }

    /// Sum of the bytes so far.
    #[must_use]
    pub fn sum(&self) -> (u64, u64) {
        self.sum.value()
    }

    /// Data rows read so far; 0 while the first bytes are still being looked at.
    #[must_use]
    pub fn rows(&self) -> usize {
        match &self.state {
            State::Scanning(scan) => scan.sink.lines.len(),
            _ => 0,
        }
    }

    /// Takes the next bytes.
    pub fn push(&mut self, bytes: &[u8]) {
        self.sum.push(bytes);
        match &mut self.state {
            State::Refused(_) => {}
            State::Scanning(scan) => scan.push(bytes),
            State::Sampling => {
                let mut rest = bytes;
                while matches!(self.state, State::Sampling) && !rest.is_empty() {
                    let wanted = self.next_sample.saturating_sub(self.head.len()).min(rest.len());
                    let (near, far) = rest.split_at(wanted);
                    self.head.extend_from_slice(near);
                    rest = far;
                    if self.head.len() >= self.next_sample {
                        self.sample(false);
                        self.next_sample *= 2;
                    }
                }
                if let State::Scanning(scan) = &mut self.state {
                    scan.push(rest);
                }
            }
        }
        if let State::Scanning(scan) = &mut self.state
            && scan.out_of_memory
        {
            let rows = scan.sink.lines.len();
            self.state = State::Refused(Refusal::new(
                "memory",
                format!("memory ran out after {rows} rows; close other logs or open a part of this one"),
            ));
        }
    }

    /// Ends the log.
    #[must_use]
    pub fn finish(mut self) -> Log {
        if matches!(self.state, State::Sampling) {
            self.sample(true);
        }
        let bytes = self.sum.bytes();
        match self.state {
            State::Scanning(scan) => scan.finish(bytes),
            State::Refused(refusal) => refused(refusal, bytes),
            State::Sampling => refused(no_records(&self.head, &self.settings), bytes),
        }
    }

    /// Looks at the bytes so far; `whole` where the log ends here.
    fn sample(&mut self, whole: bool) {
        let head = self.head.as_slice();
        let (encoding, mark, why) = encoding_of(head, self.settings.encoding);
        if !encoding.is_utf16()
            && let Some(refusal) = not_a_log(head)
        {
            self.state = State::Refused(refusal);
            self.head = Vec::new();
            return;
        }
        let mut to_utf8 = transcoder(encoding, &self.settings);
        let mut decoded = Vec::new();
        let text: &[u8] = match &mut to_utf8 {
            Some(to_utf8) => {
                to_utf8.push(head.get(mark..).unwrap_or_default(), &mut decoded);
                &decoded
            }
            None => head.get(mark..).unwrap_or_default(),
        };
        let mut lines = cut_lines(text, whole);
        lines.drain(..lines.len().min(self.settings.skip_lines as usize));
        match Scan::start(&lines, &self.settings, whole, encoding, why) {
            Some(Ok((mut scan, start))) => {
                scan.reserve(self.expected_bytes, lines.last().map_or(1, |line| line.next / lines.len()));
                scan.holds_utf8 = to_utf8.is_some() && encoding == Encoding::Utf8;
                if scan.holds_utf8 {
                    let above = lines.iter().filter(|line| line.number < scan.line);
                    above.for_each(|line| scan.sink.bad_letters(line.text, line.number));
                }
                scan.feed(text.get(start..).unwrap_or_default());
                scan.to_utf8 = to_utf8;
                self.head = Vec::new();
                self.state = State::Scanning(scan);
            }
            Some(Err(refusal)) => {
                self.state = State::Refused(refusal);
                self.head = Vec::new();
            }
            None if !whole && self.next_sample >= LARGEST_SAMPLE => {
                self.state = State::Refused(no_records(&self.head, &self.settings));
                self.head = Vec::new();
            }
            None => {}
        }
    }
}

/// Reading once the dialect is known.
#[derive(Clone, Debug)]
pub(super) struct Scan {
    pub(super) sink: Sink,
    fast: Option<Fast>,
    understood: Understood,
    to_utf8: Option<ToUtf8>,
    decoded: Vec<u8>,
    /// UTF-8 is stated: letters that could not be read are looked for.
    holds_utf8: bool,
    /// The start of a record whose end has not come yet.
    carry: Vec<u8>,
    edge: Edge,
    /// The last record ended with a carriage return at the very end of a piece.
    skip_line_feed: bool,
    /// What stands up to the next line end belongs to a record that was given up.
    passing: bool,
    line: u32,
    open_quotes: u32,
    bytes_per_row: usize,
    out_of_memory: bool,
}

impl Scan {
    #[allow(clippy::type_complexity, reason = "one caller; a name would hide what it is")]
    fn start(
        lines: &[Line<'_>],
        settings: &Settings,
        whole: bool,
        encoding: Encoding,
        why: &str,
    ) -> Option<Result<(Box<Self>, usize), Refusal>> {
        let (mut dialect, mut evidence) = find_dialect(lines, settings, whole)?;
        if dialect.fields > MOST_COLUMNS {
            return Some(Err(Refusal::new(
                "too_many_columns",
                format!(
                    "the records have {} fields; at most {MOST_COLUMNS} columns are read",
                    dialect.fields
                ),
            )));
        }
        let header = if dialect.shape == Shape::Delimited {
            header::find(lines, &mut dialect, settings)
        } else {
            let names = header::names_of(lines, dialect);
            Header {
                under: vec![String::new(); names.len()],
                names,
                first_line: 1,
                evidence: "every record names its values".to_owned(),
                ..Header::default()
            }
        };
        dialect.fields = header.names.len();
        evidence.insert(0, format!("encoding {}: {why}", encoding.name()));
        evidence.push(if settings.header_row == HeaderRow::Auto {
            header.evidence.clone()
        } else {
            format!("{}: as set", header.evidence)
        });
        let understood = Understood {
            encoding: encoding.name(),
            separator: char::from(dialect.separator.byte),
            decimal_mark: char::from(dialect.decimal_mark),
            shape: dialect.shape,
            evidence,
        };
        let forms = header::forms(lines, &header, dialect, settings);
        let plain = dialect.shape == Shape::Delimited
            && !forms.contains(&Form::Words)
            && forms.iter().any(|form| *form != Form::Text)
            && !header.looks_like_a_record(&forms, dialect.decimal_mark);
        let fast = plain.then(|| Fast::new(dialect.separator, dialect.decimal_mark, forms.clone()));
        let (start, line) = (header.start, header.first_line);
        let scan = Self {
            sink: Sink::new(dialect, header, forms),
            fast,
            understood,
            to_utf8: None,
            decoded: Vec::new(),
            holds_utf8: false,
            carry: Vec::new(),
            edge: Edge::default(),
            skip_line_feed: false,
            passing: false,
            line,
            open_quotes: 0,
            bytes_per_row: 1,
            out_of_memory: false,
        };
        Some(Ok((Box::new(scan), start)))
    }

    /// Reserves the columns for the whole log.
    fn reserve(&mut self, expected_bytes: Option<u64>, bytes_per_row: usize) {
        self.bytes_per_row = bytes_per_row.max(2 * self.sink.dialect.fields);
        let Some(expected) = expected_bytes.and_then(|bytes| usize::try_from(bytes).ok()) else { return };
        let rows = expected / self.bytes_per_row;
        // Some slack, since the sample's lines need not be typical. Refusal here is no error yet.
        self.ensure(rows + rows / 32 + 16);
        self.out_of_memory = false;
    }

    fn ensure(&mut self, rows: usize) {
        let mut granted = self.sink.lines.try_reserve(rows).is_ok();
        for (column, form) in self.sink.values.iter_mut().zip(&self.sink.forms) {
            if *form != Form::Text {
                granted &= column.try_reserve(rows).is_ok();
            }
        }
        self.out_of_memory |= !granted;
    }

    fn push(&mut self, bytes: &[u8]) {
        match &mut self.to_utf8 {
            Some(to_utf8) => {
                let mut decoded = core::mem::take(&mut self.decoded);
                decoded.clear();
                to_utf8.push(bytes, &mut decoded);
                self.feed(&decoded);
                self.decoded = decoded;
            }
            // The scanner's places are of 32 bits.
            None => bytes.chunks(LARGEST_PIECE).for_each(|piece| self.feed(piece)),
        }
    }

    fn feed(&mut self, text: &[u8]) {
        self.ensure(text.len() / self.bytes_per_row + 1);
        if self.out_of_memory || text.is_empty() {
            return;
        }
        self.forget();
        let mut at = 0;
        let separator = self.sink.dialect.separator;
        // The scanner passes over text; what stands in it is looked at record by record.
        let plain = !self.holds_utf8 || replaced_letter(text).is_none();
        loop {
            if self.passing {
                let rest = text.get(at..).unwrap_or_default();
                let Some(end) = rest.iter().position(|byte| matches!(byte, b'\n' | b'\r')) else { return };
                self.passing = false;
                self.skip_line_feed = rest.get(end) == Some(&b'\r');
                at += end + 1;
            }
            if at < text.len() && core::mem::take(&mut self.skip_line_feed) && text.get(at) == Some(&b'\n') {
                at += 1;
            }
            let fresh = self.carry.is_empty();
            if fresh
                && plain
                && self.sink.first_records.len() >= KEPT_RECORDS
                && let Some(fast) = &mut self.fast
            {
                at = fast.run(text, at, &mut self.line, &mut self.sink);
            }
            let rest = text.get(at..).unwrap_or_default();
            if rest.is_empty() {
                return;
            }
            // A quoted record is followed only so far; where it is, must not depend on the pieces.
            let room = LONGEST_QUOTED.saturating_sub(self.carry.len()).min(rest.len());
            let (near, far) = rest.split_at(room);
            let mut end = self.edge.find(near, separator, self.sink.quotes);
            let too_long = end.is_none() && room < rest.len() && self.edge.in_quotes();
            if end.is_none() && !too_long && room < rest.len() {
                end = self.edge.find_unquoted(far, separator).map(|end| room + end);
            }
            if too_long {
                self.carry.extend_from_slice(near);
                at += near.len();
                self.open_quote();
                self.forget();
                continue;
            }
            let Some(end) = end else {
                self.carry.extend_from_slice(rest);
                return;
            };
            let content = rest.get(..end).unwrap_or_default();
            if fresh {
                self.take(content);
            } else {
                let mut carry = core::mem::take(&mut self.carry);
                carry.extend_from_slice(content);
                self.take(&carry);
                carry.clear();
                self.carry = carry;
            }
            at += end + 1;
            if rest.get(end) == Some(&b'\r') {
                match text.get(at) {
                    Some(b'\n') => at += 1,
                    None => self.skip_line_feed = true,
                    _ => {}
                }
            }
        }
    }

    /// What the scanner has looked ahead at is of another text.
    fn forget(&mut self) {
        if let Some(fast) = &mut self.fast {
            fast.forget();
        }
    }

    /// Takes one complete record.
    fn take(&mut self, content: &[u8]) {
        self.record(content, false);
        self.edge = Edge::default();
    }

    fn record(&mut self, content: &[u8], cut: bool) {
        if self.holds_utf8 {
            self.sink.bad_letters(content, self.line);
        }
        self.sink.record(content, self.line, cut);
        self.line += 1 + inner_line_ends(content);
    }

    /// A quote was not closed within reach: its record ends with its first line, and the quote is a
    /// letter.
    fn open_quote(&mut self) {
        let carry = core::mem::take(&mut self.carry);
        self.edge = Edge::default();
        self.open_quotes += 1;
        let row = u32::try_from(self.sink.lines.len()).unwrap_or(u32::MAX);
        let line = self.line;
        self.sink.problems.add(ProblemCode::OpenQuote, Some(row), || Example {
            line: Some(line),
            found: "a quote that is not closed".to_owned(),
            expected: "a closing quote".to_owned(),
            hint: "the quote is taken as a letter; close it or remove it".to_owned(),
            ..Example::default()
        });
        let end = carry.iter().position(|byte| matches!(byte, b'\n' | b'\r')).unwrap_or(carry.len());
        // A line longer than quotes are followed: its rest is no line of its own.
        self.passing = end == carry.len();
        let quotes = core::mem::replace(&mut self.sink.quotes, false);
        self.record(carry.get(..end).unwrap_or_default(), false);
        self.sink.quotes = quotes && self.open_quotes < OPEN_QUOTES;
        let width = if carry.get(end..).is_some_and(|rest| rest.starts_with(b"\r\n")) { 2 } else { 1 };
        self.skip_line_feed = carry.len() == end + 1 && carry.get(end) == Some(&b'\r');
        self.feed(carry.get(end + width..).unwrap_or_default());
    }

    fn finish(mut self, bytes: u64) -> Log {
        if let Some(mut to_utf8) = self.to_utf8.take() {
            let mut last = Vec::new();
            to_utf8.finish(&mut last);
            self.feed(&last);
        }
        // A quote still open at the end closes nowhere: as if it were beyond reach.
        while self.edge.in_quotes() && !self.carry.is_empty() {
            self.open_quote();
        }
        let carry = core::mem::take(&mut self.carry);
        if !carry.is_empty() {
            self.record(&carry, true);
        }
        let mut sink = self.sink;
        if let [line] = sink.lines[..] {
            sink.problems.add(ProblemCode::OneRow, Some(0), || Example {
                line: Some(line),
                found: "one row".to_owned(),
                expected: "at least two".to_owned(),
                hint: "one reading has neither scatter nor course; check that the logger ran on".to_owned(),
                ..Example::default()
            });
        }
        let problems = sink.problems.into_list();
        let lost = problems.iter().any(|problem| problem.code.loses_data());
        let outcome = if sink.lines.is_empty() {
            Outcome::Refused(Refusal::new(
                "no_numbers",
                "no record holds a number in a column that is used; check the header row, the separator and the decimal mark",
            ))
        } else if lost {
            Outcome::ReadWithWarning
        } else {
            Outcome::Read
        };
        let texts = sink.header.names.into_iter().zip(sink.header.under).zip(sink.cell_units);
        let columns = texts
            .zip(sink.values.into_iter().zip(sink.forms).zip(sink.epochs).zip(sink.words))
            .map(|(((header, under_header), cell_unit), (((values, form), epoch), words))| Column {
                header,
                under_header,
                cell_unit,
                form,
                epoch_secs: epoch.map_or(0.0, |day| day as f64 * 86_400.0),
                words,
                values,
            })
            .collect();
        Log {
            columns,
            lines: sink.lines,
            header_lines: sink.header.lines,
            comments: sink.comments,
            comment_count: sink.comment_count,
            preamble_lines: sink.header.preamble_lines,
            repeated_headers: sink.repeated_headers,
            understood: self.understood,
            problems,
            marks: sink.marks,
            first_records: sink.first_records,
            worst_records: sink.worst_records,
            outcome,
            bytes,
        }
    }
}

/// Line ends inside a quoted record.
fn inner_line_ends(content: &[u8]) -> u32 {
    let ends = content
        .iter()
        .enumerate()
        .filter(|&(at, &byte)| byte == b'\n' || (byte == b'\r' && content.get(at + 1) != Some(&b'\n')))
        .count();
    u32::try_from(ends).unwrap_or(u32::MAX)
}
