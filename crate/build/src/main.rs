//! Makes the page and runs every check.
//!
//! `cargo page` builds the wasm, joins it with `www/` into `dist/wattsieve.html` and runs the demo;
//! `cargo verify` runs formatting, lints, tests, the page build and the browser tests. This program
//! uses none of the other crates: it runs them.
#![allow(clippy::print_stdout, reason = "a build tool talks to the terminal")]

mod call;
mod demo;
mod faults;
mod forbidden;
mod guard;
mod install;
mod join;
mod page;
mod shot;
mod size;
mod verify;
mod wasm;
mod wasm_std;

use std::path::{Path, PathBuf};
use std::process::ExitCode;

const USAGE: &str = "\
cargo page [--wasm-std rustup|debian] [--quick]   make dist/wattsieve.html, then run the demo
cargo verify [fast|faults]                        run every check
cargo run -q -p wattsieve-build -- shot FILE.html OUT.png [--size WxH] [--dark]";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = workspace().and_then(|root| match words.split_first() {
        Some((&"page", rest)) => page_options(rest).and_then(|options| page_and_demo(&root, &options)),
        Some((&"verify", rest)) => verify::run(&root, rest),
        Some((&"shot", rest)) => shot::run(rest),
        _ => Err(USAGE.to_owned()),
    });
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("{sentence}");
            ExitCode::FAILURE
        }
    }
}

/// What `cargo page` was asked for.
#[derive(Default)]
pub(crate) struct PageOptions {
    /// `rustup` or `debian`; none = decide.
    wasm_std: Option<String>,
    /// Less optimised wasm and no demo run, for work on the page itself.
    quick: bool,
}

fn page_options(words: &[&str]) -> Result<PageOptions, String> {
    let mut options = PageOptions::default();
    let mut words = words.iter();
    while let Some(&word) = words.next() {
        match word {
            "--quick" => options.quick = true,
            "--wasm-std" => match words.next() {
                Some(&route) => options.wasm_std = Some(route.to_owned()),
                None => return Err("--wasm-std wants `rustup` or `debian` after it.".to_owned()),
            },
            other => match other.strip_prefix("--wasm-std=") {
                Some(route) => options.wasm_std = Some(route.to_owned()),
                None => return Err(format!("`{other}` is not an option of cargo page.\n{USAGE}")),
            },
        }
    }
    Ok(options)
}

fn page_and_demo(root: &Path, options: &PageOptions) -> Result<(), String> {
    if options.quick {
        println!("Open {}", page::make(root, options)?.display());
        return Ok(());
    }
    // The linker of each works alone for minutes: side by side both are done sooner.
    let building = demo::begin(root)?;
    match page::make(root, options) {
        Ok(made) => demo::run(root, &made, building),
        Err(sentence) => {
            building.into_iter().for_each(demo::Building::stop);
            Err(sentence)
        }
    }
}

/// The workspace's folder: the nearest one above that holds this program's sources.
fn workspace() -> Result<PathBuf, String> {
    let start = match std::env::var_os("CARGO_MANIFEST_DIR") {
        Some(folder) => PathBuf::from(folder),
        None => std::env::current_dir().map_err(|error| format!("No current folder: {error}."))?,
    };
    let found = start.ancestors().find(|folder| folder.join("crate/build/Cargo.toml").is_file());
    found
        .map(Path::to_path_buf)
        .ok_or_else(|| format!("{} is not inside the project's folder.", start.display()))
}
