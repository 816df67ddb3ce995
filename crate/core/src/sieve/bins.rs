//! Rows counted by one channel or by a pair, to look at.

use serde::Serialize;

use super::table::{Table, gather};
use super::{Mask, Reason};

/// Most bins each way.
pub const MOST_BINS: usize = 400;

/// How one axis is divided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Division {
    /// Into so many bins of equal width from the lowest to the highest value, 1 to [`MOST_BINS`].
    Parts(usize),
    /// Into bins of this width in the column's unit, counted from zero, as the sieve's cells lie. Where that
    /// makes more than [`MOST_BINS`], whole numbers of them are joined.
    Width(f64),
}

/// One axis of the counts.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Axis {
    /// Name of the column.
    pub name: String,
    /// Its unit.
    pub unit: String,
    /// Lower side of the first bin, in that unit.
    pub from: f64,
    /// Upper side of the last one.
    pub to: f64,
    /// Width of a bin, in that unit.
    pub width: f64,
    /// Number of bins.
    pub bins: usize,
}

impl Axis {
    fn of(values: &[f64], division: Division) -> Self {
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for &value in values.iter().filter(|value| value.is_finite()) {
            low = low.min(value);
            high = high.max(value);
        }
        if low > high {
            return Self::default();
        }
        match division {
            Division::Width(width) if width > 0.0 => {
                let most = MOST_BINS as f64;
                let mut joined = 1.0;
                loop {
                    let wide = width * joined;
                    let first = libm::floor(low / wide);
                    let bins = libm::floor(high / wide) - first + 1.0;
                    if bins <= most || !bins.is_finite() {
                        return Self {
                            from: first * wide,
                            to: (first + bins) * wide,
                            width: wide,
                            bins: bins as usize,
                            ..Self::default()
                        };
                    }
                    joined = libm::ceil(joined * bins / most).max(joined + 1.0);
                }
            }
            Division::Parts(_) | Division::Width(_) => {
                let bins = if let Division::Parts(bins) = division { bins.clamp(1, MOST_BINS) } else { 1 };
                // A column that never changes still has a bin to stand in.
                let span = if high > low { high - low } else { low.abs().max(1.0) * 1e-6 };
                Self { from: low, to: low + span, width: span / bins as f64, bins, ..Self::default() }
            }
        }
    }

    fn bin(&self, value: f64) -> Option<usize> {
        let at = libm::floor((value - self.from) / self.width);
        // The highest value stands on the last side; rounding may put one a hair outside.
        (value.is_finite() && self.bins > 0).then(|| at.clamp(0.0, (self.bins - 1) as f64) as usize)
    }
}

/// Rows by one column or two.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Bins {
    /// The axis across.
    pub x: Axis,
    /// The axis up, of a pair.
    pub y: Option<Axis>,
    /// Bins across.
    pub columns: usize,
    /// Bins up; 1 for a single column.
    pub rows: usize,
    /// Rows in the statistics by bin, index `row * columns + column`, row 0 lowest.
    pub kept: Vec<u32>,
    /// Rows out of them.
    pub out: Vec<u32>,
    /// Whether a bin holds rows, but fewer than least rows.
    pub thin: Vec<bool>,
    /// Number of such bins.
    pub thin_bins: usize,
    /// Rows in them.
    pub thin_rows: usize,
    /// Most rows in one bin.
    pub most: u32,
    /// Rows in the statistics, of all bins.
    pub kept_rows: usize,
    /// Rows out of them, of all bins.
    pub out_rows: usize,
    /// Rows that miss a value and stand nowhere.
    pub missing: usize,
}

