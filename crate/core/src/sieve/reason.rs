//! The reasons a row can carry, one bit each.

/// Reasons of one row, one bit per [`Reason`].
pub type Mask = u16;

/// Why a row is removed or labelled. The order is the order of the gates: the first reason of a
/// row is its lowest set bit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[repr(u8)]
pub enum Reason {
    /// The record could not be read.
    Unreadable = 0,
    /// A needed channel has no value.
    Missing = 1,
    /// A reading lies at the end of its converter's range or was logged as over-range.
    OverRange = 2,
    /// Time repeats, jumps or restarts here.
    TimeJump = 3,
    /// A voltage or current is below zero by more than its noise allows.
    Sign = 4,
    /// Next to a step between two rows.
    Step = 5,
    /// Its channels cannot be brought to one instant.
    Unaligned = 6,
    /// Changes faster than the delays between channels allow.
    Slew = 7,
    /// Settling after a start.
    Settling = 8,
    /// One reading stands out from its neighbours in time.
    Spike = 9,
    /// Too few rows read alike: the sieve.
    Rare = 10,
    /// Removed by hand.
    ByHand = 11,
    /// Label: the supply is in current limit.
    SupplyLimit = 12,
    /// Label: the output is off, or its current is below the smallest honest one.
    Off = 13,
    /// Label: efficiency above one by more than its uncertainty.
    AboveOne = 14,
    /// Kept by hand: outranks every removing reason.
    KeptByHand = 15,
}

/// All reasons in bit order.
pub const REASONS: [Reason; 16] = [
    Reason::Unreadable,
    Reason::Missing,
    Reason::OverRange,
    Reason::TimeJump,
    Reason::Sign,
    Reason::Step,
    Reason::Unaligned,
    Reason::Slew,
    Reason::Settling,
    Reason::Spike,
    Reason::Rare,
    Reason::ByHand,
    Reason::SupplyLimit,
    Reason::Off,
    Reason::AboveOne,
    Reason::KeptByHand,
];

/// The bits that take a row out of the statistics.
pub const REMOVE_BITS: Mask = 0x0fff;

impl Reason {
    /// Its bit in a [`Mask`].
    #[must_use]
    pub const fn bit(self) -> Mask {
        1 << (self as u8)
    }

    /// Whether it only labels.
    #[must_use]
    pub const fn labels(self) -> bool {
        self.bit() & REMOVE_BITS == 0
    }

    /// Short code used in results.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Unreadable => "unreadable",
            Self::Missing => "missing",
            Self::OverRange => "over_range",
            Self::TimeJump => "time_jump",
            Self::Sign => "sign",
            Self::Step => "step",
            Self::Unaligned => "unaligned",
            Self::Slew => "slew",
            Self::Settling => "settling",
            Self::Spike => "spike",
            Self::Rare => "rare",
            Self::ByHand => "by_hand",
            Self::SupplyLimit => "supply_limit",
            Self::Off => "off",
            Self::AboveOne => "above_one",
            Self::KeptByHand => "kept_by_hand",
        }
    }

    /// The lowest removing reason in a mask, or the lowest label where none removes.
    #[must_use]
    pub fn first(mask: Mask) -> Option<Self> {
        REASONS.into_iter().find(|reason| mask & reason.bit() != 0)
    }

    /// Whether a row with this mask stays in the statistics.
    #[must_use]
    pub const fn kept(mask: Mask) -> bool {
        mask & REMOVE_BITS == 0 || mask & Self::KeptByHand.bit() != 0
    }

    /// Whether a row with this mask is an operating point: kept, output on, supply not in limit.
    #[must_use]
    pub const fn operating(mask: Mask) -> bool {
        Self::kept(mask) && mask & (Self::SupplyLimit.bit() | Self::Off.bit()) == 0
    }
}
