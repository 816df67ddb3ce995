//! A table of the occupied cells: their keys, numbered, with the rows that each holds.
//!
//! Open addressing with a multiplicative hash; its contents never depend on its capacity.

/// The key of a row that misses a value: it lies in no cell.
pub(super) const NO_KEY: u64 = u64::MAX;

/// The code of a row that lies in no cell.
pub const NO_CELL: u32 = u32::MAX;

/// A key's hash; its high bits spread neighbouring keys, and two keys never have the same.
pub(super) fn hash(key: u64) -> u64 {
    // The golden ratio.
    key.wrapping_mul(0x9e37_79b9_7f4a_7c15)
}

/// Rows whose slots are read ahead.
const AHEAD: usize = 1024;

/// Keys of occupied cells, numbered in the order of first sight, with their counts.
///
/// A slot holds the cell's number only, and as much of its key's hash as there is room for: so the table stays small
/// enough for a processor's cache, the key of another cell is hardly ever looked at, and what belongs to cells that
/// were seen one after another stands side by side.
#[derive(Clone, Debug)]
pub(super) struct Cells {
    /// Number of the cell plus one in the low bits, part of the hash above them; 0 for an empty slot.
    slots: Vec<u32>,
    /// Bits of a slot that hold a number; one less than the slots.
    mask: u32,
    keys: Vec<u64>,
    counts: Vec<u32>,
}

impl Cells {
    /// An empty table with room for this many cells.
    pub(super) fn with_room(cells: usize) -> Self {
        let capacity = (cells.max(64) * 2).next_power_of_two();
        Self {
            slots: vec![0; capacity],
            mask: capacity as u32 - 1,
            keys: Vec::with_capacity(cells),
            counts: Vec::with_capacity(cells),
        }
    }

    /// Number of occupied cells.
    pub(super) fn len(&self) -> usize {
        self.keys.len()
    }

    /// Counts one row per key in its cell and gives the cells' numbers; [`NO_CELL`] for a row without a key.
    ///
    /// What the slots hold is read for many rows before any is used: a processor then waits for memory once
    /// for several of them, which is what counting costs where most rows have a cell of their own.
    pub(super) fn add_all(&mut self, keys: &[u64], codes: &mut [u32]) {
        for (keys, codes) in keys.chunks(AHEAD).zip(codes.chunks_mut(AHEAD)) {
            for (&key, code) in keys.iter().zip(&mut *codes) {
                let (place, tag) = self.place(key);
                let slot = self.slots[place];
                // A slot that holds a cell keeps it; an empty one may have been filled when it is used.
                *code = if slot & !self.mask == tag { (slot & self.mask).wrapping_sub(1) } else { NO_CELL };
            }
            for (&key, code) in keys.iter().zip(codes) {
                let cell = *code as usize;
                if self.keys.get(cell) == Some(&key) {
                    self.counts[cell] += 1;
                } else {
                    *code = if key == NO_KEY { NO_CELL } else { self.add(key) };
                }
            }
        }
    }

    /// Counts one row in the cell and gives the cell's number.
    pub(super) fn add(&mut self, key: u64) -> u32 {
        let (mut place, tag) = self.place(key);
        loop {
            let slot = self.slots[place];
            if slot == 0 {
                return self.begin(key, place, tag);
            }
            let cell = (slot & self.mask) - 1;
            if slot & !self.mask == tag && self.keys[cell as usize] == key {
                self.counts[cell as usize] += 1;
                return cell;
            }
            place = (place + 1) & self.mask as usize;
        }
    }

    /// Begins a cell with one row at an empty slot.
    fn begin(&mut self, key: u64, place: usize, tag: u32) -> u32 {
        self.keys.push(key);
        self.counts.push(1);
        self.slots[place] = tag | self.keys.len() as u32;
        if self.keys.len() * 2 > self.slots.len() {
            self.grow();
        }
        self.keys.len() as u32 - 1
    }

    /// The number of the cell with this key.
    pub(super) fn find(&self, key: u64) -> Option<u32> {
        let (mut place, tag) = self.place(key);
        loop {
            let slot = self.slots[place];
            if slot == 0 {
                return None;
            }
            let cell = (slot & self.mask) - 1;
            if slot & !self.mask == tag && self.keys[cell as usize] == key {
                return Some(cell);
            }
            place = (place + 1) & self.mask as usize;
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

    /// The slot at which a key is looked for first, and the part of its hash that slots hold.
    fn place(&self, key: u64) -> (usize, u32) {
        let hash = hash(key);
        let bits = self.slots.len().trailing_zeros();
        (((hash >> (64 - bits)) as u32 & self.mask) as usize, ((hash << bits) >> 32) as u32 & !self.mask)
    }

    #[cold]
    fn grow(&mut self) {
        let capacity = self.slots.len() * 2;
        self.slots.clear();
        self.slots.resize(capacity, 0);
        self.mask = capacity as u32 - 1;
        for (cell, &key) in self.keys.iter().enumerate() {
            let (mut place, tag) = self.place(key);
            while self.slots[place] != 0 {
                place = (place + 1) & self.mask as usize;
            }
            self.slots[place] = tag | (cell as u32 + 1);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::math::random::Random;

    #[test]
    fn cells_are_numbered_by_first_sight_and_hold_their_rows() {
        let mut random = Random::new(7);
        // Few cells with many rows, and rows that are nearly all alone.
        for most in [1.0, 50.0, 3000.0, 1e12] {
            let keys: Vec<u64> = (0..9000)
                .map(|row| if row % 97 == 5 { NO_KEY } else { (most * random.unit()) as u64 })
                .collect();
            let mut numbers: BTreeMap<u64, u32> = BTreeMap::new();
            let mut expected = Vec::new();
            for &key in &keys {
                let next = numbers.len() as u32;
                expected.push(if key == NO_KEY { NO_CELL } else { *numbers.entry(key).or_insert(next) });
            }
            for (piece, room) in [(1, 0), (100, 64), (4096, 9000)] {
                let mut cells = Cells::with_room(room);
                let mut codes = vec![0; keys.len()];
                for (keys, codes) in keys.chunks(piece).zip(codes.chunks_mut(piece)) {
                    cells.add_all(keys, codes);
                }
                assert_eq!(codes, expected);
                assert_eq!(cells.len(), numbers.len());
                assert!(numbers.iter().all(|(key, number)| cells.find(*key) == Some(*number)));
                assert_eq!(cells.find(2_000_000_000_000), None);
                let mut counts = vec![0; numbers.len()];
                for &code in expected.iter().filter(|&&code| code != NO_CELL) {
                    counts[code as usize] += 1;
                }
                assert_eq!(cells.counts(), counts);
            }
        }
    }
}
