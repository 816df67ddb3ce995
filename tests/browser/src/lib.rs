//! Drives a real Chromium for the browser tests: the page from disk, alone in an empty folder, in
//! a fresh profile.
#![cfg(feature = "browser")]

mod browser;
mod command;
mod driver;
mod folder;
mod logs;
mod looking;
mod server;
mod xml;

pub use browser::Browser;
pub use command::{command_path, results_of_command};
pub use folder::{Folder, workspace};
pub use logs::{hand_table, output_shorted_log, restless_log, step_up_log};
pub use looking::{Scheme, View};
pub use server::CountingServer;
pub use xml::words_of_svg;

/// What a test gives back: any error's words fail it.
pub type Outcome<T> = Result<T, Box<dyn std::error::Error + Send + Sync>>;
