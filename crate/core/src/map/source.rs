//! The source as the converter's input sees it: resistance, current limit.

use serde::Serialize;

use crate::math::small::{median, quantile, small_sample, spread};
use crate::point::{Rows, each_reading};
use crate::quantity::Quantity;
use crate::sieve::Reason;

/// What feeds the converter, seen at the input sense node.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Source {
    /// Resistance, ohm.
    pub resistance: Quantity,
    /// Voltage without current, V; its `u` holds the drift during the run.
    pub open_circuit: Quantity,
    /// Current at which the supply limits, A.
    pub current_limit: Quantity,
    /// Over which time the resistance was seen, s: a battery cell's differs between 1 ms and 10 s.
    pub timescale: Option<f64>,
    /// Highest voltage without current, V: the edge of what the source can reach.
    #[serde(skip)]
    pub highest: Option<f64>,
    /// Input voltage fallen while the current stayed at the limit, V.
    #[serde(skip)]
    pub limit_fall: f64,
    /// Rows in limit.
    #[serde(skip)]
    pub limit_rows: Vec<[usize; 2]>,
}

/// Usable rows at the input sense node.
struct Sense {
    row: Vec<u32>,
    time: Vec<f64>,
    volts: Vec<f64>,
    amperes: Vec<f64>,
    i_out: Vec<f64>,
    v_in: Vec<f64>,
}

/// Reasons that make a reading worthless here; a step is welcome.
const WORTHLESS: u16 = Reason::Unreadable.bit()
    | Reason::Missing.bit()
    | Reason::OverRange.bit()
    | Reason::TimeJump.bit()
    | Reason::Unaligned.bit()
    | Reason::Spike.bit()
    | Reason::ByHand.bit();

/// Largest spread of a current held at a limit, as a share of it; wider is no pile (common practice, no source).
const PILE: f64 = 0.02;

impl Source {
    /// Looks at all rows of a run, also those next to a step.
    #[must_use]
    pub fn find(rows: &dyn Rows) -> Self {
        let sense = Sense::of(rows);
        let noise = rows.noise()[3] / rows.correction().values[3];
        let limit = sense.limit(noise);
        let below = limit
            .as_ref()
            .map(|limit| sense.without(|i| i > limit.current - 6.0 * limit.spread - 0.01 * limit.current));
        let free = below.as_ref().unwrap_or(&sense);
        let resistance = free
            .resistance_by_steps(noise)
            .or_else(|| free.resistance_by_sweeps())
            .or_else(|| free.resistance_by_line());
        let (current_limit, limit_fall, limit_rows) = match &limit {
            Some(limit) => {
                let jacobian_u = rows.correction().covariance[3][3].max(0.0).sqrt() * limit.current;
                let offset_u = rows.correction().covariance[8][8].max(0.0).sqrt();
                let random = limit.spread / (limit.count as f64 / 16.0).max(1.0).sqrt();
                let u = libm::hypot(libm::hypot(jacobian_u, offset_u), random);
                let known = rows.correction().grade != crate::fixture::Grade::AsLogged;
                let quantity = Quantity { value: Some(limit.current), u: known.then_some(u), why: None };
                (quantity, limit.fall, limit.rows.clone())
            }
            None => (Quantity::unknown("not_reached"), 0.0, Vec::new()),
        };
        let Some((value, u, timescale)) = resistance else {
            return Self {
                resistance: Quantity::unknown("not_seen"),
                open_circuit: Quantity::unknown("not_seen"),
                current_limit,
                timescale: None,
                highest: None,
                limit_fall,
                limit_rows,
            };
        };
        let mut open: Vec<f64> = free.volts.iter().zip(&free.amperes).map(|(v, i)| v + value * i).collect();
        let middle = median(&mut open);
        let drift = spread(&open, middle);
        let highest = quantile(&mut open, 0.995);
        Self {
            resistance: Quantity { value: Some(value), u: with_gains(rows, value, u), why: None },
            open_circuit: Quantity::new(middle, drift),
            current_limit,
            timescale,
            highest: Some(highest),
            limit_fall,
            limit_rows,
        }
    }
}

