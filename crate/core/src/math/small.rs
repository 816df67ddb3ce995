//! Small symmetric systems on the stack, for the few-column fits of the answers.

use super::stats::{self, QuantileRule};

/// Largest number of columns of a small fit.
pub(crate) const WIDEST: usize = 12;

/// A symmetric matrix of up to [`WIDEST`] columns; only the leading `n` by `n` part counts.
pub(crate) type Square = [[f64; WIDEST]; WIDEST];

/// Empty matrix.
pub(crate) const ZERO: Square = [[0.0; WIDEST]; WIDEST];

/// Inverse of the leading `n` by `n` part of a symmetric positive definite matrix by Cholesky's
/// factorisation, after scaling to a unit diagonal.
///
/// **Missing data** `None` where a pivot is not above 1e-13 of the diagonal: the columns cannot be
/// told apart.
pub(crate) fn inverse(a: &Square, n: usize) -> Option<Square> {
    let mut scale = [0.0; WIDEST];
    for k in 0..n {
        if !(a[k][k] > 0.0 && a[k][k].is_finite()) {
            return None;
        }
        scale[k] = 1.0 / a[k][k].sqrt();
    }
    let mut l = ZERO;
    for i in 0..n {
        for j in 0..=i {
            let mut sum = a[i][j] * scale[i] * scale[j];
            for k in 0..j {
                sum -= l[i][k] * l[j][k];
            }
            if i == j {
                if sum < 1e-13 {
                    return None;
                }
                l[i][i] = sum.sqrt();
            } else {
                l[i][j] = sum / l[j][j];
            }
        }
    }
    // Inverse of the factor, then its square.
    let mut m = ZERO;
    for j in 0..n {
        m[j][j] = 1.0 / l[j][j];
        for i in j + 1..n {
            let mut sum = 0.0;
            for k in j..i {
                sum -= l[i][k] * m[k][j];
            }
            m[i][j] = sum / l[i][i];
        }
    }
    let mut out = ZERO;
    for i in 0..n {
        for j in 0..=i {
            let mut sum = 0.0;
            for k in i..n {
                sum += m[k][i] * m[k][j];
            }
            out[i][j] = sum * scale[i] * scale[j];
            out[j][i] = out[i][j];
        }
    }
    Some(out)
}

/// Product of a matrix and a vector, leading `n` entries.
pub(crate) fn apply(a: &Square, x: &[f64; WIDEST], n: usize) -> [f64; WIDEST] {
    let mut out = [0.0; WIDEST];
    for i in 0..n {
        for j in 0..n {
            out[i] += a[i][j] * x[j];
        }
    }
    out
}

/// Quadratic form `x^T A x` over the leading `n` entries.
pub(crate) fn form(a: &Square, x: &[f64; WIDEST], n: usize) -> f64 {
    let y = apply(a, x, n);
    (0..n).map(|k| x[k] * y[k]).sum()
}

/// What a standard uncertainty with few degrees of freedom is widened by, so that twice the result
/// still is a 95 % interval.
///
/// **Formula** `1 + (z^2 + 1)/(4 f) + (5 z^4 + 16 z^2 + 3)/(96 f^2)` at z = 1.96, f the degrees of
/// freedom.
/// **Source** Abramowitz and Stegun 26.7.5; JCGM 100:2008 annex G.3.
pub(crate) fn small_sample(freedom: f64) -> f64 {
    let f = if freedom > 1.0 { freedom } else { 1.0 };
    1.0 + 1.2104 / f + 1.4326 / (f * f)
}

/// Two-sided probability that a normal variable lies beyond `z` standard deviations.
pub(crate) fn tail(z: f64) -> f64 {
    libm::erfc(z.abs() / core::f64::consts::SQRT_2)
}

/// [`stats::median`], `NaN` when empty. Reorders the slice.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    stats::median(values).unwrap_or(f64::NAN)
}

/// [`stats::quantile`] by its linear rule, `NaN` when empty. Reorders the slice.
pub(crate) fn quantile(values: &mut [f64], p: f64) -> f64 {
    stats::quantile(values, p, QuantileRule::Linear).unwrap_or(f64::NAN)
}

/// Scaled median absolute deviation (1.4826 times) about a centre; 0 when empty.
pub(crate) fn spread(values: &[f64], centre: f64) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let mut away: Vec<f64> = values.iter().map(|x| (x - centre).abs()).collect();
    1.4826 * median(&mut away)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn inverts_a_hilbert_matrix() {
        // The inverse of the 3 by 3 Hilbert matrix is the integer matrix below (D. E. Knuth, The Art
        // of Computer Programming 1, exercise 1.2.3-45).
        let mut a = ZERO;
        for i in 0..3 {
            for j in 0..3 {
                a[i][j] = 1.0 / (i + j + 1) as f64;
            }
        }
        let b = inverse(&a, 3).unwrap();
        let expected = [[9.0, -36.0, 30.0], [-36.0, 192.0, -180.0], [30.0, -180.0, 180.0]];
        for i in 0..3 {
            for j in 0..3 {
                assert!((b[i][j] - expected[i][j]).abs() < 1e-9, "{i} {j} {}", b[i][j]);
            }
        }
        a[2] = a[1];
        a[2][2] = a[1][1];
        a[2][1] = a[1][1];
        a[1][2] = a[1][1];
        a[0][2] = a[0][1];
        assert!(inverse(&a, 3).is_none());
    }

    #[test]
    fn widens_like_student() {
        // Student's t at 97.5 %: 2.228 for 10 degrees of freedom, 2.042 for 30; normal 1.960
        // (tables in JCGM 100:2008 annex G.2).
        assert!((small_sample(10.0) * 1.96 - 2.228).abs() < 0.005);
        assert!((small_sample(30.0) * 1.96 - 2.042).abs() < 0.001);
    }

    #[test]
    fn takes_quantiles() {
        let mut x = [5.0, 1.0, 4.0, 2.0];
        assert_eq!(median(&mut x), 3.0);
        assert_eq!(quantile(&mut x, 0.0), 1.0);
        assert_eq!(quantile(&mut x, 1.0), 5.0);
        assert!(median(&mut []).is_nan());
    }
}
