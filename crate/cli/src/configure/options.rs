//! Options that are not a log's: one word each to its place in settings or outputs.

use wattsieve_core::align;
use wattsieve_core::bench::{CalibrationUse, Settings};
use wattsieve_core::channel::CHANNELS;
use wattsieve_core::fixture::{Accuracy, read_pairs};
use wattsieve_core::plateau;
use wattsieve_core::pulse;
use wattsieve_core::sieve::{self, SettledPoints};

use super::fixture::{fixture, line_of};
use super::{Outputs, text_of};
use crate::Failure;
use crate::arguments::Given;
use crate::values::{non_negative, number, pairs, stated, table_of_two};

pub(super) fn apply(given: &Given, settings: &mut Settings, outputs: &mut Outputs) -> Result<(), Failure> {
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
        "on-current" => settings.pulsed.on_current = Some(above_zero(option, value)?),
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

fn above_zero(option: &str, value: &str) -> Result<f64, String> {
    let found = number(option, value)?;
    if found > 0.0 {
        Ok(found)
    } else {
        Err(format!("`--{option}`: found `{value}`, expected a number above 0"))
    }
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
