//! Occupied cells: which box of a grid a row lies in, and a table of the boxes that hold rows.
//!
//! The grid is never stored. A row's bins along the axes are packed into one 64-bit key in mixed radix; where
//! the grid is too large for that, prefixes of the axes are renumbered through tables of their own first.
//! The table is open addressing with a multiplicative hash; its contents never depend on its capacity.

use super::table::{MOST_COLUMNS, Table, column_of};

/// Rows that are keyed at a time.
pub(super) const CHUNK: usize = 4096;

/// The key of a row that misses a value: it lies in no cell.
const NO_KEY: u64 = u64::MAX;

/// The code of a row that lies in no cell.
pub const NO_CELL: u32 = u32::MAX;

/// Keys of occupied cells, numbered in the order of first sight, with their counts.
///
/// A slot holds the cell's number only: so the table stays small enough for a processor's cache, and what
/// belongs to cells that were seen one after another stands side by side.
#[derive(Clone, Debug)]
pub(super) struct Cells {
    /// Number of the cell plus one; 0 for an empty slot.
    slots: Vec<u32>,
    shift: u32,
    keys: Vec<u64>,
    counts: Vec<u32>,
}

impl Cells {
    /// An empty table with room for this many cells.
    pub(super) fn with_room(cells: usize) -> Self {
        let capacity = (cells.max(64) * 2).next_power_of_two();
        Self {
            slots: vec![0; capacity],
            shift: 64 - capacity.trailing_zeros(),
            keys: Vec::with_capacity(cells),
            counts: Vec::with_capacity(cells),
        }
    }

    /// Number of occupied cells.
    pub(super) fn len(&self) -> usize {
        self.keys.len()
    }

    /// Counts one row in the cell and gives the cell's number.
    pub(super) fn add(&mut self, key: u64) -> u32 {
        let mask = self.slots.len() - 1;
        let mut place = self.place(key);
        loop {
            let code = self.slots[place & mask];
            if code == 0 {
                return self.begin(key, place & mask);
            }
            let cell = code as usize - 1;
            if self.keys[cell] == key {
                self.counts[cell] += 1;
                return code - 1;
            }
            place += 1;
        }
    }

    /// Begins a cell with one row at an empty slot.
    #[cold]
    fn begin(&mut self, key: u64, place: usize) -> u32 {
        self.keys.push(key);
        self.counts.push(1);
        self.slots[place] = self.keys.len() as u32;
        if self.keys.len() * 2 > self.slots.len() {
            self.grow();
        }
        self.keys.len() as u32 - 1
    }

    /// The number of the cell with this key.
    pub(super) fn find(&self, key: u64) -> Option<u32> {
        let mask = self.slots.len() - 1;
        let mut place = self.place(key);
        loop {
            let code = self.slots[place & mask];
            if code == 0 {
                return None;
            }
            if self.keys[code as usize - 1] == key {
                return Some(code - 1);
            }
            place += 1;
        }
    }

    /// Counts by cell number.
    pub(super) fn counts(&self) -> &[u32] {
        &self.counts
    }

    /// Keys by cell number.
    pub(super) fn keys(&self) -> &[u64] {
        &self.keys
    }

    fn place(&self, key: u64) -> usize {
        // The golden ratio spreads neighbouring keys over the table.
        (key.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> self.shift) as usize
    }

    fn grow(&mut self) {
        let capacity = (self.slots.len() * 2).max(128);
        self.slots.clear();
        self.slots.resize(capacity, 0);
        self.shift = 64 - capacity.trailing_zeros();
        let mask = capacity - 1;
        for (cell, &key) in self.keys.iter().enumerate() {
            let mut place = self.place(key);
            while self.slots[place & mask] != 0 {
                place += 1;
            }
            self.slots[place & mask] = cell as u32 + 1;
        }
    }
}

/// Range of a column's values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Span {
    pub(super) low: f64,
    pub(super) high: f64,
    /// Whether a value was missing.
    pub(super) gaps: bool,
}

impl Span {
    pub(super) const EMPTY: Self = Self { low: f64::INFINITY, high: f64::NEG_INFINITY, gaps: false };

