//! From the command line to settings and a list of files.

use std::fs;

use wattsieve_core::align;
use wattsieve_core::bench::{CalibrationUse, InputSettings, Kind, Settings, wrong_setting};
use wattsieve_core::channel::CHANNELS;
use wattsieve_core::fixture::{
    Accuracy, Across, Contacts, Line, Lines, MeterReading, Sense, Settings as FixtureSettings, Shunt, Step,
    read_pairs,
};
use wattsieve_core::plateau;
use wattsieve_core::pulse;
use wattsieve_core::sieve::{self, SettledPoints};

use crate::Failure;
use crate::arguments::{Arguments, Given, PER_LOG, Verb};
use crate::reading::read_option;
use crate::values::{non_negative, number, pairs, stated, table_of_two, with_unit};

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

fn apply(given: &Given, settings: &mut Settings, outputs: &mut Outputs) -> Result<(), Failure> {
    let value = given.value.clone();
    match given.name {
        "json" => outputs.json = Some(value),
        "page" => outputs.page = Some(value),
        "page-from" => outputs.page_from = Some(value),
        "csv" => outputs.csv = Some(value),
        "settled-csv" => outputs.settled_csv = Some(value),
        "write-settings" => outputs.settings = Some(value),
        "write-calibration" => outputs.calibration = Some(value),
        "quiet" => outputs.quiet = true,
        "calibration" => {
            let text = text_of(&value)?;
            let record = serde_json::from_str(&text).map_err(|error| {
                Failure::refused(format!("{value}: this is not a calibration record: {error}"))
            })?;
            settings.calibration = Some(record);
        }
        "check-calibration" => settings.calibration_use = CalibrationUse::CheckedByRuns,
        "line" => {
            let (channel, path) = value
                .split_once('=')
                .ok_or_else(|| Failure::options("`--line`: expected channel=FILE".to_owned()))?;
            let pairs = read_pairs(&text_of(path)?).map_err(|problem| {
                Failure::refused(format!("{path}, {problem}\n  hint: {}", problem.hint))
            })?;
            let fixture = &mut settings.fixture;
            line_of(&mut fixture.lines, channel).map_err(Failure::options)?.pairs = pairs;
            fixture.accuracy = Accuracy::Calibrated;
        }
        "at" => settings.at = table_of_two(&value, &text_of(&value)?).map_err(Failure::refused)?,
        _ => set(given, settings).map_err(Failure::options)?,
    }
    Ok(())
}

fn set(given: &Given, settings: &mut Settings) -> Result<(), String> {
    let (option, value) = (given.name, given.value.as_str());
    match option {
        "delays" => settings.align = delays(option, value)?,
        "sieve-on" => settings.sieve.channels = value.split(',').map(|name| name.trim().to_owned()).collect(),
        "cells" if value.contains('=') => {
            for (name, cells) in pairs(option, value)? {
                settings.sieve.channel_cells.insert(name.to_owned(), above_zero(option, cells)?);
            }
        }
        "cells" => settings.sieve.cells = Some(above_zero(option, value)?),
        "strictness" => {
            let found = number(option, value)?;
            if !(-1.0..=1.0).contains(&found) {
                return Err(format!("`--{option}`: found `{value}`, expected -1 (gentle) to 1 (strict)"));
            }
            settings.sieve.strictness = Some(found);
        }
        "plateaus" => {
            settings.plateaus.use_them = match value {
                "auto" => plateau::Use::Auto,
                "on" => plateau::Use::On,
                "off" => plateau::Use::Off,
                other => return Err(format!("`--{option}`: found `{other}`, expected auto, on or off")),
            };
        }
        "pulsed" => {
            settings.pulsed.output = match value {
                "auto" => pulse::Output::Auto,
                "steady" => pulse::Output::Steady,
                "pulsed" => pulse::Output::Pulsed,
                other => {
                    return Err(format!("`--{option}`: found `{other}`, expected auto, steady or pulsed"));
                }
            };
        }
        "settle" => settings.plateaus.settle = Some(non_negative(option, value)?),
        "cell-width" => {
            for (name, width) in pairs(option, value)? {
                settings.sieve.widths.insert(name.to_owned(), above_zero(option, width)?);
            }
        }
        "least-rows" => {
            settings.sieve.least_rows = value
                .parse()
                .map_err(|_| format!("`--{option}`: found `{value}`, expected a whole number"))?;
        }
        "gates" => gates(option, value, &mut settings.sieve)?,
        "settled-points" => {
            settings.sieve.settled_points = match value {
                "auto" => SettledPoints::Auto,
                "yes" => SettledPoints::Yes,
                "no" => SettledPoints::No,
                other => return Err(format!("`--{option}`: found `{other}`, expected auto, yes or no")),
            };
        }
        "grid" => {
            let sizes: Vec<usize> = value
                .split('x')
                .filter_map(|part| part.parse().ok())
                .filter(|n| (1..=200).contains(n))
                .collect();
            let [columns, rows] = sizes[..] else {
                return Err(format!("`--{option}`: found `{value}`, expected NxM with 1 to 200 cells"));
            };
            settings.map.grid = Some([columns, rows]);
        }
        "replug" => settings.compare.replug = non_negative(option, value)?,
        "no-difference-below" => settings.compare.no_difference_below = above_zero(option, value)?,
        "quiescent-at" => settings.quiescent_at = Some(number(option, value)?),
        _ => fixture(option, value, &mut settings.fixture)?,
    }
    Ok(())
}

