//! The security policy of the page and the script that goes before every other.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest as _, Sha256};

/// Runs first. No policy covers WebRTC, so its constructors go. The only script address that the
/// page may ever use is its own worker's, made from the page's text.
pub(crate) const FIRST_SCRIPT: &str = r#"
"use strict";
for (const name of ["RTCPeerConnection", "webkitRTCPeerConnection", "mozRTCPeerConnection"]) {
  delete globalThis[name];
}
if (globalThis.trustedTypes) {
  trustedTypes.createPolicy("default", {
    createScriptURL: (address) => (address.startsWith("blob:") ? address : null),
  });
}
"#;

/// The policy's meta element for a page with exactly these inline scripts and styles.
pub(crate) fn policy(scripts: &[&str], styles: &[String]) -> String {
    let style_source = match styles {
        [] => "'none'".to_owned(),
        _ => styles.iter().map(|text| hash(text)).collect::<Vec<_>>().join(" "),
    };
    let script_source = scripts.iter().map(|text| hash(text)).collect::<Vec<_>>().join(" ");
    let rules = [
        "default-src 'none'".to_owned(),
        format!("script-src {script_source} 'wasm-unsafe-eval'"),
        "worker-src blob:".to_owned(),
        format!("style-src {style_source}"),
        "img-src data: blob:".to_owned(),
        "connect-src 'none'".to_owned(),
        "base-uri 'none'".to_owned(),
        "form-action 'none'".to_owned(),
        "require-trusted-types-for 'script'".to_owned(),
        "trusted-types default".to_owned(),
    ];
    format!("<meta http-equiv=\"Content-Security-Policy\" content=\"{}\">", rules.join("; "))
}

/// The hash of exactly the text between the tags, as the policy writes it.
fn hash(text: &str) -> String {
    format!("'sha256-{}'", STANDARD.encode(Sha256::digest(text.as_bytes())))
}

/// Refuses what would end a block early or change its hash.
///
/// **Errors** the name, the line and what stands there.
pub(crate) fn check_inline(name: &str, text: &str) -> Result<(), String> {
    for (index, line) in text.split('\n').enumerate() {
        let lower = line.to_ascii_lowercase();
        let found = if line.contains('\r') {
            "a carriage return"
        } else if lower.contains("</script") || lower.contains("</style") {
            "the end tag of its block (write `<\\/`)"
        } else if lower.contains("<!--") {
            "the start of an HTML comment"
        } else {
            continue;
        };
        return Err(format!("{name}, line {}: {found} must not stand in an inlined file.", index + 1));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_hash_is_the_one_the_standard_shows() {
        // W3C Content Security Policy Level 3, section 8.4 example: alert('Hello, world.');
        let expected = "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='";
        assert_eq!(hash("alert('Hello, world.');"), expected);
    }

    #[test]
    fn text_that_would_break_the_page_is_refused_with_its_line() {
        for bad in ["a\r\nb", "x\n\"</SCRIPT>\"", "<!-- x", "</style>"] {
            assert!(check_inline("a.js", bad).is_err(), "{bad:?}");
        }
        assert!(check_inline("a.js", "x\n</script>").unwrap_err().contains("line 2"));
        assert_eq!(check_inline("a.js", "if (a < b) {}\n\"<\\/script>\""), Ok(()));
    }
}
