//! Which box of a grid a row lies in.
//!
//! The grid is never stored. A row's bins along the axes are packed into one 64-bit key in mixed radix; where
//! the grid is too large for that, prefixes of the axes are renumbered through tables of their own first.

use super::cells::{Cells, NO_KEY};
use super::table::MOST_COLUMNS;

/// Range of a column's values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub(super) low: f64,
    pub(super) high: f64,
    /// Whether a value was missing.
    pub(super) gaps: bool,
}

impl Span {
    pub(super) const EMPTY: Self = Self { low: f64::INFINITY, high: f64::NEG_INFINITY, gaps: false };

    /// Widens the range by the finite values given.
    pub(super) fn include(&mut self, values: &[f64]) {
        // Four lanes, so that the comparisons do not wait for each other.
        let mut low = [self.low; 4];
        let mut high = [self.high; 4];
        let mut gaps = [false; 4];
        let mut one = |lane: usize, value: f64| {
            let known = value.is_finite();
            gaps[lane] |= !known;
            low[lane] = if known && value < low[lane] { value } else { low[lane] };
            high[lane] = if known && value > high[lane] { value } else { high[lane] };
        };
        let mut chunks = values.chunks_exact(4);
        for four in &mut chunks {
            for (lane, &value) in four.iter().enumerate() {
                one(lane, value);
            }
        }
        for &value in chunks.remainder() {
            one(0, value);
        }
        for lane in 0..4 {
            self.low = if low[lane] < self.low { low[lane] } else { self.low };
            self.high = if high[lane] > self.high { high[lane] } else { self.high };
            self.gaps |= gaps[lane];
        }
    }
}

/// One axis of the grid.
#[derive(Clone, Copy, Debug)]
struct Axis {
    /// Cells per unit.
    per_unit: f64,
    /// Place of the origin plus the first cell's number, in cells.
    first: f64,
    /// Number of cells from the smallest to the largest value.
    bins: u64,
    /// Number of the last cell.
    last: u32,
    /// Whether a value may be missing.
    gaps: bool,
    /// Whether every value that is not missing lies in the grid without being put there.
    inside: bool,
}

/// 2^52: numbers from here to its double are whole.
const WHOLE: f64 = 4_503_599_627_370_496.0;
const WHOLE_BITS: u64 = 1 << 52;

impl Axis {
    /// Cells of this size from the cell of the lowest to that of the highest value.
    fn new(span: &Span, per_unit: f64, offset: f64) -> Self {
        if span.low > span.high {
            return Self { per_unit, first: 0.0, bins: 1, last: 0, gaps: true, inside: false };
        }
        let number = |value: f64| libm::floor(value * per_unit - offset);
        let first = number(span.low);
        let last = (number(span.high) - first).clamp(0.0, f64::from(u32::MAX - 2)) as u32;
        let first = first + offset;
        // Rounding keeps the order of values: where both ends lie inside, all do.
        let inside = [span.low, span.high].iter().all(|end| {
            let place = end * per_unit - first;
            place >= 0.0 && libm::floor(place) <= f64::from(last)
        });
        Self { per_unit, first, bins: u64::from(last) + 1, last, gaps: span.gaps, inside }
    }

    /// Adds the bins of values to keys, which are binary64 numbers here: whole ones below 2^52, so that
    /// every step is exact. Processors do several of these at once, unlike conversions to integers.
    fn add_to(&self, keys: &mut [u64], values: &[f64]) {
        let (per_unit, first, bins) = (self.per_unit, self.first, self.bins as f64);
        if self.inside {
            for (key, &value) in keys.iter_mut().zip(values) {
                *key = (f64::from_bits(*key) * bins + floor(value * per_unit - first)).to_bits();
            }
            return;
        }
        let last = f64::from(self.last);
        for (key, &value) in keys.iter_mut().zip(values) {
            let place = value * per_unit - first;
            // As a saturating cast to an integer and a limit would do; NaN gives 0.
            let place = if place > 0.0 { place } else { 0.0 };
            let place = if place < last { place } else { last };
            *key = (f64::from_bits(*key) * bins + floor(place)).to_bits();
        }
    }
}

/// The largest whole number up to a place from 0 to 2^51.
#[inline]
fn floor(place: f64) -> f64 {
    // One instruction there, which does several at once; a call on processors that may lack it.
    #[cfg(target_arch = "wasm32")]
    return place.floor();
    #[cfg(not(target_arch = "wasm32"))]
    {
        let nearest = (place + WHOLE) - WHOLE;
        nearest - if nearest > place { 1.0 } else { 0.0 }
    }
}

/// Turns rows into keys.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    axes: Vec<Axis>,
    /// Renumbering of prefixes, one table per axis after the first, where keys do not fit 64 bits.
    prefixes: Vec<Cells>,
    packs: bool,
    /// Whether keys stay below 2^52.
    small: bool,
}

