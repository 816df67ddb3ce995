//! Dense linear algebra: orthogonal factorisations and least squares.
//!
//! Matrices here are small (tens of columns). The way of a solve: columns scaled to unit length,
//! Householder triangle with column pivoting, one-sided Jacobi rotations on the triangle. Normal
//! equations are never formed, so the digits that the data hold are kept. Only `+ - * / sqrt`, so
//! the result is the same on every platform.

/// A dense matrix, column by column.
#[derive(Clone, Debug, PartialEq)]
pub struct Matrix {
    rows: usize,
    cols: usize,
    data: Vec<f64>,
}

impl Matrix {
    /// All zero.
    #[must_use]
    pub fn zeros(rows: usize, cols: usize) -> Self {
        Self { rows, cols, data: vec![0.0; rows * cols] }
    }

    /// From rows of equal length; a shorter row is filled with zeros, a longer one cut.
    #[must_use]
    pub fn from_rows<R: AsRef<[f64]>>(rows: &[R]) -> Self {
        let cols = rows.first().map_or(0, |row| row.as_ref().len());
        let mut matrix = Self::zeros(rows.len(), cols);
        for (i, row) in rows.iter().enumerate() {
            for (j, value) in row.as_ref().iter().take(cols).enumerate() {
                matrix.set(i, j, *value);
            }
        }
        matrix
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// Number of columns.
    #[must_use]
    pub fn cols(&self) -> usize {
        self.cols
    }

    /// One element.
    ///
    /// **Panics** outside the matrix.
    #[must_use]
    pub fn get(&self, row: usize, col: usize) -> f64 {
        self.data[col * self.rows + row]
    }

    /// Sets one element.
    ///
    /// **Panics** outside the matrix.
    pub fn set(&mut self, row: usize, col: usize, value: f64) {
        self.data[col * self.rows + row] = value;
    }

    /// One column.
    ///
    /// **Panics** outside the matrix.
    #[must_use]
    pub fn column(&self, col: usize) -> &[f64] {
        &self.data[col * self.rows..(col + 1) * self.rows]
    }

    fn column_mut(&mut self, col: usize) -> &mut [f64] {
        &mut self.data[col * self.rows..(col + 1) * self.rows]
    }

    fn two_columns(&mut self, p: usize, q: usize) -> (&mut [f64], &mut [f64]) {
        let (left, right) = self.data.split_at_mut(q * self.rows);
        (&mut left[p * self.rows..(p + 1) * self.rows], &mut right[..self.rows])
    }

    /// Product with a vector.
    #[must_use]
    pub fn times(&self, x: &[f64]) -> Vec<f64> {
        let mut y = vec![0.0; self.rows];
        for (col, factor) in x.iter().take(self.cols).enumerate() {
            for (sum, a) in y.iter_mut().zip(self.column(col)) {
                *sum += a * factor;
            }
        }
        y
    }

    /// The quadratic form `c^T M c` of a square matrix.
    #[must_use]
    pub fn quadratic(&self, c: &[f64]) -> f64 {
        dot(&self.times(c), c)
    }
}

/// Inner product over the common length.
#[must_use]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Euclidean length, safe against overflow of the squares.
#[must_use]
pub fn norm(a: &[f64]) -> f64 {
    let largest = a.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
    if largest == 0.0 || !largest.is_finite() {
        return largest;
    }
    largest * a.iter().map(|x| (x / largest) * (x / largest)).sum::<f64>().sqrt()
}

/// Householder triangle of a matrix with at least as many rows as columns.
///
/// **Formula** `A P = Q R`, columns ordered so that the diagonal of R falls in size.
/// **Source** Golub and Van Loan, Matrix Computations, section 5.4 (from memory).
#[derive(Clone, Debug)]
pub struct PivotedQr {
    /// R, square, upper triangle.
    pub r: Matrix,
    /// Column j of R belongs to column `order[j]` of A.
    pub order: Vec<usize>,
    /// The first columns' worth of `Q^T y`.
    pub qty: Vec<f64>,
    /// What remains: the sum of squares of `Q^T y` below the triangle.
    pub remainder: f64,
}

/// Factors `a` and applies the same reflections to `y`.
///
/// **Shape** `y` has one value per row; a matrix with fewer rows than columns is filled up with
/// zero rows.
#[must_use]
pub fn pivoted_qr(a: &Matrix, y: &[f64]) -> PivotedQr {
    let n = a.cols;
    let m = a.rows.max(n);
    let mut work = Matrix::zeros(m, n);
    for j in 0..n {
        work.column_mut(j)[..a.rows].copy_from_slice(a.column(j));
    }
    let mut y: Vec<f64> = y.iter().copied().take(a.rows).collect();
    y.resize(m, 0.0);
    let mut order: Vec<usize> = (0..n).collect();
    for k in 0..n {
        let mut best = (k, -1.0);
        for j in k..n {
            let length = norm(&work.column(j)[k..]);
            if length > best.1 {
                best = (j, length);
            }
        }
        if best.0 != k {
            let (p, q) = work.two_columns(k, best.0);
            p.swap_with_slice(q);
            order.swap(k, best.0);
        }
        if best.1 <= 0.0 {
            continue;
        }
        let head = work.get(k, k);
        let alpha = if head > 0.0 { -best.1 } else { best.1 };
        let mut v: Vec<f64> = work.column(k)[k..].to_vec();
        v[0] -= alpha;
        let vv = dot(&v, &v);
        if vv == 0.0 {
            continue;
        }
        let reflect = |column: &mut [f64]| {
            let factor = 2.0 * dot(&v, &column[k..]) / vv;
            for (x, w) in column[k..].iter_mut().zip(&v) {
                *x -= factor * w;
            }
        };
        for j in k + 1..n {
            reflect(work.column_mut(j));
        }
        reflect(&mut y);
        let column = work.column_mut(k);
        column[k] = alpha;
        column[k + 1..].fill(0.0);
    }
    let mut r = Matrix::zeros(n, n);
    for j in 0..n {
        r.column_mut(j)[..=j].copy_from_slice(&work.column(j)[..=j]);
    }
    let remainder = dot(&y[n..], &y[n..]);
    y.truncate(n);
    PivotedQr { r, order, qty: y, remainder }
}

/// Singular value decomposition `A = (U S) V^T` by one-sided Jacobi rotations.
#[derive(Clone, Debug)]
pub struct Svd {
    /// U S: column j has length `values[j]`.
    pub left: Matrix,
    /// Singular values, falling.
    pub values: Vec<f64>,
    /// V, orthogonal, square.
    pub right: Matrix,
}

/// Decomposes a square or tall matrix.
///
/// **Source** Hestenes' one-sided rotations as in Golub and Van Loan, section 8.6 (from memory).
#[must_use]
pub fn svd(a: &Matrix) -> Svd {
    let n = a.cols;
    let mut left = a.clone();
    let mut right = Matrix::zeros(n, n);
    for j in 0..n {
        right.set(j, j, 1.0);
    }
    // Enough sweeps for any matrix seen; a sweep without a rotation ends the loop.
    for _ in 0..60 {
        let mut rotated = false;
        for p in 0..n {
            for q in p + 1..n {
                let (x, y) = left.two_columns(p, q);
                let (alpha, beta, gamma) = (dot(x, x), dot(y, y), dot(x, y));
                if gamma == 0.0 || gamma.abs() <= 1e-16 * (alpha * beta).sqrt() {
                    continue;
                }
                rotated = true;
                let zeta = (beta - alpha) / (2.0 * gamma);
                let t = if zeta.abs() > 1e150 {
                    0.5 / zeta
                } else {
                    let size = 1.0 / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
                    if zeta < 0.0 { -size } else { size }
                };
                let c = 1.0 / (1.0 + t * t).sqrt();
                let s = c * t;
                rotate(x, y, c, s);
                let (x, y) = right.two_columns(p, q);
                rotate(x, y, c, s);
            }
        }
        if !rotated {
            break;
        }
    }
    let lengths: Vec<f64> = (0..n).map(|j| norm(left.column(j))).collect();
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by(|&i, &j| lengths[j].total_cmp(&lengths[i]).then(i.cmp(&j)));
    let mut out =
        Svd { left: Matrix::zeros(a.rows, n), values: Vec::with_capacity(n), right: Matrix::zeros(n, n) };
    for (to, &from) in order.iter().enumerate() {
        out.left.column_mut(to).copy_from_slice(left.column(from));
        out.right.column_mut(to).copy_from_slice(right.column(from));
        out.values.push(lengths[from]);
    }
    out
}

fn rotate(x: &mut [f64], y: &mut [f64], c: f64, s: f64) {
    for (a, b) in x.iter_mut().zip(y) {
        let (p, q) = (*a, *b);
        *a = c * p - s * q;
        *b = s * p + c * q;
    }
}

/// A solved least-squares problem.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The parameters; the shortest vector (in scaled columns) where the rank is not full.
    pub x: Vec<f64>,
    /// Inverse of the normal matrix on the determined part: the covariance of `x` where every row
    /// was weighted by its standard deviation; else multiply by the residual variance.
    pub covariance: Matrix,
    /// Sum of squares of the weighted residuals.
    pub residual_sum: f64,
    /// Number of singular values above the tolerance.
    pub rank: usize,
    /// Singular values of the matrix with unit columns, falling.
    pub singular_values: Vec<f64>,
    /// Directions in `x` that the rows cannot see, in the units of `x`, largest element 1.
    pub null_vectors: Vec<Vec<f64>>,
    /// Largest by smallest singular value, all of them; infinite where one is zero.
    pub condition: f64,
}

