//! The command line, taken apart: which verb, which logs, which options, in order.

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Verb {
    /// Say what was understood of each log; no analysis.
    Read,
    /// Analyse each run.
    Analyse,
    /// Analyse and compare runs.
    Compare,
}

/// One option with the value it was given and the log it is limited to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Given {
    /// Option without dashes.
    pub name: &'static str,
    /// `NAME` of a `NAME:` prefix.
    pub only_for: Option<String>,
    /// The value, empty for a flag.
    pub value: String,
    /// Place on the command line.
    pub place: usize,
}

/// `[NAME=]LOG[+LOG...]`: one run and its parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct GivenLog {
    /// Name of the run.
    pub name: Option<String>,
    /// Paths of its parts.
    pub paths: Vec<String>,
    /// Place on the command line.
    pub place: usize,
}

/// A command line, taken apart but not yet understood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Arguments {
    /// What to do.
    pub verb: Verb,
    /// `[NAME=]LOG[+LOG...]` in order.
    pub logs: Vec<GivenLog>,
    /// Options in order.
    pub given: Vec<Given>,
}

/// Every option: its name, and whether it takes a value.
const OPTIONS: &[(&str, bool)] = &[
    ("columns", true),
    ("units", true),
    ("scale", true),
    ("reverse", true),
    ("header-row", true),
    ("separator", true),
    ("decimal-mark", true),
    ("row-period", true),
    ("encoding", true),
    ("shape", true),
    ("skip-lines", true),
    ("counts", true),
    ("ranges", true),
    ("all-off", true),
    ("open-sweep", true),
    ("straight-through", true),
    ("input-shorted", true),
    ("output-shorted", true),
    ("cross-bridge", true),
    ("calibration-resistor", true),
    ("four-wire", false),
    ("hold-back", false),
    ("path", true),
    ("meter", true),
    ("accuracy", true),
    ("line", true),
    ("reference-meter", true),
    ("common-voltage-gain", true),
    ("plane", true),
    ("check-calibration", false),
    ("input-sense", true),
    ("output-sense", true),
    ("input-shunt", true),
    ("output-shunt", true),
    ("jumper", true),
    ("contacts", true),
    ("shared-ground", false),
    ("common-positive", false),
    ("input-correction", true),
    ("output-correction", true),
    ("calibration", true),
    ("write-calibration", true),
    ("channel", true),
    ("delays", true),
    ("sieve-on", true),
    ("cells", true),
    ("cell-width", true),
    ("least-rows", true),
    ("gates", true),
    ("settled-points", true),
    ("strictness", true),
    ("plateaus", true),
    ("settle", true),
    ("settled-csv", true),
    ("beside", true),
    ("pulsed", true),
    ("on-current", true),
    ("clock", true),
    ("at", true),
    ("grid", true),
    ("quiescent-at", true),
    ("replug", true),
    ("no-difference-below", true),
    ("settings", true),
    ("write-settings", true),
    ("json", true),
    ("page", true),
    ("page-from", true),
    ("csv", true),
    ("quiet", false),
];

/// Options whose value may start with `NAME:`, one log's name.
pub(crate) const PER_LOG: &[&str] = &[
    "clock",
    "columns",
    "units",
    "scale",
    "reverse",
    "header-row",
    "separator",
    "decimal-mark",
    "row-period",
    "encoding",
    "shape",
    "skip-lines",
    "counts",
    "ranges",
];

/// Takes a command line apart.
///
/// **Errors** a sentence that names the argument and what to do.
pub(crate) fn parse(arguments: &[String]) -> Result<Arguments, String> {
    let mut rest = arguments.iter().enumerate();
    let verb = match rest.next().map(|(_, word)| word.as_str()) {
        Some("read") => Verb::Read,
        Some("analyse") => Verb::Analyse,
        Some("compare") => Verb::Compare,
        Some(other) => {
            return Err(format!("`{other}` is not one of read, analyse, compare; try `wattsieve --help`"));
        }
        None => return Err("nothing asked; try `wattsieve --help`".to_owned()),
    };
    let mut parsed = Arguments { verb, logs: Vec::new(), given: Vec::new() };
    while let Some((place, argument)) = rest.next() {
        if let Some(option) = argument.strip_prefix("--") {
            let (written, joined) = match option.split_once('=') {
                Some((name, value)) => (name, Some(value.to_owned())),
                None => (option, None),
            };
            let Some(&(name, takes_value)) = OPTIONS.iter().find(|(name, _)| *name == written) else {
                return Err(format!("option `--{written}` is not known; try `wattsieve --help`"));
            };
            let value = match (takes_value, joined) {
                (true, Some(value)) => value,
                (true, None) => match rest.next() {
                    Some((_, value)) => value.clone(),
                    None => return Err(format!("option `--{name}` needs a value after it")),
                },
                (false, None) => String::new(),
                (false, Some(_)) => return Err(format!("option `--{name}` takes no value")),
            };
            let (only_for, value) = split_log_name(name, value);
            parsed.given.push(Given { name, only_for, value, place });
        } else {
            let (name, paths) = split_log(argument);
            parsed.logs.push(GivenLog { name, paths, place });
        }
    }
    Ok(parsed)
}

fn split_log_name(option: &str, value: String) -> (Option<String>, String) {
    if !PER_LOG.contains(&option) {
        return (None, value);
    }
    match value.split_once(':') {
        Some((name, rest)) if !name.is_empty() && !name.contains(['=', ',']) => {
            (Some(name.to_owned()), rest.to_owned())
        }
        _ => (None, value),
    }
}

fn split_log(argument: &str) -> (Option<String>, Vec<String>) {
    let (name, files) = match argument.split_once('=') {
        Some((name, files)) if !name.contains(['/', '\\']) => (Some(name.to_owned()), files),
        _ => (None, argument),
    };
    (name, files.split('+').map(str::to_owned).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(line: &str) -> Vec<String> {
        line.split_whitespace().map(str::to_owned).collect()
    }

    #[test]
    fn takes_names_parts_and_prefixes_apart() {
        let parsed =
            parse(&words("compare A=a.csv+b.csv B=c.csv --units A:v_in=mV --cells=20 --quiet --json -"))
                .unwrap();
        assert_eq!(parsed.verb, Verb::Compare);
        assert_eq!(parsed.logs[0].name.as_deref(), Some("A"));
        assert_eq!(parsed.logs[0].paths, ["a.csv", "b.csv"]);
        assert_eq!(parsed.given[0].only_for.as_deref(), Some("A"));
        assert_eq!(parsed.given[0].value, "v_in=mV");
        assert_eq!(parsed.given[1].value, "20");
        assert_eq!(parsed.given[3].value, "-");
    }

    #[test]
    fn says_what_is_wrong() {
        assert!(parse(&words("measure x")).unwrap_err().contains("`measure`"));
        assert!(parse(&words("read x --colour 1")).unwrap_err().contains("`--colour`"));
        assert!(parse(&words("read x --cells")).unwrap_err().contains("needs a value"));
        assert!(parse(&words("read x --quiet=1")).unwrap_err().contains("no value"));
    }
}