fn fixture(option: &str, value: &str, fixture: &mut FixtureSettings) -> Result<(), String> {
    match option {
        "input-sense" => fixture.input_sense = sense(option, value)?,
        "output-sense" => fixture.output_sense = sense(option, value)?,
        "input-shunt" => fixture.input_shunt = shunt(option, value)?,
        "output-shunt" => fixture.output_shunt = shunt(option, value)?,
        "jumper" => fixture.jumper = stated(option, value)?,
        "contacts" => {
            fixture.contacts = match value.split_once("+-") {
                Some(("equal", u)) => Contacts::Equal(Some(non_negative(option, u)?)),
                None if value == "equal" => Contacts::Equal(None),
                None if value == "separate" => Contacts::Separate,
                _ => {
                    return Err(format!(
                        "`--{option}`: found `{value}`, expected equal, equal+-OHMS or separate"
                    ));
                }
            };
        }
        "shared-ground" => fixture.shared_ground = true,
        "common-positive" => fixture.common_positive = true,
        "meter" => fixture.meter.push(meter(option, value)?),
        "accuracy" => {
            fixture.accuracy = match value {
                "unknown" => Accuracy::Unknown,
                "calibrated" => Accuracy::Calibrated,
                within => Accuracy::Within(share(option, within)?),
            };
        }
        "reference-meter" => {
            let (volts, amperes) = value.split_once(',').unwrap_or((value, value));
            fixture.lines.meter_voltage_u = share(option, volts)?;
            fixture.lines.meter_current_u = share(option, amperes)?;
        }
        "common-voltage-gain" => fixture.common_voltage_gain = share(option, value)?,
        "plane" => {
            fixture.plane = serde_json::from_value(named(value))
                .map_err(|_| unnamed(option, value, "converter, board or source-to-load"))?;
        }
        "input-correction" => fixture.input_correction = Some(stated(option, value)?),
        "output-correction" => fixture.output_correction = Some(stated(option, value)?),
        "channel" => {
            for (name, what) in [value
                .split_once('=')
                .ok_or_else(|| format!("`--{option}`: expected channel=what:value,..."))?]
            {
                let channels = &mut fixture.channels;
                let accuracy = match name {
                    "v_in" => &mut channels.v_in,
                    "v_out_high" | "v_out" => &mut channels.v_out_high,
                    "v_out_low" => &mut channels.v_out_low,
                    "i_in" => &mut channels.i_in,
                    "i_out" => &mut channels.i_out,
                    other => return Err(format!("`--{option}`: `{other}` is not a channel")),
                };
                for part in what.split(',') {
                    match part.split_once(':') {
                        Some(("gain", "free")) => accuracy.gain_free = true,
                        Some(("gain", u)) => accuracy.gain = Some(with_unit(option, u)?),
                        Some(("offset", u)) => accuracy.offset = Some(with_unit(option, u)?),
                        Some(("step", step)) => accuracy.step = Some(with_unit(option, step)?),
                        _ => {
                            return Err(format!(
                                "`--{option}`: found `{part}`, expected gain:, offset: or step:"
                            ));
                        }
                    }
                }
            }
        }
        _ => {}
    }
    Ok(())
}

/// An uncertainty as a share, which is never below 0.
fn share(option: &str, value: &str) -> Result<f64, String> {
    let found = with_unit(option, value)?;
    if found >= 0.0 {
        Ok(found)
    } else {
        Err(format!("`--{option}`: found `{value}`, expected a share of at least 0, such as 0.1%"))
    }
}

/// A name of the saved settings, with hyphens or underscores.
fn named(value: &str) -> serde_json::Value {
    serde_json::Value::String(value.trim().replace('-', "_"))
}

fn unnamed(option: &str, value: &str, known: &str) -> String {
    format!("`--{option}`: found `{value}`, expected {known}")
}

