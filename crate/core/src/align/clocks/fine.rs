//! Offset and clock ratio to a fraction of a row, by least squares of one signal on the other.

use super::coarse::Place;
use super::edges;
use super::series::{Series, scatter};
use crate::math::linear::{Matrix, least_squares};
use crate::math::stats;

/// Rows that are compared at most.
const MOST: usize = 20_000;
/// Rows that both must share.
const FEWEST: usize = 60;
/// Stretches whose errors count as independent.
const BLOCKS: usize = 48;
/// Residuals beyond this many standard deviations are left out.
const FAR: f64 = 6.0;

/// Clocks as they were found.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fit {
    pub(super) offset: f64,
    pub(super) ratio: f64,
    pub(super) offset_u: f64,
    pub(super) ratio_u: f64,
    /// Largest uncertainty of a row's time inside the common time, s.
    pub(super) row_u: f64,
    /// Unexplained scatter of the first signal over its scatter.
    pub(super) misfit: f64,
    /// Common time, s.
    pub(super) shared: f64,
}

/// One row in the comparison.
#[derive(Clone, Copy)]
struct Row {
    /// Time on the first clock, s.
    time: f64,
    x: f64,
    /// The other's value and slope there.
    y: f64,
    slope: f64,
}

/// The other signal at the first one's instants; `half` rows on each side tell its slope.
fn rows(first: &Series, other: &Series, offset: f64, ratio: f64, half: usize) -> Vec<Row> {
    let stride = first.time.len().div_ceil(MOST).max(1);
    let (mut near, mut far) = (0, 0);
    let instants = first.time.iter().zip(&first.value).step_by(stride);
    instants
        .filter_map(|(&time, &x)| {
            let at = (time - offset) / ratio;
            let y = other.at(at, &mut near)?;
            let slope = other.slope(at, half, &mut far)?;
            Some(Row { time, x, y, slope })
        })
        .collect()
}

/// What the other signal leaves unexplained of the first one, over the first one's scatter.
pub(super) fn misfit(first: &Series, other: &Series, offset: f64, ratio: f64) -> Option<f64> {
    let rows = rows(first, other, offset, ratio, 2);
    if rows.len() < FEWEST {
        return None;
    }
    let (_, left) = explain(&rows)?;
    let x: Vec<f64> = rows.iter().map(|row| row.x).collect();
    Some((scatter(&left) / scatter(&x).max(f64::MIN_POSITIVE)).min(1.0))
}

/// Coefficients of 1, y and y², and what is left of x.
///
/// Normal equations in y moved and scaled to about one, where they are well conditioned.
fn explain(rows: &[Row]) -> Option<([f64; 3], Vec<f64>)> {
    let n = rows.len() as f64;
    let mean = rows.iter().map(|row| row.y).sum::<f64>() / n;
    let scale = libm::sqrt(rows.iter().map(|row| (row.y - mean) * (row.y - mean)).sum::<f64>() / n);
    if scale <= 0.0 || !scale.is_finite() {
        return None;
    }
    let (mut sums, mut sides) = ([0.0; 5], [0.0; 3]);
    for row in rows {
        let z = (row.y - mean) / scale;
        let mut power = 1.0;
        for (k, sum) in sums.iter_mut().enumerate() {
            *sum += power;
            if let Some(side) = sides.get_mut(k) {
                *side += power * row.x;
            }
            power *= z;
        }
    }
    let [s0, s1, s2, s3, s4] = sums;
    let minors = [s2 * s4 - s3 * s3, s1 * s4 - s2 * s3, s1 * s3 - s2 * s2];
    let whole = s0 * minors[0] - s1 * minors[1] + s2 * minors[2];
    if whole.abs() <= 1e-12 * s0 * s2 * s4 {
        return None;
    }
    let solve = |a: [f64; 3], b: [f64; 3], c: [f64; 3]| {
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    };
    let (first, second, third) = ([s0, s1, s2], [s1, s2, s3], [s2, s3, s4]);
    let c = [
        solve(sides, second, third) / whole,
        solve(first, sides, third) / whole,
        solve(first, second, sides) / whole,
    ];
    let left = rows
        .iter()
        .map(|row| {
            let z = (row.y - mean) / scale;
            row.x - c[0] - z * (c[1] + z * c[2])
        })
        .collect();
    let straight = c[1] / scale - 2.0 * c[2] * mean / (scale * scale);
    Some(([c[0], straight, c[2] / (scale * scale)], left))
}

