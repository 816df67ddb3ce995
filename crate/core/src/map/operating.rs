//! The operating rows of one run in columns, at the converter's terminals.

use crate::align::Doubt;
use crate::fixture::{Correction, Grade, PARAMETERS, State};
use crate::point::{Rows, each_reading};
use crate::sieve::Reason;

/// Rows per block of a sum; see the crate's rules for equal bytes.
pub(crate) const BLOCK: usize = 65_536;

/// Rows by which the neighbours that tell a slope may be away.
const BESIDE: u32 = 2;

/// Why a finite row is not an operating point, in the few kinds that a blank cell can state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Absent {
    /// Taken out by a gate or the sieve.
    Removed,
    /// The supply was in current limit.
    SupplyLimit,
    /// The output was off.
    Off,
}

/// A row with values that is not an operating point.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Other {
    pub(crate) v_in: f64,
    pub(crate) i_out: f64,
    pub(crate) why: Absent,
}

/// The operating rows of one run: kept, output on, supply not in limit, all values finite.
///
/// **Shape** all columns have the same length; rows ascend.
/// **Units** V and A at the converter's terminals.
#[derive(Clone, Debug)]
pub struct Operating {
    /// Row number of each point.
    pub row: Vec<u32>,
    /// Time, s; `NaN` where not known.
    pub time: Vec<f64>,
    /// V_A.
    pub v_in: Vec<f64>,
    /// I_i.
    pub i_in: Vec<f64>,
    /// V_B.
    pub v_out: Vec<f64>,
    /// I_o.
    pub i_out: Vec<f64>,
    /// Low output node against ground, gain and offset taken out.
    pub v_low: Vec<f64>,
    /// Correction of the run.
    pub correction: Correction,
    /// Noise of one reading per channel, SI units.
    pub noise: [f64; 5],
    /// What is not known of the delays between channels.
    pub doubt: Doubt,
    /// Rows of the log, all of them.
    pub rows: usize,
    /// Whether the rows are settled points, each a visit of its own.
    pub settled: bool,
    pub(crate) other: Vec<Other>,
}

impl Operating {
    /// Gathers the operating rows in one pass.
    #[must_use]
    pub fn collect(rows: &dyn Rows) -> Self {
        let total = rows.rows();
        let mut out = Self {
            row: Vec::with_capacity(total),
            time: Vec::with_capacity(total),
            v_in: Vec::with_capacity(total),
            i_in: Vec::with_capacity(total),
            v_out: Vec::with_capacity(total),
            i_out: Vec::with_capacity(total),
            v_low: Vec::with_capacity(total),
            correction: rows.correction().clone(),
            noise: rows.noise(),
            doubt: rows.doubt(),
            rows: total,
            settled: rows.settled(),
            other: Vec::new(),
        };
        if rows.refused() {
            return out;
        }
        let low_gain = out.correction.values[2];
        let low_offset = out.correction.values[7];
        let correction = rows.correction();
        each_reading(rows, 0..total, |row, reading| {
            let state = correction.apply(reading);
            let finite = state.v_in.is_finite()
                && state.i_in.is_finite()
                && state.v_out.is_finite()
                && state.i_out.is_finite();
            if !finite {
                return;
            }
            let mask = rows.mask(row);
            if !Reason::operating(mask) {
                let why = if !Reason::kept(mask) {
                    Absent::Removed
                } else if mask & Reason::SupplyLimit.bit() != 0 {
                    Absent::SupplyLimit
                } else {
                    Absent::Off
                };
                out.other.push(Other { v_in: state.v_in, i_out: state.i_out, why });
                return;
            }
            let carries_power = state.v_in > 0.0 && state.i_in > 0.0 && state.i_out > 0.0;
            if !carries_power {
                out.other.push(Other { v_in: state.v_in, i_out: state.i_out, why: Absent::Off });
                return;
            }
            out.row.push(row as u32);
            out.time.push(rows.time(row));
            out.v_in.push(state.v_in);
            out.i_in.push(state.i_in);
            out.v_out.push(state.v_out);
            out.i_out.push(state.i_out);
            out.v_low.push((reading[2] - low_offset) / low_gain);
        });
        out
    }

    /// Number of operating rows.
    #[must_use]
    pub fn len(&self) -> usize {
        self.row.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.row.is_empty()
    }

    /// Input power of a point, W.
    #[must_use]
    pub fn p_in(&self, k: usize) -> f64 {
        self.v_in[k] * self.i_in[k]
    }

    /// Output power of a point, W.
    #[must_use]
    pub fn p_out(&self, k: usize) -> f64 {
        self.v_out[k] * self.i_out[k]
    }

    /// Loss of a point, W.
    #[must_use]
    pub fn loss(&self, k: usize) -> f64 {
        self.p_in(k) - self.p_out(k)
    }

    /// Whether the accuracy of the run is known at all.
    #[must_use]
    pub fn accuracy_known(&self) -> bool {
        self.correction.grade != Grade::AsLogged
    }

