//! Where the cells of a map lie.

use serde::Serialize;

use super::levels::Levels;
use super::operating::Operating;
use crate::math::small::quantile;

/// Cell boundaries on input voltage and output current at the converter's terminals.
///
/// **Shape** ascending, at least two each where there are cells. **Units** V, A.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Grid {
    /// Boundaries in V_A, linear.
    #[serde(rename = "v_in")]
    pub v_edges: Vec<f64>,
    /// Boundaries in I_o, logarithmic unless the loads came as levels.
    #[serde(rename = "i_out")]
    pub i_edges: Vec<f64>,
}

/// Extent of the operating rows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Extent {
    /// Lowest and highest input voltage, V.
    pub v_in: [f64; 2],
    /// Lowest and highest output current, A.
    pub i_out: [f64; 2],
    /// How often the current passed through its middle.
    pub passes: usize,
}

impl Extent {
    /// The extent of a run's operating rows; single stray rows beyond a wide gap are left out.
    ///
    /// **Missing data** `None` without rows.
    #[must_use]
    pub fn of(op: &Operating) -> Option<Self> {
        if op.is_empty() {
            return None;
        }
        let i_out = range(&op.i_out);
        Some(Self { v_in: range(&op.v_in), i_out, passes: passes(&op.i_out, i_out) })
    }

    /// Common part of two extents, `None` where they do not meet.
    #[must_use]
    pub fn common(self, other: Self) -> Option<Self> {
        let meet = |a: [f64; 2], b: [f64; 2]| [a[0].max(b[0]), a[1].min(b[1])];
        let both = Self {
            v_in: meet(self.v_in, other.v_in),
            i_out: meet(self.i_out, other.i_out),
            passes: self.passes.min(other.passes),
        };
        let exists = both.v_in[0] <= both.v_in[1] && both.i_out[0] <= both.i_out[1];
        exists.then_some(both)
    }
}

/// Passes of the current through the middle of its range, on the logarithm; small wiggles do not
/// count.
fn passes(currents: &[f64], [low, high]: [f64; 2]) -> usize {
    if low <= 0.0 || high <= low {
        return 0;
    }
    let span = libm::log(high / low);
    let (down, up) = (low * libm::exp(0.4 * span), low * libm::exp(0.6 * span));
    let mut above = None;
    let mut count = 0;
    for &current in currents {
        let now = if current > up {
            true
        } else if current < down {
            false
        } else {
            continue;
        };
        if above.is_some_and(|before| before != now) {
            count += 1;
        }
        above = Some(now);
    }
    count
}

/// Smallest and largest value, unless they lie more than a tenth of the bulk's range beyond it.
fn range(values: &[f64]) -> [f64; 2] {
    let mut copy = values.to_vec();
    let low = quantile(&mut copy, 0.0005);
    let high = quantile(&mut copy, 0.9995);
    let reach = 0.1 * (high - low);
    let mut out = [low, high];
    for &x in values {
        if x < out[0] && x >= low - reach {
            out[0] = x;
        }
        if x > out[1] && x <= high + reach {
            out[1] = x;
        }
    }
    out
}

impl Grid {
    /// Boundaries that follow the data: about one cell per thirty rows, at most 14 by 24.
    ///
    /// **Units** `asked`: number of cells on V_A and I_o where the user states them.
    #[must_use]
    pub fn following(
        extent: Option<Extent>,
        rows: usize,
        levels: Option<&Levels>,
        asked: Option<[usize; 2]>,
    ) -> Self {
        let Some(extent) = extent else { return Self::default() };
        let [n_v, n_i] = asked.unwrap_or_else(|| {
            let cells = rows as f64 / 30.0;
            // A run that passes every current a few times only has few voltages at each.
            let by_level = levels.is_some_and(|levels| levels.count > 1);
            let visits = if by_level { 14.0 } else { libm::floor(extent.passes as f64 / 3.5) };
            let n_v = libm::floor(libm::sqrt(cells / 1.7)).min(visits.max(3.0)).clamp(3.0, 14.0);
            let n_i = libm::floor(cells / n_v).clamp(4.0, 24.0);
            [n_v as usize, n_i as usize]
        });
        let v_edges = linear(extent.v_in, n_v.max(1));
        let i_edges = match levels.filter(|levels| asked.is_none() && levels.count > 1) {
            Some(levels) => around_levels(extent.i_out, levels),
            None => logarithmic(extent.i_out, n_i.max(1)),
        };
        Self { v_edges, i_edges }
    }

