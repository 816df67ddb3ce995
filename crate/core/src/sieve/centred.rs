//! The exact count: rows within half a cell width of a row on every channel.
//!
//! A box of one cell width touches two cells per axis, so 2^D are searched, of which few are occupied. Where
//! cells hold few rows the search costs most: they are joined two by two along every axis to blocks first, of
//! which a box touches one or two per axis. Rows of blocks that are searched at all are gathered side by side.

use super::cells::{CHUNK, Cells, Grid, NO_CELL, Pass};
use super::table::{MOST_COLUMNS, Table, column_of};

/// Counting stops here: no setting reaches so far.
const ENOUGH: u32 = 64;
/// Rows per cell from which cells are searched as they are.
const FULL: usize = 16;
/// Rows between two rows in a box that make them two passes.
///
/// **Source** the project's own; one scan over a box leaves no such gap.
const PASS_GAP: u32 = 5;
/// Passes of other rows that save a row.
const PASSES: usize = 2;
/// Rows of a plain pass that one doubtful row's search counts as in a slice.
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
    widths: Vec<f64>,
    revisited: bool,
    /// Rows to count, ascending.
    pub(super) doubtful: Vec<u32>,
    /// Count and whether other passes save the row, per doubtful row.
    pub(super) found: Vec<(u32, bool)>,
    stage: Stage,
    /// Per block: whether its rows are compared with any doubtful row.
    marked: Vec<bool>,
    /// Per block: where its rows start among those gathered; one entry more than blocks.
    starts: Vec<u32>,
    /// Per block: how many of its rows have been gathered.
    filled: Vec<u32>,
    /// Values of the gathered rows, row by row.
    values: Vec<f64>,
    /// Row numbers of the gathered rows.
    rows: Vec<u32>,
    rooms: Vec<Vec<f64>>,
}

#[derive(Clone, Copy, Debug)]
enum Stage {
    /// Marking the blocks to search, from this place among the doubtful.
    Mark(usize),
    /// Gathering their rows, from this row.
    Gather(usize),
    /// Counting, from this place among the doubtful.
    Count(usize),
}

impl Centred {
    pub(super) fn new(
        pass: Pass,
        rows: usize,
        doubtful: Vec<u32>,
        widths: Vec<f64>,
        revisited: bool,
    ) -> Self {
        let halvings = u32::from(rows < FULL * pass.cells.len());
        let mut grid = pass.grid.joined(halvings);
        let mut blocks = Cells::with_room(pass.cells.len() / 4);
        let mut bins = pass.grid.bins_of(&pass.cells);
        bins.iter_mut().for_each(|bin| *bin >>= halvings);
        let block_of: Vec<u32> =
            bins.chunks_exact(widths.len()).map(|bins| blocks.add(grid.add_key(bins))).collect();
        let starts = vec![0; blocks.len() + 1];
        let filled = vec![0; blocks.len()];
        // With many rows to count nearly every block is needed.
        let all = doubtful.len() > blocks.len() / 2;
        let marked = vec![all; blocks.len()];
        let rooms = vec![vec![0.0; CHUNK]; widths.len()];
        let found = Vec::with_capacity(doubtful.len());
        let stage = if all { Stage::Mark(doubtful.len()) } else { Stage::Mark(0) };
        let (values, rows) = (Vec::new(), Vec::new());
        let fine = pass.grid;
        Self {
            fine,
            grid,
            halvings,
            blocks,
            block_of,
            widths,
            revisited,
            doubtful,
            found,
            stage,
            marked,
            starts,
            filled,
            values,
            rows,
            rooms,
        }
    }

    /// Does about this many rows' work; whether all is done. `cells` is each row's cell.
    pub(super) fn step(&mut self, table: &dyn Table, budget: usize, cells: &[u32]) -> bool {
        if self.doubtful.is_empty() {
            return true;
        }
        match self.stage {
            Stage::Mark(next) => {
                let reach = if self.revisited { 1.0 } else { 0.5 };
                let end = self.each_doubtful(table, next, budget / HEAVY, |this, _, row| {
                    let mut marked = std::mem::take(&mut this.marked);
                    this.each_block(row, reach, |code| marked[code as usize] = true);
                    this.marked = marked;
                });
                self.stage = Stage::Mark(end);
                if end == self.doubtful.len() {
                    self.place(cells);
                    self.stage = Stage::Gather(0);
                }
                false
            }
            Stage::Gather(next) => {
                let end = (next + budget.max(1)).min(table.rows());
                self.gather(table, next, end, cells);
                self.stage = Stage::Gather(end);
                if end == table.rows() {
                    self.stage = Stage::Count(0);
                }
                false
            }
            Stage::Count(next) => {
                let end = self.each_doubtful(table, next, budget / HEAVY, |this, at, row| {
                    let count = this.within(row);
                    let number = this.doubtful[at];
                    let saved = this.revisited && count <= MAY_NEED_SAVING && this.is_revisited(row, number);
                    this.found.push((count, saved));
                });
                self.stage = Stage::Count(end);
                end == self.doubtful.len()
            }
        }
    }

