//! Loss and output voltage at one point, by local regression on the rows around it.
//!
//! The loss is fitted, not the efficiency: it is close to a low polynomial in the current, and the
//! noise of its four readings enters almost linearly, so that light loads are not biased. The fit
//! is quadratic in I_o and V_A, with wide normal priors on every slope and curvature (in shares of
//! the loss itself), so that sparse rows give a wide answer instead of a wild one.

use super::index::Index;
use super::operating::{Operating, plus, times};
use super::regress::{COLUMNS, Near, regress};
use super::scatter::chained;
use crate::fixture::{PARAMETERS, State};

/// Widest change of the loss over a factor e in current and voltage, in shares of the loss:
/// one standard deviation of the priors. Common practice, no source; a linear regulator near its
/// drop-out has the steepest loss against voltage.
const PRIOR: [f64; COLUMNS] = [f64::INFINITY, 2.0, 2.0, 3.0, 3.0, 3.0];
/// The same for the output voltage.
const PRIOR_V_OUT: [f64; COLUMNS] = [f64::INFINITY, 0.3, 0.3, 1.0, 0.5, 1.0];
/// More rows than this are not used at one point.
const MOST_ROWS: usize = 1200;
/// Widest window that is opened for more rows; wider ones only to find any.
const WIDEST_SCALE: f64 = 2.9;

/// What the rows near a point say.
#[derive(Clone, Debug)]
pub(crate) struct Local {
    pub(crate) v_in: f64,
    pub(crate) i_out: f64,
    pub(crate) loss: f64,
    pub(crate) v_out: f64,
    /// Slopes of the loss: W/V and W/A.
    loss_slope: [f64; 2],
    /// Slopes of the output voltage: V/V and V/A.
    v_out_slope: [f64; 2],
    low: f64,
    /// Random standard uncertainties.
    pub(crate) u_efficiency: f64,
    pub(crate) u_loss: f64,
    pub(crate) u_p_out: f64,
    pub(crate) n: usize,
    pub(crate) n_effective: f64,
    /// Part of the loss's random uncertainty because the rows lie beside the point, W, and the
    /// place `[v_in, i_out]` that the rows stand for.
    aside: f64,
    centre: [f64; 2],
    /// How fast the rows change, as [`Operating::slope`], each row with its share in the answer.
    slope: [f64; 5],
}

/// An answer at one point with its two kinds of uncertainty, wherever it comes from.
#[derive(Clone, Debug)]
pub(crate) struct Place {
    pub(crate) v_in: f64,
    pub(crate) i_out: f64,
    pub(crate) efficiency: f64,
    pub(crate) loss: f64,
    pub(crate) p_out: f64,
    /// Random standard uncertainties of efficiency, loss and output power.
    pub(crate) u_random: [f64; 3],
    /// Sensitivities of efficiency, loss and output power to the fixture's parameters.
    pub(crate) sensitivity: [[f64; PARAMETERS]; 3],
    /// How much efficiency, loss and output power change for each second by which a channel's samples are moved.
    pub(crate) per_second: [[f64; 5]; 3],
    pub(crate) n: usize,
    pub(crate) n_effective: f64,
    /// From rows around the point, not from a model.
    pub(crate) by_rows: bool,
    /// Part of the loss's random uncertainty because the rows lie beside the point, W, and the
    /// place `[v_in, i_out]` that the rows stand for.
    pub(crate) aside: f64,
    pub(crate) centre: [f64; 2],
}

impl Place {
    pub(crate) fn p_in(&self) -> f64 {
        self.p_out + self.loss
    }
}

/// How far from the point rows are used.
#[derive(Clone, Copy, Debug)]
struct Window {
    /// Half width in V_A, V.
    v: f64,
    /// Half width in ln I_o.
    x: f64,
}

impl Local {
    /// Efficiency at the point.
    pub(crate) fn efficiency(&self) -> f64 {
        let p_out = self.v_out * self.i_out;
        p_out / (p_out + self.loss)
    }

    pub(crate) fn p_out(&self) -> f64 {
        self.v_out * self.i_out
    }

    pub(crate) fn p_in(&self) -> f64 {
        self.p_out() + self.loss
    }

