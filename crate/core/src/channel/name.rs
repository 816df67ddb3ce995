//! One column's name to a role and a unit, with the reason.

use super::Role;
use super::spelling::{Part, Quantity, Unit, key_of, named_role, parts_of, unit_of};

/// What a name says.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Said {
    pub(super) role: Option<Role>,
    pub(super) unit: Option<Unit>,
    /// Where the unit was found.
    pub(super) unit_from: &'static str,
    /// Bracketed text that is no known unit.
    pub(super) unknown_unit: Option<String>,
}

/// Reads a header, the text under it and the unit in its cells.
pub(super) fn understand(header: &str, under: &str, cell_unit: &str) -> Said {
    let (bare, bracketed) = take_brackets(header);
    let mut unit = None;
    let mut unit_from = "";
    let mut unknown_unit = None;
    if let Some(text) = bracketed {
        unit = unit_of(&text);
        unit_from = "the brackets in its name";
        if unit.is_none() {
            unknown_unit = Some(text);
        }
    }
    for (text, from) in [(under, "the row under the names"), (cell_unit, "its cells")] {
        if unit.is_none() && !text.trim().is_empty() {
            unit = unit_of(text);
            unit_from = from;
            if unit.is_none() {
                unknown_unit = Some(text.trim().to_owned());
            }
        }
    }
    if let Some(unit) = unit {
        let role = role_of(&bare, Some(unit));
        return Said { role, unit: Some(unit), unit_from, unknown_unit: None };
    }
    // A unit at the end of the name, after a mark; else a name that is a unit of time itself.
    let cut = bare.rfind(['_', ' ', ',', '/', '.', '-', ':']);
    if let Some(cut) = cut {
        let (stem, tail) = (
            &bare[..cut],
            bare[cut..]
                .trim_start_matches(|letter: char| !letter.is_alphanumeric() && !"µμ°".contains(letter)),
        );
        // One letter more often names something else than days.
        if let Some(unit) = unit_of(tail).filter(|_| tail != "d")
            && let Some(role) = role_of(stem, Some(unit))
        {
            return Said {
                role: Some(role),
                unit: Some(unit),
                unit_from: "the end of its name",
                unknown_unit,
            };
        }
    }
    if let Some(unit) = unit_of(&bare).filter(|unit| unit.quantity == Quantity::Time && bare.len() > 1) {
        return Said { role: Some(Role::Time), unit: Some(unit), unit_from: "its name", unknown_unit };
    }
    Said { role: role_of(&bare, None), unit: None, unit_from: "", unknown_unit }
}

/// Takes the last bracketed text off a name.
fn take_brackets(header: &str) -> (String, Option<String>) {
    let header = header.trim();
    for (open, close) in [('[', ']'), ('(', ')'), ('{', '}'), ('<', '>')] {
        if let (Some(start), Some(end)) = (header.rfind(open), header.rfind(close))
            && start < end
            && (unit_of(&header[start..=end]).is_some() || header[end..].chars().count() == 1)
        {
            let inside = header[start + 1..end].trim().to_owned();
            let bare = format!("{} {}", header[..start].trim(), header[end + 1..].trim()).trim().to_owned();
            return (bare, Some(inside));
        }
    }
    (header.to_owned(), None)
}

fn role_of(name: &str, unit: Option<Unit>) -> Option<Role> {
    let key = key_of(name);
    let quantity = unit.map(|unit| unit.quantity).filter(|quantity| *quantity != Quantity::Counts);
    match quantity {
        Some(Quantity::Temperature) => return Some(Role::Temperature),
        Some(Quantity::Light) => return Some(Role::Light),
        Some(Quantity::Time) => {
            // A setting such as `delay_ms` is no clock.
            let clock = named_role(&key) == Some(Role::Time) || key.is_empty() || unit_of(name).is_some();
            return clock.then_some(Role::Time);
        }
        _ => {}
    }
    if let Some(role) = named_role(&key).filter(|role| quantity.is_none() || electrical(*role) == quantity) {
        return Some(role);
    }
    let mut found = None;
    let sensible = |parts: &[Part]| role_from(parts, quantity).is_some();
    if let Some(parts) = parts_of(&key, &sensible) {
        found = role_from(&parts, quantity);
    }
    found
}

/// What a role measures, where it is electrical.
pub(super) fn electrical(role: Role) -> Option<Quantity> {
    match role {
        Role::VIn
        | Role::VOutHigh
        | Role::VOutLow
        | Role::VOut
        | Role::VSourceHigh
        | Role::VSourceLow
        | Role::VLoadHigh
        | Role::VLoadLow => Some(Quantity::Voltage),
        Role::IIn | Role::IOut => Some(Quantity::Current),
        Role::PIn | Role::POut => Some(Quantity::Power),
        _ => None,
    }
}

