//! What may be said about the channels of a log.

use serde::{Deserialize, Serialize};

use super::Role;
use super::counts::RoleCounts;

/// A column, by number from 1 or by its header text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged)]
pub enum ColumnRef {
    /// By number, from 1.
    Number(u32),
    /// By header text, whole, or without its unit; case does not count.
    Header(String),
}

/// A role given to a column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ColumnRole {
    /// The column.
    pub column: ColumnRef,
    /// Its role.
    pub role: Role,
}

/// A unit given to a role's column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RoleUnit {
    /// The role.
    pub role: Role,
    /// Unit as in the table of spellings, `mV` say.
    pub unit: String,
}

/// A factor given to a role's column.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RoleScale {
    /// The role.
    pub role: Role,
    /// SI value of one as logged; replaces the unit.
    pub scale: f64,
}

/// One range of a channel: `corrected = (reading - offset) / gain` in its rows.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ChannelRange {
    /// What the range's column says, `LO` or `1`; `fine` or `coarse` where there is no column.
    pub name: String,
    /// Gain of the reading, 1 for a true one; above 0. Default 1.
    pub gain: f64,
    /// Offset of the reading, V or A. Default 0.
    pub offset: f64,
}

impl Default for ChannelRange {
    fn default() -> Self {
        Self { name: String::new(), gain: 1.0, offset: 0.0 }
    }
}

/// A channel that switches its range.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RoleRanges {
    /// The channel's role.
    pub role: Role,
    /// The column that names the range; default: told from the size of the steps.
    #[serde(default)]
    pub column: Option<ColumnRef>,
    /// The ranges; one that is not listed has gain 1 and offset 0.
    #[serde(default)]
    pub ranges: Vec<ChannelRange>,
}

/// Settings of the channels of one log. All default to "find out".
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Roles of columns. A column not listed keeps its guess, unless its role is given away here.
    pub columns: Vec<ColumnRole>,
    /// Units of roles.
    pub units: Vec<RoleUnit>,
    /// Factors of roles.
    pub scales: Vec<RoleScale>,
    /// What one count of a role's converter is.
    pub counts: Vec<RoleCounts>,
    /// Channels that switch their range.
    pub ranges: Vec<RoleRanges>,
    /// Roles whose sign is turned.
    pub reverse: Vec<Role>,
    /// Seconds from row to row, for a log without a usable time; above 0. Default: asked for.
    pub row_period: Option<f64>,
}