impl Grid {
    /// A grid of cells of these widths whose origin lies `offset` cell widths above 0 on every axis.
    pub(super) fn new(spans: &[Span], widths: &[f64], offset: f64) -> Self {
        let axes =
            spans.iter().zip(widths).map(|(span, &width)| Axis::new(span, 1.0 / width, offset)).collect();
        Self::of(axes)
    }

    fn of(axes: Vec<Axis>) -> Self {
        let size = axes.iter().try_fold(1_u64, |size, axis| size.checked_mul(axis.bins));
        let packs = size.is_some_and(|size| size < NO_KEY);
        let prefixes =
            if packs { Vec::new() } else { vec![Cells::with_room(64); axes.len().saturating_sub(2)] };
        let small = size.is_some_and(|size| size < WHOLE_BITS);
        Self { axes, prefixes, packs, small }
    }

    /// The grid whose bins are this one's, halved so many times.
    pub(super) fn joined(&self, halvings: u32) -> Self {
        let axes = self.axes.iter().map(|axis| {
            let last = axis.last >> halvings;
            Axis { bins: u64::from(last) + 1, last, inside: false, ..*axis }
        });
        Self::of(axes.collect())
    }

    /// All keys are below this; as large as can be where nothing is known of them.
    pub(super) fn size(&self) -> u64 {
        if self.packs { self.axes.iter().map(|axis| axis.bins).product() } else { u64::MAX }
    }

    /// Number of axes.
    pub(super) fn columns(&self) -> usize {
        self.axes.len()
    }

    /// Of each axis its cells per unit, its first cell's number and the last one's counted from it.
    pub(super) fn axes(&self) -> impl Iterator<Item = (f64, f64, u32)> {
        self.axes.iter().map(|axis| (axis.per_unit, axis.first, axis.last))
    }

    /// Bins of every occupied cell, by cell number, one after another.
    pub(super) fn bins_of(&self, cells: &Cells) -> Vec<u32> {
        let columns = self.axes.len();
        let mut bins = vec![0; cells.len() * columns];
        let prefixes: Vec<&[u64]> = self.prefixes.iter().map(Cells::keys).collect();
        for (&key, bins) in cells.keys().iter().zip(bins.chunks_exact_mut(columns)) {
            let mut key = key;
            for (axis, bin) in bins.iter_mut().enumerate().rev() {
                if self.packs {
                    let radix = self.axes[axis].bins;
                    *bin = (key % radix) as u32;
                    key /= radix;
                } else {
                    *bin = key as u32;
                    key >>= 32;
                    if axis >= 2 {
                        key = prefixes[axis - 2][key as usize];
                    }
                }
            }
        }
        bins
    }

    /// The key of a cell, which becomes known.
    pub(super) fn add_key(&mut self, bins: &[u32]) -> u64 {
        if self.packs {
            return self.packed(bins);
        }
        let mut all = [0; MOST_COLUMNS];
        all[..bins.len()].copy_from_slice(bins);
        self.renumbered(&all)
    }

    fn packed(&self, bins: &[u32]) -> u64 {
        self.axes.iter().zip(bins).fold(0, |key, (axis, &bin)| key * axis.bins + u64::from(bin))
    }

    /// Bin of a value along an axis, clamped to the grid; `NaN` gives 0.
    pub(super) fn bin(&self, axis: usize, value: f64) -> u32 {
        let axis = &self.axes[axis];
        // Truncation is floor here, since the smallest value lies in bin 0; the cast saturates.
        ((value * axis.per_unit - axis.first) as u32).min(axis.last)
    }

    /// Keys of rows, column by column; a row that misses a value gets none.
    pub(super) fn keys(&mut self, columns: &[&[f64]], keys: &mut [u64]) {
        keys.fill(0);
        if self.small {
            for (axis, column) in self.axes.iter().zip(columns) {
                axis.add_to(keys, column);
            }
            for key in keys.iter_mut() {
                *key = (f64::from_bits(*key) + WHOLE).to_bits() & (WHOLE_BITS - 1);
            }
        } else if self.packs {
            for (axis, column) in self.axes.iter().zip(columns) {
                let (per_unit, first, bins, last) = (axis.per_unit, axis.first, axis.bins, axis.last);
                for (key, &value) in keys.iter_mut().zip(*column) {
                    *key = *key * bins + u64::from(((value * per_unit - first) as u32).min(last));
                }
            }
        } else {
            for (row, key) in keys.iter_mut().enumerate() {
                let mut bins = [0_u32; MOST_COLUMNS];
                for (axis, column) in columns.iter().enumerate() {
                    bins[axis] = self.bin(axis, column[row]);
                }
                *key = self.renumbered(&bins);
            }
        }
        for (column, _) in columns.iter().zip(&self.axes).filter(|pair| pair.1.gaps) {
            for (key, value) in keys.iter_mut().zip(*column) {
                if !value.is_finite() {
                    *key = NO_KEY;
                }
            }
        }
    }

