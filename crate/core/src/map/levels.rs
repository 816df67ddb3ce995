//! Discrete output levels: ridges of the current over input voltage.
//!
//! Clustering the current alone merges two levels where one falls out of regulation down to the
//! other. So currents are clustered inside narrow slices of input voltage, and the clusters of the
//! slice that shows most of them are followed through the other slices.

use serde::Serialize;

use super::operating::Operating;
use crate::fixture::State;
use crate::math::small::{median, quantile, spread};
use crate::quantity::Quantity;

/// Smallest gap in ln I_o between two levels.
const GAP: f64 = 0.15;
/// How far a ridge may move from one slice to the next, in ln I_o.
const FOLLOW: f64 = 0.35;
/// Half width in ln I_o inside which a row counts as being at a level.
const AT_LEVEL: f64 = 0.06;
/// More levels than this are a sweep in steps.
const MOST: usize = 12;

/// The output levels of a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Levels {
    /// Number of levels; 0 where the output is not set in levels.
    pub count: usize,
    /// Current of each, A, ascending.
    pub currents: Vec<f64>,
    /// One line per level.
    pub table: Vec<Level>,
}

/// One output level.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Level {
    /// Output current, A.
    pub i_out: Quantity,
    /// Median efficiency while regulating.
    pub efficiency: Quantity,
    /// Median input power while regulating, W.
    pub p_in: Quantity,
    /// Median output voltage while regulating, V.
    pub v_out: Quantity,
    /// Share of the operating rows at this level.
    pub time_share: f64,
    /// Input voltage at which the current has fallen to 95 % of the level, V.
    pub regulates_above: Quantity,
}

/// A ridge: slice number and current, by falling voltage.
#[derive(Clone, Debug)]
struct Ridge {
    points: Vec<(usize, f64)>,
    level: f64,
}

impl Levels {
    /// The level whose current lies within 10 % of `i_out`.
    #[must_use]
    pub fn nearest(&self, i_out: f64) -> Option<usize> {
        self.currents.iter().position(|level| libm::log(i_out / level).abs() < 0.1)
    }

    /// The lowest input voltage at which a level still regulates, V, where it was seen to drop out.
    #[must_use]
    pub fn regulates_above(&self, level: usize) -> Option<f64> {
        self.table.get(level).and_then(|line| line.regulates_above.value)
    }

    /// Looks for levels among the operating rows.
    ///
    /// Narrow slices follow a ridge best, but where the levels are set in turn behind a moving
    /// source a narrow slice may hold one of them only: wider slices are tried as well, and the
    /// first that show most levels count.
    #[must_use]
    pub fn find(op: &Operating) -> Self {
        let mut best = Self::default();
        for parts in [40.0, 20.0, 10.0, 5.0] {
            let found = Self::in_slices(op, parts);
            if found.count > best.count {
                best = found;
            }
        }
        best
    }

    fn in_slices(op: &Operating, parts: f64) -> Self {
        let Some((slices, edges)) = slices(op, parts) else { return Self::default() };
        let clusters: Vec<Vec<f64>> = slices
            .iter()
            .map(|points| {
                let currents = points.iter().map(|&k| op.i_out[k as usize]).collect();
                cluster(currents)
            })
            .collect();
        // The highest slice among those with most clusters.
        let Some(best) = (0..slices.len()).max_by_key(|&s| (clusters[s].len(), s)) else {
            return Self::default();
        };
        let ridges = follow(&clusters, best);
        if ridges.is_empty() || ridges.len() > MOST || !covers(op, &ridges) {
            return Self::default();
        }
        let table: Vec<Level> = ridges.iter().map(|ridge| line(op, ridge, &edges)).collect();
        Self { count: ridges.len(), currents: ridges.iter().map(|ridge| ridge.level).collect(), table }
    }
}

