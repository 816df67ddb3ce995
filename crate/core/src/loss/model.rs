//! The loss as fixed, linear and resistive parts, as far as the data support them.

use serde::Serialize;

use super::chain::chain;
use super::change::{Change, search};
use super::moments::{CAUSES, Moments, Solved, causes};
use crate::fixture::{PARAMETERS, State};
use crate::map::{Operating, plus, times};
use crate::math::small::{WIDEST, ZERO, apply, form, inverse};
use crate::quantity::Quantity;

/// Name and unit of each cause, in the order of the columns.
const TERMS: [(&str, &str); CAUSES] = [
    ("fixed", "W"),
    ("fixed_per_volt", "W/V"),
    ("linear", "W/A"),
    ("linear_per_volt", "W/(A V)"),
    ("resistive_output", "ohm"),
    ("resistive_input", "ohm"),
];
const QUADRATIC: [usize; 2] = [4, 5];

/// One part of the loss.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Term {
    /// `fixed` p_0, `fixed_per_volt` p_v V_A, `linear` k_1 I_o, `linear_per_volt` k_v V_A I_o,
    /// `resistive_output` k_2 I_o^2 or `resistive_input` k_2 I_i^2.
    pub name: &'static str,
    /// Unit of the coefficient.
    pub unit: &'static str,
    /// Coefficient.
    pub value: f64,
    /// Standard uncertainty; `None` where the accuracy is not known.
    pub u: Option<f64>,
}

/// A step of the loss at one output current.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// Where it is, A.
    pub i_out: Quantity,
    /// How much the loss rises there, W.
    pub power: Quantity,
    /// Interval that holds its place with 95 %, A.
    #[serde(skip)]
    pub between: [f64; 2],
    /// Gain of chi-squared beyond the penalty.
    #[serde(skip)]
    pub gain: f64,
    /// Random part of the power's `u`, W.
    #[serde(skip)]
    pub u_random: f64,
}

/// The fitted loss of one run.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct LossModel {
    /// Parts that the data support.
    pub terms: Vec<Term>,
    /// Covariance of the terms, then of the steps' powers; systematic part included where known.
    pub covariance: Vec<Vec<f64>>,
    /// chi-squared per degree of freedom against the noise of the readings; `None` without a fit or
    /// without known noise.
    pub chi2_reduced: Option<f64>,
    /// Parts that were tried and are not supported.
    pub unsupported: Vec<&'static str>,
    /// Steps along the output current, ascending.
    pub steps: Vec<Step>,
    /// Column of each term.
    #[serde(skip)]
    columns: Vec<usize>,
    /// Covariance from scatter alone.
    #[serde(skip)]
    random: Vec<Vec<f64>>,
    /// Coefficients of `V_B = a + b I_o + c ln I_o + d V_A`.
    #[serde(skip)]
    load_line: [f64; 4],
    /// Low output node's mean voltage, V.
    #[serde(skip)]
    low: f64,
    #[serde(skip)]
    known: bool,
    /// Standard deviation of a row about the model in units of its readings' noise.
    #[serde(skip)]
    row_scale: f64,
    /// What the model misses beyond the noise, W: standard deviation over the rows.
    #[serde(skip)]
    misfit: f64,
    /// The same in shares of the input power, where no noise is known: settled points scatter about
    /// a model by what it misses.
    #[serde(skip)]
    misfit_share: f64,
}

/// The loss model's answer at one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Predicted {
    pub(crate) state: State,
    pub(crate) loss: f64,
    pub(crate) u_random: f64,
    pub(crate) sensitivity: [f64; PARAMETERS],
}

impl LossModel {
    /// Fits the loss of the operating rows.
    ///
    /// **Formula** `P_loss = p_0 + p_v V_A + (k_1 + k_v V_A) I_o + k_2 I^2 + steps`, all but the
    /// steps not negative; I_o or I_i for the quadratic, whichever fits better; a part stays while
    /// leaving it out raises chi-squared by more than ln N (Schwarz 1978).
    /// **Missing data** without at least 12 rows the model is empty.
    #[must_use]
    pub fn fit(op: &Operating) -> Self {
        let Some(mut moments) = Self::gather(op) else { return Self::default() };
        Self::look(op, &mut moments);
        Self::conclude(op, &moments)
    }

