//! Vector figures over any plotters backend.
//!
//! A figure is a plain value (its specification) and a function that draws it on an area. Sizes in
//! specifications are CSS pixels; the backend's integer units are finer, so that lines may lie and
//! be as wide as they should at every pixel ratio.

mod axes;
mod bar;
mod bars;
mod cells;
mod curves;
mod frame;
mod sheet;
mod tally;

pub use axes::{AxesSpec, InkLine, Note, axes};
pub use bar::BarSpec;
pub use bars::{BarsItem, BarsSpec, bars};
pub use cells::{CellSpec, CellsSpec, cells};
pub use curves::{CurvesSpec, Mark, Series, Stroke, Upright, curves};
pub use frame::{AxisSpec, Frame, Margins};
pub use sheet::{Ink, Paper, Problem, SUBUNITS, Sheet};
pub(crate) use sheet::{SANS, SERIF};
pub use tally::{TallySpec, tally};

#[cfg(test)]
mod tests;
