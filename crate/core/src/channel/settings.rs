//! What may be said about the channels of a log.

use serde::{Deserialize, Serialize};

use super::Role;

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
    /// Roles whose sign is turned.
    pub reverse: Vec<Role>,
    /// Seconds from row to row, for a log without a usable time; above 0. Default: asked for.
    pub row_period: Option<f64>,
}
