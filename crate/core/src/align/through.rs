//! Delays from a straight-through run: every channel follows one current.

use super::{Delays, Source, Steps};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::math::linear::{Matrix, least_squares};
use crate::math::stats::{self, QuantileRule};

/// Rows on each side in a local straight line.
const HALF: usize = 6;
/// Time constants with which the load may warm up, s: an element in seconds, a case in minutes.
const LAGS: [f64; 4] = [2.0, 8.0, 30.0, 120.0];
/// Residuals beyond this many robust standard deviations are left out.
const FAR: f64 = 5.0;

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
/// through 13 rows, over stretches where that slope is steady. The two high nodes follow the load as
/// well, whose warming up and down looks like a delay: for them `x h` is added, with `h` the power
/// passed through first-order lags of 2, 8, 30 and 120 s. **Source** first-order expansion of
/// `y(t) = g x(t + d) + c`; least squares, rows beyond five robust standard deviations left out.
/// **Missing data** a channel that is absent, does not follow the current, or whose delay comes out
/// less certain than half a row gets `None`.
#[must_use]
pub fn through_delays(readings: &Readings, steps: &Steps) -> Through {
    let mut through = Through { row_period: readings.row_period, ..Through::default() };
    let reference = Channel::IIn.index();
    if !readings.has(Channel::IIn) {
        return through;
    }
    let places = steady_slopes(readings, steps, readings.column(Channel::IIn));
    let warming = warming(readings);
    for channel in CHANNELS {
        let at = channel.index();
        if at == reference || !readings.has(channel) {
            continue;
        }
        let warms = matches!(channel, Channel::VIn | Channel::VOutHigh);
        let extra: &[Vec<f64>] = if warms { &warming } else { &[] };
        let fit = regress(readings.column(Channel::IIn), readings.column(channel), &places, extra);
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

/// The current times the power passed through each of [`LAGS`], row by row; empty without voltage.
fn warming(readings: &Readings) -> Vec<Vec<f64>> {
    let current = readings.column(Channel::IIn);
    let volts = readings.column(Channel::VOutHigh);
    if volts.is_empty() {
        return Vec::new();
    }
    LAGS.iter()
        .map(|lag| {
            let mut held = 0.0;
            let mut last = f64::NAN;
            let rows = readings.time.iter().zip(current.iter().zip(volts));
            rows.map(|(&time, (&amps, &volts))| {
                let power = (amps * volts).max(0.0);
                let elapsed = time - last;
                if elapsed > 0.0 && power.is_finite() {
                    held += (power - held) * (1.0 - libm::exp(-elapsed / lag));
                }
                if time.is_finite() {
                    last = time;
                }
                amps * held
            })
            .collect()
        })
        .collect()
}

/// Least squares of `y` on the current, its slope, one, and further columns.
fn regress(current: &[f64], other: &[f64], places: &[(usize, f64)], extra: &[Vec<f64>]) -> Option<Fit> {
    let mut used: Vec<(usize, f64)> = places
        .iter()
        .copied()
        .filter(|&(row, slope)| {
            let known = current[row].is_finite() && slope.is_finite() && other[row].is_finite();
            known && extra.iter().all(|column| column[row].is_finite())
        })
        .collect();
    let unknowns = 3 + extra.len();
    let mut fit = None;
    for _ in 0..4 {
        if used.len() < 20 + unknowns {
            return None;
        }
        let mut matrix = Matrix::zeros(used.len(), unknowns);
        for (line, &(row, slope)) in used.iter().enumerate() {
            matrix.set(line, 0, current[row]);
            matrix.set(line, 1, slope);
            matrix.set(line, 2, 1.0);
            for (place, column) in extra.iter().enumerate() {
                matrix.set(line, 3 + place, column[row]);
            }
        }
        let wanted: Vec<f64> = used.iter().map(|&(row, _)| other[row]).collect();
        let solution = least_squares(&matrix, &wanted, None, 1e-9);
        let mut along_slope = vec![0.0; unknowns];
        along_slope[1] = 1.0;
        if !solution.determines(&along_slope) {
            return None;
        }
        let modelled = matrix.times(&solution.x);
        let residuals: Vec<f64> = wanted.iter().zip(&modelled).map(|(y, m)| y - m).collect();
        let square: f64 = residuals.iter().map(|r| r * r).sum();
        let variance = square / (used.len() - unknowns) as f64;
        let u = |k: usize| libm::sqrt(variance * solution.covariance.get(k, k));
        let gain = solution.x[0];
        if gain == 0.0 || gain.abs() < 10.0 * u(0) {
            return None;
        }
        fit = Some(Fit { gain, delay: solution.x[1] / gain, delay_u: u(1) / gain.abs() });
        let spread = stats::scaled_mad(&mut residuals.clone())?;
        let before = used.len();
        let mut kept = residuals.iter().map(|r| r.abs() <= FAR * spread);
        used.retain(|_| kept.next().unwrap_or(false));
        if used.len() == before || spread == 0.0 {
            break;
        }
    }
    fit
}
