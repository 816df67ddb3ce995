//! Which values an axis names.
//!
//! Steps of 1, 2 or 5 times a power of ten; on logarithmic axes the values 1, 2 and 5 of each
//! decade, or fewer where they would crowd. Every value is an integer times an exact decimal step,
//! so that no tick ever reads 0.30000000000000004.

mod label;
mod log;

pub use label::{decimal_label, number_label};

use crate::range::Range;
use crate::scale::Kind;

/// The ticks of one axis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ticks {
    /// Named values, ascending, with their text.
    pub major: Vec<(f64, String)>,
    /// Unnamed values between, ascending.
    pub minor: Vec<f64>,
}

/// A step of 1, 2 or 5 times a power of ten.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Step {
    pub(crate) factor: i64,
    pub(crate) exponent: i32,
}

impl Step {
    /// The smallest such step that is at least `least`.
    fn at_least(least: f64) -> Self {
        let mut exponent = libm::floor(libm::log10(least)) as i32 - 1;
        loop {
            for factor in [1, 2, 5] {
                let step = Self { factor, exponent };
                if step.times(1) >= least {
                    return step;
                }
            }
            exponent += 1;
        }
    }

    /// A whole number of steps, correctly rounded while the powers of ten are exact.
    pub(crate) fn times(self, count: i64) -> f64 {
        let whole = (count * self.factor) as f64;
        if self.exponent >= 0 {
            whole * power_of_ten(self.exponent)
        } else {
            whole / power_of_ten(-self.exponent)
        }
    }

    /// The next smaller steps, that stand between two of this one.
    fn minor(self) -> Self {
        match self.factor {
            1 => Self { factor: 2, exponent: self.exponent - 1 },
            2 => Self { factor: 5, exponent: self.exponent - 1 },
            _ => Self { factor: 1, exponent: self.exponent },
        }
    }

    /// The multiples that lie in a range, as counts.
    fn counts(self, range: Range) -> std::ops::RangeInclusive<i64> {
        let one = self.times(1);
        // A value that misses the end by rounding only still belongs to it.
        let slack = 1e-9;
        let first = libm::ceil(range.lo() / one - slack);
        let last = libm::floor(range.hi() / one + slack);
        first as i64..=last as i64
    }
}

/// Ten to a power from 0 to 22 exactly, beyond by `libm::pow`.
pub(crate) fn power_of_ten(exponent: i32) -> f64 {
    if exponent > 22 {
        return libm::pow(10.0, f64::from(exponent));
    }
    (0..exponent).fold(1.0, |product, _| product * 10.0)
}

/// Ticks of a range: at most `most` named ones (2 at least are allowed).
#[must_use]
pub fn ticks(kind: Kind, range: Range, most: usize) -> Ticks {
    let most = most.clamp(2, 100);
    match kind {
        Kind::Linear => linear(range, most),
        Kind::Log => log::ticks(range.positive(), most),
    }
}

fn linear(range: Range, most: usize) -> Ticks {
    let mut step = Step::at_least(range.span() / most as f64);
    while step.counts(range).count() > most {
        step = Step::at_least(step.times(1) * 1.5);
    }
    // One name alone gives no scale: the next finer step may then hold a few more than wished.
    while step.counts(range).count() < 2 {
        step = Step::at_least(step.times(1) / 2.6);
    }
    let major =
        step.counts(range).map(|k| (step.times(k), decimal_label(step.times(k), -step.exponent))).collect();
    let small = step.minor();
    let per = (step.times(1) / small.times(1) + 0.5) as i64;
    let minor = small.counts(range).filter(|k| k.rem_euclid(per) != 0).map(|k| small.times(k)).collect();
    Ticks { major, minor }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(kind: Kind, lo: f64, hi: f64, most: usize, expected: &[&str]) {
        let found = ticks(kind, Range::around(lo, hi), most);
        let labels: Vec<&str> = found.major.iter().map(|(_, text)| text.as_str()).collect();
        assert_eq!(labels, expected, "{kind:?} {lo} to {hi}, {most}");
    }

    #[test]
    fn steps_of_one_two_and_five() {
        check(Kind::Linear, 0.07, 3.05, 2, &["1", "2", "3"]);
        check(Kind::Linear, 9.8, 14.6, 6, &["10", "11", "12", "13", "14"]);
        check(Kind::Linear, 0.0, 1.0, 6, &["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]);
        check(Kind::Linear, 80.0, 96.0, 9, &["80", "82", "84", "86", "88", "90", "92", "94", "96"]);
        check(Kind::Linear, -0.1, 0.35, 5, &["−0.1", "0.0", "0.1", "0.2", "0.3"]);
        check(
            Kind::Linear,
            0.0,
            40000.0,
            5,
            &["0", "10\u{2009}000", "20\u{2009}000", "30\u{2009}000", "40\u{2009}000"],
        );
        check(Kind::Linear, 99.6, 100.25, 4, &["99.6", "99.8", "100.0", "100.2"]);
    }

    #[test]
    fn logarithmic_axes() {
        check(Kind::Log, 0.03, 2.5, 8, &["0.05", "0.1", "0.2", "0.5", "1", "2"]);
        check(Kind::Log, 0.001, 1000.0, 8, &["0.001", "0.01", "0.1", "1", "10", "100", "1000"]);
        check(Kind::Log, 1.1, 1.6, 6, &["1.1", "1.2", "1.3", "1.4", "1.5", "1.6"]);
        check(Kind::Log, 1e-9, 1e9, 5, &["10⁻⁸", "10⁻⁴", "1", "10⁴", "10⁸"]);
    }

    #[test]
    fn minor_ticks_stand_between() {
        let found = ticks(Kind::Linear, Range::around(10.0, 12.0), 4);
        assert_eq!(found.major.len(), 3);
        assert_eq!(found.minor, vec![10.2, 10.4, 10.6, 10.8, 11.2, 11.4, 11.6, 11.8]);
        let found = ticks(Kind::Log, Range::around(0.09, 1.05), 8);
        assert_eq!(found.minor, vec![0.09, 0.3, 0.4, 0.6, 0.7, 0.8, 0.9]);
    }

    #[test]
    fn never_more_than_asked_and_always_inside() {
        let mut seed = 1_u64;
        for _ in 0..2000 {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let a = ((seed >> 20) as f64 / 17_592_186_044_416.0 - 0.5) * power_of_ten((seed % 13) as i32);
            let b =
                a + ((seed >> 33) as f64 / 2_147_483_648.0 + 1e-6) * power_of_ten((seed % 7) as i32) * 0.01;
            for kind in [Kind::Linear, Kind::Log] {
                let range = Range::around(a, b);
                let range = if kind == Kind::Log { range.positive() } else { range };
                let found = ticks(kind, range, 7);
                assert!(found.major.len() <= 7, "{range:?} {found:?}");
                let slack = range.span() * 1e-6;
                for (value, _) in &found.major {
                    assert!(
                        *value >= range.lo() - slack && *value <= range.hi() + slack,
                        "{range:?} {value}"
                    );
                }
                for pair in found.major.windows(2) {
                    assert!(pair[0].0 < pair[1].0 && pair[0].1 != pair[1].1, "{range:?} {found:?}");
                }
                if kind == Kind::Linear {
                    assert!(found.major.len() >= 2, "{range:?} {found:?}");
                }
            }
        }
    }
}
