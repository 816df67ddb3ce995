//! Asked points: from the rows around them, or from the loss model where the run went around a
//! place without stopping there.

use super::model::LossModel;
use crate::map::{How, Index, Operating, Point, at as at_rows, plus, times};
use crate::quantity::Quantity;

/// A loss model that misses the rows by more than this (chi-squared per degree of freedom) answers
/// no asked point.
const WORST_FIT: f64 = 3.0;

/// Efficiency, powers and loss at asked `[v_in, i_out]` points, V and A at the converter's
/// terminals.
///
/// `how` is `rows` where rows lie around the point, `fit` where only the loss model reaches it
/// inside the visited region, `none` elsewhere: never beyond what was visited.
#[must_use]
pub fn at(op: &Operating, index: &Index, model: &LossModel, points: &[[f64; 2]]) -> Vec<Point> {
    let mut answers = at_rows(op, index, points, &model.splits());
    if op.is_empty() || answers.iter().all(|answer| answer.value.is_some()) {
        return answers;
    }
    let corners = hull(op);
    for answer in &mut answers {
        if answer.value.is_none()
            && visited_around(&corners, answer.v_in, answer.i_out)
            && let Some(fitted) = from_model(op, model, answer.v_in, answer.i_out)
        {
            *answer = fitted;
        }
    }
    answers
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

fn from_model(op: &Operating, model: &LossModel, v_in: f64, i_out: f64) -> Option<Point> {
    let reduced = model.chi2_reduced.unwrap_or(1.0);
    if reduced > WORST_FIT {
        return None;
    }
    let predicted = model.predict(op, v_in, i_out)?;
    let p_out = predicted.state.v_out * i_out;
    let p_in = p_out + predicted.loss;
    let share = p_out / (p_in * p_in);
    let known = op.accuracy_known();
    let systematic = |s: &[f64; crate::fixture::PARAMETERS]| op.correction.variance(s).max(0.0).sqrt();
    let u_loss = libm::hypot(predicted.u_random, systematic(&predicted.sensitivity));
    let u_random = predicted.u_random * share;
    let u_systematic = systematic(&times(&predicted.sensitivity, share));
    let jacobian = op.correction.jacobian(op.reading_of(predicted.state, 0.0));
    let out = times(&jacobian[2], i_out);
    let quantity = |value: f64, u: f64| Quantity { value: Some(value), u: known.then_some(u), why: None };
    let u_in = libm::hypot(predicted.u_random, systematic(&plus(&out, &predicted.sensitivity)));
    Some(Point {
        v_in,
        i_out,
        value: Some(p_out / p_in),
        u: known.then(|| libm::hypot(u_random, u_systematic)),
        p_in: quantity(p_in, u_in),
        p_out: quantity(p_out, systematic(&out)),
        loss: quantity(predicted.loss, u_loss),
        n: op.len(),
        how: How::Fit,
        why: None,
        u_random: Some(u_random),
        u_systematic: known.then_some(u_systematic),
    })
}
