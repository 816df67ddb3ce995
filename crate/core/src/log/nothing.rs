//! A text in which no record was found, and the log of none that it gives.

use super::problem::excerpt;
use super::refusal::Refusal;
use super::result::{Log, Outcome};
use super::settings::Settings;
use super::text::{encoding_of, transcoder};
use super::writing::{Line, Understood, lines as cut_lines};

/// Why a text without a single record is refused.
pub(super) fn no_records(head: &[u8], settings: &Settings) -> Refusal {
    let (encoding, mark, _) = encoding_of(head, settings.encoding);
    let mut decoded = Vec::new();
    let text = match transcoder(encoding, settings) {
        Some(mut to_utf8) => {
            to_utf8.push(head.get(mark..).unwrap_or_default(), &mut decoded);
            &decoded
        }
        None => head.get(mark..).unwrap_or_default(),
    };
    let mut lines = cut_lines(text, true);
    lines.drain(..lines.len().min(settings.skip_lines as usize));
    let comment = |line: &[u8]| matches!(line.trim_ascii(), [b'#' | b'%', ..] | [b'/', b'/', ..]);
    let filled: Vec<&Line<'_>> =
        lines.iter().filter(|line| !line.text.trim_ascii().is_empty() && !comment(line.text)).collect();
    match filled.as_slice() {
        [] if head.is_empty() => Refusal::new("empty", "the file is empty; check that the logger wrote it"),
        [] => Refusal::new(
            "empty",
            "the file holds no lines of text but blanks and comments; check that the logger wrote it",
        ),
        [line] if line.text.iter().any(|byte| b",;\t|".contains(byte)) || line.text.contains(&b' ') => {
            Refusal::new(
                "header_only",
                format!("line {} is a header, and no records follow; check that the logger ran", line.number),
            )
        }
        lines => {
            // The line after the names, where there is one.
            let line = lines.get(1).or(lines.first()).copied();
            let (number, text) = line
                .map_or((1, ""), |line| (line.number, core::str::from_utf8(line.text).unwrap_or_default()));
            let first = text.split([',', ';', '\t', '|']).next().unwrap_or_default().trim();
            Refusal::new(
                "no_numbers",
                format!(
                    "no line holds a number in a column: line {number}, column 1 says `{}` where a number was expected; if the numbers are written unusually, set the separator and the decimal mark",
                    excerpt(first)
                ),
            )
        }
    }
}

pub(super) fn refused(refusal: Refusal, bytes: u64) -> Log {
    Log {
        columns: Vec::new(),
        lines: Vec::new(),
        header_lines: Vec::new(),
        comments: Vec::new(),
        comment_count: 0,
        preamble_lines: 0,
        repeated_headers: Vec::new(),
        understood: Understood::default(),
        problems: Vec::new(),
        marks: Vec::new(),
        first_records: Vec::new(),
        worst_records: Vec::new(),
        outcome: Outcome::Refused(refusal),
        bytes,
    }
}
