//! Which rows can be used, and why the others cannot: gates and the sieve.
//!
//! Nothing is deleted: every row carries a mask of reasons. This stage has never heard of
//! efficiency; it sees readings only.
//!
//! [`gates()`] sets every reason but one; [`Counter`] counts how many rows read like each row, and
//! [`Counts::judge`] turns the counts into the last one. Gates, counting and judging have separate inputs, so that a
//! changed setting re-runs only what it concerns.

mod agreement;
mod bins;
mod cells;
mod centred;
mod count;
mod counts;
mod curve;
mod fates;
mod flow;
mod gates;
mod grid;
mod input;
mod kind;
mod near;
mod parted;
mod pass;
mod reason;
mod settings;
mod settled;
mod slew;
mod spike;
mod step;
mod table;
mod width;

pub use agreement::Agreement;
pub use bins::{Axis, Bins, Wanted, bins};
pub use cells::NO_CELL;
pub use count::{Counter, Prepared, count};
pub use counts::Counts;
pub use curve::{CURVE_TO, plateau, share_out};
pub use fates::{Action, ByName, ByReason, Fates, Runs, Summary, runs};
pub use flow::{Exit, FellOut, Plainly, StageRows};
pub use gates::{GATE_PARTS, gates, gates_part, set_runs};
pub use input::Input;
pub use kind::Kind;
pub use reason::{Mask, REASONS, REMOVE_BITS, Reason};
pub use settings::{Gates, Settings, SettledPoints, Vote};
pub use settled::{Settled, settled};
pub use spike::standing_out;
pub use table::{MOST_COLUMNS, Picked, Slices, Table};
