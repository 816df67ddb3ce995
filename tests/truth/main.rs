//! The analysis against simulated benches whose truth is known.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests")]

mod demo;
mod reading;
mod redrawn;
mod settled;
mod simulator;
mod stages;
mod whole;
