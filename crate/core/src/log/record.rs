//! One record at a time: whatever the fast scanner does not take.

use std::borrow::Cow;

use super::cell::{Cell, prefix_ratio, read_cell};
use super::datetime::read_stamp;
use super::header::{Header, each_named};
use super::problem::{Example, ProblemCode, Problems, excerpt};
use super::result::{CellMark, Comment, Form, MarkCause, RecordText};
use super::split::Fields;
use super::text::{decode, replaced_letter};
use super::writing::{Dialect, Shape};

/// Comments kept in full.
const COMMENTS: usize = 200;

/// First records, and records with a problem, kept as text for a preview.
pub(super) const KEPT_RECORDS: usize = 20;

/// Different words of one column that are kept.
const WORDS: usize = 64;

/// Place of a word among the words of its column; `NaN` for none, or for one too many.
fn code_of(words: &mut Vec<String>, word: String) -> f64 {
    if word.is_empty() {
        return f64::NAN;
    }
    match words.iter().position(|known| *known == word) {
        Some(place) => place as f64,
        None if words.len() < WORDS => {
            words.push(word);
            (words.len() - 1) as f64
        }
        None => f64::NAN,
    }
}

/// Where records go.
#[derive(Clone, Debug)]
pub(super) struct Sink {
    pub(super) dialect: Dialect,
    pub(super) forms: Vec<Form>,
    /// One column each; stays empty for text.
    pub(super) values: Vec<Vec<f64>>,
    pub(super) lines: Vec<u32>,
    pub(super) header: Header,
    pub(super) cell_units: Vec<String>,
    /// Words of each column that keeps them.
    pub(super) words: Vec<Vec<String>>,
    /// Day that a column of dates counts from.
    pub(super) epochs: Vec<Option<i64>>,
    pub(super) problems: Problems,
    pub(super) marks: Vec<CellMark>,
    pub(super) comments: Vec<Comment>,
    pub(super) comment_count: u64,
    pub(super) repeated_headers: Vec<u32>,
    pub(super) first_records: Vec<RecordText>,
    pub(super) worst_records: Vec<RecordText>,
    /// Whether a quote can open a field.
    pub(super) quotes: bool,
    fields: Fields,
    cells: Vec<Cell>,
    row: Vec<f64>,
}

impl Sink {
    pub(super) fn new(dialect: Dialect, mut header: Header, forms: Vec<Form>) -> Self {
        let columns = dialect.fields;
        let comments = core::mem::take(&mut header.comments);
        Self {
            dialect,
            forms,
            values: vec![Vec::new(); columns],
            lines: Vec::new(),
            header,
            cell_units: vec![String::new(); columns],
            words: vec![Vec::new(); columns],
            epochs: vec![None; columns],
            problems: Problems::default(),
            marks: Vec::new(),
            comment_count: comments.len() as u64,
            comments,
            repeated_headers: Vec::new(),
            first_records: Vec::new(),
            worst_records: Vec::new(),
            quotes: dialect.shape == Shape::Delimited,
            fields: Fields::default(),
            cells: Vec::new(),
            row: vec![f64::NAN; columns],
        }
    }

    fn next_row(&self) -> u32 {
        u32::try_from(self.lines.len()).unwrap_or(u32::MAX)
    }

    /// Takes one record without its line end. `cut`: the log stops without a line end here.
    pub(super) fn record(&mut self, content: &[u8], line: u32, cut: bool) {
        let content = if content.contains(&0) {
            self.problems.add(ProblemCode::ZeroBytes, Some(self.next_row()), || Example {
                line: Some(line),
                found: "zero bytes".to_owned(),
                expected: "text".to_owned(),
                hint: "they were taken out; check the serial connection if readings are missing".to_owned(),
                ..Example::default()
            });
            Cow::Owned(content.iter().copied().filter(|&byte| byte != 0).collect())
        } else {
            Cow::Borrowed(content)
        };
        let content = content.as_ref();
        if content.trim_ascii().is_empty() {
            return;
        }
        if self.dialect.separator.comments(content) {
            self.comment_count += 1;
            if self.comments.len() < COMMENTS {
                let text = decode(content.trim_ascii());
                let text = text.trim_start_matches(['#', '%', ';', '/']).trim().to_owned();
                self.comments.push(Comment { line, text });
            }
            return;
        }
        if self.dialect.shape == Shape::Delimited {
            self.delimited(content, line, cut);
        } else {
            self.named(content, line);
        }
    }

