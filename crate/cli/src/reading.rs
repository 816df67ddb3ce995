//! Options on how one log is read.

use serde_json::Value;
use wattsieve_core::bench::InputSettings;
use wattsieve_core::channel::{
    ChannelRange, ColumnRef, ColumnRole, Role, RoleCounts, RoleRanges, RoleScale, RoleUnit,
};
use wattsieve_core::log::HeaderRow;

use crate::arguments::Given;
use crate::values::{number, pairs, stated, with_unit};

fn role(option: &str, name: &str) -> Result<Role, String> {
    serde_json::from_value(Value::String(name.trim().to_owned()))
        .map_err(|_| format!("`--{option}`: `{name}` is not a role; see `wattsieve --help`"))
}

/// Takes one option on how a log is read.
///
/// **Errors** names the option and what it expects.
pub(crate) fn read_option(given: &Given, own: &mut InputSettings) -> Result<(), String> {
    let (option, value) = (given.name, given.value.as_str());
    match option {
        "clock" => {
            let mut clock = own.clock.unwrap_or_default();
            for (name, text) in pairs(option, value)? {
                let found = stated(option, text)?;
                match name {
                    "offset" => (clock.offset, clock.offset_u) = (Some(found.value), found.u),
                    "ratio" => (clock.ratio, clock.ratio_u) = (Some(found.value), found.u),
                    other => return Err(format!("`--{option}`: found `{other}`, expected offset or ratio")),
                }
            }
            own.clock = Some(clock);
        }
        "columns" => {
            for (name, column) in pairs(option, value)? {
                let column = match column.parse::<u32>() {
                    Ok(number) => ColumnRef::Number(number),
                    Err(_) => ColumnRef::Header(column.to_owned()),
                };
                own.columns.columns.push(ColumnRole { column, role: role(option, name)? });
            }
        }
        "units" => {
            for (name, unit) in pairs(option, value)? {
                own.columns.units.push(RoleUnit { role: role(option, name)?, unit: unit.to_owned() });
            }
        }
        "scale" => {
            for (name, scale) in pairs(option, value)? {
                own.columns
                    .scales
                    .push(RoleScale { role: role(option, name)?, scale: number(option, scale)? });
            }
        }
        "reverse" => {
            for name in value.split(',') {
                own.columns.reverse.push(role(option, name)?);
            }
        }
        "header-row" => {
            own.read.header_row = match value {
                "none" => HeaderRow::None,
                text => HeaderRow::Line(text.parse().map_err(|_| {
                    format!("`--{option}`: found `{text}`, expected a line number or `none`")
                })?),
            };
        }
        "encoding" => {
            own.read.encoding = Some(one_of(
                option,
                value,
                "utf-8, utf-16le, utf-16be, windows-1252",
                serde_json::from_value,
            )?)
        }
        "shape" => {
            own.read.shape =
                Some(one_of(option, value, "delimited, name_value, json", serde_json::from_value)?)
        }
        "skip-lines" => {
            own.read.skip_lines = value
                .parse()
                .map_err(|_| format!("`--{option}`: found `{value}`, expected a number of lines"))?;
        }
        "counts" => own.columns.counts.push(counts(option, value)?),
        "ranges" => {
            own.columns.ranges.push(ranges(option, value)?);
        }
        "separator" => own.read.separator = Some(sign(option, value)?),
        "decimal-mark" => own.read.decimal_mark = Some(sign(option, value)?),
        _ => {
            let period = number(option, value)?;
            if period <= 0.0 {
                return Err(format!("`--{option}`: must be above 0 s"));
            }
            own.columns.row_period = Some(period);
        }
    }
    Ok(())
}

fn sign(option: &str, value: &str) -> Result<char, String> {
    match value {
        "tab" | "\\t" => return Ok('\t'),
        "space" | "spaces" => return Ok(' '),
        _ => {}
    }
    let mut letters = value.chars();
    match (letters.next(), letters.next()) {
        (Some(letter), None) => Ok(letter),
        _ => Err(format!("`--{option}`: found `{value}`, expected one sign, `tab` or `space`")),
    }
}