/// The standard uncertainty of a resistance with the gains of both channels; `None` where the accuracy is
/// not known, since scatter is not accuracy.
///
/// **Formula** `u_rel^2 = u^2(ln g_V) + u^2(ln g_I) - 2 u(ln g_V, ln g_I)` beside the scatter.
/// **Source** JCGM 100:2008 clause 5.2.2.
fn with_gains(rows: &dyn Rows, value: f64, scatter: f64) -> Option<f64> {
    let correction = rows.correction();
    if correction.grade == crate::fixture::Grade::AsLogged {
        return None;
    }
    let (c, g) = (&correction.covariance, &correction.values);
    let gains = c[0][0] / (g[0] * g[0]) + c[3][3] / (g[3] * g[3]) - 2.0 * c[0][3] / (g[0] * g[3]);
    Some(libm::hypot(scatter, value * gains.max(0.0).sqrt()))
}

struct Limit {
    current: f64,
    spread: f64,
    fall: f64,
    count: usize,
    rows: Vec<[usize; 2]>,
}

impl Sense {
    fn of(rows: &dyn Rows) -> Self {
        let n = rows.rows();
        let mut out = Self {
            row: Vec::with_capacity(n),
            time: Vec::with_capacity(n),
            volts: Vec::with_capacity(n),
            amperes: Vec::with_capacity(n),
            i_out: Vec::with_capacity(n),
            v_in: Vec::with_capacity(n),
        };
        let values = &rows.correction().values;
        let correction = rows.correction();
        each_reading(rows, 0..n, |row, reading| {
            let mask = rows.mask(row);
            if mask & WORTHLESS != 0 && mask & Reason::KeptByHand.bit() == 0 {
                return;
            }
            let state = correction.apply(reading);
            let volts = (reading[0] - values[5]) / values[0];
            if volts.is_finite() && state.i_in.is_finite() && volts > 0.0 {
                out.row.push(row as u32);
                out.time.push(rows.time(row));
                out.volts.push(volts);
                out.amperes.push(state.i_in);
                out.i_out.push(state.i_out);
                out.v_in.push(state.v_in);
            }
        });
        out
    }

    fn len(&self) -> usize {
        self.row.len()
    }

    fn without(&self, out: impl Fn(f64) -> bool) -> Self {
        let keep: Vec<usize> = (0..self.len()).filter(|&k| !out(self.amperes[k])).collect();
        let pick = |column: &[f64]| keep.iter().map(|&k| column[k]).collect();
        Self {
            row: keep.iter().map(|&k| self.row[k]).collect(),
            time: pick(&self.time),
            volts: pick(&self.volts),
            amperes: pick(&self.amperes),
            i_out: pick(&self.i_out),
            v_in: pick(&self.v_in),
        }
    }

    /// From jumps of the current: immune to a slow drift of the source.
    ///
    /// **Formula** `R = -sum dV dI / sum dI^2`, over the third row before to the third row after a
    /// jump, so that rows that hold a mixture of before and after are not used.
    fn resistance_by_steps(&self, noise: f64) -> Option<(f64, f64, Option<f64>)> {
        let mut copy = self.amperes.clone();
        let span = quantile(&mut copy, 0.99) - quantile(&mut copy, 0.01);
        let large = (0.15 * span).max(16.0 * noise);
        if large.is_nan() || large <= 0.0 {
            return None;
        }
        let small = 0.25 * large;
        let mut steps: Vec<[f64; 2]> = Vec::new();
        let mut spacing = Vec::new();
        for k in 3..self.len().saturating_sub(4) {
            let (before, after) = (k - 2, k + 3);
            if self.row[after + 1] - self.row[before - 1] > 8 {
                continue;
            }
            let calm_before = (self.amperes[before] - self.amperes[before - 1]).abs() < small;
            let calm_after = (self.amperes[after + 1] - self.amperes[after]).abs() < small;
            let jump = self.amperes[k + 1] - self.amperes[k];
            let total = self.amperes[after] - self.amperes[before];
            if jump.abs() > 0.5 * large && total.abs() > large && calm_before && calm_after {
                steps.push([self.volts[after] - self.volts[before], total]);
                spacing.push(self.time[after] - self.time[before]);
            }
        }
        if steps.len() < 5 {
            return None;
        }
        let mut value = 0.0;
        let mut u = 0.0;
        for _ in 0..2 {
            let (mut vi, mut ii) = (0.0, 0.0);
            for [v, i] in &steps {
                vi += v * i;
                ii += i * i;
            }
            value = -vi / ii;
            let rest: Vec<f64> = steps.iter().map(|[v, i]| v + value * i).collect();
            let freedom = (steps.len() - 1) as f64;
            u = (rest.iter().map(|r| r * r).sum::<f64>() / freedom / ii).sqrt() * small_sample(freedom);
            let wide = 5.0 * spread(&rest, 0.0);
            let kept: Vec<[f64; 2]> =
                steps.iter().zip(&rest).filter(|(_, r)| r.abs() <= wide).map(|(step, _)| *step).collect();
            if kept.len() < 5 || kept.len() == steps.len() {
                break;
            }
            steps = kept;
        }
        let scale = median(&mut spacing);
        plausible(value, u).then(|| (value, u, scale.is_finite().then_some(scale)))
    }

