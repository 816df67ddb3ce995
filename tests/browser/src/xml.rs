//! Whether a text is well-formed XML, as far as figures use it.

use crate::Outcome;

/// The words of every `text` element, in order.
///
/// **Source** Extensible Markup Language 1.0 (fifth edition): matching tags (3.1), `&` and `<` only as such (2.4),
/// attribute values quoted and unique (3.1), one root (2.1).
///
/// **Errors** what breaks which rule.
pub fn words_of_svg(svg: &str) -> Outcome<Vec<String>> {
    let mut open: Vec<&str> = Vec::new();
    let (mut words, mut roots, mut rest) = (Vec::new(), 0, svg);
    while let Some(start) = rest.find('<') {
        let (text, tail) = rest.split_at(start);
        check_text(text)?;
        if open.is_empty() && !text.trim().is_empty() {
            return Err(format!("text outside the root: {text:?}").into());
        }
        if open.last() == Some(&"text") || open.last() == Some(&"title") {
            words.push(plain(text));
        }
        let end = tail.find('>').ok_or("a tag is never closed")?;
        let (tag, after) = (&tail[1..end], &tail[end + 1..]);
        if let Some(name) = tag.strip_prefix('/') {
            if open.pop() != Some(name.trim()) {
                return Err(format!("</{name}> closes nothing").into());
            }
        } else {
            let own = tag.trim_end_matches('/');
            let name = own.split_whitespace().next().ok_or("a tag without a name")?;
            check_attributes(&own[name.len()..])?;
            if open.is_empty() {
                roots += 1;
            }
            if !tag.ends_with('/') {
                open.push(name);
            }
        }
        rest = after;
    }
    check_text(rest)?;
    if roots != 1 || !open.is_empty() || !rest.trim().is_empty() {
        return Err(format!("{roots} roots, {open:?} open at the end").into());
    }
    Ok(words)
}

fn check_text(text: &str) -> Outcome<()> {
    for (at, _) in text.match_indices('&') {
        let known = ["amp;", "lt;", "gt;", "quot;", "apos;", "#"];
        if !known.iter().any(|entity| text[at + 1..].starts_with(entity)) {
            return Err(format!("a bare & in {text:?}").into());
        }
    }
    if text.contains("]]>") || text.chars().any(|c| (c as u32) < 0x20 && !"\t\n\r".contains(c)) {
        return Err(format!("characters that XML forbids in {text:?}").into());
    }
    Ok(())
}

fn check_attributes(list: &str) -> Outcome<()> {
    let (mut seen, mut rest): (Vec<&str>, &str) = (Vec::new(), list.trim());
    while !rest.is_empty() {
        let equals = rest.find('=').ok_or_else(|| format!("an attribute without a value: {rest:?}"))?;
        let (name, value) = (rest[..equals].trim(), rest[equals + 1..].trim_start());
        let quote = value
            .chars()
            .next()
            .filter(|c| "\"'".contains(*c))
            .ok_or_else(|| format!("{name} is not quoted"))?;
        let end = value[1..].find(quote).ok_or_else(|| format!("{name} is never closed"))?;
        check_text(&value[1..=end])?;
        if seen.contains(&name) || name.is_empty() {
            return Err(format!("{name} twice").into());
        }
        seen.push(name);
        rest = value[end + 2..].trim_start();
    }
    Ok(())
}

fn plain(text: &str) -> String {
    text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&")
}
