//! Simulated runs with known wrong rows.
