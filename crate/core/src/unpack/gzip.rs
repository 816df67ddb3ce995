//! A gzip file to its text.

use super::inflate::Inflate;
use super::{Limit, Trouble};

/// Unpacks a gzip file that comes in pieces; several streams one after another are one text.
///
/// **Source** RFC 1952, section 2.3.
///
/// ```no_run
/// # fn file_in_pieces() -> Vec<Vec<u8>> { Vec::new() }
/// use wattsieve_core::unpack::{Gunzip, Limit};
/// let mut gunzip = Gunzip::new(Limit::default());
/// let mut text = Vec::new();
/// for piece in file_in_pieces() {
///     gunzip.push(&piece, &mut text)?;
/// }
/// gunzip.finish()?;
/// # Ok::<(), wattsieve_core::unpack::Trouble>(())
/// ```
#[derive(Debug)]
pub struct Gunzip {
    limit: Limit,
    /// What is not used up yet: a header, or the sums after a stream.
    held: Vec<u8>,
    stream: Option<Inflate>,
    /// Before this stream.
    packed: u64,
    unpacked: u64,
    streams: u32,
}

/// A header longer than this is none.
const LONGEST_HEADER: usize = 64 * 1024;

impl Gunzip {
    /// At the beginning of a file.
    #[must_use]
    pub fn new(limit: Limit) -> Self {
        Self { limit, held: Vec::new(), stream: None, packed: 0, unpacked: 0, streams: 0 }
    }

    /// Takes the next bytes and appends the text that they complete.
    ///
    /// **Errors** the file is damaged, or unpacks to too much.
    pub fn push(&mut self, bytes: &[u8], out: &mut Vec<u8>) -> Result<(), Trouble> {
        let joined;
        let data = if self.held.is_empty() {
            bytes
        } else {
            self.held.extend_from_slice(bytes);
            joined = core::mem::take(&mut self.held);
            &joined
        };
        let mut at = 0;
        loop {
            let rest = data.get(at..).unwrap_or_default();
            match &mut self.stream {
                Some(stream) if !stream.ended => {
                    at +=
                        stream.push(rest, out, self.limit, (self.packed, self.unpacked), "this gzip file")?;
                    if !stream.ended {
                        break;
                    }
                }
                Some(stream) => {
                    let Some([c0, c1, c2, c3, l0, l1, l2, l3]) = rest.first_chunk::<8>().copied() else {
                        break;
                    };
                    let length = u32::from_le_bytes([l0, l1, l2, l3]);
                    // The length is kept modulo 2^32.
                    if u32::from_le_bytes([c0, c1, c2, c3]) != stream.crc.value()
                        || length != stream.given as u32
                    {
                        return Err(Trouble::damaged(
                            "the check sum of this gzip file does not fit its text",
                        ));
                    }
                    self.packed += stream.taken + 8;
                    self.unpacked += stream.given;
                    self.stream = None;
                    at += 8;
                }
                None => {
                    let Some(length) = header(rest)? else { break };
                    self.stream = Some(Inflate::new());
                    self.streams += 1;
                    self.packed += length as u64;
                    at += length;
                }
            }
        }
        self.held = data.get(at..).unwrap_or_default().to_vec();
        Ok(())
    }

    /// Ends the file.
    ///
    /// **Errors** it stops before its end.
    pub fn finish(self) -> Result<(), Trouble> {
        let padded = self.held.iter().all(|&byte| byte == 0);
        if self.stream.is_some() || self.streams == 0 || !padded {
            return Err(Trouble::damaged("this gzip file stops before its end"));
        }
        Ok(())
    }
}

/// Length of a complete header; `None` where more bytes are needed.
fn header(bytes: &[u8]) -> Result<Option<usize>, Trouble> {
    let Some(head) = bytes.first_chunk::<10>() else { return Ok(None) };
    if head.iter().all(|&byte| byte == 0) {
        return Ok(None);
    }
    let [0x1f, 0x8b, method, flags, ..] = *head else {
        return Err(Trouble::damaged("something that is not gzip follows the packed text"));
    };
    if method != 8 {
        return Err(Trouble::new(
            "archive_method",
            format!(
                "it is packed by method {method}, and only deflate is known; unpack it and open the log itself"
            ),
        ));
    }
    if bytes.len() > LONGEST_HEADER {
        return Err(Trouble::damaged("the header of this gzip file never ends"));
    }
    let mut at = 10;
    if flags & 4 != 0 {
        let Some(&[low, high]) = bytes.get(at..at + 2) else { return Ok(None) };
        at += 2 + usize::from(u16::from_le_bytes([low, high]));
    }
    for flag in [8, 16] {
        if flags & flag != 0 {
            let Some(end) = bytes.get(at..).and_then(|rest| rest.iter().position(|&byte| byte == 0)) else {
                return Ok(None);
            };
            at += end + 1;
        }
    }
    if flags & 2 != 0 {
        at += 2;
    }
    Ok((bytes.len() >= at).then_some(at))
}

/// Name of the log in a gzip file of this name: without `.gz` at its end.
#[must_use]
pub fn unpacked_name(name: &str) -> &str {
    let cut = name.len().saturating_sub(3);
    match name.get(cut..) {
        Some(end) if cut > 0 && end.eq_ignore_ascii_case(".gz") => name.get(..cut).unwrap_or(name),
        _ => name,
    }
}
