//! Values against time, squeezed into the columns of a narrow strip.

use crate::range::Range;

/// Lowest and highest value of each column; `NaN` in columns without a value.
#[derive(Clone, Debug, PartialEq)]
pub struct Envelope {
    /// Lowest value by column.
    pub min: Vec<f64>,
    /// Highest value by column.
    pub max: Vec<f64>,
}

impl Envelope {
    /// No value yet in any of so many columns.
    #[must_use]
    pub fn new(columns: usize) -> Self {
        Self { min: vec![f64::NAN; columns], max: vec![f64::NAN; columns] }
    }

    /// Takes in a value; one that is no number, or a column beyond the last, changes nothing.
    #[inline]
    pub fn add(&mut self, column: usize, value: f64) {
        if !value.is_finite() || column >= self.min.len() {
            return;
        }
        // The number wins over NaN in both.
        self.min[column] = self.min[column].min(value);
        self.max[column] = self.max[column].max(value);
    }

    /// Lowest and highest value of all.
    #[must_use]
    pub fn range(&self) -> Option<Range> {
        Range::of(self.min.iter().chain(&self.max).copied())
    }
}

/// The column of a time; `None` outside the range.
#[inline]
#[must_use]
pub fn column(time: Range, columns: usize, at: f64) -> Option<usize> {
    if !time.holds(at) || columns == 0 {
        return None;
    }
    let column = ((at - time.lo()) / time.span() * columns as f64) as usize;
    Some(column.min(columns - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_extremes_of_each_column() {
        let time = Range::around(0.0, 10.0);
        let mut envelope = Envelope::new(5);
        for k in 0..=1000 {
            let at = f64::from(k) / 100.0;
            if let Some(column) = column(time, 5, at) {
                envelope.add(column, if k == 250 { f64::NAN } else { (at - 5.0) * (at - 5.0) });
            }
        }
        assert_eq!(envelope.max[0], 25.0);
        assert_eq!(envelope.min[2], 0.0);
        assert_eq!(envelope.max[4], 25.0);
        assert_eq!(envelope.range(), Some(Range::around(0.0, 25.0)));
    }

    #[test]
    fn columns_without_a_value_say_so() {
        let envelope = Envelope::new(2);
        assert!(envelope.min[0].is_nan() && envelope.range().is_none());
        assert_eq!(column(Range::UNIT, 4, 1.0), Some(3));
        assert_eq!(column(Range::UNIT, 4, 1.1), None);
        assert_eq!(column(Range::UNIT, 4, f64::NAN), None);
    }
}
