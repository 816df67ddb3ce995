//! Which separator, decimal mark and shape a log has, from its first lines, with the evidence.

use serde::{Serialize, Serializer};

use super::cell::{Cell, read_cell};
use super::datetime::read_stamp;
use super::settings::Settings;
use super::split::{Fields, Separator};

/// How a record is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
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
    fn share(self) -> f64 {
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

/// Lines with a digit that are looked at.
const LOOKED_AT: usize = 200;

/// Lines with numbers that must agree before a log is taken as understood, unless it ends.
const AGREEING: usize = 3;

struct Candidate {
    dialect: Dialect,
    score: f64,
    agreeing: usize,
    commas: bool,
}

/// Finds the dialect; `None` where no line has a number (or too few yet, and more may come).
pub(super) fn find(lines: &[Line<'_>], settings: &Settings, whole: bool) -> Option<(Dialect, Vec<String>)> {
    let declared = lines.first().and_then(|line| super::header::declared_separator(line.text));
    let stated = settings.separator.map(|separator| separator as u32 as u8).or(declared);
    let with_digits: Vec<&[u8]> = lines
        .iter()
        .map(|line| line.text)
        .filter(|text| text.iter().any(u8::is_ascii_digit))
        .filter(|text| !matches!(text.trim_ascii_start(), [b'#' | b'%', ..] | [b'/', b'/', ..]))
        .take(LOOKED_AT)
        .collect();
    if settings.separator.is_none()
        && let Some(found) = super::header::find_named(&with_digits, settings)
    {
        return Some(found);
    }
    let mut best: Option<Candidate> = None;
    for separator in [b'\t', b';', b'|', b',', b' '] {
        if stated.is_some_and(|stated| stated != separator) {
            continue;
        }
        for mark in [b'.', b','] {
            let fixed = settings.decimal_mark.is_some_and(|stated| stated as u32 != u32::from(mark));
            if fixed || mark == separator {
                continue;
            }
            let candidate = judge(&with_digits, Separator { byte: separator }, mark);
            let better = best.as_ref().is_none_or(|best| {
                let more = candidate.score > best.score * 1.000_001;
                let equal = candidate.score >= best.score * 0.999_999;
                let same_separator = candidate.dialect.separator == best.dialect.separator;
                let splits = candidate.dialect.fields > 1 && best.dialect.fields == 1;
                more || (equal && (splits || (same_separator && mark == b',' && candidate.commas)))
            });
            if better {
                best = Some(candidate);
            }
        }
    }
    let best = best.filter(|best| best.agreeing > 0 && (whole || best.agreeing >= AGREEING))?;
    let name = separator_name(best.dialect.separator.byte);
    let mut evidence = vec![match (settings.separator.is_some(), declared.is_some()) {
        (true, _) => format!("separator {name}: as set; {} fields in most records", best.dialect.fields),
        (_, true) => format!("separator {name}: the first line says so"),
        _ => format!(
            "separator {name}: {} fields in {} of the first {} lines with digits",
            best.dialect.fields,
            best.agreeing,
            with_digits.len()
        ),
    }];
    let mark = char::from(best.dialect.decimal_mark);
    evidence.push(if settings.decimal_mark.is_some() {
        format!("decimal mark `{mark}`: as set")
    } else {
        format!("decimal mark `{mark}`: most fields are numbers with it")
    });
    Some((best.dialect, evidence))
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

fn judge(lines: &[&[u8]], separator: Separator, decimal_mark: u8) -> Candidate {
    let mut fields = Fields::default();
    // Field counts of lines with a number: count, how many lines, their summed shares of numbers.
    let mut counts: Vec<(usize, usize, f64)> = Vec::new();
    for line in lines {
        if separator.comments(line) {
            continue;
        }
        let tally = Tally::of(line, separator, decimal_mark, &mut fields);
        if tally.numbers == 0 {
            continue;
        }
        match counts.iter_mut().find(|(count, _, _)| *count == tally.fields) {
            Some((_, lines, share)) => {
                *lines += 1;
                *share += tally.share();
            }
            None => counts.push((tally.fields, 1, tally.share())),
        }
    }
    let mut best = (0, 0, 0.0);
    for count in counts {
        if count.2 > best.2 || (count.2 == best.2 && count.0 > best.0) {
            best = count;
        }
    }
    let commas = decimal_mark == b','
        && lines.iter().any(|line| {
            fields.split(line, separator, true);
            (0..fields.len()).any(|place| fields.get(line, place).contains(&b','))
        });
    Candidate {
        dialect: Dialect { separator, decimal_mark, shape: Shape::Delimited, fields: best.0 },
        score: best.2,
        agreeing: best.1,
        commas,
    }
}
