//! What was taken out and what it changes: by time, by place on the map, and the rows at the border.

use std::collections::BTreeMap;

use serde::Serialize;

use super::Bench;
use super::run::{Run, RunRows};
use crate::align::{ByChannel, Noise};
use crate::channel::{CHANNELS, Channel};
use crate::finding::Finding;
use crate::map::Grid;
use crate::point::{Rows, each_reading};
use crate::quantity::Quantity;
use crate::sieve::{Counts, Mask, REASONS, Reason};
use crate::wording::{COVERAGE, place};

/// When a row falls, the row, and the channel that stands out with how far.
type Judged = (u32, usize, Option<(Channel, f64)>);

/// Stretches of time.
const PARTS: usize = 50;
/// Rows on each side of a shown row.
const AROUND: usize = 5;
/// Rows of each list.
const SHOWN: usize = 10;
/// Rows of a cell that its answers need, before and after.
const FEWEST: usize = 5;
/// Smallest change of an efficiency by cleaning that is told, half a tenth of a point; judgement.
const LEAST_TOLD: f64 = 5e-4;

/// What cleaning did to one run.
#[derive(Clone, Debug, Serialize)]
pub struct Trust {
    /// Number of the run.
    pub run: usize,
    /// Rows out by time.
    pub time: Vec<TimePart>,
    /// Rows out and the answer before and after, by cell of the map.
    pub cells: Vec<Changed>,
    /// Place in `cells` of the largest change of the answer; `null` where nothing changes.
    pub largest: Option<usize>,
    /// The most extreme rows that the sieve took out.
    pub rejects: Vec<Shown>,
    /// The rows closest to being taken out that stay.
    pub survivors: Vec<Shown>,
}

/// A stretch of the run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TimePart {
    /// First row.
    pub first: usize,
    /// Last row.
    pub last: usize,
    /// Its time, s; `null` where not known.
    pub from: Option<f64>,
    /// Time of the last row, s.
    pub to: Option<f64>,
    /// Rows.
    pub rows: usize,
    /// Rows out.
    pub removed: usize,
}

/// One cell of the map before and after cleaning.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Changed {
    /// Input voltage from and to, V.
    pub v_in: [f64; 2],
    /// Output current from and to, A.
    pub i_out: [f64; 2],
    /// Readable rows with the output on.
    pub rows: usize,
    /// Those out of the statistics.
    pub removed: usize,
    /// Share out.
    pub share: f64,
    /// Efficiency of all of them, with the scatter's standard uncertainty; `null` with fewer than five rows.
    pub before: Quantity,
    /// Efficiency of those that stay.
    pub after: Quantity,
    /// After less before; `null` where one is missing.
    pub change: Option<f64>,
}

/// One row with its neighbours in time.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// Row.
    pub row: usize,
    /// Line of the file.
    pub line: Option<u32>,
    /// Time, s.
    pub time: Option<f64>,
    /// How many rows read like it, itself included.
    pub count: Option<f64>,
    /// Smallest setting of least rows that takes it out.
    pub falls_at: Option<u32>,
    /// Its reasons.
    pub reasons: Vec<&'static str>,
    /// Channel that stands out most from the rows before and after.
    pub channel: Option<&'static str>,
    /// By how many noises it does.
    pub noises: Option<f64>,
    /// Rows before it, itself, and rows after it.
    pub around: Vec<Neighbour>,
}

/// A row as it stands in the log, at one instant.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Neighbour {
    /// Row.
    pub row: usize,
    /// Line of the file.
    pub line: Option<u32>,
    /// Time, s.
    pub time: Option<f64>,
    /// Whether it stays.
    pub kept: bool,
    /// Readings by channel, V and A, uncorrected; `null` where missing.
    pub values: ByChannel<&'static str, Option<f64>>,
}

/// Sums of one cell.
#[derive(Clone, Copy, Default)]
struct Sums {
    rows: usize,
    p_in: f64,
    p_out: f64,
    squares: [f64; 3],
}

impl Sums {
    fn add(&mut self, p_in: f64, p_out: f64) {
        self.rows += 1;
        self.p_in += p_in;
        self.p_out += p_out;
        self.squares[0] += p_out * p_out;
        self.squares[1] += p_out * p_in;
        self.squares[2] += p_in * p_in;
    }

    /// Ratio of sums. **Formula** `u = sqrt(sum (p_out - r p_in)² n / (n - 1)) / sum p_in`. **Source** ratio estimator, common practice.
    fn ratio(&self) -> Quantity {
        if self.rows < FEWEST || self.p_in <= 0.0 {
            return Quantity::unknown("few_rows");
        }
        let ratio = self.p_out / self.p_in;
        let [oo, oi, ii] = self.squares;
        let n = self.rows as f64;
        let square = (oo - 2.0 * ratio * oi + ratio * ratio * ii).max(0.0);
        Quantity::new(ratio, libm::sqrt(square * n / (n - 1.0)) / self.p_in)
    }
}

