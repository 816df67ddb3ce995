//! The native command, for comparison with the page.

use std::path::PathBuf;
use std::process::Command;

use crate::{Outcome, workspace};

/// Where `cargo page` leaves the native command.
pub fn command_path() -> PathBuf {
    let target = std::env::var_os("CARGO_TARGET_DIR").map(PathBuf::from);
    target.unwrap_or_else(|| workspace().join("target")).join("release/wattsieve")
}

/// Runs `wattsieve` with these words and gives the bytes it writes as results.
///
/// **Errors** where it cannot be run, or ends with a status that is neither complete nor asking.
pub fn results_of_command(words: &[String]) -> Outcome<Vec<u8>> {
    let folder = crate::Folder::new()?;
    let file = folder.path().join("results.json");
    let output = Command::new(command_path()).args(words).arg("--quiet").arg("--json").arg(&file).output();
    let output = output.map_err(|error| format!("{}: {error}; run cargo page", command_path().display()))?;
    if !matches!(output.status.code(), Some(0 | 4)) {
        return Err(format!("wattsieve {words:?}: {}", String::from_utf8_lossy(&output.stderr)).into());
    }
    Ok(std::fs::read(file)?)
}
