//! Placeholder for the stage `align`.
