//! Joins the page's ES modules into one classic script.
//!
//! Each module becomes one function scope that gives an object of its exports; imports become
//! destructuring of such an object. Modules are written after those they import, so every import
//! finds its object; that is why cycles are refused. Lines are recognised at column 0 only, so the
//! same words inside a module's functions, comments or texts are left alone.

use std::collections::{BTreeMap, BTreeSet};

/// Gives the text of a module by its path below `www/js`, such as `figure/ticks.js`.
pub(crate) type Source<'a> = dyn Fn(&str) -> Result<String, String> + 'a;

/// Joins `main` and everything it imports.
///
/// **Errors** file, line, what was found and what to write instead.
pub(crate) fn join(main: &str, source: &Source<'_>) -> Result<String, String> {
    let mut joiner = Joiner { source, done: BTreeMap::new(), open: Vec::new(), script: String::new() };
    joiner.script.push_str("\n(() => {\n\"use strict\";\n");
    joiner.add(main)?;
    joiner.script.push_str("})();\n");
    Ok(joiner.script)
}

struct Joiner<'a> {
    source: &'a Source<'a>,
    /// Finished modules and the names they export.
    done: BTreeMap<String, BTreeSet<String>>,
    /// The modules being read, outermost first.
    open: Vec<String>,
    script: String,
}

impl Joiner<'_> {
    fn add(&mut self, path: &str) -> Result<(), String> {
        if self.done.contains_key(path) {
            return Ok(());
        }
        if let Some(start) = self.open.iter().position(|open| open == path) {
            let round = self.open[start..].join(" -> ");
            return Err(format!("Modules import each other in a circle: {round} -> {path}."));
        }
        self.open.push(path.to_owned());
        let text = (self.source)(path)?;
        crate::guard::check_inline(&format!("www/js/{path}"), &text)?;
        let module = self.translate(path, &text)?;
        self.script.push_str(&module.text);
        self.open.pop();
        self.done.insert(path.to_owned(), module.exports.into_keys().collect());
        Ok(())
    }

    fn translate(&mut self, path: &str, text: &str) -> Result<Module, String> {
        let mut module = Module { text: String::new(), exports: BTreeMap::new() };
        let mut body = String::with_capacity(text.len());
        let mut lines = text.lines().enumerate();
        while let Some((index, line)) = lines.next() {
            let at = |what: &str| format!("www/js/{path}, line {}: {what}", index + 1);
            if line.starts_with("import ") || line.starts_with("import{") {
                let mut statement = line.trim_end().to_owned();
                let mut extra = 0;
                while !statement.ends_with(';') {
                    let (_, next) = lines.next().ok_or_else(|| at("this import has no `;` at its end."))?;
                    statement.push(' ');
                    statement.push_str(next.trim());
                    extra += 1;
                }
                body.push_str(&self.import(path, &statement).map_err(|what| at(&what))?);
                body.push_str(&"\n".repeat(extra + 1));
            } else if let Some(rest) = line.strip_prefix("export ") {
                if rest.starts_with('{') {
                    let mut list = rest.trim_end().to_owned();
                    while !list.ends_with(';') {
                        let (_, next) =
                            lines.next().ok_or_else(|| at("this export has no `;` at its end."))?;
                        list.push(' ');
                        list.push_str(next.trim());
                        body.push('\n');
                    }
                    let inner = list.strip_prefix('{').and_then(|list| list.strip_suffix("};"));
                    let inner = inner.ok_or_else(|| at("write `export { a, b as c };`, without `from`."))?;
                    for (own, public) in names(inner).map_err(|what| at(&what))? {
                        module.exports.insert(public, own);
                    }
                } else {
                    let name = declared(rest).ok_or_else(|| {
                        at("export a `function`, `async function`, `class` or `const`, by name, \
                            at the start of a line.")
                    })?;
                    module.exports.insert(name.clone(), name);
                    body.push_str(rest);
                }
                body.push('\n');
            } else {
                body.push_str(line);
                body.push('\n');
            }
        }
        let returned: Vec<String> = module
            .exports
            .iter()
            .map(|(public, own)| if public == own { own.clone() } else { format!("{public}: {own}") })
            .collect();
        module.text = format!(
            "// js/{path}\nconst {} = (() => {{\n{body}return {{ {} }};\n}})();\n",
            object_name(path),
            returned.join(", ")
        );
        Ok(module)
    }

    fn import(&mut self, importer: &str, statement: &str) -> Result<String, String> {
        const FORM: &str = "write `import { a, b as c } from \"./other.js\";` or \
                            `import * as other from \"./other.js\";`.";
        let rest = statement.strip_prefix("import").unwrap_or(statement).trim_start();
        let (what, from) = rest.rsplit_once(" from ").ok_or(FORM)?;
        let from = from.trim().strip_suffix(';').unwrap_or(from).trim();
        let quoted = from.strip_prefix('"').and_then(|from| from.strip_suffix('"'));
        let target = resolve(importer, quoted.ok_or(FORM)?)?;
        self.add(&target)?;
        let object = object_name(&target);
        if let Some(name) = what.trim().strip_prefix("* as ") {
            return Ok(format!("const {} = {object};", name.trim()));
        }
        let inner = what.trim().strip_prefix('{').and_then(|what| what.strip_suffix('}')).ok_or(FORM)?;
        let mut parts = Vec::new();
        for (theirs, ours) in names(inner)? {
            let known = self.done.get(&target).is_some_and(|exports| exports.contains(&theirs));
            if !known {
                return Err(format!("js/{target} exports no `{theirs}`."));
            }
            parts.push(if theirs == ours { ours } else { format!("{theirs}: {ours}") });
        }
        Ok(format!("const {{ {} }} = {object};", parts.join(", ")))
    }
}

