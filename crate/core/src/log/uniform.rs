//! Records of nothing but numbers, many at a time.

#![allow(unsafe_code, reason = "loads whose places are checked together; record by record is the twin")]

use std::mem::MaybeUninit;
use std::ops::Range;

use super::alike::Alike;
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

/// Takes records from `at` on as long as they are plain, at most [`ROWS`] of them, and appends their
/// values to the columns. `ends` are the places at which separators and line ends stand.
///
/// Two columns at a time, all rows of them before the next two: what a processor has to keep at hand
/// is little, and all fields of a column look alike to it.
#[inline(never)]
pub(super) fn take(
    text: &[u8],
    at: usize,
    ends: &[u32],
    writing: Writing,
    columns: &mut [Vec<f64>],
) -> Taken {
    let Writing { separator, decimal_mark } = writing;
    let count = columns.len();
    let nothing = Taken { rows: 0, ends: 0, next: at, stopped: true };
    let Some(line_end) = ends.get(count.wrapping_sub(1)) else { return nothing };
    let returns = text.get(*line_end as usize) == Some(&b'\r');
    let stride = count + usize::from(returns);
    let tried = ROWS.min(ends.len() / stride);
    let ends = ends.get(..tried * stride).unwrap_or_default();
    // Every load below is in front of an end, or of the quote there, or up to two places behind it.
    let span = u32::try_from(text.len().saturating_sub(11)).unwrap_or(0);
    let outside = ends.iter().fold(false, |any, &end| any | (end.wrapping_sub(9) >= span));
    if outside || at >= text.len() {
        return nothing;
    }
    let quoted = text.get(at) == Some(&b'"');
    let line_end = if returns { b'\r' } else { b'\n' };
    let mut rows = if returns { line_feeds(text, ends, stride) } else { tried };
    for (pair, columns) in columns.chunks_mut(2).enumerate() {
        let column = 2 * pair;
        let (low, high) = match columns {
            [low, high] => (room(low, tried), room(high, tried)),
            [low] => (room(low, tried), [].as_mut_slice()),
            _ => return nothing,
        };
        let both = !high.is_empty();
        let ended = |column: usize| if column + 1 == count { line_end } else { separator };
        let pair = Pair { column, stride, at, ended: [ended(column), ended(column + 1)], decimal_mark };
        // SAFETY: `at` and the ends are places of the text with nine bytes in front of each end and two
        // behind it.
        rows = unsafe {
            match (both, quoted) {
                (true, false) => pair.take::<true, false>(text, ends, rows, low, high),
                (true, true) => pair.take::<true, true>(text, ends, rows, low, high),
                (false, false) => pair.take::<false, false>(text, ends, rows, low, high),
                (false, true) => pair.take::<false, true>(text, ends, rows, low, high),
            }
        };
    }
    for column in columns {
        // SAFETY: there is room for so many, and every pair has written at least so many.
        unsafe { column.set_len(column.len() + rows) };
    }
    let last = ends.get((rows * stride).wrapping_sub(1));
    Taken { rows, ends: rows * stride, next: last.map_or(at, |&end| end as usize + 1), stopped: rows < tried }
}

/// Room for so many further values of a column.
fn room(column: &mut Vec<f64>, rows: usize) -> &mut [MaybeUninit<f64>] {
    column.reserve(rows);
    column.spare_capacity_mut().get_mut(..rows).unwrap_or_default()
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
    /// What ends a field of each.
    ended: [u8; 2],
    decimal_mark: u8,
}

/// Where the values of a column go.
type Room<'a> = &'a mut [MaybeUninit<f64>];

