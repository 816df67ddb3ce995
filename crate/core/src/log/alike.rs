//! Two columns whose numbers keep to one way of writing: as many digits after the mark in every row.

#![allow(unsafe_code, reason = "vector instructions; a plain twin is tested against them")]

use super::digits::{NOUGHTS, TEN, no_digits};

/// What to do with eight characters whose decimal mark stands at a known place.
#[derive(Clone, Copy, Debug)]
struct Weights {
    /// All bits of the mark.
    mark: u64,
    /// What brings a character that is too much to 128 or above, once the mark is made a nought: more than
    /// nine, and anything but nought at the mark.
    room: u64,
    /// What the first of two characters counts times 256, and one, four times: ten, or one where the
    /// second is the mark.
    tens: u64,
    /// What two characters count beside the two behind them, and those, twice.
    hundreds: u64,
    /// What the first four count beside the last four, and those.
    thousands: u32,
    /// The power of ten that the digits are divided by.
    divisor: f64,
}

/// By the place of the mark; the last one where there is none.
static WEIGHTS: [Weights; 8] = {
    let none = Weights {
        mark: 0,
        room: 0x7676_7676_7676_7676,
        tens: 0x0a01_0a01_0a01_0a01,
        hundreds: 0x0001_0064_0001_0064,
        thousands: 0x0001_2710,
        divisor: 1.0,
    };
    let mut weights = [none; 8];
    let mut place = 0;
    while place < NO_MARK {
        let (mark, pair, four) = (0xff << (8 * place), 16 * (place / 2), 32 * (place / 4));
        weights[place] = Weights {
            mark,
            room: none.room | (mark & 0x7f7f_7f7f_7f7f_7f7f),
            // The mark counts nothing, so what stands in front of it counts a tenth.
            tens: if place % 2 == 1 { none.tens ^ ((0x0a00 ^ 0x0100) << pair) } else { none.tens },
            hundreds: if place % 4 > 1 { none.hundreds ^ ((100 ^ 10) << four) } else { none.hundreds },
            thousands: if place > 3 { none.thousands ^ 10_000 ^ 1_000 } else { none.thousands },
            divisor: TEN[7 - place],
        };
        place += 1;
    }
    weights
};

/// Stands for numbers without a mark. A mark in the last place is left to others.
const NO_MARK: usize = 7;

/// All bits of the last characters, by how many stand in front of the last one.
static FIELDS: [u64; 8] = {
    let mut fields = [0; 8];
    let mut before = 0;
    while before < 8 {
        fields[before] = u64::MAX << (56 - 8 * before);
        before += 1;
    }
    fields
};

#[cfg(target_arch = "x86_64")]
type Lanes = core::arch::x86_64::__m128i;
#[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
type Lanes = core::arch::wasm32::v128;
#[cfg(not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128"))))]
type Lanes = [u64; 2];

/// Two integers of eight bytes.
#[inline(always)]
fn two(of: [u64; 2]) -> Lanes {
    #[cfg(target_arch = "x86_64")]
    // SAFETY: values only, no memory; SSE2 is part of x86-64.
    return unsafe { core::arch::x86_64::_mm_set_epi64x(of[1] as i64, of[0] as i64) };
    #[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
    return core::arch::wasm32::i64x2(of[0] as i64, of[1] as i64);
    #[cfg(not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128"))))]
    return of;
}

