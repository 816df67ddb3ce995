//! What one cell says: a number, with a unit perhaps; no value; over-range; or text.

use super::number::parse_number;

/// Meaning of one cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Cell {
    /// A number.
    Number(f64),
    /// A number with a unit; the unit starts at this byte.
    WithUnit(f64, usize),
    /// Nothing, or a word for it.
    Empty,
    /// Beyond what the device could show.
    OverRange,
    /// Anything else.
    Text,
}

/// Words for "no value". Common practice, no source.
const NO_VALUE: [&[u8]; 12] =
    [b"nan", b"n/a", b"na", b"null", b"none", b"nil", b"-", b"--", b"---", b"err", b"error", b"?"];

/// Words for "over-range". Common practice, no source.
const OVER_RANGE: [&[u8]; 14] = [
    b"ol",
    b"o.l",
    b"0l",
    b"+ol",
    b"-ol",
    b"ovld",
    b"ovf",
    b"ovfl",
    b"over",
    b"overload",
    b"overflow",
    b"inf",
    b"+inf",
    b"-inf",
];

/// Bench instruments write 9.9E37 for infinity and 9.91E37 for "not a number" (SCPI-1999 volume 1,
/// 7.2.1; from memory).
const INFINITY_FROM: f64 = 9.9e37;
const NOT_A_NUMBER: f64 = 9.91e37;

/// Unit symbols that may follow a number in a cell or stand alone in a row of units.
const SYMBOLS: [&str; 34] = [
    "v", "a", "w", "s", "hz", "f", "h", "k", "j", "c", "°c", "°", "degc", "deg c", "ω", "ohm", "ohms",
    "volt", "volts", "amp", "amps", "ampere", "watt", "watts", "sec", "secs", "min", "ah", "wh", "lx", "lux",
    "lm", "%", "°f",
];

/// The meaning of a cell; white space around it is no part of it.
pub(super) fn read_cell(text: &[u8], decimal_mark: u8) -> Cell {
    let Some(&first) = text.first() else { return Cell::Empty };
    if let Some(value) = parse_number(text, decimal_mark) {
        return judge(value);
    }
    if text.len() <= 8 && (first.is_ascii_alphabetic() || b"-+?0".contains(&first)) {
        if NO_VALUE.iter().any(|word| text.eq_ignore_ascii_case(word)) {
            return Cell::Empty;
        }
        if OVER_RANGE.iter().any(|word| text.eq_ignore_ascii_case(word)) {
            return Cell::OverRange;
        }
    }
    if !text.iter().any(u8::is_ascii_digit) {
        return if text.eq_ignore_ascii_case(b"infinity") { Cell::OverRange } else { Cell::Text };
    }
    if let Some(value) = grouped(text, decimal_mark) {
        return judge(value);
    }
    with_unit(text, decimal_mark)
}

/// Whether a number is a reading: below what instruments write for infinity or for none.
pub(super) fn is_in_range(value: f64) -> bool {
    value.abs() < INFINITY_FROM
}

fn judge(value: f64) -> Cell {
    let size = value.abs();
    if is_in_range(value) {
        Cell::Number(value)
    } else if size == NOT_A_NUMBER {
        Cell::Empty
    } else {
        Cell::OverRange
    }
}

/// Length of a thousands mark at the start of `text`, if one stands there: a space of any kind, an
/// apostrophe, or the mark that is not the decimal mark.
fn thousands_mark(text: &[u8], decimal_mark: u8) -> usize {
    let other = if decimal_mark == b',' { b'.' } else { b',' };
    match text {
        [b' ' | b'\'', ..] => 1,
        [byte, ..] if *byte == other => 1,
        [0xa0, ..] => 1,                    // no-break space, Windows-1252
        [0xc2, 0xa0, ..] => 2,              // no-break space
        [0xe2, 0x80, 0xaf | 0x99, ..] => 3, // narrow no-break space, typographic apostrophe
        _ => 0,
    }
}