    fn renumbered(&mut self, bins: &[u32; MOST_COLUMNS]) -> u64 {
        let mut key = u64::from(bins[0]);
        for (before, &bin) in bins[1..self.axes.len()].iter().enumerate() {
            key = (key << 32) | u64::from(bin);
            if let Some(prefix) = self.prefixes.get_mut(before) {
                key = u64::from(prefix.add(key));
            }
        }
        key
    }

    /// The key of a cell, if any row could lie in it.
    pub(super) fn key_of(&self, bins: &[u32]) -> Option<u64> {
        if self.packs {
            return Some(self.packed(bins));
        }
        let mut key = u64::from(bins[0]);
        for (before, &bin) in bins[1..self.axes.len()].iter().enumerate() {
            key = (key << 32) | u64::from(bin);
            if let Some(prefix) = self.prefixes.get(before) {
                key = u64::from(prefix.find(key)?);
            }
        }
        Some(key)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    /// A grid of so many columns and bins a column, its first cell at a whole number below 0; the places of rows in it.
    fn rows(columns: usize, bins: f64, random: &mut Random) -> (Grid, Vec<Vec<f64>>) {
        let values: Vec<Vec<f64>> = (0..columns)
            .map(|_| (0..500).map(|row| if row == 0 { -7.25 } else { bins * random.unit() - 7.25 }).collect())
            .collect();
        let spans: Vec<Span> = values
            .iter()
            .map(|values| {
                let mut span = Span::EMPTY;
                span.include(values);
                span
            })
            .collect();
        (Grid::new(&spans, &vec![1.0; columns], 0.0), values)
    }

    #[test]
    fn keys_hold_the_bin_of_every_value() {
        let mut random = Random::new(5);
        // Keys below 2^52, keys of 64 bits, and keys by renumbered prefixes.
        for (columns, bins, small, packs) in
            [(1, 9.0, true, true), (5, 80.0, true, true), (7, 250.0, false, true), (8, 5e8, false, false)]
        {
            let (mut grid, values) = rows(columns, bins, &mut random);
            assert_eq!((grid.small, grid.packs), (small, packs));
            let slices: Vec<&[f64]> = values.iter().map(Vec::as_slice).collect();
            let mut keys = vec![0; 500];
            grid.keys(&slices, &mut keys);
            let mut cells = Cells::with_room(64);
            let codes: Vec<u32> = keys.iter().map(|&key| cells.add(key)).collect();
            let found = grid.bins_of(&cells);
            for row in 0..500 {
                let expected: Vec<u32> =
                    values.iter().map(|values| (values[row].floor() + 8.0) as u32).collect();
                let at = codes[row] as usize * columns;
                assert_eq!(&found[at..at + columns], expected, "{columns} columns, row {row}");
                assert_eq!(grid.key_of(&expected), Some(keys[row]));
            }
        }
    }

    #[test]
    fn values_that_lie_inside_need_no_limits() {
        let mut random = Random::new(6);
        let (mut grid, values) = rows(5, 80.0, &mut random);
        assert!(grid.axes.iter().all(|axis| axis.inside));
        let slices: Vec<&[f64]> = values.iter().map(Vec::as_slice).collect();
        let (mut freely, mut limited) = (vec![0; 500], vec![0; 500]);
        grid.keys(&slices, &mut freely);
        grid.axes.iter_mut().for_each(|axis| axis.inside = false);
        grid.keys(&slices, &mut limited);
        assert_eq!(freely, limited);
        // Beyond the ends the limits hold.
        let beyond: Vec<Vec<f64>> = [-1e3, 1e3].into_iter().map(|far| vec![far; 500]).collect();
        grid.keys(&[&beyond[0], &beyond[0], &beyond[0], &beyond[0], &beyond[1]], &mut limited);
        assert!(limited.iter().all(|&key| key == u64::from(grid.axes[4].last)));
    }

    #[test]
    fn a_row_that_misses_a_value_gets_no_key() {
        let mut span = Span::EMPTY;
        span.include(&[0.5, f64::NAN, 2.5]);
        let mut grid = Grid::new(&[span, span], &[1.0, 1.0], 0.0);
        let mut keys = vec![0; 3];
        grid.keys(&[&[0.5, f64::NAN, 2.5], &[2.5, 0.5, 0.5]], &mut keys);
        assert_eq!(keys, [2, NO_KEY, 6]);
    }
}