struct Module {
    text: String,
    /// Public name to own name.
    exports: BTreeMap<String, String>,
}

/// `a, b as c` to pairs (a, a), (b, c).
fn names(list: &str) -> Result<Vec<(String, String)>, String> {
    let mut pairs = Vec::new();
    for item in list.split(',').map(str::trim).filter(|item| !item.is_empty()) {
        let (first, second) = item.split_once(" as ").unwrap_or((item, item));
        let pair = (first.trim().to_owned(), second.trim().to_owned());
        if !is_name(&pair.0) || !is_name(&pair.1) || pair.1 == "default" {
            return Err(format!("`{item}` is not a name or `name as name`."));
        }
        pairs.push(pair);
    }
    Ok(pairs)
}

fn is_name(word: &str) -> bool {
    let letter = |c: char| c.is_alphabetic() || c == '_' || c == '$';
    word.starts_with(letter) && word.chars().all(|c| letter(c) || c.is_ascii_digit())
}

/// The name that a declaration after `export ` declares.
fn declared(rest: &str) -> Option<String> {
    let forms = ["async function* ", "async function ", "function* ", "function ", "class ", "const "];
    let after = forms.into_iter().find_map(|form| rest.strip_prefix(form))?;
    let end = after.find(|c: char| !(c.is_alphanumeric() || c == '_' || c == '$')).unwrap_or(after.len());
    is_name(&after[..end]).then(|| after[..end].to_owned())
}

fn resolve(importer: &str, path: &str) -> Result<String, String> {
    let relative = path.starts_with("./") || path.starts_with("../");
    if !relative || !path.ends_with(".js") {
        return Err(format!("`{path}` must start with `./` or `../` and end in `.js`."));
    }
    let mut parts: Vec<&str> = importer.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "." => {}
            ".." if parts.pop().is_some() => {}
            ".." => return Err(format!("`{path}` leaves www/js.")),
            name => parts.push(name),
        }
    }
    let target = parts.join("/");
    if target.starts_with("worker/") && !importer.starts_with("worker/") {
        return Err(format!("`{path}` belongs to the worker; the page asks it through wire.js."));
    }
    Ok(target)
}

/// Two paths never share a name: `_` in a path is doubled, then the other marks become `_x`.
fn object_name(path: &str) -> String {
    let stem = path.strip_suffix(".js").unwrap_or(path);
    let stem = stem.replace('_', "__").replace('/', "_s").replace('-', "_d").replace('.', "_p");
    format!("module_{stem}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joined(files: &[(&str, &str)]) -> Result<String, String> {
        join("main.js", &|path| {
            let found = files.iter().find(|(name, _)| *name == path);
            found.map(|(_, text)| (*text).to_owned()).ok_or_else(|| format!("js/{path} is missing."))
        })
    }

    #[test]
    fn modules_stand_after_those_they_import() {
        let script = joined(&[
            ("main.js", "import { tick, b as c } from \"./figure/ticks.js\";\ntick(c);\n"),
            ("figure/ticks.js", "import * as dom from \"../dom.js\";\nexport function tick() {}\nconst x = dom.a;\nexport { x as b };\n"),
            ("dom.js", "export const a = 1;\n"),
        ])
        .unwrap();
        let place = |text: &str| script.find(text).unwrap_or_else(|| panic!("{text} not in {script}"));
        assert!(place("const module_dom = ") < place("const module_figure_sticks = "));
        assert!(place("const module_figure_sticks = ") < place("const module_main = "));
        assert!(script.contains("return { b: x, tick };"));
        assert!(script.contains("const { tick, b: c } = module_figure_sticks;"));
        assert!(script.contains("const dom = module_dom;"));
        assert!(!script.contains("export "));
    }

    #[test]
    fn imports_over_several_lines_keep_line_numbers() {
        let script = joined(&[
            ("main.js", "import {\n  a,\n  b,\n} from \"./x.js\";\nuse(a, b);\n"),
            ("x.js", "export const a = 1;\nexport class b {}\n"),
        ])
        .unwrap();
        let main = script.split("module_main = (() => {\n").nth(1).unwrap();
        assert_eq!(main.lines().nth(4), Some("use(a, b);"));
    }

    #[test]
    fn what_cannot_be_joined_names_file_and_line() {
        let circle = joined(&[
            ("main.js", "import { a } from \"./x.js\";\n"),
            ("x.js", "import { b } from \"./y.js\";\nexport const a = 1;\n"),
            ("y.js", "import { a } from \"./x.js\";\nexport const b = 1;\n"),
        ]);
        assert!(circle.unwrap_err().contains("x.js -> y.js -> x.js"));
        for (text, told) in [
            ("\nimport { z } from \"./x.js\";\n", "line 2: js/x.js exports no `z`"),
            ("export default 1;\n", "line 1"),
            ("export let a = 1;\n", "line 1"),
            ("import x from \"./x.js\";\n", "line 1"),
            ("import { a } from \"x.js\";\n", "must start with"),
            ("import { a } from \"./x.js\"\n", "no `;`"),
            ("import { a } from \"./../../x.js\";\n", "leaves"),
            ("import { a } from \"./worker/desk.js\";\n", "belongs to the worker"),
            ("import { a } from \"./gone.js\";\n", "missing"),
        ] {
            let error = joined(&[("main.js", text), ("x.js", "export const a = 1;\n")]).unwrap_err();
            assert!(error.contains(told), "{text:?}: {error}");
        }
    }

    #[test]
    fn different_paths_have_different_names() {
        assert_ne!(object_name("a/b.js"), object_name("a_sb.js"));
        assert_ne!(object_name("a-b.js"), object_name("a_db.js"));
    }
}