impl Solution {
    /// Whether the sum `c . x` is determined: no unseen direction changes it.
    #[must_use]
    pub fn determines(&self, c: &[f64]) -> bool {
        let size = norm(c);
        self.null_vectors.iter().all(|v| dot(c, v).abs() <= 1e-6 * size * norm(v))
    }
}

/// Minimises `|W (A x - y)|`.
///
/// **Shape** `y` one value per row; `weights` one factor per row (1/σ), all 1 where absent.
/// `rank_tolerance`: singular values below this share of the largest count as zero.
/// **Source** minimum-norm least squares by singular values, Golub and Van Loan, section 5.5
/// (from memory).
#[must_use]
pub fn least_squares(a: &Matrix, y: &[f64], weights: Option<&[f64]>, rank_tolerance: f64) -> Solution {
    let n = a.cols;
    let mut scaled = a.clone();
    let mut rhs: Vec<f64> = y.iter().copied().take(a.rows).collect();
    rhs.resize(a.rows, 0.0);
    if let Some(weights) = weights {
        for (value, w) in rhs.iter_mut().zip(weights) {
            *value *= w;
        }
        for j in 0..n {
            for (value, w) in scaled.column_mut(j).iter_mut().zip(weights) {
                *value *= w;
            }
        }
    }
    let mut scale = Vec::with_capacity(n);
    for j in 0..n {
        let length = norm(scaled.column(j));
        let length = if length > 0.0 { length } else { 1.0 };
        for value in scaled.column_mut(j) {
            *value /= length;
        }
        scale.push(length);
    }
    let qr = pivoted_qr(&scaled, &rhs);
    let parts = svd(&qr.r);
    let largest = parts.values.first().copied().unwrap_or(0.0);
    let smallest = parts.values.last().copied().unwrap_or(0.0);
    let rank = parts.values.iter().filter(|s| **s > rank_tolerance * largest).count();
    let mut pivoted = vec![0.0; n];
    let mut residual_sum = qr.remainder;
    let unseen = &parts.values[rank..];
    for (j, s) in parts.values.iter().enumerate().take(rank) {
        let along = dot(parts.left.column(j), &qr.qty) / s;
        for (x, v) in pivoted.iter_mut().zip(parts.right.column(j)) {
            *x += along / s * v;
        }
    }
    if !unseen.is_empty() {
        // What the determined part leaves of Q^T y inside the triangle.
        let fitted = qr.r.times(&pivoted);
        residual_sum += qr.qty.iter().zip(&fitted).map(|(y, f)| (y - f) * (y - f)).sum::<f64>();
    }
    let mut x = vec![0.0; n];
    for (j, &column) in qr.order.iter().enumerate() {
        x[column] = pivoted[j] / scale[column];
    }
    let mut covariance = Matrix::zeros(n, n);
    for i in 0..n {
        for k in 0..=i {
            let mut sum = 0.0;
            for (j, s) in parts.values.iter().enumerate().take(rank) {
                sum += parts.right.get(i, j) / s * (parts.right.get(k, j) / s);
            }
            let (p, q) = (qr.order[i], qr.order[k]);
            let value = sum / scale[p] / scale[q];
            covariance.set(p, q, value);
            covariance.set(q, p, value);
        }
    }
    let null_vectors = (rank..n)
        .map(|j| {
            let mut v = vec![0.0; n];
            for (i, &column) in qr.order.iter().enumerate() {
                v[column] = parts.right.get(i, j) / scale[column];
            }
            let largest = v.iter().fold(0.0_f64, |m, x| if x.abs() > m.abs() { *x } else { m });
            if largest != 0.0 {
                for value in &mut v {
                    *value /= largest;
                }
            }
            v
        })
        .collect();
    Solution {
        x,
        covariance,
        residual_sum,
        rank,
        singular_values: parts.values,
        null_vectors,
        condition: if smallest > 0.0 { largest / smallest } else { f64::INFINITY },
    }
}

