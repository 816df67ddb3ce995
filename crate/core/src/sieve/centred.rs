//! The exact count: rows within half a cell width of a row on every channel.
//!
//! A box of one cell width touches two cells per axis, so 2^D are looked up, of which few are occupied. Where
//! cells hold few rows looking up costs most: they are joined two by two along every axis to blocks first, of
//! which a box touches one or two per axis. Each block then knows the doubtful rows whose boxes touch it, and one
//! pass over all rows compares each row with those of its block, by words first: no row is copied.

use super::cells::{Cells, NO_CELL};
use super::grid::Grid;
use super::near::{Near, Parts, near};
use super::pass::CHUNK;
use super::table::{MOST_COLUMNS, Table, column_of};

/// No setting reaches so far: larger counts are given as this.
const ENOUGH: u32 = 64;
/// Rows per cell from which cells are searched as they are.
const FULL: usize = 16;
/// Rows between two rows in a box that make them two passes.
///
/// **Source** the project's own; one scan over a box leaves no such gap.
const PASS_GAP: u32 = 5;
/// Passes of other rows that save a row.
const PASSES: u32 = 2;
/// Rows of a plain pass that one doubtful row's look-ups count as in a slice.
const HEAVY: usize = 8;
/// Count up to which a row may need to be saved.
const MAY_NEED_SAVING: u32 = 20;

/// The exact counts under way.
#[derive(Debug)]
pub(super) struct Centred {
    /// The grid in which rows were counted.
    fine: Grid,
    /// The grid of blocks, and how often bins were halved for it.
    grid: Grid,
    halvings: u32,
    blocks: Cells,
    /// Block of every cell.
    block_of: Vec<u32>,
    parts: Parts,
    widths: Vec<f64>,
    revisited: bool,
    /// Rows to count, ascending.
    pub(super) doubtful: Vec<u32>,
    /// Values of the doubtful rows, one row after another.
    values: Vec<f64>,
    found: Vec<Found>,
    stage: Stage,
    /// Blocks that a box touches, with the doubtful row's place; in the order of the rows until they are sorted.
    touched: Vec<(u32, u32)>,
    boxes: Boxes,
    rooms: Vec<Vec<f64>>,
}

#[derive(Clone, Copy, Debug)]
enum Stage {
    /// Looking up what the boxes touch, from this place among the doubtful.
    Touch(usize),
    /// Comparing rows, from this row.
    Compare(usize),
}

/// What is known of a doubtful row so far.
#[derive(Clone, Copy, Debug, Default)]
struct Found {
    /// Rows within half a width.
    count: u32,
    /// Passes of other rows that came within one width, and the last such row.
    passes: u32,
    last: u32,
}

impl Found {
    /// Notes another row within one width; rows come in ascending order.
    fn visit(&mut self, row: u32, own: u32) {
        if row.abs_diff(own) <= PASS_GAP {
            return;
        }
        self.passes += u32::from(self.passes == 0 || row - self.last > PASS_GAP);
        self.last = row;
    }
}

impl Centred {
    pub(super) fn new(
        (fine, cells): (Grid, Cells),
        rows: usize,
        doubtful: Vec<u32>,
        widths: Vec<f64>,
        revisited: bool,
    ) -> Self {
        let halvings = u32::from(rows < FULL * cells.len());
        let mut block_of: Vec<u32> = (0..cells.len() as u32).collect();
        let (grid, blocks) = if halvings == 0 {
            (fine.clone(), cells)
        } else {
            let mut grid = fine.joined(halvings);
            let mut blocks = Cells::with_room(cells.len() / 4);
            let mut bins = fine.bins_of(&cells);
            bins.iter_mut().for_each(|bin| *bin >>= halvings);
            for (block, bins) in block_of.iter_mut().zip(bins.chunks_exact(widths.len())) {
                *block = blocks.add(grid.add_key(bins));
            }
            (grid, blocks)
        };
        let parts = Parts::new(fine.axes(), reach(revisited));
        let rooms = vec![vec![0.0; CHUNK]; widths.len()];
        Self {
            fine,
            grid,
            halvings,
            blocks,
            block_of,
            parts,
            values: Vec::with_capacity(doubtful.len() * widths.len()),
            found: vec![Found::default(); doubtful.len()],
            widths,
            revisited,
            doubtful,
            stage: Stage::Touch(0),
            touched: Vec::new(),
            boxes: Boxes::default(),
            rooms,
        }
    }

