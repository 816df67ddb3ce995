//! A fast check sum over the bytes of a log, to tell whether a longer one begins with them.

/// Sum over bytes that come in pieces of any size.
///
/// It tells accidental differences apart (2^-64 goes unseen), not ones made on purpose.
///
/// **Formula** four lanes take eight bytes each in turn: `h = rotl((h xor w) · k, 29)` with an odd `k`,
/// so that a change of one word always changes its lane; the lanes and the length are folded at the
/// end. Own; no standard.
///
/// ```
/// use wattsieve_core::log::Fingerprint;
/// let (mut whole, mut pieces) = (Fingerprint::new(), Fingerprint::new());
/// whole.push(b"0.0,12.5\n0.1,12.4\n");
/// pieces.push(b"0.0,12.");
/// pieces.push(b"5\n0.1,12.4\n");
/// assert_eq!(whole.value(), pieces.value());
/// ```
#[derive(Clone, Debug)]
pub struct Fingerprint {
    lanes: [u64; 4],
    /// Bytes that fill no block yet.
    rest: [u8; 32],
    bytes: u64,
}

const FACTOR: u64 = 0x9e37_79b9_7f4a_7c15;

impl Default for Fingerprint {
    fn default() -> Self {
        Self::new()
    }
}

impl Fingerprint {
    /// Of no bytes.
    #[must_use]
    pub const fn new() -> Self {
        Self { lanes: [FACTOR, FACTOR << 1, FACTOR << 2, FACTOR << 3], rest: [0; 32], bytes: 0 }
    }

    /// Takes the next bytes.
    pub fn push(&mut self, mut bytes: &[u8]) {
        let held = (self.bytes % 32) as usize;
        self.bytes += bytes.len() as u64;
        if held > 0 {
            let (near, far) = bytes.split_at(bytes.len().min(32 - held));
            if let Some(place) = self.rest.get_mut(held..held + near.len()) {
                place.copy_from_slice(near);
            }
            if held + near.len() < 32 {
                return;
            }
            let block = self.rest;
            self.block(&block);
            bytes = far;
        }
        let (blocks, rest) = bytes.as_chunks::<32>();
        for block in blocks {
            self.block(block);
        }
        if let Some(place) = self.rest.get_mut(..rest.len()) {
            place.copy_from_slice(rest);
        }
    }

    #[inline(always)]
    fn block(&mut self, block: &[u8; 32]) {
        for (lane, word) in self.lanes.iter_mut().zip(block.as_chunks::<8>().0) {
            *lane = (*lane ^ u64::from_le_bytes(*word)).wrapping_mul(FACTOR).rotate_left(29);
        }
    }

    /// The sum of the bytes so far, and how many there were.
    #[must_use]
    pub fn value(&self) -> (u64, u64) {
        let mut last = self.clone();
        let held = (self.bytes % 32) as usize;
        last.rest.iter_mut().skip(held).for_each(|byte| *byte = 0);
        let block = last.rest;
        last.block(&block);
        let fold = |sum: u64, lane: &u64| (sum ^ lane).wrapping_mul(FACTOR).rotate_left(31);
        (last.lanes.iter().fold(self.bytes, fold), self.bytes)
    }

    /// Bytes so far.
    #[must_use]
    pub const fn bytes(&self) -> u64 {
        self.bytes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(bytes: &[u8]) -> (u64, u64) {
        let mut sum = Fingerprint::new();
        sum.push(bytes);
        sum.value()
    }

    #[test]
    fn every_changed_byte_shows_and_no_piece_does() {
        let text: Vec<u8> = (0..200_u32).map(|n| (n * 37 % 251) as u8).collect();
        let sum = of(&text);
        for at in 0..text.len() {
            let mut changed = text.clone();
            changed[at] ^= 1;
            assert_ne!(of(&changed), sum, "{at}");
            assert_ne!(of(&text[..at]), sum);
            let mut pieces = Fingerprint::new();
            pieces.push(&text[..at]);
            pieces.push(&text[at..]);
            assert_eq!(pieces.value(), sum, "{at}");
        }
        assert_ne!(of(b""), of(b"\0"));
    }
}
