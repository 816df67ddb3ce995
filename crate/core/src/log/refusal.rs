//! Why a log cannot be used at all.

use serde::Serialize;

/// Why nothing could be read, and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Refusal {
    /// Short code: `empty`, `picture`, `not_text`, `archive`, `header_only`, `no_numbers`,
    /// `too_many_columns`, `memory`.
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

/// Recognises what is certainly not text.
pub(super) fn not_a_log(head: &[u8]) -> Option<Refusal> {
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
    if head.len() >= 16 && (control * 10 > head.len() || zeros * 3 > head.len()) {
        return Some(Refusal::new(
            "not_text",
            "this is binary data, not a log; choose lines of text with numbers in columns",
        ));
    }
    None
}