    /// First part of [`LossModel::fit`]: everything that the fit needs to know of the rows' sums.
    pub(crate) fn gather(op: &Operating) -> Option<Moments> {
        (op.len() >= 12).then(|| Moments::of(op))
    }

    /// Second part: how far rows hang together.
    pub(crate) fn look(op: &Operating, moments: &mut Moments) {
        // Rows that hang together pretend to be more than they are: one look at a plain model
        // tells by how much.
        if let Some(plain) = moments.solve(&[0, 2, 4], &[]) {
            moments.widening = chain(op, moments, &plain.columns, &plain.values[..3], &[]).widening;
        }
    }

    /// Third part: which parts of the loss the data support.
    pub(crate) fn conclude(op: &Operating, moments: &Moments) -> Self {
        let by_voltage = voltage_spread(op);
        let mut best: Option<(Solved, Vec<Change>)> = None;
        for quadratic in QUADRATIC {
            let Some(found) = reduce(moments, by_voltage, quadratic) else { continue };
            let better = best.as_ref().is_none_or(|(b, _)| {
                let cost = |s: &Solved| {
                    s.chi2 / s.reduced(moments.n).min(b.reduced(moments.n)).max(1e-300) / moments.widening
                        + s.size() as f64 * libm::log(moments.n as f64)
                };
                cost(&found.0) < cost(b)
            });
            if better {
                best = Some(found);
            }
        }
        match best {
            Some((solved, changes)) => Self::report(op, moments, &solved, &changes),
            None => Self::default(),
        }
    }

    fn report(op: &Operating, moments: &Moments, solved: &Solved, changes: &[Change]) -> Self {
        let n = solved.columns.len();
        let total = solved.size();
        let noise_known = op.noise_known();
        let reduced = solved.reduced(moments.n);
        // Rows may hang together and the model is never quite right: scatter decides, not the
        // stated noise, once there are rows enough to tell it.
        let together = chain(op, moments, &solved.columns, &solved.values[..total], &solved.steps);
        let few = noise_known && op.len() < total + 10;
        let scale = reduced.max(if few { 1.0 } else { 0.0 }) * together.widening;
        let random: Vec<Vec<f64>> =
            (0..total).map(|i| (0..total).map(|j| solved.inverse[i][j] * scale).collect()).collect();
        let mut model = Self {
            chi2_reduced: noise_known.then_some(reduced),
            columns: solved.columns.clone(),
            random: random.clone(),
            known: op.accuracy_known(),
            row_scale: reduced.max(if few { 1.0 } else { 0.0 }).sqrt()
                * crate::math::small::small_sample((op.len().saturating_sub(total)).max(1) as f64),
            misfit: together.missed.max(0.0).sqrt(),
            // What a model misses is no scatter: half as much again for the places between rows.
            misfit_share: if noise_known { 0.0 } else { 1.5e-3 * reduced.sqrt() },
            ..Self::default()
        };
        model.load_line(op);
        let gain = model.systematic_gain(op, solved, moments);
        let systematic = |i: usize, j: usize| -> f64 {
            let mut sum = 0.0;
            for (row, a) in op.correction.covariance.iter().zip(&gain[i]) {
                let mut inner = 0.0;
                for (c, b) in row.iter().zip(&gain[j]) {
                    inner += c * b;
                }
                sum += a * inner;
            }
            sum
        };
        model.covariance =
            (0..total).map(|i| (0..total).map(|j| random[i][j] + systematic(i, j)).collect()).collect();
        let u = |k: usize| model.known.then(|| model.covariance[k][k].max(0.0).sqrt());
        model.terms = solved
            .columns
            .iter()
            .enumerate()
            .map(|(k, &column)| Term {
                name: TERMS[column].0,
                unit: TERMS[column].1,
                value: solved.values[k],
                u: u(k),
            })
            .collect();
        model.steps = changes
            .iter()
            .enumerate()
            .map(|(k, change)| {
                let [low, high] = change.between;
                let reading = op.correction.covariance;
                // Gain and offset of the current channel move the place too.
                let middle = 0.5 * (low + high);
                let systematic =
                    libm::hypot(reading[4][4].max(0.0).sqrt() * middle, reading[9][9].max(0.0).sqrt());
                let place = libm::hypot((high - low) / 12.0_f64.sqrt(), systematic);
                Step {
                    i_out: Quantity { value: Some(middle), u: model.known.then_some(place), why: None },
                    power: Quantity { value: Some(solved.values[n + k]), u: u(n + k), why: None },
                    between: change.between,
                    gain: change.gain,
                    u_random: random[n + k][n + k].max(0.0).sqrt(),
                }
            })
            .collect();
        let tried = [0, 1, 2, 3].into_iter().chain(QUADRATIC.into_iter().filter(|q| {
            solved.columns.contains(q) || !QUADRATIC.iter().any(|other| solved.columns.contains(other))
        }));
        model.unsupported = tried.filter(|c| !solved.columns.contains(c)).map(|c| TERMS[c].0).collect();
        model
    }