/// Steps of a current's way.
fn path(option: &str, value: &str) -> Result<Vec<Step>, String> {
    let known = "v_in, v_out_high, v_out_low, i_in, i_out, in_high, in_low, out_high, out_low, \
                 jumper_high, jumper_low, shared_ground, load or ground";
    value
        .split(',')
        .map(|step| serde_json::from_value(named(step)).map_err(|_| unnamed(option, step, known)))
        .collect()
}

/// `PLACE=VOLTS[+-U]@AMPS[+-U][,logged=VOLTS]`.
fn meter(option: &str, value: &str) -> Result<MeterReading, String> {
    let wrong =
        || format!("`--{option}`: found `{value}`, expected place=VOLTS@AMPS or place=VOLTS@AMPS,logged=V");
    let (place, rest) = value.split_once('=').ok_or_else(wrong)?;
    let (reading, logged) = match rest.split_once(",logged=") {
        Some((reading, logged)) => (reading, Some(number(option, logged)?)),
        None => (rest, None),
    };
    let (volts, amps) = reading.split_once('@').ok_or_else(wrong)?;
    let (volts, amps) = (stated(option, volts)?, stated(option, amps)?);
    let known = "in_high, in_low, out_high, out_low, shared_ground, jumper_high, jumper_low, source or load";
    let across: Across = serde_json::from_value(named(place)).map_err(|_| unnamed(option, place, known))?;
    if matches!(across, Across::Source | Across::Load) && logged.is_none() {
        return Err(format!("`--{option}`: `{place}` needs `,logged=` with what the logger read then"));
    }
    if amps.value == 0.0 {
        return Err(format!("`--{option}`: the current must not be 0 A"));
    }
    Ok(MeterReading {
        across,
        volts: volts.value,
        volts_u: volts.u,
        amps: amps.value,
        amps_u: amps.u,
        logged,
    })
}

/// The line of a channel.
fn line_of<'a>(lines: &'a mut Lines, channel: &str) -> Result<&'a mut Line, String> {
    match channel {
        "v_in" => Ok(&mut lines.v_in),
        "v_out_high" | "v_out" => Ok(&mut lines.v_out_high),
        "v_out_low" => Ok(&mut lines.v_out_low),
        "i_in" => Ok(&mut lines.i_in),
        "i_out" => Ok(&mut lines.i_out),
        other => Err(format!("`--line`: `{other}` is not a channel")),
    }
}

fn above_zero(option: &str, value: &str) -> Result<f64, String> {
    let found = number(option, value)?;
    if found > 0.0 {
        Ok(found)
    } else {
        Err(format!("`--{option}`: found `{value}`, expected a number above 0"))
    }
}

fn sense(option: &str, value: &str) -> Result<Sense, String> {
    match value {
        "near" => Ok(Sense::Near),
        "far" => Ok(Sense::Far),
        other => Err(format!("`--{option}`: found `{other}`, expected near or far")),
    }
}

fn shunt(option: &str, value: &str) -> Result<Shunt, String> {
    let mut parts = value.split(',');
    let resistance = parts.next().unwrap_or_default();
    let (mut inside, mut low_side) = (true, false);
    for part in parts {
        match part {
            "outside" => inside = false,
            "low-side" => low_side = true,
            other => {
                return Err(format!("`--{option}`: found `{other}`, expected `outside` or `low-side`"));
            }
        }
    }
    Ok(Shunt { resistance: Some(stated(option, resistance)?), inside, low_side })
}

fn gates(option: &str, value: &str, sieve: &mut sieve::Settings) -> Result<(), String> {
    // The gates' names are those of the saved settings.
    let mut on = serde_json::to_value(sieve.gates).map_err(|error| error.to_string())?;
    for (name, state) in pairs(option, value)? {
        let Some(gate) = on.get_mut(name) else {
            return Err(format!("`--{option}`: `{name}` is not a gate"));
        };
        *gate = match state {
            "on" => true.into(),
            "off" => false.into(),
            other => return Err(format!("`--{option}`: found `{other}`, expected on or off")),
        };
    }
    sieve.gates = serde_json::from_value(on).map_err(|error| error.to_string())?;
    Ok(())
}

fn delays(option: &str, value: &str) -> Result<align::Settings, String> {
    let mut settings = align::Settings::default();
    match value {
        "auto" => {}
        "none" => settings.mode = align::Mode::None,
        list => {
            settings.mode = align::Mode::Stated;
            for (name, delay) in pairs(option, list)? {
                let Some(channel) = CHANNELS.into_iter().find(|channel| channel.name() == name) else {
                    return Err(format!("`--{option}`: `{name}` is not a channel"));
                };
                let delay = stated(option, delay)?;
                settings.seconds[channel.index()] = Some(delay.value);
                settings.seconds_u[channel.index()] = delay.u;
            }
        }
    }
    Ok(settings)
}