fn role_from(parts: &[Part], by_unit: Option<Quantity>) -> Option<Role> {
    let mut quantity = by_unit;
    let mut named = None;
    let (mut side, mut node) = (None, None);
    for part in parts {
        match *part {
            Part::Filler => {}
            Part::Quantity(said) => {
                if named.is_some_and(|named| named != said) || by_unit.is_some_and(|unit| unit != said) {
                    return None;
                }
                (named, quantity) = (Some(said), Some(said));
            }
            Part::High | Part::Low => {
                if node.replace(*part).is_some() {
                    return None;
                }
            }
            _ => {
                if side.replace(*part).is_some() {
                    return None;
                }
            }
        }
    }
    let role = match (quantity?, side?, node) {
        (Quantity::Voltage, Part::Input, None | Some(Part::High)) => Role::VIn,
        (Quantity::Voltage, Part::Output, None) => Role::VOut,
        (Quantity::Voltage, Part::Output, Some(Part::High)) => Role::VOutHigh,
        (Quantity::Voltage, Part::Output, Some(_)) => Role::VOutLow,
        (Quantity::Voltage, Part::Source, None | Some(Part::High)) => Role::VSourceHigh,
        (Quantity::Voltage, Part::Source, Some(_)) => Role::VSourceLow,
        (Quantity::Voltage, Part::Load, None | Some(Part::High)) => Role::VLoadHigh,
        (Quantity::Voltage, Part::Load, Some(_)) => Role::VLoadLow,
        (Quantity::Current, Part::Input | Part::Source, None) => Role::IIn,
        (Quantity::Current, Part::Output | Part::Load, None) => Role::IOut,
        (Quantity::Power, Part::Input | Part::Source, None) => Role::PIn,
        (Quantity::Power, Part::Output | Part::Load, None) => Role::POut,
        _ => return None,
    };
    Some(role)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(header: &str, role: Option<Role>, unit: &str) {
        let said = understand(header, "", "");
        let symbol = said.unit.map_or("", |unit| unit.symbol);
        assert_eq!((said.role, symbol), (role, unit), "{header}");
    }

    #[test]
    fn understands_spellings() {
        for (header, role, unit) in [
            ("t [s]", Role::Time, "s"),
            ("t / s", Role::Time, "s"),
            ("Time (ms)", Role::Time, "ms"),
            ("Zeit_ms", Role::Time, "ms"),
            ("micros", Role::Time, "µs"),
            ("us", Role::Time, "µs"),
            ("t_\u{3bc}s", Role::Time, "µs"),
            ("t_\u{b5}s", Role::Time, "µs"),
            ("Timestamp", Role::Time, ""),
            ("t", Role::Time, ""),
            ("V in (V)", Role::VIn, "V"),
            ("VIN (V)", Role::VIn, "V"),
            ("Vin [V]", Role::VIn, "V"),
            ("vin_mV", Role::VIn, "mV"),
            ("vin, mV", Role::VIn, "mV"),
            ("U_ein_mV", Role::VIn, "mV"),
            ("Eingangsspannung [V]", Role::VIn, "V"),
            ("input voltage", Role::VIn, ""),
            ("Input Voltage / mV", Role::VIn, "mV"),
            ("input [V]", Role::VIn, "V"),
            ("v_p_V", Role::VIn, "V"),
            ("v_in", Role::VIn, ""),
            ("I_in [mA]", Role::IIn, "mA"),
            ("I in (\u{3bc}A)", Role::IIn, "µA"),
            ("i_in_A", Role::IIn, "A"),
            ("iin", Role::IIn, ""),
            ("I_ein_mA", Role::IIn, "mA"),
            ("input current (A)", Role::IIn, "A"),
            ("Strom Ein [A]", Role::IIn, "A"),
            ("Vout+ [V]", Role::VOutHigh, "V"),
            ("Vout- [V]", Role::VOutLow, "V"),
            ("vout_p", Role::VOutHigh, ""),
            ("vout_n", Role::VOutLow, ""),
            ("vop", Role::VOutHigh, ""),
            ("von", Role::VOutLow, ""),
            ("vop_V", Role::VOutHigh, "V"),
            ("v_out_high", Role::VOutHigh, ""),
            ("v_out_low", Role::VOutLow, ""),
            ("v_q_V", Role::VOutHigh, "V"),
            ("v_n_V", Role::VOutLow, "V"),
            ("U_aus_p_mV", Role::VOutHigh, "mV"),
            ("VOUT (V)", Role::VOut, "V"),
            ("Ausgangsspannung", Role::VOut, ""),
            ("I_aus_mA", Role::IOut, "mA"),
            ("IOUT (A)", Role::IOut, "A"),
            ("output current", Role::IOut, ""),
            ("I_LED", Role::IOut, ""),
            ("v_source_high", Role::VSourceHigh, ""),
            ("Vbat", Role::VSourceHigh, ""),
            ("v_load_low", Role::VLoadLow, ""),
            ("T case (degC)", Role::Temperature, "°C"),
            ("temp_C", Role::Temperature, "°C"),
            ("case [K]", Role::Temperature, "K"),
            ("light (lx)", Role::Light, "lx"),
            ("P_in (W)", Role::PIn, "W"),
            ("pout_mW", Role::POut, "mW"),
            ("Input power", Role::PIn, ""),
        ] {
            check(header, Some(role), unit);
        }
    }

    #[test]
    fn does_not_guess_what_is_not_said() {
        for header in
            ["status", "adc0", "column 3", "delay_ms", "efficiency", "vref", "", "x", "in out", "row"]
        {
            assert_eq!(understand(header, "", "").role, None, "{header}");
        }
    }

    #[test]
    fn takes_units_from_elsewhere() {
        assert_eq!(understand("vin", "[mV]", "").unit.map(|unit| unit.symbol), Some("mV"));
        assert_eq!(understand("vin", "", "mV").unit.map(|unit| unit.symbol), Some("mV"));
        assert_eq!(understand("vin [furlong]", "", "").unknown_unit.as_deref(), Some("furlong"));
    }
}
