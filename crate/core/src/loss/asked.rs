//! Asked points: from the rows around them, or from the loss model where the run went around a
//! place without stopping there.

use super::anchor::anchored;
use super::model::LossModel;
use crate::map::local::{Place, local};
use crate::map::{Index, Operating, Point, plus, times};

/// A loss model that is this unsure of a loss, in shares of it, answers no asked point.
const WORST_FIT: f64 = 0.25;
/// A place this close to the end of a step's interval, as a factor, lies on a row that ends it.
const EDGE: f64 = 1.005;

/// One run ready to answer at any place.
pub(crate) struct Asker<'a> {
    op: &'a Operating,
    index: &'a Index,
    model: &'a LossModel,
    corners: Vec<[f64; 2]>,
    splits: Vec<f64>,
    sharp: f64,
}

impl<'a> Asker<'a> {
    pub(crate) fn new(op: &'a Operating, index: &'a Index, model: &'a LossModel) -> Self {
        Self::within(op, index, model, hull(op))
    }

    /// As [`Asker::new`] with the corners of the visited region at hand.
    pub(crate) fn within(
        op: &'a Operating,
        index: &'a Index,
        model: &'a LossModel,
        corners: Vec<[f64; 2]>,
    ) -> Self {
        Self { op, index, model, corners, splits: model.splits(), sharp: 1.0 }
    }

    /// The same with a random part that goes lower where rows allow it: for differences, in which
    /// the systematic part cancels.
    pub(crate) fn sharper(self) -> Self {
        Self { sharp: 0.3, ..self }
    }

    /// From the rows around a place. Rows that all lie beside it, as those of a level do, are
    /// brought to it along the model.
    ///
    /// Near a settled point that point decides: its neighbours may lie beyond a step.
    pub(crate) fn by_rows(&self, v_in: f64, i_out: f64) -> Result<Place, &'static str> {
        if self.op.settled
            && let Some(place) = anchored(self.op, self.model, v_in, i_out)
        {
            return Ok(self.beside_step(place));
        }
        let place = local(self.op, self.index, v_in, i_out, &self.splits, self.sharp)?.place(self.op);
        Ok(self.beside_step(self.brought(&place).unwrap_or(place)))
    }

    /// From the rows around a place, else from the loss model inside the visited region.
    pub(crate) fn place(&self, v_in: f64, i_out: f64) -> Result<Place, &'static str> {
        self.by_rows(v_in, i_out).or_else(|why| {
            visited_around(&self.corners, v_in, i_out)
                .then(|| from_model(self.op, self.model, v_in, i_out))
                .flatten()
                .map(|place| self.beside_step(place))
                .ok_or(why)
        })
    }

    /// Widens an answer that lies where a step of the loss may be: on which side of the step it
    /// is, nobody has seen.
    ///
    /// **Formula** with the step's place anywhere in its interval alike, the place is beyond it with
    /// probability p: variance `jump^2 p (1 - p)`; the loss model's value moves to the mean.
    fn beside_step(&self, mut place: Place) -> Place {
        for step in &self.model.steps {
            let [low, high] = [step.between[0] * EDGE, step.between[1] / EDGE];
            let jump = step.power.value.unwrap_or(0.0);
            if place.i_out <= low || place.i_out >= high {
                continue;
            }
            let p = (place.i_out - low) / (high - low);
            let doubt = jump.abs() * (p * (1.0 - p)).sqrt();
            if !place.by_rows {
                let on = step.i_out.value.is_some_and(|middle| place.i_out >= middle);
                place.loss += jump * if on { p - 1.0 } else { p };
                place.efficiency = place.p_out / place.p_in();
            }
            let share = place.p_out / (place.p_in() * place.p_in());
            place.u_random[0] = libm::hypot(place.u_random[0], share * doubt);
            place.u_random[1] = libm::hypot(place.u_random[1], doubt);
        }
        place
    }

    fn brought(&self, place: &Place) -> Option<Place> {
        if place.aside <= 0.0 {
            return None;
        }
        let there = self.model.predict(self.op, place.centre[0], place.centre[1])?;
        let here = self.model.predict(self.op, place.v_in, place.i_out)?;
        let shift = here.loss - there.loss;
        let v_shift = here.state.v_out - there.state.v_out;
        let loss = place.loss + shift;
        let p_out = place.p_out + v_shift * place.i_out;
        let p_in = p_out + loss;
        let share = p_out / (p_in * p_in);
        // What was added for the distance goes; a fifth of the shift stays for the model.
        let without = |u: f64, part: f64| (u * u - part * part).max(0.0).sqrt();
        let kept = 0.2 * shift.abs();
        if kept >= place.aside || !(p_out > 0.0 && p_in > 0.0) {
            return None;
        }
        let [efficiency, loss_u, p_out_u] = place.u_random;
        Some(Place {
            efficiency: p_out / p_in,
            loss,
            p_out,
            u_random: [
                libm::hypot(without(efficiency, share * place.aside), share * kept),
                libm::hypot(without(loss_u, place.aside), kept),
                p_out_u,
            ],
            aside: kept,
            ..place.clone()
        })
    }
}

