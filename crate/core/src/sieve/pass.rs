//! One grid's count of all rows.

use super::cells::{Cells, NO_CELL};
use super::grid::Grid;
use super::parted::{self, Parted};
use super::table::{MOST_COLUMNS, Table, column_of};

/// Rows that are keyed at a time.
pub(super) const CHUNK: usize = 1024;

/// Rows above which it may pay to deal them into parts.
const LONG: usize = 262_144;
/// Rows of a long log after which it is seen whether it pays.
const LOOK: usize = 16 * CHUNK;

/// Counts rows into cells, chunk by chunk.
///
/// What it finds does not depend on the way it goes.
#[derive(Clone, Debug)]
pub(super) struct Pass {
    pub(super) grid: Grid,
    way: Way,
    rooms: Vec<Vec<f64>>,
    keys: Vec<u64>,
    next: usize,
    /// Whether rows may be dealt into parts.
    may_part: bool,
}

/// How cells are found.
#[derive(Clone, Debug)]
enum Way {
    /// In one table.
    Table(Cells),
    /// Part by part: most rows have a cell of their own.
    Parts(Parted),
    /// It was part by part: the rows in each cell.
    Counts(Vec<u32>),
    /// It was part by part: rows that are not alone, and how many others are in their cells.
    Company(Vec<(u32, u32)>),
}

impl Pass {
    /// A pass in one table with room for so many cells.
    pub(super) fn new(grid: Grid, room: usize) -> Self {
        Self::by(grid, Way::Table(Cells::with_room(room)))
    }

    /// A pass in one table with room for so many cells, whatever turns out.
    pub(super) fn in_one_table(grid: Grid, room: usize) -> Self {
        Self { may_part: false, ..Self::new(grid, room) }
    }

    /// A pass over another grid, in the way that turned out right for this one.
    pub(super) fn again(&self, grid: Grid, rows: usize) -> Self {
        match &self.way {
            Way::Table(cells) => Self::new(grid, cells.len()),
            Way::Counts(counts) if counts.len() < rows / 2 => Self::in_one_table(grid, counts.len()),
            _ => match Parted::new(rows, grid.size(), false) {
                Some(parts) => Self::by(grid, Way::Parts(parts)),
                None => Self::new(grid, 64),
            },
        }
    }

    fn by(grid: Grid, way: Way) -> Self {
        let rooms = vec![vec![0.0; CHUNK]; grid.columns()];
        Self { grid, way, rooms, keys: vec![0; CHUNK], next: 0, may_part: true }
    }

    /// Whether each row's cell is noted: not in a pass that deals rows into parts because another one did.
    pub(super) fn notes_cells(&self) -> bool {
        !matches!(&self.way, Way::Parts(parts) if !parts.notes_firsts())
    }

    /// Does at most the given number of rows' work; whether all is done. Each row's cell is noted, in the order of first
    /// sight, if at all; **shape** `codes` is as long as the table then.
    pub(super) fn step(&mut self, table: &dyn Table, most: usize, codes: &mut [u32]) -> bool {
        let all = table.rows();
        let end = (self.next + most.max(1)).min(all);
        while self.next < end {
            let rows = self.next..(self.next + CHUNK).min(end);
            let count = rows.len();
            let axes = self.rooms.len();
            let mut columns: [&[f64]; MOST_COLUMNS] = [&[]; MOST_COLUMNS];
            for (at, (column, room)) in columns.iter_mut().zip(&mut self.rooms).enumerate() {
                *column = column_of(table, at, rows.clone(), room);
            }
            self.grid.keys(&columns[..axes], &mut self.keys[..count]);
            self.next += count;
            match &mut self.way {
                Way::Table(cells) => {
                    cells.add_all(&self.keys[..count], &mut codes[rows]);
                    let looked = self.may_part && all > LONG && (LOOK..LOOK + CHUNK).contains(&self.next);
                    let alone = looked && cells.len() > LOOK / 64 * 63;
                    if let Some(parts) = alone.then(|| Parted::new(all, self.grid.size(), true)).flatten() {
                        self.way = Way::Parts(parts);
                        self.next = 0;
                    }
                }
                Way::Parts(parts) => {
                    let firsts = codes.get_mut(rows.clone()).unwrap_or_default();
                    parts.deal(rows.start, &self.keys[..count], firsts);
                }
                Way::Counts(_) | Way::Company(_) => {}
            }
        }
        if self.next < all {
            return false;
        }
        if let Way::Parts(parts) = &mut self.way {
            if !parts.count(most, codes) {
                return false;
            }
            self.way = match parts.company() {
                Some(company) => Way::Company(company),
                None => Way::Counts(parted::number(codes)),
            };
        }
        true
    }

