//! How far the two gates that look for stray readings agree: one along time, one by counts.

use super::{Mask, Reason};

/// Rows that the spike gate or the sieve takes out and no other gate does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Agreement {
    /// Rows that both take.
    pub both: usize,
    /// Rows that the spike gate takes alone: they stand out from their neighbours in time, and yet many rows read alike.
    pub spike: usize,
    /// Rows that the sieve takes alone: few rows read alike, and yet they lie among their neighbours in time.
    pub rare: usize,
}

impl Agreement {
    /// Counts the rows of masks; those decided by hand do not count.
    #[must_use]
    pub fn of(masks: &[Mask]) -> Self {
        let mut found = Self::default();
        for &mask in masks {
            match alone_or_both(mask) {
                (true, true) => found.both += 1,
                (true, false) => found.spike += 1,
                (false, true) => found.rare += 1,
                (false, false) => {}
            }
        }
        found
    }

    /// Whether only one of the two takes a row with this mask.
    #[must_use]
    pub fn parted(mask: Mask) -> bool {
        let (spike, rare) = alone_or_both(mask);
        spike != rare
    }

    /// Rows that only one of the two takes.
    #[must_use]
    pub const fn apart(self) -> usize {
        self.spike + self.rare
    }

    /// Share of the rows that only one of the two takes, 0 to 1; 0 without rows.
    #[must_use]
    pub fn share_apart(self) -> f64 {
        self.apart() as f64 / (self.both + self.apart()).max(1) as f64
    }
}

/// Whether the spike gate and whether the sieve takes a row that nothing else takes or keeps.
fn alone_or_both(mask: Mask) -> (bool, bool) {
    let (spike, rare) = (Reason::Spike.bit(), Reason::Rare.bit());
    let others = super::REMOVE_BITS | Reason::KeptByHand.bit();
    if mask & others & !(spike | rare) != 0 { (false, false) } else { (mask & spike != 0, mask & rare != 0) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_rows_that_no_other_gate_takes_are_counted() {
        let [spike, rare, step] = [Reason::Spike, Reason::Rare, Reason::Step].map(Reason::bit);
        let [by_hand, kept, off] = [Reason::ByHand, Reason::KeptByHand, Reason::Off].map(Reason::bit);
        let masks = [
            0,
            spike | rare,
            spike,
            rare,
            rare | off,
            rare | step,
            spike | step,
            rare | by_hand,
            spike | kept,
            step,
            off,
        ];
        let found = Agreement::of(&masks);
        assert_eq!(found, Agreement { both: 1, spike: 1, rare: 2 });
        assert_eq!((found.apart(), found.share_apart()), (3, 0.75));
        let parted: Vec<usize> = (0..masks.len()).filter(|row| Agreement::parted(masks[*row])).collect();
        assert_eq!(parted, [2, 3, 4]);
        assert_eq!(Agreement::of(&[0, step]).share_apart(), 0.0);
    }
}
