//! What may be said about a log before it is read.

use serde::{Deserialize, Serialize};

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

/// Settings of reading. All default to "find out".
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Separator: one of `,` `;` tab `|`, or a space for runs of white space. Default: found.
    pub separator: Option<char>,
    /// Decimal mark: `.` or `,`. Default: found.
    pub decimal_mark: Option<char>,
    /// Where the header is. Default: found.
    pub header_row: HeaderRow,
    /// Columns that are not read, by number from 1: a number in one does not make a data row.
    /// Numbers beyond the last column are without effect. Default: none.
    pub ignored_columns: Vec<u32>,
}