/// Points per slice of input voltage, ascending, and the slices' edges.
fn slices(op: &Operating, parts: f64) -> Option<(Vec<Vec<u32>>, Vec<f64>)> {
    if op.len() < 100 {
        return None;
    }
    let low = op.v_in.iter().copied().fold(f64::INFINITY, f64::min);
    let high = op.v_in.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let width = ((high - low) / parts).max(6.0 * op.axis_noise().0).max(1e-6 * high);
    let count = (libm::floor((high - low) / width) as usize + 1).min(41);
    let mut slices = vec![Vec::new(); count];
    // Evenly taken rows carry the ridges; all of them count again where shares are told.
    let every = op.len().div_ceil(30_000);
    for k in (0..op.len()).step_by(every) {
        let slice = (libm::floor((op.v_in[k] - low) / width) as usize).min(count - 1);
        slices[slice].push(k as u32);
    }
    let edges = (0..=count).map(|k| low + width * k as f64).collect();
    Some((slices, edges))
}

/// Medians of the groups of currents parted by more than [`GAP`].
fn cluster(mut currents: Vec<f64>) -> Vec<f64> {
    if currents.len() <= 20 {
        return Vec::new();
    }
    currents.sort_unstable_by(f64::total_cmp);
    let least = (currents.len() / 200).max(5);
    let mut out = Vec::new();
    let mut first = 0;
    for k in 1..=currents.len() {
        let parted = k == currents.len() || libm::log(currents[k] / currents[k - 1]) > GAP;
        if parted {
            if k - first >= least {
                out.push(median(&mut currents[first..k]));
            }
            first = k;
        }
    }
    out
}

fn follow(clusters: &[Vec<f64>], best: usize) -> Vec<Ridge> {
    clusters[best]
        .iter()
        .map(|&start| {
            let mut points = vec![(best, start)];
            for direction in [true, false] {
                let mut last = start;
                let mut step = |slice: usize| {
                    let near = clusters[slice]
                        .iter()
                        .copied()
                        .filter(|c| libm::log(c / last).abs() < FOLLOW)
                        .min_by(|a, b| libm::log(a / last).abs().total_cmp(&libm::log(b / last).abs()));
                    if let Some(current) = near {
                        points.push((slice, current));
                        last = current;
                    }
                };
                if direction {
                    (0..best).rev().for_each(&mut step);
                } else {
                    (best + 1..clusters.len()).for_each(&mut step);
                }
            }
            points.sort_by_key(|point| point.0);
            // The upper half: where two ridges touch, a single slice can read high.
            let mut upper: Vec<f64> = points[points.len() / 2..].iter().map(|p| p.1).collect();
            Ridge { level: median(&mut upper), points }
        })
        .collect()
}

/// Whether most rows are at one of the levels while the levels cover only a part of the range.
fn covers(op: &Operating, ridges: &[Ridge]) -> bool {
    let bounds: Vec<[f64; 2]> =
        ridges.iter().map(|r| [r.level * libm::exp(-AT_LEVEL), r.level * libm::exp(AT_LEVEL)]).collect();
    let mut at = 0;
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for &current in &op.i_out {
        low = low.min(current);
        high = high.max(current);
        if bounds.iter().any(|b| current >= b[0] && current <= b[1]) {
            at += 1;
        }
    }
    let share = at as f64 / op.len() as f64;
    let covered = 2.0 * AT_LEVEL * ridges.len() as f64 / libm::log(high / low).max(1e-9);
    share > 0.6 && (covered < 0.5 || share > 0.98)
}

