//! Bytes to letters: which encoding, and UTF-16 to UTF-8 piece by piece.

use std::borrow::Cow;

use super::settings::{Settings, StatedEncoding};

/// Encoding of a log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    Utf8,
    Windows1252,
    Utf16Le,
    Utf16Be,
}

impl Encoding {
    pub(super) const fn name(self) -> &'static str {
        match self {
            Self::Utf8 => "UTF-8",
            Self::Windows1252 => "windows-1252",
            Self::Utf16Le => "UTF-16LE",
            Self::Utf16Be => "UTF-16BE",
        }
    }

    /// As stated.
    pub(super) const fn stated(stated: StatedEncoding) -> Self {
        match stated {
            StatedEncoding::Utf8 => Self::Utf8,
            StatedEncoding::Utf16Le => Self::Utf16Le,
            StatedEncoding::Utf16Be => Self::Utf16Be,
            StatedEncoding::Windows1252 => Self::Windows1252,
        }
    }

    pub(super) const fn is_utf16(self) -> bool {
        matches!(self, Self::Utf16Le | Self::Utf16Be)
    }
}

/// Encoding, length of the byte order mark, and why; what is stated goes first.
pub(super) fn encoding_of(head: &[u8], stated: Option<StatedEncoding>) -> (Encoding, usize, &'static str) {
    let found = recognise(head);
    match stated.map(Encoding::stated) {
        Some(encoding) if encoding == found.0 => (encoding, found.1, "as set"),
        Some(encoding) => (encoding, 0, "as set"),
        None => found,
    }
}

fn recognise(head: &[u8]) -> (Encoding, usize, &'static str) {
    match head {
        [0xef, 0xbb, 0xbf, ..] => return (Encoding::Utf8, 3, "byte order mark"),
        [0xff, 0xfe, ..] => return (Encoding::Utf16Le, 2, "byte order mark"),
        [0xfe, 0xff, ..] => return (Encoding::Utf16Be, 2, "byte order mark"),
        _ => {}
    }
    // Text of digits in UTF-16 has a zero in every second byte.
    let pairs = (head.len() / 2).min(512);
    let zeros =
        |offset: usize| head.iter().skip(offset).step_by(2).take(pairs).filter(|&&byte| byte == 0).count();
    if pairs >= 2 {
        let (even, odd) = (zeros(0), zeros(1));
        if odd * 10 >= pairs * 9 && even * 10 < pairs {
            return (Encoding::Utf16Le, 0, "zero in every second byte");
        }
        if even * 10 >= pairs * 9 && odd * 10 < pairs {
            return (Encoding::Utf16Be, 0, "zero in every first byte");
        }
    }
    match core::str::from_utf8(head) {
        Ok(_) => (Encoding::Utf8, 0, "valid throughout the first lines"),
        Err(error) if error.error_len().is_none() => (Encoding::Utf8, 0, "valid throughout the first lines"),
        Err(_) => (Encoding::Windows1252, 0, "not valid UTF-8"),
    }
}

/// Code points of Windows-1252's bytes 0x80 to 0x9f.
///
/// **Source** WHATWG Encoding Standard, index windows-1252 (from memory).
const HIGH: [char; 32] = [
    '\u{20ac}', '\u{81}', '\u{201a}', '\u{192}', '\u{201e}', '\u{2026}', '\u{2020}', '\u{2021}', '\u{2c6}',
    '\u{2030}', '\u{160}', '\u{2039}', '\u{152}', '\u{8d}', '\u{17d}', '\u{8f}', '\u{90}', '\u{2018}',
    '\u{2019}', '\u{201c}', '\u{201d}', '\u{2022}', '\u{2013}', '\u{2014}', '\u{2dc}', '\u{2122}', '\u{161}',
    '\u{203a}', '\u{153}', '\u{9d}', '\u{17e}', '\u{178}',
];

/// A piece of text as letters: UTF-8 where it is valid, Windows-1252 where not.
pub(super) fn decode(bytes: &[u8]) -> Cow<'_, str> {
    match core::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|&byte| letter_of(byte)).collect()),
    }
}

/// A byte of Windows-1252 as a letter.
fn letter_of(byte: u8) -> char {
    match byte {
        0x80..=0x9f => HIGH[usize::from(byte - 0x80)],
        _ => char::from(byte),
    }
}

/// What makes UTF-8 of the bytes, where they are not read as they stand. Text that was found to be
/// Windows-1252 is: only names and words need its letters, and those are decoded one by one.
pub(super) fn transcoder(encoding: Encoding, settings: &Settings) -> Option<ToUtf8> {
    match encoding {
        Encoding::Utf16Le => Some(ToUtf8::new(StatedEncoding::Utf16Le)),
        Encoding::Utf16Be => Some(ToUtf8::new(StatedEncoding::Utf16Be)),
        Encoding::Windows1252 | Encoding::Utf8 => settings.encoding.map(ToUtf8::new),
    }
}

/// Where the first letter stands that could not be read and was replaced.
pub(super) fn replaced_letter(text: &[u8]) -> Option<usize> {
    let mark = char::REPLACEMENT_CHARACTER.encode_utf8(&mut [0; 4]).as_bytes().to_owned();
    let mut at = 0;
    while let Some(found) = text.get(at..)?.iter().position(|byte| *byte == 0xef) {
        at += found;
        if text.get(at..)?.starts_with(&mark) {
            return Some(at);
        }
        at += 1;
    }
    None
}