/// Refines a place; `None` where it leads nowhere.
pub(super) fn refine(first: &Series, other: &Series, place: Place) -> Option<Fit> {
    let (mut offset, mut ratio) = (place.offset, place.ratio);
    (offset, ratio) = search(first, other, offset, ratio, place.within)?;
    let coarse = first.period.max(other.period);
    if jumps(&rows(first, other, offset, ratio, 2)) > 0.5
        && let Some(fit) = by_edges(first, other, offset, ratio)
    {
        return Some(fit);
    }
    let mut found = None;
    for _ in 0..12 {
        let rows = rows(first, other, offset, ratio, half_of(first, other));
        let step = gauss_newton(&rows, coarse)?;
        let middle = step.middle;
        // t' = (t - offset) / ratio becomes t' + shift + drift (t - middle).
        let slowness = 1.0 / ratio + step.drift;
        let at_middle = (middle - offset) / ratio + step.shift.clamp(-4.0 * coarse, 4.0 * coarse);
        ratio = 1.0 / slowness;
        offset = middle - at_middle * ratio;
        let done = step.shift.abs() < 1e-4 * coarse && step.drift.abs() * step.reach < 1e-4 * coarse;
        found = Some(step);
        if done {
            break;
        }
    }
    let step = found?;
    if !(0.98..=1.02).contains(&ratio) {
        return None;
    }
    let at_zero = step.middle - offset;
    Some(Fit {
        offset,
        ratio,
        offset_u: libm::sqrt(
            step.variance[0] + step.variance[1] * at_zero * at_zero - 2.0 * step.covariance * at_zero,
        ),
        ratio_u: ratio * ratio * libm::sqrt(step.variance[1]),
        row_u: libm::sqrt(
            step.variance[0]
                + step.variance[1] * step.reach * step.reach
                + 2.0 * step.covariance.abs() * step.reach,
        ),
        misfit: step.misfit,
        shared: step.shared,
    })
}

/// The clocks of a signal that only jumps.
fn by_edges(first: &Series, other: &Series, offset: f64, ratio: f64) -> Option<Fit> {
    let fit = edges::fit(first, other, offset, ratio)?;
    let (a0, a1) = first.ends()?;
    let (b0, b1) = other.ends()?;
    let [at_middle, of_ratio] = fit.variance;
    let far = |distance: f64| libm::sqrt(at_middle + of_ratio * distance * distance);
    Some(Fit {
        offset: fit.offset,
        ratio: fit.ratio,
        offset_u: far(fit.middle),
        ratio_u: libm::sqrt(of_ratio),
        row_u: far(fit.reach),
        misfit: misfit(first, other, fit.offset, fit.ratio)?,
        shared: (a1.min(fit.offset + fit.ratio * b1) - a0.max(fit.offset + fit.ratio * b0)).max(0.0),
    })
}

/// Rows on each side for a slope: enough to beat noise, few enough to follow.
fn half_of(first: &Series, other: &Series) -> usize {
    let rows = libm::round(2.0 * first.period / other.period.max(1e-9)) as usize;
    rows.clamp(2, 12)
}

