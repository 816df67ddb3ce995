//! Which of sixty-four bytes are one of a few: sixteen at a time where the processor can.

#![allow(unsafe_code, reason = "vector instructions; a plain twin is tested against them")]

/// Bit k is set where byte k is one of the marks.
#[cfg(target_arch = "x86_64")]
#[inline(always)]
pub(super) fn matches<const N: usize>(block: &[u8; 64], marks: [u8; N]) -> u64 {
    use core::arch::x86_64::{
        _mm_cmpeq_epi8, _mm_movemask_epi8, _mm_or_si128, _mm_set_epi64x, _mm_set1_epi8, _mm_setzero_si128,
    };
    let mut mask = 0;
    for (place, bytes) in block.as_chunks::<16>().0.iter().enumerate() {
        let (low, high) = halves(bytes);
        // SAFETY: values only, no memory; SSE2 is part of x86-64.
        let found = unsafe {
            let bytes = _mm_set_epi64x(high, low);
            let found = marks.map(|mark| _mm_cmpeq_epi8(bytes, _mm_set1_epi8(mark as i8)));
            _mm_movemask_epi8(found.into_iter().fold(_mm_setzero_si128(), |all, one| _mm_or_si128(all, one)))
        };
        mask |= u64::from(found as u16) << (16 * place);
    }
    mask
}

/// Bit k is set where byte k is one of the marks.
#[cfg(all(target_arch = "wasm32", target_feature = "simd128"))]
#[inline(always)]
pub(super) fn matches<const N: usize>(block: &[u8; 64], marks: [u8; N]) -> u64 {
    use core::arch::wasm32::{i64x2, u8x16_bitmask, u8x16_eq, u8x16_splat, v128_or};
    let mut mask = 0;
    for (place, bytes) in block.as_chunks::<16>().0.iter().enumerate() {
        let (low, high) = halves(bytes);
        let bytes = i64x2(low, high);
        let found = marks.map(|mark| u8x16_eq(bytes, u8x16_splat(mark)));
        let found = found.into_iter().fold(u8x16_splat(0), |all, one| v128_or(all, one));
        mask |= u64::from(u8x16_bitmask(found)) << (16 * place);
    }
    mask
}

/// Bit k is set where byte k is one of the marks.
#[cfg(not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128"))))]
#[inline(always)]
pub(super) fn matches<const N: usize>(block: &[u8; 64], marks: [u8; N]) -> u64 {
    plain(block, marks)
}

/// Two integers of eight bytes each, the first byte the lowest.
#[cfg(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))]
#[inline(always)]
fn halves(bytes: &[u8; 16]) -> (i64, i64) {
    let word = u128::from_le_bytes(*bytes);
    (word as i64, (word >> 64) as i64)
}

/// The same, byte by byte.
#[cfg(any(test, not(any(target_arch = "x86_64", all(target_arch = "wasm32", target_feature = "simd128")))))]
fn plain<const N: usize>(block: &[u8; 64], marks: [u8; N]) -> u64 {
    block.iter().enumerate().fold(0, |mask, (place, byte)| mask | (u64::from(marks.contains(byte)) << place))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_find_what_the_plain_twin_finds() {
        let mut state = 7_u32;
        for _ in 0..2000 {
            let block: [u8; 64] = core::array::from_fn(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                b",;\n\r\t 09.\xff\xac\x8d\x0b\0\"-"[(state >> 28) as usize]
            });
            for marks in [*b",\n\r", *b";\n\r", *b"|\n\r"] {
                assert_eq!(matches(&block, marks), plain(&block, marks), "{block:?}");
            }
            assert_eq!(matches(&block, *b" \t\n\r"), plain(&block, *b" \t\n\r"), "{block:?}");
        }
    }
}