impl Bench {
    /// What cleaning did to a run; `None` until its answers are there.
    #[must_use]
    pub fn trust(&self, index: usize) -> Option<Trust> {
        let run = self.runs.get(index)?;
        let rows = self.rows_of(index)?;
        let grid = &run.answer.as_ref()?.as_deref()?.map.grid;
        let cells = cells(&rows, grid);
        // The change that stands out most from what the rows that stay scatter.
        let weight = |cell: &Changed| cell.change.map_or(0.0, f64::abs);
        let largest = (0..cells.len())
            .filter(|&at| weight(&cells[at]) > 0.0)
            .max_by(|&a, &b| weight(&cells[a]).total_cmp(&weight(&cells[b])).then(b.cmp(&a)));
        let counts = run.counts.as_ref().filter(|counts| counts.rows() == rows.rows());
        let [rejects, survivors] = match counts {
            Some(counts) => border(run, &rows, counts, self.settings.sieve.least_rows_in_use()),
            None => [Vec::new(), Vec::new()],
        };
        Some(Trust { run: index, time: by_time(&rows), cells, largest, rejects, survivors })
    }
}

impl Bench {
    /// What cleaning changed most, where that is beyond the scatter of the rows that stay.
    ///
    /// **Formula** a cell counts where `|after - before| > 1.96 u(after)` and is half a tenth of a point or more; of
    /// those the largest. **Source** the project's own.
    pub(super) fn cleaning(&self, index: usize, grid: &Grid) -> Option<Finding> {
        let rows = self.rows_of(index)?;
        let changed = cells(&rows, grid);
        let weight = |cell: &Changed| cell.change.map_or(0.0, f64::abs);
        let told = changed.iter().filter(|cell| {
            cell.removed > 0
                && weight(cell) >= LEAST_TOLD
                && weight(cell) > COVERAGE * cell.after.u.unwrap_or(f64::INFINITY)
        });
        let most = told.max_by(|a, b| weight(a).total_cmp(&weight(b)))?;
        let (before, after, change) = (most.before.value?, most.after.value?, most.change?);
        let [v_in, i_out] = [most.v_in, most.i_out].map(|side| 0.5 * (side[0] + side[1]));
        let text = format!(
            "Cleaning changes the answer most at {}, {}: from {:.2} % to {:.2} % ({:+.2} points), with {} of {} rows there taken out.",
            place(v_in, "V"),
            place(i_out, "A"),
            100.0 * before,
            100.0 * after,
            100.0 * change,
            most.removed,
            most.rows
        );
        let count = |rows: usize| Quantity::without_u(rows as f64);
        let numbers = BTreeMap::from([
            ("before", most.before.clone()),
            ("after", most.after.clone()),
            ("change", Quantity::without_u(change)),
            ("removed", count(most.removed)),
            ("rows", count(most.rows)),
            ("v_in", Quantity::without_u(v_in)),
            ("i_out", Quantity::without_u(i_out)),
        ]);
        Some(Finding { code: "cleaning", text, numbers, confidence: 0.95, rows: Vec::new() })
    }
}

fn by_time(rows: &RunRows<'_>) -> Vec<TimePart> {
    let n = rows.rows();
    let parts = PARTS.min(n);
    let known = |time: f64| time.is_finite().then_some(time);
    (0..parts)
        .map(|part| {
            let (first, end) = (part * n / parts, (part + 1) * n / parts);
            let removed = (first..end).filter(|&row| !Reason::kept(rows.mask(row))).count();
            let (from, to) = (known(rows.time(first)), known(rows.time(end - 1)));
            TimePart { first, last: end - 1, from, to, rows: end - first, removed }
        })
        .collect()
}

/// Reasons that say that a row cannot be read or was not running: it has no part in the answer before cleaning either.
const NOT_RUNNING: Mask =
    Reason::Unreadable.bit() | Reason::Missing.bit() | Reason::Off.bit() | Reason::SupplyLimit.bit();

