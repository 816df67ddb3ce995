//! Rows that give more power than they take: more of them than scatter explains, or by more than their uncertainty.

use super::{Finding, runs};
use crate::fixture::State;
use crate::map::Operating;
use crate::point::{Rows, each_reading};
use crate::quantity::Quantity;
use crate::sieve::Reason;
use crate::wording::share;

/// Fewest rows of which a majority says something.
const FEWEST: usize = 10;
/// Share of the rows above 100 % from which they are the rule. Judgement.
const MOSTLY: f64 = 0.6;
/// Standard deviations of a count of heads that chance does not reach; of the systematic part, too. Judgement.
const BEYOND: f64 = 3.0;
/// Rows by themselves above 100 % from which it is said.
const LABELLED: usize = 5;

/// What is said of rows above 100 %.
pub(super) fn above_one(rows: &dyn Rows, op: &Operating) -> Option<Finding> {
    mostly(rows, op).or_else(|| labelled(rows, op))
}

/// The excess of a row's output over its input power, relative; `None` where a power is missing or not above 0.
fn excess(state: State) -> Option<f64> {
    let (p_in, p_out) = (state.v_in * state.i_in, state.v_out * state.i_out);
    (state.i_in > 0.0 && p_in > 0.0 && p_out > 0.0 && p_out.is_finite()).then(|| p_out / p_in - 1.0)
}

/// Rows that can be judged, with their excess: the operating ones, or all kept ones where noise as large as the
/// readings themselves leaves hardly any that counts as on.
fn judged(rows: &dyn Rows, op: &Operating) -> Vec<(u32, f64)> {
    let mut out: Vec<(u32, f64)> = Vec::new();
    if op.len() >= FEWEST {
        out.extend((0..op.len()).filter_map(|k| {
            let state = State { v_in: op.v_in[k], i_in: op.i_in[k], v_out: op.v_out[k], i_out: op.i_out[k] };
            excess(state).map(|excess| (op.row[k], excess))
        }));
        return out;
    }
    each_reading(rows, 0..rows.rows(), |row, reading| {
        if Reason::kept(rows.mask(row))
            && let Some(excess) = excess(rows.correction().apply(reading))
        {
            out.push((row as u32, excess));
        }
    });
    out
}

/// Most rows above 100 %, by more than the systematic part explains. Scatter puts at most half of them there.
fn mostly(rows: &dyn Rows, op: &Operating) -> Option<Finding> {
    // Where the output was never on, what is read are the zeros of the channels.
    let above = (0..op.len()).filter(|&k| op.p_out(k) > op.p_in(k)).count();
    if op.is_empty() || op.len() >= FEWEST && (above as f64) < MOSTLY * op.len() as f64 {
        return None;
    }
    let judged = judged(rows, op);
    let n = judged.len() as f64;
    if judged.len() < FEWEST {
        return None;
    }
    let mut order: Vec<&(u32, f64)> = judged.iter().collect();
    let middle = order.len() / 2;
    let (_, typical, _) =
        order.select_nth_unstable_by(middle, |a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    if typical.1 <= 0.0 {
        return None;
    }
    let correction = rows.correction();
    let systematic = correction.variance(&correction.sensitivity(rows.reading(typical.0 as usize))).sqrt();
    let margin = BEYOND * (1.0 + typical.1) * systematic;
    let above: Vec<u32> = judged.iter().filter(|row| row.1 > margin).map(|row| row.0).collect();
    let count = above.len() as f64;
    if count < MOSTLY * n || 2.0 * count - n <= BEYOND * n.sqrt() {
        return None;
    }
    Some(Finding {
        code: "above_one",
        text: format!(
            "{} of {} rows ({}) read more output than input power; scatter puts at most half there. Likely two channels are \
             swapped, a unit, range or gain is wrong, input and output are not read at one instant, or part of the input \
             current does not pass its meter. Check role and unit of each channel first, then gains and zeros with a \
             straight-through run.",
            above.len(),
            judged.len(),
            share(count / n)
        ),
        numbers: numbers(count, count / n),
        confidence: 0.99,
        rows: runs(above.into_iter()),
    })
}

/// Rows labelled one by one.
fn labelled(rows: &dyn Rows, op: &Operating) -> Option<Finding> {
    let list: Vec<u32> = (0..rows.rows())
        .filter(|&row| {
            let mask = rows.mask(row);
            mask & Reason::AboveOne.bit() != 0 && Reason::kept(mask)
        })
        .map(|row| row as u32)
        .collect();
    if list.len() < LABELLED || op.is_empty() {
        return None;
    }
    let part = list.len() as f64 / (op.len() as f64).max(list.len() as f64);
    Some(Finding {
        code: "above_one",
        text: format!(
            "{} rows ({} of the operating ones) read above 100 % by more than their uncertainty: \
             look at gains and series resistances. They are labelled, not removed.",
            list.len(),
            share(part)
        ),
        numbers: numbers(list.len() as f64, part),
        confidence: if part > 0.01 { 0.99 } else { 0.7 },
        rows: runs(list.into_iter()),
    })
}

fn numbers(count: f64, part: f64) -> std::collections::BTreeMap<&'static str, Quantity> {
    [("count", count), ("share", part)].map(|(name, value)| (name, Quantity::without_u(value))).into()
}