/// Efficiency, powers and loss at asked `[v_in, i_out]` points, V and A at the converter's
/// terminals.
///
/// `how` is `rows` where rows lie around the point, `fit` where only the loss model reaches it
/// inside the visited region, `none` elsewhere: never beyond what was visited.
#[must_use]
pub fn at(op: &Operating, index: &Index, model: &LossModel, points: &[[f64; 2]]) -> Vec<Point> {
    let asker = Asker::new(op, index, model);
    points
        .iter()
        .map(|&[v_in, i_out]| match asker.place(v_in, i_out) {
            Ok(place) => Point::from_place(op, &place),
            Err(why) => Point::unknown(v_in, i_out, why),
        })
        .collect()
}

/// Corners of the visited region on (V_A, I_o), counter-clockwise.
///
/// **Source** A. M. Andrew, Information Processing Letters 9 (1979) 216: monotone chain.
pub(crate) fn hull(op: &Operating) -> Vec<[f64; 2]> {
    if op.is_empty() {
        return Vec::new();
    }
    // The extremes per slice of the logarithm of the current carry the whole hull closely enough.
    const SLICES: usize = 128;
    let low = op.i_out.iter().copied().fold(f64::INFINITY, f64::min);
    let high = op.i_out.iter().copied().fold(0.0, f64::max);
    let step = (libm::log(high / low) / SLICES as f64).max(1e-12);
    let mut extremes: Vec<Option<[[f64; 2]; 2]>> = vec![None; SLICES];
    for k in 0..op.len() {
        let point = [op.v_in[k], op.i_out[k]];
        let slice = ((libm::log(point[1] / low) / step) as usize).min(SLICES - 1);
        let ends = extremes[slice].get_or_insert([point; 2]);
        if point[0] < ends[0][0] {
            ends[0] = point;
        }
        if point[0] > ends[1][0] {
            ends[1] = point;
        }
    }
    let mut points: Vec<[f64; 2]> = extremes.into_iter().flatten().flatten().collect();
    points.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    points.dedup();
    let turn =
        |a: [f64; 2], b: [f64; 2], c: [f64; 2]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    let mut corners: Vec<[f64; 2]> = Vec::new();
    for pass in 0..2 {
        let start = corners.len();
        let mut add = |point: [f64; 2]| {
            while corners.len() >= start + 2
                && turn(corners[corners.len() - 2], corners[corners.len() - 1], point) <= 0.0
            {
                corners.pop();
            }
            corners.push(point);
        };
        if pass == 0 {
            points.iter().for_each(|p| add(*p));
        } else {
            points.iter().rev().for_each(|p| add(*p));
        }
        corners.pop();
    }
    corners
}

/// Whether a place lies inside the visited region; a hundredth of the way to its middle is
/// forgiven, so that a corner that was visited counts.
fn visited_around(corners: &[[f64; 2]], v_in: f64, i_out: f64) -> bool {
    if corners.len() < 3 {
        return false;
    }
    let n = corners.len() as f64;
    let middle = [0, 1].map(|k| corners.iter().map(|c| c[k]).sum::<f64>() / n);
    let v = v_in + 0.01 * (middle[0] - v_in);
    let i = i_out + 0.01 * (middle[1] - i_out);
    (0..corners.len()).all(|k| {
        let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
        (b[0] - a[0]) * (i - a[1]) - (b[1] - a[1]) * (v - a[0]) >= 0.0
    })
}

pub(super) fn from_model(op: &Operating, model: &LossModel, v_in: f64, i_out: f64) -> Option<Place> {
    let predicted = model.predict(op, v_in, i_out)?;
    if predicted.u_random > WORST_FIT * predicted.loss {
        return None;
    }
    let p_out = predicted.state.v_out * i_out;
    let p_in = p_out + predicted.loss;
    let square = p_in * p_in;
    let jacobian = op.correction.jacobian(op.reading_of(predicted.state, 0.0));
    let out = times(&jacobian[2], i_out);
    let loss = predicted.sensitivity;
    let efficiency = plus(&times(&out, predicted.loss / square), &times(&loss, -p_out / square));
    Some(Place {
        v_in,
        i_out,
        efficiency: p_out / p_in,
        loss: predicted.loss,
        p_out,
        u_random: [predicted.u_random * p_out / square, predicted.u_random, 0.0],
        sensitivity: [efficiency, loss, out],
        // The model rests on rows all over the run; which way they moved is not held in it.
        per_second: [[0.0; 5]; 3],
        n: op.len(),
        n_effective: op.len() as f64,
        by_rows: false,
        aside: 0.0,
        centre: [v_in, i_out],
    })
}
