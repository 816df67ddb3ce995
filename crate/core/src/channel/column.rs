//! What one column is taken for.

use serde::Serialize;

use super::Role;

/// What one column is taken for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ColumnGuess {
    /// Column number, from 1.
    pub number: u32,
    /// Header text.
    pub header: String,
    /// Its role.
    pub role: Role,
    /// Unit as understood; empty where there is none.
    pub unit: String,
    /// SI value of one as logged (degrees Celsius for temperature, seconds for time).
    pub scale: f64,
    /// Added after scaling; 0 but for temperatures, and counts whose zero is elsewhere.
    pub offset: f64,
    /// Why.
    #[serde(skip)]
    pub reason: String,
    /// Whether the unit was said; where not, it was inferred from the size of the readings.
    pub unit_said: bool,
    /// SI value of one count of the converter behind it, where that is stated.
    #[serde(skip)]
    pub step: Option<f64>,
}

/// A role's name in results and options.
#[must_use]
pub const fn role_name(role: Role) -> &'static str {
    match role {
        Role::Time => "time",
        Role::VIn => "v_in",
        Role::IIn => "i_in",
        Role::VOutHigh => "v_out_high",
        Role::VOutLow => "v_out_low",
        Role::VOut => "v_out",
        Role::IOut => "i_out",
        Role::VSourceHigh => "v_source_high",
        Role::VSourceLow => "v_source_low",
        Role::VLoadHigh => "v_load_high",
        Role::VLoadLow => "v_load_low",
        Role::Temperature => "temperature",
        Role::Light => "light",
        Role::PIn => "p_in",
        Role::POut => "p_out",
        Role::Extra => "extra",
        Role::Ignore => "ignore",
    }
}
