//! The analysis must reach no browser, clock, thread, random number or drawing.

use std::path::{Path, PathBuf};

use crate::call;

/// Packages that `wattsieve-core` must not reach, not even through another.
const PACKAGES: [&str; 14] = [
    "web-sys",
    "js-sys",
    "wasm-bindgen",
    "plotters",
    "plotters-backend",
    "plotters-canvas",
    "rand",
    "getrandom",
    "chrono",
    "time",
    "rayon",
    "log",
    "tokio",
    "wattsieve-draw",
];

/// Modules of the standard library that no crate of the page may name: they stop the page where it
/// runs, not where it is compiled.
const MODULES: [&str; 6] = ["std::time", "std::fs", "std::net", "std::thread", "std::env", "std::process"];

/// Looks at the dependency tree and at the sources.
///
/// **Errors** the first things found.
pub(crate) fn check(root: &Path) -> Result<(), String> {
    let mut command = call::cargo(root);
    command.args([
        "tree",
        "--locked",
        "-p",
        "wattsieve-core",
        "-e",
        "normal",
        "--prefix",
        "none",
        "--format",
        "{p}",
    ]);
    let tree = call::answer(&mut command).ok_or("cargo tree failed.")?;
    let mut found = reached(&tree);
    let folders = ["crate/core/src", "crate/draw/src", "crate/web/src"].map(|folder| root.join(folder));
    for file in folders.iter().flat_map(|folder| rust_files(folder)) {
        let text = std::fs::read_to_string(&file).map_err(|error| format!("{}: {error}.", file.display()))?;
        let name = file.strip_prefix(root).unwrap_or(&file).display().to_string();
        found.extend(named(&name, &text));
    }
    if found.is_empty() {
        Ok(())
    } else {
        Err(format!("The analysis and the page must not use: {}.", found.join("; ")))
    }
}

fn reached(tree: &str) -> Vec<String> {
    let packages = tree.lines().filter_map(|line| line.split(' ').next());
    let mut found: Vec<String> =
        packages.filter(|name| PACKAGES.contains(name)).map(|name| format!("package {name}")).collect();
    found.sort();
    found.dedup();
    found
}

fn named(file: &str, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if line.trim_start().starts_with("//") {
            continue;
        }
        found.extend(
            MODULES
                .iter()
                .filter(|module| line.contains(**module))
                .map(|module| format!("{module} in {file}, line {}", index + 1)),
        );
    }
    found
}

/// Sources that reach the page; a module's `tests.rs` does not.
fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") && !path.ends_with("tests.rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_forbidden_package_or_module_is_found() {
        assert_eq!(
            reached("wattsieve-core v0.1.0 (/x)\nlibm v0.2\nweb-sys v0.3\nweb-sys v0.3 (*)"),
            ["package web-sys"]
        );
        assert_eq!(reached("libm v0.2\nserde v1"), Vec::<String>::new());
        let text = "// std::time is not used\nuse std::time::Instant;\n";
        assert_eq!(named("a.rs", text), ["std::time in a.rs, line 2"]);
    }
}
