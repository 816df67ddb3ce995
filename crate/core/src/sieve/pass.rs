//! One grid's count of all rows.

use super::cells::Cells;
use super::grid::Grid;
use super::table::{MOST_COLUMNS, Table, column_of};

/// Rows that are keyed at a time.
pub(super) const CHUNK: usize = 1024;

/// Counts rows into cells, chunk by chunk.
#[derive(Clone, Debug)]
pub(super) struct Pass {
    pub(super) grid: Grid,
    pub(super) cells: Cells,
    rooms: Vec<Vec<f64>>,
    keys: Vec<u64>,
    next: usize,
}

impl Pass {
    pub(super) fn new(grid: Grid, room: usize) -> Self {
        let rooms = vec![vec![0.0; CHUNK]; grid.columns()];
        Self { grid, cells: Cells::with_room(room), rooms, keys: vec![0; CHUNK], next: 0 }
    }

    /// Counts at most the given number of further rows, noting each row's cell; whether all are done.
    pub(super) fn step(&mut self, table: &dyn Table, most: usize, codes: &mut [u32]) -> bool {
        let end = (self.next + most.max(1)).min(table.rows());
        while self.next < end {
            let rows = self.next..(self.next + CHUNK).min(end);
            let count = rows.len();
            let axes = self.rooms.len();
            let mut columns: [&[f64]; MOST_COLUMNS] = [&[]; MOST_COLUMNS];
            for (at, (column, room)) in columns.iter_mut().zip(&mut self.rooms).enumerate() {
                *column = column_of(table, at, rows.clone(), room);
            }
            self.grid.keys(&columns[..axes], &mut self.keys[..count]);
            self.cells.add_all(&self.keys[..count], &mut codes[rows]);
            self.next += count;
        }
        self.next >= table.rows()
    }
}