    /// From repeated sweeps of the current: inside each sweep a straight drift is taken out.
    fn resistance_by_sweeps(&self) -> Option<(f64, f64, Option<f64>)> {
        let mut copy = self.amperes.clone();
        let (low, high) = (quantile(&mut copy, 0.05), quantile(&mut copy, 0.95));
        let (down, up) = (low + 0.35 * (high - low), low + 0.65 * (high - low));
        let mut starts = Vec::new();
        let mut above = None;
        for (k, &i) in self.amperes.iter().enumerate() {
            if i > up && above != Some(true) {
                above = Some(true);
                starts.push(k);
            } else if i < down && above == Some(true) {
                above = Some(false);
            }
        }
        if starts.len() < 4 {
            return None;
        }
        let mut blocks: Vec<[f64; 2]> = Vec::new();
        for pair in starts.windows(2) {
            let range = pair[0]..pair[1];
            let n = range.len() as f64;
            if n < 8.0 {
                continue;
            }
            let first = self.row[pair[0]];
            let row = |k: usize| f64::from(self.row[k] - first);
            let (mut mi, mut mv, mut middle) = (0.0, 0.0, 0.0);
            for k in range.clone() {
                mi += self.amperes[k];
                mv += self.volts[k];
                middle += row(k);
            }
            mi /= n;
            mv /= n;
            middle /= n;
            let (mut tt, mut ti, mut tv, mut ii, mut iv) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for k in range {
                let t = row(k) - middle;
                let (di, dv) = (self.amperes[k] - mi, self.volts[k] - mv);
                tt += t * t;
                ti += t * di;
                tv += t * dv;
                ii += di * di;
                iv += di * dv;
            }
            blocks.push([iv - ti * tv / tt, ii - ti * ti / tt]);
        }
        // A sweep during which the source itself jumped tells nothing.
        let mut slopes: Vec<f64> = blocks.iter().map(|b| b[0] / b[1]).collect();
        let middle = median(&mut slopes);
        let wide = 5.0 * spread(&slopes, middle).max(1e-3 * middle.abs());
        blocks.retain(|b| (b[0] / b[1] - middle).abs() <= wide);
        if blocks.len() < 3 {
            return None;
        }
        let total: f64 = blocks.iter().map(|b| b[1]).sum();
        let value = -blocks.iter().map(|b| b[0]).sum::<f64>() / total;
        let count = blocks.len() as f64;
        let rest: f64 = blocks.iter().map(|b| (b[0] + value * b[1]) * (b[0] + value * b[1])).sum();
        let u = (rest * count / (count - 1.0)).sqrt() / total * small_sample(count - 1.0);
        let (first, last) = (starts[0], starts[starts.len() - 1]);
        let scale = (self.time[last] - self.time[first]) / (starts.len() - 1) as f64;
        plausible(value, u).then(|| (value, u, scale.is_finite().then_some(scale)))
    }

