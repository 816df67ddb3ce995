//! Two logs of one run from two loggers: how their clocks stand to each other, and one log made of both.
//!
//! The first log's time is `offset + ratio` times the other's own time. Both are found from what moves in both
//! logs: a channel that both hold, or changes that belong together such as input and output power.

mod coarse;
mod edges;
mod fine;
mod merge;
mod series;

use serde::{Deserialize, Serialize};

pub use merge::merge;

use crate::channel::{CHANNELS, Channel, Readings};
use crate::quantity::Quantity;
use series::{Series, pairs};

/// What is stated of the other logger's clock.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Stated {
    /// First log's time at the other log's time 0, s.
    pub offset: Option<f64>,
    /// Standard uncertainty of the offset, s; `null` means exactly known.
    pub offset_u: Option<f64>,
    /// Seconds of the first clock per second of the other one; default 1.
    pub ratio: Option<f64>,
    /// Standard uncertainty of the ratio; `null` means exactly known.
    pub ratio_u: Option<f64>,
}

/// How the clocks became known.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum From {
    /// Stated by the user.
    Stated,
    /// From a channel that both logs hold.
    CommonChannel,
    /// From changes that belong together.
    SameChanges,
    /// Not known.
    #[default]
    None,
}

/// Why the clocks are not known, or what is to be said of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// Nothing moves: any offset fits, and none does harm.
    NothingMoves,
    /// The logs move, but not together at any offset.
    NoCommonTime,
    /// Other offsets fit as well; the one with the longest common time was taken.
    Repeats,
}

/// How the other log's clock stands to the first one's.
///
/// **Formula** `t = offset + ratio * t'` with `t` the first log's time and `t'` the other's, s.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Clocks {
    /// How they became known.
    pub from: From,
    /// What is to be said of it.
    pub why: Option<Why>,
    /// What was compared: names of the first log's and the other log's signal.
    pub by: Option<[&'static str; 2]>,
    /// First log's time at the other's time 0, s.
    pub offset: f64,
    /// Seconds of the first clock per second of the other one.
    pub ratio: f64,
    /// Standard uncertainty of the offset, s; `None` where not known.
    pub offset_u: Option<f64>,
    /// Standard uncertainty of the ratio.
    pub ratio_u: Option<f64>,
    /// Largest standard uncertainty of a row's time inside the common time, s.
    pub row_u: Option<f64>,
    /// Common time, s.
    pub shared: f64,
    /// What the other log leaves unexplained of the first one's signal as logged, as a fraction of the signal's
    /// scatter; `None` where nothing was compared.
    pub misfit_before: Option<f64>,
    /// The same with the clocks brought together.
    pub misfit_after: Option<f64>,
    /// Other offsets that fit as well, s.
    pub others: Vec<f64>,
}

impl Clocks {
    /// Both loggers started together and run alike; nothing is known of it.
    #[must_use]
    pub fn together() -> Self {
        Self { ratio: 1.0, ..Self::default() }
    }

    /// Whether the logs can be joined.
    #[must_use]
    pub fn usable(&self) -> bool {
        self.why != Some(Why::NoCommonTime)
    }

    /// The first log's time of an instant of the other log.
    #[must_use]
    pub fn to_first(&self, other: f64) -> f64 {
        self.offset + self.ratio * other
    }

    /// The other log's time of an instant of the first log.
    #[must_use]
    pub fn to_other(&self, first: f64) -> f64 {
        (first - self.offset) / self.ratio
    }
}

/// One other logger in the results.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoggerResult {
    /// Number of the input that holds its log.
    pub input: usize,
    /// Channels taken from it.
    pub channels: Vec<&'static str>,
    /// How its clock became known.
    pub from: From,
    /// What was compared.
    pub by: Option<[&'static str; 2]>,
    /// First log's time at this log's time 0, s.
    pub offset: Quantity,
    /// Seconds of the first clock per second of this one.
    pub ratio: Quantity,
    /// The ratio's difference from one in parts per million.
    pub ratio_ppm: Quantity,
    /// Common time, s.
    pub shared: f64,
    /// Misfit as logged, a fraction of the signal's scatter.
    pub misfit_before: Option<f64>,
    /// Misfit with the clocks brought together.
    pub misfit_after: Option<f64>,
    /// Other offsets that fit as well, s.
    pub others: Vec<f64>,
    /// What is to be said of it.
    pub why: Option<Why>,
}

impl LoggerResult {
    /// What is reported of another logger.
    #[must_use]
    pub fn of(input: usize, channels: &[Channel], clocks: &Clocks) -> Self {
        let known = clocks.from != From::None;
        let quantity = |value: f64, u: Option<f64>| {
            if known {
                Quantity { value: Some(value), u, why: None }
            } else {
                Quantity::unknown(match clocks.why {
                    Some(Why::NothingMoves) => "nothing_moves",
                    _ => "no_common_time",
                })
            }
        };
        Self {
            input,
            channels: channels.iter().map(|channel| channel.name()).collect(),
            from: clocks.from,
            by: clocks.by,
            offset: quantity(clocks.offset, clocks.offset_u),
            ratio: quantity(clocks.ratio, clocks.ratio_u),
            ratio_ppm: quantity((clocks.ratio - 1.0) * 1e6, clocks.ratio_u.map(|u| u * 1e6)),
            shared: clocks.shared,
            misfit_before: clocks.misfit_before,
            misfit_after: clocks.misfit_after,
            others: clocks.others.clone(),
            why: clocks.why,
        }
    }
}