    /// Notes the first letter of a line that its stated encoding does not have; numbers beside it stay.
    pub(super) fn bad_letters(&mut self, content: &[u8], line: u32) {
        if replaced_letter(content).is_none() {
            return;
        }
        let row = self.next_row();
        let Self { dialect, fields, problems, header, quotes, .. } = self;
        let columns = if dialect.shape == Shape::Delimited && !dialect.separator.comments(content) {
            fields.split(content, dialect.separator, *quotes);
            fields.len()
        } else {
            0
        };
        let place = (0..columns).find(|place| replaced_letter(fields.get(content, *place)).is_some());
        problems.add(ProblemCode::BadLetter, Some(row), || Example {
            line: Some(line),
            column: place.map(|place| place as u32 + 1),
            header: place.and_then(|place| header.names.get(place).cloned()),
            found: excerpt(&decode(place.map_or(content, |place| fields.get(content, place)))),
            expected: "letters of UTF-8, as set".to_owned(),
            hint: "each bad letter stands as \u{fffd}; numbers in other cells are kept; leave the encoding to be found, or set another".to_owned(),
        });
    }

    fn delimited(&mut self, content: &[u8], line: u32, cut: bool) {
        let mark = self.dialect.decimal_mark;
        let columns = self.dialect.fields;
        self.fields.split(content, self.dialect.separator, self.quotes);
        self.fields.drop_empty_tail(content, columns);
        if self.is_header(content, line) {
            return;
        }
        self.cells.clear();
        let (mut numbers, mut texts) = (0, 0);
        for place in 0..self.fields.len() {
            let field = self.fields.get(content, place);
            let form = self.forms.get(place).copied();
            let cell = match form {
                Some(Form::Text | Form::Words) => Cell::Empty,
                Some(Form::DateTime) => match read_stamp(field) {
                    Some(stamp) => Cell::Number(self.since_epoch(place, stamp.day, stamp.secs)),
                    None if field.is_empty() => Cell::Empty,
                    None => Cell::Text,
                },
                _ => read_cell(field, mark),
            };
            match cell {
                Cell::Text => texts += 1,
                Cell::Empty => {}
                _ => numbers += usize::from(form.is_some()),
            }
            self.cells.push(cell);
        }
        let count = self.fields.len();
        if numbers == 0 && texts == 0 {
            return;
        }
        if numbers == 0 || (count != columns && texts > numbers) {
            self.chatter(content, line);
            return;
        }
        let half_number = cut
            && self
                .fields
                .get(content, count.saturating_sub(1))
                .last()
                .is_some_and(|&byte| byte == mark || matches!(byte, b'-' | b'+' | b'e' | b'E'));
        if count != columns || half_number {
            self.wrong_count(content, line, cut);
            return;
        }
        let row = self.next_row();
        let mut lost = false;
        for place in 0..columns {
            let value = self.value(content, place, row, line);
            lost |= value.is_none();
            if let Some(target) = self.row.get_mut(place) {
                *target = value.unwrap_or(f64::NAN);
            }
        }
        self.push_row(content, line, lost);
    }

    /// The value of one cell of the record just split; `None` where one is lost.
    fn value(&mut self, content: &[u8], place: usize, row: u32, line: u32) -> Option<f64> {
        let cell = self.cells.get(place).copied().unwrap_or(Cell::Empty);
        let form = self.forms.get(place).copied().unwrap_or(Form::Text);
        let field = self.fields.get(content, place);
        let example = |expected: &str, hint: String| Example {
            line: Some(line),
            column: Some(place as u32 + 1),
            header: self.header.names.get(place).cloned(),
            found: excerpt(&decode(field)),
            expected: expected.to_owned(),
            hint,
        };
        let cause = match cell {
            Cell::Number(value) => return Some(value),
            Cell::WithUnit(value, start) => {
                let unit = decode(field.get(start..).unwrap_or_default());
                let known = self.cell_units.get_mut(place)?;
                if known.is_empty() {
                    unit.trim().clone_into(known);
                }
                if let Some(ratio) = prefix_ratio(unit.trim(), known) {
                    return Some(value * ratio);
                }
                let hint = format!("the first cell with a unit in this column says `{known}`");
                self.problems
                    .add(ProblemCode::UnreadableCell, Some(row), || example("the column's unit", hint));
                MarkCause::Unreadable
            }
            Cell::Empty if form == Form::Text => return Some(f64::NAN),
            Cell::Empty if form == Form::Words => {
                let word = decode(field).into_owned();
                return Some(self.words.get_mut(place).map_or(f64::NAN, |words| code_of(words, word)));
            }
            Cell::Empty => {
                let Self { problems, header, .. } = self;
                add_empty_cell(problems, header, (row, line, place), field);
                return Some(f64::NAN);
            }
            Cell::OverRange => {
                self.problems.add(ProblemCode::OverRange, Some(row), || {
                    example(
                        "a number in range",
                        "the reading was beyond its range; the row is set aside".to_owned(),
                    )
                });
                MarkCause::OverRange
            }
            Cell::Text => {
                let expected = if form == Form::DateTime { "a date and time" } else { "a number" };
                let hint = self.hint(field);
                self.problems.add(ProblemCode::UnreadableCell, Some(row), || example(expected, hint));
                MarkCause::Unreadable
            }
        };
        self.marks.push(CellMark { row, column: Some(place as u32), cause });
        None
    }

