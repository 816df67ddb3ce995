//! Everything a user can set, as plain data: the saved file, the undo step, the command's input.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Kind;
use crate::{align, channel, compare, fixture, log, map, plateau, pulse, sieve};

/// Number of the settings' format. It rises when a meaning changes.
pub const SETTINGS_VERSION: u32 = 1;

/// Settings of one input, in the order of the inputs.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct InputSettings {
    /// What was recorded; default: told by content.
    pub kind: Option<Kind>,
    /// Name of the run it belongs to; default: the file's name without its ending.
    pub run: Option<String>,
    /// Whether it continues the run of the input before it. Default false.
    pub continues: bool,
    /// Whether it holds further channels of the run of the input before it, from another logger that
    /// ran at the same time. Default false.
    pub beside: bool,
    /// The clock of such a logger, where it is stated; default: found from what moves in both logs.
    pub clock: Option<align::clocks::Stated>,
    /// Cold value of the calibration resistor, ohm; for straight-through runs. Default: not stated.
    pub resistor: Option<fixture::Stated>,
    /// The output sense leads sit on the calibration resistor itself: its value then gives the scale of
    /// the current channels. Default false.
    pub four_wire: bool,
    /// Keep this calibration run out of the fit and judge the fit by it. Default false.
    pub hold_back: bool,
    /// The way of the current from source plus to source minus, where a lead had to be moved; default:
    /// that of the kind.
    pub path: Option<Vec<fixture::Step>>,
    /// How the text is read.
    pub read: log::Settings,
    /// Which column is what.
    pub columns: channel::Settings,
}

/// What to do with calibration runs beside a calibration made earlier.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CalibrationUse {
    /// The runs are fitted and replace it; it is used where there are none.
    #[default]
    WithoutRuns,
    /// It is used, and the runs tell whether it still holds.
    CheckedByRuns,
}

/// What is decided for one run alone.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RunSettings {
    /// Inclusive runs of rows that stay whatever a gate says.
    pub keep: Vec<[usize; 2]>,
    /// Inclusive runs of rows that are out.
    pub remove: Vec<[usize; 2]>,
    /// Whether this run is used as its settled points; default: as for all runs.
    pub plateaus: Option<plateau::Use>,
    /// What the output of this run is; default: as for all runs.
    pub pulsed: Option<pulse::Output>,
    /// Output current of this run while it is on, A; default: as for all runs.
    pub on_current: Option<f64>,
}

/// Everything a user can set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// [`SETTINGS_VERSION`].
    pub version: u32,
    /// One entry per input, in order.
    pub inputs: Vec<InputSettings>,
    /// Rows decided by hand, by run name.
    pub runs: BTreeMap<String, RunSettings>,
    /// Delays between channels.
    pub align: align::Settings,
    /// Gates and sieve.
    pub sieve: sieve::Settings,
    /// Settled points of stepped runs.
    pub plateaus: plateau::Settings,
    /// Pulse-width-dimmed or bursting outputs.
    pub pulsed: pulse::Settings,
    /// Fixture and channel accuracy.
    pub fixture: fixture::Settings,
    /// A calibration made earlier that is used where no calibration run is given; default none.
    pub calibration: Option<serde_json::Value>,
    /// What calibration runs mean beside it.
    pub calibration_use: CalibrationUse,
    /// The map's grid.
    pub map: map::Settings,
    /// Comparison of runs.
    pub compare: compare::Settings,
    /// Input voltage at which power without load is stated, V. Default: the median of such rows.
    pub quiescent_at: Option<f64>,
    /// Operating points `[input voltage in V, output current in A]` at which results are asked.
    pub at: Vec<[f64; 2]>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            version: SETTINGS_VERSION,
            inputs: Vec::new(),
            runs: BTreeMap::new(),
            align: align::Settings::default(),
            sieve: sieve::Settings::default(),
            plateaus: plateau::Settings::default(),
            pulsed: pulse::Settings::default(),
            fixture: fixture::Settings::default(),
            calibration: None,
            calibration_use: CalibrationUse::default(),
            map: map::Settings::default(),
            compare: compare::Settings::default(),
            quiescent_at: None,
            at: Vec::new(),
        }
    }
}