/// Brings a set of null vectors to their simplest form: each leads where the others are zero.
///
/// Gauss-Jordan elimination with full pivoting; largest element of each result 1, tiny elements
/// set to zero.
#[must_use]
pub fn simplest_basis(vectors: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let mut basis: Vec<Vec<f64>> = vectors.to_vec();
    let cols = basis.first().map_or(0, Vec::len);
    let mut used = vec![false; cols];
    for k in 0..basis.len() {
        let mut best = (0.0_f64, k, 0);
        for (i, row) in basis.iter().enumerate().skip(k) {
            for (j, value) in row.iter().enumerate() {
                // Nearly equal pivots go to the first place, so that rounding cannot choose.
                if !used[j] && value.abs() > best.0 * (1.0 + 1e-6) {
                    best = (value.abs(), i, j);
                }
            }
        }
        if best.0 == 0.0 {
            continue;
        }
        basis.swap(k, best.1);
        used[best.2] = true;
        let pivot = basis[k][best.2];
        for value in &mut basis[k] {
            *value /= pivot;
        }
        let lead = basis[k].clone();
        for (i, row) in basis.iter_mut().enumerate() {
            if i != k {
                let factor = row[best.2];
                for (value, a) in row.iter_mut().zip(&lead) {
                    *value -= factor * a;
                }
            }
        }
    }
    for row in &mut basis {
        let size = row.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        for value in row.iter_mut() {
            *value = if size > 0.0 && value.abs() > 1e-7 * size { *value / size } else { 0.0 };
        }
    }
    basis
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn finds_the_unseen_direction_of_four_sums() {
        // Known by hand: pa+bq, nb+ag, pa+ag, bq+nb hold (-1, 1, -1, 1) back.
        let a = Matrix::from_rows(&[
            [1.0, 1.0, 0.0, 0.0],
            [0.0, 0.0, 1.0, 1.0],
            [1.0, 0.0, 0.0, 1.0],
            [0.0, 1.0, 1.0, 0.0],
        ]);
        let solution = least_squares(&a, &[3.0, 7.0, 5.0, 5.0], None, 1e-9);
        assert_eq!(solution.rank, 3);
        let v = &simplest_basis(&solution.null_vectors)[0];
        for (x, expected) in v.iter().zip([1.0, -1.0, 1.0, -1.0]) {
            assert!((x - expected * v[0]).abs() < 1e-12, "{v:?}");
        }
        assert!(solution.determines(&[1.0, 0.0, 0.0, 1.0]));
        assert!(!solution.determines(&[1.0, 0.0, 0.0, 0.0]));
        assert!((solution.x[0] + solution.x[1] - 3.0).abs() < 1e-12);
    }

    #[test]
    fn solves_a_wide_problem_by_the_shortest_vector() {
        let a = Matrix::from_rows(&[[1.0, 1.0]]);
        let solution = least_squares(&a, &[2.0], None, 1e-12);
        assert_eq!(solution.rank, 1);
        assert!((solution.x[0] - 1.0).abs() < 1e-14 && (solution.x[1] - 1.0).abs() < 1e-14);
    }

    #[test]
    fn an_empty_problem_is_no_panic() {
        let solution = least_squares(&Matrix::zeros(0, 0), &[], None, 1e-6);
        assert_eq!(solution.rank, 0);
        let solution = least_squares(&Matrix::zeros(3, 2), &[0.0; 3], None, 1e-6);
        assert_eq!(solution.rank, 0);
        assert_eq!(solution.null_vectors.len(), 2);
    }
}
