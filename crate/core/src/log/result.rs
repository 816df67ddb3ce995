//! What reading a log gives.

use serde::Serialize;

use super::problem::Problem;
use super::refusal::Refusal;
use super::writing::Understood;

/// What the cells of a column hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// Numbers.
    Number,
    /// Dates with times, or times of day; given in seconds from [`Column::epoch_secs`].
    DateTime,
    /// Words that are kept; its values are places in [`Column::words`].
    Words,
    /// Text, or ignored: its values are empty.
    Text,
}

/// One column of a log.
///
/// **Missing data** `NaN` for a cell that is empty, over-range or unreadable; [`Log::marks`] tells
/// the last two apart from the first.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Header text; `column 3` where there is no header.
    pub header: String,
    /// Text of the row under the header, where there is one: usually units.
    pub under_header: String,
    /// Unit text that stands in the cells themselves, where it does.
    pub cell_unit: String,
    /// What its cells hold.
    pub form: Form,
    /// For [`Form::DateTime`], the midnight (seconds since 1970-01-01, UTC or local as written) that
    /// its values count from; else 0.
    pub epoch_secs: f64,
    /// For [`Form::Words`], the words in order of first appearance; else empty.
    pub words: Vec<String>,
    /// One value per data row; empty for [`Form::Text`].
    pub values: Vec<f64>,
}

/// Why a cell has no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum MarkCause {
    /// Not a number.
    Unreadable,
    /// Over-range.
    OverRange,
}

/// A cell, or a whole row, without a value for a stated reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct CellMark {
    /// Data row, from 0.
    pub row: u32,
    /// Column, from 0; `None` for the whole row.
    pub column: Option<u32>,
    /// Why.
    pub cause: MarkCause,
}

/// A line of the header.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeaderLine {
    /// Line of the file, from 1.
    pub line: u32,
    /// Its text.
    pub text: String,
}

/// A record as it stands, for a preview.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RecordText {
    /// Line of the file, from 1.
    pub line: u32,
    /// Data row, from 0.
    pub row: u32,
    /// Its fields, shortened.
    pub fields: Vec<String>,
}

/// A comment line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Comment {
    /// Line of the file, from 1.
    pub line: u32,
    /// Its text without the comment sign.
    pub text: String,
}

/// How reading went.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Everything was read.
    Read,
    /// Something was lost; see [`Log::problems`].
    ReadWithWarning,
    /// Nothing could be read.
    Refused(Refusal),
}

/// One log as columns.
///
/// **Shape** every column that is not text has as many values as [`Log::lines`].
#[derive(Clone, Debug, PartialEq)]
pub struct Log {
    /// The columns in file order.
    pub columns: Vec<Column>,
    /// Source line of every data row, from 1; of a quoted record its first.
    pub lines: Vec<u32>,
    /// Lines of the header, ascending; empty where there is none.
    pub header_lines: Vec<HeaderLine>,
    /// The first comments.
    pub comments: Vec<Comment>,
    /// Number of all comment lines.
    pub comment_count: u64,
    /// Lines before the header that are neither comments nor blank.
    pub preamble_lines: u32,
    /// Data rows before which the header was repeated, ascending.
    pub repeated_headers: Vec<u32>,
    /// Encoding, separator, decimal mark, with their evidence.
    pub understood: Understood,
    /// What was not read, by kind.
    pub problems: Vec<Problem>,
    /// Cells without a value for a stated reason, ascending.
    pub marks: Vec<CellMark>,
    /// The first records in which nothing was lost.
    pub first_records: Vec<RecordText>,
    /// The first records in which something was lost.
    pub worst_records: Vec<RecordText>,
    /// How it went.
    pub outcome: Outcome,
    /// Bytes taken.
    pub bytes: u64,
}

impl Log {
    /// Number of data rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.lines.len()
    }

    /// Why nothing could be read.
    #[must_use]
    pub fn refusal(&self) -> Option<&Refusal> {
        match &self.outcome {
            Outcome::Refused(refusal) => Some(refusal),
            _ => None,
        }
    }
}
