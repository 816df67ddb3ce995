//! Output currents at which the losses of two runs cross.

use serde::Serialize;

use super::difference::{Delta, Fixtures};
use crate::loss::Asker;

/// Where two losses are equal at one input voltage.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Crossover {
    /// Input voltage, V.
    pub v_in: f64,
    /// Output current, A.
    pub value: f64,
    /// Standard uncertainty, A; `None` where the accuracy is not known.
    pub u: Option<f64>,
    /// The run that loses less below the crossing is the first one.
    #[serde(skip)]
    pub first_below: bool,
}

/// Places along the current at one voltage.
const PLACES: usize = 19;

/// Standard uncertainties that make a sign clear: about 100 places are looked at.
const CLEAR: f64 = 3.5;

/// Crossings at one input voltage between two output currents.
///
/// Both sides must show their sign by more than [`CLEAR`] standard uncertainties somewhere; between
/// the last such place on one side and the first on the other the crossing is found by bisection.
pub(crate) fn crossings(
    first: &Asker<'_>,
    second: &Asker<'_>,
    fixtures: &Fixtures<'_>,
    v_in: f64,
    i_out: [f64; 2],
) -> Vec<Crossover> {
    let at = |i_out: f64| -> Option<Delta> {
        let a = first.place(v_in, i_out).ok()?;
        let b = second.place(v_in, i_out).ok()?;
        Some(Delta::of(a, b, fixtures))
    };
    let step = libm::log(i_out[1] / i_out[0]) / (PLACES - 1) as f64;
    let mut clear: Vec<(f64, Delta)> = Vec::new();
    let mut out = Vec::new();
    for k in 0..PLACES {
        let current = i_out[0] * libm::exp(step * k as f64);
        let Some(delta) = at(current) else { continue };
        let scatter = delta.u(1).unwrap_or_else(|| delta.random[1].sqrt());
        if delta.value[1].abs() <= CLEAR * scatter {
            continue;
        }
        if let Some((before, last)) = clear.last()
            && last.value[1] * delta.value[1] < 0.0
            && let Some(found) = between(&at, [*before, current], [last, &delta], v_in)
        {
            out.push(found);
        }
        clear.push((current, delta));
    }
    out
}

fn between(
    at: &dyn Fn(f64) -> Option<Delta>,
    ends: [f64; 2],
    deltas: [&Delta; 2],
    v_in: f64,
) -> Option<Crossover> {
    let [mut low, mut high] = ends;
    let (mut at_low, mut at_high) = (deltas[0].value[1], deltas[1].value[1]);
    let mut middle = None;
    for _ in 0..16 {
        // Straight line on the logarithm, kept away from the ends.
        let share = (at_low / (at_low - at_high)).clamp(0.1, 0.9);
        let current = low * libm::exp(share * libm::log(high / low));
        let delta = at(current)?;
        if delta.value[1] * at_low > 0.0 {
            (low, at_low) = (current, delta.value[1]);
        } else {
            (high, at_high) = (current, delta.value[1]);
        }
        middle = Some(delta);
        if high / low < 1.0005 {
            break;
        }
    }
    let share = at_low / (at_low - at_high);
    let root = low + share * (high - low);
    let slope = (deltas[1].value[1] - deltas[0].value[1]) / (ends[1] - ends[0]);
    let near = [root * 0.93, root * 1.07].map(|i| at(i).map(|d| (i, d.value[1])));
    // The slope near the crossing, where both sides of it can be answered.
    let local = match near {
        [Some(a), Some(b)] if (b.1 - a.1) * slope > 0.0 => (b.1 - a.1) / (b.0 - a.0),
        _ => slope,
    };
    let u = middle?.u(1).map(|u| u / local.abs());
    Some(Crossover { v_in, value: root, u, first_below: deltas[0].value[1] < 0.0 })
}
