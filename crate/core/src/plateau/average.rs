//! One averaged point of each stretch.

use std::ops::Range;

use super::Plateau;
use crate::align::Noise;
use crate::channel::{CHANNELS, Channel, Readings, Segment, SegmentStart};
use crate::math::stats;

/// Readings farther from the median than so many standard deviations are left out.
const FAR: f64 = 6.0;
/// Rows of a block whose means tell how rows hang together.
const BLOCK: usize = 12;

/// Whether each row of a range is averaged: complete, and no reading stands out.
fn kept(readings: &Readings, noise: &Noise, rows: &Range<usize>) -> Vec<bool> {
    let mut kept = vec![true; rows.len()];
    for channel in CHANNELS {
        let column = readings.column(channel);
        if column.is_empty() {
            continue;
        }
        let column = &column[rows.clone()];
        let mut known: Vec<f64> = column.iter().copied().filter(|value| value.is_finite()).collect();
        let middle = stats::median(&mut known).unwrap_or(0.0);
        let spread = stats::scaled_mad(&mut known).unwrap_or(0.0).max(noise.floor[channel.index()]);
        for (kept, value) in kept.iter_mut().zip(column) {
            *kept &= (value - middle).abs() <= FAR * spread || spread <= 0.0 && value.is_finite();
        }
    }
    kept
}

/// The mean of a stretch; `None` where too few rows are left. The last row may stand in the next change and is left.
pub(super) fn average(
    readings: &Readings,
    noise: &Noise,
    start: usize,
    rows: Range<usize>,
    least: usize,
) -> Option<Plateau> {
    let rows = if rows.len() > 10 { rows.start..rows.end - 1 } else { rows };
    let kept = kept(readings, noise, &rows);
    let count = kept.iter().filter(|kept| **kept).count();
    if count < least.max(2) {
        return None;
    }
    let (mut mean, mut scatter) = ([f64::NAN; 5], [0.0; 5]);
    for channel in CHANNELS.into_iter().filter(|&channel| readings.has(channel)) {
        let k = channel.index();
        let column = &readings.columns[k][rows.clone()];
        let chosen = || column.iter().zip(&kept).filter(|(_, kept)| **kept).map(|(value, _)| *value);
        let middle = chosen().sum::<f64>() / count as f64;
        let square: f64 = chosen().map(|value| (value - middle) * (value - middle)).sum();
        mean[k] = middle;
        scatter[k] = libm::sqrt(square / (count - 1) as f64);
    }
    Some(Plateau {
        start,
        first: rows.start,
        last: rows.end - 1,
        rows: count,
        left_out: rows.len() - count,
        mean,
        scatter,
        u: scatter.map(|s| s / libm::sqrt(count as f64)),
        effective: count as f64,
    })
}

/// Widens the uncertainties for rows that hang together: by what means of blocks scatter beyond single rows, over all
/// stretches of the run.
///
/// **Formula** `u = s sqrt(w / n)`, `w` the variance of means of twelve rows times twelve over the variance of
/// rows, at least 1. **Source** method of batch means, common practice; JCGM 100:2008, clause 4.2.
pub(super) fn widen(list: &mut [Plateau], readings: &Readings) {
    for channel in CHANNELS.into_iter().filter(|&channel| readings.has(channel)) {
        let k = channel.index();
        let column = readings.column(channel);
        let (mut of_rows, mut of_blocks, mut freedom) = (0.0, 0.0, 0.0);
        for plateau in list.iter() {
            let column = &column[plateau.first..=plateau.last];
            let far = FAR * plateau.scatter[k];
            let blocks: Vec<f64> = column
                .chunks_exact(BLOCK)
                .filter_map(|block| {
                    let known: Vec<f64> = block
                        .iter()
                        .copied()
                        .filter(|value| (value - plateau.mean[k]).abs() <= far)
                        .collect();
                    (known.len() * 4 >= BLOCK * 3).then(|| known.iter().sum::<f64>() / known.len() as f64)
                })
                .collect();
            if blocks.len() < 3 {
                continue;
            }
            let n = blocks.len() as f64;
            let middle = blocks.iter().sum::<f64>() / n;
            of_blocks += blocks.iter().map(|mean| (mean - middle) * (mean - middle)).sum::<f64>();
            of_rows += (n - 1.0) * plateau.scatter[k] * plateau.scatter[k];
            freedom += n - 1.0;
        }
        let together = if of_rows > 0.0 && freedom > 4.0 { BLOCK as f64 * of_blocks / of_rows } else { 1.0 };
        let together = together.max(1.0);
        for plateau in list.iter_mut() {
            plateau.u[k] = plateau.scatter[k] * libm::sqrt(together / plateau.rows as f64);
            plateau.effective = plateau.effective.min(plateau.rows as f64 / together);
        }
    }
}

/// Usual uncertainty of a mean per channel: what a row of the averaged table scatters.
#[must_use]
pub fn pooled_noise(list: &[Plateau]) -> [f64; 5] {
    std::array::from_fn(|k| {
        let mut values: Vec<f64> = list.iter().map(|plateau| plateau.u[k]).collect();
        stats::median(&mut values).unwrap_or(0.0)
    })
}

/// The run as a table with one row for each stretch: means at the middle instant, lines of the first row averaged.
#[must_use]
pub fn averaged(readings: &Readings, list: &[Plateau]) -> Readings {
    let mut table = Readings::default();
    for plateau in list {
        let (first, last) = (readings.time[plateau.first], readings.time[plateau.last]);
        table.time.push(0.5 * (first + last));
        if let Some(&line) = readings.lines.get(plateau.first) {
            table.lines.push(line);
        }
    }
    for channel in CHANNELS.into_iter().filter(|&channel: &Channel| readings.has(channel)) {
        let k = channel.index();
        table.columns[k] = list.iter().map(|plateau| plateau.mean[k]).collect();
        table.resolution[k] = readings.resolution[k];
    }
    for extra in &readings.extras {
        let mut taken = extra.clone();
        taken.values = list
            .iter()
            .map(|plateau| {
                let known: Vec<f64> = extra
                    .values
                    .get(plateau.first..=plateau.last)
                    .unwrap_or_default()
                    .iter()
                    .copied()
                    .filter(|value| value.is_finite())
                    .collect();
                if known.is_empty() { f64::NAN } else { known.iter().sum::<f64>() / known.len() as f64 }
            })
            .collect();
        table.extras.push(taken);
    }
    if !list.is_empty() {
        table.segments.push(Segment { first: 0, last: list.len() - 1, start: SegmentStart::Start });
    }
    let mut gaps: Vec<f64> = table.time.windows(2).map(|pair| pair[1] - pair[0]).collect();
    table.row_period = stats::median(&mut gaps).filter(|gap| gap.is_finite()).unwrap_or(0.0);
    table
}
