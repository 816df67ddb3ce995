//! What the readings of an input's columns span: asked for one input at a time, when it is looked at.

use serde::Serialize;

use super::Bench;
use crate::channel::{Channel, Role};

/// What one column's readings span.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ColumnRange {
    /// Column number, from 1.
    pub number: u32,
    /// Lowest and highest reading in SI units (degrees Celsius for temperature; seconds from the
    /// first row for time); `null` where the column holds no readings.
    pub range: Option<[f64; 2]>,
    /// Rows without a reading here.
    pub empty: usize,
}

/// The channel that a column with this role feeds.
const fn channel(role: Role) -> Option<Channel> {
    match role {
        Role::VIn => Some(Channel::VIn),
        Role::VOutHigh | Role::VOut => Some(Channel::VOutHigh),
        Role::VOutLow => Some(Channel::VOutLow),
        Role::IIn => Some(Channel::IIn),
        Role::IOut => Some(Channel::IOut),
        _ => None,
    }
}

impl ColumnRange {
    fn of(number: u32, values: &[f64]) -> Self {
        let (mut low, mut high, mut empty) = (f64::INFINITY, f64::NEG_INFINITY, 0);
        for &value in values {
            if value.is_finite() {
                low = low.min(value);
                high = high.max(value);
            } else {
                empty += 1;
            }
        }
        Self { number, range: (low <= high).then_some([low, high]), empty }
    }
}

impl Bench {
    /// What the readings of each column of an input span, in column order; `None` where there is no
    /// such input. A column that is left out, or an input that was not read, has no range.
    #[must_use]
    pub fn column_ranges(&self, input: usize) -> Option<Vec<ColumnRange>> {
        let input = self.inputs.get(input)?;
        let nothing = crate::channel::Readings::default();
        let readings = input.readings.as_ref().unwrap_or(&nothing);
        let mut extras = readings.extras.iter().peekable();
        let ranges = input.columns().iter().map(|column| {
            let guess = &column.guess;
            let values = match (guess.role, channel(guess.role)) {
                (Role::Ignore, _) => &[][..],
                (Role::Time, _) => &readings.time,
                (_, Some(channel)) => readings.column(channel),
                // Columns of text are no extras, whatever they are called.
                _ => extras
                    .next_if(|extra| extra.name == guess.header)
                    .map_or(&[][..], |extra| extra.values.as_slice()),
            };
            ColumnRange::of(guess.number, values)
        });
        Some(ranges.collect())
    }
}