fn line(op: &Operating, ridge: &Ridge, edges: &[f64]) -> Level {
    let level = ridge.level;
    let (low, high) = (level * libm::exp(-AT_LEVEL), level * libm::exp(AT_LEVEL));
    let points: Vec<usize> = (0..op.len()).filter(|&k| op.i_out[k] >= low && op.i_out[k] <= high).collect();
    let middle = |f: &dyn Fn(usize) -> f64| -> (f64, f64) {
        let mut values: Vec<f64> = points.iter().map(|&k| f(k)).collect();
        let centre = median(&mut values);
        // A median of n rows; neighbouring rows count as one per sixteen.
        let independent = (values.len() as f64 / 16.0).max(1.0);
        (centre, 1.2533 * spread(&values, centre) / independent.sqrt())
    };
    let (efficiency, r_efficiency) = middle(&|k| op.p_out(k) / op.p_in(k));
    let (p_in, r_p_in) = middle(&|k| op.p_in(k));
    let (v_out, r_v_out) = middle(&|k| op.v_out[k]);
    let (v_in, _) = middle(&|k| op.v_in[k]);
    let (i_in, _) = middle(&|k| op.i_in[k]);
    let (v_low, _) = middle(&|k| op.v_low[k]);
    let (_, r_current) = middle(&|k| op.i_out[k]);
    let state = State { v_in, i_in, v_out, i_out: level };
    let reading = op.reading_of(state, v_low);
    let jacobian = op.correction.jacobian(reading);
    let known = |value: f64, random: f64, sensitivity: [f64; crate::fixture::PARAMETERS]| {
        let systematic = op.correction.variance(&sensitivity).max(0.0).sqrt();
        Quantity {
            value: Some(value),
            u: op.accuracy_known().then(|| libm::hypot(random, systematic)),
            why: None,
        }
    };
    let power = std::array::from_fn(|k| jacobian[0][k] * i_in + jacobian[1][k] * v_in);
    let eta = op.correction.sensitivity(reading).map(|s| s * efficiency);
    Level {
        i_out: known(level, r_current, jacobian[3]),
        efficiency: known(efficiency, r_efficiency, eta),
        p_in: known(p_in, r_p_in, power),
        v_out: known(v_out, r_v_out, jacobian[2]),
        time_share: points.len() as f64 / op.len() as f64,
        regulates_above: drop_out(ridge, edges),
    }
}

/// Where the ridge passes 95 % of its level on the way down.
fn drop_out(ridge: &Ridge, edges: &[f64]) -> Quantity {
    let limit = 0.95 * ridge.level;
    let middle = |slice: usize| 0.5 * (edges[slice] + edges[slice + 1]);
    let Some(k) = ridge.points.iter().rposition(|point| point.1 < limit) else {
        return Quantity::unknown("not_reached");
    };
    let Some(&(above, current)) = ridge.points.get(k + 1) else {
        return Quantity::unknown("never_regulates");
    };
    let (below, fallen) = ridge.points[k];
    let (v_low, v_high) = (middle(below), middle(above));
    let share = if current > fallen { (limit - fallen) / (current - fallen) } else { 0.5 };
    let width = edges[1] - edges[0];
    Quantity::new(v_low + share * (v_high - v_low), width.max(v_high - v_low) / 12.0_f64.sqrt())
}

/// The straight line along which a level falls out of regulation, `I = (V_A - knee) / path`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropOut {
    /// Input voltage at which the line reaches zero current, V.
    pub knee: f64,
    /// Resistance of the path, ohm.
    pub path: f64,
    /// Rows on the line.
    pub rows: usize,
}

/// The drop-out line of the highest level, from the rows between it and the next lower one.
///
/// **Missing data** `None` with fewer than eight such rows, or without two levels.
#[must_use]
pub fn drop_out_line(op: &Operating, levels: &Levels) -> Option<DropOut> {
    let n = levels.currents.len();
    if n < 2 {
        return None;
    }
    let (low, high) = (levels.currents[n - 2] * 1.25, levels.currents[n - 1] * 0.92);
    let mut points: Vec<usize> = (0..op.len()).filter(|&k| op.i_out[k] > low && op.i_out[k] < high).collect();
    let mut line = None;
    for _ in 0..2 {
        if points.len() < 8 {
            return line;
        }
        let n = points.len() as f64;
        let mean_i = points.iter().map(|&k| op.i_out[k]).sum::<f64>() / n;
        let mean_v = points.iter().map(|&k| op.v_in[k]).sum::<f64>() / n;
        let (mut ii, mut iv) = (0.0, 0.0);
        for &k in &points {
            ii += (op.i_out[k] - mean_i) * (op.i_out[k] - mean_i);
            iv += (op.i_out[k] - mean_i) * (op.v_in[k] - mean_v);
        }
        let path = iv / ii;
        let knee = mean_v - path * mean_i;
        let rest: Vec<f64> = points.iter().map(|&k| op.v_in[k] - knee - path * op.i_out[k]).collect();
        let wide = 4.0 * spread(&rest, quantile(&mut rest.clone(), 0.5));
        line = Some(DropOut { knee, path, rows: points.len() });
        points = points.iter().zip(&rest).filter(|(_, r)| r.abs() <= wide).map(|(k, _)| *k).collect();
    }
    line
}
