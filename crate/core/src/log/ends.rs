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
    separator: Separator,
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
        let wanted = fields + 2;
        Self { separator, places: vec![0; wanted + HELD + BLOCK], next: 0, count: 0, seen: 0, wanted }
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
        let byte = self.separator.byte;
        if self.separator.runs() {
            self.find(text, [byte, b'\t', b'\n', b'\r']);
        } else {
            self.find(text, [byte, b'\n', b'\r']);
        }
    }

    /// Notes where the marks stand, as far as there is room.
    fn find<const N: usize>(&mut self, text: &[u8], marks: [u8; N]) {
        let (blocks, rest) = text.get(self.seen..).unwrap_or_default().as_chunks::<BLOCK>();
        // Here and not in the object, so that the processor has them at hand.
        let (mut seen, mut count) = (self.seen, self.count);
        for block in blocks {
            let Some(places) = self.places.get_mut(count..count + BLOCK) else { break };
            count += note(matches(block, marks), seen, places);
            seen += BLOCK;
        }
        if text.len() - seen == rest.len()
            && let Some(places) = self.places.get_mut(count..count + BLOCK)
        {
            let mut block = [0; BLOCK];
            block.iter_mut().zip(rest).for_each(|(to, from)| *to = *from);
            count += note(matches(&block, marks), seen, places);
            seen = text.len();
        }
        (self.seen, self.count) = (seen, count);
    }
}

/// Notes the places of the bits; tells how many.
#[inline(always)]
fn note(mask: u64, seen: usize, places: &mut [u32]) -> usize {
    let found = mask.count_ones() as usize;
    let mut mask = mask;
    let mut put = |place: &mut u32| {
        *place = (seen as u32).wrapping_add(mask.trailing_zeros());
        mask &= mask.wrapping_sub(1);
    };
    // A fixed number of steps, since processors cannot foresee how many it will be.
    places.iter_mut().take(USUAL).for_each(&mut put);
    if found > USUAL {
        places.iter_mut().take(found).skip(USUAL).for_each(put);
    }
    found
}
