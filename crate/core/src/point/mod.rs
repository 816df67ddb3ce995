//! Operating points: power, loss and efficiency of a row with their uncertainty.
//!
//! Random and systematic parts stay apart: only the first shrinks by averaging.

mod row_point;
mod rows;

pub use row_point::{COVERAGE_95, Part, RowPoint};
pub use rows::{Rows, each_reading};
