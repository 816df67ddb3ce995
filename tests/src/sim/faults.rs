//! What goes wrong in a log.

use serde::Serialize;

/// Faults of one log.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Faults {
    /// Rows in which one reading jumps.
    pub spikes: usize,
    /// Lines that cannot be read.
    pub unreadable: usize,
    /// Rows before which the logger restarts: a line breaks off, the header comes again, the clock
    /// starts from zero, and the first row holds currents that have not settled.
    pub restarts: Vec<usize>,
}

/// Why a row is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// A step happened between the sampling of its channels.
    Straddled,
    /// One reading jumped.
    Spike,
    /// The line cannot be read.
    Unreadable,
    /// First row after a restart.
    Restart,
}