    /// The readings that the correction turns into this state: the inverse of
    /// [`Correction::apply`].
    ///
    /// **Units** `low`: low output node against ground, V, as in [`Operating::v_low`].
    #[must_use]
    pub fn reading_of(&self, state: State, low: f64) -> [f64; 5] {
        let x = &self.correction.values;
        let (r_in, r_out, shared) = (x[12], x[13], x[14]);
        let p = state.v_in + state.i_in * (r_in + shared) - state.i_out * shared;
        let q = state.v_out + low - state.i_out * (r_out + shared) + state.i_in * shared;
        [
            x[0] * p + x[5],
            x[1] * q + x[6],
            x[2] * low + x[7],
            x[3] * state.i_in + x[8] + x[10] * p,
            x[4] * state.i_out + x[9] + x[11] * q,
        ]
    }

    /// How fast V_A, I_i, V_B, I_o and the low output node change at a point, V/s and A/s.
    ///
    /// **Formula** difference quotient over the operating rows beside it, no further than [`BESIDE`] rows.
    /// **Missing data** 0 where there are none or no time is known.
    #[must_use]
    pub(crate) fn slope(&self, k: usize) -> [f64; 5] {
        let beside = |a: usize, b: usize| self.row[b] - self.row[a] <= BESIDE;
        let first = if k > 0 && beside(k - 1, k) { k - 1 } else { k };
        let last = if k + 1 < self.len() && beside(k, k + 1) { k + 1 } else { k };
        let seconds = self.time[last] - self.time[first];
        if seconds.is_nan() || seconds <= 0.0 {
            return [0.0; 5];
        }
        [&self.v_in, &self.i_in, &self.v_out, &self.i_out, &self.v_low]
            .map(|column| (column[last] - column[first]) / seconds)
    }

    /// How much a result changes for each second by which a channel's samples are moved, from its
    /// sensitivities and from how fast the rows that it stands for change on average.
    ///
    /// **Units** `slope` as [`Operating::slope`]; unit of the result per s, in channel order.
    /// **Formula** sensitivity to the reading times the reading's slope; a reading and its channel's offset enter
    /// only as their difference. **Source** first-order expansion of `x(t + d)`. Rows of rising and of falling
    /// current cancel in the mean; what they differ by is in the rows' scatter.
    #[must_use]
    pub(crate) fn per_second(&self, sensitivity: &[f64; PARAMETERS], slope: [f64; 5]) -> [f64; 5] {
        let [v_in, i_in, v_out, i_out, low] = slope;
        let still = State { v_in: 0.0, i_in: 0.0, v_out: 0.0, i_out: 0.0 };
        let zero = self.reading_of(still, 0.0);
        let moved = self.reading_of(State { v_in, i_in, v_out, i_out }, low);
        std::array::from_fn(|k| sensitivity[5 + k] * (zero[k] - moved[k]))
    }

    /// Standard deviation of the noise of I_o and of V_A for one row.
    #[must_use]
    pub fn axis_noise(&self) -> (f64, f64) {
        let x = &self.correction.values;
        let i_out = self.noise[4] / x[4];
        let v_in = libm::hypot(self.noise[0] / x[0], self.noise[3] / x[3] * (x[12] + x[14]));
        (v_in, i_out)
    }

    /// Whether the noise of the readings is known.
    #[must_use]
    pub fn noise_known(&self) -> bool {
        self.noise.iter().any(|s| *s > 0.0)
    }

    /// Variance of one row's loss from the noise of its readings, W^2.
    ///
    /// **Formula** `(I_i s_VA)^2 + (V_A s_Ii)^2 + (I_o s_VB)^2 + (V_B s_Io)^2`; where no noise is
    /// known a thousandth of the input power stands in, so that weights stay relative.
    #[must_use]
    pub fn loss_variance(&self, k: usize) -> f64 {
        let x = &self.correction.values;
        let s = &self.noise;
        let square = |x: f64| x * x;
        if !self.noise_known() {
            return square(1e-3 * self.p_in(k));
        }
        square(self.i_in[k] * s[0] / x[0])
            + square(self.v_in[k] * s[3] / x[3])
            + square(self.i_out[k]) * (square(s[1] / x[1]) + square(s[2] / x[2]))
            + square(self.v_out[k] * s[4] / x[4])
    }
}

/// `a - b`, entry by entry.
pub(crate) fn minus(a: &[f64; PARAMETERS], b: &[f64; PARAMETERS]) -> [f64; PARAMETERS] {
    std::array::from_fn(|k| a[k] - b[k])
}

/// `a * x`, entry by entry.
pub(crate) fn times(a: &[f64; PARAMETERS], x: f64) -> [f64; PARAMETERS] {
    std::array::from_fn(|k| a[k] * x)
}

/// `a + b`, entry by entry.
pub(crate) fn plus(a: &[f64; PARAMETERS], b: &[f64; PARAMETERS]) -> [f64; PARAMETERS] {
    std::array::from_fn(|k| a[k] + b[k])
}
