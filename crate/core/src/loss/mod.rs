//! The loss of a converter as a model, its steps, the best efficiency and the draw without load.
//!
//! Loss is where the physics is; efficiency hides it.

mod anchor;
mod asked;
mod chain;
mod change;
mod model;
mod moments;
mod peak;
mod quiescent;

pub use asked::at;
pub(crate) use asked::{Asker, hull};
pub use model::{LossModel, Step, Term};
pub(crate) use moments::Moments;
pub use peak::{Peak, peak, peak_between};
pub use quiescent::{AtVoltage, Off, Quiescent, quiescent};
