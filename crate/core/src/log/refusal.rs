//! Why a log cannot be used at all.

use serde::Serialize;

/// Why nothing could be read, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// Short code: `empty`, `picture`, `not_text`, `archive`, `saved_file`, `header_only`,
    /// `no_numbers`, `too_many_columns`, `memory`.
    pub code: &'static str,
    /// A sentence without the file's name: what it is, what was expected, what to do.
    pub message: String,
}

impl Refusal {
    /// Whether another separator, decimal mark, encoding or header row may make it readable.
    #[must_use]
    pub fn correctable(&self) -> bool {
        matches!(self.code, "no_numbers" | "header_only" | "too_many_columns")
    }

    pub(super) fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }
}

/// First bytes of files that are not logs, and what to call them.
///
/// **Source** the file formats' own specifications (PNG, JPEG, GIF, PDF, ZIP, GZIP); from memory.
const SIGNATURES: [(&[u8], &str, &str); 11] = [
    (b"\x89PNG\r\n\x1a\n", "picture", "a PNG picture"),
    (b"\xff\xd8\xff", "picture", "a JPEG picture"),
    (b"GIF8", "picture", "a GIF picture"),
    (b"BM", "picture", "a BMP picture"),
    (b"RIFF", "picture", "a media file"),
    (b"%PDF-", "not_text", "a PDF document"),
    (b"\x1f\x8b", "archive", "a gzip archive"),
    (b"PK\x03\x04", "archive", "a zip archive or a spreadsheet workbook"),
    (b"\xd0\xcf\x11\xe0", "not_text", "an old spreadsheet workbook"),
    (b"SQLite format 3", "not_text", "a database"),
    (b"\x7fELF", "not_text", "a program"),
];

/// What this program writes besides logs, by its `schema`, and what to do with it.
const SAVED: [(&str, &str); 3] = [
    ("wattsieve-results/", "results; they are written, never read: open the logs that they came from"),
    (
        "wattsieve-bench/",
        "a saved bench; open it on the page, or give its settings with --settings and its logs beside it",
    ),
    (
        "wattsieve-calibration/",
        "a calibration; open it on the page beside the logs, or give it with --calibration",
    ),
];

/// Recognises files of this program that hold no log, and pages.
fn saved(head: &[u8]) -> Option<Refusal> {
    let text = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head).trim_ascii_start();
    let begins = |what: &[u8]| text.get(..what.len()).is_some_and(|start| start.eq_ignore_ascii_case(what));
    if begins(b"<!doctype html") || begins(b"<html") {
        return Some(Refusal::new(
            "saved_file",
            "this is a web page; if it is a shared bench open it in a browser or drop it on the page, else choose the log itself",
        ));
    }
    if !begins(b"{") {
        return None;
    }
    let near = text.get(..text.len().min(4096)).unwrap_or_default();
    let holds = |what: &str| near.windows(what.len()).any(|window| window == what.as_bytes());
    let known = SAVED.iter().find(|(schema, _)| holds(&format!("\"{schema}"))).map(|(_, what)| *what);
    let settings = (holds("\"sieve\"") || holds("\"inputs\"")) && holds("\"version\"");
    let what =
        known.or(settings.then_some("settings; open them on the page, or give them with --settings"))?;
    Some(Refusal::new("saved_file", format!("this is no log but {what}")))
}

/// Recognises what is certainly no log.
pub(super) fn not_a_log(head: &[u8]) -> Option<Refusal> {
    if let Some(refusal) = saved(head) {
        return Some(refusal);
    }
    for (start, code, what) in SIGNATURES {
        // Two letters alone may open a text; then a control character must follow soon.
        let binary = start.len() > 2 || start == b"\x1f\x8b" || head.iter().take(64).any(|&byte| byte < 9);
        if head.starts_with(start) && binary {
            let advice = if code == "archive" {
                "unpack it, or export the sheet as delimited text, and open that"
            } else {
                "choose the log itself: lines of text with numbers in columns"
            };
            return Some(Refusal::new(code, format!("this is {what}, not a log; {advice}")));
        }
    }
    // A serial line leaves some zeros; other control characters hardly occur in text.
    let control = head.iter().filter(|&&byte| (1..9).contains(&byte) || (14..27).contains(&byte)).count();
    let zeros = head.iter().filter(|&&byte| byte == 0).count();
    if head.len() >= 16 && (control * 16 > head.len() || zeros * 3 > head.len()) {
        return Some(Refusal::new(
            "not_text",
            "this is binary data, not a log; choose lines of text with numbers in columns",
        ));
    }
    None
}