/// Channels that the other log adds to the first one.
#[must_use]
pub fn added(first: &Readings, other: &Readings) -> Vec<Channel> {
    CHANNELS.into_iter().filter(|&channel| other.has(channel) && !first.has(channel)).collect()
}

/// Misfit above which the logs do not belong together at all, as a fraction of the signal's scatter.
const STRANGERS: f64 = 0.7;
/// Misfit, relative to the best one, up to which another offset fits as well.
const AS_WELL: f64 = 1.4;

/// Finds how the other log's clock stands to the first one's, or takes what is stated.
///
/// Changes of both logs are compared at all offsets and at clock ratios from 0.99 to 1.01; the best places are refined
/// by least squares of the first log's signal on the other's. **Source** cross-correlation and Gauss-Newton least squares,
/// common practice; the uncertainty is that of stretches of rows taken as independent (White, Econometrica 48 (1980)
/// 817, over blocks).
/// **Missing data** where nothing moves or nothing moves together no offset is given; see [`Clocks::why`].
#[must_use]
pub fn find(first: &Readings, other: &Readings, stated: &Stated) -> Clocks {
    find_by(first, other, stated, false)
}

/// As [`find`] in a calibration run, where wires in the converter's place make single channels move together.
#[must_use]
pub fn find_in_calibration(first: &Readings, other: &Readings, stated: &Stated) -> Clocks {
    find_by(first, other, stated, true)
}

fn find_by(first: &Readings, other: &Readings, stated: &Stated, calibrates: bool) -> Clocks {
    if let Some(offset) = stated.offset {
        let mut clocks = Clocks {
            from: From::Stated,
            offset,
            ratio: stated.ratio.unwrap_or(1.0),
            offset_u: Some(stated.offset_u.unwrap_or(0.0)),
            ratio_u: Some(stated.ratio_u.unwrap_or(0.0)),
            ..Clocks::default()
        };
        share(&mut clocks, first, other);
        let reach = other.time.iter().copied().filter(|t| t.is_finite()).fold(0.0, f64::max);
        clocks.row_u =
            Some(libm::hypot(clocks.offset_u.unwrap_or(0.0), clocks.ratio_u.unwrap_or(0.0) * reach));
        return clocks;
    }
    let mut best: Option<(fine::Fit, Pair, Vec<f64>)> = None;
    let mut moves = false;
    for pair in pairs(first, other, calibrates) {
        let (a, b) = (Series::of(first, pair.first), Series::of(other, pair.other));
        if !(a.moves() && b.moves()) {
            continue;
        }
        moves = true;
        let places = coarse::places(&a, &b, pair.signed);
        let mut fits: Vec<fine::Fit> =
            places.into_iter().filter_map(|place| fine::refine(&a, &b, place)).collect();
        fits.sort_by(|x, y| x.misfit.total_cmp(&y.misfit));
        let Some(least) = fits.first().map(|fit| fit.misfit) else { continue };
        let well: Vec<&fine::Fit> = fits.iter().filter(|fit| fit.misfit <= AS_WELL * least).collect();
        let Some(&chosen) = well
            .iter()
            .max_by(|x, y| x.shared.total_cmp(&y.shared).then(y.offset.abs().total_cmp(&x.offset.abs())))
        else {
            continue;
        };
        let apart = |fit: &&&fine::Fit| (fit.offset - chosen.offset).abs() > 4.0 * a.period.max(b.period);
        let others = well.iter().filter(apart).map(|fit| fit.offset).collect();
        if chosen.misfit < STRANGERS
            && best.as_ref().is_none_or(|(known, held, _)| {
                // A channel that both hold outranks changes that only belong together.
                (pair.common, -chosen.misfit) > (held.common, -known.misfit)
            })
        {
            best = Some((chosen.clone(), pair, others));
        }
    }
    let mut clocks = Clocks::together();
    match best {
        Some((fit, pair, others)) => {
            clocks.from = if pair.common { From::CommonChannel } else { From::SameChanges };
            clocks.by = Some([pair.first.name(), pair.other.name()]);
            clocks.why = (!others.is_empty()).then_some(Why::Repeats);
            clocks.offset = fit.offset;
            clocks.ratio = fit.ratio;
            clocks.offset_u = Some(fit.offset_u);
            clocks.ratio_u = Some(fit.ratio_u);
            clocks.row_u = Some(fit.row_u);
            clocks.misfit_after = Some(fit.misfit);
            clocks.misfit_before =
                fine::misfit(&Series::of(first, pair.first), &Series::of(other, pair.other), 0.0, 1.0);
            clocks.others = others;
        }
        None => {
            clocks.why = Some(if moves { Why::NoCommonTime } else { Why::NothingMoves });
        }
    }
    share(&mut clocks, first, other);
    clocks
}

use series::Pair;

/// Works out the common time.
fn share(clocks: &mut Clocks, first: &Readings, other: &Readings) {
    let ends = |readings: &Readings| {
        let mut finite = readings.time.iter().copied().filter(|t| t.is_finite());
        let start = finite.next()?;
        Some((start, finite.next_back().unwrap_or(start)))
    };
    if let (Some((a0, a1)), Some((b0, b1))) = (ends(first), ends(other)) {
        clocks.shared = (a1.min(clocks.to_first(b1)) - a0.max(clocks.to_first(b0))).max(0.0);
    }
}
