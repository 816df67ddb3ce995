//! Which kind of run a log is, from its readings. A suggestion with its evidence.

use serde::Serialize;

use crate::math::stats::{QuantileRule, noise, quantile, scaled_mad};

use super::readings::{Channel, Readings};
use super::wires::{against_wires, as_converter, cross_bridge, straight_through_at_rest};

/// Kinds of run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RunKind {
    /// A converter at work.
    #[default]
    Run,
    /// Everything off, leads on.
    AllOff,
    /// Straight through without load, the source swept.
    OpenSweep,
    /// Wire in place of the converter, a load swept.
    StraightThrough,
    /// The converter's input terminals shorted.
    InputShorted,
    /// The converter's output terminals shorted.
    OutputShorted,
    /// Input high bridged to output low.
    CrossBridge,
    /// Settled points, taken one by one.
    Table,
}

/// A kind and why.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kind {
    /// The kind.
    pub kind: RunKind,
    /// One sentence with the figures.
    pub evidence: String,
    /// Resistance that the readings show, ohm: through the fixture, or to the short.
    pub resistance: Option<f64>,
    /// The next best kind, and what speaks for it and against it.
    pub next: Option<(RunKind, String)>,
}

/// Rows looked at, evenly spaced.
const LOOKED_AT: usize = 20_000;

/// Fewer rows than this say nothing.
const FEWEST: usize = 8;

/// Rows up to which a log without time may be a table taken by hand; judgement.
const MOST_BY_HAND: usize = 500;

/// What is still nothing: offsets of channels, V and A. Common practice, no source.
pub(super) const QUIET_VOLT: f64 = 0.1;
pub(super) const QUIET_AMPERE: f64 = 0.1;
const QUIET_SPAN: f64 = 0.02;

/// Bounds of what a fixture's resistance can be, ohm.
pub(super) const LEAST_OHM: f64 = 0.000_3;
pub(super) const MOST_OHM: f64 = 2.0;

/// By how much the gains of two voltage channels may differ before they are said to be set right.
/// Common practice, no source.
const GAIN_SLACK: f64 = 0.005;

/// One quantity over the rows looked at.
pub(super) struct Seen {
    pub(super) values: Vec<f64>,
    /// Standard deviation of one reading.
    pub(super) noise: f64,
    /// From the 2nd to the 98th percentile.
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) middle: f64,
}

impl Seen {
    pub(super) fn new(values: Vec<f64>, noise: f64) -> Self {
        let mut sorted = values.clone();
        let mut at = |p| quantile(&mut sorted, p, QuantileRule::Linear).unwrap_or(0.0);
        let (low, middle, high) = (at(0.02), at(0.5), at(0.98));
        Self { values, noise, low, high, middle }
    }

    pub(super) fn span(&self) -> f64 {
        self.high - self.low
    }

    pub(super) fn largest(&self) -> f64 {
        self.high.abs().max(self.low.abs())
    }

    /// Usual change from one row looked at to the next.
    pub(super) fn moved(&self) -> f64 {
        let mut changes: Vec<f64> = self.values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
        quantile(&mut changes, 0.75, QuantileRule::Linear).unwrap_or(0.0)
    }

    /// Hardly moves and is near zero.
    pub(super) fn quiet(&self, offset: f64, beside: f64) -> bool {
        self.middle.abs() < offset && self.span() < (12.0 * self.noise).max(QUIET_SPAN).max(0.02 * beside)
    }

    pub(super) fn swept(&self, least: f64) -> bool {
        self.span() > (20.0 * self.noise).max(least) && self.span() > 0.3 * self.largest()
    }
}

/// A straight line fitted with outliers set aside.
pub(super) struct Line {
    pub(super) intercept: f64,
    pub(super) slope: f64,
    /// Standard uncertainty of the slope.
    pub(super) slope_u: f64,
    /// Spread of the residuals.
    pub(super) scatter: f64,
}

