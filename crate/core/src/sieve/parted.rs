//! Counting rows most of which have a cell of their own.
//!
//! One table of so many cells lies far from the processor, and every row waits for it. So rows are dealt into parts by
//! their keys' hashes first, each small enough to be counted near the processor, part after part. In a part two bits for
//! each hash tell which rows are alone beyond doubt; only the others are looked up.

use super::cells::{Cells, NO_CELL, NO_KEY, hash};

/// Rows that a part holds, if they spread evenly.
const PART: usize = 32_768;
/// Places for hashes in a part: in so many hardly two of its cells share one.
const PLACES: usize = 16 * PART;
/// Places whose two bits a word holds.
const IN_WORD: usize = 32;

/// Rows dealt into parts.
#[derive(Clone, Debug)]
pub(super) struct Parted {
    /// Per part its rows: the number of each in the low bits, above it what its part leaves of the hash of its key.
    parts: Vec<Vec<u64>>,
    /// Rows that are not alone and how many others are in the cell, where first rows are not asked for.
    company: Option<Vec<(u32, u32)>>,
    /// The bits of a word that hold a row's number.
    row: u64,
    /// Bits of a word that no key needs.
    free: u32,
    /// Parts that are counted.
    counted: usize,
    /// Two bits a place: whether a row of the part has such a hash, and whether several have.
    seen: Vec<u64>,
    /// Room for the rows of a part that may not be alone.
    doubtful: Vec<u64>,
}

impl Parted {
    /// Parts for so many rows with keys below `keys`; `None` where a key and a row's number do not fit one word.
    ///
    /// What is found of each row is the first one in its cell, for [`number`], or else of some rows [`Parted::company`].
    pub(super) fn new(rows: usize, keys: u64, firsts: bool) -> Option<Self> {
        let parts = (rows / PART).next_power_of_two().max(2);
        let free = keys.leading_zeros();
        let row = (rows as u64).next_power_of_two() - 1;
        if free == 0 || row.count_ones() > free + parts.trailing_zeros() {
            return None;
        }
        let each = rows / parts + rows / parts / 16;
        Some(Self {
            parts: (0..parts).map(|_| Vec::with_capacity(each)).collect(),
            company: (!firsts).then(Vec::new),
            row,
            free,
            counted: 0,
            seen: vec![0; PLACES / IN_WORD],
            doubtful: Vec::new(),
        })
    }

    /// Whether the first row in each row's cell is what is found.
    pub(super) fn notes_firsts(&self) -> bool {
        self.company.is_none()
    }

    /// Deals further rows by their keys, the first of them numbered `row`.
    ///
    /// **Shape** `firsts` is as long as `keys` where first rows are noted, else it is not looked at.
    pub(super) fn deal(&mut self, row: usize, keys: &[u64], firsts: &mut [u32]) {
        if self.notes_firsts() {
            debug_assert_eq!(keys.len(), firsts.len());
            for ((row, &key), first) in (row as u32..).zip(keys).zip(firsts) {
                *first = if key == NO_KEY { NO_CELL } else { row };
            }
        }
        let bits = self.parts.len().trailing_zeros();
        for (row, &key) in (row as u64..).zip(keys).filter(|dealt| *dealt.1 != NO_KEY) {
            let hash = hash(key << self.free);
            self.parts[(hash >> (u64::BITS - bits)) as usize].push(hash << bits | row);
        }
    }

    /// Counts at least one part and about so many rows; whether all is done.
    pub(super) fn count(&mut self, most: usize, firsts: &mut [u32]) -> bool {
        let mut done = 0;
        while done < most.max(1) && self.counted < self.parts.len() {
            let part = std::mem::take(&mut self.parts[self.counted]);
            done += part.len();
            let count = self.find_doubtful(&part);
            let (row, doubtful) = (self.row, &self.doubtful[..count]);
            let mut cells = Cells::with_room(count);
            let found = doubtful.iter().map(|dealt| ((dealt & row) as u32, cells.add(dealt & !row)));
            match &mut self.company {
                Some(company) => {
                    let found: Vec<_> = found.collect();
                    let others = |(row, cell): (u32, u32)| (row, cells.counts()[cell as usize] - 1);
                    company.extend(found.into_iter().map(others).filter(|others| others.1 > 0));
                }
                None => {
                    let mut seen = Vec::with_capacity(count);
                    for (row, cell) in found {
                        if cell as usize == seen.len() {
                            seen.push(row);
                        }
                        firsts[row as usize] = seen[cell as usize];
                    }
                }
            }
            self.counted += 1;
        }
        self.counted == self.parts.len()
    }

