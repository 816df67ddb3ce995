//! Which rows can be used, and why the others cannot: gates and the sieve.
//!
//! Nothing is deleted: every row carries a mask of reasons. This stage has never heard of
//! efficiency; it sees readings only.

mod reason;

pub use reason::{Mask, REASONS, REMOVE_BITS, Reason};
