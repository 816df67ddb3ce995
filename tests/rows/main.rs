//! Rows that can be defended: alignment, gates and the sieve against published values, stored cases
//! and simulated benches.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::disallowed_methods, reason = "tests")]

mod alignment;
mod border;
mod counting;
mod fresh;
mod limit;
mod load;
mod loggers;
mod plateaus;
mod published;
mod pulsed;
mod said;
mod stored_cases;
mod truth;