    /// The answer with its sensitivities.
    pub(crate) fn place(&self, op: &Operating) -> Place {
        let sensitivity = self.sensitivities(op);
        Place {
            v_in: self.v_in,
            i_out: self.i_out,
            efficiency: self.efficiency(),
            loss: self.loss,
            p_out: self.p_out(),
            u_random: [self.u_efficiency, self.u_loss, self.u_p_out],
            per_second: sensitivity.map(|one| op.per_second(&one, self.slope)),
            sensitivity,
            n: self.n,
            n_effective: self.n_effective,
            by_rows: true,
            aside: self.aside,
            centre: self.centre,
        }
    }

    fn state(&self) -> State {
        State { v_in: self.v_in, i_in: self.p_in() / self.v_in, v_out: self.v_out, i_out: self.i_out }
    }

    /// Sensitivities of (efficiency, loss, output power) at this fixed point of the map.
    ///
    /// A changed parameter changes a row's value and moves the row across the map: both count,
    /// because the point asked for stays where it is.
    pub(crate) fn sensitivities(&self, op: &Operating) -> [[f64; PARAMETERS]; 3] {
        let reading = op.reading_of(self.state(), self.low);
        let jacobian = op.correction.jacobian(reading);
        let moved = |by_v: f64, by_i: f64| plus(&times(&jacobian[0], -by_v), &times(&jacobian[3], -by_i));
        let loss =
            plus(&op.correction.loss_sensitivity(reading), &moved(self.loss_slope[0], self.loss_slope[1]));
        let v_out = plus(&jacobian[2], &moved(self.v_out_slope[0], self.v_out_slope[1]));
        let p_out = times(&v_out, self.i_out);
        // eta = P_out / (P_out + loss)
        let square = self.p_in() * self.p_in();
        let efficiency = plus(&times(&p_out, self.loss / square), &times(&loss, -self.p_out() / square));
        [efficiency, loss, p_out]
    }
}

/// The local answer at a point, or why there is none.
///
/// **Units** `splits`: output currents, A, at which the loss steps; rows beyond the next step are
/// not used. `sharp`: how far below the usual random part to go where rows allow it, 1 or less.
pub(crate) fn local(
    op: &Operating,
    index: &Index,
    v_in: f64,
    i_out: f64,
    splits: &[f64],
    sharp: f64,
) -> Result<Local, &'static str> {
    if !(v_in > 0.0 && i_out > 0.0) || op.is_empty() {
        return Err("not_visited");
    }
    let noise = op.axis_noise();
    let mut side = [0.0, f64::INFINITY];
    for &split in splits {
        if split <= i_out {
            side[0] = split.max(side[0]);
        } else {
            side[1] = split.min(side[1]);
        }
    }
    let smallest = Window { v: 4.0 * noise.0, x: 5.0 * noise.1 / i_out };
    let grown =
        |scale: f64| Window { v: (0.012 * v_in * scale).max(smallest.v), x: (0.08 * scale).max(smallest.x) };
    let mut scratch = Vec::new();
    let mut look = |scale: f64| gather(op, index, [v_in, i_out], grown(scale), side, &mut scratch);
    let mut scale = 1.0;
    let mut near = look(scale);
    if near.len() > MOST_ROWS {
        scale = (MOST_ROWS as f64 / near.len() as f64).sqrt().max(0.3);
        near = look(scale);
    }
    let mut why = "not_visited";
    let mut first = None;
    while first.is_none() {
        let window = grown(scale);
        if near.len() >= 6 && surrounded(&near, window, v_in, noise, i_out) {
            // Few rows are taken as they are only once the window has become wide.
            if near.len() >= 40 || scale > 4.0 {
                first = fit(op, &near, window, v_in, i_out);
            } else {
                why = "few_rows";
            }
        }
        if first.is_none() {
            if scale > 5.5 {
                return Err(why);
            }
            scale *= 1.25;
            near = look(scale);
        }
    }
    let Some(first) = first else { return Err(why) };
    // The random part falls with the square root of the rows: one wider window, as wide as it has
    // to be, instead of many.
    let short = first.u_efficiency / (sharp * goal(op, &first));
    let rows = (1.2 * short * short * first.n as f64).min(MOST_ROWS as f64);
    let wider = (scale * (rows / first.n as f64).sqrt()).min(WIDEST_SCALE);
    if short > 1.0 && wider > 1.1 * scale {
        near = look(wider);
        let window = grown(wider);
        if surrounded(&near, window, v_in, noise, i_out)
            && let Some(second) = fit(op, &near, window, v_in, i_out)
            && second.u_efficiency < first.u_efficiency
        {
            return Ok(second);
        }
    }
    Ok(first)
}

