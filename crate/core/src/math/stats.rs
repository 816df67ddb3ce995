//! Robust statistics and fixed-order sums.
//!
//! Selection works on copies or on slices that may be reordered; values are compared with
//! `total_cmp`, so that results do not depend on the order in which equal values stand.

/// Standard deviation of a normal distribution over its median absolute deviation,
/// 1 / Φ⁻¹(3/4).
///
/// **Source** Analytical Methods Committee, Analyst 114 (1989) 1693; value to 16 digits from
/// the reference table `tests/reference/robust`.
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// Rows in one summation block.
pub const BLOCK: usize = 65_536;

/// How a quantile is placed between two ordered values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum QuantileRule {
    /// Position (N - 1) p + 1: the usual rule of numerical libraries.
    Linear,
    /// Position (N + 1) p, clamped to the ends: the rule of the NIST/SEMATECH handbook.
    PlusOne,
}

/// Median of the values, which are reordered.
///
/// **Missing data** `NaN` sorts above every number; remove it first. `None` without values.
#[must_use]
pub fn median(values: &mut [f64]) -> Option<f64> {
    quantile(values, 0.5, QuantileRule::Linear)
}

/// The value below which the share `p` of the values lies; the slice is reordered.
///
/// **Units** of the values; `p` from 0 to 1, clamped. **Missing data** as in [`median`].
#[must_use]
pub fn quantile(values: &mut [f64], p: f64, rule: QuantileRule) -> Option<f64> {
    let count = values.len();
    if count == 0 {
        return None;
    }
    let last = (count - 1) as f64;
    let place = match rule {
        QuantileRule::Linear => last * p,
        QuantileRule::PlusOne => (count + 1) as f64 * p - 1.0,
    };
    let place = place.clamp(0.0, last);
    let below = libm::floor(place) as usize;
    let part = place - below as f64;
    let (_, &mut low, above) = values.select_nth_unstable_by(below, f64::total_cmp);
    if part == 0.0 {
        return Some(low);
    }
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    Some(low + (high - low) * part)
}

/// Median absolute deviation from the median, scaled by [`MAD_TO_SIGMA`] so that it estimates a
/// normal standard deviation; the slice is overwritten.
///
/// **Missing data** as in [`median`].
#[must_use]
pub fn scaled_mad(values: &mut [f64]) -> Option<f64> {
    let centre = median(values)?;
    for value in values.iter_mut() {
        *value = (*value - centre).abs();
    }
    median(values).map(|mad| mad * MAD_TO_SIGMA)
}

/// Most triplets that [`noise`] looks at; longer columns are sampled evenly.
const NOISE_TRIPLETS: usize = 131_072;

/// Standard deviation of the noise of one reading, from second differences, which ramps and rare
/// steps do not raise.
///
/// **Formula** `1.4826 MAD(x[n+2] - 2 x[n+1] + x[n]) / sqrt 6`: a second difference of independent
/// noise has six times its variance. **Units** of the values. **Missing data** triplets with a
/// `NaN` are skipped; `None` with fewer than three usable triplets. Columns of more than 131 072
/// rows are sampled evenly.
#[must_use]
pub fn noise(column: &[f64]) -> Option<f64> {
    let triplets = column.len().checked_sub(2)?;
    let mut seconds = Vec::with_capacity(triplets.min(NOISE_TRIPLETS));
    let taken = triplets.min(NOISE_TRIPLETS);
    for place in 0..taken {
        // Integer places are the same on every machine.
        let first = (place as u64 * triplets as u64 / taken as u64) as usize;
        let second = column[first + 2] - 2.0 * column[first + 1] + column[first];
        if second.is_finite() {
            seconds.push(second);
        }
    }
    if seconds.len() < 3 {
        return None;
    }
    scaled_mad(&mut seconds).map(|sigma| sigma / libm::sqrt(6.0))
}

/// Up to `most` finite values of a column, evenly spaced over it.
///
/// **Missing data** non-finite values are skipped.
#[must_use]
pub fn even_sample(column: &[f64], most: usize) -> Vec<f64> {
    let taken = column.len().min(most);
    (0..taken)
        .map(|place| column[(place as u64 * column.len() as u64 / taken as u64) as usize])
        .filter(|value| value.is_finite())
        .collect()
}

