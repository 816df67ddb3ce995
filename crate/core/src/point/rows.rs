//! How later stages see the rows of one run.

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

    /// The correction of this run.
    fn correction(&self) -> &Correction;

    /// Standard deviation of the noise of one reading per channel, SI units.
    fn noise(&self) -> [f64; 5];

    /// Whether the rows are settled points, each a visit of its own.
    fn settled(&self) -> bool {
        false
    }

    /// The row at the converter's terminals.
    fn state(&self, row: usize) -> State {
        self.correction().apply(self.reading(row))
    }
}
