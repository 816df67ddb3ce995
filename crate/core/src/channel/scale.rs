//! Scaling that keeps whole factors exact.

/// A value times a scale. A scale of one over a whole number divides, which is exact where the
/// factor itself would not be: 13 083.9 mV and 13.0839 V become the same number.
#[inline]
pub(super) fn scaled(value: f64, scale: f64) -> f64 {
    if scale.abs() < 1.0 {
        let inverse = 1.0 / scale;
        let whole = libm::round(inverse);
        if (inverse - whole).abs() <= 1e-9 * whole.abs() {
            return value / whole;
        }
    }
    value * scale
}
