//! Where the header is, which columns there are, and where the data starts.

use super::cell::{Cell, is_unit_symbol, read_cell};
use super::datetime::read_stamp;
use super::result::{Comment, Form, HeaderLine};
use super::settings::{HeaderRow, Settings};
use super::split::{Fields, Separator};
use super::text::decode;
use super::writing::{Dialect, Line, Shape, Tally, separator_name};

/// What stands before the data.
#[derive(Clone, Debug, Default)]
pub(super) struct Header {
    pub(super) names: Vec<String>,
    pub(super) under: Vec<String>,
    pub(super) lines: Vec<HeaderLine>,
    pub(super) comments: Vec<Comment>,
    pub(super) preamble_lines: u32,
    /// Offset and number of the first line that is not before the data.
    pub(super) start: usize,
    pub(super) first_line: u32,
    pub(super) evidence: String,
}

impl Header {
    /// Whether the header's own text might pass for a record of numbers.
    pub(super) fn looks_like_a_record(&self, forms: &[Form], decimal_mark: u8) -> bool {
        let numeric = |text: &str| {
            let cell = read_cell(text.as_bytes(), decimal_mark);
            cell != Cell::Text || read_stamp(text.as_bytes()).is_some()
        };
        let passes = |texts: &[String]| {
            texts.iter().any(|text| !text.is_empty())
                && texts.iter().zip(forms).all(|(text, form)| *form == Form::Text || numeric(text))
        };
        !self.lines.is_empty() && (passes(&self.names) || passes(&self.under))
    }
}

