//! Placeholder for the stage `bench`.
