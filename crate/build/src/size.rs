//! How large the page is, raw and compressed, and what changed since the last build.

use std::collections::BTreeMap;
use std::path::Path;

use crate::call;
use crate::page::{Part, deflate};

/// Prints the table and keeps the figures for the next build.
///
/// **Errors** where the figures cannot be kept.
pub(crate) fn report(root: &Path, page: &str, parts: &[Part]) -> Result<(), String> {
    let record = call::target_folder(root).join("page-size.txt");
    let before = read(&std::fs::read_to_string(&record).unwrap_or_default());
    let mut lines = String::new();
    println!("{:<10}{:>12}{:>12}   change", "size", "raw", "compressed");
    let whole = Part { name: "page", bytes: page.as_bytes().to_vec() };
    for part in parts.iter().chain([&whole]) {
        let raw = part.bytes.len();
        let packed = deflate(&part.bytes)?.len();
        let change = match before.get(part.name) {
            Some(&(old_raw, old_packed)) => {
                format!("{} raw, {} compressed", signed(raw, old_raw), signed(packed, old_packed))
            }
            None => "first build".to_owned(),
        };
        println!("{:<10}{:>12}{:>12}   {change}", part.name, grouped(raw), grouped(packed));
        lines.push_str(&format!("{} {raw} {packed}\n", part.name));
    }
    println!("(bytes; compressed by raw deflate)");
    std::fs::write(&record, lines).map_err(|error| format!("{}: {error}.", record.display()))
}

fn read(text: &str) -> BTreeMap<String, (usize, usize)> {
    let line = |line: &str| {
        let mut words = line.split(' ');
        let name = words.next()?.to_owned();
        Some((name, (words.next()?.parse().ok()?, words.next()?.parse().ok()?)))
    };
    text.lines().filter_map(line).collect()
}

fn signed(now: usize, before: usize) -> String {
    if now >= before { format!("+{}", grouped(now - before)) } else { format!("-{}", grouped(before - now)) }
}

fn grouped(number: usize) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(' ');
        }
        out.push(digit);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_survive_and_changes_carry_their_sign() {
        assert_eq!(read("page 1000 20\nbad\n").get("page"), Some(&(1000, 20)));
        assert_eq!((grouped(1_234_567), grouped(999)), ("1 234 567".to_owned(), "999".to_owned()));
        assert_eq!((signed(5, 7), signed(1005, 5)), ("-2".to_owned(), "+1 000".to_owned()));
    }
}
