//! Assembles `dist/wattsieve.html` from `www/` and the wasm.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::DeflateEncoder;

use crate::wasm::Wasm;
use crate::{PageOptions, guard, join, size, wasm, wasm_std};

/// Where the page is written, below the workspace.
pub(crate) const PAGE: &str = "dist/wattsieve.html";
const CHARSET: &str = "<meta charset=\"utf-8\">";
const MAIN: &str = "<script type=\"module\" src=\"js/main.js\"></script>";

/// Builds the wasm and writes the page; gives the page's path.
///
/// **Errors** one sentence that says what is missing or which file and line is wrong.
pub(crate) fn make(root: &Path, options: &PageOptions) -> Result<PathBuf, String> {
    let (route, why) = wasm_std::decide(options.wasm_std.as_deref())?;
    eprintln!("Wasm standard library: {} ({why}).", route.name());
    let wasm = wasm::build(root, route, options.quick)?;
    let www = root.join("www");
    let read = |path: &str| {
        let file = www.join(path);
        std::fs::read_to_string(&file).map_err(|error| format!("www/{path}: {error}"))
    };
    let (page, parts) = assemble(&wasm, &read)?;
    let out = root.join(PAGE);
    let write = |path: &Path, text: &str| {
        let folder = path.parent().unwrap_or(root);
        std::fs::create_dir_all(folder)
            .and_then(|()| std::fs::write(path, text))
            .map_err(|error| format!("{}: cannot be written: {error}.", path.display()))
    };
    write(&out, &page)?;
    size::report(root, &page, &parts)?;
    Ok(out)
}

/// A named part of the page, for the size report.
pub(crate) struct Part {
    pub(crate) name: &'static str,
    pub(crate) bytes: Vec<u8>,
}

fn assemble(
    wasm: &Wasm,
    read: &dyn Fn(&str) -> Result<String, String>,
) -> Result<(String, Vec<Part>), String> {
    let index = read("index.html")?;
    if index.contains('\r') {
        return Err("www/index.html holds a carriage return; end lines with a line feed only.".to_owned());
    }
    let (index, styles) = inline_styles(&index, read)?;
    let module = |path: &str| read(&format!("js/{path}"));
    let worker = join::join("worker/main.js", &module)?;
    let app = join::join("main.js", &module)?;
    guard::check_inline("wasm-bindgen's glue", &wasm.glue)?;
    let packed = deflate(&wasm.bytes)?;

    let policy = guard::policy(&[guard::FIRST_SCRIPT, &wasm.glue, &app], &styles);
    let head = format!("{CHARSET}\n{policy}\n<script>{}</script>", guard::FIRST_SCRIPT);
    let blocks = format!(
        "<script id=\"code-glue\">{}</script>\n\
         <script type=\"text/plain\" id=\"code-worker\">{worker}</script>\n\
         <script type=\"text/plain\" id=\"code-wasm\" data-bytes=\"{}\">{}</script>\n\
         <script>{app}</script>",
        wasm.glue,
        wasm.bytes.len(),
        STANDARD.encode(&packed),
    );
    let bench = "<script type=\"application/json\" id=\"bench\">null</script>\n";
    // The bench stands before the code: whatever the page does first can already read it.
    let page = replace_once(&index, MAIN, &format!("{bench}{blocks}"))?;
    let page = replace_once(&page, CHARSET, &head)?;
    let parts = vec![
        Part { name: "wasm", bytes: wasm.bytes.clone() },
        Part { name: "glue", bytes: wasm.glue.clone().into_bytes() },
        Part { name: "worker", bytes: worker.into_bytes() },
        Part { name: "modules", bytes: app.into_bytes() },
        Part { name: "styles", bytes: styles.concat().into_bytes() },
        Part { name: "markup", bytes: index.into_bytes() },
    ];
    Ok((page, parts))
}