/// Walks offset and clock ratio to the smallest misfit in ever smaller steps.
fn search(
    first: &Series,
    other: &Series,
    mut offset: f64,
    mut ratio: f64,
    within: f64,
) -> Option<(f64, f64)> {
    let (b0, b1) = other.ends()?;
    let (middle, reach) = (0.5 * (b0 + b1), 0.5 * (b1 - b0).max(other.period));
    let thin = thinned(first);
    let mut size = within;
    let mut best = misfit(&thin, other, offset, ratio).unwrap_or(1.0);
    let least = 0.4 * first.period.max(other.period);
    for _ in 0..60 {
        let mut moved = false;
        for (by, turn) in [
            (1.0, 0.0),
            (-1.0, 0.0),
            (0.0, 1.0),
            (0.0, -1.0),
            (1.0, 1.0),
            (-1.0, -1.0),
            (1.0, -1.0),
            (-1.0, 1.0),
        ] {
            let next = ratio + turn * size / reach;
            if (next - 1.0).abs() > 0.015 {
                continue;
            }
            let here = offset + by * size + (ratio - next) * middle;
            if let Some(found) = misfit(&thin, other, here, next)
                && found < best * (1.0 - 1e-6)
            {
                (best, offset, ratio, moved) = (found, here, next, true);
            }
        }
        if !moved {
            size *= 0.5;
            if size < least {
                break;
            }
        }
    }
    Some((offset, ratio))
}

/// At most two thousand rows of a signal.
fn thinned(series: &Series) -> Series {
    let stride = series.time.len().div_ceil(2000).max(1);
    Series {
        time: series.time.iter().copied().step_by(stride).collect(),
        value: series.value.iter().copied().step_by(stride).collect(),
        period: series.period,
        noise: series.noise,
    }
}

/// One step of least squares.
struct Step {
    /// Instant of the first clock about which shift and drift are told, s.
    middle: f64,
    /// Half the common time, s.
    reach: f64,
    shared: f64,
    /// What is to be added to the other clock's time, s, and per second.
    shift: f64,
    drift: f64,
    variance: [f64; 2],
    covariance: f64,
    misfit: f64,
}

/// Least squares of x on 1, y, y² and on what a shift and a drift of the clock would change.
///
/// The uncertainty is that of the sums over stretches of rows. A signal that jumps between two rows tells the instant
/// to a row only: that part is added as if all jumps fell alike. **Source** rectangular distribution, JCGM 100:2008,
/// clause 4.3.7.
fn gauss_newton(all: &[Row], period: f64) -> Option<Step> {
    let coefficients = explain(all)?.0;
    let moved = |row: &Row| (coefficients[1] + 2.0 * coefficients[2] * row.y) * row.slope;
    let (low, high) = (all.first()?.time, all.last()?.time);
    let (middle, reach) = (0.5 * (low + high), 0.5 * (high - low));
    let scale = all.iter().fold(0.0_f64, |most, row| most.max(row.y.abs())).max(f64::MIN_POSITIVE);
    let steepest = all.iter().fold(0.0_f64, |most, row| most.max(moved(row).abs()));
    if steepest <= 0.0 || reach <= 0.0 {
        return None;
    }
    let mut used: Vec<Row> = all.to_vec();
    for round in 0..4 {
        if used.len() < FEWEST {
            return None;
        }
        let mut matrix = Matrix::zeros(used.len(), 5);
        for (at, row) in used.iter().enumerate() {
            let (y, g) = (row.y / scale, moved(row) / steepest);
            let columns = [1.0, y, y * y, g, g * (row.time - middle) / reach];
            columns.into_iter().enumerate().for_each(|(column, value)| matrix.set(at, column, value));
        }
        let x: Vec<f64> = used.iter().map(|row| row.x).collect();
        let solution = least_squares(&matrix, &x, None, 1e-9);
        let mut unit = vec![0.0; 5];
        unit[3] = 1.0;
        if !solution.determines(&unit) {
            return None;
        }
        let modelled = matrix.times(&solution.x);
        let left: Vec<f64> = x.iter().zip(&modelled).map(|(x, m)| x - m).collect();
        let kept = near(&used, &left, &moved);
        if round < 3 && kept.iter().any(|kept| !kept) {
            let mut kept = kept.into_iter();
            used.retain(|_| kept.next().unwrap_or(false));
            continue;
        }
        let freedom = (used.len() as f64 - 5.0).max(1.0);
        let residual = left.iter().map(|r| r * r).sum::<f64>() / freedom;
        // The inverse of the normal matrix: the solution's covariance is that times the residual variance.
        let bread = |row: usize, column: usize| solution.covariance.get(row, column);
        let mut meat = [[0.0; 2]; 2];
        let length = used.len().div_ceil(BLOCKS).max(8);
        let blocks = used.len().div_ceil(length) as f64;
        for (from, part) in (0..used.len()).step_by(length).zip(left.chunks(length)) {
            let mut sum = [0.0; 2];
            for (at, r) in part.iter().enumerate() {
                for (place, sum) in sum.iter_mut().enumerate() {
                    let influence: f64 =
                        (0..5).map(|column| bread(3 + place, column) * matrix.get(from + at, column)).sum();
                    *sum += influence * r;
                }
            }
            for a in 0..2 {
                for b in 0..2 {
                    meat[a][b] += sum[a] * sum[b] * blocks / (blocks - 1.0).max(1.0);
                }
            }
        }
        let plain = [residual * bread(3, 3), residual * bread(4, 4)];
        let grain = jumps(&used) * period * period / 12.0;
        // x would rise by g per second of shift: what is found is in units of the steepest slope.
        let to_shift = 1.0 / steepest;
        let to_drift = 1.0 / (steepest * reach);
        let spread = scatter(&x);
        return Some(Step {
            middle,
            reach,
            shared: high - low,
            shift: solution.x.get(3)? * to_shift,
            drift: solution.x.get(4)? * to_drift,
            variance: [
                meat[0][0].max(plain[0]) * to_shift * to_shift + grain,
                meat[1][1].max(plain[1]) * to_drift * to_drift,
            ],
            covariance: meat[0][1] * to_shift * to_drift,
            misfit: scatter(&left) / spread.max(f64::MIN_POSITIVE),
        });
    }
    None
}

