//! Which wasm standard library the page is built with: rustup's, or Debian's built from sources.

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::call;

/// The name of the target.
pub(crate) const TARGET: &str = "wasm32-unknown-unknown";
const LIMIT: Duration = Duration::from_secs(60);
const DEBIAN: [&str; 3] =
    ["/usr/bin/cargo", "/usr/bin/rustc", "/usr/lib/rustlib/src/rust/library/Cargo.lock"];

/// Where the library comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Route {
    /// Prebuilt, beside the toolchain in use.
    Rustup,
    /// Debian's compiler, which builds the library from Debian's sources.
    Debian,
}

impl Route {
    /// The name in options and folders.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Route::Rustup => "rustup",
            Route::Debian => "debian",
        }
    }
}

/// Decides, installing the target through rustup where that is possible.
///
/// **Errors** one sentence and the commands to type, where no route is open or the asked one is not.
pub(crate) fn decide(asked: Option<&str>) -> Result<(Route, String), String> {
    let from_environment = std::env::var("WASM_STD").ok().filter(|value| !value.is_empty());
    let (asked, by) = match (asked, &from_environment) {
        (Some(route), _) => (Some(route), "--wasm-std says so"),
        (None, Some(route)) => (Some(route.as_str()), "WASM_STD says so"),
        (None, None) => (None, ""),
    };
    match asked {
        Some("debian") => match missing_of_debian() {
            None => Ok((Route::Debian, by.to_owned())),
            Some(path) => Err(format!(
                "The Debian wasm library was asked for, but {path} is missing. Type:\n  {DEBIAN_COMMAND}"
            )),
        },
        Some("rustup") => match prebuilt().or_else(add_by_rustup) {
            Ok(why) => Ok((Route::Rustup, format!("{by}; {why}"))),
            Err(why) => {
                Err(format!("rustup's wasm library was asked for, but {why}. Type:\n  {RUSTUP_COMMAND}"))
            }
        },
        Some(other) => Err(format!("`{other}` is no source of the wasm library: say `rustup` or `debian`.")),
        None => find(),
    }
}

const RUSTUP_COMMAND: &str = "rustup target add wasm32-unknown-unknown";
const DEBIAN_COMMAND: &str = "apt-get install -y --no-install-recommends rustc-web cargo-web rust-web-src";

fn find() -> Result<(Route, String), String> {
    let not_here = match prebuilt() {
        Ok(why) => return Ok((Route::Rustup, why)),
        Err(why) => why,
    };
    let not_added = match add_by_rustup(not_here.clone()) {
        Ok(why) => return Ok((Route::Rustup, why)),
        Err(why) => why,
    };
    match missing_of_debian() {
        None => Ok((Route::Debian, format!("{not_here}, {not_added}, Debian's packages are installed"))),
        Some(path) => Err(format!(
            "No wasm standard library: {not_here}, {not_added}, and Debian's {path} is missing. Type one of:\n  \
             {RUSTUP_COMMAND}\n  {DEBIAN_COMMAND}"
        )),
    }
}

/// The exit status says nothing here: the folder is printed even when it does not exist.
fn prebuilt() -> Result<String, String> {
    let folder = call::answer(call::clean("rustc").args(["--print", "target-libdir", "--target", TARGET]));
    let holds_core = |folder: &Path| {
        let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
        entries.map(|entry| entry.file_name()).any(|name| {
            let name = name.to_string_lossy();
            name.starts_with("libcore-") && name.ends_with(".rlib")
        })
    };
    match folder.map(PathBuf::from) {
        Some(folder) if holds_core(&folder) => Ok("the target is installed".to_owned()),
        Some(_) => Err("the target is not installed".to_owned()),
        None => Err("no rustc was found".to_owned()),
    }
}

fn add_by_rustup(_: String) -> Result<String, String> {
    eprintln!("Trying `{RUSTUP_COMMAND}`, at most {} s ...", LIMIT.as_secs());
    let mut command = call::clean("rustup");
    command.args(["target", "add", TARGET]);
    match call::run_for(&mut command, LIMIT) {
        Err(error) => Err(format!("rustup could not be started ({error})")),
        Ok(call::Ended::Stopped) => Err(format!("rustup did not answer within {} s", LIMIT.as_secs())),
        Ok(call::Ended::Itself(status)) if !status.success() => {
            Err("rustup could not fetch the target".to_owned())
        }
        Ok(call::Ended::Itself(_)) => prebuilt().map(|_| "rustup has just installed the target".to_owned()),
    }
}

fn missing_of_debian() -> Option<&'static str> {
    DEBIAN.into_iter().find(|path| !Path::new(path).exists())
}