/// One of the words that a setting takes.
fn one_of<T>(
    option: &str,
    value: &str,
    words: &str,
    parse: impl Fn(Value) -> Result<T, serde_json::Error>,
) -> Result<T, String> {
    parse(Value::String(value.to_owned()))
        .map_err(|_| format!("`--{option}`: found `{value}`, expected one of {words}"))
}

/// `i_in=bits:12,reference:3.3,shunt:0.01,gain:50`.
fn counts(option: &str, value: &str) -> Result<RoleCounts, String> {
    let expected = "ROLE=bits:N,reference:V and, as needed, signed, divider:UPPER/LOWER, shunt:OHMS, gain:X, zero:N, logged:counts|units";
    let (name, what) =
        value.split_once('=').ok_or_else(|| format!("`--{option}`: found `{value}`, expected {expected}"))?;
    let mut out = RoleCounts { role: role(option, name)?, ..RoleCounts::default() };
    for part in what.split(',') {
        match part.split_once(':') {
            None if part == "signed" => out.signed = true,
            Some(("bits", bits)) => {
                out.bits = bits
                    .parse()
                    .map_err(|_| format!("`--{option}`: found `{bits}`, expected a number of bits"))?;
            }
            Some(("reference", volts)) => out.reference = with_unit(option, volts)?,
            Some(("divider", ohms)) => {
                let (upper, lower) = ohms
                    .split_once('/')
                    .ok_or_else(|| format!("`--{option}`: found `{ohms}`, expected UPPER/LOWER in ohms"))?;
                out.divider = Some([number(option, upper)?, number(option, lower)?]);
            }
            Some(("shunt", ohms)) => out.shunt = Some(number(option, ohms)?),
            Some(("gain", gain)) => out.gain = number(option, gain)?,
            Some(("zero", zero)) => out.zero = number(option, zero)?,
            Some(("logged", logged)) => {
                out.logged = Some(one_of(option, logged, "counts, units", serde_json::from_value)?)
            }
            _ => return Err(format!("`--{option}`: found `{part}`, expected {expected}")),
        }
    }
    Ok(out)
}

/// `i_in=column:7,LO:gain:1.01,LO:offset:1mA`.
fn ranges(option: &str, value: &str) -> Result<RoleRanges, String> {
    let expected = "ROLE=column:N and, for each range, NAME:gain:X or NAME:offset:X";
    let (name, what) =
        value.split_once('=').ok_or_else(|| format!("`--{option}`: found `{value}`, expected {expected}"))?;
    let mut out = RoleRanges { role: role(option, name)?, column: None, ranges: Vec::new() };
    for part in what.split(',') {
        let words: Vec<&str> = part.split(':').collect();
        let (range, what, figure) = match words[..] {
            ["column", column] => {
                out.column = Some(match column.parse() {
                    Ok(number) => ColumnRef::Number(number),
                    Err(_) => ColumnRef::Header(column.to_owned()),
                });
                continue;
            }
            [range, what, figure] => (range, what, figure),
            _ => return Err(format!("`--{option}`: found `{part}`, expected {expected}")),
        };
        let place = out.ranges.iter().position(|known| known.name == range).unwrap_or_else(|| {
            out.ranges.push(ChannelRange { name: range.to_owned(), ..ChannelRange::default() });
            out.ranges.len() - 1
        });
        match what {
            "gain" => {
                let gain = number(option, figure)?;
                if gain <= 0.0 {
                    return Err(format!("`--{option}`: the gain of range {range} must be above 0"));
                }
                out.ranges[place].gain = gain;
            }
            "offset" => out.ranges[place].offset = with_unit(option, figure)?,
            _ => return Err(format!("`--{option}`: found `{part}`, expected {expected}")),
        }
    }
    Ok(out)
}
