//! The built page, from disk, in a real Chromium.

mod access;
mod bench;
mod editing;
mod fixture;
mod fixture_keys;
mod growing;
mod hostile;
mod hover;
mod large;
mod looking;
mod main_job;
mod opening;
mod policy;
mod reading;
mod refusing;
mod rows;
mod same_bytes;
mod shapes;
mod share;
mod vector;
