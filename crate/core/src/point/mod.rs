//! Operating points: power, loss and efficiency of a row with their uncertainty.
//!
//! Random and systematic parts stay apart: only the first shrinks by averaging.

mod rows;

pub use rows::Rows;
