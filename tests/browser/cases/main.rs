//! The built page, from disk, in a real Chromium.

mod bench;
mod fixture;
mod growing;
mod hostile;
mod hover;
mod large;
mod main_job;
mod opening;
mod policy;
mod reading;
mod refusing;
mod rows;
mod same_bytes;
mod shapes;
mod share;
