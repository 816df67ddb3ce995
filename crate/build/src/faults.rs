//! Plants known faults, one after the other, in a copy of the sources: each must turn a test red.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Instant;

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
/// `find` must stand exactly once in the file; `test` is what follows `cargo test`. A fault that needs more than
/// one change repeats `find` and `with`; `\n` in them ends a line.
const LIST: &str = "tests/faults.txt";

#[derive(Debug, Default, PartialEq)]
struct Fault {
    name: String,
    file: String,
    /// What stands there, and what is planted in its place.
    changes: Vec<(String, String)>,
    test: String,
}

/// How a `cargo test` ended.
#[derive(Debug, PartialEq)]
enum Outcome {
    Green,
    /// Names of the tests that failed.
    Red(Vec<String>),
    /// Not built, or without any test.
    Nothing(&'static str),
}

/// Runs the list, in order or only the faults whose name holds `only`.
///
/// **Errors** where a fault goes unnoticed, cannot be planted or does not compile, and where a test is red before
/// anything was planted.
pub(crate) fn run(root: &Path, only: Option<&str>) -> Result<(), String> {
    let text = std::fs::read_to_string(root.join(LIST)).map_err(|error| format!("{LIST}: {error}"))?;
    let faults: Vec<Fault> =
        read(&text)?.into_iter().filter(|fault| only.is_none_or(|word| fault.name.contains(word))).collect();
    let copy = call::target_folder(root).join("faults/src");
    // A test that is red by itself would notice everything.
    copy_sources(root, &copy).map_err(|error| format!("the sources could not be copied: {error}"))?;
    let mut sound: BTreeMap<&str, bool> = BTreeMap::new();
    for fault in &faults {
        if !sound.contains_key(fault.test.as_str()) {
            eprintln!("\n== nothing planted: cargo test {}", fault.test);
            let outcome = test(&copy, &fault.test)?;
            if outcome != Outcome::Green {
                println!("-- nothing planted: FAILED: cargo test {}: {outcome:?}", fault.test);
            }
            sound.insert(&fault.test, outcome == Outcome::Green);
        }
    }
    let (mut passed, mut failed) = (0, 0);
    for fault in &faults {
        eprintln!("\n== {}", fault.name);
        let start = Instant::now();
        let planted = plant(root, &copy, fault).and_then(|()| test(&copy, &fault.test));
        let seconds = start.elapsed().as_secs_f64();
        let sentence = match planted {
            Ok(Outcome::Red(_)) if !sound[fault.test.as_str()] => "its tests are red without it".to_owned(),
            Ok(Outcome::Red(tests)) => {
                println!("-- {}: noticed by {} ({seconds:.0} s)", fault.name, tests.join(", "));
                passed += 1;
                continue;
            }
            Ok(Outcome::Green) => "no test turned red".to_owned(),
            Ok(Outcome::Nothing(why)) => why.to_owned(),
            Err(sentence) => sentence,
        };
        println!("-- {}: FAILED: {sentence} (cargo test {})", fault.name, fault.test);
        failed += 1;
    }
    println!("{passed} passed, {failed} failed");
    if failed == 0 && passed > 0 { Ok(()) } else { Err("Not every fault was noticed.".to_owned()) }
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
                let whole = [&done.name, &done.file, &done.test].iter().all(|part| !part.is_empty());
                if !whole || done.changes.is_empty() || done.changes.iter().any(|(find, _)| find.is_empty()) {
                    return Err(format!(
                        "{LIST}, line {index}: a fault needs fault, file, find, with and test."
                    ));
                }
                faults.push(done);
            }
            continue;
        }
        let (key, value) = line.split_once(' ').unwrap_or((line, ""));
        let value = &value.replace("\\n", "\n");
        let place = match (key, fault.changes.last_mut()) {
            ("fault", _) => &mut fault.name,
            ("file", _) => &mut fault.file,
            ("test", _) => &mut fault.test,
            ("find", _) => {
                fault.changes.push((value.clone(), String::new()));
                continue;
            }
            ("with", Some((_, with))) => with,
            _ => {
                return Err(format!(
                    "{LIST}, line {}: `{key}` is none of fault, file, find, with after find, test.",
                    index + 1
                ));
            }
        };
        value.clone_into(place);
    }
    Ok(faults)
}

/// The file's text with the fault in it.
fn planted(text: &str, fault: &Fault) -> Result<String, String> {
    let mut text = text.to_owned();
    for (find, with) in &fault.changes {
        let count = text.matches(find).count();
        if count != 1 {
            return Err(format!("`{find}` stands {count} times in {}, not once", fault.file));
        }
        text = text.replacen(find, with, 1);
    }
    Ok(text)
}

/// Makes the copy the sources with this one fault.
fn plant(root: &Path, copy: &Path, fault: &Fault) -> Result<(), String> {
    copy_sources(root, copy).map_err(|error| format!("the sources could not be copied: {error}"))?;
    let file = copy.join(&fault.file);
    let text = std::fs::read_to_string(&file).map_err(|error| format!("{}: {error}", fault.file))?;
    std::fs::write(&file, planted(&text, fault)?).map_err(|error| error.to_string())
}