/// Bytes of a stated encoding to UTF-8, piece by piece. What is no letter in it becomes U+FFFD, one for
/// each longest run of bytes that could have begun a letter.
///
/// **Source** WHATWG Encoding Standard, UTF-8 decoder; The Unicode Standard 15.0, section 3.9, "U+FFFD
/// Substitution of Maximal Subparts".
///
/// ```
/// use wattsieve_core::log::{StatedEncoding, ToUtf8};
/// let mut out = Vec::new();
/// let mut to_utf8 = ToUtf8::new(StatedEncoding::Utf16Le);
/// to_utf8.push(b"1\0\xb0", &mut out);
/// to_utf8.push(b"\0", &mut out);
/// assert_eq!(out, "1°".as_bytes());
/// ```
#[derive(Clone, Debug)]
pub struct ToUtf8 {
    encoding: StatedEncoding,
    odd_byte: Option<u8>,
    high_half: Option<u16>,
    /// The beginning of a letter of UTF-8.
    begun: Vec<u8>,
}

impl ToUtf8 {
    /// At the beginning of a text.
    #[must_use]
    pub fn new(encoding: StatedEncoding) -> Self {
        Self { encoding, odd_byte: None, high_half: None, begun: Vec::new() }
    }

    /// Appends what the bytes complete.
    pub fn push(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        match self.encoding {
            StatedEncoding::Utf8 if self.begun.is_empty() => self.letters(bytes, out),
            StatedEncoding::Utf8 => {
                let mut joined = core::mem::take(&mut self.begun);
                joined.extend_from_slice(bytes);
                self.letters(&joined, out);
            }
            StatedEncoding::Windows1252 => {
                for &byte in bytes {
                    if byte < 0x80 { out.push(byte) } else { append(letter_of(byte), out) }
                }
            }
            StatedEncoding::Utf16Le | StatedEncoding::Utf16Be => self.pairs(bytes, out),
        }
    }

    /// Ends the text: what had begun is no letter.
    pub fn finish(&mut self, out: &mut Vec<u8>) {
        if !core::mem::take(&mut self.begun).is_empty() {
            append(char::REPLACEMENT_CHARACTER, out);
        }
    }

    fn letters(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        let mut rest = bytes.len();
        for chunk in bytes.utf8_chunks() {
            let (valid, invalid) = (chunk.valid(), chunk.invalid());
            rest -= valid.len() + invalid.len();
            out.extend_from_slice(valid.as_bytes());
            let begun = |bytes| core::str::from_utf8(bytes).is_err_and(|error| error.error_len().is_none());
            if rest == 0 && begun(invalid) {
                self.begun = invalid.to_vec();
            } else if !invalid.is_empty() {
                append(char::REPLACEMENT_CHARACTER, out);
            }
        }
    }

    fn pairs(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        for &byte in bytes {
            let Some(first) = self.odd_byte.take() else {
                self.odd_byte = Some(byte);
                continue;
            };
            let pair = [first, byte];
            let unit = if self.encoding == StatedEncoding::Utf16Be {
                u16::from_be_bytes(pair)
            } else {
                u16::from_le_bytes(pair)
            };
            self.unit(unit, out);
        }
    }

    fn unit(&mut self, unit: u16, out: &mut Vec<u8>) {
        let high = self.high_half.take();
        if (0xd800..0xdc00).contains(&unit) {
            if high.is_some() {
                append(char::REPLACEMENT_CHARACTER, out);
            }
            self.high_half = Some(unit);
            return;
        }
        let units = [high.unwrap_or(unit), unit];
        let units = if high.is_some() { &units[..] } else { &units[1..] };
        for letter in char::decode_utf16(units.iter().copied()) {
            append(letter.unwrap_or(char::REPLACEMENT_CHARACTER), out);
        }
    }
}

fn append(letter: char, out: &mut Vec<u8>) {
    out.extend_from_slice(letter.encode_utf8(&mut [0; 4]).as_bytes());
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The Unicode Standard 15.0, table 3-11 (from memory): 61 F1 80 80 E1 80 C2 62 80 63 80 BF 64.
    #[test]
    fn bad_bytes_are_replaced_as_the_standard_says_however_they_are_cut() {
        let bytes = b"\x61\xf1\x80\x80\xe1\x80\xc2\x62\x80\x63\x80\xbf\x64";
        for size in 1..=bytes.len() {
            let mut out = Vec::new();
            let mut to_utf8 = ToUtf8::new(StatedEncoding::Utf8);
            bytes.chunks(size).for_each(|piece| to_utf8.push(piece, &mut out));
            to_utf8.finish(&mut out);
            assert_eq!(
                String::from_utf8(out).as_deref(),
                Ok("a\u{fffd}\u{fffd}\u{fffd}b\u{fffd}c\u{fffd}\u{fffd}d"),
                "{size}"
            );
        }
        let mut out = Vec::new();
        let mut to_utf8 = ToUtf8::new(StatedEncoding::Utf8);
        to_utf8.push("2 \u{3a9}".as_bytes(), &mut out);
        to_utf8.push(b"\xce", &mut out);
        to_utf8.finish(&mut out);
        assert_eq!(out, "2 \u{3a9}\u{fffd}".as_bytes());
        assert_eq!(replaced_letter(&out), Some(4));
        assert_eq!(replaced_letter("\u{ff0c}12".as_bytes()), None);
    }
}
