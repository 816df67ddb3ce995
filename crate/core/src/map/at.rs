//! Answers at asked points.

use serde::Serialize;

use super::index::Index;
use super::local::{Place, local};
use super::operating::Operating;
use crate::fixture::{PARAMETERS, Spot, Spread, State, reading_u, spread_by};
use crate::quantity::Quantity;

/// How an asked point was answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum How {
    /// From the rows around it.
    Rows,
    /// From the loss model, inside the visited region.
    Fit,
    /// Not answered.
    None,
}

/// The answer at one asked point, at the converter's terminals.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Asked input voltage, V.
    pub v_in: f64,
    /// Asked output current, A.
    pub i_out: f64,
    /// Efficiency; for a comparison its difference.
    pub value: Option<f64>,
    /// Standard uncertainty; `None` where the accuracy is not known.
    pub u: Option<f64>,
    /// Input power, W.
    pub p_in: Quantity,
    /// Output power, W.
    pub p_out: Quantity,
    /// Loss, W.
    pub loss: Quantity,
    /// 95 % interval of the efficiency: by the law of propagation where that holds, else by draws; of a
    /// difference always by the law.
    pub interval: Spread,
    /// Rows used.
    pub n: usize,
    /// Where the answer comes from.
    pub how: How,
    /// Why there is no answer; present only then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<&'static str>,
    /// Random part of `u`.
    #[serde(skip)]
    pub u_random: Option<f64>,
    /// Systematic part of `u`: from the fixture and from the delays between channels.
    #[serde(skip)]
    pub u_systematic: Option<f64>,
    /// Part of `u_systematic` from the delays between channels; known without a calibration as well.
    #[serde(skip)]
    pub u_delays: f64,
}

impl Point {
    /// A point without an answer.
    #[must_use]
    pub fn unknown(v_in: f64, i_out: f64, why: &'static str) -> Self {
        Self {
            v_in,
            i_out,
            value: None,
            u: None,
            p_in: Quantity::unknown(why),
            p_out: Quantity::unknown(why),
            loss: Quantity::unknown(why),
            interval: Spread { by: "none".into(), ..Spread::default() },
            n: 0,
            how: How::None,
            why: Some(why),
            u_random: None,
            u_systematic: None,
            u_delays: 0.0,
        }
    }
}

impl Point {
    /// A point from an answer.
    pub(crate) fn from_place(op: &Operating, place: &Place) -> Self {
        let [efficiency, loss, p_out] = &place.sensitivity;
        let p_in = super::operating::plus(loss, p_out);
        let systematic = |sensitivity: &[f64; PARAMETERS], by_delays: &[f64; 5]| {
            let delays = op.doubt.variance(by_delays);
            op.accuracy_known().then(|| (op.correction.variance(sensitivity).max(0.0) + delays).sqrt())
        };
        let quantity =
            |value: f64, random: f64, sensitivity: &[f64; PARAMETERS], by_delays: &[f64; 5]| Quantity {
                value: Some(value),
                u: systematic(sensitivity, by_delays).map(|u| libm::hypot(u, random)),
                why: None,
            };
        let [d_efficiency, d_loss, d_p_out] = &place.per_second;
        let d_p_in: [f64; 5] = std::array::from_fn(|k| d_loss[k] + d_p_out[k]);
        let u_systematic = systematic(efficiency, d_efficiency);
        let [r_efficiency, r_loss, r_p_out] = place.u_random;
        Self {
            v_in: place.v_in,
            i_out: place.i_out,
            value: Some(place.efficiency),
            u: u_systematic.map(|u| libm::hypot(u, r_efficiency)),
            p_in: quantity(place.p_in(), libm::hypot(r_loss, r_p_out), &p_in, &d_p_in),
            p_out: quantity(place.p_out, r_p_out, p_out, d_p_out),
            loss: quantity(place.loss, r_loss, loss, d_loss),
            interval: Spread { by: "none".into(), ..Spread::default() },
            n: place.n,
            how: if place.by_rows { How::Rows } else { How::Fit },
            why: None,
            u_random: Some(r_efficiency),
            u_systematic,
            u_delays: op.doubt.u(d_efficiency),
        }
    }

    /// Finds the interval of its efficiency; `draws` where the law of propagation does not hold.
    pub(crate) fn find_interval(&mut self, op: &Operating, draws: bool) {
        if let Some(spot) = self.spot(op) {
            self.interval = spread_by(&op.correction, &spot, draws);
        }
    }

    /// The readings that an answered point stands for; their scatter makes its random part.
    #[must_use]
    pub fn spot(&self, op: &Operating) -> Option<Spot> {
        let (p_in, p_out) = (self.p_in.value?, self.p_out.value?);
        let value = self.value?;
        let state =
            State { v_in: self.v_in, i_in: p_in / self.v_in, v_out: p_out / self.i_out, i_out: self.i_out };
        let distance = |k: usize| (op.i_out[k] - self.i_out).abs();
        let near = (0..op.len()).min_by(|&a, &b| distance(a).total_cmp(&distance(b)).then(a.cmp(&b)))?;
        let reading = op.reading_of(state, op.v_low[near]);
        let sensitivity = op.correction.sensitivity(reading);
        let relative = self.u_random.map_or(0.0, |u| u / value.abs());
        let reading_u = reading_u(&sensitivity, op.noise, relative);
        let spot = Spot { reading, reading_u, delays_u: self.u_delays / value.abs(), state };
        state.efficiency().is_finite().then_some(spot)
    }
}

/// Efficiency, powers and loss at asked `[v_in, i_out]` points from the rows around each.
///
/// **Units** V, A at the converter's terminals; `splits`: output currents at which the loss steps.
/// **Missing data** a point outside the visited region is not answered and says why.
#[must_use]
pub fn at(op: &Operating, index: &Index, points: &[[f64; 2]], splits: &[f64]) -> Vec<Point> {
    points
        .iter()
        .map(|&[v_in, i_out]| match local(op, index, v_in, i_out, splits, 1.0) {
            Ok(local) => Point::from_place(op, &local.place(op)),
            Err(why) => Point::unknown(v_in, i_out, why),
        })
        .collect()
}
