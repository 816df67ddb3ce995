//! Cells: ratio of sums, with random and systematic uncertainty apart.
//!
//! Two passes over the operating rows. The first gathers sums, and moments about the middle of the
//! grid cell, in blocks that are merged in order. The second looks at what a local plane leaves,
//! and at how neighbouring rows hang together.

use serde::Serialize;

use super::grid::Grid;
use super::levels::Levels;
use super::operating::{BLOCK, Operating};
use crate::fixture::{PARAMETERS, Spot, State, leans};
use crate::quantity::Quantity;

/// One cell of a map.
///
/// **Units** V, A; `value` and the `u`s as a fraction for efficiencies and in W for losses.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Cell {
    /// Mean input voltage of its rows at the converter's terminals.
    pub v_in: f64,
    /// Mean output current of its rows.
    pub i_out: f64,
    /// The cell's value.
    pub value: f64,
    /// Standard uncertainty; `None` where the accuracy is not known.
    pub u: Option<f64>,
    /// Part that shrinks with more rows; `None` with fewer than two.
    pub u_random: Option<f64>,
    /// Part that does not, from the fixture and the delays between channels; `None` where not known.
    pub u_systematic: Option<f64>,
    /// Rows.
    pub n: usize,
    /// Rows that count as independent.
    pub n_effective: f64,
    /// Separate passes through the cell: parted by more than five rows.
    pub visits: usize,
    /// Which level the cell belongs to.
    pub level: Option<usize>,
    /// Too few rows or visits to lean on.
    pub thin: bool,
    /// Efficiencies only: the 95 % interval leans to one side by more than the second digit of `u`, so that
    /// `value` plus-minus 1.96 `u` does not describe it. An asked point there gets an interval from draws.
    pub leans: bool,
    /// Differences only: the loss difference, W.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub loss: Option<Quantity>,
    /// Differences only: difference over its standard uncertainty.
    #[serde(skip_serializing_if = "Difference::absent")]
    pub z: Difference,
}

/// The z of a difference: absent in plain cells, `null` where it cannot be given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Difference {
    /// The cell is not a difference.
    #[default]
    NotOne,
    /// A difference, with z where the uncertainty is known.
    Z(Option<f64>),
}

impl Difference {
    /// Whether the cell is no difference.
    #[must_use]
    pub fn absent(&self) -> bool {
        matches!(self, Self::NotOne)
    }

    /// z, where known.
    #[must_use]
    pub fn z(self) -> Option<f64> {
        match self {
            Self::NotOne => None,
            Self::Z(z) => z,
        }
    }
}

/// Rows that a jump must exceed to end a visit.
pub(crate) const VISIT_GAP: u32 = 5;
/// Rows per short and per long block of the serial correlation.
const CHAINS: [usize; 2] = [16, 64];

/// Sums of one cell.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Sums {
    pub(crate) n: usize,
    v: f64,
    i: f64,
    vv: f64,
    vi: f64,
    ii: f64,
    p_in: f64,
    p_out: f64,
    p_in_v: f64,
    p_in_i: f64,
    p_out_v: f64,
    p_out_i: f64,
    i_in: f64,
    v_out: f64,
    low: f64,
    /// Of [`Operating::slope`]; gathered only where the delays are in doubt.
    slope: [f64; 5],
}

impl Sums {
    fn merge(&mut self, other: &Self) {
        self.n += other.n;
        self.v += other.v;
        self.i += other.i;
        self.vv += other.vv;
        self.vi += other.vi;
        self.ii += other.ii;
        self.p_in += other.p_in;
        self.p_out += other.p_out;
        self.p_in_v += other.p_in_v;
        self.p_in_i += other.p_in_i;
        self.p_out_v += other.p_out_v;
        self.p_out_i += other.p_out_i;
        self.i_in += other.i_in;
        self.v_out += other.v_out;
        self.low += other.low;
        self.slope.iter_mut().zip(other.slope).for_each(|(sum, other)| *sum += other);
    }
}