    /// Whether there is a model.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.terms.is_empty()
    }

    /// Output currents at which the loss steps, A, ascending.
    #[must_use]
    pub fn splits(&self) -> Vec<f64> {
        self.steps.iter().filter_map(|step| step.i_out.value).collect()
    }

    /// Widening of one row's standard deviation against the noise of the readings, from the scatter
    /// about the model; at least 1 until scatter can be told.
    pub(crate) fn row_scale(&self) -> f64 {
        self.row_scale
    }

    /// Loss towards no load at an input voltage, W, from the fixed parts.
    #[must_use]
    pub fn at_no_load(&self, v_in: f64) -> Quantity {
        if self.terms.is_empty() {
            return Quantity::unknown("no_loss_model");
        }
        let mut x = [0.0; WIDEST];
        let mut value = 0.0;
        for (k, &column) in self.columns.iter().enumerate() {
            x[k] = match column {
                0 => 1.0,
                1 => v_in,
                _ => 0.0,
            };
            value += x[k] * self.terms[k].value;
        }
        let u = quadratic_form(&self.covariance, &x).max(0.0).sqrt();
        Quantity { value: Some(value), u: self.known.then_some(u), why: None }
    }

    /// Loss and state at a place, for places inside the visited region without rows of their own.
    pub(crate) fn predict(&self, op: &Operating, v_in: f64, i_out: f64) -> Option<Predicted> {
        if self.terms.is_empty() {
            return None;
        }
        let [a, b, c, d] = self.load_line;
        let v_out = a + b * i_out + c * libm::log(i_out) + d * v_in;
        let mut loss = 0.0;
        let mut row = [0.0; WIDEST];
        for _ in 0..4 {
            let i_in = (v_out * i_out + loss) / v_in;
            row = self.row(v_in, i_out, i_in);
            loss = self.dot(&row);
        }
        let state = State { v_in, i_in: (v_out * i_out + loss) / v_in, v_out, i_out };
        if !(state.i_in > 0.0 && v_out > 0.0) {
            return None;
        }
        let reading = op.reading_of(state, self.low);
        let jacobian = op.correction.jacobian(reading);
        let [by_v, by_i, by_i_in] = self.slopes(v_in, i_out, state.i_in);
        let moved = plus(
            &plus(&times(&jacobian[0], -by_v), &times(&jacobian[3], -by_i)),
            &times(&jacobian[1], -by_i_in),
        );
        Some(Predicted {
            state,
            loss,
            u_random: libm::hypot(quadratic_form(&self.random, &row).max(0.0).sqrt(), self.misfit),
            sensitivity: plus(&op.correction.loss_sensitivity(reading), &moved),
        })
    }

    fn row(&self, v_in: f64, i_out: f64, i_in: f64) -> [f64; WIDEST] {
        let x = causes(v_in, i_out, i_in);
        let mut row = [0.0; WIDEST];
        for (k, &column) in self.columns.iter().enumerate() {
            row[k] = x[column];
        }
        for (k, step) in self.steps.iter().enumerate() {
            let on = step.i_out.value.is_some_and(|place| i_out >= place);
            row[self.columns.len() + k] = f64::from(u8::from(on));
        }
        row
    }

    fn dot(&self, row: &[f64; WIDEST]) -> f64 {
        let terms = self.terms.iter().map(|t| t.value);
        let steps = self.steps.iter().map(|s| s.power.value.unwrap_or(0.0));
        terms.chain(steps).zip(row).map(|(a, b)| a * b).sum()
    }

    /// Derivatives of the model by V_A, I_o and I_i.
    fn slopes(&self, v_in: f64, i_out: f64, i_in: f64) -> [f64; 3] {
        let mut out = [0.0; 3];
        for (term, &column) in self.terms.iter().zip(&self.columns) {
            match column {
                1 => out[0] += term.value,
                2 => out[1] += term.value,
                3 => {
                    out[0] += term.value * i_out;
                    out[1] += term.value * v_in;
                }
                4 => out[1] += 2.0 * term.value * i_out,
                5 => out[2] += 2.0 * term.value * i_in,
                _ => {}
            }
        }
        out
    }

    /// How every parameter of the fixture moves every coefficient.
    ///
    /// At most 20 000 rows, evenly taken, carry it: the sensitivities vary slowly.
    fn systematic_gain(
        &mut self,
        op: &Operating,
        solved: &Solved,
        moments: &Moments,
    ) -> Vec<[f64; PARAMETERS]> {
        let (n, total) = (solved.columns.len(), solved.size());
        let mut gain = vec![[0.0; PARAMETERS]; total];
        if !self.known {
            return gain;
        }
        self.terms = solved
            .columns
            .iter()
            .zip(solved.values)
            .map(|(&column, value)| Term { name: TERMS[column].0, unit: "", value, u: None })
            .collect();
        let every = op.len().div_ceil(20_000);
        let mut a = ZERO;
        let mut right = vec![[0.0; PARAMETERS]; total];
        for k in (0..op.len()).step_by(every) {
            let state = State { v_in: op.v_in[k], i_in: op.i_in[k], v_out: op.v_out[k], i_out: op.i_out[k] };
            let reading = op.reading_of(state, op.v_low[k]);
            let jacobian = op.correction.jacobian(reading);
            let slopes = self.slopes(state.v_in, state.i_out, state.i_in);
            let mut moved = op.correction.loss_sensitivity(reading);
            for (j, by) in [(0, slopes[0]), (3, slopes[1]), (1, slopes[2])] {
                moved = plus(&moved, &times(&jacobian[j], -by));
            }
            let x = causes(state.v_in, state.i_out, state.i_in);
            let bin = moments.bin(state.i_out);
            let row: Vec<f64> = solved
                .columns
                .iter()
                .map(|&column| x[column])
                .chain(solved.steps.iter().map(|&step| f64::from(u8::from(bin >= step))))
                .collect();
            let variance = op.loss_variance(k);
            let weight = if variance > 0.0 { 1.0 / variance } else { 1.0 };
            for i in 0..total {
                for j in 0..total {
                    a[i][j] += weight * row[i] * row[j];
                }
                for (sum, s) in right[i].iter_mut().zip(&moved) {
                    *sum += weight * row[i] * s;
                }
            }
        }
        if let Some(inverse) = inverse(&a, total) {
            for parameter in 0..PARAMETERS {
                let mut column = [0.0; WIDEST];
                for k in 0..total {
                    column[k] = right[k][parameter];
                }
                let moved = apply(&inverse, &column, total);
                for k in 0..total {
                    gain[k][parameter] = moved[k];
                }
            }
        }
        debug_assert!(n <= total);
        gain
    }

    /// The load's line of output voltage, and the mean low node.
    fn load_line(&mut self, op: &Operating) {
        let mut a = ZERO;
        let mut right = [0.0; WIDEST];
        let mut low = 0.0;
        let every = op.len().div_ceil(20_000);
        let mut count = 0.0;
        for k in (0..op.len()).step_by(every) {
            let x = [1.0, op.i_out[k], libm::log(op.i_out[k]), op.v_in[k]];
            for i in 0..4 {
                right[i] += x[i] * op.v_out[k];
                for j in 0..4 {
                    a[i][j] += x[i] * x[j];
                }
            }
            low += op.v_low[k];
            count += 1.0;
        }
        self.low = low / count;
        // A little weight on zero slopes, so that one level or one voltage still has a line.
        for (k, row) in a.iter_mut().enumerate().take(4).skip(1) {
            row[k] *= 1.0 + 1e-9;
            row[k] += 1e-9 * count;
        }
        self.load_line = match inverse(&a, 4) {
            Some(inverse) => {
                let line = apply(&inverse, &right, 4);
                [line[0], line[1], line[2], line[3]]
            }
            None => [right[0] / count, 0.0, 0.0, 0.0],
        };
    }
}

