//! Two plain numbers at once, each of at most eight characters.

#![allow(unsafe_code, reason = "vector instructions; a plain twin is tested against them")]

use super::digits::TEN;

/// What to do with eight characters once it is known which of them are no digits.
#[derive(Clone, Copy, Debug)]
struct Form {
    /// The power of ten that the digits are divided by.
    divisor: f64,
    /// All bits of the characters in front of the decimal mark; [`NONE`] where this is no number.
    front: u64,
}

/// The mark is never in the last place, so nothing else has this bit.
const NONE: u64 = 1 << 63;

/// By the bits of the characters that are no digits, the first one lowest.
static FORMS: [Form; 256] = {
    let mut forms = [Form { divisor: 1.0, front: NONE }; 256];
    forms[0] = Form { divisor: 1.0, front: 0 };
    let mut place = 0;
    // A mark at the end is left to others: it might stand alone.
    while place < 7 {
        forms[1 << place] = Form { divisor: TEN[7 - place], front: (1 << (8 * place)) - 1 };
        place += 1;
    }
    forms
};

/// Two numbers; `None` where one is none. Each word holds the characters of one, xor `0`, the last one
/// in the highest byte and noughts in front; `signs` are their signs, `mark` is the decimal mark, which
/// does not stand last.
///
/// The digits are an exact integer and the divisor is an exact power of ten, so one division rounds
/// correctly.
#[cfg(target_arch = "x86_64")]
#[inline(always)]
pub(super) fn numbers(words: [u64; 2], signs: [u64; 2], mark: u8) -> Option<[f64; 2]> {
    use core::arch::x86_64::{
        __m128i, _mm_add_epi16, _mm_and_si128, _mm_andnot_si128, _mm_castsi128_pd, _mm_cmpeq_epi8,
        _mm_cvtepi32_pd, _mm_cvtsd_f64, _mm_div_pd, _mm_madd_epi16, _mm_movemask_epi8, _mm_mullo_epi16,
        _mm_or_pd, _mm_or_si128, _mm_packs_epi32, _mm_set_epi64x, _mm_set_pd, _mm_set1_epi8, _mm_set1_epi16,
        _mm_set1_epi32, _mm_setzero_si128, _mm_slli_epi64, _mm_srli_epi16, _mm_subs_epu8, _mm_unpackhi_pd,
    };
    // SAFETY: values only, no memory; SSE2 is part of x86-64.
    unsafe {
        let bytes = _mm_set_epi64x(words[1] as i64, words[0] as i64);
        let digits = _mm_cmpeq_epi8(_mm_subs_epu8(bytes, _mm_set1_epi8(9)), _mm_setzero_si128());
        let odd = !_mm_movemask_epi8(digits) as u32 & 0xffff;
        let marks = _mm_movemask_epi8(_mm_cmpeq_epi8(bytes, _mm_set1_epi8((mark ^ b'0') as i8))) as u32;
        let (low, high) = forms(odd, marks)?;
        let front = _mm_set_epi64x(high.front as i64, low.front as i64);
        let bytes = _mm_and_si128(bytes, digits);
        let moved = _mm_slli_epi64::<8>(_mm_and_si128(bytes, front));
        let bytes = _mm_or_si128(moved, _mm_andnot_si128(front, bytes));
        let tens = _mm_mullo_epi16(_mm_and_si128(bytes, _mm_set1_epi16(0xff)), _mm_set1_epi16(10));
        let twos = _mm_add_epi16(tens, _mm_srli_epi16::<8>(bytes));
        let fours: __m128i = _mm_madd_epi16(twos, _mm_set1_epi32(100 | (1 << 16)));
        let eights = _mm_madd_epi16(_mm_packs_epi32(fours, fours), _mm_set1_epi32(10_000 | (1 << 16)));
        let values = _mm_div_pd(_mm_cvtepi32_pd(eights), _mm_set_pd(high.divisor, low.divisor));
        let values = _mm_or_pd(values, _mm_castsi128_pd(_mm_set_epi64x(signs[1] as i64, signs[0] as i64)));
        Some([_mm_cvtsd_f64(values), _mm_cvtsd_f64(_mm_unpackhi_pd(values, values))])
    }
}

