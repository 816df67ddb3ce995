//! The one table of spellings: units, and the parts that column names are made of.
//!
//! A name is cut into parts that must cover it whole, in any order: what is measured, on which
//! side, at which node. `U_aus_p` is voltage, output, high. Case, spaces, underscores, points and
//! hyphens inside a name do not count; a plus or minus at its end does.
//!
//! Common practice, no source, unless said.

use super::Role;

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Quantity {
    /// Seconds.
    Time,
    /// Volts.
    Voltage,
    /// Amperes.
    Current,
    /// Watts.
    Power,
    /// Degrees Celsius.
    Temperature,
    /// Lux or lumen.
    Light,
    /// Counts of a converter of the logger.
    Counts,
}

/// A unit: what it measures, how its values become SI (degrees Celsius for temperature).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// What it measures.
    pub quantity: Quantity,
    /// How it is shown.
    pub symbol: &'static str,
    /// SI value of one unit.
    pub scale: f64,
    /// Added after scaling; 0 but for temperatures.
    pub offset: f64,
}

const fn unit(quantity: Quantity, symbol: &'static str, scale: f64) -> Unit {
    Unit { quantity, symbol, scale, offset: 0.0 }
}

/// Spellings of units, in lower case with `µ` for every micro sign. `M` before a unit is never
/// meant here, so that case does not matter.
const UNITS: &[(&[&str], Unit)] = &[
    (&["s", "sec", "secs", "second", "seconds", "sek", "sekunden"], unit(Quantity::Time, "s", 1.0)),
    (
        &["ms", "msec", "millis", "millisecond", "milliseconds", "millisekunden"],
        unit(Quantity::Time, "ms", 1e-3),
    ),
    (
        &["us", "µs", "usec", "µsec", "micros", "microsecond", "microseconds", "mikrosekunden"],
        unit(Quantity::Time, "µs", 1e-6),
    ),
    (&["ns", "nsec", "nanos", "nanoseconds"], unit(Quantity::Time, "ns", 1e-9)),
    (&["min", "mins", "minute", "minutes", "minuten"], unit(Quantity::Time, "min", 60.0)),
    (&["h", "hr", "hrs", "hour", "hours", "stunden"], unit(Quantity::Time, "h", 3600.0)),
    (&["d", "day", "days", "tage"], unit(Quantity::Time, "d", 86_400.0)),
    (&["v", "volt", "volts"], unit(Quantity::Voltage, "V", 1.0)),
    (&["mv", "millivolt", "millivolts"], unit(Quantity::Voltage, "mV", 1e-3)),
    (&["uv", "µv", "microvolt", "microvolts"], unit(Quantity::Voltage, "µV", 1e-6)),
    (&["kv"], unit(Quantity::Voltage, "kV", 1e3)),
    (&["a", "amp", "amps", "ampere", "amperes"], unit(Quantity::Current, "A", 1.0)),
    (&["ma", "milliamp", "milliamps", "milliampere", "milliamperes"], unit(Quantity::Current, "mA", 1e-3)),
    (&["ua", "µa", "microamp", "microamps", "microampere"], unit(Quantity::Current, "µA", 1e-6)),
    (&["w", "watt", "watts"], unit(Quantity::Power, "W", 1.0)),
    (&["mw", "milliwatt", "milliwatts"], unit(Quantity::Power, "mW", 1e-3)),
    (&["uw", "µw"], unit(Quantity::Power, "µW", 1e-6)),
    (&["kw"], unit(Quantity::Power, "kW", 1e3)),
    (&["°c", "degc", "deg c", "c", "celsius", "grad c"], unit(Quantity::Temperature, "°C", 1.0)),
    (&["k", "kelvin"], Unit { quantity: Quantity::Temperature, symbol: "K", scale: 1.0, offset: -273.15 }),
    (
        &["°f", "degf", "deg f", "fahrenheit"],
        Unit { quantity: Quantity::Temperature, symbol: "°F", scale: 5.0 / 9.0, offset: -160.0 / 9.0 },
    ),
    (&["lx", "lux"], unit(Quantity::Light, "lx", 1.0)),
    (&["lm", "lumen", "lumens"], unit(Quantity::Light, "lm", 1.0)),
    (&["counts", "count", "cts", "raw", "lsb", "adc", "digits"], unit(Quantity::Counts, "counts", 1.0)),
];

/// The unit that a text spells.
#[must_use]
pub fn unit_of(text: &str) -> Option<Unit> {
    let text = text.trim().trim_matches(|letter| "()[]{}<>".contains(letter)).trim();
    let text = text.replace('μ', "µ").to_lowercase();
    UNITS.iter().find(|(spellings, _)| spellings.contains(&text.as_str())).map(|(_, unit)| *unit)
}

/// What a part of a name says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    Quantity(Quantity),
    Input,
    Output,
    Source,
    Load,
    High,
    Low,
    /// Says nothing.
    Filler,
}

