//! From the command line to settings and a list of files.

mod fixture;
mod options;

use std::fs;

use wattsieve_core::bench::{InputSettings, Kind, Settings, wrong_setting};

use self::fixture::path;
use self::options::apply;
use crate::Failure;
use crate::arguments::{Arguments, Given, PER_LOG, Verb};
use crate::reading::read_option;
use crate::values::stated;

/// Where to write what.
#[derive(Clone, Debug, Default)]
pub(crate) struct Outputs {
    /// Results as JSON.
    pub json: Option<String>,
    /// The page with everything inside.
    pub page: Option<String>,
    /// The page to fill; default: the built one.
    pub page_from: Option<String>,
    /// Kept rows as CSV.
    pub csv: Option<String>,
    /// Settled points as CSV.
    pub settled_csv: Option<String>,
    /// Settings.
    pub settings: Option<String>,
    /// Calibration record.
    pub calibration: Option<String>,
    /// Print nothing but problems.
    pub quiet: bool,
}

/// Everything that is to be done.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    /// What to do.
    pub verb: Verb,
    /// Settings; one entry per file.
    pub settings: Settings,
    /// Files in the order of the settings' inputs.
    pub files: Vec<String>,
    /// Where to write.
    pub outputs: Outputs,
}

/// Turns a command line into a plan.
///
/// **Errors** names the option, or the file that cannot be read.
pub(crate) fn configure(arguments: &Arguments) -> Result<Plan, Failure> {
    let mut settings = Settings::default();
    let mut outputs = Outputs::default();
    if let Some(path) =
        arguments.given.iter().find(|given| given.name == "settings").map(|given| &given.value)
    {
        let text = text_of(path)?;
        settings = serde_json::from_str(&text).map_err(|error| {
            let field = serde_json::from_str(&text).ok().as_ref().and_then(wrong_setting);
            let field = field.map(|field| format!("{field}: ")).unwrap_or_default();
            Failure::options(format!("{path}: these are not settings: {field}{error}"))
        })?;
    }
    let files = inputs(arguments, &mut settings)?;
    for given in &arguments.given {
        apply(given, &mut settings, &mut outputs)?;
    }
    if arguments.verb == Verb::Compare && arguments.logs.len() < 2 {
        return Err(Failure::options("`compare` needs two runs: NAME=LOG NAME=LOG"));
    }
    if arguments.logs.is_empty() && (arguments.verb != Verb::Analyse || files.is_empty()) {
        return Err(Failure::options("no log given"));
    }
    Ok(Plan { verb: arguments.verb, settings, files, outputs })
}

pub(crate) fn text_of(path: &str) -> Result<String, Failure> {
    fs::read_to_string(path).map_err(|error| Failure::refused(format!("{path}: cannot be read: {error}")))
}

