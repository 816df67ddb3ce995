//! What an ordinary run says of the fixture: usual operating points, the minus side's contacts, the
//! current channels of a linear regulator.

use crate::fixture::{Spot, State};
use crate::map::{Operating, Point};
use crate::math::linear::{Matrix, least_squares};
use crate::math::small;

/// Shares of the operating rows, by output current, at which a run is judged.
const SHARES: [f64; 3] = [0.05, 0.5, 0.95];
/// Rows around such a place, as a share of all and at most.
const AROUND: f64 = 0.02;
const MOST_AROUND: usize = 400;
/// Fewest rows that show a contact or a current ratio.
const FEWEST: usize = 60;
/// Stretches into which a run is cut to see a contact move.
const STRETCHES: usize = 24;
/// From the middle of the first third of a run to that of its last, as a share of the run.
const BETWEEN: f64 = 2.0 / 3.0;
/// Scatter of the output by the input current, relative, below which a converter passes its current on.
const PASSES_ON: f64 = 0.01;
/// Ratio of the currents within this of 1 looks like a linear regulator; judgement.
const LIKE_LINEAR: f64 = 0.03;

/// What one run says of the fixture.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Watch {
    /// Usual operating points: the asked ones where answered, else a light, a middle and a heavy one.
    pub spots: Vec<Spot>,
    /// The low output node; `None` where it is not logged or says nothing.
    pub low: Option<LowNode>,
    /// Output against input current, where the run looks like a linear regulator's.
    pub currents: Option<Currents>,
}

/// The low output node: `V_N = I_o r_out_low + I_i r_in_low`.
#[derive(Clone, Debug, PartialEq)]
pub struct LowNode {
    /// Output minus and input minus path, ohm, and their covariance from scatter.
    pub paths: [f64; 2],
    /// Covariance of both, ohm squared.
    pub covariance: [[f64; 2]; 2],
    /// Change of both from the first to the last third, and its standard uncertainty, ohm.
    pub drift: [[f64; 2]; 2],
    /// Mean output and input current, A.
    pub currents: [f64; 2],
    /// Mean of the node, and its standard uncertainty from scatter, V.
    pub node: [f64; 2],
    /// Largest step between neighbouring stretches, its standard uncertainty, V, and its row.
    pub step: Option<([f64; 2], usize)>,
    /// Whether the two currents vary apart, so that the paths can be told apart.
    pub apart: bool,
}

/// `I_o = ratio I_i - need`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Currents {
    /// Slope and its standard uncertainty from scatter.
    pub ratio: [f64; 2],
    /// Input current without load, A, and its standard uncertainty from scatter.
    pub need: [f64; 2],
    /// Share of rows whose output current exceeds their input current.
    pub over: f64,
    /// Rows.
    pub n: usize,
}

impl Watch {
    /// Looks at the operating rows of one run.
    #[must_use]
    pub fn of(op: &Operating, at: &[Point]) -> Self {
        Self { spots: spots(op, at), low: low_node(op), currents: currents(op) }
    }
}

/// A point that stands for these operating rows.
fn spot(op: &Operating, rows: &[usize]) -> Spot {
    let n = rows.len() as f64;
    let mean = |column: &[f64]| rows.iter().map(|&k| column[k]).sum::<f64>() / n;
    let state =
        State { v_in: mean(&op.v_in), i_in: mean(&op.i_in), v_out: mean(&op.v_out), i_out: mean(&op.i_out) };
    let reading = op.reading_of(state, mean(&op.v_low));
    let mut slope = [0.0; 5];
    if !op.doubt.is_none() {
        for &k in rows {
            slope.iter_mut().zip(op.slope(k)).for_each(|(sum, own)| *sum += own / n);
        }
    }
    let delays_u = op.doubt.u(&op.per_second(&op.correction.sensitivity(reading), slope));
    Spot { reading, reading_u: op.noise.map(|noise| noise / n.sqrt()), delays_u, state }
}

