//! The built page, from disk, in a real Chromium.

mod opening;
mod policy;
