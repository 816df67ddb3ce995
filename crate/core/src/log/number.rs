//! Decimal text to the nearest binary64, exactly.

/// Powers of ten that binary64 holds exactly.
pub(super) const TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

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
/// binary64 one multiplication or division rounds correctly. Everything else goes through the
/// standard library's correctly rounded parse.
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
    if significant <= MOST_DIGITS
        && mantissa <= EXACT_INTEGER
        && let Some(value) = scale(mantissa, exponent - after_mark)
    {
        return Some(if negative { -value } else { value });
    }
    slow(text, decimal_mark)
}

/// An exact integer times an exact power of ten, rounded once.
pub(super) fn scale(mantissa: u64, exponent: i64) -> Option<f64> {
    let power = TEN.get(usize::try_from(exponent.unsigned_abs()).ok()?)?;
    let value = mantissa as f64;
    Some(if exponent < 0 { value / power } else { value * power })
}

fn slow(text: &[u8], decimal_mark: u8) -> Option<f64> {
    if decimal_mark == b'.' {
        return core::str::from_utf8(text).ok()?.parse().ok();
    }
    let copy: String =
        text.iter().map(|&byte| if byte == decimal_mark { '.' } else { char::from(byte) }).collect();
    copy.parse().ok()
}
