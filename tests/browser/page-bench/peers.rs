//! The other parsers: found where they were installed, else named with what to type.

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};

use wattsieve_browser_tests::{Outcome, workspace};

/// Below the workspace; nothing of it is committed.
const FOLDER: &str = "target/peers";

/// What is there of the peers.
pub(crate) struct Peers {
    /// Scripts for the browser, in order; empty where one is missing.
    pub(crate) scripts: Vec<String>,
    /// What to type for those that are not there.
    pub(crate) missing: Vec<String>,
    python: Option<PathBuf>,
}

impl Peers {
    pub(crate) fn find() -> Self {
        let folder = workspace().join(FOLDER);
        let names = ["papaparse/papaparse.min.js", "udsv/dist/uDSV.iife.min.js"];
        let read = |name: &&str| std::fs::read_to_string(folder.join("node_modules").join(name)).ok();
        let scripts: Vec<String> = names.iter().filter_map(read).collect();
        let mut missing = Vec::new();
        if scripts.len() < names.len() {
            missing.push(format!(
                "uDSV or PapaParse is not installed. In the project's folder type:\n  npm install --prefix {FOLDER} udsv papaparse"
            ));
        }
        let python = Some(folder.join("python/bin/python")).filter(|path| {
            let asked =
                Command::new(path).args(["-c", "import polars, numpy"]).stderr(Stdio::null()).status();
            asked.is_ok_and(|status| status.success())
        });
        if python.is_none() {
            missing.push(format!(
                "polars or numpy is not installed. In the project's folder type:\n  python3 -m venv {FOLDER}/python && {FOLDER}/python/bin/pip install polars numpy"
            ));
        }
        let whole = scripts.len() == names.len();
        Self { scripts: if whole { scripts } else { Vec::new() }, missing, python }
    }

    /// Starts the native peer on a file, on two threads.
    ///
    /// **Errors** where it is there and does not start.
    pub(crate) fn python(&self, file: &Path) -> Outcome<Option<Python>> {
        let Some(path) = &self.python else { return Ok(None) };
        let mut child = Command::new(path)
            .args(["-c", include_str!("table.py")])
            .arg(file)
            .env("POLARS_MAX_THREADS", "2")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()?;
        let (input, output) = (child.stdin.take(), child.stdout.take());
        let (Some(input), Some(output)) = (input, output) else { return Err("python has no pipes".into()) };
        Ok(Some(Python { child, input, output: BufReader::new(output) }))
    }
}

/// A python that waits for its turn.
pub(crate) struct Python {
    child: Child,
    input: ChildStdin,
    output: BufReader<ChildStdout>,
}

impl Python {
    /// Nanoseconds of one run of what a line asks for.
    ///
    /// **Errors** where it has ended.
    pub(crate) fn ask(&mut self, line: &str) -> Outcome<f64> {
        self.input.write_all(line.as_bytes())?;
        self.input.write_all(b"\n")?;
        self.input.flush()?;
        let mut line = String::new();
        self.output.read_line(&mut line)?;
        let first = line.split_whitespace().next().ok_or("python has ended")?;
        Ok(first.parse()?)
    }
}

impl Drop for Python {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
