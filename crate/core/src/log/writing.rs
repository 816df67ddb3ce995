//! How a log is written: its dialect, its physical lines, and what the fields of a line are.

use serde::{Deserialize, Serialize, Serializer};

use super::cell::{Cell, read_cell};
use super::datetime::read_stamp;
use super::split::{Fields, Separator};

/// How a record is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Fields between separators.
    #[default]
    Delimited,
    /// `name=value` or `name:value` between separators.
    NameValue,
    /// One flat JSON object per line.
    Json,
}

/// What was understood of a log's writing.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Understood {
    /// `UTF-8`, `UTF-16LE`, `UTF-16BE` or `windows-1252`.
    pub encoding: &'static str,
    /// Separator in words: `comma`, `semicolon`, `tab`, `pipe` or `spaces`.
    #[serde(serialize_with = "separator_text")]
    pub separator: char,
    /// Decimal mark.
    pub decimal_mark: char,
    /// How a record is written.
    pub shape: Shape,
    /// Why each was chosen, one sentence each.
    pub evidence: Vec<String>,
}

fn separator_text<S: Serializer>(separator: &char, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(separator)
}

/// The dialect that the scanner works with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Dialect {
    pub(super) separator: Separator,
    pub(super) decimal_mark: u8,
    pub(super) shape: Shape,
    /// Fields per record.
    pub(super) fields: usize,
}

/// One line of the sample.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'a> {
    pub(super) text: &'a [u8],
    /// Offset of its first byte.
    pub(super) start: usize,
    /// Offset of the line after it.
    pub(super) next: usize,
    /// From 1.
    pub(super) number: u32,
}

/// Cuts a text into physical lines. A last line without end is left out unless `whole`.
pub(super) fn lines(text: &[u8], whole: bool) -> Vec<Line<'_>> {
    let mut out = Vec::new();
    let mut start = 0;
    let mut at = 0;
    while let Some(&byte) = text.get(at) {
        let width = match byte {
            b'\n' => 1,
            b'\r' if text.get(at + 1) == Some(&b'\n') => 2,
            // Its line feed may still come.
            b'\r' if at + 1 == text.len() && !whole => break,
            b'\r' => 1,
            _ => 0,
        };
        if width > 0 {
            out.push(Line { text: &text[start..at], start, next: at + width, number: out.len() as u32 + 1 });
            start = at + width;
        }
        at += width.max(1);
    }
    if whole && start < text.len() {
        out.push(Line { text: &text[start..], start, next: text.len(), number: out.len() as u32 + 1 });
    }
    out
}

/// What the fields of one line are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Tally {
    pub(super) fields: usize,
    /// Numbers, dates, over-range words.
    pub(super) numbers: usize,
    pub(super) texts: usize,
}

impl Tally {
    pub(super) fn of(line: &[u8], separator: Separator, decimal_mark: u8, fields: &mut Fields) -> Self {
        let quotes = line.iter().filter(|&&byte| byte == b'"').count();
        fields.split(line, separator, quotes % 2 == 0);
        let mut tally = Self { fields: fields.len(), numbers: 0, texts: 0 };
        for place in 0..fields.len() {
            let field = without_zeros(fields.get(line, place));
            match read_cell(&field, decimal_mark) {
                Cell::Number(_) | Cell::WithUnit(..) | Cell::OverRange => tally.numbers += 1,
                Cell::Empty => {}
                Cell::Text if read_stamp(&field).is_some() => tally.numbers += 1,
                Cell::Text => tally.texts += 1,
            }
        }
        tally
    }

    /// Share of filled fields that are numbers.
    pub(super) fn share(self) -> f64 {
        self.numbers as f64 / (self.numbers + self.texts).max(1) as f64
    }
}

/// A field without zero bytes.
pub(super) fn without_zeros(field: &[u8]) -> std::borrow::Cow<'_, [u8]> {
    if field.contains(&0) {
        std::borrow::Cow::Owned(field.iter().copied().filter(|&byte| byte != 0).collect())
    } else {
        std::borrow::Cow::Borrowed(field)
    }
}

/// A separator in words.
pub(super) fn separator_name(byte: u8) -> &'static str {
    match byte {
        b'\t' => "tab",
        b';' => "semicolon",
        b'|' => "pipe",
        b',' => "comma",
        _ => "spaces",
    }
}
