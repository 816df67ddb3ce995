//! Placeholder for the stage `map`.