/// Share of what moves that lies in jumps between two rows: changes that tower over those on both sides.
fn jumps(rows: &[Row]) -> f64 {
    let x: Vec<f64> = rows.iter().map(|row| row.x).collect();
    let noise = stats::noise(&x).unwrap_or(0.0);
    let (mut jumps, mut all) = (0.0, 0.0);
    for w in x.windows(4) {
        let (before, here, after) = ((w[1] - w[0]).abs(), (w[2] - w[1]).abs(), (w[3] - w[2]).abs());
        let square = (here * here - 2.0 * noise * noise).max(0.0);
        all += square;
        if here > 8.0 * noise && here > 3.0 * before && here > 3.0 * after {
            jumps += square;
        }
    }
    if all > 0.0 { jumps / all } else { 0.0 }
}

/// Rows whose residual is not far off; rows that move much are judged among their like, since all that a
/// stepped run tells lies in them.
fn near(rows: &[Row], left: &[f64], moved: &dyn Fn(&Row) -> f64) -> Vec<bool> {
    let mut sizes: Vec<f64> = rows.iter().map(|row| moved(row).abs()).collect();
    let steep = 0.25 * sizes.iter().copied().fold(0.0, f64::max);
    let limit = |wanted: bool| {
        let mut chosen: Vec<f64> = left
            .iter()
            .zip(rows)
            .filter(|(_, row)| (moved(row).abs() > steep) == wanted)
            .map(|(r, _)| *r)
            .collect();
        let n = chosen.len();
        let spread = stats::scaled_mad(&mut chosen).unwrap_or(0.0);
        if n < 20 || spread <= 0.0 { f64::INFINITY } else { FAR * spread }
    };
    let limits = [limit(false), limit(true)];
    sizes.clear();
    left.iter().zip(rows).map(|(r, row)| r.abs() <= limits[usize::from(moved(row).abs() > steep)]).collect()
}
