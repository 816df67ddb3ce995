//! Recognises a table of settled points.

use serde::Serialize;

use super::{Settings, SettledPoints};
use crate::align::{Noise, Steps};
use crate::channel::Readings;

/// Row period from which rows are settled points.
///
/// **Source** the project's own: an averaging meter that is read by hand is no faster.
const SLOW: f64 = 1.0;
/// Share of row-to-row changes beyond the step limit from which rows are settled points.
const RESTLESS: f64 = 0.2;
/// Rows up to which a regular sweep of settled points is told from a fast ramp by its few rows.
const FEW: usize = 200;

/// Why a log counts as a table of settled points, or not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Settled {
    /// Rows follow each other as a log of something moving does.
    #[default]
    No,
    /// Said by the user.
    Said,
    /// The row period is 1 s or more.
    Slow,
    /// No time is logged, and it is a table: its rows are only counted.
    Untimed,
    /// More than a fifth of the row-to-row changes are steps.
    Restless,
    /// Its rows are averages of the stretches at rest of a stepped run.
    Plateaus,
    /// Its rows are averages over whole periods of a pulsed output.
    Periods,
    /// The user said that it is not.
    Denied,
}

impl Settled {
    /// Whether gates that look along time and the sieve are off.
    #[must_use]
    pub fn recognised(self) -> bool {
        matches!(
            self,
            Self::Said | Self::Slow | Self::Untimed | Self::Restless | Self::Plateaus | Self::Periods
        )
    }
}

/// Whether a log is a table of settled points.
#[must_use]
pub fn settled(readings: &Readings, noise: &Noise, steps: &Steps, settings: &Settings) -> Settled {
    match settings.settled_points {
        SettledPoints::Yes => return Settled::Said,
        SettledPoints::No => return Settled::Denied,
        SettledPoints::Auto => {}
    }
    // A log that needs its time was asked for it.
    if readings.row_period <= 0.0 {
        return Settled::Untimed;
    }
    if readings.row_period >= SLOW {
        return Settled::Slow;
    }
    let few = readings.rows() < FEW;
    // The smallest change of a table is no resolution.
    let seen = Noise::given(noise.sigma, [0.0; 5]);
    let restless =
        if few { Steps::find_changes(readings, &seen, settings.step_limit).share() } else { steps.share() };
    if restless > RESTLESS { Settled::Restless } else { Settled::No }
}
