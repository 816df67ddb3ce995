//! Rows inside a box that somebody drew.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Bench;
use crate::point::{Rows as _, each_reading};
use crate::sieve::{self, Mask, Reason, Table as _};

/// Lower and upper side, inclusive.
pub type Side = [f64; 2];

/// What a row must fulfil to be picked: every side that is given. All quantities at the converter's terminals
/// but those of `channels`.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Wish {
    /// Row numbers from 0.
    pub rows: Option<[usize; 2]>,
    /// Time, s.
    pub time: Option<Side>,
    /// Input voltage, V.
    pub v_in: Option<Side>,
    /// Input voltage, V: in any of these.
    pub bands: Vec<Side>,
    /// Output current, A.
    pub i_out: Option<Side>,
    /// Efficiency, a fraction.
    pub efficiency: Option<Side>,
    /// Loss, W.
    pub loss: Option<Side>,
    /// Readings at one instant, uncorrected, by the sieve's name of the column, in its unit.
    pub channels: BTreeMap<String, Side>,
    /// Only rows that figures show: not those that are kept and off.
    pub shown: bool,
    /// Only rows in the statistics (`true`) or out of them (`false`).
    pub kept: Option<bool>,
}

/// Rows that were picked.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Picked {
    /// Inclusive runs of rows, ascending.
    pub rows: Vec<[usize; 2]>,
    /// Their number.
    pub count: usize,
    /// Those in the statistics.
    pub kept: usize,
    /// Those out of them.
    pub out: usize,
    /// Those taken out by hand.
    pub removed_by_hand: usize,
    /// Those kept by hand.
    pub kept_by_hand: usize,
}

impl Picked {
    fn add(&mut self, row: usize, mask: Mask) {
        match self.rows.last_mut() {
            Some(last) if last[1] + 1 == row => last[1] = row,
            _ => self.rows.push([row, row]),
        }
        self.count += 1;
        if Reason::kept(mask) {
            self.kept += 1;
        } else {
            self.out += 1;
        }
        self.removed_by_hand += usize::from(mask & Reason::ByHand.bit() != 0);
        self.kept_by_hand += usize::from(mask & Reason::KeptByHand.bit() != 0);
    }
}

fn within(side: Option<Side>, value: f64) -> bool {
    side.is_none_or(|[low, high]| value >= low && value <= high)
}

impl Bench {
    /// The rows of a run that fulfil a wish; `None` where there is no such run or its rows are not judged yet.
    ///
    /// **Missing data** a row without a value fulfils no side of that quantity.
    #[must_use]
    pub fn pick(&self, run: usize, wish: &Wish) -> Option<Picked> {
        let rows = self.rows_of(run)?;
        let count = rows.rows();
        let range = wish.rows.map_or(0..count, |[first, last]| {
            first.min(count)..last.saturating_add(1).clamp(first.min(count), count)
        });
        let settings =
            sieve::Settings { channels: wish.channels.keys().cloned().collect(), ..Default::default() };
        let table = sieve::Picked::new(&rows.aligned, &settings);
        // A column that the log does not have is fulfilled by no row.
        if !wish.channels.is_empty() && !table.unknown().is_empty() {
            return Some(Picked::default());
        }
        let sides: Vec<Side> = if wish.channels.is_empty() {
            Vec::new()
        } else {
            table.names().iter().filter_map(|name| wish.channels.get(name).copied()).collect()
        };
        let mut columns: Vec<Vec<f64>> = Vec::with_capacity(sides.len());
        for column in 0..sides.len() {
            let mut values = vec![0.0; range.len()];
            table.fill(column, range.clone(), &mut values);
            columns.push(values);
        }
        let terminals = wish.v_in.is_some()
            || wish.i_out.is_some()
            || wish.efficiency.is_some()
            || wish.loss.is_some()
            || !wish.bands.is_empty();
        let first = range.start;
        let mut picked = Picked::default();
        let plain = |row: usize| {
            let mask = rows.mask(row);
            (!wish.shown || Reason::operating(mask) || mask & Reason::Off.bit() == 0 || !Reason::kept(mask))
                && wish.kept.is_none_or(|kept| kept == Reason::kept(mask))
                && (wish.time.is_none() || within(wish.time, rows.time(row)))
                && columns.iter().zip(&sides).all(|(values, &side)| within(Some(side), values[row - first]))
        };
        if !terminals {
            for row in range.filter(|&row| plain(row)) {
                picked.add(row, rows.mask(row));
            }
            return Some(picked);
        }
        each_reading(&rows, range, |row, reading| {
            if !plain(row) {
                return;
            }
            let state = rows.correction.apply(reading);
            let inside = within(wish.v_in, state.v_in)
                && (wish.bands.is_empty() || wish.bands.iter().any(|&side| within(Some(side), state.v_in)))
                && within(wish.i_out, state.i_out)
                && within(wish.efficiency, state.efficiency())
                && within(wish.loss, state.v_in * state.i_in - state.v_out * state.i_out);
            if inside {
                picked.add(row, rows.mask(row));
            }
        });
        Some(picked)
    }
}
