//! Delays from an ordinary run: rows of rising and of falling current must tell the same ratio.
//!
//! Heating opens a gap between up and down too. It differs from the gap of delays by its course over
//! current, and a gap that delays cannot close is left alone.

use super::{Aligned, Delays, Source, Steps};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::math::stats::{self, QuantileRule};

/// Bins along the output current, between its 4 % and 96 % quantiles.
const BINS: usize = 47;
/// Rows of each direction that a bin needs.
const BIN_ROWS: usize = 9;
/// Rows on each side that tell the direction.
const HALF: usize = 4;
/// Rows looked at; longer runs are sampled in even blocks.
const MOST_ROWS: usize = 32_768;
/// Rows in one such block.
const SAMPLED_BLOCK: usize = 1024;

/// What the up/down gap tells of equally spaced channels.
#[derive(Clone, Debug, PartialEq)]
pub struct UpDown {
    /// Time from one channel's sample to the next one's, s.
    pub spacing: f64,
    /// Standard uncertainty, s: what the gap that is left would be worth, had it one cause.
    pub spacing_u: f64,
    /// Place of each channel in the order of sampling, from 0.
    pub order: [usize; 5],
}

impl UpDown {
    /// The delays it gives.
    #[must_use]
    pub fn delays(&self, readings: &Readings) -> Delays {
        let mut delays = spaced(readings, &self.order, self.spacing);
        delays.from = Source::UpDown;
        for channel in CHANNELS {
            if readings.has(channel) {
                let place = self.order[channel.index()] as f64;
                delays.u[channel.index()] = Some(place * self.spacing_u);
            }
        }
        delays
    }
}

fn spaced(readings: &Readings, order: &[usize; 5], spacing: f64) -> Delays {
    let mut delays = Delays::none();
    for channel in CHANNELS {
        if readings.has(channel) {
            delays.seconds[channel.index()] = order[channel.index()] as f64 * spacing;
        }
    }
    delays
}

/// A row of the run that moves.
struct Moving {
    row: usize,
    bin: usize,
    rising: bool,
}

/// Finds the spacing of channels sampled one after another, in the order of `columns` (the number
/// of each channel's column in the log), from the gap between rising and falling rows.
///
/// **Formula** the spacing that makes the sum over current bins of the squared difference of median
/// ratios smallest; each bin's difference is near to linear in the spacing, so a few secant steps of least squares find
/// it, and the gap that is left gives its uncertainty. **Missing data** `None` where fewer than
/// eight bins hold moving rows of both directions, where no spacing within the row period closes the gap, or
/// where input and output cannot be compared.
#[must_use]
pub fn up_down_delay(readings: &Readings, steps: &Steps, columns: &[usize; 5]) -> Option<UpDown> {
    let order = ranks(readings, columns);
    let channels = CHANNELS.into_iter().filter(|&channel| readings.has(channel)).count();
    let widest = readings.row_period / channels.saturating_sub(1).max(1) as f64;
    let moving = moving_rows(readings, steps)?;
    let gaps = |spacing: f64| bin_gaps(readings, steps, &moving, &spaced(readings, &order, spacing));
    let before = mean_square(&gaps(0.0))?;
    let (mut low, mut high) = (0.0, 0.5 * widest);
    let mut found = (0.0, f64::INFINITY);
    for _ in 0..4 {
        let (at_low, at_high) = (gaps(low), gaps(high));
        let (mut cross, mut square, mut bins) = (0.0, 0.0, 0.0);
        let pairs = || at_low.iter().zip(&at_high).filter_map(|pair| (*pair.0).zip(*pair.1));
        for (first, second) in pairs() {
            let slope = (second - first) / (high - low);
            cross += slope * first;
            square += slope * slope;
            bins += 1.0;
        }
        if bins < 8.0 || square <= 0.0 {
            return None;
        }
        let spacing = (low - cross / square).clamp(-0.1 * widest, 1.3 * widest);
        let mut rest = 0.0;
        for (first, second) in pairs() {
            let slope = (second - first) / (high - low);
            let left = first + slope * (spacing - low);
            rest += left * left;
        }
        // Not divided by the bins' number: what is left may have one cause, such as a sinking supply.
        found = (spacing, libm::sqrt(rest / square));
        low = spacing - 0.1 * widest;
        high = spacing + 0.1 * widest;
    }
    let (spacing, spacing_u) = found;
    let after = mean_square(&gaps(spacing))?;
    let inside = spacing > -2.0 * spacing_u && spacing < 1.1 * widest;
    if !inside || spacing_u > 0.25 * widest {
        return None;
    }
    if spacing.abs() < 2.0 * spacing_u {
        // No delay seen is a result only where one would have been seen.
        return (spacing_u < 0.05 * widest).then_some(UpDown { spacing: 0.0, spacing_u, order });
    }
    (after < 0.25 * before).then_some(UpDown { spacing, spacing_u, order })
}