    /// Rows in each cell, by its number, where cells were noted; call when all is done.
    pub(super) fn counts(&self) -> &[u32] {
        match &self.way {
            Way::Table(cells) => cells.counts(),
            Way::Counts(counts) => counts,
            Way::Parts(_) | Way::Company(_) => &[],
        }
    }

    /// Adds what every row's cell counts; a row in no cell gets `none`, which it has already if this pass came after
    /// another one.
    pub(super) fn add_counts(&self, codes: &[u32], none: u32, sums: &mut [u32]) {
        if let Way::Company(company) = &self.way {
            sums.iter_mut().for_each(|sum| *sum += u32::from(*sum != none));
            company.iter().for_each(|&(row, others)| sums[row as usize] += others);
            return;
        }
        let by_cell = self.counts();
        for (sum, &code) in sums.iter_mut().zip(codes) {
            *sum = if code == NO_CELL { none } else { *sum + by_cell[code as usize] };
        }
    }

    /// The same, no longer held where nothing else needs them.
    pub(super) fn take_counts(&mut self) -> Vec<u32> {
        match &mut self.way {
            Way::Counts(counts) => std::mem::take(counts),
            _ => self.counts().to_vec(),
        }
    }

    /// The occupied cells with their keys, where they were counted in one table.
    pub(super) fn into_cells(self) -> Option<(Grid, Cells)> {
        match self.way {
            Way::Table(cells) => Some((self.grid, cells)),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::grid::Span;
    use super::super::table::Slices;
    use super::*;
    use crate::math::random::Random;

    /// Two columns of so many rows: apart, then together from `apart` on, with a gap here and there.
    fn columns(rows: usize, apart: usize) -> [Vec<f64>; 2] {
        let mut random = Random::new(12);
        [0, 1].map(|column| {
            let value = |row: usize| match (row % 5003, row < apart) {
                (17, _) if column == 1 => f64::NAN,
                (_, true) => 20_000.0 * random.unit(),
                (_, false) => 9.0 * random.unit(),
            };
            (0..rows).map(value).collect()
        })
    }

    #[test]
    fn the_way_changes_nothing() {
        let rows = LONG + 5000;
        for (apart, dealt) in [(rows, true), (40_000, true), (10_000, false)] {
            let columns = columns(rows, apart);
            let slices = [&columns[0][..], &columns[1][..]];
            let table = Slices(&slices);
            let spans = slices.map(|column| {
                let mut span = Span::EMPTY;
                span.include(column);
                span
            });
            let grid = |offset| Grid::new(&spans, &[1.0, 1.0], offset);
            let mut codes = [vec![0; rows], vec![0; rows]];
            let mut passes = [Pass::new(grid(0.0), 64), Pass::in_one_table(grid(0.0), 64)];
            for (pass, codes) in passes.iter_mut().zip(&mut codes) {
                while !pass.step(&table, 50_000, codes) {}
            }
            assert_eq!(codes[0], codes[1]);
            assert_eq!(passes[0].counts(), passes[1].counts());
            let mut sums = [vec![3; rows], vec![3; rows]];
            for ((pass, codes), sums) in passes.iter().zip(&codes).zip(&mut sums) {
                pass.add_counts(codes, 9, sums);
                let mut again = pass.again(grid(0.25), rows);
                let mut codes = vec![0; rows];
                while !again.step(&table, 70_000, &mut codes) {}
                again.add_counts(&codes, 9, sums);
            }
            assert_eq!(sums[0], sums[1]);
            assert_eq!(sums[0][17], 9);
            let cells = passes.map(Pass::into_cells);
            assert_eq!([cells[0].is_none(), cells[1].is_none()], [dealt, false]);
        }
    }
}
