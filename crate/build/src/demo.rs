//! Runs the native command on the demo logs.

use std::path::Path;

use crate::call;

/// The command's words, one on each line, `#` for a comment; paths are below the workspace.
const ARGUMENTS: &str = "demo-data/demo.args";

/// Builds the command, runs it and names the files to open.
///
/// **Errors** where the command cannot be built or does not end well.
pub(crate) fn run(root: &Path, page: &Path) -> Result<(), String> {
    let Ok(text) = std::fs::read_to_string(root.join(ARGUMENTS)) else {
        println!("Open {}\n(no {ARGUMENTS}: the demo was not run)", page.display());
        return Ok(());
    };
    eprintln!("Building the native command ...");
    call::run(
        "Building the native command",
        call::cargo(root).args(["build", "--locked", "--release", "-p", "wattsieve"]),
    )?;
    let command = call::target_folder(root).join("release/wattsieve");
    let (results, shared) = (root.join("dist/demo-results.json"), root.join("dist/demo.html"));
    eprintln!("Running it on demo-data ...");
    let mut demo = call::clean(&command);
    demo.current_dir(root).args(words(&text)).arg("--json").arg(&results).arg("--page").arg(&shared);
    call::run("The demo", &mut demo)?;
    println!("\nOpen in a browser, from disk:");
    println!("  {}   empty bench", page.display());
    println!("  {}   the demo inside", shared.display());
    println!("Results for programs: {}\nThe command: {}", results.display(), command.display());
    Ok(())
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
}