/// `y = intercept + slope x` by least squares, fitted twice: without residuals beyond five times
/// their scaled median deviation the second time.
pub(super) fn line(x: &[f64], y: &[f64]) -> Option<Line> {
    let mut kept: Vec<bool> = vec![true; x.len()];
    let mut out = None;
    for _ in 0..2 {
        let pairs = || x.iter().zip(y).zip(&kept).filter(|(_, kept)| **kept).map(|(pair, _)| pair);
        let n = pairs().count() as f64;
        if n < 3.0 {
            return None;
        }
        let (mean_x, mean_y) =
            (pairs().map(|(x, _)| x).sum::<f64>() / n, pairs().map(|(_, y)| y).sum::<f64>() / n);
        let (mut xx, mut xy) = (0.0, 0.0);
        for (x, y) in pairs() {
            xx += (x - mean_x) * (x - mean_x);
            xy += (x - mean_x) * (y - mean_y);
        }
        if xx <= 0.0 {
            return None;
        }
        let slope = xy / xx;
        let intercept = mean_y - slope * mean_x;
        let residuals: Vec<f64> = x.iter().zip(y).map(|(x, y)| y - intercept - slope * x).collect();
        let scatter = scaled_mad(&mut residuals.clone())?;
        for (kept, residual) in kept.iter_mut().zip(&residuals) {
            *kept = residual.abs() <= 5.0 * scatter;
        }
        out = Some(Line { intercept, slope, slope_u: scatter / xx.sqrt(), scatter });
    }
    out
}

/// Says which kind of run the readings show.
///
/// **Formula** in a straight-through run both currents are one, and the drop from input to output
/// follows it through zero: `v_in - v_out = I (R_I + R_O)`, give or take channel offsets and gains.
/// A linear regulator has nearly equal currents too, but its drop is what is left of the input
/// voltage: it has a large part that does not depend on the current, or falls as the source sags.
/// **Source** wirings as in a four-wire resistance measurement; bounds are common practice, no source.
#[must_use]
pub fn recognise(readings: &Readings) -> Kind {
    let wanted = [Channel::VIn, Channel::VOutHigh, Channel::IIn, Channel::IOut];
    if !wanted.iter().all(|channel| readings.has(*channel)) {
        return run("not all of the four quantities are logged");
    }
    let stride = readings.rows().div_ceil(LOOKED_AT).max(1);
    let low_node = readings.column(Channel::VOutLow);
    let rows: Vec<usize> = (0..readings.rows())
        .step_by(stride)
        .filter(|&row| {
            wanted
                .iter()
                .all(|channel| readings.column(*channel).get(row).is_some_and(|value| value.is_finite()))
                && (low_node.is_empty() || low_node.get(row).is_some_and(|value| value.is_finite()))
        })
        .collect();
    if rows.len() < FEWEST {
        if readings.row_period == 0.0 && !rows.is_empty() {
            return Kind {
                kind: RunKind::Table,
                evidence: "a few rows without time".to_owned(),
                resistance: None,
                next: None,
            };
        }
        return run("too few rows to tell");
    }
    let seen = |channel: Channel| {
        let column = readings.column(channel);
        let values = rows.iter().filter_map(|&row| column.get(row).copied()).collect();
        Seen::new(values, noise(column).unwrap_or(0.0))
    };
    let (v_in, high, i_in, i_out) =
        (seen(Channel::VIn), seen(Channel::VOutHigh), seen(Channel::IIn), seen(Channel::IOut));
    let low = (!low_node.is_empty()).then(|| seen(Channel::VOutLow));
    let v_out = match &low {
        None => high,
        Some(low) => {
            let difference = high.values.iter().zip(&low.values).map(|(high, low)| high - low).collect();
            Seen::new(difference, (high.noise * high.noise + low.noise * low.noise).sqrt())
        }
    };
    let bridge = cross_bridge(&v_in, low.as_ref(), &v_out, &i_in, &i_out);
    let candidates = [
        all_off(&v_in, &v_out, &i_in, &i_out),
        open_sweep(&v_in, &v_out, &i_in, &i_out),
        shorted(&v_in, &v_out, &i_in, &i_out),
        // A bridge with its output nodes at rest is also a wire into a short: the bridge is more likely.
        bridge,
        straight_through(&v_in, &v_out, &i_in, &i_out),
        straight_through_at_rest(&v_in, &v_out, &i_in, &i_out),
        table(readings, &v_in, &i_out),
        Some(run("input and output differ as a converter's do")),
    ];
    let mut found = candidates.into_iter().flatten();
    let mut best = found.next().unwrap_or_default();
    let next = found.find(|other| other.kind != best.kind);
    best.next = Some(match next {
        Some(next) if next.kind != RunKind::Run => (next.kind, next.evidence),
        _ if best.kind == RunKind::Run => against_wires(&v_in, &v_out, &i_in, &i_out),
        _ => (RunKind::Run, as_converter(&v_in, &v_out, &i_in, &i_out)),
    });
    best
}

