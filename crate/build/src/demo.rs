//! Runs the native command on the demo logs.

use std::path::{Path, PathBuf};
use std::process::{Child, Stdio};

use crate::call;

/// The command's words, one on each line, `#` for a comment; paths are below the workspace.
const ARGUMENTS: &str = "demo-data/demo.args";

/// The native command while it is built.
pub(crate) struct Building {
    cargo: Child,
    command: PathBuf,
    arguments: String,
}

/// Begins to build the command, beside whatever else is built; `None` without a demo.
///
/// **Errors** where cargo cannot be started.
pub(crate) fn begin(root: &Path) -> Result<Option<Building>, String> {
    let Ok(arguments) = std::fs::read_to_string(root.join(ARGUMENTS)) else { return Ok(None) };
    let mut cargo = call::cargo(root);
    cargo.args(["build", "--quiet", "--locked", "--release", "-p", "wattsieve"]).stdin(Stdio::null());
    let cargo = cargo.spawn().map_err(|error| format!("{BUILDING} could not be started: {error}."))?;
    Ok(Some(Building { cargo, command: call::target_folder(root).join("release/wattsieve"), arguments }))
}

impl Building {
    /// Gives the building up.
    pub(crate) fn stop(mut self) {
        // It may have ended by itself.
        let _ = self.cargo.kill();
        let _ = self.cargo.wait();
    }
}

const BUILDING: &str = "Building the native command";

/// Waits for the command, runs it and names the files to open.
///
/// **Errors** where the command could not be built or does not end well.
pub(crate) fn run(root: &Path, page: &Path, building: Option<Building>) -> Result<(), String> {
    let Some(Building { mut cargo, command, arguments: text }) = building else {
        println!("Open {}\n(no {ARGUMENTS}: the demo was not run)", page.display());
        return Ok(());
    };
    eprintln!("{BUILDING} ...");
    let built = cargo.wait().map_err(|error| format!("{BUILDING}: {error}."))?;
    if !built.success() {
        return Err(format!("{BUILDING} failed ({built})."));
    }
    let (results, shared) = (root.join("dist/demo-results.json"), root.join("dist/demo.html"));
    eprintln!("Running it on demo-data ...");
    let mut demo = call::clean(&command);
    demo.current_dir(root).args(words(&text)).arg("--json").arg(&results).arg("--page").arg(&shared);
    call::run("The demo", &mut demo)?;
    carry(page, &shared)?;
    println!("\nOpen in a browser, from disk:");
    println!("  {}   empty bench, the demo one click away", page.display());
    println!("  {}   the demo inside", shared.display());
    println!("Results for programs: {}\nThe command: {}", results.display(), command.display());
    Ok(())
}

/// Puts the demo's bench and logs into the empty page too, under names of their own, for its button.
fn carry(page: &Path, shared: &Path) -> Result<(), String> {
    let read =
        |path: &Path| std::fs::read_to_string(path).map_err(|error| format!("{}: {error}", path.display()));
    let carrying = with_demo(&read(page)?, &read(shared)?)
        .ok_or_else(|| format!("{} does not carry the demo in the form expected.", shared.display()))?;
    std::fs::write(page, carrying).map_err(|error| format!("{}: cannot be written: {error}", page.display()))
}

/// The page with the blocks of a page that carries a bench, renamed and between two marks, so that
/// whoever fills the page later can leave them out.
///
/// Only tags can hold these attributes: inside the JSON every quote is escaped.
fn with_demo(page: &str, shared: &str) -> Option<String> {
    const BENCH: &str = "<script type=\"application/json\" id=\"bench\">";
    const CODE: &str = "\n<script id=\"code-glue\">";
    let blocks = &shared[shared.find(BENCH)?..shared.find(CODE)?];
    let blocks = blocks.replace("id=\"bench\"", "id=\"demo\"").replace("class=\"log\"", "class=\"demo-log\"");
    let place = page.find(CODE)?;
    Some(format!("{}\n<!-- demo -->{blocks}<!-- /demo -->{}", &page[..place], &page[place..]))
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_blank_lines_are_no_words() {
        assert_eq!(words("# x\ncompare\n\n A=a b.csv \n").collect::<Vec<_>>(), ["compare", "A=a b.csv"]);
    }

    #[test]
    fn the_demo_is_carried_under_its_own_names() {
        let code = "\n<script id=\"code-glue\">x</script>";
        let empty = format!("<script type=\"application/json\" id=\"bench\">null</script>{code}");
        let log = "<script type=\"text/plain\" class=\"log\" data-name=\"a\">AA</script>";
        let shared = format!("<script type=\"application/json\" id=\"bench\">{{}}</script>\n{log}{code}");
        let page = with_demo(&empty, &shared).unwrap();
        assert!(page.starts_with(&empty[..empty.len() - code.len()]) && page.ends_with(code));
        assert!(
            page.contains("id=\"demo\">{}</script>") && page.contains("class=\"demo-log\" data-name=\"a\"")
        );
        assert_eq!(page.matches("id=\"bench\"").count(), 1);
    }
}
