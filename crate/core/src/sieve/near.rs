//! Which of many places lie near a row on every column: most are told from one byte a column.
//!
//! A place is a word of eight bytes, one per column: where it lies along the column in parts of a cell, modulo 256. Two
//! places whose cells touch differ by less than that in every byte, so their difference tells how far apart they are to
//! within one part. Whoever lies nearer to the limit than two parts has to be looked at in full.

use super::table::MOST_COLUMNS;

/// Parts of a cell that make the limit.
const LIMIT: u64 = 32;
/// Rounding two places to parts moves their distance by at most one; another is left for the rounding of the product.
const SLACK: u64 = 2;
/// Cells from 0 to the farthest place up to which binary64 tells parts of a cell, with room to spare.
const TOLD: f64 = 1_099_511_627_776.0;

const EACH: u64 = 0x0101_0101_0101_0101;
const HIGH: u64 = 0x80 * EACH;
const LOW: u64 = 0x7f * EACH;

/// 2^52: a binary64 number from here to its double holds its whole part in its lowest bits.
const WHOLE: f64 = 4_503_599_627_370_496.0;

/// Adds byte by byte, each modulo 256.
const fn add(a: u64, b: u64) -> u64 {
    ((a & LOW) + (b & LOW)) ^ ((a ^ b) & HIGH)
}

/// Whether any byte is above `most`, which is below 128.
const fn any_above(bytes: u64, most: u64) -> bool {
    (((bytes & LOW) + (127 - most) * EACH) | bytes) & HIGH != 0
}

/// Turns readings into words.
#[derive(Debug)]
pub(super) struct Parts {
    /// Per column: parts per unit, and the part at which its first cell begins; `None` where parts cannot be told.
    scales: Vec<Option<[f64; 2]>>,
}

/// Whether two places are near.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Near {
    /// Within the limit on every column.
    Yes,
    /// Beyond it on one.
    No,
    /// Too close to it on one to be told from words.
    Open,
}

impl Parts {
    /// Parts for a limit of `reach` cells: a half or one. `axes` gives cells per unit, the first cell's number and the
    /// last one's counted from it.
    pub(super) fn new(axes: impl Iterator<Item = (f64, f64, u32)>, reach: f64) -> Self {
        let parts = LIMIT as f64 / reach;
        let scale = |(per_unit, first, last): (f64, f64, u32)| {
            let told = first.abs() + f64::from(last) < TOLD;
            told.then_some([parts * per_unit, parts * first])
        };
        Self { scales: axes.map(scale).collect() }
    }

    /// Words of rows, column by column; **shape** every column is as long as `words`.
    pub(super) fn words(&self, columns: &[&[f64]], words: &mut [u64]) {
        words.fill(0);
        for (column, (scale, values)) in self.scales.iter().zip(columns).enumerate() {
            let shift = 8 * column as u32;
            match scale {
                Some([per_unit, first]) => {
                    for (word, value) in words.iter_mut().zip(*values) {
                        *word |= ((value * per_unit - first + WHOLE).to_bits() & 0xff) << shift;
                    }
                }
                None => words.iter_mut().for_each(|word| *word |= LIMIT << shift),
            }
        }
    }

    /// What a place is compared by: far from 0 by its word, with the limit and its slack added.
    pub(super) fn target(&self, row: &[f64]) -> u64 {
        let mut target = (LIMIT + SLACK - 1) * EACH;
        for (column, (scale, value)) in self.scales.iter().zip(row).enumerate().take(MOST_COLUMNS) {
            // Where parts cannot be told every row differs by the limit, so that it stays open.
            let Some([per_unit, first]) = scale else { continue };
            let part = (value * per_unit - first + WHOLE).to_bits() & 0xff;
            target = add(target, ((256 - part) & 0xff) << (8 * column));
        }
        target
    }
}

/// Compares a row's word with a place's target.
#[inline]
pub(super) fn near(word: u64, target: u64) -> Near {
    // Every byte is the difference plus the limit plus one: 0 to twice that where a row may be near.
    let difference = add(word, target);
    if any_above(difference, 2 * (LIMIT + SLACK - 1)) {
        return Near::No;
    }
    // Three less: above twice the limit less two, or below 0, it is open.
    if any_above(add(difference, (256 - 2 * SLACK + 1) * EACH), 2 * (LIMIT - SLACK)) {
        return Near::Open;
    }
    Near::Yes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn words_never_contradict_a_full_comparison() {
        let mut random = Random::new(11);
        let mut unit = || random.unit();
        let (mut yes, mut open, mut no) = (0, 0, 0);
        for (reach, cells) in [(0.5, 1.0), (0.5, 2.0), (1.0, 1.0), (1.0, 2.0)] {
            // The last axis is so long that parts of a cell cannot be told along it.
            for axes in [vec![(4.0, -3.0, 9), (0.3, 1e5, 99)], vec![(1.0, 0.25, 7), (1.0, 2e12, 3)]] {
                let parts = Parts::new(axes.iter().copied(), reach);
                for _ in 0..4000 {
                    let (mut row, mut place, mut far) = ([0.0; 2], [0.0; 2], 0.0_f64);
                    for (axis, (per_unit, first, _)) in axes.iter().enumerate() {
                        // In a block of so many cells, and a place whose box touches it.
                        let here = cells * unit();
                        let there = (cells + 2.0 * reach) * unit() - reach;
                        // Every fourth pair is near on this column.
                        let there =
                            if unit() < 0.7 { here + 1.04 * reach * (2.0 * unit() - 1.0) } else { there };
                        row[axis] = (first + here + 2.0) / per_unit;
                        place[axis] = (first + there + 2.0) / per_unit;
                        far = far.max(((row[axis] - place[axis]) * per_unit).abs());
                    }
                    let mut words = [0];
                    parts.words(&[&row[..1], &row[1..]], &mut words);
                    match near(words[0], parts.target(&place)) {
                        Near::Yes => {
                            yes += 1;
                            assert!(far <= reach, "{far}");
                        }
                        Near::No => {
                            no += 1;
                            assert!(far > reach, "{far}");
                        }
                        // Where all columns are told hardly any pair is left open.
                        Near::Open => open += u32::from(axes[1].1 < TOLD),
                    }
                }
            }
        }
        assert!(yes > 3000 && no > 3000 && open < 3000, "{yes} near, {no} not, {open} open");
    }

    #[test]
    fn columns_that_are_not_there_count_as_near() {
        let parts = Parts::new([(1.0, 0.0, 10)].into_iter(), 0.5);
        let mut words = [0, 0];
        parts.words(&[&[3.0, 4.0]], &mut words);
        let target = parts.target(&[3.25]);
        assert_eq!(words.map(|word| near(word, target)), [Near::Yes, Near::No]);
    }
}