/// Root-mean-square gap between rising and falling rows with these delays, as a fraction of the ratio of
/// powers between the sense nodes; `None` where nothing rises and falls.
#[must_use]
pub fn up_down_gap(readings: &Readings, steps: &Steps, delays: &Delays) -> Option<f64> {
    let moving = moving_rows(readings, steps)?;
    mean_square(&bin_gaps(readings, steps, &moving, delays)).map(libm::sqrt)
}

/// Place of each present channel in the order of its column.
fn ranks(readings: &Readings, columns: &[usize; 5]) -> [usize; 5] {
    let mut order = [0; 5];
    for channel in CHANNELS {
        let here = columns[channel.index()];
        order[channel.index()] = CHANNELS
            .into_iter()
            .filter(|&other| readings.has(other) && columns[other.index()] < here)
            .count();
    }
    order
}

fn moving_rows(readings: &Readings, steps: &Steps) -> Option<Vec<Moving>> {
    let needed = [Channel::VIn, Channel::VOutHigh, Channel::IIn, Channel::IOut];
    if needed.iter().any(|&channel| !readings.has(channel)) || readings.row_period <= 0.0 {
        return None;
    }
    let current = readings.column(Channel::IOut);
    let mut sample = stats::even_sample(current, 65_536);
    let low = stats::quantile(&mut sample, 0.04, QuantileRule::Linear)?;
    let high = stats::quantile(&mut sample, 0.96, QuantileRule::Linear)?;
    let noise = stats::noise(current).unwrap_or(0.0).max(0.5 * readings.resolution[Channel::IOut.index()]);
    if high - low < 20.0 * noise || high <= 0.0 {
        return None;
    }
    let low = low.max(0.02 * high);
    let mut moving = Vec::new();
    for segment in &readings.segments {
        let mut from = segment.first + HALF;
        while from + HALF <= segment.last {
            // Each block of the sampling starts at a place that does not depend on the segments.
            let skip = (readings.rows() / MOST_ROWS).max(1) * SAMPLED_BLOCK;
            if readings.rows() > MOST_ROWS && from % skip >= SAMPLED_BLOCK {
                from += skip - from % skip;
                continue;
            }
            let row = from;
            from += 1;
            let stepped = steps.from(row - HALF).first().is_some_and(|step| (step.0 as usize) < row + HALF);
            let here = current[row];
            if stepped || !(here >= low && here < high) {
                continue;
            }
            let change: f64 = (1..=HALF).map(|side| current[row + side] - current[row - side]).sum();
            if change.abs() > 4.0 * libm::sqrt(2.0 * HALF as f64) * noise {
                let bin = ((here - low) / (high - low) * BINS as f64) as usize;
                moving.push(Moving { row, bin: bin.min(BINS - 1), rising: change > 0.0 });
            }
        }
    }
    (!moving.is_empty()).then_some(moving)
}

/// Median ratio of rising rows less that of falling rows, per bin.
fn bin_gaps(readings: &Readings, steps: &Steps, moving: &[Moving], delays: &Delays) -> Vec<Option<f64>> {
    let aligned = Aligned::new(readings, steps, delays);
    let mut ratios = vec![[Vec::new(), Vec::new()]; BINS];
    for place in moving {
        let [v_in, high, low, i_in, i_out] = aligned.reading(place.row);
        let ratio = (high - low) * i_out / (v_in * i_in);
        if ratio.is_finite() {
            ratios[place.bin][usize::from(place.rising)].push(ratio);
        }
    }
    ratios
        .iter_mut()
        .map(|[falling, rising]| {
            if falling.len() < BIN_ROWS || rising.len() < BIN_ROWS {
                return None;
            }
            stats::median(rising).zip(stats::median(falling)).map(|(up, down)| up - down)
        })
        .collect()
}

fn mean_square(gaps: &[Option<f64>]) -> Option<f64> {
    let squares: Vec<f64> = gaps.iter().flatten().map(|gap| gap * gap).collect();
    (!squares.is_empty()).then(|| squares.iter().sum::<f64>() / squares.len() as f64)
}
