//! What is not known of the delays, as a cause of uncertainty.

use super::{Delays, Source, present};
use crate::channel::{CHANNELS, Readings};

/// Independent causes that move the instants of channels against each other.
///
/// **Missing data** a channel whose delay the data cannot tell brings no cause: nothing is known of it, and
/// nothing is stated.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Doubt {
    /// One entry per cause: the time by which one standard uncertainty of it moves each channel's sample after the
    /// common instant, s, in channel order. Channels that the log has sum to 0.
    causes: Vec<[f64; 5]>,
    /// Whether other runs rest on the same delays, so that an error of theirs is the same in all.
    shared: bool,
}

impl Doubt {
    /// What is not known of these delays.
    ///
    /// **Formula** delays of a straight-through run and stated ones are independent by channel; those of an up/down
    /// gap are all multiples of one spacing. **Source** how each is found: `through.rs`, `up_down.rs`.
    #[must_use]
    pub fn of(delays: &Delays, readings: &Readings) -> Self {
        let mut doubt =
            Self { causes: Vec::new(), shared: !matches!(delays.from, Source::UpDown | Source::None) };
        let u = delays.u.map(|u| u.unwrap_or(0.0));
        if delays.from == Source::UpDown {
            doubt.add(u, readings);
        } else {
            for channel in CHANNELS {
                let mut alone = [0.0; 5];
                alone[channel.index()] = u[channel.index()];
                doubt.add(alone, readings);
            }
        }
        doubt
    }

    /// Adds a cause that is this run's own, such as another logger's clock: one standard uncertainty of it moves
    /// each channel by `seconds`, s.
    pub fn add_own(&mut self, seconds: [f64; 5], readings: &Readings) {
        self.shared = false;
        self.add(seconds, readings);
    }

    /// Only differences matter: the mean over the channels is taken off.
    fn add(&mut self, seconds: [f64; 5], readings: &Readings) {
        let (mut sum, mut count) = (0.0, 0.0);
        for (channel, _) in present(readings) {
            sum += seconds[channel.index()];
            count += 1.0;
        }
        let mut cause = [0.0; 5];
        for (channel, _) in present(readings) {
            cause[channel.index()] = seconds[channel.index()] - sum / count;
        }
        if cause.iter().any(|seconds| *seconds != 0.0) {
            self.causes.push(cause);
        }
    }

    /// Whether nothing is stated.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.causes.is_empty()
    }

    /// Whether an error of these delays is the same in a run with that doubt.
    #[must_use]
    pub fn same_as(&self, other: &Self) -> bool {
        self.shared && self == other
    }

    /// Variance of a result that changes by `per_second` for each channel that is moved by one second.
    ///
    /// **Units** `per_second` unit of the result per s, in channel order; the variance in its square.
    /// **Formula** sum over causes of `(sum over channels of per_second seconds)²`. **Source** law of propagation,
    /// JCGM 100:2008 clause 5.1.2, the causes as its independent inputs.
    #[must_use]
    pub fn variance(&self, per_second: &[f64; 5]) -> f64 {
        let of = |cause: &[f64; 5]| cause.iter().zip(per_second).map(|(s, x)| s * x).sum::<f64>();
        self.causes.iter().map(|cause| of(cause) * of(cause)).sum()
    }

    /// Root of [`Doubt::variance`].
    #[must_use]
    pub fn u(&self, per_second: &[f64; 5]) -> f64 {
        self.variance(per_second).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn readings() -> Readings {
        let mut readings = Readings::default();
        for channel in [0, 1, 3, 4] {
            readings.columns[channel] = vec![1.0; 3];
        }
        readings
    }

    #[test]
    fn a_common_delay_of_all_channels_is_none() {
        let delays = Delays { from: Source::UpDown, seconds: [0.0; 5], u: [Some(1e-3); 5] };
        assert!(Doubt::of(&delays, &readings()).is_none());
        assert!(Doubt::of(&Delays::none(), &readings()).is_none());
    }

    #[test]
    fn delays_of_one_spacing_move_together_and_stated_ones_apart() {
        let u = [Some(0.0), Some(1e-3), None, Some(2e-3), Some(3e-3)];
        let of = |from| Doubt::of(&Delays { from, seconds: [0.0; 5], u }, &readings());
        let slopes = [1.0, 2.0, 0.0, -1.0, 4.0];
        // Means off: the slopes' own mean over the four channels is 1.5.
        let together = 1e-3 * (0.5 - 2.0 * 2.5 + 3.0 * 2.5);
        assert!((of(Source::UpDown).u(&slopes) - together).abs() < 1e-15);
        let apart = [1e-3 * 0.5, 2e-3 * -2.5, 3e-3 * 2.5].map(|x: f64| x * x).iter().sum::<f64>();
        assert!((of(Source::Stated).variance(&slopes) - apart).abs() < 1e-18);
        assert!(of(Source::Stated).same_as(&of(Source::Stated)));
        assert!(!of(Source::UpDown).same_as(&of(Source::UpDown)));
    }
}
