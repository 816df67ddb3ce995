//! What several tests need.

use serde_json::Value;

/// A file under `tests/`.
pub(crate) fn file(name: &str) -> Vec<u8> {
    let path = format!("{}/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

/// A JSON file under `tests/`.
pub(crate) fn json(name: &str) -> Value {
    serde_json::from_slice(&file(name)).unwrap()
}

/// Base64 (RFC 4648, section 4) to bytes.
pub(crate) fn from_base64(text: &str) -> Vec<u8> {
    let mut bits = 0_u32;
    let mut held = 0;
    let mut out = Vec::new();
    for letter in text.bytes() {
        let value = match letter {
            b'A'..=b'Z' => letter - b'A',
            b'a'..=b'z' => letter - b'a' + 26,
            b'0'..=b'9' => letter - b'0' + 52,
            b'+' => 62,
            b'/' => 63,
            _ => break,
        };
        bits = (bits << 6) | u32::from(value);
        held += 6;
        if held >= 8 {
            held -= 8;
            out.push((bits >> held) as u8);
            bits &= (1 << held) - 1;
        }
    }
    out
}

/// A small seeded generator (xorshift64*; from memory).
pub(crate) struct Random(pub(crate) u64);

impl Random {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    pub(crate) fn below(&mut self, end: usize) -> usize {
        (self.next() >> 33) as usize % end
    }

    /// Uniform from 0 to 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Nearly normal with standard deviation 1: twelve uniform numbers less six.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}
