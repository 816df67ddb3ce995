//! How many rows read like each row.
//!
//! Four grids, shifted against each other by a quarter cell along all axes, are counted; their mean is
//! each row's count. Rows whose mean is low are counted again, exactly: rows within half a cell width on
//! every channel. Work goes in slices; the result does not depend on how it is sliced.

use super::cells::{Cells, NO_CELL};
use super::centred::Centred;
use super::counts::{Counts, EDGE, NOT_COUNTED, REVISITED, SHIFTS, SMOOTH};
use super::grid::{Grid, Span};
use super::pass::{CHUNK, Pass};
use super::table::{Table, column_of, gather};
use super::width::{self, Widths};
use super::{Kind, Settings, Vote};
use crate::math::stats;

/// Rows up to which every row with a mean below [`WIDE`] is counted exactly; of longer logs this many.
const MANY: usize = 65_536;
/// Rows above which it is one in [`SHARE`] of them.
const LONG: usize = 262_144;
/// Of a long log one row in so many is counted exactly, and all rows with a mean up to [`DOUBTFUL`].
const SHARE: usize = 200;
/// Largest mean count of rows that are counted exactly.
const WIDE: u32 = 48;
/// Mean count up to which rows of any log are counted exactly: four times the count that is out by default.
const DOUBTFUL: u32 = 8;

/// Of a long log in which more than one row in so many would be counted exactly none is: its cells are too narrow
/// to tell rows apart, and an exact count of hardly any neighbours tells no more than the mean.
const CROWD: usize = 4;

/// What counting needs to know of the columns, whatever the cells: kept, it saves going through the rows.
#[derive(Clone, Debug, PartialEq)]
pub struct Prepared {
    spans: Vec<Span>,
    noise: Vec<f64>,
    samples: Vec<Vec<f64>>,
}

/// Counts rows in slices.
#[derive(Debug)]
pub struct Counter {
    settings: Settings,
    kind: Kind,
    phase: Phase,
    offset: f64,
    spans: Vec<Span>,
    noise: Vec<f64>,
    samples: Vec<Vec<f64>>,
    /// Inner ends of the outer hundredth of each column, once they are needed.
    edges: Vec<Option<[f64; 2]>>,
    buffer: Vec<f64>,
    counts: Counts,
    /// Cell numbers in the grid under way.
    codes: Vec<u32>,
    done_rows: u64,
}

#[derive(Debug)]
enum Phase {
    Spans(usize),
    Noise(usize),
    Widths(Box<Widths>),
    Shift(u32, Box<Pass>, Option<Box<Pass>>),
    /// The first grid again in one table, where it was counted in another way and its cells are needed.
    Again(Box<Pass>, Vec<u32>),
    Centred(Box<Centred>),
    Smooth(usize),
    Done,
}

impl Counter {
    /// Prepares to count a table.
    #[must_use]
    pub fn new(table: &dyn Table, kind: Kind, settings: &Settings) -> Self {
        let columns = table.columns();
        Self {
            settings: settings.clone(),
            kind,
            phase: if columns == 0 { Phase::Smooth(0) } else { Phase::Spans(0) },
            offset: 0.0,
            spans: vec![Span::EMPTY; columns],
            noise: Vec::new(),
            samples: vec![Vec::new(); columns],
            edges: Vec::new(),
            buffer: vec![0.0; CHUNK],
            counts: Counts {
                stored: vec![if columns == 0 { NOT_COUNTED } else { 0 }; table.rows()],
                ..Counts::default()
            },
            codes: Vec::new(),
            done_rows: 0,
        }
    }

    /// Takes over what an earlier counter of the same table found out about its columns.
    #[must_use]
    pub fn with_prepared(mut self, prepared: Prepared) -> Self {
        if prepared.spans.len() == self.spans.len() && !self.spans.is_empty() {
            self.spans = prepared.spans;
            self.samples = prepared.samples;
            self.phase = Phase::Noise(prepared.noise.len());
            self.noise = prepared.noise;
        }
        self
    }

