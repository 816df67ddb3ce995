//! What became of the rows, by reason, as results show it.

use serde::Serialize;

use super::flow::{StageRows, flow};
use super::{Counts, Mask, REASONS, Reason, Settings, curve};
use crate::align::ByChannel;

/// Inclusive runs of rows, ascending.
pub type Runs = Vec<[usize; 2]>;

/// Runs of the rows for which `wanted` holds.
#[must_use]
pub fn runs(masks: &[Mask], wanted: impl Fn(Mask) -> bool) -> Runs {
    let mut runs: Runs = Vec::new();
    for (row, _) in masks.iter().enumerate().filter(|entry| wanted(*entry.1)) {
        match runs.last_mut() {
            Some(run) if run[1] + 1 == row => run[1] = row,
            _ => runs.push([row, row]),
        }
    }
    runs
}

/// What a reason does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// The row leaves the statistics.
    Remove,
    /// The row is only labelled.
    Label,
}

/// Rows of one reason.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ByReason {
    /// Code of the reason.
    pub code: &'static str,
    /// What it does.
    pub action: Action,
    /// Rows for which it is the first reason.
    pub first_reason: usize,
    /// Rows that carry it at all.
    pub any_reason: usize,
    /// Those rows.
    pub rows: Runs,
}

/// The `rows` object of the results.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fates {
    /// Data rows.
    pub read: usize,
    /// Rows in the statistics.
    pub kept: usize,
    /// Rows out of them.
    pub removed: Runs,
    /// Their number.
    pub removed_count: usize,
    /// Their share of all data rows; 0 without rows.
    pub removed_share: f64,
    /// By reason, in the order of the gates; reasons without rows are left out.
    pub by_reason: Vec<ByReason>,
    /// Rows that are operating points: kept, output on, supply not in limit.
    pub operating: usize,
    /// Rows left behind each stage of the chain, and what fell out there.
    pub stages: Vec<StageRows>,
}

impl Fates {
    /// Sums up masks.
    #[must_use]
    pub fn of(masks: &[Mask]) -> Self {
        let mut fates = Self::counted(masks);
        fates.removed = runs(masks, |mask| !Reason::kept(mask));
        for entry in &mut fates.by_reason {
            if let Some(reason) = REASONS.into_iter().find(|reason| reason.code() == entry.code) {
                entry.rows = runs(masks, |mask| mask & reason.bit() != 0);
            }
        }
        fates
    }

    /// The same without the lists of rows.
    #[must_use]
    pub fn counted(masks: &[Mask]) -> Self {
        // There are few different masks: rows are counted by mask, then by reason.
        let mut number = vec![0_usize; usize::from(Mask::MAX) + 1];
        for &mask in masks {
            number[usize::from(mask)] += 1;
        }
        let seen: Vec<(Mask, usize)> =
            (0..=Mask::MAX).zip(number).filter(|&(_, number)| number > 0).collect();
        let count = |wanted: &dyn Fn(Mask) -> bool| -> usize {
            seen.iter().filter(|entry| wanted(entry.0)).map(|entry| entry.1).sum()
        };
        let removed_count = count(&|mask| !Reason::kept(mask));
        let by_reason = REASONS
            .into_iter()
            .map(|reason| ByReason {
                code: reason.code(),
                action: if reason.labels() { Action::Label } else { Action::Remove },
                first_reason: count(&|mask| Reason::first(mask) == Some(reason)),
                any_reason: count(&|mask| mask & reason.bit() != 0),
                rows: Runs::new(),
            })
            .filter(|entry| entry.any_reason > 0)
            .collect();
        Self {
            read: masks.len(),
            kept: masks.len() - removed_count,
            removed: Runs::new(),
            removed_count,
            removed_share: removed_count as f64 / masks.len().max(1) as f64,
            by_reason,
            operating: count(&Reason::operating),
            stages: flow(masks.len(), &seen),
        }
    }
}

/// The `sieve` object of the results.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Names of the columns counted over.
    pub channels: Vec<String>,
    /// Cell width per column, in the column's unit.
    pub cell_width: ByName<f64>,
    /// Setting of least rows in use.
    pub least_rows: u32,
    /// The one control over both, where it is set.
    pub strictness: Option<f64>,
    /// Cells along the range (0.5 % to 99.5 % of rows) of each column.
    pub cells_in_use: ByName<Option<f64>>,
    /// Occupied cells.
    pub occupied: usize,
    /// Share of rows out at each setting of least rows.
    pub share_out: Vec<(u32, f64)>,
    /// Settings between which the share hardly changes; `None` warns that the sieve takes real data.
    pub plateau: Option<(u32, u32)>,
}

/// Values by column name, in column order.
pub type ByName<T> = ByChannel<String, T>;

impl Summary {
    /// What is reported of the sieve; `names` are the columns in order.
    #[must_use]
    pub fn of(counts: &Counts, names: &[String], settings: &Settings) -> Self {
        let share_out = curve::share_out(counts);
        let cells = counts.ranges.iter().zip(&counts.widths).map(|(range, width)| {
            let cells = range / width;
            (cells.is_finite() && cells > 0.0).then_some(cells)
        });
        let cells: Vec<Option<f64>> = cells.collect();
        let plateau = curve::plateau(&share_out);
        Self {
            channels: names.to_vec(),
            cell_width: ByChannel(names.iter().cloned().zip(counts.widths.iter().copied()).collect()),
            least_rows: settings.least_rows_in_use(),
            strictness: settings.strictness,
            cells_in_use: ByChannel(names.iter().cloned().zip(cells).collect()),
            occupied: counts.occupied(),
            share_out,
            plateau,
        }
    }
}