fn run(evidence: &str) -> Kind {
    Kind { kind: RunKind::Run, evidence: evidence.to_owned(), resistance: None, next: None }
}

fn all_off(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> Option<Kind> {
    let off = v_in.quiet(QUIET_VOLT, 0.0)
        && v_out.quiet(QUIET_VOLT, 0.0)
        && i_in.quiet(QUIET_AMPERE, 0.0)
        && i_out.quiet(QUIET_AMPERE, 0.0);
    off.then(|| Kind {
        kind: RunKind::AllOff,
        evidence: format!(
            "nothing moves and all is near zero: input {:.1} mV and {:.1} mA, output {:.1} mV and {:.1} mA",
            1e3 * v_in.middle,
            1e3 * i_in.middle,
            1e3 * v_out.middle,
            1e3 * i_out.middle
        ),
        resistance: None,
        next: None,
    })
}

fn open_sweep(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> Option<Kind> {
    if !v_in.swept(0.3) || !i_in.quiet(QUIET_AMPERE, v_in.span()) || !i_out.quiet(QUIET_AMPERE, v_in.span()) {
        return None;
    }
    let fit = line(&v_in.values, &v_out.values)?;
    let follows = (fit.slope - 1.0).abs() < 0.03
        && fit.intercept.abs() < 0.05 + 0.01 * v_in.largest()
        && fit.scatter < (5.0 * (v_in.noise + v_out.noise)).max(0.01 * v_in.span());
    follows.then(|| Kind {
        kind: RunKind::OpenSweep,
        evidence: format!(
            "the output voltage follows the input voltage from {:.2} to {:.2} V with a factor of {:.4}, and no current flows",
            v_in.low, v_in.high, fit.slope
        ),
        resistance: None, next: None
    })
}

fn shorted(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> Option<Kind> {
    for (kind, current, voltage, other_current, other_voltage, word) in [
        (RunKind::InputShorted, i_in, v_in, i_out, v_out, "input"),
        (RunKind::OutputShorted, i_out, v_out, i_in, v_in, "output"),
    ] {
        let alone = current.swept(0.05)
            && other_current.quiet(QUIET_AMPERE, current.span())
            && other_voltage.quiet(QUIET_VOLT, voltage.span());
        if !alone {
            continue;
        }
        let fit = line(&current.values, &voltage.values)?;
        // At the output the supply may be connected either way round.
        let ohms = if kind == RunKind::OutputShorted { fit.slope.abs() } else { fit.slope };
        let follows = (LEAST_OHM..MOST_OHM).contains(&ohms)
            && fit.intercept.abs() < 0.05
            && fit.scatter < (5.0 * voltage.noise).max(0.05 * voltage.span());
        if follows {
            return Some(Kind {
                kind,
                evidence: format!(
                    "the {word} voltage follows the {word} current up to {:.2} A with {:.2} mΩ, and the other side is at rest",
                    current.largest(),
                    1e3 * ohms
                ),
                resistance: Some(ohms),
                next: None,
            });
        }
    }
    None
}

fn straight_through(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> Option<Kind> {
    if !i_in.swept(0.02) || !i_out.swept(0.02) {
        return None;
    }
    let currents = line(&i_in.values, &i_out.values)?;
    let one_current = (currents.slope - 1.0).abs() < 0.05
        && currents.intercept.abs() < 0.02 + 0.02 * i_in.largest()
        && currents.scatter < (5.0 * (i_in.noise + i_out.noise)).max(0.03 * i_in.span());
    if !one_current {
        return None;
    }
    let drop: Vec<f64> = v_in.values.iter().zip(&v_out.values).map(|(v_in, v_out)| v_in - v_out).collect();
    let drop_noise = (v_in.noise * v_in.noise + v_out.noise * v_out.noise).sqrt();
    let fit = line(&i_in.values, &drop)?;
    // Into a resistor, gains that differ a little look like a few milliohms more or less, or even
    // like less than nothing where the resistor is large.
    let slack = line(&i_in.values, &v_in.values)
        .filter(|load| load.intercept.abs() < 0.03 + 0.01 * v_in.largest())
        .map_or(0.0, |load| GAIN_SLACK * load.slope.abs());
    // Two channels read one after the other differ by what the voltage moves meanwhile.
    let moved = v_in.moved().min(0.01 * v_in.span());
    let follows = (LEAST_OHM - slack..MOST_OHM + slack).contains(&fit.slope)
        && (slack > 0.0 || fit.slope > 10.0 * fit.slope_u)
        && fit.intercept.abs() < 0.03 + 0.01 * v_in.largest()
        && fit.scatter < (5.0 * drop_noise).max(0.05 * fit.slope.abs() * i_in.span()).max(moved);
    follows.then(|| Kind {
        kind: RunKind::StraightThrough,
        evidence: format!(
            "the drop from input to output follows the current through zero with {:.2} mΩ ({:.1} mV left at no current), and both currents agree with a factor of {:.4}",
            1e3 * fit.slope,
            1e3 * fit.intercept,
            currents.slope
        ),
        resistance: Some(fit.slope), next: None
    })
}

/// Settled points: rows far apart in time, or most rows a new level.
fn table(readings: &Readings, v_in: &Seen, i_out: &Seen) -> Option<Kind> {
    if readings.row_period >= 1.0 {
        return Some(Kind {
            kind: RunKind::Table,
            evidence: format!("rows are {:.3} s apart", readings.row_period),
            resistance: None,
            next: None,
        });
    }
    if readings.row_period > 0.0 || readings.rows() > MOST_BY_HAND {
        return None;
    }
    let (levels, still) = changes(v_in, i_out);
    let intervals = i_out.values.len() - 1;
    // Each row a new setting, or each setting read several times over.
    let repeats = levels * 10 > intervals && (intervals - levels) * 9 <= still * 10;
    (levels * 5 > intervals || repeats).then(|| Kind {
        kind: RunKind::Table,
        evidence: format!(
            "no time is logged and {levels} of {} rows are a new level of input voltage or output current",
            i_out.values.len()
        ),
        resistance: None,
        next: None,
    })
}

/// Changes from row to row by more than a twentieth of the range of input voltage or output current, and those by
/// less than a hundredth of both.
fn changes(v_in: &Seen, i_out: &Seen) -> (usize, usize) {
    let beyond = |seen: &Seen, part: f64, at: usize| {
        (seen.values[at + 1] - seen.values[at]).abs() > part * seen.span()
    };
    // The range of a voltage that only sags is no setting.
    let volts = |part: f64, at: usize| v_in.span() > 0.02 * v_in.largest() && beyond(v_in, part, at);
    let (mut levels, mut still) = (0, 0);
    for at in 0..i_out.values.len().saturating_sub(1) {
        levels += usize::from(beyond(i_out, 0.05, at) || volts(0.05, at));
        still += usize::from(!beyond(i_out, 0.01, at) && !volts(0.01, at));
    }
    (levels, still)
}
