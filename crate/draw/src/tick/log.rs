//! Ticks of logarithmic axes.

use super::{Step, Ticks, linear, number_label};
use crate::range::Range;

/// Ticks of a range above zero.
pub(super) fn ticks(range: Range, most: usize) -> Ticks {
    let first = libm::floor(libm::log10(range.lo()) + 1e-9) as i32;
    let last = libm::floor(libm::log10(range.hi()) + 1e-9) as i32;
    let named = |factors: &[i64]| -> Vec<f64> { members(range, first, last, 1, factors) };

    let full = named(&[1, 2, 5]);
    if full.len() < 3 && range.hi() / range.lo() < 20.0 {
        return linear(range, most);
    }
    if full.len() <= most {
        return with_minor(range, first, last, full);
    }
    let mut every = 1;
    loop {
        let decades = members(range, first, last, every, &[1]);
        if decades.len() <= most {
            let minor =
                if every == 1 { digits(range, first, last) } else { members(range, first, last, 1, &[1]) };
            return assemble(decades, minor);
        }
        every += 1;
    }
}

fn with_minor(range: Range, first: i32, last: i32, named: Vec<f64>) -> Ticks {
    assemble(named, digits(range, first, last))
}

fn digits(range: Range, first: i32, last: i32) -> Vec<f64> {
    members(range, first, last, 1, &[1, 2, 3, 4, 5, 6, 7, 8, 9])
}

/// The values `factor * 10^decade` inside a range, ascending, of every so-many-th decade.
fn members(range: Range, first: i32, last: i32, every: i32, factors: &[i64]) -> Vec<f64> {
    let mut values = Vec::new();
    for exponent in (first..=last).filter(|decade| decade.rem_euclid(every) == 0) {
        for &factor in factors {
            let value = Step { factor, exponent }.times(1);
            if value >= range.lo() * (1.0 - 1e-9) && value <= range.hi() * (1.0 + 1e-9) {
                values.push(value);
            }
        }
    }
    values
}

fn assemble(named: Vec<f64>, mut minor: Vec<f64>) -> Ticks {
    minor.retain(|value| !named.contains(value));
    Ticks { major: named.into_iter().map(|value| (value, number_label(value))).collect(), minor }
}
