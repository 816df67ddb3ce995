//! The programs that the checks need.

use std::path::Path;
use std::process::Command;

use crate::call;

/// A program and Debian's package of it.
const NEEDED: [(&str, &str); 2] = [("chromium", "chromium"), ("chromedriver", "chromium-driver")];

/// Makes sure that the browser and its driver are here.
///
/// **Errors** one sentence and the command to type, where they are missing and cannot be installed.
pub(crate) fn browser() -> Result<(), String> {
    let missing = missing();
    if missing.is_empty() {
        return Ok(());
    }
    let command = format!("apt-get install -y --no-install-recommends {}", missing.join(" "));
    let by_hand = format!("The browser tests need {}. Type:\n  {command}", missing.join(" and "));
    let root = call::answer(Command::new("id").arg("-u")).as_deref() == Some("0");
    if !root || !Path::new("/usr/bin/apt-get").exists() {
        return Err(by_hand);
    }
    eprintln!("Installing {} ...", missing.join(" and "));
    let apt = |words: &[&str]| {
        let mut apt = Command::new("apt-get");
        apt.args(words).env("DEBIAN_FRONTEND", "noninteractive");
        call::run("apt-get", &mut apt)
    };
    apt(&["update", "-q"])?;
    let mut words = vec!["install", "-y", "-q", "--no-install-recommends"];
    words.extend(&missing);
    apt(&words).map_err(|error| format!("{error} {by_hand}"))
}

fn missing() -> Vec<&'static str> {
    let here = |program: &str| {
        let path = std::env::var_os("PATH").unwrap_or_default();
        std::env::split_paths(&path).any(|folder| folder.join(program).is_file())
    };
    NEEDED.into_iter().filter(|(program, _)| !here(program)).map(|(_, package)| package).collect()
}
