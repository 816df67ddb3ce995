//! Placeholder for the stage `finding`.
