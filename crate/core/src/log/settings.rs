//! What may be said about a log before it is read.

use serde::{Deserialize, Serialize};

use super::writing::Shape;

/// Where the names of the columns are.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum HeaderRow {
    /// Found from the text.
    #[default]
    Auto,
    /// There is none: columns are numbered and the first record with a number is data.
    None,
    /// On this line of the file, from 1.
    Line(u32),
}

/// How letters are written as bytes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum StatedEncoding {
    /// UTF-8, with or without a byte order mark.
    #[serde(rename = "utf-8")]
    Utf8,
    /// UTF-16, low byte first.
    #[serde(rename = "utf-16le")]
    Utf16Le,
    /// UTF-16, high byte first.
    #[serde(rename = "utf-16be")]
    Utf16Be,
    /// Windows-1252, one byte per letter.
    #[serde(rename = "windows-1252")]
    Windows1252,
}

/// Settings of reading. All default to "find out".
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Separator: one of `,` `;` tab `|`, or a space for runs of white space. Default: found.
    pub separator: Option<char>,
    /// Decimal mark: `.` or `,`. Default: found.
    pub decimal_mark: Option<char>,
    /// How letters are written. Default: found.
    pub encoding: Option<StatedEncoding>,
    /// How a record is written. Default: found.
    pub shape: Option<Shape>,
    /// Where the header is. Default: found.
    pub header_row: HeaderRow,
    /// Lines at the beginning that are passed over, whatever they hold. Default 0.
    pub skip_lines: u32,
    /// Columns that are not read, by number from 1: a number in one does not make a data row.
    /// Numbers beyond the last column are without effect. Default: none.
    pub ignored_columns: Vec<u32>,
    /// Columns of words that are kept as words, by number from 1: one that names the range of a
    /// channel, say. A column whose name says range is kept unasked. Default: none.
    pub word_columns: Vec<u32>,
}
