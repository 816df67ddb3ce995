//! How a set value, volts of the source or amperes asked of the converter, runs over time.

use serde::Serialize;

/// One way of moving.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Sweep {
    /// One value.
    Hold {
        /// The value.
        value: f64,
    },
    /// Straight from one value to another over the part.
    Line {
        /// At the start.
        from: f64,
        /// At the end.
        to: f64,
    },
    /// Smooth up and down, at rest at both ends: `low + span * ((1 - cos) / 2)^power`.
    Swing {
        /// Lowest value.
        low: f64,
        /// Highest value.
        high: f64,
        /// One way up and down, s.
        period: f64,
        /// Above 1 it stays longer near the lowest value.
        power: f64,
        /// Share of the span that the first swing has; 1 for equal swings.
        first: f64,
    },
    /// Back and forth between two values.
    Toggle {
        /// First value.
        low: f64,
        /// Second value.
        high: f64,
        /// Time at each, s.
        stay: f64,
    },
}

/// A sweep for a time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// How long, s.
    pub seconds: f64,
    /// What.
    #[serde(flatten)]
    pub sweep: Sweep,
}

/// Parts one after another; the last goes on for ever.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Program {
    /// In order.
    pub parts: Vec<Part>,
}

impl Program {
    /// One value for ever.
    #[must_use]
    pub fn hold(value: f64) -> Self {
        Self::default().then(0.0, Sweep::Hold { value })
    }

    /// Equal smooth swings for ever.
    #[must_use]
    pub fn swing(low: f64, high: f64, period: f64, power: f64) -> Self {
        Self::default().then(0.0, Sweep::Swing { low, high, period, power, first: 1.0 })
    }

    /// The same with one more part.
    #[must_use]
    pub fn then(mut self, seconds: f64, sweep: Sweep) -> Self {
        self.parts.push(Part { seconds, sweep });
        self
    }

    /// The part at a time and the time since its start.
    fn at(&self, time: f64) -> Option<(&Part, f64)> {
        let mut start = 0.0;
        for (place, part) in self.parts.iter().enumerate() {
            if time < start + part.seconds || place + 1 == self.parts.len() {
                return Some((part, time - start));
            }
            start += part.seconds;
        }
        None
    }

    /// Value at a time in s; 0 for an empty program.
    #[must_use]
    pub fn value(&self, time: f64) -> f64 {
        let Some((part, t)) = self.at(time) else { return 0.0 };
        match part.sweep {
            Sweep::Hold { value } => value,
            Sweep::Line { from, to } => from + (to - from) * (t / part.seconds.max(1e-9)).clamp(0.0, 1.0),
            Sweep::Swing { low, high, period, power, first } => {
                let turn = t / period;
                let height = (1.0 - libm::cos(2.0 * std::f64::consts::PI * turn)) / 2.0;
                let shape = if power == 1.0 { height } else { libm::pow(height, power) };
                let swings = (part.seconds / period).max(2.0);
                let grown = first + (1.0 - first) * (turn.floor() / (swings - 1.0)).clamp(0.0, 1.0);
                low + (high - low) * shape * grown
            }
            Sweep::Toggle { low, high, stay } => {
                if ((t / stay) as u64).is_multiple_of(2) {
                    low
                } else {
                    high
                }
            }
        }
    }

    /// Times in `[0, end)` at which the value may jump, ascending.
    #[must_use]
    pub fn jumps(&self, end: f64) -> Vec<f64> {
        let mut times = Vec::new();
        let mut start = 0.0;
        for (place, part) in self.parts.iter().enumerate() {
            let last = place + 1 == self.parts.len();
            let stop = if last { end } else { (start + part.seconds).min(end) };
            if place > 0 && start < end {
                let jump = (self.value(start) - self.value(start - 1e-7)).abs();
                if jump > 1e-3 {
                    times.push(start);
                }
            }
            if let Sweep::Toggle { stay, .. } = part.sweep {
                let mut k = 1.0;
                while start + k * stay < stop {
                    times.push(start + k * stay);
                    k += 1.0;
                }
            }
            start += part.seconds;
        }
        times
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_follow_one_another_and_jumps_are_found() {
        let program = Program::default()
            .then(2.0, Sweep::Hold { value: 1.0 })
            .then(2.0, Sweep::Toggle { low: 3.0, high: 4.0, stay: 0.5 })
            .then(1.0, Sweep::Line { from: 4.0, to: 0.0 });
        assert_eq!(program.value(1.9), 1.0);
        assert_eq!(program.value(2.6), 4.0);
        assert_eq!(program.value(4.5), 2.0);
        assert_eq!(program.jumps(5.0), vec![2.0, 2.5, 3.0, 3.5]);
    }

    #[test]
    fn a_swing_rests_at_its_ends() {
        let program = Program::swing(1.0, 5.0, 10.0, 1.0);
        assert!((program.value(0.0) - 1.0).abs() < 1e-12);
        assert!((program.value(5.0) - 5.0).abs() < 1e-12);
        assert!((program.value(2.5) - 3.0).abs() < 1e-12);
    }
}
