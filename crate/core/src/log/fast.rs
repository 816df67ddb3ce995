//! Plain records of numbers, read in place.
//!
//! How it works: [`super::ends`] finds where fields and lines end, many at a time, so that no field
//! has to wait for the one before it. Where all columns are of numbers, [`super::uniform`] takes up to
//! 64 records at once, two columns at a time; a record that it does not take is read here field by
//! field: quoted numbers, dates, blank cells and long numbers. Anything else (words, over-range, units,
//! open quotes, a wrong number of fields) stops the scanner in front of its record, and
//! [`super::record`] takes that record. All give the same for the same text.

use super::cell::is_in_range;
use super::datetime::read_stamp;
use super::digits::number;
use super::ends::Ends;
use super::number::parse_number;
use super::record::Sink;
use super::result::Form;
use super::split::Separator;
use super::uniform::{self, ROWS, Writing};

/// Most records that are taken one by one before some are tried together again.
const DETOUR: u32 = 255;

/// Scans records into columns.
#[derive(Clone, Debug)]
pub(super) struct Fast {
    separator: Separator,
    decimal_mark: u8,
    forms: Vec<Form>,
    ends: Ends,
    /// Columns in which the record at work has no value.
    blanks: Vec<usize>,
    /// All columns are of numbers.
    uniform: bool,
    /// Records to take one by one before some are tried together again.
    detour: u32,
    /// How many that is after the next failure.
    patience: u32,
}

impl Fast {
    pub(super) fn new(separator: Separator, decimal_mark: u8, forms: Vec<Form>) -> Self {
        let ends = Ends::new(separator, forms.len());
        let uniform = !separator.runs() && forms.iter().all(|form| *form == Form::Number);
        Self { separator, decimal_mark, forms, ends, blanks: Vec::new(), uniform, detour: 0, patience: 1 }
    }

    /// Another text begins.
    pub(super) fn forget(&mut self) {
        self.ends.forget();
    }

    /// Reads records from `at` on; gives the index of the first that it does not take.
    pub(super) fn run(&mut self, text: &[u8], mut at: usize, line: &mut u32, sink: &mut Sink) -> usize {
        self.ends.go_to(text, at);
        loop {
            self.ends.prepare(text);
            if self.uniform {
                let rows = self.together(text, &mut at, line, sink);
                if rows > 0 {
                    continue;
                }
            }
            let Some((next, used)) = self.record(text, at, sink) else { break };
            if !self.blanks.is_empty() {
                for &place in &self.blanks {
                    sink.empty_cell(place, *line, b"");
                }
                self.blanks.clear();
            }
            sink.lines.push(*line);
            *line += 1;
            at = next;
            self.ends.pass(used);
        }
        self.blanks.clear();
        // What the record in front of which it stopped has left.
        let rows = sink.lines.len();
        for column in &mut sink.values {
            column.truncate(rows);
        }
        at
    }

    /// Reads records of plain numbers together into the columns; tells how many.
    fn together(&mut self, text: &[u8], at: &mut usize, line: &mut u32, sink: &mut Sink) -> usize {
        if self.detour > 0 {
            self.detour -= 1;
            return 0;
        }
        let writing = Writing { separator: self.separator.byte, decimal_mark: self.decimal_mark };
        let taken = uniform::take(text, *at, self.ends.upcoming(), writing, &mut sink.values);
        // Where few stand together, trying costs more than it brings.
        if taken.rows >= ROWS / 4 {
            self.patience = 1;
        } else if taken.stopped {
            self.detour = self.patience;
            self.patience = (2 * self.patience).min(DETOUR);
        }
        let rows = taken.rows as u32;
        sink.lines.extend(*line..*line + rows);
        *line += rows;
        *at = taken.next;
        self.ends.pass(taken.ends);
        taken.rows
    }

