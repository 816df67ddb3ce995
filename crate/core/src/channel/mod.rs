//! Channels: which column is which quantity, in which unit, and the readings in SI units.
//!
//! A guess is a suggestion with reasons; it is shown and can be edited. [`guess`] says what the
//! columns of a log are, [`to_readings`] moves them into [`Readings`], [`recognise`] says which
//! kind of run the readings show.

mod clock;
mod column;
mod convert;
mod counts;
mod guess;
mod kind;
mod name;
mod physics;
mod preview;
mod range;
mod raw;
mod readings;
mod role;
mod scale;
mod settings;
mod spelling;
mod steps;
mod wires;

#[cfg(test)]
mod tests;

pub use clock::TimeUnderstood;
pub use column::{ColumnGuess, role_name};
pub use convert::{Conversion, Sums, to_readings, to_readings_keeping};
pub use counts::{Logged, RoleCounts};
pub use guess::{Ask, Guess, guess};
pub use kind::{Kind, RunKind, recognise};
pub use physics::Suggestion;
pub use preview::{Preview, PreviewRow, preview};
pub use range::{RangeGuess, RangeShown, RangesShown};
pub use raw::Raw;
pub use readings::{CHANNELS, Channel, Extra, Mark, MarkKind, Readings, Segment, SegmentStart};
pub use role::Role;
pub use settings::{ChannelRange, ColumnRef, ColumnRole, RoleRanges, RoleScale, RoleUnit, Settings};
pub use spelling::{Quantity, Unit, unit_of};
