//! The chromedriver process.

use std::io::{BufRead as _, BufReader};
use std::os::unix::process::CommandExt as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};

use crate::Outcome;

/// A chromedriver on a free port, in its own process group: the browser goes with it. Ending only
/// the driver would leave a browser that holds the output pipe, and the calling shell would hang.
#[derive(Debug)]
pub(crate) struct Driver {
    child: Child,
    port: u16,
}

impl Driver {
    /// Starts one whose profiles go below `scratch`.
    pub(crate) fn start(scratch: &Path) -> Outcome<Driver> {
        let mut command = Command::new("chromedriver");
        command.arg("--port=0").env("TMPDIR", scratch).process_group(0);
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::null());
        let mut child =
            command.spawn().map_err(|error| format!("chromedriver: {error}; install chromium-driver"))?;
        let output = child.stdout.take().ok_or("chromedriver has no output")?;
        let mut lines = BufReader::new(output).lines();
        for line in lines.by_ref() {
            let line = line?;
            if let Some(port) = line.split("started successfully on port ").nth(1) {
                let port = port.trim_end_matches('.').parse()?;
                // Keep reading, or the driver stops once the pipe is full.
                std::thread::spawn(move || lines.for_each(drop));
                return Ok(Driver { child, port });
            }
        }
        Err("chromedriver ended before it listened".into())
    }

    pub(crate) fn address(&self) -> String {
        format!("http://127.0.0.1:{}", self.port)
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        // This group holds the driver started above and its browser, nothing else.
        let group = format!("-{}", self.child.id());
        let _ = Command::new("kill").args(["-KILL", "--", &group]).status();
        let _ = self.child.wait();
    }
}