    /// Reads one record into the columns; gives the index after its line end, and how many ends it
    /// has used.
    #[inline(always)]
    fn record(&mut self, text: &[u8], at: usize, sink: &mut Sink) -> Option<(usize, usize)> {
        let separator = self.separator;
        let ends = self.ends.upcoming();
        let mut used = 0;
        let mut start = at;
        let mut last_byte = separator.byte;
        let mut numbers = 0;
        for (place, (column, form)) in sink.values.iter_mut().zip(&self.forms).enumerate() {
            if !separator.ends_field(last_byte) {
                return None;
            }
            let mut end = *ends.get(used)? as usize;
            used += 1;
            if separator.runs() {
                while end == start && separator.ends_field(*text.get(end)?) {
                    start = end + 1;
                    end = *ends.get(used)? as usize;
                    used += 1;
                }
            }
            if *form == Form::Number
                && let Some(value) = number(text, start, end, self.decimal_mark)
            {
                column.push(value);
                numbers += 1;
            } else {
                if text.get(start) == Some(&b'"') {
                    (end, used) = close(text, start, end, ends, used)?;
                }
                let epoch = sink.epochs.get(place).copied().flatten();
                match self.other(text, start, end, *form, epoch, sink.quotes, place)? {
                    Other::Number(value) => {
                        column.push(value);
                        numbers += 1;
                    }
                    Other::Blank => {
                        column.push(f64::NAN);
                        self.blanks.push(place);
                    }
                    Other::Text => {}
                }
            }
            last_byte = *text.get(end)?;
            start = end + 1;
        }
        // Blank fields after the last column are no fields.
        while separator.ends_field(last_byte) {
            let end = *ends.get(used)? as usize;
            used += 1;
            if !text.get(start..end)?.iter().all(|&byte| byte == b' ') {
                return None;
            }
            last_byte = *text.get(end)?;
            start = end + 1;
        }
        if numbers == 0 {
            return None;
        }
        if last_byte == b'\r' {
            // A carriage return at the very end may have its line feed in the next piece.
            match *text.get(start)? {
                b'\n' => Some((start + 1, used + 1)),
                _ => Some((start, used)),
            }
        } else {
            Some((start, used))
        }
    }

    /// A field that is not a plain number of few digits; `None` where its record is not for here.
    #[allow(clippy::too_many_arguments, reason = "one caller, in the loop that must not borrow all")]
    fn other(
        &self,
        text: &[u8],
        start: usize,
        end: usize,
        form: Form,
        epoch: Option<i64>,
        quotes: bool,
        place: usize,
    ) -> Option<Other> {
        let mut field = text.get(start..end)?;
        if form == Form::Text {
            // In front a letter or a figure: else it might be a comment.
            let lead = place > 0 || field.first().is_none_or(u8::is_ascii_alphanumeric);
            let plain = lead && !field.iter().any(|&byte| byte == b'"' || byte == 0);
            return (plain && !self.hides_comment(field, place)).then_some(Other::Text);
        }
        let (mut start, mut end) = (start, end);
        if let [b'"', inner @ .., b'"'] = field {
            if !quotes || self.separator.runs() {
                return None;
            }
            field = inner;
            start += 1;
        }
        while let [b' ', rest @ ..] = field {
            field = rest;
            start += 1;
        }
        while let [rest @ .., b' '] = field {
            field = rest;
        }
        if field.is_empty() && !self.separator.runs() {
            return (!self.hides_comment(field, place)).then_some(Other::Blank);
        }
        end = end.min(start + field.len());
        if form == Form::DateTime {
            let stamp = read_stamp(field)?;
            let days = match stamp.day {
                Some(day) => day - epoch?,
                None => 0,
            };
            return Some(Other::Number(days as f64 * 86_400.0 + stamp.secs));
        }
        let value =
            number(text, start, end, self.decimal_mark).or_else(|| parse_number(field, self.decimal_mark))?;
        is_in_range(value).then_some(Other::Number(value))
    }

    /// A tab in front of a comment is white space, not a field.
    fn hides_comment(&self, field: &[u8], place: usize) -> bool {
        place == 0 && field.is_empty() && self.separator.byte == b'\t'
    }
}

/// What a field says that is not a plain number of few digits.
enum Other {
    Number(f64),
    Blank,
    Text,
}

/// The end of a field that starts with a quote: separators inside quotes end none. At most two are
/// looked at, as many as a number can have.
fn close(text: &[u8], start: usize, end: usize, ends: &[u32], used: usize) -> Option<(usize, usize)> {
    let (mut end, mut used) = (end, used);
    for _ in 0..3 {
        if end >= start + 2 && text.get(end - 1) == Some(&b'"') {
            return Some((end, used));
        }
        end = *ends.get(used)? as usize;
        used += 1;
    }
    None
}