/// Random uncertainty of the efficiency at which more rows do not help any more.
fn goal(op: &Operating, answer: &Local) -> f64 {
    let floor = 1e-4 * answer.efficiency();
    if !op.accuracy_known() {
        return 2.0 * floor;
    }
    let [efficiency, ..] = answer.sensitivities(op);
    (0.3 * op.correction.variance(&efficiency).max(0.0).sqrt()).max(floor)
}

fn gather(
    op: &Operating,
    index: &Index,
    [v_in, i_out]: [f64; 2],
    window: Window,
    side: [f64; 2],
    scratch: &mut Vec<u32>,
) -> Vec<Near> {
    let reach = libm::exp(window.x);
    let i = [(i_out / reach).max(side[0]), (i_out * reach).min(side[1])];
    index.gather([v_in - window.v, v_in + window.v], i, scratch);
    let scale_i = i_out * window.x;
    let mut near = Vec::with_capacity(scratch.len().min(8192));
    for &point in scratch.iter() {
        let k = point as usize;
        let a = (op.v_in[k] - v_in) / window.v;
        let current = op.i_out[k];
        if a.abs() >= 1.0 || current <= i[0] || current >= i[1] {
            continue;
        }
        let b = (current - i_out) / scale_i;
        // Distance for the weight is measured on the logarithm, as the window is.
        let d = if b < 0.0 { b / (1.0 - 1.0 / reach) } else { b / (reach - 1.0) } * window.x;
        let weight = (1.0 - a * a) * (1.0 - d * d).max(0.0);
        near.push(Near { point, weight, columns: [1.0, b, b * b, a, a * b, a * a] });
    }
    near
}

/// Whether rows lie on all sides of the point, or near enough to call it visited.
///
/// A stray row among many does not make a side: a fiftieth of the rows has to lie there.
fn surrounded(near: &[Near], window: Window, v_in: f64, noise: (f64, f64), i_out: f64) -> bool {
    let slack_a = (0.15 * window.v).min(0.01 * v_in).max(2.0 * noise.0) / window.v;
    let slack_b = (0.15 * window.x).min(0.03).max(2.0 * noise.1 / i_out) / window.x;
    let mut sides = [0usize; 4];
    let mut close = 0;
    for row in near {
        let (a, b) = (row.columns[3], row.columns[1]);
        sides[0] += usize::from(a <= slack_a);
        sides[1] += usize::from(a >= -slack_a);
        sides[2] += usize::from(b <= slack_b);
        sides[3] += usize::from(b >= -slack_b);
        close += usize::from(a * a + b * b < 0.36);
    }
    let enough = (near.len() / 50).max(if near.len() < 60 { 1 } else { 3 });
    sides.iter().all(|side| *side >= enough) && close >= enough
}

