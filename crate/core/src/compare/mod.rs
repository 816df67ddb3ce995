//! Placeholder for the stage `compare`.