    /// Widens the range by the finite values given.
    pub(super) fn include(&mut self, values: &[f64]) {
        // Four lanes, so that the comparisons do not wait for each other.
        let mut low = [self.low; 4];
        let mut high = [self.high; 4];
        let mut gaps = [false; 4];
        let mut one = |lane: usize, value: f64| {
            let known = value.is_finite();
            gaps[lane] |= !known;
            low[lane] = if known && value < low[lane] { value } else { low[lane] };
            high[lane] = if known && value > high[lane] { value } else { high[lane] };
        };
        let mut chunks = values.chunks_exact(4);
        for four in &mut chunks {
            for (lane, &value) in four.iter().enumerate() {
                one(lane, value);
            }
        }
        for &value in chunks.remainder() {
            one(0, value);
        }
        for lane in 0..4 {
            self.low = if low[lane] < self.low { low[lane] } else { self.low };
            self.high = if high[lane] > self.high { high[lane] } else { self.high };
            self.gaps |= gaps[lane];
        }
    }
}

/// One axis of the grid.
#[derive(Clone, Copy, Debug)]
struct Axis {
    /// Cells per unit.
    per_unit: f64,
    /// Place of the origin plus the first cell's number, in cells.
    first: f64,
    /// Number of cells from the smallest to the largest value.
    bins: u64,
    /// Number of the last cell.
    last: u32,
    /// Whether a value may be missing.
    gaps: bool,
}

/// 2^52: numbers from here to its double are whole.
const WHOLE: f64 = 4_503_599_627_370_496.0;
const WHOLE_BITS: u64 = 1 << 52;

impl Axis {
    /// Adds the bins of values to keys, which are binary64 numbers here: whole ones below 2^52, so that
    /// every step is exact. Processors do several of these at once, unlike conversions to integers.
    fn add_to(&self, keys: &mut [u64], values: &[f64]) {
        let (per_unit, first, bins) = (self.per_unit, self.first, self.bins as f64);
        let last = f64::from(self.last);
        for (key, &value) in keys.iter_mut().zip(values) {
            let place = value * per_unit - first;
            // As a saturating cast to an integer and a limit would do; NaN gives 0.
            let place = if place > 0.0 { place } else { 0.0 };
            let place = if place < last { place } else { last };
            let nearest = (place + WHOLE) - WHOLE;
            let bin = nearest - if nearest > place { 1.0 } else { 0.0 };
            *key = (f64::from_bits(*key) * bins + bin).to_bits();
        }
    }
}

/// Turns rows into keys.
#[derive(Clone, Debug)]
pub(super) struct Grid {
    axes: Vec<Axis>,
    /// Renumbering of prefixes, one table per axis after the first, where keys do not fit 64 bits.
    prefixes: Vec<Cells>,
    packs: bool,
    /// Whether keys stay below 2^52.
    small: bool,
}

impl Grid {
    /// A grid of cells of these widths whose origin lies `offset` cell widths above 0 on every axis.
    pub(super) fn new(spans: &[Span], widths: &[f64], offset: f64) -> Self {
        let axes: Vec<Axis> = spans
            .iter()
            .zip(widths)
            .map(|(span, &width)| {
                let per_unit = 1.0 / width;
                if span.low > span.high {
                    return Axis { per_unit, first: 0.0, bins: 1, last: 0, gaps: true };
                }
                let number = |value: f64| libm::floor(value * per_unit - offset);
                let first = number(span.low);
                let last = (number(span.high) - first).clamp(0.0, f64::from(u32::MAX - 2)) as u32;
                Axis { per_unit, first: first + offset, bins: u64::from(last) + 1, last, gaps: span.gaps }
            })
            .collect();
        Self::of(axes)
    }

    fn of(axes: Vec<Axis>) -> Self {
        let size = axes.iter().try_fold(1_u64, |size, axis| size.checked_mul(axis.bins));
        let packs = size.is_some_and(|size| size < NO_KEY);
        let prefixes =
            if packs { Vec::new() } else { vec![Cells::with_room(64); axes.len().saturating_sub(2)] };
        let small = size.is_some_and(|size| size < WHOLE_BITS);
        Self { axes, prefixes, packs, small }
    }

    /// The grid whose bins are this one's, halved so many times.
    pub(super) fn joined(&self, halvings: u32) -> Self {
        let axes = self.axes.iter().map(|axis| {
            let last = axis.last >> halvings;
            Axis { bins: u64::from(last) + 1, last, ..*axis }
        });
        Self::of(axes.collect())
    }