fn fit(op: &Operating, near: &[Near], window: Window, v_in: f64, i_out: f64) -> Option<Local> {
    let noise = op.axis_noise();
    let mut mean = [0.0; COLUMNS];
    let mut total = 0.0;
    for row in near {
        total += row.weight;
        for (sum, x) in mean.iter_mut().zip(row.columns) {
            *sum += row.weight * x;
        }
    }
    if total <= 0.0 {
        return None;
    }
    for x in &mut mean {
        *x /= total;
    }
    // Along an axis where the rows spread no wider than its noise there is no slope to see, only
    // noise that would be taken for one.
    let sd = |mean: f64, square: f64| (square - mean * mean).max(0.0).sqrt();
    let use_b = sd(mean[1], mean[2]) * window.x * i_out > 4.0 * noise.1 && mean[2] > 1e-12;
    let use_a = sd(mean[3], mean[5]) * window.v > 4.0 * noise.0 && mean[5] > 1e-12;
    let active: Vec<usize> = [true, use_b, use_b, use_a, use_a && use_b, use_a]
        .iter()
        .enumerate()
        .filter_map(|(k, used)| used.then_some(k))
        .collect();
    let loss: Vec<f64> = near.iter().map(|row| op.loss(row.point as usize)).collect();
    let v_out: Vec<f64> = near.iter().map(|row| op.v_out[row.point as usize]).collect();
    let average =
        |values: &[f64]| near.iter().zip(values).map(|(row, x)| row.weight * x).sum::<f64>() / total;
    let (loss_scale, v_scale) = (average(&loss).abs(), average(&v_out).abs());
    let p_scale = v_scale * i_out;
    // Slopes and curvatures that a window as narrow as this one can show.
    let reach = [1.0, window.x, window.x * window.x, window.v / v_in, 0.0, 0.0];
    let reach = [reach[0], reach[1], reach[2], reach[3], reach[1] * reach[3], reach[3] * reach[3]];
    let priors = |scale: f64, relative: [f64; COLUMNS]| -> [f64; COLUMNS] {
        std::array::from_fn(|k| relative[k] * scale * reach[k])
    };
    let first = near[near.len() / 2].point as usize;
    let loss_fit = regress(
        near,
        &loss,
        &active,
        priors(loss_scale.max(1e-3 * p_scale), PRIOR),
        op.loss_variance(first).max(1e-18 * p_scale * p_scale),
    )?;
    let v_variance = (op.noise[1] * op.noise[1] + op.noise[2] * op.noise[2]).max(1e-18 * v_scale);
    let v_fit = regress(near, &v_out, &active, priors(v_scale, PRIOR_V_OUT), v_variance)?;

    // A handful of rows that the fit can follow one by one shows no scatter to judge it by.
    if loss_fit.freedom < 2.5 {
        return None;
    }
    let (loss0, v0) = (loss_fit.coefficients[0], v_fit.coefficients[0]);
    let p_out = v0 * i_out;
    let p_in = p_out + loss0;
    if !(p_out > 0.0 && p_in > 0.0) {
        return None;
    }
    let square = p_in * p_in;
    let joint: Vec<f64> = loss_fit
        .residuals
        .iter()
        .zip(&v_fit.residuals)
        .map(|(l, v)| (loss0 * i_out * v - p_out * l) / square)
        .collect();
    let rows: Vec<u32> = near.iter().map(|row| op.row[row.point as usize]).collect();
    let share = p_out / square;
    // Without a slope the rows' mean stands for the point: what lies between them is not known
    // better than a typical slope.
    let mut aside = 0.0;
    for (used, distance) in [(use_b, mean[1] * window.x), (use_a, mean[3] * window.v / v_in)] {
        if !used {
            aside += (loss0 * distance) * (loss0 * distance);
        }
    }
    let loss_prior = loss_fit.prior_variance + aside;
    let (variance_efficiency, effective) = chained(&rows, &loss_fit.influence, &joint, loss_fit.freedom);
    let (variance_loss, _) = chained(&rows, &loss_fit.influence, &loss_fit.residuals, loss_fit.freedom);
    let (variance_v, _) = chained(&rows, &v_fit.influence, &v_fit.residuals, v_fit.freedom);
    let mut slope = [0.0; 5];
    if !op.doubt.is_none() {
        for (row, share) in near.iter().zip(&loss_fit.influence) {
            let own = op.slope(row.point as usize);
            slope.iter_mut().zip(own).for_each(|(sum, own)| *sum += share * own);
        }
    }
    let scale_i = i_out * window.x;
    let low = near.iter().map(|row| op.v_low[row.point as usize] * row.weight).sum::<f64>() / total;
    Some(Local {
        v_in,
        i_out,
        loss: loss0,
        v_out: v0,
        loss_slope: [loss_fit.coefficients[3] / window.v, loss_fit.coefficients[1] / scale_i],
        v_out_slope: [v_fit.coefficients[3] / window.v, v_fit.coefficients[1] / scale_i],
        low,
        u_efficiency: (variance_efficiency + share * share * loss_prior).sqrt(),
        u_loss: (variance_loss + loss_prior).sqrt(),
        u_p_out: (variance_v + v_fit.prior_variance).sqrt() * i_out,
        n: near.len(),
        n_effective: effective,
        aside: aside.sqrt(),
        centre: [
            if use_a { v_in } else { v_in + mean[3] * window.v },
            if use_b { i_out } else { i_out * (1.0 + mean[1] * window.x) },
        ],
        slope,
    })
}