    /// Notes a cell without a value in the next row.
    pub(super) fn empty_cell(&mut self, place: usize, line: u32, field: &[u8]) {
        let row = self.next_row();
        add_empty_cell(&mut self.problems, &self.header, (row, line, place), field);
    }

    fn hint(&self, field: &[u8]) -> String {
        let (other, word) = if self.dialect.decimal_mark == b'.' { (b',', "comma") } else { (b'.', "point") };
        if matches!(read_cell(field, other), Cell::Number(_) | Cell::WithUnit(..)) {
            format!("it is a number with a decimal {word}; set the decimal mark to {word} if most cells are")
        } else {
            "correct the cell or leave it empty; the other cells of the row are kept".to_owned()
        }
    }

    fn push_row(&mut self, content: &[u8], line: u32, lost: bool) {
        for ((column, form), value) in self.values.iter_mut().zip(&self.forms).zip(&self.row) {
            if *form != Form::Text {
                column.push(*value);
            }
        }
        let row = self.next_row();
        self.lines.push(line);
        let kept = if lost { &mut self.worst_records } else { &mut self.first_records };
        if kept.len() < KEPT_RECORDS {
            let fields = if self.dialect.shape == Shape::Delimited {
                (0..self.fields.len())
                    .map(|place| excerpt(&decode(self.fields.get(content, place))))
                    .collect()
            } else {
                vec![excerpt(&decode(content))]
            };
            kept.push(RecordText { line, row, fields });
        }
    }

    /// A record that starts as data and has too few or too many fields.
    fn wrong_count(&mut self, content: &[u8], line: u32, cut: bool) {
        let (count, columns) = (self.fields.len(), self.dialect.fields);
        let row = self.next_row();
        let code = if cut && count <= columns { ProblemCode::CutLastLine } else { ProblemCode::FieldCount };
        self.problems.add(code, Some(row), || Example {
            line: Some(line),
            column: None,
            header: None,
            found: if count == columns { excerpt(&decode(content)) } else { format!("{count} fields") },
            expected: format!("{columns} fields"),
            hint: if code == ProblemCode::CutLastLine {
                "the log stops in the middle of this record; nothing of it is used".to_owned()
            } else if count == 2 * columns || count + 1 == 2 * columns {
                "two records have run together; nothing of the line is used".to_owned()
            } else {
                "which field is which cannot be told; nothing of the line is used".to_owned()
            },
        });
        self.marks.push(CellMark { row, column: None, cause: MarkCause::Unreadable });
        self.row.fill(f64::NAN);
        self.push_row(content, line, true);
    }

    fn chatter(&mut self, content: &[u8], line: u32) {
        self.problems.add(ProblemCode::Chatter, Some(self.next_row()), || Example {
            line: Some(line),
            column: None,
            header: None,
            found: excerpt(&decode(content)),
            expected: "a record".to_owned(),
            hint: "a line of text without readings; it is passed over".to_owned(),
        });
    }

    /// Whether the record is the header again (or the row under it), and if so notes it.
    fn is_header(&mut self, content: &[u8], line: u32) -> bool {
        let same = |texts: &[String], fields: &Fields| {
            fields.len() == texts.len()
                && texts.iter().any(|text| !text.is_empty())
                && texts.iter().enumerate().all(|(place, text)| {
                    let field = fields.get(content, place);
                    field == text.as_bytes() || decode(field).trim().eq_ignore_ascii_case(text)
                })
        };
        if self.header.lines.is_empty() {
            return false;
        }
        if same(&self.header.names, &self.fields) {
            let row = self.next_row();
            self.repeated_headers.push(row);
            self.problems.add(ProblemCode::RepeatedHeader, Some(row), || Example {
                line: Some(line),
                found: excerpt(&decode(content)),
                expected: "a record".to_owned(),
                hint: "the device seems to have restarted here; a new stretch of the log begins".to_owned(),
                ..Example::default()
            });
            return true;
        }
        same(&self.header.under, &self.fields)
    }

