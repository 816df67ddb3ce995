//! What could not be read: grouped by kind, counted, the first few kept in full.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

/// How many examples of each kind are kept in full.
const EXAMPLES: usize = 5;

/// Row numbers as inclusive runs, ascending.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(transparent)]
pub struct Runs(Vec<[u32; 2]>);

impl Runs {
    /// Adds a row that is not below the last one added.
    pub fn push(&mut self, row: u32) {
        match self.0.last_mut() {
            Some([_, last]) if *last == row => {}
            Some([_, last]) if last.checked_add(1) == Some(row) => *last = row,
            _ => self.0.push([row, row]),
        }
    }

    /// The runs, `[first, last]` each.
    #[must_use]
    pub fn as_slice(&self) -> &[[u32; 2]] {
        &self.0
    }

    /// Number of rows in all runs.
    #[must_use]
    pub fn count(&self) -> u64 {
        self.0.iter().map(|[first, last]| u64::from(last - first) + 1).sum()
    }
}

/// Kinds of problem.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum ProblemCode {
    /// A cell is not a number.
    UnreadableCell,
    /// A record has too few or too many fields.
    FieldCount,
    /// The last record stops before its end.
    CutLastLine,
    /// A cell says over-range.
    OverRange,
    /// A cell is empty or says that there is no value.
    EmptyCell,
    /// A quoted field is never closed.
    OpenQuote,
    /// A line of text between the records.
    Chatter,
    /// The header is repeated.
    RepeatedHeader,
    /// Zero bytes were taken out.
    ZeroBytes,
    /// The time of a row could not be read.
    UnreadableTime,
    /// The time column has too few digits to tell the rows apart.
    DamagedTime,
    /// A column's unit was not understood.
    UnknownUnit,
    /// A calibrated range has rows missing.
    Gap,
    /// A column is negative throughout.
    Backwards,
    /// Input and output look exchanged.
    Exchanged,
    /// Readings are rounded coarsely.
    CoarseReadings,
    /// Two ranges of a channel disagree where it switches from one to the other.
    RangeSeam,
    /// The log holds a single row.
    OneRow,
    /// Bytes that are no letter of the stated encoding.
    BadLetter,
}

impl ProblemCode {
    /// Short code used in results.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::UnreadableCell => "unreadable_cell",
            Self::FieldCount => "field_count",
            Self::CutLastLine => "cut_last_line",
            Self::OverRange => "over_range",
            Self::EmptyCell => "empty_cell",
            Self::OpenQuote => "open_quote",
            Self::Chatter => "chatter",
            Self::RepeatedHeader => "repeated_header",
            Self::ZeroBytes => "zero_bytes",
            Self::UnreadableTime => "unreadable_time",
            Self::DamagedTime => "damaged_time",
            Self::UnknownUnit => "unknown_unit",
            Self::Gap => "gap",
            Self::Backwards => "backwards",
            Self::Exchanged => "exchanged",
            Self::CoarseReadings => "coarse_readings",
            Self::RangeSeam => "range_seam",
            Self::OneRow => "one_row",
            Self::BadLetter => "bad_letter",
        }
    }

    /// Whether a reading is lost or in doubt by it.
    #[must_use]
    pub const fn loses_data(self) -> bool {
        !matches!(
            self,
            Self::EmptyCell
                | Self::Chatter
                | Self::RepeatedHeader
                | Self::ZeroBytes
                | Self::Gap
                | Self::BadLetter
        )
    }
}

/// One place where something was found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Example {
    /// Line of the file, from 1; `None` where it concerns no line.
    pub line: Option<u32>,
    /// Column number, from 1; `None` where it concerns the whole line.
    pub column: Option<u32>,
    /// The column's header text.
    pub header: Option<String>,
    /// What stands there, shortened.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do.
    pub hint: String,
}

impl core::fmt::Display for Example {
    /// Line, column, header, found, expected; the hint on a line of its own.
    fn fmt(&self, out: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let mut lead = "";
        if let Some(line) = self.line {
            write!(out, "line {line}")?;
            lead = ", ";
        }
        if let Some(column) = self.column {
            write!(out, "{lead}column {column}")?;
            lead = " ";
            if let Some(header) = self.header.as_deref().filter(|header| !header.is_empty()) {
                write!(out, " `{header}`")?;
            }
        }
        if !lead.is_empty() {
            write!(out, ": ")?;
        }
        write!(out, "found `{}`, expected {}", self.found, self.expected)?;
        if !self.hint.is_empty() {
            write!(out, "\n  hint: {}", self.hint)?;
        }
        Ok(())
    }
}

/// All occurrences of one kind of problem.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// The kind.
    pub code: ProblemCode,
    /// How often.
    pub count: u64,
    /// Data rows concerned, or, for what is not a data row (chatter, a repeated header), the data
    /// row that follows it.
    pub rows: Runs,
    /// The first few in full.
    pub examples: Vec<Example>,
}

impl Serialize for Problem {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut out = serializer.serialize_struct("Problem", 4)?;
        out.serialize_field("code", self.code.code())?;
        out.serialize_field("count", &self.count)?;
        out.serialize_field("rows", &self.rows)?;
        out.serialize_field("examples", &self.examples)?;
        out.end()
    }
}

/// Collects problems, ordered by kind.
#[derive(Clone, Debug, Default)]
pub(crate) struct Problems {
    list: Vec<Problem>,
}

impl Problems {
    /// Counts one; the example is made only while examples are still kept.
    pub(crate) fn add(&mut self, code: ProblemCode, row: Option<u32>, example: impl FnOnce() -> Example) {
        let place = match self.list.binary_search_by_key(&code, |problem| problem.code) {
            Ok(place) => place,
            Err(place) => {
                self.list
                    .insert(place, Problem { code, count: 0, rows: Runs::default(), examples: Vec::new() });
                place
            }
        };
        if let Some(problem) = self.list.get_mut(place) {
            problem.count += 1;
            if let Some(row) = row {
                problem.rows.push(row);
            }
            if problem.examples.len() < EXAMPLES {
                problem.examples.push(example());
            }
        }
    }

    pub(crate) fn into_list(self) -> Vec<Problem> {
        self.list
    }
}

/// A text shortened for a message, control characters made visible.
pub(crate) fn excerpt(text: &str) -> String {
    const LONGEST: usize = 60;
    let mut out = String::new();
    for (count, letter) in text.chars().enumerate() {
        if count == LONGEST {
            out.push('…');
            break;
        }
        out.push(if letter.is_control() { '\u{b7}' } else { letter });
    }
    out
}
