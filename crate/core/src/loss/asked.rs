//! Asked points: from the rows around them, or from the loss model where the run went around a
//! place without stopping there.

use super::model::LossModel;
use crate::map::local::{Place, local};
use crate::map::{Index, Operating, Point, plus, times};

/// A loss model that is this unsure of a loss, in shares of it, answers no asked point.
const WORST_FIT: f64 = 0.25;

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
        let corners = if op.is_empty() { Vec::new() } else { hull(op) };
        Self { op, index, model, corners, splits: model.splits(), sharp: 1.0 }
    }

    /// The same with a random part that goes lower where rows allow it: for differences, in which
    /// the systematic part cancels.
    pub(crate) fn sharper(self) -> Self {
        Self { sharp: 0.3, ..self }
    }

    /// From the rows around a place.
    pub(crate) fn by_rows(&self, v_in: f64, i_out: f64) -> Result<Place, &'static str> {
        local(self.op, self.index, v_in, i_out, &self.splits, self.sharp).map(|local| local.place(self.op))
    }

    /// From the rows around a place, else from the loss model inside the visited region. Rows that
    /// all lie beside the place give way to a model that knows it better.
    pub(crate) fn place(&self, v_in: f64, i_out: f64) -> Result<Place, &'static str> {
        let by_rows = self.by_rows(v_in, i_out);
        let modelled = || {
            visited_around(&self.corners, v_in, i_out)
                .then(|| from_model(self.op, self.model, v_in, i_out))
                .flatten()
        };
        match by_rows {
            Err(why) => modelled().ok_or(why),
            Ok(place) if place.aside > 0.5 * place.u_random[1] => match modelled() {
                Some(fitted) if fitted.u_random[1] < place.u_random[1] => Ok(fitted),
                _ => Ok(place),
            },
            Ok(place) => Ok(place),
        }
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
fn hull(op: &Operating) -> Vec<[f64; 2]> {
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

/// Whether a place lies inside the visited region.
fn visited_around(corners: &[[f64; 2]], v_in: f64, i_out: f64) -> bool {
    corners.len() >= 3
        && (0..corners.len()).all(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
            (b[0] - a[0]) * (i_out - a[1]) - (b[1] - a[1]) * (v_in - a[0]) >= 0.0
        })
}

fn from_model(op: &Operating, model: &LossModel, v_in: f64, i_out: f64) -> Option<Place> {
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
        n: op.len(),
        n_effective: op.len() as f64,
        by_rows: false,
        aside: 0.0,
    })
}
