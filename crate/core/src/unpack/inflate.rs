//! One deflate stream, piece by piece.

use miniz_oxide::inflate::stream::{InflateState, inflate};
use miniz_oxide::{DataFormat, MZError, MZFlush, MZStatus};

use super::crc::Crc;
use super::{Limit, Trouble};

/// Bytes that come out at once.
const PIECE: usize = 64 * 1024;

/// Unpacks one stream and sums up what comes out.
pub(super) struct Inflate {
    state: Box<InflateState>,
    piece: Vec<u8>,
    pub(super) crc: Crc,
    pub(super) taken: u64,
    pub(super) given: u64,
    pub(super) ended: bool,
}

impl core::fmt::Debug for Inflate {
    fn fmt(&self, out: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        out.debug_struct("Inflate")
            .field("taken", &self.taken)
            .field("given", &self.given)
            .finish_non_exhaustive()
    }
}

impl Inflate {
    pub(super) fn new() -> Self {
        Self {
            state: InflateState::new_boxed(DataFormat::Raw),
            piece: vec![0; PIECE],
            crc: Crc::new(),
            taken: 0,
            given: 0,
            ended: false,
        }
    }

    /// Takes bytes until the stream ends; appends what comes out and gives how many were taken.
    /// `packed` and `unpacked` are what went in and came out before this stream; `what` is the file in a
    /// message.
    pub(super) fn push(
        &mut self,
        bytes: &[u8],
        out: &mut Vec<u8>,
        limit: Limit,
        (packed, unpacked): (u64, u64),
        what: &str,
    ) -> Result<usize, Trouble> {
        let mut at = 0;
        while !self.ended {
            let rest = bytes.get(at..).unwrap_or_default();
            let step = inflate(&mut self.state, rest, &mut self.piece, MZFlush::None);
            at += step.bytes_consumed;
            self.taken += step.bytes_consumed as u64;
            self.given += step.bytes_written as u64;
            let piece = self.piece.get(..step.bytes_written).unwrap_or_default();
            self.crc.push(piece);
            out.extend_from_slice(piece);
            match step.status {
                Ok(MZStatus::StreamEnd) => self.ended = true,
                Ok(_) | Err(MZError::Buf) => {}
                Err(_) => return Err(Trouble::damaged(&format!("the packed text of {what} is broken"))),
            }
            // Looked at piece by piece, so that no more than a piece too much is ever held.
            limit.check(packed + self.taken, unpacked + self.given)?;
            if !self.ended && step.bytes_written == 0 && at == bytes.len() {
                break;
            }
        }
        Ok(at)
    }
}