    /// What is known of the columns, for a later counter of the same table; `None` before `widths`.
    #[must_use]
    pub fn prepared(&self) -> Option<Prepared> {
        let known = !matches!(self.phase, Phase::Spans(_) | Phase::Noise(_));
        known.then(|| Prepared {
            spans: self.spans.clone(),
            noise: self.noise.clone(),
            samples: self.samples.clone(),
        })
    }

    /// Moves the origin of every grid by this many cell widths along all axes. Counts hardly feel it;
    /// it is there to show so.
    #[must_use]
    pub fn with_origin(mut self, cells: f64) -> Self {
        self.offset = cells;
        self
    }

    /// Rows gone through so far, over all passes: for progress and for evaluation counts.
    #[must_use]
    pub fn rows_done(&self) -> u64 {
        self.done_rows
    }

    /// What is being done, for progress: `range`, `noise`, `widths`, `count`, `exact count`, `smooth` or `done`.
    #[must_use]
    pub fn stage(&self) -> &'static str {
        match self.phase {
            Phase::Spans(_) => "range",
            Phase::Noise(_) => "noise",
            Phase::Widths(_) => "widths",
            Phase::Shift(..) | Phase::Again(..) => "count",
            Phase::Centred(_) => "exact count",
            Phase::Smooth(_) => "smooth",
            Phase::Done => "done",
        }
    }

    /// Does a slice of about this many rows' work, less where another stage begins, so that what a slice takes is one
    /// stage's; whether everything is done.
    ///
    /// `table` must be the one given to [`Counter::new`].
    pub fn step(&mut self, table: &dyn Table, budget: usize) -> bool {
        let mut left = budget.max(1) as u64;
        let stage = self.stage();
        loop {
            let before = self.done_rows;
            let phase = std::mem::replace(&mut self.phase, Phase::Done);
            self.phase = self.advance(phase, table, usize::try_from(left).unwrap_or(usize::MAX));
            if matches!(self.phase, Phase::Done) {
                return true;
            }
            left = left.saturating_sub((self.done_rows - before).max(1));
            if left == 0 || self.stage() != stage {
                return false;
            }
        }
    }

    /// The counts; call when [`Counter::step`] has said that everything is done.
    #[must_use]
    pub fn finish(mut self) -> Counts {
        self.counts.settle();
        self.counts
    }

    fn advance(&mut self, phase: Phase, table: &dyn Table, budget: usize) -> Phase {
        let rows = table.rows();
        match phase {
            Phase::Spans(next) => {
                let end = (next + budget).min(rows);
                self.look(table, next, end);
                self.done_rows += (end - next) as u64;
                if end < rows { Phase::Spans(end) } else { Phase::Noise(0) }
            }
            Phase::Noise(column) if column < table.columns() => {
                self.noise.push(stats::noise(&gather(table, column)).unwrap_or(0.0));
                self.done_rows += rows as u64;
                Phase::Noise(column + 1)
            }
            Phase::Noise(_) => {
                self.codes = vec![NO_CELL; rows];
                let fixed = width::Fixed::new(&self.samples, &self.noise, &self.kind, &self.settings);
                self.counts.ranges.clone_from(&fixed.ranges);
                Phase::Widths(Box::new(Widths::new(fixed, &self.spans, rows)))
            }
            Phase::Widths(mut widths) => {
                let done = widths.step(table, budget, &mut self.codes, &self.spans);
                self.done_rows += budget.min(rows.max(1)) as u64;
                if !done {
                    return Phase::Widths(widths);
                }
                (self.counts.widths, self.counts.lambda) = widths.finish();
                Phase::Shift(0, Box::new(Pass::new(self.grid(0), 64)), None)
            }
            Phase::Shift(shift, mut pass, first) => {
                let done = pass.step(table, budget, &mut self.codes);
                self.done_rows += budget.min(rows.max(1)) as u64;
                if !done {
                    return Phase::Shift(shift, pass, first);
                }
                pass.add_counts(&self.codes, NOT_COUNTED, &mut self.counts.stored);
                let next = (shift + 1 < SHIFTS).then(|| pass.again(self.grid(shift + 1), rows));
                if shift == 0 {
                    self.counts.cells = std::mem::take(&mut self.codes);
                    self.counts.cell_counts = pass.take_counts();
                }
                if let Some(next) = next {
                    if next.notes_cells() {
                        self.codes.resize(rows, NO_CELL);
                    }
                    return Phase::Shift(shift + 1, Box::new(next), first.or(Some(pass)));
                }
                let doubtful = self.doubtful();
                match first.unwrap_or(pass).into_cells() {
                    _ if doubtful.is_empty() => Phase::Smooth(0),
                    Some(cells) => self.centred(cells, doubtful),
                    None => {
                        self.codes.resize(rows, NO_CELL);
                        Phase::Again(Box::new(Pass::in_one_table(self.grid(0), 64)), doubtful)
                    }
                }
            }
            Phase::Again(mut pass, doubtful) => {
                let done = pass.step(table, budget, &mut self.codes);
                self.done_rows += budget.min(rows.max(1)) as u64;
                if !done {
                    return Phase::Again(pass, doubtful);
                }
                match pass.into_cells() {
                    Some(cells) => self.centred(cells, doubtful),
                    None => Phase::Smooth(0),
                }
            }
            Phase::Centred(mut centred) => {
                let done = centred.step(table, budget, &self.counts.cells);
                self.done_rows += budget.min(rows.max(1)) as u64;
                if !done {
                    return Phase::Centred(centred);
                }
                self.counts.counted_exactly = centred.doubtful.len();
                for (&row, (count, revisited)) in centred.doubtful.iter().zip(centred.found()) {
                    let flag = if revisited { REVISITED } else { 0 };
                    self.counts.stored[row as usize] = (count * SHIFTS) | flag;
                }
                Phase::Smooth(0)
            }
            Phase::Smooth(next) => {
                if next >= rows || table.columns() == 0 {
                    return Phase::Done;
                }
                let end = (next + budget.max(CHUNK)).min(rows);
                if self.settings.vote == Vote::Smooth {
                    self.mark_smooth(table, next, end);
                }
                if self.settings.vote != Vote::Off {
                    self.mark_edges(table, next, end);
                }
                self.done_rows += (end - next) as u64;
                if end < rows { Phase::Smooth(end) } else { Phase::Done }
            }
            Phase::Done => Phase::Done,
        }
    }

    /// Range and an even sample of every column.
    fn look(&mut self, table: &dyn Table, first: usize, end: usize) {
        let stride = table.rows().div_ceil(65_536).max(1);
        let mut next = first;
        while next < end {
            let rows = next..(next + CHUNK).min(end);
            let count = rows.len();
            for column in 0..table.columns() {
                table.fill(column, rows.clone(), &mut self.buffer[..count]);
                self.spans[column].include(&self.buffer[..count]);
                let start = rows.start.div_ceil(stride) * stride - rows.start;
                let sampled = self.buffer[..count].iter().skip(start).step_by(stride);
                self.samples[column].extend(sampled.copied().filter(|value| value.is_finite()));
            }
            next += count;
        }
    }

    fn grid(&self, shift: u32) -> Grid {
        let offset = self.offset + f64::from(shift) / f64::from(SHIFTS);
        Grid::new(&self.spans, &self.counts.widths, offset)
    }

    /// The exact count of the doubtful rows in the cells of the first grid.
    fn centred(&mut self, cells: (Grid, Cells), doubtful: Vec<u32>) -> Phase {
        self.codes = Vec::new();
        let revisited = self.settings.vote == Vote::Revisited;
        let (rows, widths) = (self.counts.stored.len(), self.counts.widths.clone());
        Phase::Centred(Box::new(Centred::new(cells, rows, doubtful, widths, revisited)))
    }

    /// Rows whose mean is so low that they are counted exactly.
    fn doubtful(&self) -> Vec<u32> {
        let rows = self.counts.stored.len();
        let mut most = WIDE * SHIFTS;
        if rows > MANY {
            let mut histogram = vec![0_usize; most as usize + 1];
            for &stored in self.counts.stored.iter().filter(|&&stored| stored <= most) {
                histogram[stored as usize] += 1;
            }
            let mut total = 0;
            for (sum, number) in histogram.iter().enumerate() {
                total += number;
                if total > if rows > LONG { rows / SHARE } else { MANY } {
                    most = (sum as u32).saturating_sub(1).max(DOUBTFUL * SHIFTS);
                    break;
                }
            }
            if rows > LONG && histogram[..=most as usize].iter().sum::<usize>() > rows / CROWD {
                return Vec::new();
            }
        }
        let low = |(row, &stored): (usize, &u32)| (stored <= most).then_some(row as u32);
        self.counts.stored.iter().enumerate().filter_map(low).collect()
    }

    /// Marks rows with low counts in the outer hundredth of a channel, no farther out than one width: a box around
    /// them is half empty however often their place was visited.
    fn mark_edges(&mut self, table: &dyn Table, first: usize, end: usize) {
        let low = |stored: u32| (stored & !(SMOOTH | REVISITED)) < 64 * SHIFTS;
        let mut room = vec![0.0; CHUNK];
        if self.edges.is_empty() {
            self.edges = self.samples.iter().map(|sample| width::outer(sample)).collect();
        }
        let mut next = first;
        while next < end {
            let part = next..(next + CHUNK).min(end);
            next = part.end;
            if !self.counts.stored[part.clone()].iter().any(|&stored| low(stored)) {
                continue;
            }
            for column in 0..table.columns() {
                let Some(Some([bottom, top])) = self.edges.get(column).copied() else { continue };
                let width = self.counts.widths[column];
                let values = column_of(table, column, part.clone(), &mut room);
                for (stored, &value) in self.counts.stored[part.clone()].iter_mut().zip(values) {
                    let outer =
                        value >= top && value <= top + width || value <= bottom && value >= bottom - width;
                    if outer && low(*stored) {
                        *stored |= EDGE;
                    }
                }
            }
        }
    }

    /// Marks rows with low counts that continue smoothly from two neighbours in time.
    fn mark_smooth(&mut self, table: &dyn Table, first: usize, end: usize) {
        const REACH: usize = 2;
        let rows = table.rows();
        let low = |stored: u32| stored < 64 * SHIFTS;
        let mut room = vec![0.0; CHUNK + 2 * REACH];
        let mut next = first;
        while next < end {
            let part = next..(next + CHUNK).min(end);
            next = part.end;
            if !self.counts.stored[part.clone()].iter().any(|&stored| low(stored)) {
                continue;
            }
            let from = part.start.saturating_sub(REACH);
            let to = (part.end + REACH).min(rows);
            let mut rough = vec![0_u8; to - from];
            for column in 0..table.columns() {
                let values = column_of(table, column, from..to, &mut room);
                let resolution = self.kind.resolution.get(column).copied().unwrap_or(0.0);
                // Four standard deviations of a second difference.
                let limit = 4.0 * libm::sqrt(6.0) * self.noise[column].max(0.5 * resolution);
                for (middle, window) in values.windows(3).enumerate() {
                    let bend = window[0] - 2.0 * window[1] + window[2];
                    // A NaN is rough.
                    let straight = bend.abs() <= limit;
                    rough[middle + 1] |= u8::from(!straight);
                }
            }
            for row in part {
                let at = row - from;
                let fits = |middle: Option<usize>| {
                    middle.is_some_and(|middle| middle >= 1 && middle + 1 < rough.len() && rough[middle] == 0)
                };
                let stored = &mut self.counts.stored[row];
                if low(*stored) && (fits(at.checked_sub(1)) || fits(Some(at)) || fits(Some(at + 1))) {
                    *stored |= SMOOTH;
                }
            }
        }
    }
}

/// Counts a whole table at once.
#[must_use]
pub fn count(table: &dyn Table, kind: Kind, settings: &Settings) -> Counts {
    let mut counter = Counter::new(table, kind, settings);
    while !counter.step(table, usize::MAX) {}
    counter.finish()
}
