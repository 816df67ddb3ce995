//! What the gates look at.

use crate::align::{Aligned, Delays, Noise};

/// Everything that the gates look at.
#[derive(Clone, Copy, Debug)]
pub struct Input<'a> {
    /// The readings at one instant.
    pub aligned: &'a Aligned<'a>,
    /// Noise of the readings.
    pub noise: &'a Noise,
    /// The delays in use.
    pub delays: &'a Delays,
    /// Whether the log is a table of settled points: gates that look along time are then off.
    pub settled: bool,
}
