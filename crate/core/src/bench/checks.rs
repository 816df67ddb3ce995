//! Words and verdicts of the free checks.

use crate::finding::{Currents, LowNode};
use crate::fixture::{Calibration, ContactWatch, Grade, LinearCheck};
use crate::quantity::Quantity;
use crate::wording;

/// Standard uncertainties beyond which something moved.
const MOVED: f64 = 4.0;
/// Standard uncertainties beyond which a step stands out of many stretches.
const STEPPED: f64 = 6.0;
/// Changes of a path below this are of no account, ohm; judgement.
const MATTERS: f64 = 3e-4;
/// Standard uncertainty of an offset of the low node where the calibration does not tell, V; judgement.
const LOW_OFFSET: f64 = 1e-3;

/// The current ratio of what looks like a linear regulator.
///
/// **Formula** a linear regulator's input current is its output current and its own need, so the slope
/// of output on input current is 1 whatever the voltages; the gain ratio's uncertainty is the
/// calibration's.
pub(super) fn linear(run: &str, currents: &Currents, calibration: &Calibration) -> LinearCheck {
    let correction = &calibration.correction;
    let known = correction.grade != Grade::AsLogged;
    let c = &correction.covariance;
    let g = &correction.values;
    let systematic = c[3][3] / (g[3] * g[3]) + c[4][4] / (g[4] * g[4]) - 2.0 * c[3][4] / (g[3] * g[4]);
    let [ratio, scatter] = currents.ratio;
    let u = libm::hypot(scatter, ratio * systematic.max(0.0).sqrt());
    let offsets = libm::hypot(c[8][8].max(0.0).sqrt(), c[9][9].max(0.0).sqrt());
    let breaks = ratio - 1.0 > 3.0 * if known { u } else { scatter };
    let words = if breaks {
        format!(
            "`{run}` looks like a linear regulator, yet its output current rises by {} per ampere of input \
             current: no linear regulator can. One of the current channels' gains is off by about {} %.",
            wording::plain(ratio),
            wording::plain(100.0 * (ratio - 1.0)),
        )
    } else {
        format!(
            "`{run}` looks like a linear regulator: its output current is {} of its input current's change, \
             as it must be.",
            wording::plain(ratio)
        )
    };
    LinearCheck {
        run: run.to_owned(),
        current_ratio: Quantity { value: Some(ratio), u: known.then_some(u), why: None },
        own_current: Quantity {
            value: Some(currents.need[0]),
            u: known.then(|| libm::hypot(currents.need[1], offsets)),
            why: None,
        },
        over: currents.over,
        n: currents.n,
        verdict: if breaks { "breaks_the_bound" } else { "agrees" }.into(),
        words,
    }
}