    /// Does about this many rows' work; whether all is done. `cells` is each row's cell.
    pub(super) fn step(&mut self, table: &dyn Table, budget: usize, cells: &[u32]) -> bool {
        if self.doubtful.is_empty() {
            return true;
        }
        match self.stage {
            Stage::Touch(next) => {
                let end = (next + (budget / HEAVY).max(1)).min(self.doubtful.len());
                self.touch(table, next, end);
                self.stage = Stage::Touch(end);
                if end == self.doubtful.len() {
                    let targets: Vec<u64> = self
                        .values
                        .chunks_exact(self.widths.len())
                        .map(|row| self.parts.target(row))
                        .collect();
                    let touched = std::mem::take(&mut self.touched);
                    self.boxes = Boxes::new(self.blocks.len(), touched, &targets);
                    self.stage = Stage::Compare(0);
                }
                false
            }
            Stage::Compare(next) => {
                let end = (next + budget.max(1)).min(table.rows());
                self.compare(table, next, end, cells);
                self.stage = Stage::Compare(end);
                if end == table.rows() {
                    for (&place, &hits) in self.boxes.places.iter().zip(&self.boxes.hits) {
                        self.found[place as usize].count += hits;
                    }
                }
                end == table.rows()
            }
        }
    }

    /// Rows within half a width, at most [`ENOUGH`], and whether other passes save the row, per doubtful row.
    pub(super) fn found(&self) -> impl Iterator<Item = (u32, bool)> {
        self.found.iter().map(|found| {
            let count = found.count.min(ENOUGH);
            (count, self.revisited && count <= MAY_NEED_SAVING && found.passes >= PASSES)
        })
    }

    /// Looks up the blocks that the boxes of doubtful rows touch.
    fn touch(&mut self, table: &dyn Table, from: usize, end: usize) {
        let columns = self.widths.len();
        let mut row = [0.0; MOST_COLUMNS];
        let mut room = [0.0];
        let mut touched = std::mem::take(&mut self.touched);
        for (place, &at) in self.doubtful.iter().enumerate().take(end).skip(from) {
            let at = at as usize;
            for (column, value) in row[..columns].iter_mut().enumerate() {
                *value = column_of(table, column, at..at + 1, &mut room)[0];
            }
            self.values.extend_from_slice(&row[..columns]);
            self.each_block(&row[..columns], reach(self.revisited), |block| {
                touched.push((block, place as u32))
            });
        }
        self.touched = touched;
    }

    /// Occupied blocks that a box reaching this many widths each way touches.
    fn each_block(&self, row: &[f64], reach: f64, mut work: impl FnMut(u32)) {
        let columns = row.len();
        let mut low = [0_u32; MOST_COLUMNS];
        let mut high = [0_u32; MOST_COLUMNS];
        for axis in 0..columns {
            let side = reach * self.widths[axis];
            low[axis] = self.fine.bin(axis, row[axis] - side) >> self.halvings;
            high[axis] = self.fine.bin(axis, row[axis] + side) >> self.halvings;
        }
        let mut bins = low;
        loop {
            if let Some(code) = self.grid.key_of(&bins[..columns]).and_then(|key| self.blocks.find(key)) {
                work(code);
            }
            // The next combination, last axis fastest.
            let mut axis = columns;
            loop {
                if axis == 0 {
                    return;
                }
                axis -= 1;
                if bins[axis] < high[axis] {
                    bins[axis] += 1;
                    break;
                }
                bins[axis] = low[axis];
            }
        }
    }

