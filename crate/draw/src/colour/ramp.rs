//! Tables of 256 colours and which entry a value takes.

use super::{CIVIDIS, Look, Rgb, mix};
use crate::range::Range;
use serde::Deserialize;

/// Which table colours a value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ramp {
    /// Cividis: low is dark blue, high is yellow.
    #[default]
    Efficiency,
    /// Cividis turned round: the best, here the lowest, stays yellow.
    Loss,
    /// Slate below zero, copper above, the plate at zero.
    Difference,
    /// The plate at the lowest value, copper towards the highest: a share.
    Share,
}

impl Ramp {
    /// Its 256 colours from the lowest to the highest value.
    #[must_use]
    pub fn table(self, look: &Look) -> [Rgb; 256] {
        match self {
            Self::Efficiency => efficiency_table(),
            Self::Loss => std::array::from_fn(|k| CIVIDIS[255 - k]),
            Self::Difference => difference_table(look),
            Self::Share => {
                std::array::from_fn(|k| mix(look.plate, look.copper, k as f64 / 255.0 * STRONGEST))
            }
        }
    }

    /// The range its table spreads over: as given, or symmetric about zero for a difference.
    #[must_use]
    pub fn spread(self, range: Range) -> Range {
        if self == Self::Difference {
            let end = if range.hi() > -range.lo() { range.hi() } else { -range.lo() };
            Range::around(-end, end)
        } else {
            range
        }
    }
}

/// Colours of efficiency.
#[must_use]
pub fn efficiency_table() -> [Rgb; 256] {
    CIVIDIS
}

/// How far a colour goes from the plate: numbers in ink stay legible on it.
const STRONGEST: f64 = 0.45;

/// Colours of a difference: slate, plate, copper; pale enough that a number in ink reads on each.
#[must_use]
pub fn difference_table(look: &Look) -> [Rgb; 256] {
    std::array::from_fn(|k| {
        let signed = (k as f64 - 127.5) / 127.5;
        if signed < 0.0 {
            mix(look.plate, look.slate, -signed * STRONGEST)
        } else {
            mix(look.plate, look.copper, signed * STRONGEST)
        }
    })
}

/// The entry of a table of 256 that a value takes; values beyond an end take that end's.
///
/// **Missing data** a value that is no number takes the first entry; draw nothing for it instead.
#[must_use]
pub fn slot(range: Range, value: f64) -> u8 {
    Slots::of(range).slot(value)
}

/// The entries that the values of a range take, for many values.
#[derive(Clone, Copy, Debug)]
pub struct Slots {
    lo: f64,
    per_unit: f64,
}

impl Slots {
    /// Those of a range.
    #[must_use]
    pub fn of(range: Range) -> Self {
        Self { lo: range.lo(), per_unit: 256.0 / range.span() }
    }

    /// As [`slot`].
    #[inline]
    #[must_use]
    pub fn slot(self, value: f64) -> u8 {
        // The cast holds at both ends and sends NaN to 0.
        ((value - self.lo) * self.per_unit) as u8
    }
}
