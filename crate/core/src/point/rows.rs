//! How later stages see the rows of one run.

use std::ops::Range;

use crate::align::Doubt;
use crate::fixture::{Correction, State};
use crate::sieve::Mask;

/// The rows of one run: aligned readings, reasons, and the correction that applies.
///
/// Values are computed on demand, so that nothing but the readings is held.
pub trait Rows {
    /// Number of data rows.
    fn rows(&self) -> usize;

    /// Time of the row, s; see `channel::Readings::time`.
    fn time(&self, row: usize) -> f64;

    /// Reasons of the row.
    fn mask(&self, row: usize) -> Mask;

    /// The five readings at one instant, uncorrected, in channel order; 0 for an absent low output
    /// node, `NaN` where missing.
    fn reading(&self, row: usize) -> [f64; 5];

    /// The readings of a range of rows, one column per channel.
    ///
    /// **Shape** every column of `out` is at least as long as `rows`.
    fn readings(&self, rows: Range<usize>, out: &mut [Vec<f64>; 5]) {
        for (place, row) in rows.enumerate() {
            for (column, value) in out.iter_mut().zip(self.reading(row)) {
                column[place] = value;
            }
        }
    }

    /// The correction of this run.
    fn correction(&self) -> &Correction;

    /// Standard deviation of the noise of one reading per channel, SI units.
    fn noise(&self) -> [f64; 5];

    /// What is not known of the delays between the channels.
    fn doubt(&self) -> Doubt {
        Doubt::default()
    }

    /// Whether the rows are settled points, each a visit of its own.
    fn settled(&self) -> bool {
        false
    }

    /// Whether products of the readings are no powers, so that nothing may be answered from the rows.
    fn refused(&self) -> bool {
        false
    }

    /// The row at the converter's terminals.
    fn state(&self, row: usize) -> State {
        self.correction().apply(self.reading(row))
    }
}

/// Rows whose readings are brought to one instant together.
const TOGETHER: usize = 2048;

/// Visits rows in order with their readings: as [`Rows::reading`] for each, but much faster.
pub fn each_reading(rows: &dyn Rows, range: Range<usize>, mut visit: impl FnMut(usize, [f64; 5])) {
    let mut columns: [Vec<f64>; 5] = std::array::from_fn(|_| vec![0.0; TOGETHER.min(range.len())]);
    let mut from = range.start;
    while from < range.end {
        let to = (from + TOGETHER).min(range.end);
        rows.readings(from..to, &mut columns);
        for row in from..to {
            let place = row - from;
            visit(row, std::array::from_fn(|channel| columns[channel][place]));
        }
        from = to;
    }
}
