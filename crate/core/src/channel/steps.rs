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
    /// A reading on the coarse steps.
    anchor: f64,
}

impl Split {
    /// Whether a size lies beside the coarse steps, as readings of the fine range do.
    fn is_beside(&self, size: f64) -> bool {
        beside(size, self.anchor, self.coarse)
    }
}

fn beside(size: f64, anchor: f64, coarse: f64) -> bool {
    let turns = (size - anchor) / coarse;
    (turns - libm::round(turns)).abs() > 0.05
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
    let beside = |size: f64| beside(size, anchor, coarse);
    let above = sizes.get(start..)?;
    if above.iter().filter(|size| beside(**size)).count() * 20 > above.len() {
        return None;
    }
    let last_fine = sizes.get(..start)?.iter().rposition(|size| beside(*size))?;
    let at = 0.5 * (sizes.get(last_fine)? + sizes.get(last_fine + 1)?);
    let decade = libm::pow(10.0, libm::round(libm::log10(at)));
    let digits = (at / decade - 1.0).abs() < 0.02 && (coarse / fine - 10.0).abs() < 0.1;
    (!digits).then_some(Split { at, fine, coarse, anchor })
}

/// So many different readings in a row, all on the coarse steps, are no chance.
const NO_CHANCE: usize = 3;

/// Down to this share of the size at which it went up, an instrument may stay in its coarse range.
/// **Source** common practice, no source.
const HOLDS_TO: f64 = 0.5;

/// Of each reading, in order, whether it was taken in the coarse range; `None` without a reading.
///
/// An instrument that went up leaves its coarse range only at a smaller size than the one at which it
/// entered. So readings that follow coarse ones stay coarse while they lie on the coarse steps, where
/// that is no chance.
pub(super) fn coarse_rows(values: &[f64], split: &Split) -> Vec<Option<bool>> {
    let mut out: Vec<Option<bool>> = Vec::with_capacity(values.len());
    let mut last = false;
    let held = |value: f64| {
        let size = value.abs();
        size < split.at && size >= HOLDS_TO * split.at && !split.is_beside(size)
    };
    while let Some(&value) = values.get(out.len()) {
        if value.is_nan() {
            out.push(None);
            continue;
        }
        if !(last && held(value)) {
            last = value.abs() >= split.at;
            out.push(Some(last));
            continue;
        }
        let start = out.len();
        let run = values.get(start..).unwrap_or_default();
        let run = run.iter().take_while(|value| held(**value)).count();
        let mut different: Vec<f64> = Vec::with_capacity(NO_CHANCE);
        for value in values.iter().skip(start).take(run) {
            if different.len() < NO_CHANCE && !different.contains(value) {
                different.push(*value);
            }
        }
        last = different.len() >= NO_CHANCE;
        out.resize(start + run, Some(last));
    }
    out
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

    #[test]
    fn a_range_is_held_until_the_instrument_leaves_it() {
        // Up at 0.6 A, down at 0.4 A.
        let mut coarse = false;
        let (mut truth, mut readings) = (Vec::new(), Vec::new());
        for value in currents(6000) {
            coarse = if coarse { value > 0.4 } else { value > 0.6 };
            truth.push(coarse);
            readings.push(on_grid(value, if coarse { 0.005 } else { 0.000_2 }));
        }
        let split = split_by_steps(&readings).unwrap();
        let found = coarse_rows(&readings, &split);
        let changes = truth.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let wrong = found.iter().zip(&truth).filter(|(found, truth)| **found != Some(**truth)).count();
        assert!(changes >= 11 && wrong <= 2 * changes, "{wrong} rows of {changes} changes");
        let by_size = readings.iter().zip(&truth).filter(|(v, t)| (v.abs() >= split.at) != **t).count();
        assert!(by_size > 10 * wrong.max(1), "size alone tells {by_size} wrong, {wrong} with it");
    }

    #[test]
    fn an_output_switched_off_is_not_taken_for_a_held_range() {
        let mut readings: Vec<f64> = currents(6000)
            .into_iter()
            .map(|value| on_grid(value, if value < 0.6 { 0.000_2 } else { 0.005 }))
            .collect();
        let split = split_by_steps(&readings).unwrap();
        readings.truncate(500);
        readings.extend([0.0; 50]);
        readings.push(f64::NAN);
        let found = coarse_rows(&readings, &split);
        assert!(found[500..550].iter().all(|row| *row == Some(false)) && found[550].is_none());
        let by_size =
            found.iter().zip(&readings).filter(|(row, v)| **row == Some(v.abs() >= split.at)).count();
        assert!(by_size + 3 >= 550, "{by_size}");
    }
}
