//! Logs that come packed: gzip files, and zip archives of one or many logs. Recognised by content.
//!
//! Nothing here reads a file: the caller hands over the bytes that are asked for and gets text back,
//! piece by piece. How much may come out is limited, since a small file can unpack to any size.

mod crc;
mod gzip;
mod inflate;
mod zip;

#[cfg(test)]
mod tests;

pub use gzip::{Gunzip, unpacked_name};
pub use zip::{DIRECTORY_SEARCHED, Directory, LOCAL_HEADER, Member, Unzip, find_directory, members};

/// How a file is packed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Packing {
    /// Not at all, as far as can be told.
    Plain,
    /// gzip: one text.
    Gzip,
    /// zip: an archive of files.
    Zip,
}

/// How a file that begins so is packed; four bytes are enough.
///
/// **Source** RFC 1952, section 2.3.1 (gzip); APPNOTE.TXT 6.3, sections 4.3.7 and 4.3.16 (zip).
#[must_use]
pub fn packing(head: &[u8]) -> Packing {
    match head {
        [0x1f, 0x8b, ..] => Packing::Gzip,
        [b'P', b'K', 3, 4, ..] | [b'P', b'K', 5, 6, ..] => Packing::Zip,
        _ => Packing::Plain,
    }
}

/// Why a packed file cannot be unpacked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// Short code: `archive_damaged`, `archive_encrypted`, `archive_method`, `archive_too_large`,
    /// `archive_empty` or `spreadsheet`.
    pub code: &'static str,
    /// A sentence without the file's name: what it is and what to do.
    pub message: String,
}

impl Trouble {
    fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }

    fn damaged(what: &str) -> Self {
        Self::new(
            "archive_damaged",
            format!(
                "{what}; the file is damaged or was not copied whole, copy it again or unpack it elsewhere"
            ),
        )
    }
}

/// What may come out of one packed file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Bytes in all.
    pub bytes: u64,
    /// Bytes out per byte in, once more than `spared` came out. Logs of numbers pack to a third or a
    /// twentieth of their size.
    pub ratio: u64,
    /// Bytes out that the ratio does not concern.
    pub spared: u64,
}

impl Default for Limit {
    fn default() -> Self {
        Self { bytes: 2 << 30, ratio: 300, spared: 16 << 20 }
    }
}

impl Limit {
    fn check(self, packed: u64, unpacked: u64) -> Result<(), Trouble> {
        if unpacked > self.bytes {
            return Err(Trouble::new(
                "archive_too_large",
                format!(
                    "it unpacks to more than {} MB; unpack it, cut the log into parts and open those",
                    self.bytes >> 20
                ),
            ));
        }
        if unpacked > self.spared && unpacked / self.ratio > packed {
            return Err(Trouble::new(
                "archive_too_large",
                format!(
                    "it unpacks to more than {} times its size, which no log does; if it is one, unpack it and open that",
                    self.ratio
                ),
            ));
        }
        Ok(())
    }
}
