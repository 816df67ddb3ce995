//! A seeded measuring bench: what a logger would have written, and the truth behind it.
//!
//! The state of the circuit is solved at the very instant at which each channel is sampled, so that
//! delays between channels, and rows that straddle a step, are real and not painted on. Nothing here
//! uses the analysis, and the analysis knows nothing of this.

mod bench;
mod circuit;
mod demo;
mod draw;
mod faults;
mod job;
mod program;
mod random;
mod record;
mod tables;
mod text;
mod truth;
mod twin;

pub use bench::Bench;
pub use circuit::{Converter, Fixture, LightMode, Load, Loss, Meter, Nodes, Resistor};
pub use demo::{SEED, demo, long_run};
pub use draw::{CURRENT_GAIN_U, drawn};
pub use faults::{Cause, Faults};
pub use job::{Job, Wiring};
pub use program::{Part, Program, Sweep};
pub use random::Random;
pub use record::{Recording, record};
pub use tables::{duty_table, pack_table};
pub use text::{Column, Dialect, Field};
pub use truth::{Crossing, LogTruth, PointTruth, Truth};
pub use twin::plain_readings;