    /// Number of cells on V_A.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.v_edges.len().saturating_sub(1)
    }

    /// Number of cells on I_o.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.i_edges.len().saturating_sub(1)
    }

    /// Number of cells.
    #[must_use]
    pub fn cells(&self) -> usize {
        self.columns() * self.rows()
    }

    /// The cell that holds a point: `column * rows + row`.
    ///
    /// **Missing data** `None` outside the grid.
    #[must_use]
    pub fn cell(&self, v_in: f64, i_out: f64) -> Option<usize> {
        let column = place(&self.v_edges, v_in)?;
        let row = place(&self.i_edges, i_out)?;
        Some(column * self.rows() + row)
    }

    /// Column of cells that holds an input voltage.
    #[must_use]
    pub fn column(&self, v_in: f64) -> Option<usize> {
        place(&self.v_edges, v_in)
    }

    /// Middle of a cell: arithmetic in V_A, geometric in I_o.
    #[must_use]
    pub fn middle(&self, cell: usize) -> [f64; 2] {
        let (column, row) = (cell / self.rows().max(1), cell % self.rows().max(1));
        let (low, high) = (self.i_edges[row], self.i_edges[row + 1]);
        let i_out = if low > 0.0 { (low * high).sqrt() } else { 0.5 * (low + high) };
        [0.5 * (self.v_edges[column] + self.v_edges[column + 1]), i_out]
    }
}

/// Index of the interval that holds `x`; the last edge belongs to the last interval.
fn place(edges: &[f64], x: f64) -> Option<usize> {
    let last = *edges.last()?;
    if x == last && edges.len() > 1 {
        return Some(edges.len() - 2);
    }
    let k = edges.partition_point(|edge| *edge <= x);
    (k > 0 && k < edges.len()).then(|| k - 1)
}

fn linear(range: [f64; 2], n: usize) -> Vec<f64> {
    let [mut low, mut high] = range;
    if high - low < 1e-3 * high.abs() {
        let half = 0.5 * (1e-3 * high.abs()).max(1e-9);
        let middle = 0.5 * (low + high);
        (low, high) = (middle - half, middle + half);
        return vec![low, high];
    }
    (0..=n).map(|k| if k == n { high } else { low + (high - low) * k as f64 / n as f64 }).collect()
}

fn logarithmic(range: [f64; 2], n: usize) -> Vec<f64> {
    let [low, high] = range;
    // Three decades below the top nothing can be told apart any more on a readable figure.
    let low = low.max(high * 1e-4);
    if high < low * 1.001 {
        return vec![low * 0.9995, high * 1.0005];
    }
    let step = libm::log(high / low) / n as f64;
    (0..=n)
        .map(|k| match k {
            0 => low,
            k if k == n => high,
            k => low * libm::exp(step * k as f64),
        })
        .collect()
}

/// One cell per level, a tenth wide on both sides, and cells of at most half a factor between.
fn around_levels(range: [f64; 2], levels: &Levels) -> Vec<f64> {
    let mut fixed = vec![range[0]];
    for current in &levels.currents {
        for edge in [current / 1.1, current * 1.1] {
            if edge > fixed[fixed.len() - 1] * 1.02 && edge < range[1] / 1.02 {
                fixed.push(edge);
            }
        }
    }
    if range[1] > fixed[fixed.len() - 1] {
        fixed.push(range[1]);
    }
    let mut edges = vec![fixed[0]];
    for pair in fixed.windows(2) {
        let parts = libm::ceil(libm::log(pair[1] / pair[0]) / 0.405).max(1.0) as usize;
        let step = libm::log(pair[1] / pair[0]) / parts as f64;
        for k in 1..parts {
            edges.push(pair[0] * libm::exp(step * k as f64));
        }
        edges.push(pair[1]);
    }
    edges
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn puts_points_where_they_belong() {
        let grid = Grid { v_edges: linear([10.0, 14.0], 4), i_edges: logarithmic([0.1, 10.0], 2) };
        assert_eq!(grid.cell(10.0, 0.1), Some(0));
        assert_eq!(grid.cell(14.0, 10.0), Some(7));
        assert_eq!(grid.cell(11.0, 0.9999), Some(2));
        assert_eq!(grid.cell(9.999, 1.0), None);
        assert_eq!(grid.cell(f64::NAN, 1.0), None);
        let middle = grid.middle(7);
        assert!((middle[0] - 13.5).abs() < 1e-12 && (middle[1] - 10.0_f64.sqrt()).abs() < 1e-12);
    }
}