/// The way in which two columns are written. The weights of both stand beside one another.
#[derive(Clone, Copy, Debug)]
pub(super) struct Alike {
    /// Xored to the characters: noughts where the marks stand.
    marks: Lanes,
    noughts: Lanes,
    room: Lanes,
    tens: Lanes,
    hundreds: Lanes,
    thousands: Lanes,
    divisors: Lanes,
    #[cfg(any(
        test,
        not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))
    ))]
    plain: [(&'static Weights, u8); 2],
}

impl Alike {
    /// The way in which two words are written; `None` where one is no plain number. Each holds
    /// characters xor `0`, without the sign, the last one in the highest byte and noughts in front.
    pub(super) fn of(words: [u64; 2], decimal_mark: u8) -> Option<Self> {
        let mark = decimal_mark ^ b'0';
        let weights = |word: u64| {
            let odd = no_digits(word);
            if odd == 0 {
                return WEIGHTS.get(NO_MARK);
            }
            let place = (odd.trailing_zeros() / 8) as usize;
            let alone = odd & (odd - 1) == 0 && (word >> (8 * place)) as u8 == mark;
            WEIGHTS.get(..NO_MARK)?.get(place).filter(|_| alone)
        };
        let both = [weights(words[0])?, weights(words[1])?];
        let [low, high] = both;
        Some(Self {
            marks: two(both.map(|one| one.mark & (u64::from(mark) * (u64::MAX / 255)))),
            noughts: two([NOUGHTS; 2]),
            room: two(both.map(|one| one.room)),
            tens: two(both.map(|one| one.tens)),
            hundreds: two(both.map(|one| one.hundreds)),
            thousands: two([u64::from(low.thousands) | (u64::from(high.thousands) << 32), 0]),
            divisors: two(both.map(|one| one.divisor.to_bits())),
            #[cfg(any(
                test,
                not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))
            ))]
            plain: both.map(|one| (one, mark)),
        })
    }

    /// Reads two numbers by the places behind them, by how many characters of each stand in front of its
    /// last one, the sign not counted, and by their signs; `None` where one is written in another way.
    ///
    /// The digits are an exact integer and the divisor is an exact power of ten, so one division rounds
    /// correctly.
    ///
    /// # Safety
    ///
    /// Eight bytes in front of each end are places of the text.
    #[cfg(target_arch = "x86_64")]
    #[inline(always)]
    pub(super) unsafe fn numbers(
        &self,
        text: &[u8],
        ends: [usize; 2],
        before: [usize; 2],
        signs: [u64; 2],
    ) -> Option<[f64; 2]> {
        use core::arch::x86_64::{
            _mm_adds_epu8, _mm_and_si128, _mm_castsi128_pd, _mm_cvtepi32_pd, _mm_cvtsd_f64, _mm_div_pd,
            _mm_loadl_epi64, _mm_madd_epi16, _mm_movemask_epi8, _mm_mullo_epi16, _mm_or_pd, _mm_packs_epi32,
            _mm_srli_epi16, _mm_unpackhi_pd, _mm_unpacklo_epi64, _mm_xor_si128,
        };
        let field = two([*FIELDS.get(before[0])?, *FIELDS.get(before[1])?]);
        // SAFETY: the caller's for the two loads; SSE2 is part of x86-64.
        unsafe {
            let characters = |end: usize| _mm_loadl_epi64(text.as_ptr().add(end - 8).cast());
            let bytes = _mm_unpacklo_epi64(characters(ends[0]), characters(ends[1]));
            let bytes = _mm_and_si128(_mm_xor_si128(bytes, self.noughts), field);
            let bytes = _mm_xor_si128(bytes, self.marks);
            if _mm_movemask_epi8(_mm_adds_epu8(bytes, self.room)) != 0 {
                return None;
            }
            let twos = _mm_srli_epi16::<8>(_mm_mullo_epi16(bytes, self.tens));
            let fours = _mm_madd_epi16(twos, self.hundreds);
            let eights = _mm_madd_epi16(_mm_packs_epi32(fours, fours), self.thousands);
            let values = _mm_div_pd(_mm_cvtepi32_pd(eights), _mm_castsi128_pd(self.divisors));
            let values = _mm_or_pd(values, _mm_castsi128_pd(two(signs)));
            Some([_mm_cvtsd_f64(values), _mm_cvtsd_f64(_mm_unpackhi_pd(values, values))])
        }
    }

    /// Reads two numbers by the places behind them, by how many characters of each stand in front of its
    /// last one, the sign not counted, and by their signs; `None` where one is written in another way.
    ///
    /// The digits are an exact integer and the divisor is an exact power of ten, so one division rounds
    /// correctly.
    ///
    /// # Safety
    ///
    /// Eight bytes in front of each end are places of the text.
    #[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
    #[inline(always)]
    pub(super) unsafe fn numbers(
        &self,
        text: &[u8],
        ends: [usize; 2],
        before: [usize; 2],
        signs: [u64; 2],
    ) -> Option<[f64; 2]> {
        use core::arch::wasm32::{
            f64x2_convert_low_i32x4, f64x2_div, f64x2_extract_lane, i16x8_mul, i16x8_narrow_i32x4,
            i32x4_dot_i16x8, u8x16_add_sat, u8x16_bitmask, u16x8_shr, v128_and, v128_load64_lane,
            v128_load64_zero, v128_or, v128_xor,
        };
        let fields = [FIELDS.get(before[0])?, FIELDS.get(before[1])?];
        // SAFETY: the caller's; the fields are of eight bytes each.
        let (bytes, field) = unsafe {
            let characters = |end: usize| text.as_ptr().add(end - 8).cast::<u64>();
            (
                v128_load64_lane::<1>(v128_load64_zero(characters(ends[0])), characters(ends[1])),
                v128_load64_lane::<1>(v128_load64_zero(fields[0]), fields[1]),
            )
        };
        let bytes = v128_xor(v128_and(v128_xor(bytes, self.noughts), field), self.marks);
        if u8x16_bitmask(u8x16_add_sat(bytes, self.room)) != 0 {
            return None;
        }
        let twos = u16x8_shr(i16x8_mul(bytes, self.tens), 8);
        let fours = i32x4_dot_i16x8(twos, self.hundreds);
        let eights = i32x4_dot_i16x8(i16x8_narrow_i32x4(fours, fours), self.thousands);
        let values = f64x2_div(f64x2_convert_low_i32x4(eights), self.divisors);
        let values = v128_or(values, two(signs));
        Some([f64x2_extract_lane::<0>(values), f64x2_extract_lane::<1>(values)])
    }

    /// Reads two numbers by the places behind them, by how many characters of each stand in front of its
    /// last one, the sign not counted, and by their signs; `None` where one is written in another way.
    ///
    /// # Safety
    ///
    /// None is needed here.
    #[cfg(not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128"))))]
    #[inline(always)]
    pub(super) unsafe fn numbers(
        &self,
        text: &[u8],
        ends: [usize; 2],
        before: [usize; 2],
        signs: [u64; 2],
    ) -> Option<[f64; 2]> {
        self.plain(text, ends, before, signs)
    }

    /// The same, number by number.
    #[cfg(any(
        test,
        not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))
    ))]
    fn plain(&self, text: &[u8], ends: [usize; 2], before: [usize; 2], signs: [u64; 2]) -> Option<[f64; 2]> {
        let one = |at: usize| {
            let (Weights { mark: marks, divisor, .. }, mark) = self.plain[at];
            let word = u64::from_le_bytes(*text.get(..ends[at])?.last_chunk::<8>()?);
            let word = (word ^ NOUGHTS) & FIELDS.get(before[at])?;
            let mut whole = 0;
            for (byte, is_mark) in word.to_le_bytes().into_iter().zip(marks.to_le_bytes()) {
                match byte {
                    _ if is_mark > 0 => (byte == mark).then_some(())?,
                    0..=9 => whole = 10 * whole + u32::from(byte),
                    _ => return None,
                }
            }
            let value = f64::from(whole) / divisor;
            Some(f64::from_bits(value.to_bits() | signs[at]))
        };
        Some([one(0)?, one(1)?])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::parse_number;

    /// The last characters of a field as [`Alike::of`] wants them.
    fn word(field: &[u8]) -> u64 {
        let mut bytes = [b'0'; 8];
        bytes[8 - field.len()..].copy_from_slice(field);
        u64::from_le_bytes(bytes) ^ NOUGHTS
    }

    #[test]
    fn lanes_say_what_the_plain_twin_says() {
        let mut state = 7_u32;
        let mut random = |below: usize| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (state >> 8) as usize % below
        };
        let (mut taken, mut left) = (0, 0);
        for _ in 0..20_000 {
            let mark = [b'.', b','][random(2)];
            // Two fields of one row, mostly written like two others.
            let mut field = |after: usize| {
                let whole = random(9 - after);
                let mut text: Vec<u8> = (0..whole + after).map(|_| b'0' + random(10) as u8).collect();
                if after > 0 && text.len() < 8 {
                    text.insert(whole, mark);
                }
                if text.is_empty() {
                    text.push(b'7');
                }
                if random(9) == 0 {
                    let place = random(text.len());
                    text[place] = b".,-+/: 0123eE\xff"[random(14)];
                }
                text
            };
            let (one, two) = (1, 5);
            let first = [field(one), field(two)];
            let Some(alike) = Alike::of([word(&first[0]), word(&first[1])], mark) else { continue };
            for fields in [&first, &[field(one), field(two)], &[field(0), field(3)]] {
                let text = [b"987654.2,".as_slice(), &fields[0], b",", &fields[1], b"\n\n"].concat();
                let ends = [9 + fields[0].len(), 10 + fields[0].len() + fields[1].len()];
                let before = [fields[0].len() - 1, fields[1].len() - 1];
                let signs = [0, 1].map(|_| (random(2) as u64) << 63);
                // SAFETY: there are nine bytes in front of the first end.
                let found = unsafe { alike.numbers(&text, ends, before, signs) };
                assert_eq!(found, alike.plain(&text, ends, before, signs), "{fields:?}");
                let Some(found) = found else {
                    left += 1;
                    continue;
                };
                taken += 1;
                for ((value, field), sign) in found.into_iter().zip(fields).zip(signs) {
                    let expected = parse_number(field, mark).map(|value| value.to_bits() | sign);
                    assert_eq!(Some(value.to_bits()), expected, "{field:?}");
                }
            }
        }
        assert!(taken > 5_000 && left > 5_000, "{taken} {left}");
    }
}
