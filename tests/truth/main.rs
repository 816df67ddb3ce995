//! The analysis against simulated benches whose truth is known.
#![allow(clippy::unwrap_used, reason = "tests")]

mod demo;
mod reading;
mod redrawn;
mod simulator;
mod stages;
mod whole;