/// The minus side's contacts as an ordinary run shows them.
pub(super) fn contacts(run: &str, low: &LowNode, calibration: &Calibration) -> ContactWatch {
    let report = &calibration.report;
    let correction = &calibration.correction;
    let offset_u = {
        let variance = correction.covariance[7][7];
        if variance > 0.0 { variance.sqrt() } else { LOW_OFFSET }
    };
    let segment =
        |name: &str| report.circuit.segments.iter().find(|s| s.name == name).map(|s| s.resistance.clone());
    let known = |quantity: Option<Quantity>| quantity.and_then(|q| Some((q.value?, q.u?)));
    let (out_low, in_low) = (known(segment("out_low")), known(segment("in_low")));
    let [i_out, i_in] = low.currents;
    let shared = report.circuit.segments.iter().any(|s| s.name == "shared_ground");
    // Both minus pieces together, from straight-through runs: known far better than each.
    let jumper = calibration.assumed.iter().find(|one| one.name == "jumpers jumper_low");
    let jumper = jumper.map(|one| (one.value, one.u)).or(shared.then_some((0.0, 0.0)));
    let sum = known(Some(report.sums.low_side.clone()))
        .zip(jumper)
        .map(|((value, u), (jumper, jumper_u))| (value - jumper, libm::hypot(u, jumper_u)));
    let expected = out_low.zip(in_low).map(|((b, b_u), (a, a_u))| {
        let (mean, half) = (0.5 * (i_out + i_in), 0.5 * (i_out - i_in));
        let apart = (b_u * i_out).abs() + (a_u * i_in).abs();
        // b I_o + a I_i is the sum at the mean current and the difference at half of the currents' difference.
        let u = sum.map_or(apart, |(_, u)| libm::hypot(u * mean, (b_u + a_u) * half).min(apart));
        (b * i_out + a * i_in, u)
    });
    let seen_u = libm::hypot(low.node[1], offset_u);
    let [node, _] = low.node;
    let path = |k: usize| {
        if low.apart {
            Quantity::new(low.paths[k], low.covariance[k][k].max(0.0).sqrt())
        } else {
            Quantity::unknown("only_in_a_sum")
        }
    };
    let change = |k: usize| {
        let [change, u] = low.drift[k];
        if u.is_finite() && low.apart {
            Quantity::new(change, u)
        } else {
            Quantity::unknown("not_determined")
        }
    };
    let moved = expected.is_some_and(|(value, u)| {
        let size = node - value;
        size.abs() > MOVED * libm::hypot(u, seen_u) && size.abs() > MATTERS * (i_out.abs() + i_in.abs())
    });
    // A run whose currents vary apart shows the sum by itself.
    let other_sum = sum.filter(|_| low.apart).and_then(|(value, u)| {
        let seen = low.paths[0] + low.paths[1];
        let c = &low.covariance;
        let scatter = (c[0][0] + c[1][1] + 2.0 * c[0][1]).max(0.0).sqrt();
        let by_offset = offset_u / (0.5 * (i_out + i_in)).abs().max(f64::MIN_POSITIVE);
        let seen_u = libm::hypot(scatter, by_offset);
        let change = (seen - value).abs();
        (change > MOVED * libm::hypot(u, seen_u) && change > 2.0 * MATTERS)
            .then_some([seen, seen_u, value, u])
    });
    let stepped = low.step.filter(|([size, u], _)| {
        size.abs() > STEPPED * u && size.abs() > MATTERS * (i_out.abs() + i_in.abs())
    });
    let drifts =
        low.apart && low.drift.iter().any(|[change, u]| change.abs() > MOVED * u && change.abs() > MATTERS);
    let (verdict, words) = if let Some(([size, _], row)) = stepped {
        (
            "stepped",
            format!(
                "In `{run}` the low output node jumps by {} near row {row} without a change of current: a \
                 contact on the minus side moved.",
                wording::said(size, Some(low.step.map_or(0.0, |(s, _)| s[1])), "V")
            ),
        )
    } else if moved {
        let (value, u) = expected.unwrap_or_default();
        (
            "moved",
            format!(
                "In `{run}` the low output node stands at {} where the calibration expects {}: a contact on \
                 the minus side is not what it was.",
                wording::said(node, Some(seen_u), "V"),
                wording::said(value, Some(u), "V")
            ),
        )
    } else if let Some([seen, seen_u, value, u]) = other_sum {
        (
            "moved",
            format!(
                "In `{run}` the minus side's contacts come to {} where the calibration expects {}: one of them \
                 is not what it was.",
                wording::said(seen, Some(seen_u), "Ω"),
                wording::said(value, Some(u), "Ω")
            ),
        )
    } else if drifts {
        (
            "drifts",
            format!("In `{run}` the minus side's resistance changes from its first to its last third."),
        )
    } else if expected.is_some() || low.apart {
        ("steady", format!("`{run}` shows the minus side's contacts steady."))
    } else {
        (
            "cannot_tell",
            format!("`{run}` cannot tell the minus side's contacts apart: its two currents move together."),
        )
    };
    let [step, step_row] = match low.step {
        Some(([size, u], row)) => [(size, u), (row as f64, 0.0)],
        None => [(0.0, 0.0), (0.0, 0.0)],
    };
    ContactWatch {
        run: run.to_owned(),
        out_low: path(0),
        in_low: path(1),
        out_low_drift: change(0),
        in_low_drift: change(1),
        expected: expected.map_or(Quantity::unknown("not_measured"), |(value, u)| Quantity::new(value, u)),
        seen: Quantity::new(node, seen_u),
        largest_step: if low.step.is_some() {
            Quantity::new(step.0, step.1)
        } else {
            Quantity::unknown("too_few_rows")
        },
        step_row: stepped.is_some().then_some(step_row.0 as usize),
        verdict: verdict.into(),
        words,
    }
}
