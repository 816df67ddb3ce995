//! What a column of a log means.

use serde::{Deserialize, Serialize};

/// The meaning of one column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Time of the row.
    Time,
    /// Input sense node P against ground.
    VIn,
    /// Input current.
    IIn,
    /// Output sense node Q (high) against ground.
    VOutHigh,
    /// Output sense node N (low) against ground.
    VOutLow,
    /// Output voltage logged as one difference, or the only output node.
    VOut,
    /// Output current.
    IOut,
    /// Source terminal, high side, against ground.
    VSourceHigh,
    /// Source terminal, low side, against ground.
    VSourceLow,
    /// Load terminal, high side, against ground.
    VLoadHigh,
    /// Load terminal, low side, against ground.
    VLoadLow,
    /// A temperature.
    Temperature,
    /// A light level.
    Light,
    /// Input power as logged.
    PIn,
    /// Output power as logged.
    POut,
    /// Kept and shown, not used.
    Extra,
    /// Not used at all; a number here does not make a data row.
    Ignore,
}