    /// Bins of every occupied cell, by cell number, one after another.
    pub(super) fn bins_of(&self, cells: &Cells) -> Vec<u32> {
        let columns = self.axes.len();
        let mut bins = vec![0; cells.len() * columns];
        let prefixes: Vec<&[u64]> = self.prefixes.iter().map(Cells::keys).collect();
        for (&key, bins) in cells.keys().iter().zip(bins.chunks_exact_mut(columns)) {
            let mut key = key;
            for (axis, bin) in bins.iter_mut().enumerate().rev() {
                if self.packs {
                    let radix = self.axes[axis].bins;
                    *bin = (key % radix) as u32;
                    key /= radix;
                } else {
                    *bin = key as u32;
                    key >>= 32;
                    if axis >= 2 {
                        key = prefixes[axis - 2][key as usize];
                    }
                }
            }
        }
        bins
    }

    /// The key of a cell, which becomes known.
    pub(super) fn add_key(&mut self, bins: &[u32]) -> u64 {
        if self.packs {
            return self.packed(bins);
        }
        let mut all = [0; MOST_COLUMNS];
        all[..bins.len()].copy_from_slice(bins);
        self.renumbered(&all)
    }

    fn packed(&self, bins: &[u32]) -> u64 {
        self.axes.iter().zip(bins).fold(0, |key, (axis, &bin)| key * axis.bins + u64::from(bin))
    }

    /// Bin of a value along an axis, clamped to the grid; `NaN` gives 0.
    pub(super) fn bin(&self, axis: usize, value: f64) -> u32 {
        let axis = &self.axes[axis];
        // Truncation is floor here, since the smallest value lies in bin 0; the cast saturates.
        ((value * axis.per_unit - axis.first) as u32).min(axis.last)
    }

    /// Keys of up to [`CHUNK`] rows; a row that misses a value gets none.
    pub(super) fn keys(&mut self, columns: &[&[f64]], keys: &mut [u64]) {
        keys.fill(0);
        if self.small {
            for (axis, column) in self.axes.iter().zip(columns) {
                axis.add_to(keys, column);
            }
            for key in keys.iter_mut() {
                *key = (f64::from_bits(*key) + WHOLE).to_bits() & (WHOLE_BITS - 1);
            }
        } else if self.packs {
            for (axis, column) in self.axes.iter().zip(columns) {
                let (per_unit, first, bins, last) = (axis.per_unit, axis.first, axis.bins, axis.last);
                for (key, &value) in keys.iter_mut().zip(*column) {
                    *key = *key * bins + u64::from(((value * per_unit - first) as u32).min(last));
                }
            }
        } else {
            for (row, key) in keys.iter_mut().enumerate() {
                let mut bins = [0_u32; MOST_COLUMNS];
                for (axis, column) in columns.iter().enumerate() {
                    bins[axis] = self.bin(axis, column[row]);
                }
                *key = self.renumbered(&bins);
            }
        }
        for (column, _) in columns.iter().zip(&self.axes).filter(|pair| pair.1.gaps) {
            for (key, value) in keys.iter_mut().zip(*column) {
                if !value.is_finite() {
                    *key = NO_KEY;
                }
            }
        }
    }

    fn renumbered(&mut self, bins: &[u32; MOST_COLUMNS]) -> u64 {
        let mut key = u64::from(bins[0]);
        for (before, &bin) in bins[1..self.axes.len()].iter().enumerate() {
            key = (key << 32) | u64::from(bin);
            if let Some(prefix) = self.prefixes.get_mut(before) {
                key = u64::from(prefix.add(key));
            }
        }
        key
    }

    /// The key of a cell, if any row could lie in it.
    pub(super) fn key_of(&self, bins: &[u32]) -> Option<u64> {
        if self.packs {
            return Some(self.packed(bins));
        }
        let mut key = u64::from(bins[0]);
        for (before, &bin) in bins[1..self.axes.len()].iter().enumerate() {
            key = (key << 32) | u64::from(bin);
            if let Some(prefix) = self.prefixes.get(before) {
                key = u64::from(prefix.find(key)?);
            }
        }
        Some(key)
    }
}

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
        let rooms = vec![vec![0.0; CHUNK]; grid.axes.len()];
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
            for (key, code) in self.keys[..count].iter().zip(&mut codes[rows]) {
                *code = if *key == NO_KEY { NO_CELL } else { self.cells.add(*key) };
            }
            self.next += count;
        }
        self.next >= table.rows()
    }
}