/// Counts the rows of a table by its first column, or by its first two.
///
/// **Shape** `masks` is as long as the table; `divisions` has one entry for each of its columns. **Missing data**
/// a row without a value in one of them is counted in `missing` alone.
#[must_use]
pub fn bins(table: &dyn Table, masks: &[Mask], divisions: &[Division], least_rows: u32) -> Bins {
    let across = gather(table, 0);
    let x = Axis::of(&across, divisions.first().copied().unwrap_or(Division::Parts(1)));
    let up = (table.columns() > 1).then(|| gather(table, 1));
    let y =
        up.as_ref().map(|values| Axis::of(values, divisions.get(1).copied().unwrap_or(Division::Parts(1))));
    let (columns, rows) = (x.bins, y.as_ref().map_or(1, |axis| axis.bins));
    let mut kept = vec![0_u32; columns * rows];
    let mut out = vec![0_u32; columns * rows];
    let mut missing = 0;
    for (row, &mask) in masks.iter().enumerate().take(across.len()) {
        let column = x.bin(across[row]);
        let line = match (&y, &up) {
            (Some(axis), Some(values)) => axis.bin(values[row]),
            _ => Some(0),
        };
        let Some((column, line)) = column.zip(line) else {
            missing += 1;
            continue;
        };
        let list = if Reason::kept(mask) { &mut kept } else { &mut out };
        list[line * columns + column] += 1;
    }
    let all: Vec<u32> = kept.iter().zip(&out).map(|(a, b)| a + b).collect();
    let thin: Vec<bool> = all.iter().map(|&n| n > 0 && n < least_rows).collect();
    let sum = |counts: &[u32]| counts.iter().map(|&n| n as usize).sum();
    Bins {
        thin_bins: thin.iter().filter(|&&thin| thin).count(),
        thin_rows: all.iter().zip(&thin).filter(|entry| *entry.1).map(|entry| *entry.0 as usize).sum(),
        most: all.iter().copied().max().unwrap_or(0),
        kept_rows: sum(&kept),
        out_rows: sum(&out),
        x,
        y,
        columns,
        rows,
        kept,
        out,
        thin,
        missing,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sieve::Slices;

    #[test]
    fn every_row_stands_in_one_bin() {
        // Expected counts: numpy 1.26 `histogram2d(x, y, bins=(2, 2))`, run beside this test.
        let x = [0.0, 0.1, 0.9, 1.0, 0.4, f64::NAN];
        let y = [5.0, 5.0, 7.0, 9.0, 9.0, 5.0];
        let masks = [0, Reason::Rare.bit(), 0, 0, 0, 0];
        let found = bins(&Slices(&[&x, &y]), &masks, &[Division::Parts(2), Division::Parts(2)], 2);
        assert_eq!((found.columns, found.rows, found.missing), (2, 2, 1));
        assert_eq!(found.kept, [1, 0, 1, 2]);
        assert_eq!(found.out, [1, 0, 0, 0]);
        assert_eq!(found.thin, [false, false, true, false]);
        assert_eq!((found.thin_bins, found.thin_rows, found.most), (1, 1, 2));
    }

    #[test]
    fn cells_lie_from_zero_and_are_joined_where_there_are_too_many() {
        let x: Vec<f64> = (0..1000).map(f64::from).collect();
        let found = bins(&Slices(&[&x]), &[0; 1000], &[Division::Width(0.5)], 3);
        assert!(found.columns <= MOST_BINS && found.x.width > 2.4, "{:?}", found.x);
        assert_eq!(found.x.from, 0.0);
        assert_eq!(found.kept.iter().sum::<u32>(), 1000);
        let few = bins(&Slices(&[&x[3..7]]), &[0; 4], &[Division::Width(2.0)], 3);
        assert_eq!((few.x.from, few.x.to, few.kept), (2.0, 8.0, vec![1, 2, 1]));
    }

    #[test]
    fn a_column_that_never_changes_and_an_empty_one() {
        let found = bins(&Slices(&[&[3.0, 3.0]]), &[0; 2], &[Division::Parts(5)], 3);
        assert_eq!(found.kept.iter().sum::<u32>(), 2);
        let found = bins(&Slices(&[&[f64::NAN]]), &[0], &[Division::Parts(5)], 3);
        assert_eq!((found.columns, found.missing), (0, 1));
    }
}
