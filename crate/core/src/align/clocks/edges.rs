//! Clocks from jumps: a signal that only jumps tells instants to a row each, and many jumps tell more.

use super::series::Series;

/// Jumps that both logs must share.
const FEWEST: usize = 8;

/// Offset at the middle of the jumps and clock ratio, from jumps that belong together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct EdgeFit {
    pub(super) offset: f64,
    pub(super) ratio: f64,
    /// Mean instant of the jumps on the other clock, s.
    pub(super) middle: f64,
    /// Farthest jump from there, s.
    pub(super) reach: f64,
    /// Variance of the instant at the middle, s², and of the ratio.
    pub(super) variance: [f64; 2],
}

/// Instants of jumps: halfway between the two rows.
fn edges(series: &Series) -> Vec<f64> {
    let limit = 8.0 * core::f64::consts::SQRT_2 * series.noise;
    let change = |at: usize| series.value[at + 1] - series.value[at];
    (1..series.value.len().saturating_sub(2))
        .filter(|&at| {
            let here = change(at).abs();
            here > limit && here > 3.0 * change(at - 1).abs() && here > 3.0 * change(at + 1).abs()
        })
        .map(|at| 0.5 * (series.time[at] + series.time[at + 1]))
        .collect()
}

/// Least squares of the first log's instants on the other's.
///
/// **Formula** straight line; a jump falls anywhere between two rows, so that one instant has the variance `T²/12` on
/// each clock. **Source** rectangular distribution, JCGM 100:2008, clause 4.3.7.
pub(super) fn fit(first: &Series, other: &Series, offset: f64, ratio: f64) -> Option<EdgeFit> {
    let (a, b) = (edges(first), edges(other));
    let window = 1.5 * (first.period + other.period);
    let (mut offset, mut ratio) = (offset, ratio);
    let mut found = None;
    for _ in 0..4 {
        let mut pairs: Vec<[f64; 2]> = Vec::new();
        for &t in &a {
            let at = (t - offset) / ratio;
            let place = b.partition_point(|edge| *edge < at);
            let near = [place.checked_sub(1), Some(place)].into_iter().flatten().filter_map(|k| b.get(k));
            let best = near.min_by(|x, y| (*x - at).abs().total_cmp(&(*y - at).abs()));
            if let Some(&edge) = best.filter(|edge| (*edge - at).abs() <= window) {
                pairs.push([edge, t]);
            }
        }
        let n = pairs.len();
        if n < FEWEST {
            return None;
        }
        let mean = |k: usize| pairs.iter().map(|pair| pair[k]).sum::<f64>() / n as f64;
        let (own, theirs) = (mean(0), mean(1));
        let (mut square, mut cross) = (0.0, 0.0);
        for pair in &pairs {
            square += (pair[0] - own) * (pair[0] - own);
            cross += (pair[0] - own) * (pair[1] - theirs);
        }
        if square <= 0.0 {
            return None;
        }
        ratio = cross / square;
        offset = theirs - ratio * own;
        let left: f64 = pairs
            .iter()
            .map(|pair| {
                let off = pair[1] - offset - ratio * pair[0];
                off * off
            })
            .sum();
        let grain = (first.period * first.period + other.period * other.period) / 12.0;
        let seen = left / (n - 2) as f64;
        let variance = seen.max(grain);
        // Jumps that scatter less than chance lets them keep step with a logger's rows: then all fall alike.
        let in_step = if seen < 0.75 * grain { grain } else { 0.0 };
        let reach = pairs.iter().map(|pair| (pair[0] - own).abs()).fold(0.0, f64::max);
        found = Some(EdgeFit {
            offset,
            ratio,
            middle: own,
            reach,
            variance: [variance / n as f64 + in_step, variance / square],
        });
    }
    found
}