/// Two numbers; `None` where one is none. Each word holds the characters of one, xor `0`, the last one
/// in the highest byte and noughts in front; `signs` are their signs, `mark` is the decimal mark, which
/// does not stand last.
///
/// The digits are an exact integer and the divisor is an exact power of ten, so one division rounds
/// correctly.
#[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
#[inline(always)]
pub(super) fn numbers(words: [u64; 2], signs: [u64; 2], mark: u8) -> Option<[f64; 2]> {
    use core::arch::wasm32::{
        f64x2, f64x2_convert_low_i32x4, f64x2_div, f64x2_extract_lane, i16x8_add, i16x8_mul,
        i16x8_narrow_i32x4, i16x8_splat, i32x4_dot_i16x8, i32x4_splat, i64x2, i64x2_shl, u8x16_bitmask,
        u8x16_eq, u8x16_gt, u8x16_splat, u16x8_shr, v128_and, v128_andnot, v128_or,
    };
    let bytes = i64x2(words[0] as i64, words[1] as i64);
    let odd = u8x16_gt(bytes, u8x16_splat(9));
    let marks = u8x16_bitmask(u8x16_eq(bytes, u8x16_splat(mark ^ b'0')));
    let (low, high) = forms(u32::from(u8x16_bitmask(odd)), u32::from(marks))?;
    let front = i64x2(low.front as i64, high.front as i64);
    let bytes = v128_andnot(bytes, odd);
    let bytes = v128_or(i64x2_shl(v128_and(bytes, front), 8), v128_andnot(bytes, front));
    let tens = i16x8_mul(v128_and(bytes, i16x8_splat(0xff)), i16x8_splat(10));
    let twos = i16x8_add(tens, u16x8_shr(bytes, 8));
    let fours = i32x4_dot_i16x8(twos, i32x4_splat(100 | (1 << 16)));
    let eights = i32x4_dot_i16x8(i16x8_narrow_i32x4(fours, fours), i32x4_splat(10_000 | (1 << 16)));
    let values = f64x2_div(f64x2_convert_low_i32x4(eights), f64x2(low.divisor, high.divisor));
    let values = v128_or(values, i64x2(signs[0] as i64, signs[1] as i64));
    Some([f64x2_extract_lane::<0>(values), f64x2_extract_lane::<1>(values)])
}

/// Two numbers; `None` where one is none.
#[cfg(not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128"))))]
#[inline(always)]
pub(super) fn numbers(words: [u64; 2], signs: [u64; 2], mark: u8) -> Option<[f64; 2]> {
    let values = words.map(|word| plain(word, mark));
    let fine = !values.iter().any(|value| value.is_nan());
    fine.then(|| core::array::from_fn(|at| f64::from_bits(values[at].to_bits() | signs[at])))
}

/// The forms of two words by what is no digit in them, which must be decimal marks.
#[cfg(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))]
#[inline(always)]
fn forms(odd: u32, marks: u32) -> Option<(&'static Form, &'static Form)> {
    let (low, high) = (&FORMS[(odd & 0xff) as usize], &FORMS[((odd >> 8) & 0xff) as usize]);
    (odd == marks && (low.front | high.front) & NONE == 0).then_some((low, high))
}

/// One of them, character by character.
#[cfg(any(test, not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))))]
fn plain(word: u64, mark: u8) -> f64 {
    let (mut digits, mut after) = (0_u32, None);
    for byte in word.to_le_bytes() {
        match byte {
            0..=9 => {
                digits = digits * 10 + u32::from(byte);
                after = after.map(|places| places + 1);
            }
            _ if byte == mark ^ b'0' && after.is_none() => after = Some(0),
            _ => return f64::NAN,
        }
    }
    match after {
        Some(0) => f64::NAN,
        places => f64::from(digits) / TEN[places.unwrap_or(0)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_say_what_the_plain_twin_says() {
        let mut state = 7_u32;
        let mut numbers_seen = 0;
        for _ in 0..200_000 {
            let words: [u64; 2] = core::array::from_fn(|_| {
                u64::from_le_bytes(core::array::from_fn(|_| {
                    state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                    b"01234567890123456789012345.,9-e\xff"[(state >> 27) as usize] ^ b'0'
                }))
            });
            for mark in [b'.', b','] {
                let signs = core::array::from_fn(|_| u64::from(words[0] & 1 == 1) << 63);
                let found = numbers(words, signs, mark);
                let bad = words.iter().any(|&word| plain(word, mark).is_nan());
                assert_eq!(found.is_none(), bad, "{words:x?}");
                for ((one, &word), sign) in found.iter().flatten().zip(&words).zip(signs) {
                    assert_eq!(one.to_bits(), plain(word, mark).to_bits() | sign, "{word:x} {one}");
                }
                numbers_seen += u32::from(!bad);
            }
        }
        assert!(numbers_seen > 10_000, "{numbers_seen}");
    }
}
