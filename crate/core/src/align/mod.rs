//! Channels at one instant: the delays between channels, how they are found, and interpolation.
//!
//! Row n holds channel k as it was at `t[n] + d[k]`. [`estimate`] finds the delays `d`;
//! [`Aligned`] gives every channel at the row's common instant, computed on demand.

mod aligned;
pub mod clocks;
mod delays;
mod doubt;
mod moving;
mod settings;
mod steps;
mod through;
mod up_down;

pub use aligned::Aligned;
pub(crate) use aligned::factor;
use delays::present;
pub use delays::{ByChannel, Delays, Source, Summary, estimate};
pub use doubt::Doubt;
pub use moving::change_of_a_row;
pub use settings::{Mode, Settings};
pub use steps::{Noise, Steps};
pub use through::{Through, through_delays};
pub use up_down::{UpDown, up_down_delay, up_down_gap};
