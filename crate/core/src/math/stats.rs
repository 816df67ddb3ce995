//! Robust statistics and fixed-order sums.
