//! Plants known faults, one after the other, in a copy of the sources: each must turn a test red.

use std::path::{Path, PathBuf};
use std::process::Stdio;

use crate::call;

/// The list. A fault is a block of lines, blocks are parted by an empty line, `#` starts a comment:
///
/// ```text
/// fault the voltage drop is added instead of taken off
/// file crate/core/src/fixture/correction.rs
/// find v_in - i_in * r_in
/// with v_in + i_in * r_in
/// test -p wattsieve-core fixture
/// ```
///
/// `find` must stand exactly once in the file; `test` is what follows `cargo test`.
const LIST: &str = "tests/faults.txt";

#[derive(Debug, Default, PartialEq)]
struct Fault {
    name: String,
    file: String,
    find: String,
    with: String,
    test: String,
}

/// Runs the list.
///
/// **Errors** where a fault goes unnoticed, cannot be planted or does not compile.
pub(crate) fn run(root: &Path) -> Result<(), String> {
    let text = std::fs::read_to_string(root.join(LIST)).map_err(|error| format!("{LIST}: {error}"))?;
    let faults = read(&text)?;
    let (mut passed, mut failed) = (0, 0);
    for fault in &faults {
        eprintln!("\n== {}", fault.name);
        match plant(root, fault) {
            Ok(()) => {
                println!("-- {}: noticed", fault.name);
                passed += 1;
            }
            Err(sentence) => {
                println!("-- {}: FAILED: {sentence}", fault.name);
                failed += 1;
            }
        }
    }
    println!("{passed} passed, {failed} failed");
    if failed == 0 { Ok(()) } else { Err("Not every fault was noticed.".to_owned()) }
}

fn read(text: &str) -> Result<Vec<Fault>, String> {
    let mut faults = Vec::new();
    let mut fault = Fault::default();
    for (index, line) in text.lines().chain([""]).enumerate() {
        if line.starts_with('#') {
            continue;
        }
        if line.is_empty() {
            let done = std::mem::take(&mut fault);
            if done != Fault::default() {
                if [&done.name, &done.file, &done.find, &done.test].iter().any(|part| part.is_empty()) {
                    return Err(format!(
                        "{LIST}, line {}: a fault needs fault, file, find, with and test.",
                        index
                    ));
                }
                faults.push(done);
            }
            continue;
        }
        let (key, value) = line.split_once(' ').unwrap_or((line, ""));
        let place = match key {
            "fault" => &mut fault.name,
            "file" => &mut fault.file,
            "find" => &mut fault.find,
            "with" => &mut fault.with,
            "test" => &mut fault.test,
            _ => {
                return Err(format!(
                    "{LIST}, line {}: `{key}` is none of fault, file, find, with, test.",
                    index + 1
                ));
            }
        };
        value.clone_into(place);
    }
    Ok(faults)
}

fn plant(root: &Path, fault: &Fault) -> Result<(), String> {
    let copy = call::target_folder(root).join("faults/src");
    copy_sources(root, &copy).map_err(|error| format!("the sources could not be copied: {error}"))?;
    let file = copy.join(&fault.file);
    let text = std::fs::read_to_string(&file).map_err(|error| format!("{}: {error}", fault.file))?;
    let count = text.matches(&fault.find).count();
    if count != 1 {
        return Err(format!("`{}` stands {count} times in {}, not once", fault.find, fault.file));
    }
    std::fs::write(&file, text.replacen(&fault.find, &fault.with, 1)).map_err(|error| error.to_string())?;
    let mut command = call::clean("cargo");
    command.current_dir(&copy).env("CARGO_TARGET_DIR", copy.with_file_name("target"));
    command.args(["test", "--locked", "--no-fail-fast", "--quiet"]).args(fault.test.split(' '));
    let output = command.stderr(Stdio::inherit()).output().map_err(|error| error.to_string())?;
    let said = String::from_utf8_lossy(&output.stdout);
    if said.lines().any(|line| line.starts_with("test result: FAILED")) {
        return Ok(());
    }
    let reason = if output.status.success() { "no test turned red" } else { "it does not compile" };
    Err(format!("{reason} (cargo test {})", fault.test))
}

/// Copies what differs, so that a second run compiles little.
fn copy_sources(from: &Path, to: &Path) -> std::io::Result<()> {
    const LEFT_OUT: [&str; 4] = ["target", "dist", ".git", "screenshots"];
    std::fs::create_dir_all(to)?;
    for entry in std::fs::read_dir(from)? {
        let entry = entry?;
        let name = entry.file_name();
        if LEFT_OUT.iter().any(|left| *left == name) {
            continue;
        }
        let (source, target): (PathBuf, PathBuf) = (entry.path(), to.join(&name));
        if source.is_dir() {
            copy_sources(&source, &target)?;
        } else {
            let bytes = std::fs::read(&source)?;
            if std::fs::read(&target).ok().as_ref() != Some(&bytes) {
                std::fs::write(&target, bytes)?;
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_are_read_and_what_is_missing_named() {
        let faults = read("# list\nfault a b\nfile x.rs\nfind a + b\nwith a - b\ntest -p c\n\n\n").unwrap();
        assert_eq!(faults.len(), 1);
        assert_eq!((faults[0].name.as_str(), faults[0].with.as_str()), ("a b", "a - b"));
        assert!(read("fault a\nfile x\n").unwrap_err().contains("needs"));
        assert!(read("nonsense x\n").unwrap_err().contains("line 1"));
    }
}
