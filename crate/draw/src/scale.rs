//! Where a value lies along an axis, and back.

use crate::range::Range;
use serde::Deserialize;

/// How values spread along an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Equal steps are equally long.
    #[default]
    Linear,
    /// Equal ratios are equally long; values above zero only.
    Log,
}

/// A map between values and places along an axis, such as pixels.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    kind: Kind,
    range: Range,
    /// Ends of the range, as logarithms on a logarithmic scale.
    inner: (f64, f64),
    start: f64,
    end: f64,
}

impl Scale {
    /// The scale that puts the lower end of the range at `start` and the upper one at `end`.
    ///
    /// A logarithmic scale takes [`Range::positive`] of the range.
    #[must_use]
    pub fn new(kind: Kind, range: Range, start: f64, end: f64) -> Self {
        let range = if kind == Kind::Log { range.positive() } else { range };
        let inner = match kind {
            Kind::Linear => (range.lo(), range.hi()),
            Kind::Log => (libm::log10(range.lo()), libm::log10(range.hi())),
        };
        Self { kind, range, inner, start, end }
    }

    /// Linear or logarithmic.
    #[must_use]
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// The values at its ends.
    #[must_use]
    pub fn range(&self) -> Range {
        self.range
    }

    /// Share of the way from the lower to the upper end, outside 0 to 1 beyond them.
    ///
    /// **Missing data** `NaN` for `NaN` and, on a logarithmic scale, for values at or below zero.
    #[must_use]
    pub fn share(&self, value: f64) -> f64 {
        let inner = match self.kind {
            Kind::Linear => value,
            Kind::Log if value > 0.0 => libm::log10(value),
            Kind::Log => return f64::NAN,
        };
        (inner - self.inner.0) / (self.inner.1 - self.inner.0)
    }

    /// Place of a value along the axis; see [`Scale::share`] for what has none.
    #[must_use]
    pub fn place(&self, value: f64) -> f64 {
        self.start + self.share(value) * (self.end - self.start)
    }

    /// The value at a place along the axis.
    #[must_use]
    pub fn value(&self, place: f64) -> f64 {
        let share = (place - self.start) / (self.end - self.start);
        let inner = self.inner.0 + share * (self.inner.1 - self.inner.0);
        match self.kind {
            Kind::Linear => inner,
            Kind::Log => libm::pow(10.0, inner),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn goes_there_and_back() {
        for kind in [Kind::Linear, Kind::Log] {
            let scale = Scale::new(kind, Range::around(0.03, 2.5), 400.0, 10.0);
            assert_eq!(scale.place(0.03), 400.0);
            assert!((scale.place(2.5) - 10.0).abs() < 1e-9);
            for value in [0.031, 0.5, 2.0] {
                assert!((scale.value(scale.place(value)) - value).abs() < 1e-12, "{kind:?} {value}");
            }
        }
    }

    #[test]
    fn a_decade_is_a_decade() {
        let scale = Scale::new(Kind::Log, Range::around(0.1, 1000.0), 0.0, 400.0);
        for (value, place) in [(1.0, 100.0), (10.0, 200.0), (100.0, 300.0)] {
            assert!((scale.place(value) - place).abs() < 1e-9);
        }
        assert!(scale.place(0.0).is_nan() && scale.place(-1.0).is_nan());
    }
}
