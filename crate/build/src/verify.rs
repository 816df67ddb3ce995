//! Runs every check, one after the other; a failing one does not hide the rest.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use crate::{PageOptions, call, forbidden, install, page_and_demo};

/// Counts of checks: a step without tests counts as one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Tally {
    passed: u64,
    failed: u64,
}

/// `cargo verify`: everything; `fast`: without the page and the browser; `faults`: whether the tests
/// notice planted faults.
///
/// **Errors** where anything failed.
pub(crate) fn run(root: &Path, words: &[&str]) -> Result<(), String> {
    let fast = match words {
        [] => false,
        ["fast"] => true,
        ["faults"] => return crate::faults::run(root, None),
        ["faults", only] => return crate::faults::run(root, Some(only)),
        _ => {
            return Err(
                "cargo verify takes no option, `fast`, or `faults` with a word of a fault's name.".to_owned()
            );
        }
    };
    let mut total = Tally::default();
    let mut failures = Vec::new();
    let mut step = |name: &str, work: &mut dyn FnMut() -> (Tally, Result<(), String>)| {
        eprintln!("\n== {name}");
        let start = Instant::now();
        let (tally, outcome) = work();
        total.passed += tally.passed;
        total.failed += tally.failed;
        let word = match &outcome {
            Ok(()) => "passed".to_owned(),
            Err(sentence) => {
                eprintln!("{sentence}");
                failures.push(name.to_owned());
                format!("FAILED: {sentence}")
            }
        };
        println!("-- {name}: {word} ({:.0} s)", start.elapsed().as_secs_f64());
    };

    step("formatting", &mut || {
        one(call::run("cargo fmt", call::cargo(root).args(["fmt", "--all", "--check"])))
    });
    step("what the analysis may use", &mut || one(forbidden::check(root)));
    step("lints", &mut || {
        let words = "clippy --workspace --all-targets --all-features --locked -- -D warnings";
        one(call::run("clippy", call::cargo(root).args(words.split(' '))))
    });
    // The builder and the browser tests link heavy packages and compute little: the dev profile.
    step("tests of the builder", &mut || {
        tests(call::cargo(root).args("test --profile dev -p wattsieve-build --locked".split(' ')))
    });
    step("tests", &mut || {
        let words = "test --workspace --exclude wattsieve-build --exclude wattsieve-browser-tests --no-fail-fast \
                     --locked";
        tests(call::cargo(root).args(words.split_ascii_whitespace()))
    });
    if !fast {
        step("the page and the demo", &mut || one(page_and_demo(root, &PageOptions::default())));
        step("the browser", &mut || one(install::browser()));
        step("browser tests", &mut || {
            let words =
                "test --profile dev -p wattsieve-browser-tests --features browser --no-fail-fast --locked";
            tests(call::cargo(root).args(words.split(' ')))
        });
    }
    for name in &failures {
        println!("FAILED: {name}");
    }
    println!("{} passed, {} failed", total.passed, total.failed);
    if total.failed == 0 { Ok(()) } else { Err("Not everything passed.".to_owned()) }
}

fn one(outcome: Result<(), String>) -> (Tally, Result<(), String>) {
    match outcome {
        Ok(()) => (Tally { passed: 1, failed: 0 }, outcome),
        Err(_) => (Tally { passed: 0, failed: 1 }, outcome),
    }
}

/// Runs a `cargo test`, passes its lines on and counts what its binaries say.
fn tests(command: &mut Command) -> (Tally, Result<(), String>) {
    let mut tally = Tally::default();
    let mut stream = || -> std::io::Result<bool> {
        let mut child = command.stdout(Stdio::piped()).spawn()?;
        if let Some(output) = child.stdout.take() {
            for line in BufReader::new(output).split(b'\n') {
                let line = line?;
                let line = String::from_utf8_lossy(&line);
                println!("{line}");
                if let Some(more) = counted(&line) {
                    tally.passed += more.passed;
                    tally.failed += more.failed;
                }
            }
        }
        Ok(child.wait()?.success())
    };
    let outcome = match stream() {
        Ok(true) if tally.failed == 0 => Ok(()),
        Ok(_) => Err(format!("{} tests failed or could not be built.", tally.failed)),
        Err(error) => Err(format!("cargo test could not be started: {error}.")),
    };
    // A binary that does not build or dies has no line of its own, yet must not count as nothing.
    if outcome.is_err() && tally.failed == 0 {
        tally.failed = 1;
    }
    (tally, outcome)
}

/// `test result: ok. 3 passed; 0 failed; ...`
fn counted(line: &str) -> Option<Tally> {
    let rest = line.strip_prefix("test result: ")?;
    let number = |word: &str| {
        let before = rest.split(word).next()?;
        before.rsplit(|c: char| !c.is_ascii_digit()).find(|part| !part.is_empty())?.parse().ok()
    };
    Some(Tally { passed: number(" passed")?, failed: number(" failed")? })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_of_test_binaries_are_counted() {
        let line = "test result: FAILED. 12 passed; 3 failed; 1 ignored; 0 measured; 0 filtered out; finished in 0.00s";
        assert_eq!(counted(line), Some(Tally { passed: 12, failed: 3 }));
        assert_eq!(counted("test a ... ok"), None);
    }

    #[test]
    fn a_test_run_that_dies_counts_as_failed() {
        let (tally, outcome) = tests(Command::new("sh").args(["-c", "exit 101"]));
        assert_eq!(tally, Tally { passed: 0, failed: 1 });
        assert!(outcome.is_err());
        let said = "echo 'test result: ok. 2 passed; 0 failed; 0 ignored'";
        assert_eq!(tests(Command::new("sh").args(["-c", said])).0, Tally { passed: 2, failed: 0 });
    }
}
