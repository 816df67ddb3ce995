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
#[derive(Debug)]
pub(super) struct Fast {
    separator: Separator,
    decimal_mark: u8,
    row: Vec<f64>,
    forms: Vec<Form>,
}

/// Eight bytes as digits.
#[derive(Clone, Copy)]
struct Eight {
    /// Each byte xor `0`.
    bytes: u64,
    /// Number of leading bytes that are digits, 0 to 8.
    digits: usize,
}

#[inline(always)]
fn load(text: &[u8], at: usize) -> Option<Eight> {
    let word = u64::from_le_bytes(*text.get(at..)?.first_chunk::<8>()?);
    let bytes = word ^ 0x3030_3030_3030_3030;
    // The high bit of a byte is set where the byte is above nine.
    let above = (bytes.wrapping_add(0x7676_7676_7676_7676) | bytes) & 0x8080_8080_8080_8080;
    Some(Eight { bytes, digits: (above.trailing_zeros() / 8) as usize })
}

/// Value of the leading digits.
#[inline(always)]
fn value_of(eight: Eight) -> u64 {
    if eight.digits == 0 {
        return 0;
    }
    // Moves the digits to the end, zeros in front; then sums pairs, fours and eights.
    let word = eight.bytes << (64 - 8 * eight.digits);
    let word = word.wrapping_mul(10).wrapping_add(word >> 8) & 0x00ff_00ff_00ff_00ff;
    let word = word.wrapping_mul(100).wrapping_add(word >> 16) & 0x0000_ffff_0000_ffff;
    word.wrapping_mul(10_000).wrapping_add(word >> 32) & 0xffff_ffff
}

/// A run of at most sixteen digits: value, how many.
#[inline(always)]
fn digits(text: &[u8], at: usize) -> Option<(u64, usize)> {
    let first = load(text, at)?;
    let value = value_of(first);
    if first.digits < 8 {
        return Some((value, first.digits));
    }
    let second = load(text, at + 8)?;
    Some((value * TENS[second.digits] + value_of(second), 8 + second.digits))
}

/// The number at `at` and the index after it; `None` where it is not a plain one.
#[inline(always)]
fn number(text: &[u8], at: usize, decimal_mark: u8) -> Option<(f64, usize)> {
    let negative = *text.get(at)? == b'-';
    let start = at + usize::from(negative);
    let (whole, whole_digits) = digits(text, start)?;
    let mut end = start + whole_digits;
    let mut mantissa = whole;
    let mut after_mark = 0;
    if *text.get(end)? == decimal_mark {
        let (fraction, fraction_digits) = digits(text, end + 1)?;
        if whole_digits + fraction_digits > MOST_DIGITS {
            return None;
        }
        mantissa = if fraction_digits <= 8 {
            whole * TENS[fraction_digits] + fraction
        } else {
            whole * TENS[8] * TENS[fraction_digits - 8] + fraction
        };
        after_mark = fraction_digits;
        end += 1 + fraction_digits;
    }
    if whole_digits + after_mark > MOST_DIGITS || whole_digits + after_mark == 0 {
        return None;
    }
    let value = if *text.get(end)? | 0x20 == b'e' {
        let (value, after) = with_exponent(text, end, mantissa, after_mark)?;
        end = after;
        value
    } else {
        mantissa as f64 / TEN[after_mark]
    };
    Some((f64::from_bits(value.to_bits() | (u64::from(negative) << 63)), end))
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
        Self { separator, decimal_mark, row: vec![f64::NAN; forms.len()], forms }
    }

    /// Reads records from `at` on; gives the index of the first that it does not take.
    pub(super) fn run(
        &mut self,
        text: &[u8],
        mut at: usize,
        line: &mut u32,
        columns: &mut [Vec<f64>],
        lines: &mut Vec<u32>,
    ) -> usize {
        while let Some(next) = self.record(text, at) {
            for ((column, form), value) in columns.iter_mut().zip(&self.forms).zip(&self.row) {
                if *form == Form::Number {
                    column.push(*value);
                }
            }
            lines.push(*line);
            *line += 1;
            at = next;
        }
        at
    }

    /// Reads one record into `row`; gives the index after its line end.
    #[inline(always)]
    fn record(&mut self, text: &[u8], start: usize) -> Option<usize> {
        let separator = self.separator.byte;
        let runs = self.separator.runs();
        let mut at = start;
        let last = self.forms.len().saturating_sub(1);
        for (place, (target, form)) in self.row.iter_mut().zip(&self.forms).enumerate() {
            while *text.get(at)? == b' ' {
                at += 1;
            }
            if *form == Form::Number {
                let (value, after) = number(text, at, self.decimal_mark)?;
                *target = value;
                at = after;
            } else if place == 0 && !text.get(at)?.is_ascii_alphanumeric() {
                return None; // a comment perhaps
            } else {
                at = skip_text(text, at, self.separator)?;
            }
            if place < last {
                let byte = *text.get(at)?;
                if byte != separator && !(runs && byte == b'\t') {
                    return None;
                }
                at += 1;
            }
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