/// A number whose integer part is written in groups of three with one kind of mark.
fn grouped(text: &[u8], decimal_mark: u8) -> Option<f64> {
    let mut plain = [0_u8; 40];
    let mut length = 0;
    let mut at = 0;
    let mut put = |byte: u8| {
        if let Some(place) = plain.get_mut(length) {
            *place = byte;
            length += 1;
        }
    };
    if let Some(sign @ (b'-' | b'+')) = text.first() {
        put(*sign);
        at = 1;
    }
    let lead = text.get(at..)?.iter().take_while(|byte| byte.is_ascii_digit()).count();
    if !(1..=3).contains(&lead) || text.get(at) == Some(&b'0') || text.len() > 36 {
        return None;
    }
    text.get(at..at + lead)?.iter().for_each(|&byte| put(byte));
    at += lead;
    let width = thousands_mark(text.get(at..)?, decimal_mark);
    if width == 0 {
        return None;
    }
    let mark = text.get(at..at + width)?;
    while text.get(at..)?.starts_with(mark) {
        let group = text.get(at + width..at + width + 3)?;
        if !group.iter().all(u8::is_ascii_digit) {
            return None;
        }
        group.iter().for_each(|&byte| put(byte));
        at += width + 3;
    }
    if text.get(at).is_some_and(u8::is_ascii_digit) {
        return None;
    }
    text.get(at..)?.iter().for_each(|&byte| put(byte));
    parse_number(plain.get(..length)?, decimal_mark)
}

/// A number, white space perhaps, and a unit symbol with an SI prefix perhaps.
fn with_unit(text: &[u8], decimal_mark: u8) -> Cell {
    let mut at = text.len();
    while at > 0 && text.get(at - 1).is_some_and(|byte| !byte.is_ascii_digit() && *byte != decimal_mark) {
        at -= 1;
    }
    let (number, rest) = text.split_at(at);
    let unit = rest.trim_ascii();
    if !is_unit_symbol(unit) {
        return Cell::Text;
    }
    let number = number.trim_ascii_end();
    match parse_number(number, decimal_mark).or_else(|| grouped(number, decimal_mark)).map(judge) {
        Some(Cell::Number(value)) => Cell::WithUnit(value, text.len() - rest.trim_ascii_start().len()),
        Some(other) => other,
        None => Cell::Text,
    }
}

/// Whether a text is a unit symbol, with an SI prefix perhaps, brackets perhaps.
pub(super) fn is_unit_symbol(text: &[u8]) -> bool {
    if text.is_empty() || text.len() > 14 {
        return false;
    }
    let decoded = super::text::decode(text).to_lowercase();
    let bare = decoded.trim_matches(|letter| "()[]{}".contains(letter)).trim();
    let known = |name: &str| SYMBOLS.contains(&name);
    known(bare) || split_prefix(bare).is_some_and(|(_, rest)| known(rest))
}

/// SI prefix and the rest. `M` and `m` are told apart only where the text keeps its case.
fn split_prefix(unit: &str) -> Option<(f64, &str)> {
    let mut letters = unit.chars();
    let factor = match letters.next()? {
        'n' => 1e-9,
        'u' | 'µ' | 'μ' => 1e-6,
        'm' => 1e-3,
        'k' => 1e3,
        'M' => 1e6,
        _ => return None,
    };
    let rest = letters.as_str();
    (!rest.is_empty()).then_some((factor, rest))
}

/// Factor from one unit text to another where they differ by an SI prefix only.
pub(super) fn prefix_ratio(from: &str, to: &str) -> Option<f64> {
    if from == to {
        return Some(1.0);
    }
    let parts = |unit: &'_ str| -> Vec<(f64, String)> {
        let mut out = vec![(1.0, unit.to_lowercase())];
        if let Some((factor, rest)) = split_prefix(unit) {
            out.push((factor, rest.to_lowercase()));
        }
        out
    };
    let targets = parts(to);
    parts(from).iter().find_map(|(factor, rest)| {
        targets.iter().find(|(_, other)| other == rest).map(|(other, _)| {
            // A quotient of powers of ten below one is inexact; divide the larger by the smaller.
            if factor >= other { libm::round(factor / other) } else { 1.0 / libm::round(other / factor) }
        })
    })
}