/// A plane `a + b dv + c di` through one response, about the cell's mean.
#[derive(Clone, Copy, Debug, Default)]
struct Plane {
    slope_v: f64,
    slope_i: f64,
}

/// Residuals of one cell while the second pass runs.
#[derive(Clone, Copy, Debug, Default)]
struct Rest {
    /// Squares of the efficiency's and the loss's residuals.
    squares: [f64; 2],
    visits: usize,
    last: Option<u32>,
    /// Per block length: sum, rows so far, squares of finished blocks, number of them.
    sum: [[f64; 2]; 2],
    length: [usize; 2],
    blocks: [[f64; 2]; 2],
    count: [usize; 2],
}

impl Rest {
    fn close(&mut self, chain: usize) {
        if self.length[chain] > 0 {
            for response in 0..2 {
                let sum = self.sum[chain][response];
                self.blocks[chain][response] += sum * sum;
                self.sum[chain][response] = 0.0;
            }
            self.count[chain] += 1;
            self.length[chain] = 0;
        }
    }

    fn push(&mut self, row: u32, residuals: [f64; 2]) {
        let apart = self.last.is_none_or(|last| row - last > VISIT_GAP);
        if apart {
            self.visits += 1;
        }
        self.last = Some(row);
        for (chain, &longest) in CHAINS.iter().enumerate() {
            if apart || self.length[chain] == longest {
                self.close(chain);
            }
            self.length[chain] += 1;
            for (sum, residual) in self.sum[chain].iter_mut().zip(residuals) {
                *sum += residual;
            }
        }
        for (square, residual) in self.squares.iter_mut().zip(residuals) {
            *square += residual * residual;
        }
    }
}

/// Which cells count as thin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Thin {
    pub(crate) rows: usize,
    pub(crate) visits: usize,
}

/// Both cells (efficiency, loss) of every occupied grid cell, in grid order.
pub(crate) fn cells(
    op: &Operating,
    grid: &Grid,
    levels: Option<&Levels>,
    thin: Thin,
) -> Vec<(usize, Cell, Cell)> {
    let count = grid.cells();
    let mut code = vec![u32::MAX; op.len()];
    let mut totals = vec![Sums::default(); count];
    let mut block = vec![Sums::default(); count];
    let middles: Vec<[f64; 2]> = (0..count).map(|cell| grid.middle(cell)).collect();
    let mut current = 0;
    for k in 0..op.len() {
        let which = op.row[k] as usize / BLOCK;
        if which != current {
            flush(&mut totals, &mut block);
            current = which;
        }
        let Some(cell) = grid.cell(op.v_in[k], op.i_out[k]) else { continue };
        code[k] = cell as u32;
        let sums = &mut block[cell];
        let (dv, di) = (op.v_in[k] - middles[cell][0], op.i_out[k] - middles[cell][1]);
        let (p_in, p_out) = (op.p_in(k), op.p_out(k));
        sums.n += 1;
        sums.v += dv;
        sums.i += di;
        sums.vv += dv * dv;
        sums.vi += dv * di;
        sums.ii += di * di;
        sums.p_in += p_in;
        sums.p_out += p_out;
        sums.p_in_v += p_in * dv;
        sums.p_in_i += p_in * di;
        sums.p_out_v += p_out * dv;
        sums.p_out_i += p_out * di;
        sums.i_in += op.i_in[k];
        sums.v_out += op.v_out[k];
        sums.low += op.v_low[k];
        if !op.doubt.is_none() {
            sums.slope.iter_mut().zip(op.slope(k)).for_each(|(sum, own)| *sum += own);
        }
    }
    flush(&mut totals, &mut block);

    let noise = op.axis_noise();
    let planes: Vec<[Plane; 2]> = totals.iter().map(|sums| planes(sums, noise)).collect();
    let rests = residuals(op, &code, &totals, &planes, &middles);
    let pooled = pooled_chain(&totals, &rests);
    let mut out = Vec::new();
    for cell in 0..count {
        if totals[cell].n > 0 {
            let (efficiency, loss) =
                finish(op, &totals[cell], &rests[cell], middles[cell], pooled, levels, thin);
            out.push((cell, efficiency, loss));
        }
    }
    out
}