    /// Calls `work` with place and values of at most `most` doubtful rows; the place reached.
    fn each_doubtful(
        &mut self,
        table: &dyn Table,
        from: usize,
        most: usize,
        mut work: impl FnMut(&mut Self, usize, &[f64]),
    ) -> usize {
        let columns = self.widths.len();
        let end = from.saturating_add(most.max(1)).min(self.doubtful.len());
        let mut next = from;
        let mut row = [0.0; MOST_COLUMNS];
        let mut room = [0.0];
        while next < end {
            let at = self.doubtful[next] as usize;
            for (column, value) in row[..columns].iter_mut().enumerate() {
                *value = column_of(table, column, at..at + 1, &mut room)[0];
            }
            work(self, next, &row[..columns]);
            next += 1;
        }
        end
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

    /// Makes room for the rows of the marked blocks.
    fn place(&mut self, cells: &[u32]) {
        for &code in cells.iter().filter(|&&code| code != NO_CELL) {
            let block = self.block_of[code as usize] as usize;
            self.starts[block] += u32::from(self.marked[block]);
        }
        let mut total = 0;
        for start in &mut self.starts {
            let size = *start;
            *start = total;
            total += size;
        }
        self.values = vec![0.0; total as usize * self.widths.len()];
        self.rows = vec![NO_CELL; total as usize];
    }

    fn gather(&mut self, table: &dyn Table, first: usize, end: usize, cells: &[u32]) {
        let columns = self.widths.len();
        let marked = std::mem::take(&mut self.marked);
        let block_of = std::mem::take(&mut self.block_of);
        let mut next = first;
        while next < end {
            let rows = next..(next + CHUNK).min(end);
            next = rows.end;
            let wanted = |code: u32| code != NO_CELL && marked[block_of[code as usize] as usize];
            if !cells[rows.clone()].iter().any(|&code| wanted(code)) {
                continue;
            }
            let mut values: [&[f64]; MOST_COLUMNS] = [&[]; MOST_COLUMNS];
            for (at, (values, room)) in values.iter_mut().zip(&mut self.rooms).enumerate() {
                *values = column_of(table, at, rows.clone(), room);
            }
            for row in rows.clone() {
                let code = cells[row];
                if !wanted(code) {
                    continue;
                }
                let block = block_of[code as usize] as usize;
                let part = Part::of(&self.starts, block, columns);
                let filled = self.filled[block] as usize;
                self.filled[block] += 1;
                self.rows[part.first + filled] = row as u32;
                for (values, place) in values[..columns].iter().zip(part.places(filled)) {
                    self.values[place] = values[row - rows.start];
                }
            }
        }
        self.marked = marked;
        self.block_of = block_of;
    }

    /// Rows within half a width on every channel, up to [`ENOUGH`].
    fn within(&self, row: &[f64]) -> u32 {
        let mut half = [0.0; MOST_COLUMNS];
        for (half, width) in half.iter_mut().zip(&self.widths) {
            *half = 0.5 * width;
        }
        let mut count = 0;
        self.each_block(row, 0.5, |code| {
            if count < ENOUGH {
                let part = self.part(code as usize);
                count += part.near(&self.values, row, &half);
            }
        });
        count.min(ENOUGH)
    }

    /// Whether enough other passes come within one width on every channel.
    fn is_revisited(&self, row: &[f64], number: u32) -> bool {
        let mut others = Vec::new();
        self.each_block(row, 1.0, |code| {
            let part = self.part(code as usize);
            for (at, &other) in self.rows[part.first..part.end].iter().enumerate() {
                let far = other.abs_diff(number) > PASS_GAP;
                let mut pairs = part.places(at).map(|place| self.values[place]).zip(row).zip(&self.widths);
                if far && pairs.all(|((a, b), width)| (a - b).abs() <= *width) {
                    others.push(other);
                }
            }
        });
        others.sort_unstable();
        let seams = others.windows(2).filter(|pair| pair[1] - pair[0] > PASS_GAP).count();
        !others.is_empty() && 1 + seams >= PASSES
    }

    /// Where a block's rows lie among those gathered.
    fn part(&self, block: usize) -> Part {
        Part::of(&self.starts, block, self.widths.len())
    }
}

/// The gathered rows of one block: their values stand column by column, so that several rows are
/// compared at once.
#[derive(Clone, Copy, Debug)]
struct Part {
    first: usize,
    end: usize,
    columns: usize,
}

impl Part {
    fn of(starts: &[u32], block: usize, columns: usize) -> Self {
        Self { first: starts[block] as usize, end: starts[block + 1] as usize, columns }
    }

    /// Places of the values of the block's row of this number, column by column.
    fn places(self, row: usize) -> impl Iterator<Item = usize> {
        let rows = (self.end - self.first).max(1);
        (self.first * self.columns + row..self.end * self.columns).step_by(rows)
    }

    /// Rows of the block within half a width of `row` on every channel.
    fn near(self, values: &[f64], row: &[f64], half: &[f64; MOST_COLUMNS]) -> u32 {
        const LANES: usize = 8;
        let rows = self.end - self.first;
        let values = &values[self.first * self.columns..self.end * self.columns];
        let mut count = 0;
        let mut from = 0;
        while from < rows {
            let lanes = (rows - from).min(LANES);
            // By how much each row is too far away on the worst channel.
            let mut beyond = [0.0_f64; LANES];
            for (axis, (middle, half)) in row.iter().zip(half).enumerate() {
                let others = &values[axis * rows + from..][..lanes];
                for (beyond, other) in beyond.iter_mut().zip(others) {
                    let distance = (other - middle).abs() - half;
                    *beyond = if distance > *beyond { distance } else { *beyond };
                }
            }
            count += beyond[..lanes].iter().map(|&beyond| u32::from(beyond <= 0.0)).sum::<u32>();
            from += lanes;
        }
        count
    }
}
