//! Placeholder for the stage `loss`.
