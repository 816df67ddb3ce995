//! A change of resolution with the size of the readings: the trace of a range that switches.

use crate::math::stats::even_sample;

/// Where small readings come in finer steps than large ones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Split {
    /// Size of the reading from which the steps are coarse.
    pub(super) at: f64,
    /// Smallest step below.
    pub(super) fine: f64,
    /// Smallest step above.
    pub(super) coarse: f64,
}

/// Readings looked at.
const LOOKED_AT: usize = 20_000;

/// Fewer different readings in a band of sizes say nothing of its steps.
const FEWEST: usize = 12;

/// Bands of sizes, each four fifths of the next.
const BANDS: usize = 30;

/// How much coarser the steps must become.
const COARSER: f64 = 3.0;

/// Looks for a size above which all readings are whole multiples of a step that is clearly coarser
/// than the steps below.
///
/// Numbers written with a fixed count of digits do the same at powers of ten, by a factor of ten; that
/// is no change of range. **Source** common practice, no source.
pub(super) fn split_by_steps(values: &[f64]) -> Option<Split> {
    let mut sizes: Vec<f64> = even_sample(values, LOOKED_AT).into_iter().map(f64::abs).collect();
    sizes.sort_unstable_by(f64::total_cmp);
    sizes.dedup();
    if sizes.len() < 4 * FEWEST {
        return None;
    }
    let top = *sizes.last()?;
    let least = 1e-9 * top;
    let smallest = |band: &[f64]| {
        band.windows(2)
            .map(|pair| pair[1] - pair[0])
            .filter(|step| *step > least)
            .fold(f64::INFINITY, f64::min)
    };
    // Bands from the largest sizes down; `edge` is a band's lower end.
    let (mut edge, mut end) = (top, sizes.len());
    let mut bands: Vec<(usize, f64)> = Vec::new();
    for _ in 0..BANDS {
        edge *= 0.8;
        let start = sizes.partition_point(|size| *size < edge);
        if end - start >= FEWEST {
            bands.push((start, smallest(sizes.get(start..end)?)));
            end = start;
        }
    }
    let mut best: Option<(usize, f64, f64)> = None;
    for split in 1..bands.len() {
        let (above, below) = bands.split_at(split);
        let coarse = above.iter().map(|(_, step)| *step).fold(f64::INFINITY, f64::min);
        let fine = below.iter().map(|(_, step)| *step).fold(0.0, f64::max);
        let clear = fine > 0.0 && fine.is_finite() && coarse.is_finite() && coarse >= COARSER * fine;
        if clear && best.is_none_or(|(_, known_fine, known)| coarse / fine > known / known_fine) {
            best = Some((above.last()?.0, fine, coarse));
        }
    }
    let (start, fine, coarse) = best?;
    // All above must lie on one grid; what lies beside it below is the fine range.
    let anchor = *sizes.get(start)?;
    let beside = |size: f64| {
        let turns = (size - anchor) / coarse;
        (turns - libm::round(turns)).abs() > 0.05
    };
    let above = sizes.get(start..)?;
    if above.iter().filter(|size| beside(**size)).count() * 20 > above.len() {
        return None;
    }
    let last_fine = sizes.get(..start)?.iter().rposition(|size| beside(*size))?;
    let at = 0.5 * (sizes.get(last_fine)? + sizes.get(last_fine + 1)?);
    let decade = libm::pow(10.0, libm::round(libm::log10(at)));
    let digits = (at / decade - 1.0).abs() < 0.02 && (coarse / fine - 10.0).abs() < 0.1;
    (!digits).then_some(Split { at, fine, coarse })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A triangle up and down between 0 and 2 A, some rows each way, with a little noise.
    fn currents(rows: usize) -> Vec<f64> {
        (0..rows)
            .map(|row| {
                let phase = (row % 997) as f64 / 997.0;
                let wobble = ((row * 7919) % 101) as f64 * 1e-5;
                2.0 * (1.0 - (2.0 * phase - 1.0).abs()) + wobble
            })
            .collect()
    }

    fn on_grid(value: f64, step: f64) -> f64 {
        libm::round(value / step) * step
    }

    #[test]
    fn finds_where_the_steps_become_coarse() {
        let switching: Vec<f64> = currents(6000)
            .into_iter()
            .map(|value| on_grid(value, if value < 0.6 { 0.000_2 } else { 0.005 }))
            .collect();
        let split = split_by_steps(&switching).unwrap();
        assert!((split.at - 0.6).abs() < 0.01, "{split:?}");
        assert!((split.coarse - 0.005).abs() < 1e-9 && (split.fine - 0.000_2).abs() < 1e-9, "{split:?}");
    }

    #[test]
    fn one_grid_and_digits_of_a_number_are_no_ranges() {
        let single: Vec<f64> = currents(6000).into_iter().map(|value| on_grid(value, 0.005)).collect();
        assert_eq!(split_by_steps(&single), None);
        let digits: Vec<f64> = currents(6000)
            .into_iter()
            .map(|value| on_grid(value, if value < 1.0 { 0.000_1 } else { 0.001 }))
            .collect();
        assert_eq!(split_by_steps(&digits), None);
    }
}
