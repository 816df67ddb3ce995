//! A stretch of numbers that cannot be empty, reversed or non-finite.

/// Two finite numbers, the first clearly below the second.
///
/// Every scale and every tick routine takes one, so that none of them can be handed a range it
/// would never get through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    lo: f64,
    hi: f64,
}

/// Largest magnitude of an end; keeps products of two spans finite.
const LARGEST: f64 = 1e100;
/// Smallest span against the larger end; a thousand ticks stay distinct numbers.
const SMALLEST_SHARE: f64 = 1e-11;

impl Range {
    /// From zero to one.
    pub const UNIT: Self = Self { lo: 0.0, hi: 1.0 };

    /// The range between two numbers, if they make one.
    #[must_use]
    pub fn new(lo: f64, hi: f64) -> Option<Self> {
        let size = if lo.abs() > hi.abs() { lo.abs() } else { hi.abs() };
        let good = lo.is_finite()
            && hi.is_finite()
            && size < LARGEST
            && hi - lo > size * SMALLEST_SHARE
            && hi - lo > 1e-100;
        good.then_some(Self { lo, hi })
    }

    /// The nearest usable range: ends swapped where reversed, widened by 5 % of the value (or to
    /// one) where they coincide, from zero to one where either is not a number.
    #[must_use]
    pub fn around(a: f64, b: f64) -> Self {
        if !a.is_finite() || !b.is_finite() || a.abs() >= LARGEST || b.abs() >= LARGEST {
            return Self::UNIT;
        }
        let (lo, hi) = if a <= b { (a, b) } else { (b, a) };
        if let Some(range) = Self::new(lo, hi) {
            return range;
        }
        let half = if lo.abs() > 1e-90 { lo.abs() * 0.05 } else { 0.5 };
        Self { lo: lo - half, hi: lo + half }
    }

    /// The range of the finite numbers among many; `None` when there is none.
    #[must_use]
    pub fn of(values: impl IntoIterator<Item = f64>) -> Option<Self> {
        let mut ends: Option<(f64, f64)> = None;
        for value in values {
            if value.is_finite() {
                ends = Some(match ends {
                    None => (value, value),
                    Some((lo, hi)) => {
                        (if value < lo { value } else { lo }, if value > hi { value } else { hi })
                    }
                });
            }
        }
        ends.map(|(lo, hi)| Self::around(lo, hi))
    }

    /// The range, made usable on a logarithmic scale: a lower end at or below zero becomes a
    /// ten-thousandth of the upper one.
    #[must_use]
    pub fn positive(self) -> Self {
        if self.hi <= 0.0 {
            return Self { lo: 1e-4, hi: 1.0 };
        }
        if self.lo > 0.0 { self } else { Self { lo: self.hi * 1e-4, hi: self.hi } }
    }

    /// Lower end.
    #[must_use]
    pub fn lo(self) -> f64 {
        self.lo
    }

    /// Upper end.
    #[must_use]
    pub fn hi(self) -> f64 {
        self.hi
    }

    /// Upper less lower end; above zero.
    #[must_use]
    pub fn span(self) -> f64 {
        self.hi - self.lo
    }

    /// Whether a value lies inside or on an end; a value that is no number does not.
    #[must_use]
    pub fn holds(self, value: f64) -> bool {
        value >= self.lo && value <= self.hi
    }

    /// Both ends multiplied by a factor, such as 100 for percent.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self::around(self.lo * factor, self.hi * factor)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_no_range() {
        for (lo, hi) in [
            (1.0, 1.0),
            (2.0, 1.0),
            (f64::NAN, 1.0),
            (0.0, f64::INFINITY),
            (1.0, 1.0 + 1e-15),
            (0.0, 1e-200),
            (-1e300, 1e300),
        ] {
            assert_eq!(Range::new(lo, hi), None, "{lo} {hi}");
            let usable = Range::around(lo, hi);
            assert!(usable.span() > 0.0 && usable.span().is_finite(), "{lo} {hi} {usable:?}");
        }
    }

    #[test]
    fn swaps_and_widens() {
        assert_eq!(Range::around(2.0, 1.0), Range { lo: 1.0, hi: 2.0 });
        assert_eq!(Range::around(10.0, 10.0), Range { lo: 9.5, hi: 10.5 });
        assert_eq!(Range::of([3.0, f64::NAN, -1.0]), Some(Range { lo: -1.0, hi: 3.0 }));
        assert_eq!(Range::of([f64::NAN]), None);
    }
}