/// Replaces each `<link rel="stylesheet" href="...">` by its file; gives the styles in order.
fn inline_styles(
    index: &str,
    read: &dyn Fn(&str) -> Result<String, String>,
) -> Result<(String, Vec<String>), String> {
    const START: &str = "<link rel=\"stylesheet\" href=\"";
    let mut pieces = index.split(START);
    let mut page = pieces.next().unwrap_or_default().to_owned();
    let mut styles = Vec::new();
    for piece in pieces {
        let (path, rest) = piece
            .split_once("\">")
            .ok_or("www/index.html: write a style as <link rel=\"stylesheet\" href=\"css/name.css\">.")?;
        let style = format!("\n{}", read(path)?);
        guard::check_inline(&format!("www/{path}"), &style)?;
        page.push_str(&format!("<style>{style}</style>{rest}"));
        styles.push(style);
    }
    Ok((page, styles))
}

fn replace_once(page: &str, mark: &str, by: &str) -> Result<String, String> {
    match page.matches(mark).count() {
        1 => Ok(page.replacen(mark, by, 1)),
        n => Err(format!("www/index.html must hold {mark} exactly once; it stands there {n} times.")),
    }
}

/// Raw deflate at the best level; the same bytes for the same input.
pub(crate) fn deflate(bytes: &[u8]) -> Result<Vec<u8>, String> {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(bytes).map_err(|error| error.to_string())?;
    encoder.finish().map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page_of(files: &[(&str, &str)]) -> Result<String, String> {
        let wasm = Wasm { glue: "let wasm_bindgen = 1;".to_owned(), bytes: vec![0, 97, 115, 109] };
        let read = |path: &str| {
            let found = files.iter().find(|(name, _)| *name == path);
            found.map(|(_, text)| (*text).to_owned()).ok_or_else(|| format!("www/{path}: missing."))
        };
        assemble(&wasm, &read).map(|(page, _)| page)
    }

    const INDEX: &str = "<!doctype html>\n<html><head><meta charset=\"utf-8\">\n\
        <link rel=\"stylesheet\" href=\"css/a.css\"></head><body>\n\
        <script type=\"module\" src=\"js/main.js\"></script>\n</body></html>\n";

    #[test]
    fn the_policy_goes_first_and_hashes_what_stands_between_the_tags() {
        let page = page_of(&[
            ("index.html", INDEX),
            ("css/a.css", "p { color: red }"),
            ("js/main.js", "start();\n"),
            ("js/worker/main.js", "onmessage = null;\n"),
        ])
        .unwrap();
        let policy = page.find("Content-Security-Policy").unwrap();
        assert!(policy < page.find("<style>").unwrap() && policy < page.find("<script").unwrap());
        let script_rule = page.split("script-src ").nth(1).unwrap().split(';').next().unwrap();
        assert_eq!(script_rule.matches("'sha256-").count(), 3);
        assert_eq!(page.matches("<script type=\"application/json\" id=\"bench\">null</script>").count(), 1);
        // Recompute each hash from the finished text, as a browser does.
        let between = |open: &str| page.split(open).nth(1).unwrap().split("</").next().unwrap().to_owned();
        let style = guard::policy(&[], &[between("<style>")]);
        let wanted = style.split("style-src ").nth(1).unwrap().split(';').next().unwrap().to_owned();
        assert!(page.contains(&format!("style-src {wanted};")));
    }

    #[test]
    fn a_carriage_return_or_a_missing_place_stops_the_build() {
        let files = |index: &'static str, css: &'static str| {
            page_of(&[
                ("index.html", index),
                ("css/a.css", css),
                ("js/main.js", ""),
                ("js/worker/main.js", ""),
            ])
        };
        assert!(files(INDEX, "a{}\r\n").unwrap_err().contains("css/a.css, line 2"));
        assert!(files("<p>\r\n", "").unwrap_err().contains("carriage return"));
        assert!(files("<meta charset=\"utf-8\">", "").unwrap_err().contains("js/main.js"));
    }
}
