//! Pulse-width-dimmed and bursting outputs: where the product of averaged readings is no power.
//!
//! A row that averages voltage and current over pulses apart tells `mean v * mean i`, not `mean (v i)`. This stage sees
//! readings only. [`find`] tells such outputs; [`periods`] and [`by_power`] make readings whose products are powers.

mod find;
mod table;

use serde::{Deserialize, Serialize};

pub use find::find;
pub use table::{Powers, by_power, periods};

use crate::quantity::Quantity;

/// What the output is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Output {
    /// Told from the rows.
    #[default]
    Auto,
    /// A direct current, whatever the rows look like.
    Steady,
    /// Pulse-width dimmed or bursting.
    Pulsed,
}

/// What the user decides about pulsed outputs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// What the output is; default `auto`.
    pub output: Output,
    /// Its period, s; default: told from the rows.
    pub period: Option<f64>,
    /// Output current while it is on, A: where power is logged, what the fixture's output path loses follows from it.
    /// Default: not known.
    pub on_current: Option<f64>,
}

/// How a pulsed output was told.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// It is none.
    #[default]
    None,
    /// Rows follow the output current on and off, twenty or more to a period.
    Resolved,
    /// Rows catch the output current on or off by chance.
    Unresolved,
    /// Rows average over pulses: output voltage and current waver together.
    Averaged,
    /// The power that is logged is not the product of voltage and current.
    PowerLogged,
    /// Said by the user.
    Stated,
}

/// What the answers are made from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Used {
    /// Single rows.
    #[default]
    Rows,
    /// Averages of products over whole periods.
    Periods,
    /// The power that is logged.
    Power,
    /// Nothing: products of the rows are no powers.
    Refused,
}

/// What is known of a pulsed output.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Pulsed {
    /// Whether it is one.
    pub recognised: bool,
    /// How it was told.
    pub how: How,
    /// What the answers are made from.
    pub used: Used,
    /// Period, s.
    pub period: Quantity,
    /// Share of the time that the output is on.
    pub duty: Quantity,
    /// Rows to a period.
    pub rows_per_period: Option<f64>,
    /// Output power as the product of averages over the whole run, W: what must not be used.
    pub product_of_averages: Quantity,
    /// Output power as the mean of products or as logged, over the whole run, W, between the sense nodes.
    pub power: Quantity,
    /// One sentence with the figures.
    pub evidence: String,
    /// Why nothing is answered; `null` where something is.
    pub refused: Option<String>,
    /// What is not known of the loss in the fixture's output path; `null` where nothing is missing.
    pub path_loss: Option<&'static str>,
    /// What the log still tells.
    pub survives: Vec<&'static str>,
    /// What to log instead.
    pub log_instead: Vec<&'static str>,
}