/// Parts of names. Longer spellings are tried first.
const PARTS: &[(&[&str], Part)] = &[
    (
        &[
            "v", "u", "volt", "volts", "voltage", "spannung", "spg", "tension", "voltaje", "tensione",
            "tensao",
        ],
        Part::Quantity(Quantity::Voltage),
    ),
    (
        &["i", "amp", "amps", "current", "curr", "cur", "strom", "courant", "corriente", "corrente"],
        Part::Quantity(Quantity::Current),
    ),
    (
        &["p", "power", "pwr", "leistung", "puissance", "potencia", "potenza", "watt"],
        Part::Quantity(Quantity::Power),
    ),
    (
        &[
            "in", "inp", "input", "ein", "eingang", "eingangs", "entree", "entrée", "entrada", "ingresso",
            "i", "1",
        ],
        Part::Input,
    ),
    (
        &["out", "output", "aus", "ausgang", "ausgangs", "sortie", "salida", "saida", "uscita", "o", "2"],
        Part::Output,
    ),
    (
        &[
            "source", "src", "supply", "sup", "psu", "bat", "batt", "battery", "pack", "quelle", "akku",
            "batterie",
        ],
        Part::Source,
    ),
    (&["load", "led", "lamp", "last", "charge", "carga"], Part::Load),
    (&["p", "+", "plus", "pos", "positive", "high", "hi", "h", "anode", "hoch"], Part::High),
    (&["n", "-", "minus", "neg", "negative", "low", "lo", "l", "cathode", "tief"], Part::Low),
    (
        &["avg", "mean", "average", "measured", "meas", "filtered", "mess", "value", "sense", "dc", "bus"],
        Part::Filler,
    ),
];

/// Whole names, after the unit is taken off and marks are dropped. Node letters are those of the
/// usual drawing: P input, Q output high, N output low.
const NAMES: &[(&[&str], Role)] = &[
    (
        &[
            "t",
            "time",
            "zeit",
            "timestamp",
            "ts",
            "elapsed",
            "elapsedtime",
            "uptime",
            "clock",
            "uhrzeit",
            "date",
            "datum",
            "datetime",
            "datumzeit",
            "datumuhrzeit",
            "zeitstempel",
            "temps",
            "tiempo",
            "tempo",
            "tick",
            "ticks",
            "systime",
            "epoch",
            "unixtime",
            "localtime",
            "utc",
        ],
        Role::Time,
    ),
    (&["vp", "up"], Role::VIn),
    (&["vq", "uq"], Role::VOutHigh),
    (&["vn", "un"], Role::VOutLow),
    (
        &[
            "temp",
            "temperature",
            "temperatur",
            "tcase",
            "tamb",
            "tambient",
            "theatsink",
            "ntc",
            "thermistor",
            "case",
        ],
        Role::Temperature,
    ),
    (
        &[
            "light",
            "licht",
            "lux",
            "lumen",
            "lumens",
            "brightness",
            "illuminance",
            "helligkeit",
            "photodiode",
        ],
        Role::Light,
    ),
];

/// The role that a whole name has in the table.
pub(super) fn named_role(key: &str) -> Option<Role> {
    NAMES.iter().find(|(spellings, _)| spellings.contains(&key)).map(|(_, role)| *role)
}

/// Cuts a name into parts; the first way that covers it whole and makes sense as a role.
pub(super) fn parts_of(key: &str, sensible: &dyn Fn(&[Part]) -> bool) -> Option<Vec<Part>> {
    fn go(rest: &str, parts: &mut Vec<Part>, sensible: &dyn Fn(&[Part]) -> bool) -> bool {
        if rest.is_empty() {
            return sensible(parts);
        }
        if parts.len() == 6 {
            return false;
        }
        let mut fits: Vec<(usize, Part)> = PARTS
            .iter()
            .flat_map(|(spellings, part)| spellings.iter().map(move |spelling| (spelling, *part)))
            .filter(|(spelling, _)| rest.starts_with(**spelling))
            .map(|(spelling, part)| (spelling.len(), part))
            .collect();
        fits.sort_by_key(|(length, _)| core::cmp::Reverse(*length));
        for (length, part) in fits {
            parts.push(part);
            if go(rest.get(length..).unwrap_or_default(), parts, sensible) {
                return true;
            }
            parts.pop();
        }
        false
    }
    let mut parts = Vec::new();
    go(key, &mut parts, sensible).then_some(parts)
}

/// A name without case and marks; a sign is kept.
pub(super) fn key_of(name: &str) -> String {
    let name = name.trim().to_lowercase();
    let last = name.chars().count().saturating_sub(1);
    name.chars()
        .enumerate()
        .filter(|(place, letter)| {
            letter.is_alphanumeric() || *letter == '+' || (*letter == '-' && *place == last && *place > 0)
        })
        .map(|(_, letter)| letter)
        .collect()
}
