//! Bytes to columns, chunk by chunk. Has never heard of volts.
//!
//! [`Reader`] takes the bytes of one log in pieces of any size and gives a [`Log`]: columns of
//! numbers, the source line of every row, the header's text, and what could not be read. Where the
//! pieces end changes nothing. Reading never fails as a whole: what cannot be used at all is a
//! [`Log`] without rows that carries a [`Refusal`].
//!
//! How it works: the first bytes are kept until they tell the encoding, the separator, the decimal
//! mark and the header (`dialect`, `header`). From there on `fast` reads plain records of numbers
//! in place, by way of `ends`: up to 64 together where all are plain (`uniform`, by `alike` as long as
//! two columns keep to their way of writing, else by `pairs`), the others one by one; whatever is not one
//! goes through `record`, which knows quotes, words, comments and repeated headers. All give the same for
//! the same text.

mod alike;
mod cell;
mod datetime;
mod dialect;
mod digits;
mod edge;
mod ends;
mod fast;
mod fingerprint;
mod header;
mod lanes;
mod nothing;
mod number;
mod pairs;
mod problem;
mod reader;
mod record;
mod records;
mod refusal;
mod result;
mod resume;
mod settings;
mod split;
mod text;
mod uniform;
mod writing;

#[cfg(test)]
mod tests;

pub use fingerprint::Fingerprint;
pub use number::parse_number;
pub(crate) use problem::Problems;
pub use problem::{Example, Problem, ProblemCode, Runs};
pub use reader::{Reader, read};
pub use records::split_records;
pub use refusal::Refusal;
pub use result::{CellMark, Column, Comment, Form, HeaderLine, Log, MarkCause, Outcome, RecordText};
pub use resume::Checkpoint;
pub use settings::{HeaderRow, Settings, StatedEncoding};
pub use text::ToUtf8;
pub use writing::{Shape, Understood};
