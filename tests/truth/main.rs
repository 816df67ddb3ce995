//! The analysis against simulated benches whose truth is known.
#![allow(clippy::unwrap_used, reason = "tests")]

mod redrawn;
mod rows;
mod simulator;
