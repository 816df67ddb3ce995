//! What each setting of least rows would take, and where it hardly matters.

use super::Counts;

/// Largest setting of least rows on the curve.
pub const CURVE_TO: u32 = 20;

/// Largest rise of the share from one setting to the next on a plateau: a tenth of the share, or this.
const FLAT: f64 = 3e-4;
/// Settings that a plateau spans at least.
const LONG: usize = 3;
/// Largest share of rows out on a plateau.
const MOST_OUT: f64 = 0.05;

/// Share of all rows that the sieve takes at each setting of least rows from 0 to [`CURVE_TO`].
#[must_use]
pub fn share_out(counts: &Counts) -> Vec<(u32, f64)> {
    let mut falls = vec![0_usize; CURVE_TO as usize + 1];
    for row in 0..counts.rows() {
        if let Some(at) = counts.falls_at(row).filter(|&at| at <= CURVE_TO) {
            falls[at as usize] += 1;
        }
    }
    let mut out = 0;
    let rows = counts.rows().max(1) as f64;
    falls
        .into_iter()
        .enumerate()
        .map(|(least_rows, number)| {
            out += number;
            (least_rows as u32, out as f64 / rows)
        })
        .collect()
}

/// The longest stretch of settings, from 2 on, over which the share out hardly rises; `None` if there is none of at
/// least three settings: then the sieve takes real data.
#[must_use]
pub fn plateau(curve: &[(u32, f64)]) -> Option<(u32, u32)> {
    let from = curve.iter().position(|point| point.0 >= 2)?;
    let curve = &curve[from..];
    let flat = |at: usize| {
        let (before, after) = (curve[at].1, curve[at + 1].1);
        after <= MOST_OUT && after - before <= (0.1 * before).max(FLAT)
    };
    let mut best: Option<(usize, usize)> = None;
    let mut first = 0;
    for last in 0..curve.len() {
        if last + 1 < curve.len() && flat(last) {
            continue;
        }
        let longer = best.is_none_or(|(low, high)| last - first > high - low);
        if last + 1 - first >= LONG && longer {
            best = Some((first, last));
        }
        first = last + 1;
    }
    best.map(|(first, last)| (curve[first].0, curve[last].0))
}
