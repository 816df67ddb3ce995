//! Small numerics shared by the stages: fixed-order sums, quantiles, linear algebra.

pub mod linear;
pub mod random;
pub(crate) mod small;
pub mod stats;
