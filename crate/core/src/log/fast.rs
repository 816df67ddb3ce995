//! Plain records of numbers, read in place.
//!
//! How it works: eight bytes at a time are loaded as one integer; bit tricks give the number of
//! leading digits and their value. A field of up to fifteen digits with at most one decimal mark
//! and a small exponent is an exact integer over an exact power of ten, so one division rounds it
//! correctly. Anything else (quotes, words, empty cells, long numbers, a wrong number of fields)
//! stops the scanner in front of its record, and [`super::record`] takes that record. The last few
//! bytes of a piece go there too, since eight bytes must be there to be loaded.

use super::number::{TEN, scale};
use super::result::Form;
use super::split::Separator;

/// Integer powers of ten.
const TENS: [u64; 9] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// Most digits of an integer that is certainly exact in binary64 (10^15 < 2^53).
const MOST_DIGITS: usize = 15;

/// Scans records into columns.
#[derive(Clone, Debug)]
pub(super) struct Fast {
    separator: Separator,
    decimal_mark: u8,
    forms: Vec<Form>,
}

/// High bit of every byte that is no digit, of eight bytes.
#[inline(always)]
fn no_digits(word: u64) -> u64 {
    // A byte xor `0` is above nine where it was no digit.
    let bytes = word ^ 0x3030_3030_3030_3030;
    (bytes.wrapping_add(0x7676_7676_7676_7676) | bytes) & 0x8080_8080_8080_8080
}

#[inline(always)]
fn load(text: &[u8], at: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*text.get(at..)?.first_chunk::<8>()?))
}

/// Value of the first `count` bytes, digits all, 0 to 8.
#[inline(always)]
fn value_of(word: u64, count: usize) -> u64 {
    let bytes = word ^ 0x3030_3030_3030_3030;
    // Moves the digits to the end, zeros in front (in two shifts, since a shift by 64 is none);
    // then sums pairs, fours and eights.
    let word = if count == 0 { 0 } else { bytes << (64 - 8 * count) };
    let word = word.wrapping_mul(10).wrapping_add(word >> 8) & 0x00ff_00ff_00ff_00ff;
    let word = word.wrapping_mul(100).wrapping_add(word >> 16) & 0x0000_ffff_0000_ffff;
    word.wrapping_mul(10_000).wrapping_add(word >> 32) & 0xffff_ffff
}

/// A run of at most sixteen digits: value, how many.
#[inline(always)]
fn digits(text: &[u8], at: usize) -> Option<(u64, usize)> {
    let first = load(text, at)?;
    let count = (no_digits(first).trailing_zeros() / 8) as usize;
    if count < 8 {
        return Some((value_of(first, count), count));
    }
    let second = load(text, at + 8)?;
    let more = (no_digits(second).trailing_zeros() / 8) as usize;
    Some((value_of(first, 8) * TENS[more] + value_of(second, more), 8 + more))
}

/// The number at `at` and the index after it; `None` where it is not a plain one.
///
/// The end of the field is found from one load of sixteen bytes, before any digit is summed, so that
/// the next field can start at once.
#[inline(always)]
fn number(text: &[u8], at: usize, decimal_mark: u8) -> Option<(f64, usize)> {
    let window = text.get(at..)?.first_chunk::<17>()?;
    let negative = usize::from(window[0] == b'-');
    let low = load(window, negative)?;
    let stops = no_digits(low);
    let point = (stops.trailing_zeros() / 8) as usize;
    if point == 8 {
        return long_number(text, at, decimal_mark);
    }
    let whole = value_of(low, point);
    if *window.get(negative + point)? != decimal_mark {
        return finish(text, at + negative + point, negative, whole, point, 0);
    }
    let later = stops & (stops - 1);
    let end = if later != 0 {
        (later.trailing_zeros() / 8) as usize
    } else {
        8 + (no_digits(load(window, negative + 8)?).trailing_zeros() / 8) as usize
    };
    let count = end - point - 1;
    if count > 8 || end == 16 {
        return long_number(text, at, decimal_mark);
    }
    let fraction = value_of(load(window, negative + point + 1)?, count);
    finish(text, at + negative + end, negative, whole * TENS[count] + fraction, point + count, count)
}

