//! What the user decides about rows.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

/// What may save a row that few others read like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Vote {
    /// Nothing: the count alone decides.
    Off,
    /// A row that continues smoothly from two neighbours in time on every channel needs a third of
    /// the rows: it was crossed quickly, not misread.
    #[default]
    Smooth,
    /// A row stays where rows of at least two other passes lie within one cell width on every channel.
    Revisited,
}

/// Whether a log is a table of settled points.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SettledPoints {
    /// Told from the rows.
    #[default]
    Auto,
    /// It is one: time gates and the sieve are off.
    Yes,
    /// It is not.
    No,
}

/// Which gates are on. Rows without a needed value are always out: there is nothing to use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
#[allow(clippy::struct_excessive_bools, reason = "one switch per gate")]
pub struct Gates {
    /// Readings at the end of their channel's range; default on. Values logged as over-range are always out.
    pub over_range: bool,
    /// Repeated or restarted time; default on.
    pub time_jump: bool,
    /// Readings below zero by more than noise; default on.
    pub sign: bool,
    /// Rows within a step; default on.
    pub step: bool,
    /// Rows that cannot be brought to one instant; default on.
    pub unaligned: bool,
    /// Rows that change too fast for the remaining uncertainty of the delays; default on.
    pub slew: bool,
    /// Rows right after a start; default on, with a time of 0 s.
    pub settling: bool,
    /// Single readings that stand out; default on.
    pub spike: bool,
    /// The sieve itself; default on.
    pub rare: bool,
    /// Label for rows with the output off; default on.
    pub off: bool,
    /// Label for rows in the supply's current limit; default on.
    pub supply_limit: bool,
}

impl Default for Gates {
    fn default() -> Self {
        Self {
            over_range: true,
            time_jump: true,
            sign: true,
            step: true,
            unaligned: true,
            slew: true,
            settling: true,
            spike: true,
            rare: true,
            off: true,
            supply_limit: true,
        }
    }
}

/// Settings of the gates and the sieve.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Which gates are on.
    pub gates: Gates,
    /// Whether the log is a table of settled points; default `auto`.
    pub settled_points: SettledPoints,
    /// Columns of the sieve by name (`v_in`, `v_out_high`, `v_out_low` or `v_out`, `i_in`, `i_out`, or the
    /// header of a further column), 2 to 8. Default empty: every electrical channel of the log.
    pub channels: Vec<String>,
    /// Cells along the range (0.5 % to 99.5 % of rows) of each channel; default none: widths are chosen so
    /// that half the rows have twelve or more rows in their cell. Sensible 10 to 200; never narrower
    /// than six noises and four resolution steps.
    pub cells: Option<f64>,
    /// Cell width per channel name in its unit; overrides everything for that channel. Must be above 0.
    pub widths: BTreeMap<String, f64>,
    /// Cells along the range of single channels, by name; override `cells`. Must be 1 or more.
    pub channel_cells: BTreeMap<String, f64>,
    /// One control over widths and least rows: -1 gentle, 0 as chosen automatically, 1 strict; default none: `cells`
    /// and `least_rows` decide. While it is set those two are passed over.
    pub strictness: Option<f64>,
    /// A row is out when fewer rows than this read like it; default 3, sensible 0 to 12; 0 and 1 take nothing.
    pub least_rows: u32,
    /// What may save a row with a low count; default `smooth`.
    pub vote: Vote,
    /// Step gate: a change between rows beyond the local slope of more than this times √2 noises; default 8.
    pub step_limit: f64,
    /// Step gate: rows removed on each side of a change besides those between the first and the last
    /// change; default 0, sensible 0 to 5.
    pub step_hold: u32,
    /// Spike gate: distance from the median of seven rows, in robust standard deviations; default 6.
    pub spike_limit: f64,
    /// Slew gate: largest relative error of a product of readings that delays may cause; default 0.005. Below its
    /// noise a row stays whatever this says. Rows next to a step that are off by no more stay as well.
    pub slew_limit: f64,
    /// Settling gate: seconds removed after every start of the clock; default 0.
    pub settle: f64,
    /// End of each channel's range, SI units, in channel order; default none: only a repeated maximum tells.
    pub range: [Option<f64>; 5],
    /// Current in A below which the output counts as off; default none: three noises or 0.2 % of the
    /// largest current.
    pub off_below: Option<f64>,
    /// Input current of the supply's limit, A; default none: no row is labelled.
    pub supply_limit: Option<f64>,
    /// Rows kept by hand, inclusive runs; they outrank every removing reason.
    pub keep: Vec<[usize; 2]>,
    /// Rows removed by hand, inclusive runs.
    pub remove: Vec<[usize; 2]>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            gates: Gates::default(),
            settled_points: SettledPoints::Auto,
            channels: Vec::new(),
            cells: None,
            widths: BTreeMap::new(),
            channel_cells: BTreeMap::new(),
            strictness: None,
            least_rows: 3,
            vote: Vote::Smooth,
            step_limit: 8.0,
            step_hold: 0,
            spike_limit: 6.0,
            slew_limit: 5e-3,
            settle: 0.0,
            range: [None; 5],
            off_below: None,
            supply_limit: None,
            keep: Vec::new(),
            remove: Vec::new(),
        }
    }
}

impl Settings {
    /// The strictness in use, kept between -1 and 1.
    fn strict(&self) -> Option<f64> {
        self.strictness
            .filter(|strictness| strictness.is_finite())
            .map(|strictness| strictness.clamp(-1.0, 1.0))
    }

    /// Setting of least rows in use.
    ///
    /// **Formula** with strictness s the default times `2^(1.2 s)`, rounded: 1 to 7. **Source** the project's own.
    #[must_use]
    pub fn least_rows_in_use(&self) -> u32 {
        match self.strict() {
            Some(s) => libm::round(f64::from(Self::default().least_rows) * libm::exp2(1.2 * s)) as u32,
            None => self.least_rows,
        }
    }

    /// What automatic cell widths are multiplied by.
    ///
    /// **Formula** `2^(-s/2)`: strict cells are narrower, so that fewer rows read alike. **Source** the project's own.
    #[must_use]
    pub fn width_factor(&self) -> f64 {
        self.strict().map_or(1.0, |s| libm::exp2(-0.5 * s))
    }

    /// Cells along every channel's range that are stated and not passed over.
    pub(super) fn cells_in_use(&self) -> Option<f64> {
        self.cells.filter(|cells| self.strict().is_none() && *cells >= 1.0 && cells.is_finite())
    }
}