/// A sum whose last digit does not depend on how the rows are cut into calls: four lanes by row
/// number inside blocks of [`BLOCK`] rows, merged in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct BlockSum {
    total: f64,
    lanes: [f64; 4],
    rows: usize,
}

impl BlockSum {
    /// An empty sum.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the next row's value. Pass 0 for a row that does not count, so that rows keep their place.
    pub fn push(&mut self, value: f64) {
        self.lanes[self.rows & 3] += value;
        self.rows += 1;
        if self.rows.is_multiple_of(BLOCK) {
            self.total += merged(self.lanes);
            self.lanes = [0.0; 4];
        }
    }

    /// The sum so far.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.total + merged(self.lanes)
    }
}

fn merged(lanes: [f64; 4]) -> f64 {
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}

/// Sum of a column in the fixed order of [`BlockSum`].
///
/// **Missing data** `NaN` counts as 0.
#[must_use]
pub fn block_sum(values: &[f64]) -> f64 {
    let mut sum = BlockSum::new();
    for &value in values {
        sum.push(if value.is_nan() { 0.0 } else { value });
    }
    sum.total()
}

/// Chance that chi-square with `degrees` degrees of freedom exceeds `x`.
///
/// **Formula** the upper incomplete gamma function Q(degrees/2, x/2), for whole and half arguments by
/// the finite sum from Q(1/2) or Q(1): `Q(a + 1, y) = Q(a, y) + y^a e^-y / Gamma(a + 1)`.
/// **Source** M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.4.4, 26.4.5.
#[must_use]
pub fn chi_square_above(x: f64, degrees: usize) -> f64 {
    if degrees == 0 || x.is_nan() {
        return f64::NAN;
    }
    let y = 0.5 * x.max(0.0);
    let (mut a, mut sum, mut term) = if degrees % 2 == 1 {
        // y^(1/2) e^-y / Gamma(3/2)
        (0.5, libm::erfc(y.sqrt()), 2.0 * (y / std::f64::consts::PI).sqrt() * libm::exp(-y))
    } else {
        (1.0, libm::exp(-y), y * libm::exp(-y))
    };
    while a + 0.75 < 0.5 * degrees as f64 {
        sum += term;
        a += 1.0;
        term *= y / a;
    }
    sum.min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_few_values() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0]), Some(3.0));
        assert_eq!(median(&mut [4.0, 1.0]), Some(2.5));
        assert_eq!(quantile(&mut [1.0, 2.0, 3.0, 4.0], 1.0, QuantileRule::Linear), Some(4.0));
        assert_eq!(quantile(&mut [1.0, 2.0, 3.0, 4.0], 0.01, QuantileRule::PlusOne), Some(1.0));
    }

    #[test]
    fn noise_is_not_raised_by_a_ramp() {
        let ramp: Vec<f64> = (0..100).map(f64::from).collect();
        assert_eq!(noise(&ramp), Some(0.0));
        assert_eq!(noise(&ramp[..4]), None);
    }

    #[test]
    fn block_sums_do_not_depend_on_cutting() {
        let values: Vec<f64> = (0..150_000).map(|row| 1.0 / f64::from(row + 1)).collect();
        let mut sum = BlockSum::new();
        values.iter().for_each(|&value| sum.push(value));
        assert_eq!(sum.total().to_bits(), block_sum(&values).to_bits());
    }

    /// Percentage points of chi-square.
    ///
    /// **Source** NIST/SEMATECH e-Handbook of Statistical Methods, table 1.3.6.7.4.
    #[test]
    fn chi_square_agrees_with_its_table() {
        for (degrees, upper, x) in [
            (1, 0.05, 3.841),
            (1, 0.001, 10.828),
            (2, 0.05, 5.991),
            (3, 0.01, 11.345),
            (5, 0.05, 11.070),
            (6, 0.001, 22.458),
            (10, 0.05, 18.307),
        ] {
            let found = chi_square_above(x, degrees);
            assert!((found / upper - 1.0).abs() < 2e-3, "{degrees} {upper}: {found}");
        }
        assert_eq!(chi_square_above(0.0, 3), 1.0);
    }
}
