//! Records of nothing but numbers, many at a time.

#![allow(unsafe_code, reason = "loads whose places are checked together; record by record is the twin")]

use std::ops::Range;

use super::cell::is_in_range;
use super::digits::{NOUGHTS, number};
use super::number::parse_number;
use super::pairs::numbers;

/// Rows that are taken at once.
pub(super) const ROWS: usize = 64;

/// How the records are written.
#[derive(Clone, Copy, Debug)]
pub(super) struct Writing {
    pub(super) separator: u8,
    pub(super) decimal_mark: u8,
    pub(super) columns: usize,
}

/// What was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Taken {
    pub(super) rows: usize,
    /// How many ends they had.
    pub(super) ends: usize,
    /// The index after the last one.
    pub(super) next: usize,
    /// Whether a record that is not plain stopped it.
    pub(super) stopped: bool,
}

/// Takes records from `at` on as long as they are plain, at most [`ROWS`] of them. `ends` are
/// the places at which separators and line ends stand; the value of row `r` in column `c` is written
/// to `values[c * ROWS + r]`, which has room for one column more.
///
/// Two columns at a time, all rows of them before the next two: what a processor has to keep at hand
/// is little, and all fields of a column look alike to it.
#[inline(never)]
pub(super) fn take(text: &[u8], at: usize, ends: &[u32], writing: Writing, values: &mut [f64]) -> Taken {
    let Writing { separator, decimal_mark, columns } = writing;
    let nothing = Taken { rows: 0, ends: 0, next: at, stopped: true };
    let Some(line_end) = ends.get(columns.wrapping_sub(1)) else { return nothing };
    let returns = text.get(*line_end as usize) == Some(&b'\r');
    let stride = columns + usize::from(returns);
    let tried = ROWS.min(ends.len() / stride);
    let ends = ends.get(..tried * stride).unwrap_or_default();
    let (lowest, highest) =
        ends.iter().fold((u32::MAX, 0), |(low, high), &end| (low.min(end), high.max(end)));
    // Every load below is in front of an end, or of the quote there, or up to two places behind it.
    let inside = lowest >= 9 && (highest as usize) + 2 < text.len() && at < text.len();
    if !inside {
        return nothing;
    }
    let quoted = text.get(at) == Some(&b'"');
    let line_end = if returns { b'\r' } else { b'\n' };
    let mut rows = if returns { line_feeds(text, ends, stride) } else { tried };
    for (column, values) in values.chunks_mut(2 * ROWS).take(columns.div_ceil(2)).enumerate() {
        let column = 2 * column;
        let Some((low, high)) = values.split_first_chunk_mut::<ROWS>() else { return nothing };
        let Some(high) = high.first_chunk_mut::<ROWS>() else { return nothing };
        let ended = |column: usize| if column + 1 == columns { line_end } else { separator };
        let both = column + 1 < columns;
        let pair = Pair { column, stride, at, both, ended: [ended(column), ended(column + 1)], decimal_mark };
        let mut row = 0;
        loop {
            // SAFETY: `at` and the ends are places of the text with nine bytes in front of each end and two
            // behind it.
            row = unsafe {
                match (both, quoted) {
                    (true, false) => pair.take::<true, false>(text, ends, row..rows, low, high),
                    (true, true) => pair.take::<true, true>(text, ends, row..rows, low, high),
                    (false, false) => pair.take::<false, false>(text, ends, row..rows, low, high),
                    (false, true) => pair.take::<false, true>(text, ends, row..rows, low, high),
                }
            };
            // Longer numbers stop the lanes.
            if row == rows || !pair.take_longer(text, ends, row, quoted, low, high) {
                break;
            }
            row += 1;
        }
        rows = row;
    }
    let last = ends.get((rows * stride).wrapping_sub(1));
    Taken { rows, ends: rows * stride, next: last.map_or(at, |&end| end as usize + 1), stopped: rows < tried }
}

/// How many records end with a carriage return and a line feed behind it.
fn line_feeds(text: &[u8], ends: &[u32], stride: usize) -> usize {
    let whole = |record: &&[u32]| match record.last_chunk::<2>() {
        Some(&[carriage_return, feed]) => {
            feed == carriage_return + 1 && text.get(feed as usize) == Some(&b'\n')
        }
        None => false,
    };
    ends.chunks_exact(stride).take_while(whole).count()
}

/// Two columns that stand beside one another, or the last one alone.
struct Pair {
    column: usize,
    stride: usize,
    at: usize,
    both: bool,
    /// What ends a field of each.
    ended: [u8; 2],
    decimal_mark: u8,
}

