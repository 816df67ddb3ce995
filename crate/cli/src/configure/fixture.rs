//! Options that say what is known of the fixture.

use wattsieve_core::fixture::{
    Accuracy, Across, Contacts, Line, Lines, MeterReading, Sense, Settings, Shunt, Step,
};

use crate::values::{non_negative, number, stated, with_unit};

pub(super) fn fixture(option: &str, value: &str, fixture: &mut Settings) -> Result<(), String> {
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
pub(super) fn path(option: &str, value: &str) -> Result<Vec<Step>, String> {
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
pub(super) fn line_of<'a>(lines: &'a mut Lines, channel: &str) -> Result<&'a mut Line, String> {
    match channel {
        "v_in" => Ok(&mut lines.v_in),
        "v_out_high" | "v_out" => Ok(&mut lines.v_out_high),
        "v_out_low" => Ok(&mut lines.v_out_low),
        "i_in" => Ok(&mut lines.i_in),
        "i_out" => Ok(&mut lines.i_out),
        other => Err(format!("`--line`: `{other}` is not a channel")),
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
