//! Where fields and lines end, many at a time.

use super::lanes::matches;
use super::split::Separator;

/// Bytes looked at at once.
const BLOCK: usize = 64;

/// Ends that are held at least.
const HELD: usize = 1024;

/// Most ends that are written without asking; numbers of seven characters have eight in a block.
const USUAL: usize = 10;

/// The places in one text at which a separator or a line end stands, found ahead in stretches.
#[derive(Clone, Debug)]
pub(super) struct Ends {
    marks: [u8; 4],
    /// Places found; those from `next` to `count` are still to come.
    places: Vec<u32>,
    next: usize,
    count: usize,
    /// Everything in front of this index has been looked at.
    seen: usize,
    /// As many as a record needs.
    wanted: usize,
}

impl Ends {
    pub(super) fn new(separator: Separator, fields: usize) -> Self {
        let second = if separator.runs() { b'\t' } else { separator.byte };
        let wanted = fields + 2;
        Self {
            marks: [separator.byte, second, b'\n', b'\r'],
            places: vec![0; wanted + HELD + BLOCK],
            next: 0,
            count: 0,
            seen: 0,
            wanted,
        }
    }

    /// Another text begins.
    pub(super) fn forget(&mut self) {
        self.next = 0;
        self.count = 0;
        self.seen = 0;
    }

    /// Passes over what stands in front of `at`.
    pub(super) fn go_to(&mut self, text: &[u8], at: usize) {
        while self.upcoming().first().is_some_and(|&place| (place as usize) < at) {
            self.next += 1;
        }
        if self.next == self.count {
            self.seen = self.seen.max(at).min(text.len());
        }
    }

    /// Ends that are found already.
    #[inline(always)]
    pub(super) fn upcoming(&self) -> &[u32] {
        self.places.get(self.next..self.count).unwrap_or_default()
    }

    /// Passes over so many.
    #[inline(always)]
    pub(super) fn pass(&mut self, used: usize) {
        self.next += used;
    }

    /// Looks on where fewer are found than a record needs.
    #[inline(always)]
    pub(super) fn prepare(&mut self, text: &[u8]) {
        if self.count < self.next + self.wanted && self.seen < text.len() {
            self.look_on(text);
        }
    }

    #[inline(never)]
    fn look_on(&mut self, text: &[u8]) {
        // A record's line feed may have been passed over before it was found.
        let skipped = self.next.saturating_sub(self.count);
        self.next -= skipped;
        self.places.copy_within(self.next..self.count, 0);
        self.count -= self.next;
        self.next = skipped;
        while self.seen < text.len() && self.count + BLOCK <= self.places.len() {
            let rest = text.get(self.seen..).unwrap_or_default();
            let mask = match rest.first_chunk::<BLOCK>() {
                Some(block) => matches(block, self.marks),
                None => {
                    let mut block = [0; BLOCK];
                    block.iter_mut().zip(rest).for_each(|(to, from)| *to = *from);
                    matches(&block, self.marks)
                }
            };
            self.note(mask);
            self.seen = (self.seen + BLOCK).min(text.len());
        }
    }

    #[inline(always)]
    fn note(&mut self, mask: u64) {
        let found = mask.count_ones() as usize;
        let mut mask = mask;
        let Some(places) = self.places.get_mut(self.count..self.count + BLOCK) else { return };
        // A fixed number of steps, since processors cannot foresee how many it will be.
        for place in places.iter_mut().take(USUAL) {
            *place = (self.seen as u32).wrapping_add(mask.trailing_zeros());
            mask &= mask.wrapping_sub(1);
        }
        if found > USUAL {
            for place in places.iter_mut().take(found).skip(USUAL) {
                *place = (self.seen as u32).wrapping_add(mask.trailing_zeros());
                mask &= mask.wrapping_sub(1);
            }
        }
        self.count += found;
    }
}