fn spots(op: &Operating, at: &[Point]) -> Vec<Spot> {
    let asked: Vec<Spot> = at.iter().filter_map(|point| point.spot(op)).collect();
    if !asked.is_empty() || op.is_empty() {
        return asked;
    }
    let half = (((AROUND * op.len() as f64) as usize) / 2).min(MOST_AROUND / 2);
    let mut order: Vec<u32> = (0..op.len() as u32).collect();
    let by_current =
        |a: &u32, b: &u32| op.i_out[*a as usize].total_cmp(&op.i_out[*b as usize]).then(a.cmp(b));
    SHARES
        .iter()
        .map(|share| {
            let place = ((op.len() - 1) as f64 * share) as usize;
            let (from, to) = (place.saturating_sub(half), (place + half + 1).min(op.len()));
            // Only these ranks are wanted, so nothing else is put in order.
            order.select_nth_unstable_by(from, by_current);
            if to < op.len() {
                order[from..].select_nth_unstable_by(to - from, by_current);
            }
            let mut rows: Vec<usize> = order[from..to].iter().map(|&k| k as usize).collect();
            rows.sort_unstable();
            spot(op, &rows)
        })
        .collect()
}

/// Sums of a straight fit of the low node to both currents.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    oo: f64,
    oi: f64,
    ii: f64,
    on: f64,
    in_: f64,
}

impl Sums {
    fn add(&mut self, o: f64, i: f64, n: f64) {
        self.oo += o * o;
        self.oi += o * i;
        self.ii += i * i;
        self.on += o * n;
        self.in_ += i * n;
    }

    /// Both paths and the inverse matrix of the sums.
    fn solve(&self) -> Option<([f64; 2], [[f64; 2]; 2])> {
        let determinant = self.oo * self.ii - self.oi * self.oi;
        if determinant <= 1e-9 * self.oo * self.ii {
            return None;
        }
        let inverse = [
            [self.ii / determinant, -self.oi / determinant],
            [-self.oi / determinant, self.oo / determinant],
        ];
        let paths = inverse.map(|row| row[0] * self.on + row[1] * self.in_);
        Some((paths, inverse))
    }
}

fn low_node(op: &Operating) -> Option<LowNode> {
    let n = op.len();
    if n < FEWEST || op.v_low.iter().all(|v| *v == op.v_low[0]) {
        return None;
    }
    let sums = |from: usize, to: usize| {
        let mut sums = Sums::default();
        for k in from..to {
            sums.add(op.i_out[k], op.i_in[k], op.v_low[k]);
        }
        sums
    };
    let (paths, inverse) = sums(0, n).solve()?;
    let left = |k: usize| op.v_low[k] - paths[0] * op.i_out[k] - paths[1] * op.i_in[k];
    let square = (0..n).map(|k| left(k) * left(k)).sum::<f64>() / (n - 2) as f64;
    let length = n / STRETCHES;
    let means_of = |left: &dyn Fn(usize) -> f64| -> Vec<f64> {
        (0..STRETCHES)
            .map(|s| (s * length..(s + 1) * length).map(left).sum::<f64>() / length as f64)
            .collect()
    };
    let means = means_of(&left);
    // Means of stretches scatter more than rows alone explain where something slow is at work.
    let between = means.iter().map(|m| m * m).sum::<f64>() / (STRETCHES - 2) as f64;
    let widen = (between * length as f64 / square.max(f64::MIN_POSITIVE)).max(1.0);
    let variance = square * widen;
    let drift = drift(op, square);
    let mean = |column: &[f64]| column.iter().sum::<f64>() / n as f64;
    // A slow change times currents that come and go looks like steps: its straight part is taken off first.
    let slope = drift.map(|[change, u]| if u.is_finite() { change / BETWEEN } else { 0.0 });
    let rest = means_of(&|k: usize| {
        let t = k as f64 / n as f64 - 0.5;
        left(k) - t * (slope[0] * op.i_out[k] + slope[1] * op.i_in[k])
    });
    let step = (1..STRETCHES)
        .map(|s| (rest[s] - rest[s - 1], s))
        .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()).then(b.1.cmp(&a.1)));
    let u_mean = (square / length as f64).sqrt();
    Some(LowNode {
        paths,
        covariance: inverse.map(|row| row.map(|x| variance * x)),
        drift,
        currents: [mean(&op.i_out), mean(&op.i_in)],
        node: [mean(&op.v_low), (variance / n as f64).sqrt()],
        step: step.map(|(size, s)| ([size, u_mean * 2.0_f64.sqrt()], op.row[s * length] as usize)),
        apart: inverse[0][0] * sums(0, n).oo < 400.0,
    })
}