    /// What was found of rows that are not alone, where that was asked for: the row, and how many others its cell has.
    pub(super) fn company(&mut self) -> Option<Vec<(u32, u32)>> {
        self.company.take()
    }

    /// Finds the rows of a part that share a place with another, and gives their number.
    fn find_doubtful(&mut self, part: &[u64]) -> usize {
        self.seen.fill(0);
        let row = self.row;
        let place = |dealt: u64| {
            let place = ((dealt & !row) >> (u64::BITS - PLACES.trailing_zeros())) as usize;
            (place / IN_WORD, 2 * (place % IN_WORD))
        };
        for &dealt in part {
            let (word, bit) = place(dealt);
            let seen = self.seen[word];
            self.seen[word] = seen | (1 << bit) | ((seen >> bit & 1) << (bit + 1));
        }
        self.doubtful.resize(part.len().max(self.doubtful.len()), 0);
        let mut count = 0;
        for &dealt in part {
            let (word, bit) = place(dealt);
            self.doubtful[count] = dealt;
            count += (self.seen[word] >> (bit + 1) & 1) as usize;
        }
        count
    }
}

/// Numbers cells in the order of first sight; of each row `firsts` holds the first one in its cell and then the cell.
/// Gives the rows in each.
pub(super) fn number(firsts: &mut [u32]) -> Vec<u32> {
    let mut counts = Vec::with_capacity(firsts.len());
    for row in 0..firsts.len() {
        let first = firsts[row];
        if first as usize == row {
            firsts[row] = counts.len() as u32;
            counts.push(1);
        } else if first != NO_CELL {
            let cell = firsts[first as usize];
            firsts[row] = cell;
            counts[cell as usize] += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn parts_find_the_cells_that_one_table_finds() {
        let mut random = Random::new(9);
        let rows = 70_000;
        // Rows that are nearly all alone, cells of a few rows, few cells, and one.
        for (keys, gap) in [(1_u64 << 40, 0), (1 << 40, 97), (30_000, 11), (40, 0), (1, 0)] {
            let drawn: Vec<u64> = (0..rows)
                .map(|row| match row % 97 {
                    5 if gap == 97 => NO_KEY,
                    7 if gap == 97 => 12,
                    _ => ((keys as f64 * random.unit()) as u64).min(keys - 1),
                })
                .collect();
            let mut cells = Cells::with_room(64);
            let mut expected = vec![0; rows];
            cells.add_all(&drawn, &mut expected);
            for (firsts, piece) in [(true, 1024), (false, 1024), (true, rows), (false, 999)] {
                let mut parted = Parted::new(rows, keys, firsts).expect("keys and rows fit");
                let mut notes = vec![7; rows];
                for (at, (keys, notes)) in drawn.chunks(piece).zip(notes.chunks_mut(piece)).enumerate() {
                    parted.deal(at * piece, keys, notes);
                }
                while !parted.count(piece, &mut notes) {}
                if firsts {
                    assert_eq!(number(&mut notes), cells.counts());
                    assert_eq!(notes, expected);
                } else {
                    let others = |&cell: &u32| cells.counts().get(cell as usize).map_or(0, |count| count - 1);
                    let mut found = vec![0; rows];
                    parted.company().unwrap().iter().for_each(|&(row, others)| found[row as usize] = others);
                    assert_eq!(found, expected.iter().map(others).collect::<Vec<u32>>());
                }
            }
        }
    }

    #[test]
    fn rows_that_do_not_fit_a_word_with_their_keys_are_not_dealt() {
        // Four parts take two bits, the number of a row 17.
        let most = 1 << (64 - 17 + 2);
        assert!(Parted::new(100_000, most - 1, true).is_some());
        assert!(Parted::new(100_000, most, true).is_none());
        assert!(Parted::new(100_000, u64::MAX, true).is_none());
    }
}