fn quadratic_form(matrix: &[Vec<f64>], x: &[f64; WIDEST]) -> f64 {
    let mut square = ZERO;
    for (row, values) in square.iter_mut().zip(matrix) {
        for (cell, value) in row.iter_mut().zip(values) {
            *cell = *value;
        }
    }
    form(&square, x, matrix.len())
}

/// Whether the input voltage spreads enough to see what depends on it.
fn voltage_spread(op: &Operating) -> bool {
    let n = op.len() as f64;
    let mean = op.v_in.iter().sum::<f64>() / n;
    let square = op.v_in.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / n;
    square.sqrt() > (0.01 * mean).max(4.0 * op.axis_noise().0)
}

/// From the widest model that can be solved down to the parts that pay for themselves.
fn reduce(moments: &Moments, by_voltage: bool, quadratic: usize) -> Option<(Solved, Vec<Change>)> {
    let wide: &[usize] = if by_voltage { &[0, 1, 2, 3] } else { &[0, 2] };
    let mut columns: Vec<usize> = wide.iter().copied().chain([quadratic]).collect();
    for drop in [3, 1, quadratic, 2] {
        if moments.solve(&columns, &[]).is_some() {
            break;
        }
        columns.retain(|&c| c != drop);
    }
    let (mut solved, mut changes) = search(moments, &columns)?;
    let price = libm::log(moments.n.max(2) as f64);
    loop {
        let scale = solved.reduced(moments.n).max(1e-300) * moments.widening;
        let steps: Vec<usize> = solved.steps.clone();
        // The part that costs least to leave out; negative ones must go.
        let mut weakest: Option<(usize, f64)> = None;
        for k in 0..solved.columns.len() {
            let value = solved.values[k];
            let cost = value * value / solved.inverse[k][k] / scale;
            let rank = if value < 0.0 { -1.0 / (1.0 + cost) } else { cost };
            if (value < 0.0 || cost < price) && weakest.is_none_or(|(_, least)| rank < least) {
                weakest = Some((k, rank));
            }
        }
        let Some((k, _)) = weakest else { break };
        if solved.columns.len() == 1 {
            break;
        }
        columns = solved.columns.clone();
        columns.remove(k);
        solved = moments.solve(&columns, &steps)?;
    }
    // With fewer parts a step may look different: look again once.
    let (again, found) = search(moments, &columns)?;
    if again.values[..again.columns.len()].iter().all(|v| *v >= 0.0) {
        solved = again;
        changes = found;
    }
    Some((solved, changes))
}
