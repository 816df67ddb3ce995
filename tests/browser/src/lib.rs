//! Drives a real Chromium for the browser tests: the page from disk, alone in an empty folder, in
//! a fresh profile.
#![cfg(feature = "browser")]

mod browser;
mod driver;
mod folder;
mod server;

pub use browser::{Browser, Scheme, View};
pub use folder::{Folder, workspace};
pub use server::CountingServer;

/// What a test gives back: any error's words fail it.
pub type Outcome<T> = Result<T, Box<dyn std::error::Error + Send + Sync>>;
