//! Channels: which column is which quantity, in which unit, and the readings in SI units.
//!
//! A guess is a suggestion with reasons; it is shown and can be edited.

mod readings;
mod role;

pub use readings::{CHANNELS, Channel, Extra, Mark, MarkKind, Readings, Segment, SegmentStart};
pub use role::Role;
