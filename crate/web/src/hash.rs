//! A hash of bytes that come in pieces.

use sha2::{Digest as _, Sha256};
use std::fmt::Write as _;
use wasm_bindgen::prelude::wasm_bindgen;

/// SHA-256 at work.
///
/// **Source** FIPS 180-4.
#[wasm_bindgen]
#[derive(Default)]
pub struct Hash {
    state: Sha256,
}

#[wasm_bindgen]
impl Hash {
    /// Of no bytes yet.
    #[must_use]
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next bytes.
    pub fn push(&mut self, bytes: &[u8]) {
        self.state.update(bytes);
    }

    /// The hash, 64 hexadecimal digits.
    #[must_use]
    pub fn finish(self) -> String {
        let mut text = String::with_capacity(64);
        for byte in self.state.finalize() {
            // Writing to a string cannot fail.
            let _ = write!(text, "{byte:02x}");
        }
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Examples of FIPS 180-4 (the one-block message and the empty one), from memory.
    #[test]
    fn agrees_with_the_standards_examples() {
        let mut hash = Hash::new();
        hash.push(b"a");
        hash.push(b"bc");
        assert_eq!(hash.finish(), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(Hash::new().finish(), "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
    }
}
