//! One signal of a log on its own clock, and which signals of two logs are compared.

use crate::channel::{CHANNELS, Channel, Readings};
use crate::math::stats;

/// What is compared: a channel, or a power.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Signal {
    Channel(Channel),
    InputPower,
    OutputPower,
}

impl Signal {
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Channel(channel) => channel.name(),
            Self::InputPower => "p_in",
            Self::OutputPower => "p_out",
        }
    }

    fn is_in(self, readings: &Readings) -> bool {
        match self {
            Self::Channel(channel) => readings.has(channel),
            Self::InputPower => readings.has(Channel::VIn) && readings.has(Channel::IIn),
            Self::OutputPower => readings.has(Channel::VOutHigh) && readings.has(Channel::IOut),
        }
    }
}

/// Two signals to compare.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Pair {
    pub(super) first: Signal,
    pub(super) other: Signal,
    /// The same channel in both logs.
    pub(super) common: bool,
    /// Whether both rise together; otherwise either sense will do.
    pub(super) signed: bool,
}

/// Pairs of signals worth comparing: common channels, else powers, else any two channels that may move together;
/// in a calibration run, where no power may flow, also these.
pub(super) fn pairs(first: &Readings, other: &Readings, calibrates: bool) -> Vec<Pair> {
    let both = CHANNELS.into_iter().filter(|&channel| first.has(channel) && other.has(channel));
    let mut found: Vec<Pair> = both
        .map(|channel| Pair {
            first: Signal::Channel(channel),
            other: Signal::Channel(channel),
            common: true,
            signed: true,
        })
        .collect();
    let powers = [(Signal::InputPower, Signal::OutputPower), (Signal::OutputPower, Signal::InputPower)];
    for (a, b) in powers {
        if a.is_in(first) && b.is_in(other) {
            found.push(Pair { first: a, other: b, common: false, signed: true });
        }
    }
    if found.is_empty() || (calibrates && !found[0].common) {
        for a in CHANNELS {
            for b in CHANNELS {
                if first.has(a) && other.has(b) {
                    let currents = [Channel::IIn, Channel::IOut];
                    let signed = currents.contains(&a) && currents.contains(&b);
                    found.push(Pair {
                        first: Signal::Channel(a),
                        other: Signal::Channel(b),
                        common: false,
                        signed,
                    });
                }
            }
        }
    }
    found
}

/// A signal against time; rows without a value or beyond a restart of the clock are left out.
#[derive(Clone, Debug)]
pub(super) struct Series {
    pub(super) time: Vec<f64>,
    pub(super) value: Vec<f64>,
    /// Usual time between rows, s.
    pub(super) period: f64,
    /// Noise of one value.
    pub(super) noise: f64,
}

impl Series {
    pub(super) fn of(readings: &Readings, signal: Signal) -> Self {
        let rows = super::merge::longest(readings);
        let column = |channel| readings.column(channel);
        let value = |row: usize| match signal {
            Signal::Channel(channel) => column(channel)[row],
            Signal::InputPower => column(Channel::VIn)[row] * column(Channel::IIn)[row],
            Signal::OutputPower => {
                let low = column(Channel::VOutLow);
                let low = if low.is_empty() { 0.0 } else { low[row] };
                (column(Channel::VOutHigh)[row] - low) * column(Channel::IOut)[row]
            }
        };
        let mut series =
            Self { time: Vec::new(), value: Vec::new(), period: readings.row_period, noise: 0.0 };
        for row in rows {
            let (time, value) = (readings.time[row], value(row));
            let later = series.time.last().is_none_or(|last| time > *last);
            if value.is_finite() && time.is_finite() && later {
                series.time.push(time);
                series.value.push(value);
            }
        }
        series.noise = stats::noise(&series.value).unwrap_or(0.0);
        series
    }

    pub(super) fn ends(&self) -> Option<(f64, f64)> {
        Some((*self.time.first()?, *self.time.last()?))
    }

    /// Whether it moves by clearly more than its noise, slow drifts aside.
    pub(super) fn moves(&self) -> bool {
        const PARTS: usize = 64;
        let n = self.value.len();
        if n < 3 * PARTS || self.period <= 0.0 {
            return false;
        }
        let medians: Vec<f64> = (0..PARTS)
            .filter_map(|part| {
                stats::median(&mut self.value[part * n / PARTS..(part + 1) * n / PARTS].to_vec())
            })
            .collect();
        let spread = scatter(&medians);
        // Motion inside the parts counts too: fast ramps look alike from part to part.
        let inside = scatter(&stats::even_sample(&self.value, 20_000));
        let still = self.noise / libm::sqrt(n as f64 / PARTS as f64);
        spread > 12.0 * still.max(1e-12) && spread > 0.5 * self.noise || inside > 4.0 * self.noise.max(1e-12)
    }

    /// Value by the straight line between the neighbours; `None` outside and across holes.
    pub(super) fn at(&self, time: f64, from: &mut usize) -> Option<f64> {
        let place = self.place(time, from)?;
        let (a, b) = (self.time[place], self.time[place + 1]);
        let part = (time - a) / (b - a);
        Some(self.value[place] + (self.value[place + 1] - self.value[place]) * part)
    }

    /// Slope there per second: of the straight line through `half` rows on each side.
    pub(super) fn slope(&self, time: f64, half: usize, from: &mut usize) -> Option<f64> {
        let place = self.place(time, from)?;
        let near = place + usize::from(time - self.time[place] > self.time[place + 1] - time);
        let (low, high) = (near.checked_sub(half)?, near + half);
        if high >= self.time.len() || self.time[high] - self.time[low] > 4.0 * half as f64 * self.period {
            return None;
        }
        let (mut t, mut v) = (0.0, 0.0);
        let n = (2 * half + 1) as f64;
        for k in low..=high {
            t += (self.time[k] - self.time[near]) / n;
            v += self.value[k] / n;
        }
        let (mut cross, mut square) = (0.0, 0.0);
        for k in low..=high {
            let dt = self.time[k] - self.time[near] - t;
            cross += dt * (self.value[k] - v);
            square += dt * dt;
        }
        Some(cross / square)
    }

    /// The row at or before an instant, searched on from the last place.
    fn place(&self, time: f64, from: &mut usize) -> Option<usize> {
        let (start, end) = self.ends()?;
        if !(time >= start && time < end) {
            return None;
        }
        if *from >= self.time.len() || self.time[*from] > time {
            *from = self.time.partition_point(|t| *t <= time).saturating_sub(1);
        }
        let mut ahead = 0;
        while self.time[*from + 1] <= time {
            *from += 1;
            ahead += 1;
            if ahead > 16 {
                *from = self.time.partition_point(|t| *t <= time).saturating_sub(1);
            }
        }
        (self.time[*from + 1] - self.time[*from] <= super::merge::HOLE * self.period).then_some(*from)
    }
}

/// Standard deviation; 0 without values.
pub(super) fn scatter(values: &[f64]) -> f64 {
    let n = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / n;
    libm::sqrt(values.iter().map(|value| (value - mean) * (value - mean)).sum::<f64>() / n)
}
