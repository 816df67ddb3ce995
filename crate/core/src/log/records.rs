//! A whole text to records of text fields.

use super::edge::Edge;
use super::split::{Fields, Separator};
use super::text::decode;

/// Cuts a text into records and fields as [`super::Reader`] does, without taking any meaning from
/// them: for small tables and for tests.
///
/// `separator` is a byte; a space stands for runs of spaces and tabs. Comment lines and empty lines
/// give no record. A byte order mark is no data. White space belongs to its field.
///
/// **Source** RFC 4180, section 2, for quotes and line ends.
#[must_use]
pub fn split_records(text: &[u8], separator: u8) -> Vec<Vec<String>> {
    let separator = Separator { byte: separator };
    let text = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(text);
    let mut out = Vec::new();
    let mut fields = Fields::default();
    let mut rest = text;
    while !rest.is_empty() {
        let end = Edge::default().find(rest, separator, true).unwrap_or(rest.len());
        let record = rest.get(..end).unwrap_or_default();
        if !record.is_empty() && !separator.comments(record) {
            fields.split(record, separator, true);
            out.push((0..fields.len()).map(|place| decode(fields.raw(record, place)).into_owned()).collect());
        }
        let width = if rest.get(end..).is_some_and(|tail| tail.starts_with(b"\r\n")) { 2 } else { 1 };
        rest = rest.get(end + width..).unwrap_or_default();
    }
    out
}
