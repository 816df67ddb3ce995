//! Decimal text to the nearest binary64, exactly.

use super::digits::{NOUGHTS, TEN, no_digits, value_of};

/// Largest integer up to which binary64 holds every integer.
const EXACT_INTEGER: u64 = 1 << 53;

/// Digits that a `u64` always holds.
const MOST_DIGITS: u32 = 19;

/// The number that a text means, correctly rounded; `None` where the text is not a plain decimal
/// number.
///
/// Taken: an optional sign, digits with at most one decimal mark (`.` or `,` as stated) and at
/// least one digit, an optional exponent. Not taken: white space, words, hexadecimal, digit
/// groups. A number beyond the range becomes infinite or zero.
///
/// **Formula** up to 19 digits form an integer m; where m and the power of ten are both exact in
/// binary64 one multiplication or division rounds correctly. Where only the power of ten is, the
/// quotient is found with its remainder, unless it is too near the middle of two binary64 numbers.
/// Everything else goes through the standard library's correctly rounded parse.
///
/// **Source** W. D. Clinger, "How to read floating point numbers accurately", PLDI 1990 (the exact
/// case; from memory).
///
/// ```
/// assert_eq!(wattsieve_core::log::parse_number(b"-12,5e1", b','), Some(-125.0));
/// assert_eq!(wattsieve_core::log::parse_number(b"12 V", b'.'), None);
/// ```
#[must_use]
pub fn parse_number(text: &[u8], decimal_mark: u8) -> Option<f64> {
    let (negative, start) = match text.first()? {
        b'-' => (true, 1),
        b'+' => (false, 1),
        _ => (false, 0),
    };
    let mut at = start;
    let mut mantissa: u64 = 0;
    let mut significant: u32 = 0;
    let mut digits: usize = 0;
    let mut after_mark: i64 = 0;
    let mut seen_mark = false;
    while let Some(&byte) = text.get(at) {
        if let Some(bytes) = text.get(at..).and_then(|rest| rest.first_chunk::<8>())
            && significant + 8 <= MOST_DIGITS
            && let bytes = u64::from_le_bytes(*bytes) ^ NOUGHTS
            && no_digits(bytes) == 0
        {
            let noughts = if significant > 0 { 0 } else { bytes.trailing_zeros() / 8 };
            mantissa = mantissa * 100_000_000 + value_of(bytes);
            significant += 8 - noughts;
            digits += 8;
            after_mark += if seen_mark { 8 } else { 0 };
            at += 8;
            continue;
        }
        if byte.is_ascii_digit() {
            digits += 1;
            after_mark += i64::from(seen_mark);
            if significant > 0 || byte != b'0' {
                significant += 1;
                if significant <= MOST_DIGITS {
                    mantissa = mantissa * 10 + u64::from(byte - b'0');
                }
            }
        } else if byte == decimal_mark && !seen_mark {
            seen_mark = true;
        } else {
            break;
        }
        at += 1;
    }
    if digits == 0 {
        return None;
    }
    let mut exponent: i64 = 0;
    if let Some(b'e' | b'E') = text.get(at) {
        at += 1;
        let down = match text.get(at) {
            Some(b'-') => {
                at += 1;
                true
            }
            Some(b'+') => {
                at += 1;
                false
            }
            _ => false,
        };
        let first = at;
        while let Some(byte) = text.get(at).filter(|byte| byte.is_ascii_digit()) {
            exponent = (exponent * 10 + i64::from(byte - b'0')).min(1_000_000);
            at += 1;
        }
        if at == first {
            return None;
        }
        if down {
            exponent = -exponent;
        }
    }
    if at != text.len() {
        return None;
    }
    if significant <= MOST_DIGITS {
        let exponent = exponent - after_mark;
        let value = if mantissa <= EXACT_INTEGER {
            scale(mantissa, exponent)
        } else {
            divide(mantissa, exponent.checked_neg().unwrap_or(-1))
        };
        if let Some(value) = value {
            return Some(if negative { -value } else { value });
        }
    }
    slow(text, decimal_mark)
}

/// An exact integer times an exact power of ten, rounded once.
pub(super) fn scale(mantissa: u64, exponent: i64) -> Option<f64> {
    let power = TEN.get(usize::try_from(exponent.unsigned_abs()).ok()?)?;
    let value = mantissa as f64;
    Some(if exponent < 0 { value / power } else { value * power })
}

/// An integer beyond the exact ones over a power of ten, rounded once; `None` where that cannot be told
/// this way.
///
/// **Formula** m = h + l and q = fl(h / d); the remainder h - q d is exact, from Dekker's product, and
/// m / d = q + (h - q d + l) / d. The last quotient is wrong by less than 2^-51 of itself, so the sum is
/// rounded correctly where both ends of that give the same.
///
/// **Source** T. J. Dekker, "A floating-point technique for extending the available precision",
/// Numerische Mathematik 18 (1971), 224-242 (from memory).
fn divide(mantissa: u64, places: i64) -> Option<f64> {
    let divisor = *TEN.get(usize::try_from(places).ok()?)?;
    let mantissa = i64::try_from(mantissa).ok().filter(|mantissa| *mantissa < i64::MAX - 1024)?;
    let high = mantissa as f64;
    let low = (mantissa - high as i64) as f64;
    let quotient = high / divisor;
    let (product, error) = product(quotient, divisor);
    let rest = ((high - product) - error + low) / divisor;
    let margin = rest.abs() * (1.0 / (1_u64 << 50) as f64);
    let value = quotient + (rest - margin);
    (value == quotient + (rest + margin)).then_some(value)
}

/// A product and what its rounding has lost.
fn product(one: f64, other: f64) -> (f64, f64) {
    let halves = |value: f64| {
        let wide = value * 134_217_729.0;
        let high = wide - (wide - value);
        (high, value - high)
    };
    let product = one * other;
    let ((one_high, one_low), (other_high, other_low)) = (halves(one), halves(other));
    let crossed = one_high * other_low + one_low * other_high;
    (product, ((one_high * other_high - product) + crossed) + one_low * other_low)
}

fn slow(text: &[u8], decimal_mark: u8) -> Option<f64> {
    if decimal_mark == b'.' {
        return core::str::from_utf8(text).ok()?.parse().ok();
    }
    let copy: String =
        text.iter().map(|&byte| if byte == decimal_mark { '.' } else { char::from(byte) }).collect();
    copy.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_numbers_are_rounded_as_the_standard_library_rounds_them() {
        let mut state = 11_u64;
        let mut next = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            state >> 33
        };
        for round in 0..200_000 {
            let digits = 14 + round % 7;
            let mut text = String::new();
            let mark = next() as usize % (digits + 1);
            for place in 0..digits {
                if place == mark {
                    text.push('.');
                }
                // Ends of fives and noughts come near the middle of two numbers.
                let digit = if place > 15 && next() % 2 == 0 { 5 * (next() % 2) } else { next() % 10 };
                text.push(char::from(b'0' + digit as u8));
            }
            let expected: f64 = text.parse().unwrap();
            assert_eq!(
                parse_number(text.as_bytes(), b'.').map(f64::to_bits),
                Some(expected.to_bits()),
                "{text}"
            );
        }
    }

    #[test]
    fn products_come_with_what_is_lost() {
        // 2^53 - 1 times 3 needs 55 bits.
        let one = 9_007_199_254_740_991.0;
        assert_eq!(product(one, 3.0), (27_021_597_764_222_972.0, 1.0));
    }
}
