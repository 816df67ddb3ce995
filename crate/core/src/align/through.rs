//! Delays from a straight-through run: every channel follows one current.

use super::{Delays, Source, Steps};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::math::stats::{self, QuantileRule};

/// Rows on each side in a local straight line.
const HALF: usize = 6;

/// What a straight-through run tells of the delays, against the input current.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Through {
    /// Reading of the channel per ampere of input current read; for the output current the ratio of the
    /// two current gains. `None` where it cannot be told.
    pub gain: [Option<f64>; 5],
    /// Time of the channel's sample after the input current's, s; 0 where it cannot be told.
    pub seconds: [f64; 5],
    /// Standard uncertainty, s; `None` where it cannot be told.
    pub u: [Option<f64>; 5],
    /// Row period of the run, s.
    pub row_period: f64,
}

impl Through {
    /// Whether the delay between the two currents is known to a quarter of a row period.
    #[must_use]
    pub fn useful(&self) -> bool {
        self.u[Channel::IOut.index()].is_some_and(|u| u < 0.25 * self.row_period)
    }

    /// The delays it gives. A channel that it cannot tell takes the mean of those it can.
    #[must_use]
    pub fn delays(&self) -> Delays {
        let known = || (0..5).filter(|&at| self.u[at].is_some());
        let count = known().count();
        let mean = known().map(|at| self.seconds[at]).sum::<f64>() / count.max(1) as f64;
        let mut seconds = self.seconds;
        for (at, delay) in seconds.iter_mut().enumerate() {
            if self.u[at].is_none() {
                *delay = mean;
            }
        }
        Delays { from: Source::StraightThrough, seconds, u: self.u }
    }
}

/// Finds the delays in a straight-through run, each channel against the input current.
///
/// **Formula** `y = g x + g d x' + c` with `x` the input current and `x'` its slope from a straight line
/// through 13 rows, over stretches where that slope is steady. **Source** first-order expansion of
/// `y(t) = g x(t + d) + c`; ordinary least squares. **Missing data** a channel that is absent, does not
/// follow the current, or whose delay comes out less certain than half a row gets `None`.
#[must_use]
pub fn through_delays(readings: &Readings, steps: &Steps) -> Through {
    let mut through = Through { row_period: readings.row_period, ..Through::default() };
    let reference = Channel::IIn.index();
    if !readings.has(Channel::IIn) {
        return through;
    }
    let places = steady_slopes(readings, steps, readings.column(Channel::IIn));
    for channel in CHANNELS {
        let at = channel.index();
        if at == reference || !readings.has(channel) {
            continue;
        }
        let fit = regress(readings.column(Channel::IIn), readings.column(channel), &places);
        if let Some(fit) = fit.filter(|fit| fit.delay_u < 0.5 * readings.row_period) {
            through.gain[at] = Some(fit.gain);
            through.seconds[at] = fit.delay;
            through.u[at] = Some(fit.delay_u);
        }
    }
    if through.u.iter().any(Option::is_some) {
        through.gain[reference] = Some(1.0);
        through.u[reference] = Some(0.0);
    }
    through
}

struct Fit {
    gain: f64,
    delay: f64,
    delay_u: f64,
}

/// Rows with the slope of the current there, per second, where the slope is steady.
fn steady_slopes(readings: &Readings, steps: &Steps, current: &[f64]) -> Vec<(usize, f64)> {
    let mut places = Vec::new();
    let mut slopes: Vec<f64> = Vec::new();
    for segment in &readings.segments {
        let length = segment.last + 1 - segment.first;
        if length < 4 * HALF + 1 {
            continue;
        }
        slopes.clear();
        slopes.resize(length, f64::NAN);
        for (middle, slope) in slopes.iter_mut().enumerate().take(length - HALF).skip(HALF) {
            let first = segment.first + middle - HALF;
            let window = first..first + 2 * HALF + 1;
            let stepped =
                steps.from(window.start).first().is_some_and(|step| (step.0 as usize) < window.end - 1);
            if !stepped {
                *slope = line_slope(&readings.time[window.clone()], &current[window]);
            }
        }
        for middle in 2 * HALF..length - 2 * HALF {
            let (lead, here, lag) = (slopes[middle - HALF], slopes[middle], slopes[middle + HALF]);
            if (lead - lag).is_finite() && here.is_finite() {
                places.push((segment.first + middle, here, (lead - lag).abs()));
            }
        }
    }
    let mut sizes: Vec<f64> = places.iter().map(|place| place.1.abs()).collect();
    let top = stats::quantile(&mut sizes, 0.98, QuantileRule::Linear).unwrap_or(0.0);
    places.into_iter().filter(|place| place.2 < 0.15 * top).map(|(row, slope, _)| (row, slope)).collect()
}

fn line_slope(time: &[f64], values: &[f64]) -> f64 {
    let count = time.len() as f64;
    let mean_time = time.iter().sum::<f64>() / count;
    let mean = values.iter().sum::<f64>() / count;
    let mut cross = 0.0;
    let mut square = 0.0;
    for (&at, &value) in time.iter().zip(values) {
        cross += (at - mean_time) * (value - mean);
        square += (at - mean_time) * (at - mean_time);
    }
    cross / square
}

/// Least squares of `y` on the current, its slope and one.
fn regress(current: &[f64], other: &[f64], places: &[(usize, f64)]) -> Option<Fit> {
    let used: Vec<[f64; 3]> = places
        .iter()
        .map(|&(row, slope)| [current[row], slope, other[row]])
        .filter(|entry| entry.iter().all(|value| value.is_finite()))
        .collect();
    let count = used.len() as f64;
    if used.len() < 20 {
        return None;
    }
    let mut mean = [0.0; 3];
    for entry in &used {
        for (sum, value) in mean.iter_mut().zip(entry) {
            *sum += value / count;
        }
    }
    let mut moment = [[0.0; 3]; 3];
    for entry in &used {
        let centred = [entry[0] - mean[0], entry[1] - mean[1], entry[2] - mean[2]];
        for (row, left) in moment.iter_mut().zip(centred) {
            for (sum, right) in row.iter_mut().zip(centred) {
                *sum += left * right;
            }
        }
    }
    let determinant = moment[0][0] * moment[1][1] - moment[0][1] * moment[1][0];
    if determinant <= 1e-9 * moment[0][0] * moment[1][1] {
        return None;
    }
    let gain = (moment[0][2] * moment[1][1] - moment[1][2] * moment[0][1]) / determinant;
    let slope = (moment[1][2] * moment[0][0] - moment[0][2] * moment[0][1]) / determinant;
    let residual = (moment[2][2] - gain * moment[0][2] - slope * moment[1][2]).max(0.0) / (count - 3.0);
    let gain_u = libm::sqrt(residual * moment[1][1] / determinant);
    if gain.abs() < 10.0 * gain_u || gain == 0.0 {
        return None;
    }
    let delay_u = libm::sqrt(residual * moment[0][0] / determinant) / gain.abs();
    Some(Fit { gain, delay: slope / gain, delay_u })
}