impl Pair {
    /// Takes the values of the first `rows` as long as they are plain; tells how many it has taken.
    ///
    /// # Safety
    ///
    /// `at` and the ends are places of the text with nine bytes in front of each end and two behind it.
    unsafe fn take<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        rows: usize,
        low: Room<'_>,
        high: Room<'_>,
    ) -> usize {
        let mut row = 0;
        // SAFETY: the caller's.
        if let Some(alike) = unsafe { self.writing::<BOTH, QUOTED>(text, ends) } {
            // SAFETY: the caller's.
            row = unsafe { self.alike::<BOTH, QUOTED, false>(text, ends, 0..rows, low, high, alike) };
            // SAFETY: the caller's.
            row = unsafe { self.alike::<BOTH, QUOTED, true>(text, ends, row..rows, low, high, alike) };
        }
        while row < rows {
            // SAFETY: the caller's.
            row = unsafe { self.unlike::<BOTH, QUOTED>(text, ends, row..rows, low, high) };
            // Longer numbers stop the lanes.
            if row == rows || !self.take_longer::<BOTH, QUOTED>(text, ends, row, low, high) {
                break;
            }
            row += 1;
        }
        row
    }

    /// How the numbers of the first row are written.
    ///
    /// # Safety
    ///
    /// As of [`Pair::take`].
    unsafe fn writing<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
    ) -> Option<Alike> {
        let quote = usize::from(QUOTED);
        let start = self.start(ends, self.column);
        let first = *ends.get(self.column)? as usize;
        // SAFETY: the caller's.
        let one = unsafe { word(text, start + quote, first - quote) };
        let two = if BOTH {
            let second = *ends.get(self.column + 1)? as usize;
            // SAFETY: the caller's.
            unsafe { word(text, first + 1 + quote, second - quote) }
        } else {
            one
        };
        if (one.before | two.before) < 8 {
            Alike::of([one.characters, two.characters], self.decimal_mark)
        } else {
            None
        }
    }

    /// Takes the values of rows as long as they are written like the first one, with signs or without;
    /// tells in front of which it stopped.
    ///
    /// # Safety
    ///
    /// As of [`Pair::take`].
    #[inline(never)]
    unsafe fn alike<const BOTH: bool, const QUOTED: bool, const SIGNED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        rows: Range<usize>,
        low: Room<'_>,
        high: Room<'_>,
        alike: Alike,
    ) -> usize {
        // SAFETY: the caller's.
        unsafe {
            self.lane::<BOTH, QUOTED>(text, ends, rows, low, high, |starts, ends| {
                let negative = starts.map(|start| SIGNED && *text.get_unchecked(start) == b'-');
                let before = |at: usize| ends[at].wrapping_sub(starts[at] + usize::from(negative[at]) + 1);
                let signs = negative.map(|negative| u64::from(negative) << 63);
                alike.numbers(text, ends, [before(0), before(1)], signs)
            })
        }
    }

    /// Takes the values of rows as long as they are plain and short, each written in its own way; tells in
    /// front of which it stopped.
    ///
    /// # Safety
    ///
    /// As of [`Pair::take`].
    #[inline(never)]
    unsafe fn unlike<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        rows: Range<usize>,
        low: Room<'_>,
        high: Room<'_>,
    ) -> usize {
        let decimal_mark = self.decimal_mark;
        // SAFETY: the caller's.
        unsafe {
            self.lane::<BOTH, QUOTED>(text, ends, rows, low, high, |starts, ends| {
                let one = word(text, starts[0], ends[0]);
                let two = if BOTH { word(text, starts[1], ends[1]) } else { one };
                let short = (one.before | two.before) < 8;
                let (words, signs) = ([one.characters, two.characters], [one.sign, two.sign]);
                if short { numbers(words, signs, decimal_mark) } else { None }
            })
        }
    }

    /// Takes the values of rows as long as they stand between their ends and can be read; tells in
    /// front of which it stopped.
    ///
    /// # Safety
    ///
    /// As of [`Pair::take`].
    #[inline(always)]
    unsafe fn lane<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        rows: Range<usize>,
        low: Room<'_>,
        high: Room<'_>,
        read: impl Fn([usize; 2], [usize; 2]) -> Option<[f64; 2]>,
    ) -> usize {
        let Self { stride, ended, .. } = *self;
        let quote = usize::from(QUOTED);
        let Range { start: mut row, end: last } = rows;
        let room = low.len() >= last && (!BOTH || high.len() >= last);
        if row >= last || last * stride > ends.len() || !room {
            return row;
        }
        let place = row * stride + self.column;
        let mut start = self.start(ends, place);
        // SAFETY: the place of a field of a row is one of the ends, and so is the one after it where there
        // are two columns, and the one in front of it but in the first row; there is room for so many rows.
        unsafe {
            let mut place = ends.as_ptr().add(place);
            loop {
                let first = *place as usize;
                let second = if BOTH { *place.add(1) as usize } else { first };
                let starts = [start + quote, if BOTH { first + 1 } else { start } + quote];
                let closed = |start: usize, end: usize| {
                    !QUOTED
                        || (*text.get_unchecked(start - 1) == b'"' && *text.get_unchecked(end - 1) == b'"')
                };
                if *text.get_unchecked(first) != ended[0]
                    || !closed(starts[0], first)
                    || (BOTH && (*text.get_unchecked(second) != ended[1] || !closed(starts[1], second)))
                {
                    return row;
                }
                let Some([one, two]) = read(starts, [first - quote, second - quote]) else { return row };
                low.get_unchecked_mut(row).write(one);
                if BOTH {
                    high.get_unchecked_mut(row).write(two);
                }
                row += 1;
                if row == last {
                    return row;
                }
                start = *place.add(stride - 1) as usize + 1;
                place = place.add(stride);
            }
        }
    }

    /// Where the field starts whose end stands at a place among the ends.
    fn start(&self, ends: &[u32], place: usize) -> usize {
        if place == 0 { self.at } else { ends.get(place - 1).map_or(self.at, |&end| end as usize + 1) }
    }

    /// Takes the values of a row in which one is longer than eight characters; tells whether they are plain.
    fn take_longer<const BOTH: bool, const QUOTED: bool>(
        &self,
        text: &[u8],
        ends: &[u32],
        row: usize,
        low: Room<'_>,
        high: Room<'_>,
    ) -> bool {
        let take = |column: usize, ended: u8| {
            let place = row * self.stride + self.column + column;
            let end = *ends.get(place)? as usize;
            if *text.get(end)? != ended {
                return None;
            }
            let (mut start, mut end) = (self.start(ends, place), end);
            if QUOTED {
                let [b'"', .., b'"'] = text.get(start..end)? else { return None };
                (start, end) = (start + 1, end - 1);
            }
            let value = number(text, start, end, self.decimal_mark)
                .or_else(|| parse_number(text.get(start..end)?, self.decimal_mark))?;
            is_in_range(value).then_some(value)
        };
        let note = |column: Room<'_>, value: Option<f64>| match (column.get_mut(row), value) {
            (Some(place), Some(value)) => {
                place.write(value);
                true
            }
            _ => false,
        };
        note(low, take(0, self.ended[0])) && (!BOTH || note(high, take(1, self.ended[1])))
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
