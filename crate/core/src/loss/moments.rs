//! Weighted moments of the loss against its possible causes, gathered once; every sub-model is then
//! solved from them without touching the rows again.

use crate::map::{BLOCK, Operating};
use crate::math::small::{Square, WIDEST, ZERO, inverse};

/// Columns a loss can be made of, in order: 1, V_A, I_o, V_A I_o, I_o^2, I_i^2.
pub(crate) const CAUSES: usize = 6;
/// Bins over ln I_o for the search of steps.
const BINS: usize = 4096;

/// Moments over all rows and, per bin of the output current, the first moments.
#[derive(Debug)]
pub(crate) struct Moments {
    /// Rows.
    pub(crate) n: usize,
    /// `sum w x_j x_k`; the last row and column hold the loss itself.
    pub(crate) full: [[f64; CAUSES + 1]; CAUSES + 1],
    /// Bins ascending in I_o: `sum w x_j`, then `sum w loss`.
    pub(crate) bins: Vec<[f64; CAUSES + 1]>,
    /// Suffix sums of `bins`: from this bin to the end.
    pub(crate) suffix: Vec<[f64; CAUSES + 1]>,
    /// Widening of every variance because neighbouring rows hang together; 1 until it is known.
    pub(crate) widening: f64,
    /// Standard deviation of the noise of the output current, A.
    pub(crate) blur: f64,
    low: f64,
    step: f64,
}

/// The causes at one place.
pub(crate) fn causes(v_in: f64, i_out: f64, i_in: f64) -> [f64; CAUSES] {
    [1.0, v_in, i_out, v_in * i_out, i_out * i_out, i_in * i_in]
}

/// A solved sub-model: coefficients in the order of `columns`, then of `steps`.
#[derive(Clone, Debug)]
pub(crate) struct Solved {
    pub(crate) columns: Vec<usize>,
    /// Steps as bin numbers: the step counts from this bin on.
    pub(crate) steps: Vec<usize>,
    pub(crate) values: [f64; WIDEST],
    /// Inverse of the normal matrix (covariance where the weights are right).
    pub(crate) inverse: Square,
    pub(crate) chi2: f64,
}

impl Solved {
    pub(crate) fn size(&self) -> usize {
        self.columns.len() + self.steps.len()
    }

    /// chi-squared per degree of freedom.
    pub(crate) fn reduced(&self, rows: usize) -> f64 {
        self.chi2 / (rows.saturating_sub(self.size())).max(1) as f64
    }
}

impl Moments {
    /// One pass over the rows. Weights are the inverse variances of the loss from the readings'
    /// noise; equal weights where no noise is known.
    pub(crate) fn of(op: &Operating) -> Self {
        let low = op.i_out.iter().copied().fold(f64::INFINITY, f64::min);
        let high = op.i_out.iter().copied().fold(0.0, f64::max);
        let (low, step) = if op.is_empty() {
            (0.0, 1.0)
        } else {
            (libm::log(low), (libm::log(high / low) / BINS as f64).max(1e-12))
        };
        let mut out = Self {
            n: op.len(),
            full: [[0.0; CAUSES + 1]; CAUSES + 1],
            bins: vec![[0.0; CAUSES + 1]; BINS],
            suffix: Vec::new(),
            widening: 1.0,
            blur: op.axis_noise().1,
            low,
            step,
        };
        let mut block = [[0.0; CAUSES + 1]; CAUSES + 1];
        let mut current = 0;
        for k in 0..op.len() {
            let which = op.row[k] as usize / BLOCK;
            if which != current {
                out.flush(&mut block);
                current = which;
            }
            let x = causes(op.v_in[k], op.i_out[k], op.i_in[k]);
            let mut row = [0.0; CAUSES + 1];
            row[..CAUSES].copy_from_slice(&x);
            row[CAUSES] = op.loss(k);
            let variance = op.loss_variance(k);
            let weight = if variance > 0.0 { 1.0 / variance } else { 1.0 };
            let bin = out.bin(op.i_out[k]);
            for i in 0..=CAUSES {
                let wx = weight * row[i];
                out.bins[bin][i] += wx;
                for j in 0..=i {
                    block[i][j] += wx * row[j];
                }
            }
        }
        out.flush(&mut block);
        for i in 0..=CAUSES {
            for j in 0..i {
                out.full[j][i] = out.full[i][j];
            }
        }
        out.suffix = out.bins.clone();
        for bin in (0..BINS - 1).rev() {
            for j in 0..=CAUSES {
                out.suffix[bin][j] += out.suffix[bin + 1][j];
            }
        }
        out
    }

    fn flush(&mut self, block: &mut [[f64; CAUSES + 1]; CAUSES + 1]) {
        for (total, part) in self.full.iter_mut().zip(block) {
            for (total, part) in total.iter_mut().zip(part) {
                *total += *part;
                *part = 0.0;
            }
        }
    }

    /// Bin of an output current.
    pub(crate) fn bin(&self, i_out: f64) -> usize {
        let place = (libm::log(i_out) - self.low) / self.step;
        if place > 0.0 { (place as usize).min(BINS - 1) } else { 0 }
    }

    /// Lower edge of a bin, A.
    pub(crate) fn edge(&self, bin: usize) -> f64 {
        libm::exp(self.low + self.step * bin as f64)
    }

    /// Least squares for the chosen columns and steps.
    ///
    /// **Missing data** `None` where the columns cannot be told apart.
    pub(crate) fn solve(&self, columns: &[usize], steps: &[usize]) -> Option<Solved> {
        let (n, total) = (columns.len(), columns.len() + steps.len());
        let mut a = ZERO;
        let mut right = [0.0; WIDEST];
        for (i, &p) in columns.iter().enumerate() {
            right[i] = self.full[p][CAUSES];
            for (j, &q) in columns.iter().enumerate() {
                a[i][j] = self.full[p][q];
            }
            for (k, &step) in steps.iter().enumerate() {
                a[i][n + k] = self.suffix[step][p];
                a[n + k][i] = a[i][n + k];
            }
        }
        for (k, &step) in steps.iter().enumerate() {
            right[n + k] = self.suffix[step][CAUSES];
            for (m, &other) in steps.iter().enumerate() {
                a[n + k][n + m] = self.suffix[step.max(other)][0];
            }
        }
        let inverse = inverse(&a, total)?;
        let values = crate::math::small::apply(&inverse, &right, total);
        let explained: f64 = (0..total).map(|k| values[k] * right[k]).sum();
        let chi2 = (self.full[CAUSES][CAUSES] - explained).max(0.0);
        Some(Solved { columns: columns.to_vec(), steps: steps.to_vec(), values, inverse, chi2 })
    }

    /// Sum over a bin of `w (loss - model)`, steps taken as given.
    pub(crate) fn residual(&self, sums: &[f64; CAUSES + 1], solved: &Solved) -> f64 {
        let mut out = sums[CAUSES];
        for (k, &column) in solved.columns.iter().enumerate() {
            out -= solved.values[k] * sums[column];
        }
        out
    }
}