fn flush(totals: &mut [Sums], block: &mut [Sums]) {
    for (total, part) in totals.iter_mut().zip(block) {
        if part.n > 0 {
            total.merge(part);
            *part = Sums::default();
        }
    }
}

/// Planes of `P_out - eta P_in` and of the loss. A slope is used only along an axis on which the
/// rows spread wider than the noise of that axis: otherwise it would swallow noise.
fn planes(sums: &Sums, noise: (f64, f64)) -> [Plane; 2] {
    let none = [Plane::default(); 2];
    if sums.n < 8 {
        return none;
    }
    let n = sums.n as f64;
    let vv = sums.vv - sums.v * sums.v / n;
    let ii = sums.ii - sums.i * sums.i / n;
    let vi = sums.vi - sums.v * sums.i / n;
    let wide = |square: f64, noise: f64| square > n * 16.0 * noise * noise && square > 0.0;
    let (use_v, use_i) = (wide(vv, noise.0), wide(ii, noise.1));
    let eta = sums.p_out / sums.p_in;
    let with_v = |p: f64, mean: f64| p - sums.v * mean / n;
    let with_i = |p: f64, mean: f64| p - sums.i * mean / n;
    let in_v = with_v(sums.p_in_v, sums.p_in);
    let in_i = with_i(sums.p_in_i, sums.p_in);
    let out_v = with_v(sums.p_out_v, sums.p_out);
    let out_i = with_i(sums.p_out_i, sums.p_out);
    let solve = |rv: f64, ri: f64| -> Plane {
        let det = vv * ii - vi * vi;
        if use_v && use_i && det > 1e-6 * vv * ii {
            Plane { slope_v: (rv * ii - ri * vi) / det, slope_i: (ri * vv - rv * vi) / det }
        } else if use_i {
            Plane { slope_v: 0.0, slope_i: ri / ii }
        } else if use_v {
            Plane { slope_v: rv / vv, slope_i: 0.0 }
        } else {
            Plane::default()
        }
    };
    [solve(out_v - eta * in_v, out_i - eta * in_i), solve(in_v - out_v, in_i - out_i)]
}

fn residuals(
    op: &Operating,
    code: &[u32],
    totals: &[Sums],
    planes: &[[Plane; 2]],
    middles: &[[f64; 2]],
) -> Vec<Rest> {
    let mut rests = vec![Rest::default(); totals.len()];
    for k in 0..op.len() {
        let cell = code[k] as usize;
        if cell >= totals.len() {
            continue;
        }
        let sums = &totals[cell];
        let n = sums.n as f64;
        let dv = op.v_in[k] - middles[cell][0] - sums.v / n;
        let di = op.i_out[k] - middles[cell][1] - sums.i / n;
        let [efficiency, loss] = planes[cell];
        let (p_in, p_out) = (op.p_in(k), op.p_out(k));
        let mean_loss = (sums.p_in - sums.p_out) / n;
        rests[cell].push(
            op.row[k],
            [
                p_out - sums.p_out / sums.p_in * p_in - efficiency.slope_v * dv - efficiency.slope_i * di,
                p_in - p_out - mean_loss - loss.slope_v * dv - loss.slope_i * di,
            ],
        );
    }
    for rest in &mut rests {
        rest.close(0);
        rest.close(1);
    }
    rests
}