    /// Compares each row with the doubtful rows whose boxes touch its block.
    fn compare(&mut self, table: &dyn Table, first: usize, end: usize, cells: &[u32]) {
        let columns = self.widths.len();
        let reach = reach(self.revisited);
        let mut side = [0.0; MOST_COLUMNS];
        let mut half = [0.0; MOST_COLUMNS];
        for (axis, width) in self.widths.iter().enumerate() {
            side[axis] = reach * width;
            half[axis] = 0.5 * width;
        }
        let mut row = [0.0; MOST_COLUMNS];
        let mut words = vec![0; CHUNK];
        let mut next = first;
        while next < end {
            let rows = next..(next + CHUNK).min(end);
            next = rows.end;
            let mut values: [&[f64]; MOST_COLUMNS] = [&[]; MOST_COLUMNS];
            for (at, (values, room)) in values.iter_mut().zip(&mut self.rooms).enumerate() {
                *values = column_of(table, at, rows.clone(), room);
            }
            self.parts.words(&values[..columns], &mut words[..rows.len()]);
            for number in rows.clone() {
                let code = cells[number];
                if code == NO_CELL {
                    continue;
                }
                let part = self.boxes.part(self.block_of[code as usize]);
                if part.is_empty()
                    || !self.boxes.hit(part.clone(), words[number - rows.start], self.revisited)
                {
                    continue;
                }
                for (value, values) in row[..columns].iter_mut().zip(&values) {
                    *value = values[number - rows.start];
                }
                for at in part {
                    match near(words[number - rows.start], self.boxes.targets[at]) {
                        Near::No => continue,
                        Near::Yes if !self.revisited => continue,
                        Near::Yes | Near::Open => {}
                    }
                    let place = self.boxes.places[at] as usize;
                    let middle = &self.values[place * columns..(place + 1) * columns];
                    let within = |limits: &[f64; MOST_COLUMNS]| {
                        let mut pairs = row.iter().zip(middle).zip(limits);
                        pairs.all(|((a, b), limit)| (a - b).abs() <= *limit)
                    };
                    let found = &mut self.found[place];
                    found.count += u32::from(within(&half));
                    if self.revisited && within(&side) {
                        found.visit(number as u32, self.doubtful[place]);
                    }
                }
            }
        }
    }
}

/// How far a box reaches each way, in widths.
const fn reach(revisited: bool) -> f64 {
    if revisited { 1.0 } else { 0.5 }
}

/// Doubtful rows by the blocks that their boxes touch.
#[derive(Debug, Default)]
struct Boxes {
    /// Per block: where its doubtful rows start; one entry more than blocks.
    starts: Vec<u32>,
    /// Places of the doubtful rows.
    places: Vec<u32>,
    /// What rows are compared with to tell whether they are near.
    targets: Vec<u64>,
    /// Rows that are told to be near by that.
    hits: Vec<u32>,
}

impl Boxes {
    /// Sorts what was touched by block. `targets` holds those of the doubtful rows.
    fn new(blocks: usize, touched: Vec<(u32, u32)>, targets: &[u64]) -> Self {
        let mut starts = vec![0; blocks + 1];
        for &(block, _) in &touched {
            starts[block as usize + 1] += 1;
        }
        for block in 0..blocks {
            starts[block + 1] += starts[block];
        }
        let mut filled = starts.clone();
        let mut boxes = Self {
            starts,
            places: vec![0; touched.len()],
            targets: vec![0; touched.len()],
            hits: vec![0; touched.len()],
        };
        for (block, place) in touched {
            let to = &mut filled[block as usize];
            boxes.places[*to as usize] = place;
            boxes.targets[*to as usize] = targets[place as usize];
            *to += 1;
        }
        boxes
    }

    /// Where a block's doubtful rows stand.
    fn part(&self, block: u32) -> std::ops::Range<usize> {
        self.starts[block as usize] as usize..self.starts[block as usize + 1] as usize
    }

    /// Counts a row for those of a part that it is near; whether it has to be compared with others in full, as with
    /// all that may be near where `all` is set.
    fn hit(&mut self, part: std::ops::Range<usize>, word: u64, all: bool) -> bool {
        let mut open = false;
        for (&target, hits) in self.targets[part.clone()].iter().zip(&mut self.hits[part]) {
            let near = near(word, target);
            *hits += u32::from(near == Near::Yes && !all);
            open |= near == Near::Open || all && near == Near::Yes;
        }
        open
    }
}
