//! Settled points of a stepped run: stretches at rest are found, what settles is dropped, the rest averaged.
//!
//! This stage sees readings only. [`find`] gives the stretches, [`averaged`] one row of readings for each.

mod average;
mod find;
mod settle;

use serde::{Deserialize, Serialize};

pub use average::{averaged, pooled_noise};
pub use find::find;

/// Whether a run is used as its settled points.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Use {
    /// Where the run is clearly stepped.
    #[default]
    Auto,
    /// Always, where there are any.
    On,
    /// Never.
    Off,
}

/// What the user decides about settled points of stepped runs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Whether stepped runs are used as their settled points; default `auto`. Written `use` in the saved file.
    #[serde(rename = "use")]
    pub use_them: Use,
    /// Time dropped after each change, s; default: told from the rows. Sensible 0 to half the time at rest.
    pub settle: Option<f64>,
    /// Shortest time at rest that makes a point, s; default: ten rows.
    pub least: Option<f64>,
}

/// One stretch at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plateau {
    /// First row at the new setting, before what settles is dropped.
    pub start: usize,
    /// First row that is averaged.
    pub first: usize,
    /// Last row that is averaged.
    pub last: usize,
    /// Rows averaged.
    pub rows: usize,
    /// Rows left out between first and last: missing values and readings that stand out.
    pub left_out: usize,
    /// Mean of each channel, SI units; `NaN` where absent.
    pub mean: [f64; 5],
    /// Standard deviation of one row's reading about the mean.
    pub scatter: [f64; 5],
    /// Standard uncertainty of the mean from scatter, rows that hang together in time included.
    pub u: [f64; 5],
    /// Rows that count as independent.
    pub effective: f64,
}

/// Why a run with stretches at rest is not used as its settled points without being told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNot {
    /// Fewer than eight stretches at rest.
    Few,
    /// Too much of the time is not at rest.
    Moving,
    /// The run goes to and fro between few states.
    TwoStates,
}

/// The stretches at rest of one run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plateaus {
    /// In order of time.
    pub list: Vec<Plateau>,
    /// Time dropped after each change, s.
    pub settle: f64,
    /// Median time at a setting, s.
    pub dwell: f64,
    /// Share of the rows that belong to settings at rest, what settles included.
    pub covered: f64,
    /// Why it is not used by itself; `None` where it is stepped.
    pub why_not: Option<WhyNot>,
}

impl Plateaus {
    /// Whether the run is to be used as its settled points.
    #[must_use]
    pub fn used(&self, wanted: Use) -> bool {
        match wanted {
            Use::Auto => self.why_not.is_none() && !self.list.is_empty(),
            Use::On => !self.list.is_empty(),
            Use::Off => false,
        }
    }
}