/// Finds the header and the start of the data. Sets the number of fields where header and data
/// differ by an empty field at the end.
pub(super) fn find(lines: &[Line<'_>], dialect: &mut Dialect, settings: &Settings) -> Header {
    let mut fields = Fields::default();
    let tallies: Vec<Option<Tally>> = lines
        .iter()
        .map(|line| {
            let blank = line.text.trim_ascii().is_empty() || declared_separator(line.text).is_some();
            (!blank && !dialect.separator.comments(line.text))
                .then(|| Tally::of(line.text, dialect.separator, dialect.decimal_mark, &mut fields))
        })
        .collect();
    let first = match settings.header_row {
        HeaderRow::Line(number) => lines.iter().position(|line| line.number > number).unwrap_or(lines.len()),
        _ => first_data(&tallies, dialect.fields).unwrap_or(lines.len()),
    };
    let mut header = Header { first_line: 1, ..Header::default() };
    if let Some(line) = lines.get(first) {
        (header.start, header.first_line) = (line.start, line.number);
    } else if let Some(line) = lines.last() {
        (header.start, header.first_line) = (line.next, line.number + 1);
    }
    let mut named: Vec<(usize, Vec<String>)> = Vec::new();
    for (place, line) in lines.iter().take(first).enumerate() {
        let wanted = match settings.header_row {
            HeaderRow::Line(number) => line.number == number,
            HeaderRow::None => false,
            HeaderRow::Auto => tallies[place].is_some_and(|tally| could_name(tally, dialect.fields)),
        };
        if wanted {
            named.push((place, split_names(line.text, dialect.separator, &mut fields)));
        } else if dialect.separator.comments(line.text) {
            header.comments.push(Comment { line: line.number, text: comment_text(line.text) });
        } else if tallies[place].is_some() {
            header.preamble_lines += 1;
        }
    }
    if settings.header_row == HeaderRow::Auto && named.is_empty() {
        name_from_elsewhere(lines, first, dialect, &mut header, &mut named, &mut fields);
    }
    take_names(lines, named, &mut header);
    // A separator at the end of every record makes no column.
    if !header.names.is_empty()
        && header.names.len() < dialect.fields
        && lines.iter().skip(first).all(|line| {
            fields.split(line.text, dialect.separator, true);
            fields.len() != dialect.fields || fields.get(line.text, dialect.fields - 1).is_empty()
        })
    {
        dialect.fields -= 1;
    }
    if header.names.is_empty() {
        header.names = (1..=dialect.fields).map(|number| format!("column {number}")).collect();
        "no header: columns are numbered".clone_into(&mut header.evidence);
    }
    let count = dialect.fields;
    header.names.resize_with(count, String::new);
    header.under.resize_with(count, String::new);
    for (place, name) in header.names.iter_mut().enumerate().filter(|(_, name)| name.is_empty()) {
        *name = format!("column {}", place + 1);
    }
    header
}

/// The separator that a line `sep=;` declares.
pub(super) fn declared_separator(line: &[u8]) -> Option<u8> {
    match line {
        [b's' | b'S', b'e' | b'E', b'p' | b'P', b'=', byte] => Some(*byte),
        _ => None,
    }
}

/// The first line that looks like the bulk of the lines with numbers.
fn first_data(tallies: &[Option<Tally>], fields: usize) -> Option<usize> {
    let mut bulk: Vec<Tally> = tallies
        .iter()
        .flatten()
        .copied()
        .filter(|tally| tally.fields == fields && tally.numbers > 0)
        .collect();
    bulk.sort_by_key(|tally| (tally.numbers, tally.texts));
    let usual = *bulk.get(bulk.len().saturating_sub(1) / 2)?;
    tallies.iter().position(|tally| {
        tally.is_some_and(|tally| {
            tally.fields == fields
                && tally.numbers > 0
                && (tally.texts == 0 || tally.numbers * 2 >= usual.numbers)
                && tally.texts <= usual.texts.max(tally.numbers / 2)
        })
    })
}

/// Whether a line could hold names: as many fields as the data, give or take an empty one at the
/// end, most of them text.
fn could_name(tally: Tally, fields: usize) -> bool {
    let close = tally.fields == fields || tally.fields + 1 == fields || tally.fields == fields + 1;
    close && tally.texts > 0 && tally.texts > tally.numbers && (tally.fields > 1 || fields == 1)
}

fn split_names(line: &[u8], separator: Separator, fields: &mut Fields) -> Vec<String> {
    fields.split(line, separator, true);
    (0..fields.len())
        .map(|place| decode(fields.get(line, place)).replace('\0', "").trim().to_owned())
        .collect()
}

fn comment_text(line: &[u8]) -> String {
    let text = decode(line.trim_ascii()).replace('\0', "");
    text.trim_start_matches(['#', '%', ';', '/']).trim().to_owned()
}

/// Names in a comment before the data, or in a header that is repeated further down.
fn name_from_elsewhere(
    lines: &[Line<'_>],
    first: usize,
    dialect: &Dialect,
    header: &mut Header,
    named: &mut Vec<(usize, Vec<String>)>,
    fields: &mut Fields,
) {
    for (place, line) in lines.iter().enumerate().take(first).rev() {
        if !dialect.separator.comments(line.text) {
            continue;
        }
        let text = comment_text(line.text);
        let after_label = text.split_once(':').map(|(_, rest)| rest.trim());
        for candidate in [Some(text.as_str()), after_label].into_iter().flatten() {
            let names = split_names(candidate.as_bytes(), dialect.separator, fields);
            let tally = Tally::of(candidate.as_bytes(), dialect.separator, dialect.decimal_mark, fields);
            if names.len() == dialect.fields && tally.numbers == 0 && tally.texts > 0 {
                header.evidence = format!("header in the comment on line {}", line.number);
                header.comments.retain(|comment| comment.line != line.number);
                named.push((place, names));
                return;
            }
        }
    }
    for (place, line) in lines.iter().enumerate().skip(first) {
        if line.text.trim_ascii().is_empty() || dialect.separator.comments(line.text) {
            continue;
        }
        let tally = Tally::of(line.text, dialect.separator, dialect.decimal_mark, fields);
        if tally.fields == dialect.fields && tally.texts == tally.fields && tally.fields > 2 {
            header.evidence = format!("header further down, on line {}", line.number);
            named.push((place, split_names(line.text, dialect.separator, fields)));
            return;
        }
    }
}

/// Chooses names, and the row under them, among the lines that could be.
fn take_names(lines: &[Line<'_>], mut named: Vec<(usize, Vec<String>)>, header: &mut Header) {
    let Some((mut place, mut names)) = named.pop() else { return };
    let line_of = |place: usize| HeaderLine {
        line: lines.get(place).map_or(0, |line| line.number),
        text: lines.get(place).map(|line| decode(line.text).into_owned()).unwrap_or_default(),
    };
    let filled = names.iter().filter(|name| !name.is_empty()).count();
    let units = names.iter().filter(|name| is_unit_symbol(name.as_bytes())).count();
    if units * 2 >= filled
        && let Some((upper_place, upper)) = named.pop()
    {
        header.under = names;
        header.lines.push(line_of(upper_place));
        (place, names) = (upper_place, upper);
        header.lines.push(line_of(place + 1));
        header.lines.dedup();
    } else {
        header.lines.push(line_of(place));
    }
    header.preamble_lines += named.len() as u32;
    if header.evidence.is_empty() {
        header.evidence = format!("header on line {}", header.lines.first().map_or(0, |line| line.line));
    }
    if names.last().is_some_and(String::is_empty) {
        names.pop();
    }
    header.names = names;
}

/// Recognises `name=value`, `name:value` and JSON lines.
pub(super) fn find_named(lines: &[&[u8]], settings: &Settings) -> Option<(Dialect, Vec<String>)> {
    let mark = if settings.decimal_mark == Some(',') { b',' } else { b'.' };
    for (shape, separator) in [
        (Shape::Json, b','),
        (Shape::NameValue, b','),
        (Shape::NameValue, b';'),
        (Shape::NameValue, b'\t'),
        (Shape::NameValue, b'|'),
        (Shape::NameValue, b' '),
    ] {
        let stated = settings.shape == Some(shape);
        let other = settings.shape.is_some() && !stated;
        let apart =
            shape != Shape::Json && settings.separator.is_some_and(|wanted| wanted != char::from(separator));
        if other || apart {
            continue;
        }
        let separator = Separator { byte: separator };
        let dialect = Dialect { separator, decimal_mark: mark, shape, fields: 0 };
        let mut names = Vec::new();
        let named = lines.iter().filter(|line| add_names(line, dialect, &mut names)).count();
        let enough = stated || (named * 2 > lines.len() && (shape == Shape::Json || names.len() > 1));
        if named > 0 && enough {
            let evidence = match shape {
                _ if stated => format!("named values: as set; in {named} of the first {} lines", lines.len()),
                Shape::Json => {
                    format!("one JSON object per line in {named} of the first {} lines", lines.len())
                }
                _ => format!(
                    "name and value in every field, separator {}, in {named} of the first {} lines",
                    separator_name(separator.byte),
                    lines.len()
                ),
            };
            return Some((Dialect { fields: names.len(), ..dialect }, vec![evidence]));
        }
    }
    None
}

/// Columns of a log of named values, in order of first appearance.
pub(super) fn names_of(lines: &[Line<'_>], dialect: Dialect) -> Vec<String> {
    let mut names = Vec::new();
    for line in lines {
        add_names(line.text, dialect, &mut names);
    }
    names
}

/// Adds a line's names; false where the line is not of this shape.
fn add_names(line: &[u8], dialect: Dialect, names: &mut Vec<String>) -> bool {
    let before = names.len();
    let fits = each_named(line, dialect, |name, _| {
        if !names.iter().any(|known| known.as_bytes() == name) {
            names.push(decode(name).into_owned());
        }
    });
    if !fits {
        names.truncate(before);
    }
    fits
}

/// Calls back with each name and value of a record; false where the record is not of this shape
/// (what was called back with before then is to be forgotten).
pub(super) fn each_named<'a>(
    record: &'a [u8],
    dialect: Dialect,
    mut take: impl FnMut(&'a [u8], &'a [u8]),
) -> bool {
    let mut rest = record.trim_ascii();
    if dialect.shape == Shape::Json {
        match rest.strip_prefix(b"{").and_then(|inner| inner.strip_suffix(b"}")) {
            Some(inner) => rest = inner,
            None => return false,
        }
    }
    let mut any = false;
    for field in rest.split(|&byte| dialect.separator.ends_field(byte)) {
        let field = field.trim_ascii();
        if field.is_empty() {
            continue;
        }
        let Some(cut) = field.iter().position(|byte| matches!(byte, b':' | b'=')) else { return false };
        let (name, value) = (unquote(&field[..cut]), unquote(&field[cut + 1..]));
        if !name.first().is_some_and(|byte| byte.is_ascii_alphabetic() || *byte >= 0x80 || *byte == b'_') {
            return false;
        }
        any = true;
        take(name, value);
    }
    any
}

fn unquote(text: &[u8]) -> &[u8] {
    let text = text.trim_ascii();
    text.strip_prefix(b"\"").and_then(|inner| inner.strip_suffix(b"\"")).unwrap_or(text).trim_ascii()
}

/// What the cells of each column hold, from the first records.
pub(super) fn forms(lines: &[Line<'_>], header: &Header, dialect: Dialect, settings: &Settings) -> Vec<Form> {
    let mut fields = Fields::default();
    let mut counts = vec![(0_usize, 0_usize, 0_usize); dialect.fields];
    for line in lines.iter().filter(|line| line.start >= header.start).take(200) {
        if dialect.separator.comments(line.text) || dialect.shape != Shape::Delimited {
            continue;
        }
        fields.split(line.text, dialect.separator, true);
        fields.drop_empty_tail(line.text, dialect.fields);
        if fields.len() != dialect.fields {
            continue;
        }
        for (place, (numbers, dates, texts)) in counts.iter_mut().enumerate() {
            let field = fields.get(line.text, place);
            match read_cell(field, dialect.decimal_mark) {
                Cell::Text if read_stamp(field).is_some() => *dates += 1,
                Cell::Text => *texts += 1,
                // A word for over-range stands in columns of numbers and of words alike.
                Cell::Empty | Cell::OverRange => {}
                _ => *numbers += 1,
            }
        }
    }
    let stated = |place: usize| settings.word_columns.iter().any(|&number| number as usize == place + 1);
    let says_range = |place: usize| {
        let name = header.names.get(place).map(|name| name.to_lowercase()).unwrap_or_default();
        ["range", "rng", "bereich"].iter().any(|word| name.contains(word))
    };
    let ignored = |place: usize| settings.ignored_columns.iter().any(|&number| number as usize == place + 1);
    counts
        .iter()
        .enumerate()
        .map(|(place, &(numbers, dates, texts))| {
            // A column of text has no numbers at all or next to none; one garbled cell is no text.
            let text = texts > 2 && (numbers + dates) * 4 < texts;
            if !ignored(place) && (stated(place) || (text && says_range(place))) {
                Form::Words
            } else if ignored(place) || text {
                Form::Text
            } else if dates > numbers {
                Form::DateTime
            } else {
                Form::Number
            }
        })
        .collect()
}
