//! Simulated benches and helpers shared by the tests.
//!
//! [`sim`] plays a whole measuring bench, fixture, logger, source, converters and calibration
//! resistors, writes the logs that such a bench would write and says what is true beside them.

pub mod sim;
