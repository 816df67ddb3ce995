//! What is timed: a long log in several dialects, and five channels of a long run. No part of it is
//! random from run to run.

mod channels;
mod dialect;

pub use channels::{five_channels, uniform_channels};
pub use dialect::{DIALECTS, Dialect, log_text};

/// Rows of what is timed.
pub const ROWS: usize = 1_000_000;