/// Runs `cargo test` in the copy.
fn test(copy: &Path, words: &str) -> Result<Outcome, String> {
    let mut command = call::clean("cargo");
    command.current_dir(copy).env("CARGO_TARGET_DIR", copy.with_file_name("target"));
    command.args(["test", "--locked", "--no-fail-fast", "--quiet"]).args(words.split(' '));
    let output = command.stderr(Stdio::inherit()).output().map_err(|error| error.to_string())?;
    Ok(outcome(&String::from_utf8_lossy(&output.stdout), output.status.success()))
}

fn outcome(said: &str, success: bool) -> Outcome {
    let results = || said.lines().filter_map(|line| line.strip_prefix("test result: "));
    if results().any(|result| result.starts_with("FAILED")) {
        let failed = |line: &str| {
            let name = line.strip_prefix("---- ")?.strip_suffix(" stdout ----")?;
            Some(name.to_owned())
        };
        return Outcome::Red(said.lines().filter_map(failed).collect());
    }
    if !success {
        return Outcome::Nothing("it does not compile");
    }
    if results().all(|result| result.starts_with("ok. 0 passed")) {
        return Outcome::Nothing("no test of that name");
    }
    Outcome::Green
}

/// Copies what differs, so that a second run compiles little.
fn copy_sources(from: &Path, to: &Path) -> std::io::Result<()> {
    const LEFT_OUT: [&str; 4] = ["target", "dist", ".git", "screenshots"];
    std::fs::create_dir_all(to)?;
    // What has gone or moved since the last copy must not be built beside what came in its place.
    for entry in std::fs::read_dir(to)? {
        let old = entry?.path();
        let new = from.join(old.file_name().unwrap_or_default());
        if old.is_dir() && !new.is_dir() {
            std::fs::remove_dir_all(&old)?;
        } else if !old.is_dir() && !new.is_file() {
            std::fs::remove_file(&old)?;
        }
    }
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
        let text = "# list\nfault a b\nfile x.rs\nfind a + b\nwith a -\\n b\nfind c\nwith\ntest -p c\n\n\n";
        let faults = read(text).unwrap();
        assert_eq!(faults.len(), 1);
        assert_eq!(faults[0].name, "a b");
        assert_eq!(
            faults[0].changes,
            [("a + b".to_owned(), "a -\n b".to_owned()), ("c".to_owned(), String::new())]
        );
        assert_eq!(planted("(a + b) c", &faults[0]).unwrap(), "(a -\n b) ");
        assert!(planted("(a + b) c c", &faults[0]).unwrap_err().contains("2 times"));
        assert!(read("fault a\nfile x\n").unwrap_err().contains("needs"));
        assert!(read("nonsense x\n").unwrap_err().contains("line 1"));
        assert!(read("with x\n").unwrap_err().contains("after find"));
    }

    #[test]
    fn red_green_and_nothing_are_told_apart() {
        let red = "---- sums::a stdout ----\npanicked\n\nfailures:\n    sums::a\n\n\
                   test result: FAILED. 2 passed; 1 failed; 0 ignored\n";
        assert_eq!(outcome(red, false), Outcome::Red(vec!["sums::a".to_owned()]));
        assert_eq!(outcome("test result: ok. 2 passed; 0 failed\n", true), Outcome::Green);
        assert!(matches!(outcome("test result: ok. 0 passed; 0 failed\n", true), Outcome::Nothing(_)));
        assert!(matches!(outcome("", false), Outcome::Nothing(_)));
    }

    #[test]
    fn a_copy_made_again_holds_nothing_that_has_gone() {
        let folder = std::env::temp_dir().join(format!("copied-{}", std::process::id()));
        let (from, to) = (folder.join("from"), folder.join("to"));
        std::fs::create_dir_all(from.join("inner")).unwrap();
        std::fs::write(from.join("inner/a.rs"), "a").unwrap();
        std::fs::write(from.join("b.rs"), "b").unwrap();
        copy_sources(&from, &to).unwrap();
        std::fs::remove_dir_all(from.join("inner")).unwrap();
        std::fs::rename(from.join("b.rs"), from.join("inner")).unwrap();
        copy_sources(&from, &to).unwrap();
        let names: Vec<_> = std::fs::read_dir(&to).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        assert_eq!(names, ["inner"]);
        assert_eq!(std::fs::read(to.join("inner")).unwrap(), b"b");
        std::fs::remove_dir_all(&folder).unwrap();
    }

    /// The sources move on: every fault must still have its place, and be one.
    #[test]
    fn every_fault_can_be_planted() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let faults = read(&std::fs::read_to_string(root.join(LIST)).unwrap()).unwrap();
        assert!(faults.len() >= 12);
        let mut bad = Vec::new();
        for fault in &faults {
            let text = std::fs::read_to_string(root.join(&fault.file)).unwrap_or_default();
            match planted(&text, fault) {
                Ok(changed) if changed != text => {}
                Ok(_) => bad.push(format!("{}: changes nothing", fault.name)),
                Err(sentence) => bad.push(format!("{}: {sentence}", fault.name)),
            }
        }
        assert!(bad.is_empty(), "mend {LIST}:\n{}", bad.join("\n"));
    }
}
