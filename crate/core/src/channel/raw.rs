//! From readings back to the columns of their log, bit for bit.
//!
//! Guesses look at whole columns, so a log that grew has to be understood as a whole. What was read
//! of it before is in the readings; here is what it takes to get it back, for a few bytes per row.

use super::readings::{Channel, Readings};

/// How the columns of a log come back.
#[derive(Clone, Debug, Default)]
pub struct Raw {
    pub(super) columns: Vec<RawColumn>,
}

/// How one column comes back.
#[derive(Clone, Debug)]
pub(super) enum RawColumn {
    /// It has no values.
    Empty,
    /// It was dropped, and nothing depends on its values.
    Dropped,
    /// As it was.
    Kept(Vec<f64>),
    /// From a channel.
    Channel(Channel, Undo),
    /// From a further column, by place.
    Extra(usize, Undo),
}

/// Undoes a scaling.
#[derive(Clone, Debug)]
pub(super) struct Undo {
    scale: f64,
    offset: f64,
    /// Rows in which undoing gives another number, and theirs.
    others: Vec<(u32, f64)>,
}

impl Undo {
    /// Works out how `after` becomes `before` again; `None` where keeping `before` costs less.
    pub(super) fn of(before: &[f64], after: &[f64], scale: f64, offset: f64) -> Option<Self> {
        let mut undo = Self { scale, offset, others: Vec::new() };
        let most = before.len() / 3 + 8;
        for (row, (before, after)) in before.iter().zip(after).enumerate() {
            let same = undo.one(*after).to_bits() == before.to_bits() || (before.is_nan() && after.is_nan());
            if !same {
                if undo.others.len() == most {
                    return None;
                }
                undo.others.push((u32::try_from(row).ok()?, *before));
            }
        }
        undo.others.shrink_to_fit();
        Some(undo)
    }

    fn one(&self, value: f64) -> f64 {
        if self.offset == 0.0 && self.scale.abs() == 1.0 {
            return value * self.scale;
        }
        let inverse = libm::round(1.0 / self.scale);
        let divided = self.scale.abs() < 1.0 && ((1.0 / self.scale) - inverse).abs() <= 1e-9 * inverse.abs();
        let value = if self.offset == 0.0 { value } else { value - self.offset };
        if divided { value * inverse } else { value / self.scale }
    }

    fn all(&self, values: &mut [f64]) {
        for value in values.iter_mut() {
            *value = self.one(*value);
        }
        for (row, other) in &self.others {
            if let Some(value) = values.get_mut(*row as usize) {
                *value = *other;
            }
        }
    }
}

impl Raw {
    /// Takes the columns and the lines of the log out of its readings.
    #[must_use]
    pub fn restore(self, readings: &mut Readings) -> (Vec<Vec<f64>>, Vec<u32>) {
        let rows = readings.rows();
        let back = |column: RawColumn| match column {
            RawColumn::Empty => Vec::new(),
            RawColumn::Dropped => vec![f64::NAN; rows],
            RawColumn::Kept(values) => values,
            RawColumn::Channel(channel, undo) => {
                let mut values = core::mem::take(&mut readings.columns[channel.index()]);
                undo.all(&mut values);
                values
            }
            RawColumn::Extra(place, undo) => {
                let mut values = readings
                    .extras
                    .get_mut(place)
                    .map(|extra| core::mem::take(&mut extra.values))
                    .unwrap_or_default();
                undo.all(&mut values);
                values
            }
        };
        let columns = self.columns.into_iter().map(back).collect();
        (columns, core::mem::take(&mut readings.lines))
    }

    /// Bytes that it holds beside the readings.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let of = |column: &RawColumn| match column {
            RawColumn::Kept(values) => 8 * values.len(),
            RawColumn::Channel(_, undo) | RawColumn::Extra(_, undo) => 16 * undo.others.len(),
            RawColumn::Empty | RawColumn::Dropped => 0,
        };
        self.columns.iter().map(of).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_scaling_comes_back_bit_for_bit() {
        for (scale, offset) in [
            (1.0, 0.0),
            (-1.0, 0.0),
            (1e-3, 0.0),
            (-1e-3, 0.0),
            (1e-6, 0.0),
            (0.000_208_333, -0.2),
            (5.0 / 9.0, -17.8),
        ] {
            let before: Vec<f64> = (0..5000)
                .map(|row| if row % 77 == 0 { f64::NAN } else { f64::from(row * 7 % 4001) * 0.1 - 7.0 })
                .collect();
            let mut readings = Readings { time: vec![0.0; before.len()], ..Readings::default() };
            readings.columns[0] = before.clone();
            super::super::convert::convert(&mut readings.columns[0], scale, offset);
            let column = match Undo::of(&before, &readings.columns[0], scale, offset) {
                Some(undo) => RawColumn::Channel(Channel::VIn, undo),
                None => RawColumn::Kept(before.clone()),
            };
            let raw = Raw { columns: vec![column] };
            if offset == 0.0 {
                assert!(raw.bytes() < 3 * before.len(), "{scale}: {} bytes", raw.bytes());
            }
            let (columns, _) = raw.restore(&mut readings);
            let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(&columns[0]), bits(&before), "{scale} {offset}");
        }
    }
}
