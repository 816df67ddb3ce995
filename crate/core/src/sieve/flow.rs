//! How many rows are left after each stage of the chain, and what fell out there.

use serde::Serialize;

use super::{Mask, Reason};

/// A stage of the chain at whose exit rows are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Exit {
    /// Reading the text.
    Log,
    /// Columns to readings.
    Channels,
    /// Channels to one instant.
    Alignment,
    /// Gates and sieve.
    Sieve,
    /// The fixture: rows that are kept but are no operating points fall out behind it.
    Fixture,
}

/// The stages in the order of the chain.
const EXITS: [Exit; 5] = [Exit::Log, Exit::Channels, Exit::Alignment, Exit::Sieve, Exit::Fixture];

/// The plain reasons in front of the finer ones.
///
/// **Source** common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Plainly {
    /// The record, or a needed reading of it, could not be read.
    Unreadable,
    /// At the end of a range, or of the wrong sign.
    OutOfRange,
    /// Beside a step, a jump of time or a start.
    ChangingTooFast,
    /// Few rows read alike.
    Rare,
    /// Taken out by hand.
    ByHand,
    /// The supply is in current limit.
    SupplyLimit,
    /// The output is off.
    Off,
}

/// Rows that fell out of one stage for one plain reason.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct FellOut {
    /// The reason.
    pub reason: Plainly,
    /// Rows.
    pub rows: usize,
}

/// One stage.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StageRows {
    /// The stage.
    pub stage: Exit,
    /// Rows left behind it.
    pub left: usize,
    /// Rows that fell out there.
    pub fell: usize,
    /// What fell out there, by reason; reasons without rows are left out.
    pub out: Vec<FellOut>,
}

impl Reason {
    /// Where a row with this first reason leaves the chain, and why in plain words; `None` for
    /// labels that leave it in.
    #[must_use]
    pub const fn exit(self) -> Option<(Exit, Plainly)> {
        Some(match self {
            Self::Unreadable => (Exit::Log, Plainly::Unreadable),
            Self::Missing => (Exit::Channels, Plainly::Unreadable),
            Self::Unaligned => (Exit::Alignment, Plainly::ChangingTooFast),
            Self::OverRange | Self::Sign => (Exit::Sieve, Plainly::OutOfRange),
            Self::TimeJump | Self::Step | Self::Slew | Self::Settling => {
                (Exit::Sieve, Plainly::ChangingTooFast)
            }
            Self::Spike | Self::Rare => (Exit::Sieve, Plainly::Rare),
            Self::ByHand => (Exit::Sieve, Plainly::ByHand),
            Self::SupplyLimit => (Exit::Fixture, Plainly::SupplyLimit),
            Self::Off => (Exit::Fixture, Plainly::Off),
            Self::AboveOne | Self::KeptByHand => return None,
        })
    }
}

/// Where a row with this mask leaves the chain; `None` for operating points.
fn exit(mask: Mask) -> Option<(Exit, Plainly)> {
    if Reason::operating(mask) {
        return None;
    }
    // A row kept by hand may still carry the reasons that it outranks.
    let left = if Reason::kept(mask) { mask & !super::REMOVE_BITS } else { mask };
    Reason::first(left).and_then(Reason::exit)
}

/// Rows left behind each stage, from the number of rows of each mask.
///
/// The last stage leaves the operating points, so that all that fell out and what is left add up to
/// all rows.
#[must_use]
pub(super) fn flow(rows: usize, by_mask: &[(Mask, usize)]) -> Vec<StageRows> {
    let mut left = rows;
    EXITS
        .into_iter()
        .map(|stage| {
            let before = left;
            let mut out: Vec<FellOut> = Vec::new();
            for &(mask, rows) in by_mask {
                let Some((_, reason)) = exit(mask).filter(|(at, _)| *at == stage) else { continue };
                left -= rows;
                match out.iter_mut().find(|known| known.reason == reason) {
                    Some(known) => known.rows += rows,
                    None => out.push(FellOut { reason, rows }),
                }
            }
            out.sort_by_key(|one| one.reason);
            StageRows { stage, left, fell: before - left, out }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Counted by hand: 30 rows of nine kinds.
    #[test]
    fn what_falls_out_and_what_is_left_add_up() {
        let bit = Reason::bit;
        let masks = [
            (0, 10),
            (bit(Reason::Unreadable), 1),
            (bit(Reason::Missing), 2),
            (bit(Reason::Unaligned) | bit(Reason::Rare), 1),
            (bit(Reason::Step) | bit(Reason::Rare), 3),
            (bit(Reason::Spike), 2),
            (bit(Reason::SupplyLimit) | bit(Reason::Off), 4),
            (bit(Reason::AboveOne), 5),
            // Kept by hand in spite of the sieve: an operating point; the second is off besides.
            (bit(Reason::Rare) | bit(Reason::KeptByHand), 1),
            (bit(Reason::Rare) | bit(Reason::Off) | bit(Reason::KeptByHand), 1),
        ];
        let stages = flow(30, &masks);
        let left: Vec<usize> = stages.iter().map(|stage| stage.left).collect();
        assert_eq!(left, [29, 27, 26, 21, 16]);
        assert_eq!(stages[3].fell, 5);
        assert_eq!(
            stages[3].out,
            [
                FellOut { reason: Plainly::ChangingTooFast, rows: 3 },
                FellOut { reason: Plainly::Rare, rows: 2 }
            ]
        );
        assert_eq!(
            stages[4].out,
            [FellOut { reason: Plainly::SupplyLimit, rows: 4 }, FellOut { reason: Plainly::Off, rows: 1 }]
        );
        let out: usize = stages.iter().flat_map(|stage| &stage.out).map(|one| one.rows).sum();
        assert_eq!(out + stages[4].left, 30);
    }
}