fn cells(rows: &RunRows<'_>, grid: &Grid) -> Vec<Changed> {
    let mut sums = vec![[Sums::default(); 2]; grid.cells()];
    each_reading(rows, 0..rows.rows(), |row, reading| {
        let mask = rows.mask(row);
        if mask & NOT_RUNNING != 0 && mask & Reason::KeptByHand.bit() == 0 {
            return;
        }
        let state = rows.correction().apply(reading);
        let (p_in, p_out) = (state.v_in * state.i_in, state.v_out * state.i_out);
        let Some(cell) = grid.cell(state.v_in, state.i_out) else { return };
        if p_in.is_finite() && p_out.is_finite() {
            sums[cell][0].add(p_in, p_out);
            if Reason::kept(mask) {
                sums[cell][1].add(p_in, p_out);
            }
        }
    });
    let lines = grid.rows().max(1);
    let filled = sums.iter().enumerate().filter(|(_, [all, _])| all.rows > 0);
    filled
        .map(|(cell, [all, kept])| {
            let (before, after) = (all.ratio(), kept.ratio());
            let change = before.value.zip(after.value).map(|(before, after)| after - before);
            let (column, line) = (cell / lines, cell % lines);
            Changed {
                v_in: [grid.v_edges[column], grid.v_edges[column + 1]],
                i_out: [grid.i_edges[line], grid.i_edges[line + 1]],
                rows: all.rows,
                removed: all.rows - kept.rows,
                share: (all.rows - kept.rows) as f64 / all.rows as f64,
                before,
                after,
                change,
            }
        })
        .collect()
}

/// The rows that the sieve took with the fewest rows like them, and those that stay with the fewest; among equals those
/// that stand out most from their neighbours in time.
fn border(run: &Run, rows: &RunRows<'_>, counts: &Counts, least_rows: u32) -> [Vec<Shown>; 2] {
    let noise = Noise::given(run.noise.floor, [0.0; 5]);
    let lists = [true, false].map(|out| {
        let mut found: Vec<(u32, usize)> = (0..rows.rows())
            .filter(|&row| {
                let mask = rows.mask(row);
                if out { mask & Reason::Rare.bit() != 0 } else { Reason::kept(mask) }
            })
            .filter_map(|row| Some((counts.falls_at(row)?, row)))
            .filter(|&(falls_at, _)| out == (falls_at <= least_rows))
            .collect();
        found.sort_unstable();
        // Equals of the last one shown take part in the choice.
        let last = found.get(SHOWN - 1).or(found.last()).map_or(0, |entry| entry.0);
        found.retain(|entry| entry.0 <= last);
        found.truncate(20_000);
        let mut judged: Vec<Judged> = found
            .into_iter()
            .map(|(falls_at, row)| (falls_at, row, standing_out(rows, row, &noise)))
            .collect();
        let far = |entry: &Judged| entry.2.map_or(0.0, |found| found.1);
        judged.sort_by(|a, b| a.0.cmp(&b.0).then(far(b).total_cmp(&far(a))).then(a.1.cmp(&b.1)));
        judged.truncate(SHOWN);
        judged
    });
    lists.map(|list| {
        list.into_iter()
            .map(|(falls_at, row, found)| Shown {
                row,
                line: rows.aligned.readings().lines.get(row).copied(),
                time: known(rows.time(row)),
                count: counts.count(row),
                falls_at: Some(falls_at),
                reasons: REASONS
                    .into_iter()
                    .filter(|reason| rows.mask(row) & reason.bit() != 0)
                    .map(Reason::code)
                    .collect(),
                channel: found.map(|found| found.0.name()),
                noises: found.map(|found| found.1),
                around: (row.saturating_sub(AROUND)..(row + AROUND + 1).min(rows.rows()))
                    .map(|row| neighbour(rows, row))
                    .collect(),
            })
            .collect()
    })
}

fn known(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

/// The channel that stands out most from the mean of the rows before and after, and by how many noises.
fn standing_out(rows: &RunRows<'_>, row: usize, noise: &Noise) -> Option<(Channel, f64)> {
    let (before, after) = (row.checked_sub(1)?, row + 1);
    if after >= rows.rows() {
        return None;
    }
    let [before, here, after] = [before, row, after].map(|row| rows.reading(row));
    CHANNELS
        .into_iter()
        .filter(|channel| noise.floor[channel.index()] > 0.0)
        .map(|channel| {
            let k = channel.index();
            (channel, (here[k] - 0.5 * (before[k] + after[k])).abs() / noise.floor[k])
        })
        .filter(|found| found.1.is_finite())
        .max_by(|a, b| a.1.total_cmp(&b.1))
}

fn neighbour(rows: &RunRows<'_>, row: usize) -> Neighbour {
    let readings = rows.aligned.readings();
    let values = CHANNELS
        .into_iter()
        .filter(|&channel| readings.has(channel))
        .map(|channel| (channel.name(), known(rows.aligned.value(channel, row))))
        .collect();
    Neighbour {
        row,
        line: readings.lines.get(row).copied(),
        time: known(rows.time(row)),
        kept: Reason::kept(rows.mask(row)),
        values: ByChannel(values),
    }
}
