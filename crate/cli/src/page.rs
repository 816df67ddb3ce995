//! Puts a bench and its logs inside a copy of the page, so that it opens alone.

use std::io::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::DeflateEncoder;

/// One log to carry inside the page.
pub(crate) struct Carried {
    /// File name without its folder.
    pub name: String,
    /// Hash of the bytes, hexadecimal.
    pub sha256: String,
    /// The bytes as they were read.
    pub bytes: Vec<u8>,
}

const EMPTY_BENCH: &str = r#"<script type="application/json" id="bench">null</script>"#;

/// Fills an empty page with a bench and its logs.
///
/// **Errors** a sentence where the given text is not such a page, or where a log cannot be
/// compressed.
pub(crate) fn fill(page: &str, bench: &str, logs: &[Carried]) -> Result<String, String> {
    let page = without_demo(page);
    let Some(place) = page.rfind(EMPTY_BENCH) else {
        return Err("the page to fill has no empty bench in it; make it anew with `cargo page`".to_owned());
    };
    let mut filled = String::with_capacity(
        page.len() + bench.len() + logs.iter().map(|l| l.bytes.len() / 2).sum::<usize>(),
    );
    filled.push_str(&page[..place]);
    filled.push_str(r#"<script type="application/json" id="bench">"#);
    filled.push_str(&bench.replace('<', "\\u003c"));
    filled.push_str("</script>");
    for log in logs {
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::default());
        encoder
            .write_all(&log.bytes)
            .map_err(|error| format!("{}: cannot be compressed: {error}", log.name))?;
        let packed =
            encoder.finish().map_err(|error| format!("{}: cannot be compressed: {error}", log.name))?;
        filled.push_str(&format!(
            "\n<script type=\"text/plain\" class=\"log\" data-name=\"{}\" data-sha256=\"{}\" data-bytes=\"{}\">",
            attribute(&log.name),
            log.sha256,
            log.bytes.len()
        ));
        filled.push_str(&STANDARD.encode(packed));
        filled.push_str("</script>");
    }
    filled.push_str(&page[place + EMPTY_BENCH.len()..]);
    Ok(filled)
}

/// The page without the demo that it offers while it is empty.
fn without_demo(page: &str) -> String {
    const MARKS: (&str, &str) = ("<!-- demo -->", "<!-- /demo -->");
    match (page.find(MARKS.0), page.find(MARKS.1)) {
        (Some(from), Some(to)) if from < to => format!("{}{}", &page[..from], &page[to + MARKS.1.len()..]),
        _ => page.to_owned(),
    }
}

fn attribute(text: &str) -> String {
    text.replace('&', "&amp;").replace('"', "&quot;").replace('<', "&lt;").replace('>', "&gt;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fills_the_empty_bench_and_never_lets_markup_through() {
        let page = format!("<body>{EMPTY_BENCH}</body>");
        let log =
            Carried { name: "a\"<b>.csv".to_owned(), sha256: "00".to_owned(), bytes: b"1,2\n".to_vec() };
        let filled = fill(&page, r#"{"name":"</script>"}"#, &[log]).unwrap();
        assert_eq!(filled.matches("</script>").count(), 2);
        assert!(filled.contains("data-name=\"a&quot;&lt;b&gt;.csv\""));
    }

    #[test]
    fn refuses_a_page_without_a_place() {
        assert!(fill("<html></html>", "{}", &[]).is_err());
    }

    #[test]
    fn the_offered_demo_does_not_travel_along() {
        let page = format!(
            "<body>{EMPTY_BENCH}\n<!-- demo --><script id=\"demo\">{{}}</script><!-- /demo --></body>"
        );
        let filled = fill(&page, "{}", &[]).unwrap();
        assert!(!filled.contains("demo") && filled.ends_with("\n</body>"), "{filled}");
    }
}