impl Pair {
    /// Takes the values of rows as long as they are plain; tells in front of which it stopped.
    ///
    /// # Safety
    ///
    /// `at` and the ends are places of the text with nine bytes in front of each end and two behind it.
    #[inline(always)]
    unsafe fn take<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        rows: Range<usize>,
        low: &mut [f64; ROWS],
        high: &mut [f64; ROWS],
    ) -> usize {
        let quote = usize::from(QUOTED);
        let Self { stride, ended, decimal_mark, .. } = *self;
        let mut place = rows.start * self.stride + self.column;
        let mut start = self.start(ends, place);
        let (Some(low), Some(high)) = (low.get_mut(..rows.end), high.get_mut(..rows.end)) else {
            return rows.start;
        };
        for row in rows.clone() {
            // SAFETY: the place is one of the ends, and so is the one after it where there are two columns;
            // there is room for so many rows.
            unsafe {
                let first = *ends.get_unchecked(place) as usize;
                let second = if BOTH { *ends.get_unchecked(place + 1) as usize } else { first };
                let starts = [start + quote, first + 1 + quote];
                let one = word(text, starts[0], first - quote);
                let two = if BOTH { word(text, starts[1], second - quote) } else { one };
                let closed = |start: usize, end: usize| {
                    !QUOTED
                        || (*text.get_unchecked(start - 1) == b'"' && *text.get_unchecked(end - 1) == b'"')
                };
                if (one.before | two.before) >= 8
                    || *text.get_unchecked(first) != ended[0]
                    || !closed(starts[0], first)
                    || (BOTH && (*text.get_unchecked(second) != ended[1] || !closed(starts[1], second)))
                {
                    return row;
                }
                let found = numbers([one.characters, two.characters], [one.sign, two.sign], decimal_mark);
                let Some([one, two]) = found else { return row };
                *low.get_unchecked_mut(row) = one;
                *high.get_unchecked_mut(row) = two;
            }
            place += stride;
            // Behind the last row there may be no end.
            let Some(&end) = ends.get(place - 1) else { return row + 1 };
            start = end as usize + 1;
        }
        rows.end
    }

    /// Where the field starts whose end stands at a place among the ends.
    fn start(&self, ends: &[u32], place: usize) -> usize {
        if place == 0 { self.at } else { ends.get(place - 1).map_or(self.at, |&end| end as usize + 1) }
    }

    /// Takes the values of a row in which one is longer than eight characters; tells whether they are plain.
    fn take_longer(
        &self,
        text: &[u8],
        ends: &[u32],
        row: usize,
        quoted: bool,
        low: &mut [f64; ROWS],
        high: &mut [f64; ROWS],
    ) -> bool {
        let take = |column: usize, ended: u8| {
            let place = row * self.stride + self.column + column;
            let end = *ends.get(place)? as usize;
            if *text.get(end)? != ended {
                return None;
            }
            let (mut start, mut end) = (self.start(ends, place), end);
            if quoted {
                let [b'"', .., b'"'] = text.get(start..end)? else { return None };
                (start, end) = (start + 1, end - 1);
            }
            let value = number(text, start, end, self.decimal_mark)
                .or_else(|| parse_number(text.get(start..end)?, self.decimal_mark))?;
            is_in_range(value).then_some(value)
        };
        let Some(one) = take(0, self.ended[0]) else { return false };
        let two = if self.both { take(1, self.ended[1]) } else { Some(0.0) };
        let Some(two) = two else { return false };
        if let (Some(low), Some(high)) = (low.get_mut(row), high.get_mut(row)) {
            (*low, *high) = (one, two);
        }
        true
    }
}

/// A field.
#[derive(Clone, Copy, Debug)]
struct Word {
    /// How many characters stand in front of the last one, without the sign; where these are eight or
    /// more the rest says nothing.
    before: usize,
    /// Each xor `0`, without the sign; the last one in the highest byte, noughts in front.
    characters: u64,
    /// The sign, where a number has it.
    sign: u64,
}

/// The field between two places.
///
/// # Safety
///
/// `start` and `end` are places of the text, `end` at least 8.
#[inline(always)]
unsafe fn word(text: &[u8], start: usize, end: usize) -> Word {
    // SAFETY: the caller's.
    let (first, bytes) =
        unsafe { (*text.get_unchecked(start), text.as_ptr().add(end - 8).cast::<u64>().read_unaligned()) };
    let negative = u64::from(first == b'-');
    let before = end.wrapping_sub(start + negative as usize).wrapping_sub(1);
    let field = u64::MAX << (56 - 8 * (before & 7));
    Word { before, characters: (u64::from_le(bytes) ^ NOUGHTS) & field, sign: negative << 63 }
}