/// Widening of the variance of a mean by serial correlation over all cells, per block length and
/// response, at least 1.
fn pooled_chain(totals: &[Sums], rests: &[Rest]) -> [[f64; 2]; 2] {
    let mut out = [[1.0; 2]; 2];
    for (chain, row) in out.iter_mut().enumerate() {
        for (response, pooled) in row.iter_mut().enumerate() {
            let mut blocks = 0.0;
            let mut squares = 0.0;
            for (rest, sums) in rests.iter().zip(totals) {
                // A mean and a plane were taken out: cells with few blocks say nothing.
                let count = rest.count[chain] as f64;
                if count >= 6.0 && sums.n > 8 && rest.squares[response] > 0.0 {
                    let scale = sums.n as f64 / rest.squares[response];
                    blocks += rest.blocks[chain][response] * scale * count / (count - 3.0);
                    squares += sums.n as f64;
                }
            }
            if squares > 0.0 {
                *pooled = (blocks / squares).max(1.0);
            }
        }
    }
    out
}

fn finish(
    op: &Operating,
    sums: &Sums,
    rest: &Rest,
    middle: [f64; 2],
    pooled: [[f64; 2]; 2],
    levels: Option<&Levels>,
    thin: Thin,
) -> (Cell, Cell) {
    let n = sums.n as f64;
    let state = State {
        v_in: middle[0] + sums.v / n,
        i_in: sums.i_in / n,
        v_out: sums.v_out / n,
        i_out: middle[1] + sums.i / n,
    };
    let efficiency = sums.p_out / sums.p_in;
    let loss = (sums.p_in - sums.p_out) / n;
    let freedom = if sums.n >= 8 { n - 3.0 } else { n - 1.0 };
    let mut widening = [1.0; 2];
    for (response, out) in widening.iter_mut().enumerate() {
        // The longer blocks count where they show what the shorter ones missed.
        let chain = usize::from(pooled[1][response] > 1.5 * pooled[0][response]);
        let blocks = rest.count[chain] as f64;
        let own = if rest.squares[response] > 0.0 && blocks > 3.0 {
            rest.blocks[chain][response] / rest.squares[response] * blocks / (blocks - 3.0)
        } else {
            1.0
        };
        // Few blocks are a poor judge: they lean on all cells, worth twenty blocks.
        let shared = (blocks * own + 20.0 * pooled[chain][response]) / (blocks + 20.0);
        *out = shared.max(1.0);
    }
    let random = |response: usize, per: f64| -> Option<f64> {
        (sums.n >= 2).then(|| {
            let variance = rest.squares[response] * n / freedom * widening[response];
            variance.sqrt() / per
        })
    };
    let reading = op.reading_of(state, sums.low / n);
    let slope = sums.slope.map(|sum| sum / n);
    let delays = |sensitivity: &[f64; PARAMETERS]| op.doubt.variance(&op.per_second(sensitivity, slope));
    let systematic = |sensitivity: &[f64; PARAMETERS], scale: f64| {
        let variance = op.correction.variance(sensitivity).max(0.0) + delays(sensitivity);
        op.accuracy_known().then(|| variance.sqrt() * scale)
    };
    let cell = |value: f64, u_random: Option<f64>, u_systematic: Option<f64>, wide: f64| Cell {
        v_in: state.v_in,
        i_out: state.i_out,
        value,
        u: u_random.zip(u_systematic).map(|(a, b)| libm::hypot(a, b)),
        u_random,
        u_systematic,
        n: sums.n,
        n_effective: n / wide,
        visits: rest.visits,
        level: levels.and_then(|levels| levels.nearest(state.i_out)),
        thin: sums.n < thin.rows || rest.visits < thin.visits,
        leans: false,
        loss: None,
        z: Difference::NotOne,
    };
    let sensitivity = op.correction.sensitivity(reading);
    let u_random = random(0, sums.p_in);
    let mut of_efficiency = cell(efficiency, u_random, systematic(&sensitivity, efficiency), widening[0]);
    of_efficiency.leans = u_random.is_some_and(|u| {
        let reading_u = crate::fixture::reading_u(&sensitivity, op.noise, u / efficiency.abs());
        let delays_u = delays(&sensitivity).sqrt();
        leans(&op.correction, &Spot { reading, reading_u, delays_u, state })
    });
    (
        of_efficiency,
        cell(loss, random(1, n), systematic(&op.correction.loss_sensitivity(reading), 1.0), widening[1]),
    )
}