    /// From one straight line through all rows; only where the rows keep to it.
    fn resistance_by_line(&self) -> Option<(f64, f64, Option<f64>)> {
        let n = self.len() as f64;
        if n < 20.0 {
            return None;
        }
        let mi = self.amperes.iter().sum::<f64>() / n;
        let mv = self.volts.iter().sum::<f64>() / n;
        let (mut ii, mut iv) = (0.0, 0.0);
        for (i, v) in self.amperes.iter().zip(&self.volts) {
            ii += (i - mi) * (i - mi);
            iv += (i - mi) * (v - mv);
        }
        if ii <= 0.0 {
            return None;
        }
        let value = -iv / ii;
        let (mut rest, mut vv) = (0.0, 0.0);
        for (i, v) in self.amperes.iter().zip(&self.volts) {
            let r = v - mv + value * (i - mi);
            rest += r * r;
            vv += (v - mv) * (v - mv);
        }
        // Rows hang together: one in sixteen counts.
        let u = (rest / (n / 16.0 - 2.0).max(1.0) / ii * 16.0).sqrt() / 4.0;
        (plausible(value, u) && rest < 0.1 * vv).then_some((value, u, None))
    }

    /// Where the input current piles up at its upper end while the voltage falls and the output
    /// gives way.
    fn limit(&self, noise: f64) -> Option<Limit> {
        if self.len() < 50 {
            return None;
        }
        let mut copy = self.amperes.clone();
        let top = quantile(&mut copy, 0.998);
        let width = (top / 160.0).max(4.0 * noise);
        let floor = 0.85 * top;
        let bins = (libm::ceil((top * 1.05 - floor) / width) as usize).clamp(1, 400);
        let mut counts = vec![0usize; bins];
        for &i in &self.amperes {
            if i >= floor {
                let bin = libm::floor((i - floor) / width) as usize;
                if bin < bins {
                    counts[bin] += 1;
                }
            }
        }
        let peak = (0..bins).rev().max_by_key(|&bin| counts[bin])?;
        let centre = floor + (peak as f64 + 0.5) * width;
        let mut close: Vec<f64> =
            self.amperes.iter().copied().filter(|i| (i - centre).abs() < 1.5 * width).collect();
        if close.len() < 15 {
            return None;
        }
        let current = median(&mut close);
        let spread = spread(&close, current).max(0.25 * noise);
        if spread > PILE * current {
            return None;
        }
        let held: Vec<usize> =
            (0..self.len()).filter(|&k| (self.amperes[k] - current).abs() < 6.0 * spread).collect();
        let above = self.amperes.iter().filter(|i| **i > current + 8.0 * spread).count();
        let typical = self.len() / 160;
        if held.len() < 15.max(typical) || above * 200 > self.len() {
            return None;
        }
        let of = |column: &[f64]| -> Vec<f64> { held.iter().map(|&k| column[k]).collect() };
        let mut volts = of(&self.v_in);
        let fall = quantile(&mut volts, 0.98) - quantile(&mut volts, 0.02);
        let mut i_out = of(&self.i_out);
        let (a, b) = (quantile(&mut i_out, 0.05), quantile(&mut i_out, 0.95));
        let level = quantile(&mut i_out, 0.5).abs();
        // A linear regulator holds its input current too: there the output does not give way.
        let gives_way = b - a > 0.03 * level;
        // A constant load behind a falling source draws more and more instead of the same.
        let slope = self.slope(&held);
        let holds = slope.abs() * fall < 0.25 * current * fall / median(&mut volts).max(1e-9);
        if fall < 0.2 || !gives_way || !holds {
            return None;
        }
        let mut rows: Vec<[usize; 2]> = Vec::new();
        for &k in &held {
            let row = self.row[k] as usize;
            match rows.last_mut() {
                Some(last) if row - last[1] <= 3 => last[1] = row,
                _ => rows.push([row, row]),
            }
        }
        Some(Limit { current, spread, fall, count: held.len(), rows })
    }

    /// Slope of the input current against the input voltage, A/V.
    fn slope(&self, points: &[usize]) -> f64 {
        let n = points.len() as f64;
        let mv = points.iter().map(|&k| self.v_in[k]).sum::<f64>() / n;
        let mi = points.iter().map(|&k| self.amperes[k]).sum::<f64>() / n;
        let (mut vv, mut vi) = (0.0, 0.0);
        for &k in points {
            vv += (self.v_in[k] - mv) * (self.v_in[k] - mv);
            vi += (self.v_in[k] - mv) * (self.amperes[k] - mi);
        }
        if vv > 0.0 { vi / vv } else { 0.0 }
    }
}

/// A resistance that is above zero and better known than to a third.
fn plausible(value: f64, u: f64) -> bool {
    value > 0.0 && u.is_finite() && u < 0.33 * value
}