/// The same for many digits.
fn long_number(text: &[u8], at: usize, decimal_mark: u8) -> Option<(f64, usize)> {
    let negative = usize::from(*text.get(at)? == b'-');
    let (whole, whole_digits) = digits(text, at + negative)?;
    let end = at + negative + whole_digits;
    if whole_digits > MOST_DIGITS || *text.get(end)? != decimal_mark {
        return finish(text, end, negative, whole, whole_digits, 0);
    }
    let (fraction, count) = digits(text, end + 1)?;
    if whole_digits + count > MOST_DIGITS {
        return None;
    }
    let scaled = if count <= 8 { whole * TENS[count] } else { whole * TENS[8] * TENS[count - 8] };
    finish(text, end + 1 + count, negative, scaled + fraction, whole_digits + count, count)
}

/// An integer of `digits` digits, `after_mark` of them a fraction, to a number.
#[inline(always)]
fn finish(
    text: &[u8],
    end: usize,
    negative: usize,
    mantissa: u64,
    digits: usize,
    after_mark: usize,
) -> Option<(f64, usize)> {
    if digits == 0 || digits > MOST_DIGITS {
        return None;
    }
    let (value, end) = if *text.get(end)? | 0x20 == b'e' {
        with_exponent(text, end, mantissa, after_mark)?
    } else {
        // By way of i64: processors convert signed integers in one step.
        (mantissa as i64 as f64 / TEN[after_mark], end)
    };
    Some((f64::from_bits(value.to_bits() | ((negative as u64) << 63)), end))
}

#[cold]
fn with_exponent(text: &[u8], at: usize, mantissa: u64, after_mark: usize) -> Option<(f64, usize)> {
    let (down, start) = match *text.get(at + 1)? {
        b'-' => (true, at + 2),
        b'+' => (false, at + 2),
        _ => (false, at + 1),
    };
    let (size, count) = digits(text, start)?;
    if !(1..=3).contains(&count) {
        return None;
    }
    let exponent = if down { -(size as i64) } else { size as i64 };
    Some((scale(mantissa, exponent - after_mark as i64)?, start + count))
}

impl Fast {
    pub(super) fn new(separator: Separator, decimal_mark: u8, forms: Vec<Form>) -> Self {
        Self { separator, decimal_mark, forms }
    }

    /// Reads records from `at` on; gives the index of the first that it does not take.
    pub(super) fn run(
        &self,
        text: &[u8],
        mut at: usize,
        line: &mut u32,
        columns: &mut [Vec<f64>],
        lines: &mut Vec<u32>,
    ) -> usize {
        while let Some(next) = self.record(text, at, columns) {
            lines.push(*line);
            *line += 1;
            at = next;
        }
        // What the record in front of which it stopped has left.
        for column in columns {
            column.truncate(lines.len());
        }
        at
    }

    /// Reads one record into the columns; gives the index after its line end.
    #[inline(always)]
    fn record(&self, text: &[u8], start: usize, columns: &mut [Vec<f64>]) -> Option<usize> {
        let separator = self.separator.byte;
        let runs = self.separator.runs();
        let mut at = start;
        let mut between = false;
        for (column, form) in columns.iter_mut().zip(&self.forms) {
            if between {
                let byte = *text.get(at)?;
                if byte != separator && !(runs && byte == b'\t') {
                    return None;
                }
                at += 1;
            }
            while *text.get(at)? == b' ' {
                at += 1;
            }
            if *form == Form::Number {
                let (value, after) = number(text, at, self.decimal_mark)?;
                column.push(value);
                at = after;
            } else if !between && !text.get(at)?.is_ascii_alphanumeric() {
                return None; // a comment perhaps
            } else {
                at = skip_text(text, at, self.separator)?;
            }
            between = true;
        }
        match *text.get(at)? {
            b'\n' => Some(at + 1),
            // A carriage return at the very end may have its line feed in the next piece.
            b'\r' => match *text.get(at + 1)? {
                b'\n' => Some(at + 2),
                _ => Some(at + 1),
            },
            _ => None,
        }
    }
}

/// Index of the end of a text field without quotes.
fn skip_text(text: &[u8], at: usize, separator: Separator) -> Option<usize> {
    for (offset, &byte) in text.get(at..)?.iter().enumerate() {
        if separator.ends_field(byte) || matches!(byte, b'\n' | b'\r') {
            return (offset > 0 || !separator.runs()).then_some(at + offset);
        }
        if byte == b'"' || byte == 0 {
            return None;
        }
    }
    None
}
