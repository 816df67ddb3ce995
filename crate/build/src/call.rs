//! Running other programs: with a cleaned environment, and with a limit on their time.

use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Stdio};
use std::time::{Duration, Instant};

/// A command whose environment has lost what an outer cargo or a user's shell would force on an
/// inner one.
///
/// Kept: `CARGO_HOME`, and what only says how to reach the network (`CARGO_HTTP_*`, `CARGO_NET_*`,
/// `CARGO_REGISTRIES_*`, `CARGO_REGISTRY_*`, `CARGO_SOURCE_*`).
pub(crate) fn clean(program: impl AsRef<std::ffi::OsStr>) -> Command {
    let mut command = Command::new(program);
    for (name, _) in std::env::vars_os() {
        if is_forced(&name) {
            command.env_remove(&name);
        }
    }
    command
}

fn is_forced(name: &OsString) -> bool {
    let Some(name) = name.to_str() else { return false };
    const KEPT: [&str; 5] =
        ["CARGO_HTTP_", "CARGO_NET_", "CARGO_REGISTRIES_", "CARGO_REGISTRY_", "CARGO_SOURCE_"];
    match name {
        "CARGO_HOME" => false,
        "CARGO" | "RUSTC" | "RUSTFLAGS" | "RUSTDOC" | "RUSTDOCFLAGS" | "RUSTUP_TOOLCHAIN" => true,
        _ if name.starts_with("RUSTC_") => true,
        _ => name.starts_with("CARGO_") && !KEPT.iter().any(|kept| name.starts_with(kept)),
    }
}

/// The folder under which every cargo of this program writes: `CARGO_TARGET_DIR` where the user set
/// it, else `target` in the workspace. Handed on in full, so that all agree.
pub(crate) fn target_folder(root: &Path) -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(folder) => std::path::absolute(PathBuf::from(folder)).unwrap_or_else(|_| root.join("target")),
        None => root.join("target"),
    }
}

/// A cargo in the workspace with the clean environment.
pub(crate) fn cargo(root: &Path) -> Command {
    let mut command = clean("cargo");
    command.current_dir(root).env("CARGO_TARGET_DIR", target_folder(root));
    command
}

/// Runs to the end, output to the terminal.
///
/// **Errors** where it cannot be started or ends with a status other than 0.
pub(crate) fn run(what: &str, command: &mut Command) -> Result<(), String> {
    let status = command.status().map_err(|error| format!("{what} could not be started: {error}."))?;
    if status.success() { Ok(()) } else { Err(format!("{what} failed ({status}).")) }
}

/// Runs and gives the trimmed standard output; nothing where it fails or does not exist.
pub(crate) fn answer(command: &mut Command) -> Option<String> {
    let output = command.stdin(Stdio::null()).stderr(Stdio::null()).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim().to_owned())
}

/// How a program with a limit ended.
pub(crate) enum Ended {
    /// By itself.
    Itself(ExitStatus),
    /// It was stopped at the limit.
    Stopped,
}

/// Runs with a limit; at the limit this one child is stopped by its own handle.
///
/// **Errors** where it cannot be started or waited for.
pub(crate) fn run_for(command: &mut Command, limit: Duration) -> std::io::Result<Ended> {
    let mut child = command.stdin(Stdio::null()).spawn()?;
    let start = Instant::now();
    loop {
        if let Some(status) = child.try_wait()? {
            return Ok(Ended::Itself(status));
        }
        if start.elapsed() > limit {
            child.kill()?;
            child.wait()?;
            return Ok(Ended::Stopped);
        }
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn forced_settings_are_cleared_and_the_way_to_the_network_kept() {
        let forced =
            ["RUSTC", "RUSTFLAGS", "RUSTUP_TOOLCHAIN", "CARGO", "CARGO_BUILD_TARGET", "CARGO_TARGET_DIR"];
        let more = ["CARGO_ENCODED_RUSTFLAGS", "RUSTC_WRAPPER", "CARGO_PROFILE_RELEASE_LTO"];
        for name in forced.iter().chain(&more) {
            assert!(is_forced(&OsString::from(name)), "{name}");
        }
        for name in ["CARGO_HOME", "CARGO_HTTP_PROXY", "CARGO_NET_OFFLINE", "PATH", "WASM_STD"] {
            assert!(!is_forced(&OsString::from(name)), "{name}");
        }
    }

    #[test]
    fn a_child_that_hangs_is_stopped() {
        let ended = run_for(Command::new("sleep").arg("600"), Duration::from_millis(100)).unwrap();
        assert!(matches!(ended, Ended::Stopped));
    }
}