/// Change of both paths from the middle of the first to that of the last third, and its standard uncertainty.
///
/// **Formula** least squares of the node on both currents and both currents by time; `square` is the variance of a row.
fn drift(op: &Operating, square: f64) -> [[f64; 2]; 2] {
    let n = op.len();
    let (mut gram, mut rhs) = (small::ZERO, [0.0; small::WIDEST]);
    for k in 0..n {
        let t = k as f64 / n as f64 - 0.5;
        let columns = [op.i_out[k], op.i_in[k], t * op.i_out[k], t * op.i_in[k]];
        for (i, a) in columns.iter().enumerate() {
            for (j, b) in columns.iter().enumerate() {
                gram[i][j] += a * b;
            }
            rhs[i] += a * op.v_low[k];
        }
    }
    let Some(inverse) = small::inverse(&gram, 4) else { return [[0.0, f64::INFINITY]; 2] };
    let fit = small::apply(&inverse, &rhs, 4);
    let freedom = (n - 2) as f64 / (n - 4) as f64;
    let whole: f64 = (0..n).map(|k| op.v_low[k] * op.v_low[k]).sum();
    let explained: f64 = (0..4).map(|k| fit[k] * rhs[k]).sum();
    // What the drift explains is no noise.
    let own = ((whole - explained).max(0.0) / (n - 4) as f64).min(square * freedom);
    std::array::from_fn(|k| [BETWEEN * fit[2 + k], BETWEEN * (own * inverse[2 + k][2 + k]).sqrt()])
}

/// Whether the output current rises with the input current at least nearly as in a linear regulator: a quick look
/// that spares most runs the fit.
fn rises_like_linear(op: &Operating) -> bool {
    let n = op.len() as f64;
    let mean = |column: &[f64]| column.iter().sum::<f64>() / n;
    let (i, o) = (mean(&op.i_in), mean(&op.i_out));
    let (mut ii, mut io) = (0.0, 0.0);
    for (a, b) in op.i_in.iter().zip(&op.i_out) {
        ii += (a - i) * (a - i);
        io += (a - i) * (b - o);
    }
    (io - ii).abs() <= 2.0 * LIKE_LINEAR * ii
}

fn currents(op: &Operating) -> Option<Currents> {
    let n = op.len();
    if n < FEWEST || !rises_like_linear(op) {
        return None;
    }
    let rows: Vec<[f64; 2]> = op.i_in.iter().map(|i| [*i, 1.0]).collect();
    let solution = least_squares(&Matrix::from_rows(&rows), &op.i_out, None, 1e-9);
    let [ratio, constant] = [*solution.x.first()?, *solution.x.get(1)?];
    let scatter = (solution.residual_sum / (n - 2) as f64).sqrt();
    let mean = op.i_out.iter().sum::<f64>() / n as f64;
    let drops = op.v_out.iter().zip(&op.v_in).filter(|(o, i)| o <= i).count();
    if solution.rank < 2
        || scatter > PASSES_ON * mean
        || (ratio - 1.0).abs() > LIKE_LINEAR
        || drops * 100 < n * 99
    {
        return None;
    }
    let u = |k: usize| scatter * solution.covariance.get(k, k).sqrt();
    let over = op.i_out.iter().zip(&op.i_in).filter(|(o, i)| o > i).count();
    Some(Currents {
        ratio: [ratio, u(0)],
        need: [-constant / ratio, u(1) / ratio],
        over: over as f64 / n as f64,
        n,
    })
}
