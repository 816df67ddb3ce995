//! Rows taken out that crowd in one stretch of the run: an event, not dirt.

use std::collections::BTreeMap;

use super::{Finding, surely};
use crate::point::Rows;
use crate::quantity::Quantity;
use crate::sieve::{REASONS, Reason};
use crate::wording::share;

/// Stretches the run is cut into.
const PARTS: usize = 50;

/// The densest stretch of removed rows, where it holds a fair share of them and is far denser than
/// the rest.
pub(super) fn clustered(rows: &dyn Rows) -> Option<Finding> {
    let n = rows.rows();
    if n < 10 * PARTS {
        return None;
    }
    let mut counts = [0usize; PARTS];
    let mut total = 0;
    for row in 0..n {
        if !Reason::kept(rows.mask(row)) {
            counts[row * PARTS / n] += 1;
            total += 1;
        }
    }
    if total < 20 {
        return None;
    }
    let expected = total as f64 / PARTS as f64;
    // Clearly above its share even for a count of independent events.
    let dense = |part: usize| {
        counts[part] as f64 > 4.0 * expected && counts[part] as f64 > expected + 5.0 * expected.sqrt()
    };
    let mut best: Option<(usize, usize, usize)> = None;
    let mut part = 0;
    while part < PARTS {
        if !dense(part) {
            part += 1;
            continue;
        }
        let first = part;
        let mut held = 0;
        while part < PARTS && dense(part) {
            held += counts[part];
            part += 1;
        }
        if best.is_none_or(|(_, _, most)| held > most) {
            best = Some((first, part - 1, held));
        }
    }
    let (first, last, held) = best?;
    let part = held as f64 / total as f64;
    if part < 0.25 {
        return None;
    }
    let from = (first * n).div_ceil(PARTS);
    let to = ((last + 1) * n).div_ceil(PARTS) - 1;
    let out = |row: &usize| !Reason::kept(rows.mask(*row));
    let (from, to) = ((from..=to).find(out)?, (from..=to).rfind(out)?);
    let mut by_reason = BTreeMap::new();
    for row in from..=to {
        let mask = rows.mask(row);
        if !Reason::kept(mask)
            && let Some(reason) = Reason::first(mask)
        {
            *by_reason.entry(reason).or_insert(0usize) += 1;
        }
    }
    let mut most = (Reason::Rare, 0);
    for reason in REASONS {
        let count = by_reason.get(&reason).copied().unwrap_or(0);
        if count > most.1 {
            most = (reason, count);
        }
    }
    let width = (to - from + 1) as f64 / n as f64;
    let when = match (rows.time(from), rows.time(to)) {
        (a, b) if a.is_finite() && b.is_finite() => format!(" ({a:.0} to {b:.0} s)"),
        _ => String::new(),
    };
    let z = (held as f64 - expected * (last - first + 1) as f64) / expected.sqrt();
    Some(Finding {
        code: "rejects_clustered",
        text: format!(
            "{} of the rows taken out crowd in {} of the run{when}, mostly {}: an event, go and \
             look.",
            share(part),
            share(width),
            plain_reason(most.0)
        ),
        numbers: BTreeMap::from([
            ("share_of_removed", Quantity::without_u(part)),
            ("share_of_rows", Quantity::without_u(width)),
        ]),
        confidence: surely(z),
        rows: vec![[from, to]],
    })
}

fn plain_reason(reason: Reason) -> &'static str {
    match reason {
        Reason::Unreadable => "unreadable",
        Reason::Missing => "with a missing reading",
        Reason::OverRange => "over range",
        Reason::TimeJump => "at a jump of the clock",
        Reason::Sign => "of the wrong sign",
        Reason::Step => "next to a step",
        Reason::Unaligned => "not to be aligned",
        Reason::Slew => "changing too fast",
        Reason::Settling => "settling after a start",
        Reason::Spike => "spikes",
        Reason::Rare => "rare",
        Reason::ByHand => "by hand",
        Reason::SupplyLimit => "in the supply's limit",
        Reason::Off => "off",
        Reason::AboveOne => "above 100 %",
        Reason::KeptByHand => "kept by hand",
    }
}
