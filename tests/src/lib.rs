//! Simulated benches and helpers shared by the tests.
