//! What the user decides about delays.

use serde::{Deserialize, Serialize};

/// Where the delays come from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mode {
    /// From a straight-through run if there is one, else from the up/down gap of the run itself.
    #[default]
    Auto,
    /// No delays: readings stay as logged.
    None,
    /// As stated in [`Settings::seconds`].
    Stated,
}

/// Settings of the alignment.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Where the delays come from; default `auto`.
    pub mode: Mode,
    /// Stated time of each channel's sample after the row's time, s, in channel order; `null` is 0.
    /// Used in mode `stated` only. Sensible: below one row period; beyond it rows at the ends of a
    /// segment are lost.
    pub seconds: [Option<f64>; 5],
    /// Standard uncertainty of each stated delay, s; `null` means exactly known.
    pub seconds_u: [Option<f64>; 5],
}
