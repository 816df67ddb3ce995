//! Solver, fixture and operating points against published and independently computed values.
#![allow(clippy::unwrap_used, reason = "tests")]

mod calibration;
mod coverage;
mod data;
mod draws;
mod free_checks;
mod intervals;
mod knowing;
mod points;
mod record_check;
mod shapes;
mod solver;
mod warming;
mod wirings;
mod wirings_drawn;