/// Files and their own settings, in command-line order.
fn inputs(arguments: &Arguments, settings: &mut Settings) -> Result<Vec<String>, Failure> {
    let mut placed: Vec<(usize, String, InputSettings)> = Vec::new();
    for log in &arguments.logs {
        for (part, path) in log.paths.iter().enumerate() {
            // `read` takes any log: what it is gets told from content.
            let kind = (arguments.verb != Verb::Read).then_some(Kind::Run);
            let own = InputSettings {
                kind,
                run: log.name.clone(),
                continues: part > 0,
                ..InputSettings::default()
            };
            placed.push((log.place, path.clone(), own));
        }
    }
    let mut through = None;
    let mut last = None;
    for given in &arguments.given {
        if matches!(given.name, "hold-back" | "four-wire" | "path") {
            let Some(place) = last else {
                return Err(Failure::options(format!("`--{}` belongs after a calibration run", given.name)));
            };
            for (_, _, own) in placed.iter_mut().filter(|entry| entry.0 == place) {
                match given.name {
                    "hold-back" => own.hold_back = true,
                    "four-wire" => own.four_wire = true,
                    _ => own.path = Some(path(given.name, &given.value).map_err(Failure::options)?),
                }
            }
            continue;
        }
        let kind = match given.name {
            "all-off" => Kind::AllOff,
            "open-sweep" => Kind::OpenSweep,
            "straight-through" => Kind::StraightThrough,
            "input-shorted" => Kind::InputShorted,
            "output-shorted" => Kind::OutputShorted,
            "cross-bridge" => Kind::CrossBridge,
            "calibration-resistor" => {
                let Some(place) = through else {
                    return Err(Failure::options(
                        "`--calibration-resistor` belongs after a `--straight-through`",
                    ));
                };
                let resistor = stated(given.name, &given.value).map_err(Failure::options)?;
                for (_, _, own) in placed.iter_mut().filter(|entry| entry.0 == place) {
                    own.resistor = Some(resistor);
                }
                continue;
            }
            _ => continue,
        };
        last = Some(given.place);
        if kind == Kind::StraightThrough {
            through = Some(given.place);
        }
        for path in given.value.split('+') {
            placed.push((
                given.place,
                path.to_owned(),
                InputSettings { kind: Some(kind), ..InputSettings::default() },
            ));
        }
    }
    for given in arguments.given.iter().filter(|given| given.name == "beside") {
        add_logger(given, &mut placed).map_err(Failure::options)?;
    }
    // A stable sort: parts of one argument stay in order.
    placed.sort_by_key(|entry| entry.0);
    for given in arguments.given.iter().filter(|given| PER_LOG.contains(&given.name)) {
        let mut hit = false;
        for (_, path, own) in &mut placed {
            let named = given
                .only_for
                .as_deref()
                .is_none_or(|name| own.run.as_deref() == Some(name) || is_called(path, name));
            if named {
                read_option(given, own).map_err(Failure::options)?;
                hit = true;
            }
        }
        if !hit {
            let name = given.only_for.as_deref().unwrap_or_default();
            return Err(Failure::options(format!("`--{}`: no log is called `{name}`", given.name)));
        }
    }
    let kept = std::mem::take(&mut settings.inputs);
    let mut files = Vec::new();
    for (index, (_, path, own)) in placed.into_iter().enumerate() {
        files.push(path);
        // Settings from a file stay where the command line says nothing.
        let merged = match kept.get(index) {
            Some(known) => merge(known, own),
            None => own,
        };
        settings.inputs.push(merged);
    }
    Ok(files)
}

fn merge(known: &InputSettings, own: InputSettings) -> InputSettings {
    let standard = InputSettings::default();
    InputSettings {
        // A log named without an option is a run only where the file leaves no word on this input:
        // a bench that told the kind from content is repeated as it was.
        kind: own.kind.filter(|kind| *kind != Kind::Run).or(known.kind),
        run: own.run.or_else(|| known.run.clone()),
        continues: own.continues || known.continues,
        beside: own.beside || known.beside,
        clock: own.clock.or(known.clock),
        resistor: own.resistor.or(known.resistor),
        four_wire: own.four_wire || known.four_wire,
        hold_back: own.hold_back || known.hold_back,
        path: own.path.or_else(|| known.path.clone()),
        read: if own.read == standard.read { known.read.clone() } else { own.read },
        columns: if own.columns == standard.columns { known.columns.clone() } else { own.columns },
    }
}

/// Puts another logger's file behind the log before it, part by part.
fn add_logger(given: &Given, placed: &mut Vec<(usize, String, InputSettings)>) -> Result<(), String> {
    let host =
        placed.iter().filter(|entry| entry.0 < given.place && !entry.2.beside).map(|entry| entry.0).max();
    let Some(host) = host else { return Err("`--beside` belongs after the log of the same run".to_owned()) };
    let parts: Vec<usize> =
        (0..placed.len()).filter(|&at| placed[at].0 == host && !placed[at].2.beside).collect();
    let paths: Vec<&str> = given.value.split('+').collect();
    if parts.len() != paths.len() {
        return Err(format!(
            "`--beside`: the log before it has {} parts, this has {}; give one file for each",
            parts.len(),
            paths.len()
        ));
    }
    for (at, path) in parts.into_iter().zip(paths).rev() {
        let own = InputSettings { beside: true, kind: placed[at].2.kind, ..InputSettings::default() };
        let behind = placed[at + 1..].iter().take_while(|entry| entry.0 == host && entry.2.beside).count();
        placed.insert(at + 1 + behind, (host, path.to_owned(), own));
    }
    Ok(())
}

/// Whether a file is meant by a name: its own, with or without its ending.
fn is_called(path: &str, name: &str) -> bool {
    let base = base_name(path);
    base == name || base.rsplit_once('.').is_some_and(|(stem, _)| stem == name)
}

/// A path's last part.
pub(crate) fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}
