//! What is said of a run and of two runs, against data whose truth is known.
#![allow(clippy::unwrap_used, clippy::print_stdout, missing_docs, reason = "tests")]

mod impossible;
mod losses;
mod measured;
mod pairs;
mod points;
mod sums;
mod support;
mod told;
