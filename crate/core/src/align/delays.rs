//! The delays in use and where they come from.

use serde::Serialize;

use super::clocks::LoggerResult;
use super::{Mode, Settings, Steps, Through, up_down_delay, up_down_gap};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::quantity::Quantity;

/// How the delays became known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Stated by the user.
    Stated,
    /// From a straight-through run.
    StraightThrough,
    /// From the gap between rows of rising and of falling current.
    UpDown,
    /// Not known: readings stay as logged.
    #[default]
    None,
}

/// Delays of the channels of one run.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Delays {
    /// How they became known.
    pub from: Source,
    /// Time of each channel's sample after the row's time, s. Only differences matter.
    pub seconds: [f64; 5],
    /// Standard uncertainty of each, s; `None` where the data cannot tell.
    pub u: [Option<f64>; 5],
}

impl Delays {
    /// No delays, nothing known of them.
    #[must_use]
    pub fn none() -> Self {
        Self::default()
    }

    /// Delays as the settings state them.
    #[must_use]
    pub fn stated(settings: &Settings) -> Self {
        Self {
            from: Source::Stated,
            seconds: settings.seconds.map(|delay| delay.unwrap_or(0.0)),
            u: settings.seconds_u.map(|u| Some(u.unwrap_or(0.0))),
        }
    }

    /// Whether readings stay exactly as logged.
    #[must_use]
    pub fn is_identity(&self, readings: &Readings) -> bool {
        let mut present = CHANNELS.into_iter().filter(|&channel| readings.has(channel));
        let Some(first) = present.next() else { return true };
        present.all(|channel| self.seconds[channel.index()] == self.seconds[first.index()])
    }

    /// The common instant after the row's time, s: the mean over the channels that the log has.
    #[must_use]
    pub fn instant(&self, readings: &Readings) -> f64 {
        let mut sum = 0.0;
        let mut count = 0.0;
        for channel in CHANNELS {
            if readings.has(channel) {
                sum += self.seconds[channel.index()];
                count += 1.0;
            }
        }
        if count == 0.0 { 0.0 } else { sum / count }
    }
}

/// The delays of one run: as stated, from a straight-through run where one is given and moved
/// enough, else from the run's own up/down gap, else none.
///
/// `columns` are the column numbers of the channels in the log: the order of sampling, which only the up/down
/// gap needs.
/// **Missing data** a run in which nothing moves gives [`Source::None`] with `u` `None`.
#[must_use]
pub fn estimate(
    readings: &Readings,
    steps: &Steps,
    through: Option<&Through>,
    columns: &[usize; 5],
    settings: &Settings,
) -> Delays {
    match settings.mode {
        Mode::None => Delays::none(),
        Mode::Stated => Delays::stated(settings),
        Mode::Auto => {
            if let Some(through) = through
                && through.useful()
            {
                return through.delays();
            }
            match up_down_delay(readings, steps, columns) {
                Some(found) => found.delays(readings),
                None => Delays::none(),
            }
        }
    }
}

/// The `alignment` object of the results.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// How the delays became known.
    pub from: Source,
    /// Delay per channel, s.
    pub delays: ByChannel<&'static str, Quantity>,
    /// Root-mean-square gap between rising and falling rows as logged, fraction of efficiency between the
    /// sense nodes; `None` where nothing rises and falls.
    pub gap_before: Option<f64>,
    /// The same after alignment.
    pub gap_after: Option<f64>,
    /// Why no delays are known: `nothing_moves`, `no_gap_to_close`, `settled_points`, `switched_off` or
    /// `two_loggers`; `None` where they are.
    pub why: Option<&'static str>,
    /// Further loggers of the run and their clocks; `None` where one logger recorded it.
    pub loggers: Option<Vec<LoggerResult>>,
}

impl Summary {
    /// What is reported of one run's alignment.
    #[must_use]
    pub fn of(readings: &Readings, steps: &Steps, delays: &Delays) -> Self {
        let entries = present(readings)
            .map(|(channel, name)| {
                let at = channel.index();
                let value = Some(delays.seconds[at]);
                let quantity = match delays.from {
                    Source::None => Quantity::unknown("not_known"),
                    _ => Quantity { value, u: delays.u[at], why: None },
                };
                (name, quantity)
            })
            .collect();
        let gap_before = up_down_gap(readings, steps, &Delays::none());
        let why = (delays.from == Source::None).then_some(if gap_before.is_none() {
            "nothing_moves"
        } else {
            "no_gap_to_close"
        });
        Self {
            from: delays.from,
            delays: ByChannel(entries),
            gap_before,
            gap_after: up_down_gap(readings, steps, delays),
            why,
            loggers: None,
        }
    }
}

/// The channels that a log has, with their names in results.
pub(crate) fn present(readings: &Readings) -> impl Iterator<Item = (Channel, &'static str)> + '_ {
    let difference_only = !readings.has(Channel::VOutLow);
    CHANNELS.into_iter().filter(|&channel| readings.has(channel)).map(move |channel| {
        let name = if channel == Channel::VOutHigh && difference_only { "v_out" } else { channel.name() };
        (channel, name)
    })
}

/// Values by channel name, in channel order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ByChannel<N, T>(pub Vec<(N, T)>);

impl<N: Serialize, T: Serialize> Serialize for ByChannel<N, T> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}
