//! The check sum of gzip and zip.

/// CRC-32 of bytes that come in pieces.
///
/// **Source** RFC 1952, section 8: reflected polynomial 0xedb88320, all ones before and after.
#[derive(Clone, Copy, Debug)]
pub(super) struct Crc(u32);

const TABLE: [u32; 256] = {
    let mut table = [0; 256];
    let mut byte = 0;
    while byte < 256 {
        let mut value = byte as u32;
        let mut bit = 0;
        while bit < 8 {
            value = if value & 1 == 1 { (value >> 1) ^ 0xedb8_8320 } else { value >> 1 };
            bit += 1;
        }
        table[byte] = value;
        byte += 1;
    }
    table
};

impl Crc {
    pub(super) const fn new() -> Self {
        Self(u32::MAX)
    }

    pub(super) fn push(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 >> 8) ^ TABLE[usize::from(self.0.to_le_bytes()[0] ^ byte)];
        }
    }

    pub(super) const fn value(self) -> u32 {
        !self.0
    }
}
