//! Eight characters at a time: digits summed by bit tricks, and numbers of few digits.

/// Powers of ten that binary64 holds exactly.
pub(super) const TEN: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];

/// Integer powers of ten.
const TENS: [u64; 9] = [1, 10, 100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000, 100_000_000];

/// Eight times the digit nought.
pub(super) const NOUGHTS: u64 = 0x3030_3030_3030_3030;

/// High bit of every byte above nine, where a byte is a character xor `0`.
#[inline(always)]
pub(super) fn no_digits(bytes: u64) -> u64 {
    (bytes.wrapping_add(0x7676_7676_7676_7676) | bytes) & 0x8080_8080_8080_8080
}

/// The number that eight digits make; each byte is a digit, the first one the lowest byte.
#[inline(always)]
pub(super) fn value_of(bytes: u64) -> u64 {
    let word = bytes.wrapping_mul(10).wrapping_add(bytes >> 8) & 0x00ff_00ff_00ff_00ff;
    let word = word.wrapping_mul(100).wrapping_add(word >> 16) & 0x0000_ffff_0000_ffff;
    word.wrapping_mul(10_000).wrapping_add(word >> 32) & 0xffff_ffff
}

/// All bits of the last `count` bytes, 1 to 8.
#[inline(always)]
fn last(count: usize) -> u64 {
    u64::MAX << (64 - 8 * count)
}

/// The eight bytes in front of `end`.
#[inline(always)]
fn before(text: &[u8], end: usize) -> Option<u64> {
    Some(u64::from_le_bytes(*text.get(..end)?.last_chunk::<8>()?))
}

/// The number that a whole field is; `None` where it is not a plain one of a few digits, or where it
/// stands at the very start of the text.
#[inline(always)]
pub(super) fn number(text: &[u8], start: usize, end: usize, decimal_mark: u8) -> Option<f64> {
    let negative = usize::from(*text.get(start)? == b'-');
    let length = end.wrapping_sub(start + negative);
    let bytes = before(text, end)? ^ NOUGHTS;
    let (mantissa, after) = if length.wrapping_sub(1) < 8 {
        let field = last(length);
        let odd = no_digits(bytes) & field;
        if odd == 0 {
            (value_of(bytes & field), 0)
        } else {
            let after = digits_after(bytes, odd, decimal_mark)?;
            if length == 1 {
                return None;
            }
            // What stands in front of the mark moves up by one byte.
            let front = (odd >> 7) - 1;
            let joined = ((bytes & front) << 8) | (bytes & (!front << 8));
            (value_of(joined & (field << 8)), after)
        }
    } else {
        // The mark is among the last eight bytes, and at most eight digits stand in front of it.
        let odd = no_digits(bytes);
        if odd == 0 {
            return None;
        }
        let after = digits_after(bytes, odd, decimal_mark)?;
        let whole = length.wrapping_sub(after + 1);
        if whole.wrapping_sub(1) >= 8 {
            return None;
        }
        let front = (before(text, end - 1 - after)? ^ NOUGHTS) & last(whole);
        if no_digits(front) != 0 {
            return None;
        }
        let back = bytes & (!((odd >> 7) - 1) << 8);
        (value_of(front) * TENS[after] + value_of(back), after)
    };
    // By way of i64: processors convert signed integers in one step.
    let value = mantissa as i64 as f64 / TEN[after];
    Some(f64::from_bits(value.to_bits() | ((negative as u64) << 63)))
}

/// How many of eight bytes stand after the decimal mark, which must be the only one that is `odd`.
#[inline(always)]
fn digits_after(bytes: u64, odd: u64, decimal_mark: u8) -> Option<usize> {
    let after = odd.leading_zeros() / 8;
    let mark = (bytes >> (56 - 8 * after)) as u8;
    (odd & (odd - 1) == 0 && mark == decimal_mark ^ b'0').then_some(after as usize)
}
