//! The named quantities of one log in SI units, column by column.

use super::Role;

/// One of the five electrical channels, in the fixed order used by every array of five.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Channel {
    /// Input sense node P against ground, V.
    VIn = 0,
    /// Output sense node Q against ground, V; or the output difference where only that is logged.
    VOutHigh = 1,
    /// Output sense node N against ground, V; absent where only the difference is logged.
    VOutLow = 2,
    /// Input current, A.
    IIn = 3,
    /// Output current, A.
    IOut = 4,
}

/// The five channels in array order.
pub const CHANNELS: [Channel; 5] =
    [Channel::VIn, Channel::VOutHigh, Channel::VOutLow, Channel::IIn, Channel::IOut];

impl Channel {
    /// Place in every array of five.
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }

    /// Name used in results and in the command's options.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::VIn => "v_in",
            Self::VOutHigh => "v_out_high",
            Self::VOutLow => "v_out_low",
            Self::IIn => "i_in",
            Self::IOut => "i_out",
        }
    }
}

/// Why a segment of a log starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SegmentStart {
    /// First row of the log.
    Start,
    /// Time went backwards: a restart.
    ClockBack,
    /// A repeated header.
    Header,
    /// Rows are missing.
    Gap,
}

/// A stretch of rows with one running clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// First row, inclusive, from 0.
    pub first: usize,
    /// Last row, inclusive.
    pub last: usize,
    /// Why it starts here.
    pub start: SegmentStart,
}

/// A further column that is kept beside the electrical channels.
#[derive(Clone, Debug, PartialEq)]
pub struct Extra {
    /// What it means.
    pub role: Role,
    /// Header text.
    pub name: String,
    /// Unit text as understood, SI where the role has one.
    pub unit: String,
    /// One value per row.
    pub values: Vec<f64>,
}

/// Why a row lacks a value, where the log says more than that it is not there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MarkKind {
    /// The record, or a needed cell of it, could not be read as a number.
    Unreadable,
    /// A needed cell holds a word or a number that means over-range.
    OverRange,
}

/// One row that carries a [`MarkKind`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Mark {
    /// Data row, from 0.
    pub row: u32,
    /// Why.
    pub kind: MarkKind,
}

/// One log's quantities in SI units.
///
/// **Shape** every column has [`Readings::rows`] values. **Missing data** `NaN`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// Seconds since the first readable row of each clock, unwrapped; ascending inside a segment,
    /// continued over segments so that it never falls. `NaN` where it could not be read.
    pub time: Vec<f64>,
    /// Columns by [`Channel::index`]; empty where the log has no such channel.
    pub columns: [Vec<f64>; 5],
    /// Further columns.
    pub extras: Vec<Extra>,
    /// Stretches with one running clock, ascending, covering all rows.
    pub segments: Vec<Segment>,
    /// Median time between rows inside segments, s; 0 with fewer than two rows.
    pub row_period: f64,
    /// Smallest non-zero difference seen per channel, in SI units: the resolution; 0 if none.
    pub resolution: [f64; 5],
    /// Rows that lack a needed value for a stated reason, ascending by row; a row without its value
    /// that is not listed was simply empty there.
    pub marks: Vec<Mark>,
    /// Source line of every row, from 1; empty where the readings do not come from a text.
    pub lines: Vec<u32>,
}

impl Readings {
    /// Number of data rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.time.len()
    }

    /// One channel's column; empty where absent.
    #[must_use]
    pub fn column(&self, channel: Channel) -> &[f64] {
        &self.columns[channel.index()]
    }

    /// Whether the log has this channel.
    #[must_use]
    pub fn has(&self, channel: Channel) -> bool {
        !self.columns[channel.index()].is_empty()
    }
}
