//! How many rows read like each row, and which setting takes it out.

use super::{Mask, Reason};

/// Grids that are averaged.
///
/// **Source** averaged shifted histogram, D. W. Scott, Ann. Statist. 13 (1985) 1024; four is the project's own.
pub(super) const SHIFTS: u32 = 4;

/// Its neighbours in time show that the row was crossed quickly.
pub(super) const SMOOTH: u32 = 1 << 30;
/// Other passes come near the row.
pub(super) const REVISITED: u32 = 1 << 31;
/// The row lies at an edge of what was visited, where a box is half empty.
pub(super) const EDGE: u32 = 1 << 29;
const COUNT_BITS: u32 = EDGE - 1;
/// Not counted: the row misses a value.
pub(super) const NOT_COUNTED: u32 = COUNT_BITS;

/// The counts of one log.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Counts {
    /// Per row: four times the count in the low 30 bits, and what may save the row above them.
    pub(super) stored: Vec<u32>,
    /// Per row: the smallest setting of least rows that takes it out, [`NEVER`] where none does.
    pub(super) falls: Vec<u8>,
    /// Per row: number of its cell in the unshifted grid, [`NO_CELL`](super::NO_CELL) where it has none.
    pub cells: Vec<u32>,
    /// Rows per cell of the unshifted grid, by cell number.
    pub cell_counts: Vec<u32>,
    /// Cell width per column, in the column's unit.
    pub widths: Vec<f64>,
    /// Range of each column from its 0.5 % to its 99.5 % quantile.
    pub ranges: Vec<f64>,
    /// Share of the range that the widths were chosen as, where they were.
    pub lambda: Option<f64>,
    /// Rows that were counted exactly.
    pub counted_exactly: usize,
}

impl Counts {
    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.stored.len()
    }

    /// Number of occupied cells of the unshifted grid.
    #[must_use]
    pub fn occupied(&self) -> usize {
        self.cell_counts.len()
    }

    /// How many rows read like this one, itself included; `None` for a row that misses a value.
    #[must_use]
    pub fn count(&self, row: usize) -> Option<f64> {
        let stored = self.stored[row] & COUNT_BITS;
        (stored != NOT_COUNTED).then(|| f64::from(stored) / f64::from(SHIFTS))
    }

    /// Whether the row continues smoothly from its neighbours in time; told for low counts only.
    #[must_use]
    pub fn smooth(&self, row: usize) -> bool {
        self.stored[row] & SMOOTH != 0
    }

    /// Whether the row lies at an edge of what was visited, so that half the rows are enough; told for low counts only.
    #[must_use]
    pub fn at_edge(&self, row: usize) -> bool {
        self.stored[row] & EDGE != 0
    }

    /// Whether other passes save the row.
    #[must_use]
    pub fn revisited(&self, row: usize) -> bool {
        self.stored[row] & REVISITED != 0
    }

    /// Whether the row is out at this setting of least rows.
    #[must_use]
    pub fn out(&self, row: usize, least_rows: u32) -> bool {
        self.falls[row] <= reach(least_rows)
    }

    /// Sets or clears the sieve's bit of every row: one comparison each.
    ///
    /// **Shape** `masks` is as long as the log.
    pub fn judge(&self, least_rows: u32, masks: &mut [Mask]) -> bool {
        let reach = reach(least_rows);
        let bit = Reason::Rare.bit();
        let mut changed = 0;
        for (mask, &falls) in masks.iter_mut().zip(&self.falls) {
            let out = if falls <= reach { bit } else { 0 };
            let judged = (*mask & !bit) | out;
            changed |= *mask ^ judged;
            *mask = judged;
        }
        changed != 0
    }

    /// The smallest setting of least rows that takes the row out; `None` if none up to 254 does.
    #[must_use]
    pub fn falls_at(&self, row: usize) -> Option<u32> {
        let falls = self.falls[row];
        (falls != NEVER).then_some(u32::from(falls))
    }

    /// Works out from the counts where each row falls.
    pub(super) fn settle(&mut self) {
        self.falls = self.stored.iter().map(|&stored| falls(stored)).collect();
    }
}

/// The largest setting that can be judged; beyond it nothing more falls.
const FURTHEST: u8 = 254;
/// No setting takes the row out.
const NEVER: u8 = 255;

fn reach(least_rows: u32) -> u8 {
    least_rows.min(u32::from(FURTHEST)) as u8
}

fn falls(stored: u32) -> u8 {
    let count = stored & COUNT_BITS;
    if count == NOT_COUNTED || stored & REVISITED != 0 {
        return NEVER;
    }
    let count = match (stored & SMOOTH != 0, stored & EDGE != 0) {
        (true, _) => count.saturating_mul(3),
        // Two rows that read alike are no edge yet: a step seen twice looks the same.
        (false, true) if count >= 3 * SHIFTS => count.saturating_mul(2),
        (false, _) => count,
    };
    (count / SHIFTS + 1).min(u32::from(NEVER)) as u8
}