    fn named(&mut self, content: &[u8], line: u32) {
        self.row.fill(f64::NAN);
        let (row, mark) = (self.next_row(), self.dialect.decimal_mark);
        let Self { header, row: values, marks, problems, forms, .. } = self;
        let first_mark = marks.len();
        let (mut numbers, mut next) = (0, 0);
        let mut bad: Option<(usize, &[u8])> = None;
        let fits = each_named(content, self.dialect, |name, value| {
            let places = (next..header.names.len()).chain(0..next.min(header.names.len()));
            let Some(place) = places.into_iter().find(|&place| header.names[place].as_bytes() == name) else {
                return;
            };
            next = place + 1;
            if forms[place] == Form::Text {
                return;
            }
            match read_cell(value, mark) {
                Cell::Number(number) | Cell::WithUnit(number, _) => {
                    values[place] = number;
                    numbers += 1;
                }
                Cell::Empty => {}
                Cell::OverRange => {
                    numbers += 1;
                    marks.push(CellMark { row, column: Some(place as u32), cause: MarkCause::OverRange });
                }
                Cell::Text => {
                    bad.get_or_insert((place, value));
                    marks.push(CellMark { row, column: Some(place as u32), cause: MarkCause::Unreadable });
                }
            }
        });
        if !fits || numbers == 0 {
            marks.truncate(first_mark);
            // A record that breaks off keeps none of its readings; a line without any is no record.
            if numbers == 0 {
                self.chatter(content, line);
                return;
            }
            problems.add(ProblemCode::UnreadableCell, Some(row), || Example {
                line: Some(line),
                found: excerpt(&decode(content)),
                expected: "a name and a value in every field".to_owned(),
                hint: "the record is broken; nothing of it is used".to_owned(),
                ..Example::default()
            });
            marks.push(CellMark { row, column: None, cause: MarkCause::Unreadable });
            values.fill(f64::NAN);
            self.push_row(content, line, true);
            return;
        }
        // A name that stands twice in a record marks its cell once.
        let mut fresh = marks.split_off(first_mark);
        fresh.sort_unstable();
        fresh.dedup();
        marks.append(&mut fresh);
        if let Some((place, value)) = bad {
            problems.add(ProblemCode::UnreadableCell, Some(row), || Example {
                line: Some(line),
                column: Some(place as u32 + 1),
                header: header.names.get(place).cloned(),
                found: excerpt(&decode(value)),
                expected: "a number".to_owned(),
                hint: "correct the cell or leave it empty; the other cells of the row are kept".to_owned(),
            });
        }
        let over_range = marks[first_mark..].iter().find(|mark| mark.cause == MarkCause::OverRange).copied();
        if let Some(place) = over_range.and_then(|mark| mark.column) {
            problems.add(ProblemCode::OverRange, Some(row), || Example {
                line: Some(line),
                column: Some(place + 1),
                header: header.names.get(place as usize).cloned(),
                found: excerpt(&decode(content)),
                expected: "a number in range".to_owned(),
                hint: "the reading was beyond its range; the row is set aside".to_owned(),
            });
        }
        let lost = marks.len() > first_mark;
        self.push_row(content, line, lost);
    }

    /// Seconds since the midnight that the column counts from, which its first date sets.
    fn since_epoch(&mut self, place: usize, day: Option<i64>, secs: f64) -> f64 {
        let Some(day) = day else { return secs };
        match self.epochs.get_mut(place) {
            Some(epoch) => (day - *epoch.get_or_insert(day)) as f64 * 86_400.0 + secs,
            None => secs,
        }
    }
}

/// Notes a cell without a value: row, line, column.
fn add_empty_cell(problems: &mut Problems, header: &Header, at: (u32, u32, usize), field: &[u8]) {
    let (row, line, place) = at;
    problems.add(ProblemCode::EmptyCell, Some(row), || Example {
        line: Some(line),
        column: Some(place as u32 + 1),
        header: header.names.get(place).cloned(),
        found: excerpt(&decode(field)),
        expected: "a number".to_owned(),
        hint: "left without a value; nothing is filled in".to_owned(),
    });
}
