//! Roles, units and scales of a log's columns, each with the reason.

use serde::Serialize;

use crate::log::{Form, Log};
use crate::math::stats::{even_sample, median};

use super::Role;
use super::column::{ColumnGuess, role_name};
use super::counts::{Logged, stated_in};
use super::name::{Said, electrical, understand};
use super::physics::{Suggestion, suggest};
use super::range::RangeGuess;
use super::settings::{ColumnRef, Settings};
use super::spelling::{Quantity, Unit, key_of, unit_of};

/// Something that the log does not tell and a person must.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Ask {
    /// Short code: `role_missing`, `role_ambiguous`, `row_period_missing`, `unit_unknown`,
    /// `counts_incomplete`, `range_unknown`.
    pub code: &'static str,
    /// One sentence.
    pub message: String,
    /// Option of the command that answers.
    pub option: String,
    /// The role that is missing, where that is what is asked.
    #[serde(skip)]
    pub role: Option<Role>,
}

/// What the columns of a log are taken for. A suggestion: it is shown and can be edited.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Guess {
    /// One entry per column, in order.
    pub columns: Vec<ColumnGuess>,
    /// What is missing or cannot be told. Whether a time is missing is known only after reading it:
    /// see `Conversion::asks`.
    pub asks: Vec<Ask>,
    /// Where needed roles are missing: the best and the next best way to give them that the readings
    /// themselves suggest. Never applied unasked.
    pub suggestions: Vec<Suggestion>,
    /// Channels that switch their range, and where it is named.
    pub ranges: Vec<RangeGuess>,
}

impl Guess {
    /// Place of the column with a role.
    #[must_use]
    pub fn column_of(&self, role: Role) -> Option<usize> {
        self.columns.iter().position(|column| column.role == role)
    }
}

/// Guesses roles, units and scales; what `settings` says goes first.
#[must_use]
pub fn guess(log: &Log, settings: &Settings) -> Guess {
    let said: Vec<Said> = log
        .columns
        .iter()
        .map(|column| understand(&column.header, &column.under_header, &column.cell_unit))
        .collect();
    let mut asks = Vec::new();
    let mut columns: Vec<ColumnGuess> = log
        .columns
        .iter()
        .zip(&said)
        .enumerate()
        .map(|(place, (column, said))| first_guess(place, column, said))
        .collect();
    for given in &settings.columns {
        match find(log, &given.column) {
            Some(place) => {
                for other in
                    columns.iter_mut().filter(|other| other.role == given.role && given.role.is_single())
                {
                    other.role = Role::Extra;
                    "its role is given to another column".clone_into(&mut other.reason);
                }
                if let Some(column) = columns.get_mut(place) {
                    column.role = given.role;
                    "as set".clone_into(&mut column.reason);
                }
            }
            None => asks.push(Ask {
                code: "role_missing",
                message: match &given.column {
                    ColumnRef::Number(number) => {
                        format!("there is no column {number}; the log has {}", log.columns.len())
                    }
                    ColumnRef::Header(header) => format!("no column is headed `{header}`"),
                },
                option: format!("--columns {}=NUMBER", role_name(given.role)),
                role: None,
            }),
        }
    }
    if settings.columns.is_empty() {
        settle_sides(&mut columns);
    }
    settle_output_nodes(&mut columns);
    ask_for_roles(&mut columns, &mut asks);
    let mut suggestions = Vec::new();
    if asks.iter().any(|ask| ask.code == "role_missing") {
        suggestions = suggest(log, &columns);
        if let Some(best) = suggestions.first() {
            for ask in asks.iter_mut().filter(|ask| ask.code == "role_missing") {
                ask.option = best.option();
            }
        }
    }
    for (place, column) in columns.iter_mut().enumerate() {
        scale(log, place, column, &said, settings, &mut asks);
    }
    for column in &mut columns {
        count(log, column, settings, &mut asks);
    }
    infer_sizes(log, &mut columns);
    scale_counts(log, &mut columns);
    let ranges = super::range::find_ranges(log, &columns, settings, &mut asks);
    Guess { columns, asks, suggestions, ranges }
}

impl Role {
    /// Whether at most one column can have it.
    #[must_use]
    pub const fn is_single(self) -> bool {
        !matches!(self, Self::Temperature | Self::Light | Self::Extra | Self::Ignore)
    }

    /// Whether every analysis needs it.
    #[must_use]
    pub const fn is_needed(self) -> bool {
        matches!(self, Self::VIn | Self::IIn | Self::IOut)
    }
}

fn first_guess(place: usize, column: &crate::log::Column, said: &Said) -> ColumnGuess {
    let (role, reason) = match (column.form, said.role) {
        (Form::Text, _) => (Role::Ignore, "it holds text".to_owned()),
        (Form::Words, _) => (Role::Ignore, "it holds words".to_owned()),
        (Form::DateTime, Some(Role::Time) | None) => {
            (Role::Time, "it holds dates or times of day".to_owned())
        }
        (_, Some(role)) => (role, format!("its name `{}` says so", column.header)),
        _ => (Role::Extra, "its name is not in the table of spellings".to_owned()),
    };
    ColumnGuess {
        number: place as u32 + 1,
        header: column.header.clone(),
        role,
        unit: String::new(),
        scale: 1.0,
        offset: 0.0,
        reason,
        unit_said: false,
        step: None,
    }
}

pub(super) fn find(log: &Log, wanted: &ColumnRef) -> Option<usize> {
    match wanted {
        ColumnRef::Number(number) => {
            let place = (*number as usize).checked_sub(1)?;
            (place < log.columns.len()).then_some(place)
        }
        ColumnRef::Header(text) => {
            let exact = log.columns.iter().position(|column| column.header == *text);
            exact.or_else(|| {
                let key = key_of(text);
                log.columns.iter().position(|column| key_of(&column.header) == key)
            })
        }
    }
}

/// A source terminal serves as input voltage where there is no other, a load terminal as output.
fn settle_sides(columns: &mut [ColumnGuess]) {
    let has =
        |columns: &[ColumnGuess], roles: &[Role]| columns.iter().any(|column| roles.contains(&column.role));
    let swaps: [(&[Role], Role, Role, &str); 2] = [
        (
            &[Role::VIn],
            Role::VSourceHigh,
            Role::VIn,
            "the source's voltage, there being no other at the input",
        ),
        (
            &[Role::VOut, Role::VOutHigh],
            Role::VLoadHigh,
            Role::VOut,
            "the load's voltage, there being no other at the output",
        ),
    ];
    for (missing, from, to, reason) in swaps {
        if !has(columns, missing)
            && let Some(column) = columns.iter_mut().find(|column| column.role == from)
        {
            column.role = to;
            reason.clone_into(&mut column.reason);
        }
    }
}

/// One output voltage beside a low node is the high node; beside two nodes it is an extra.
fn settle_output_nodes(columns: &mut [ColumnGuess]) {
    let place = |columns: &[ColumnGuess], role| columns.iter().position(|column| column.role == role);
    let Some(single) = place(columns, Role::VOut) else { return };
    let (high, low) = (place(columns, Role::VOutHigh), place(columns, Role::VOutLow));
    if let Some(column) = columns.get_mut(single) {
        match (high, low) {
            (Some(_), Some(_)) => {
                column.role = Role::Extra;
                column.reason.push_str("; both output nodes are logged, so the difference is not needed");
            }
            (None, Some(_)) => {
                column.role = Role::VOutHigh;
                column.reason.push_str("; the low output node is logged too, so it is the high one");
            }
            _ => {}
        }
    }
}

/// Asks for what is missing or said of two columns; the first column of several keeps the role.
fn ask_for_roles(columns: &mut [ColumnGuess], asks: &mut Vec<Ask>) {
    let mut first: Vec<(Role, u32)> = Vec::new();
    for column in columns.iter_mut().filter(|column| column.role.is_single()) {
        match first.iter().find(|(role, _)| *role == column.role) {
            None => first.push((column.role, column.number)),
            Some((role, number)) => {
                // A date and a time of day may stand in two columns; the clock sorts that out.
                if *role != Role::Time {
                    let name = role_name(*role);
                    asks.push(Ask {
                        code: "role_ambiguous",
                        message: format!(
                            "columns {number} and {} (`{}`) could both be {}; say which is",
                            column.number,
                            column.header,
                            role_words(*role)
                        ),
                        option: format!("--columns {name}={number} or --columns {name}={}", column.number),
                        role: None,
                    });
                }
                column.role = Role::Extra;
                column.reason.push_str("; an earlier column has that role");
            }
        }
    }
    let has = |role| columns.iter().any(|column| column.role == role);
    for role in [Role::VIn, Role::IIn, Role::VOut, Role::IOut] {
        let found = has(role) || (role == Role::VOut && has(Role::VOutHigh));
        if !found {
            asks.push(Ask {
                code: "role_missing",
                message: format!("no column was recognised as {}; name one", role_words(role)),
                option: format!("--columns {}=NUMBER", role_name(role)),
                role: Some(role),
            });
        }
    }
}

fn role_words(role: Role) -> &'static str {
    match role {
        Role::VIn => "the input voltage",
        Role::IIn => "the input current",
        Role::VOut => "the output voltage",
        Role::VOutHigh => "the high output node",
        Role::VOutLow => "the low output node",
        Role::IOut => "the output current",
        Role::Time => "the time",
        _ => role_name(role),
    }
}

fn scale(
    log: &Log,
    place: usize,
    column: &mut ColumnGuess,
    said: &[Said],
    settings: &Settings,
    asks: &mut Vec<Ask>,
) {
    let mut unit: Option<Unit> = said.get(place).and_then(|said| said.unit);
    if let (Some(unit), Some(said)) = (unit, said.get(place)) {
        column.reason = format!("{}; unit {} from {}", column.reason, unit.symbol, said.unit_from);
    }
    if let Some(given) =
        settings.units.iter().find(|given| given.role == column.role && column.role != Role::Extra)
    {
        match unit_of(&given.unit) {
            Some(known) => {
                unit = Some(known);
                column.reason = format!("{}; unit {} as set", column.reason, known.symbol);
            }
            None => asks.push(Ask {
                code: "unit_unknown",
                message: format!(
                    "`{}` is not a unit of the table; use one such as V, mV, A, mA, s, ms",
                    given.unit
                ),
                option: format!("--units {}=UNIT", role_name(column.role)),
                role: None,
            }),
        }
    } else if unit.is_none()
        && let Some(text) = said.get(place).and_then(|said| said.unknown_unit.as_deref())
        && electrical(column.role).is_some()
    {
        asks.push(Ask {
            code: "unit_unknown",
            message: format!(
                "column {} `{}`: the unit `{text}` is not known; say which it is",
                column.number, column.header
            ),
            option: format!("--units {}=UNIT", role_name(column.role)),
            role: None,
        });
    }
    if let Some(unit) = unit {
        let wanted = electrical(column.role).or((column.role == Role::Time).then_some(Quantity::Time));
        if let Some(wanted) = wanted.filter(|wanted| *wanted != unit.quantity) {
            if unit.quantity != Quantity::Counts {
                asks.push(Ask {
                    code: "unit_unknown",
                    message: format!(
                        "column {} `{}` is to be {} but is given in {}; choose another column or unit",
                        column.number,
                        column.header,
                        role_words(column.role),
                        unit.symbol
                    ),
                    option: format!("--units {}={}", role_name(column.role), base_symbol(wanted)),
                    role: None,
                });
            }
        } else {
            (column.scale, column.offset) = (unit.scale, unit.offset);
        }
        unit.symbol.clone_into(&mut column.unit);
        column.unit_said = true;
    }
    if log.columns.get(place).is_some_and(|column| column.form == Form::DateTime) {
        "s".clone_into(&mut column.unit);
        (column.scale, column.unit_said) = (1.0, true);
    }
    if let Some(given) =
        settings.scales.iter().find(|given| given.role == column.role && column.role != Role::Extra)
    {
        column.scale = given.scale;
        column.unit_said = true;
        column.reason = format!("{}; factor {} as set", column.reason, given.scale);
    }
}

/// Counts whose circuit the settings state. A factor that is set goes before it.
fn count(log: &Log, column: &mut ColumnGuess, settings: &Settings, asks: &mut Vec<Ask>) {
    let Some(stated) = settings.counts.iter().find(|stated| stated.role == column.role) else { return };
    let step = match stated.step() {
        Ok(step) => step,
        Err(problem) => {
            asks.push(Ask {
                code: "counts_incomplete",
                message: format!(
                    "what one count of {} is cannot be told: {problem}",
                    role_words(column.role)
                ),
                option: format!(
                    "--counts {}=bits:12,reference:3.3,{}",
                    role_name(column.role),
                    if electrical(column.role) == Some(Quantity::Current) {
                        "shunt:OHMS,gain:1"
                    } else {
                        "divider:UPPER/LOWER"
                    }
                ),
                role: None,
            });
            return;
        }
    };
    column.step = Some(step);
    let values = (column.number as usize)
        .checked_sub(1)
        .and_then(|place| log.columns.get(place))
        .map(|column| column.values.as_slice())
        .unwrap_or_default();
    let whole = || even_sample(values, 1000).iter().all(|value| libm::floor(*value) == *value);
    let other_unit = column.unit_said && column.unit != "counts";
    let counted = match stated.logged {
        Some(logged) => logged == Logged::Counts,
        None => !other_unit && whole(),
    };
    if !counted || settings.scales.iter().any(|given| given.role == column.role) {
        column.reason.push_str("; the converter's resolution as set");
        return;
    }
    (column.scale, column.offset) = (step, -stated.zero * step);
    "counts".clone_into(&mut column.unit);
    column.unit_said = true;
    column.reason.push_str("; counts of a converter as set");
}

/// Counts whose value a comment states: whole numbers in columns without a unit, or in counts.
fn scale_counts(log: &Log, columns: &mut [ColumnGuess]) {
    let (volts, amperes) = stated_in(&log.comments);
    for (place, column) in columns.iter_mut().enumerate() {
        let stated = match electrical(column.role) {
            Some(Quantity::Voltage) => volts,
            Some(Quantity::Current) => amperes,
            _ => None,
        };
        let values = log.columns.get(place).map(|column| column.values.as_slice()).unwrap_or_default();
        let counts = (column.unit == "counts" && column.step.is_none()) || !column.unit_said;
        if let Some(stated) = stated.filter(|_| counts)
            && even_sample(values, 1000).iter().all(|value| libm::floor(*value) == *value)
        {
            column.scale = stated;
            column.step = Some(stated);
            "counts".clone_into(&mut column.unit);
            column.unit_said = true;
            column.reason.push_str("; whole numbers, and a comment states what one count is");
        }
    }
}

fn base_symbol(quantity: Quantity) -> &'static str {
    match quantity {
        Quantity::Time => "s",
        Quantity::Voltage => "V",
        Quantity::Current => "A",
        Quantity::Power => "W",
        Quantity::Temperature => "°C",
        Quantity::Light => "lx",
        Quantity::Counts => "counts",
    }
}

/// Median size of the readings from which a voltage without unit is taken as millivolts, and a
/// current beside it as milliamperes. Common practice, no source.
const MILLIVOLTS_FROM: f64 = 1500.0;
const MILLIAMPERES_FROM: f64 = 20.0;

/// Units of columns whose unit is not said, from the size of the readings.
fn infer_sizes(log: &Log, columns: &mut [ColumnGuess]) {
    let size = |place: usize| {
        let values = log.columns.get(place).map(|column| column.values.as_slice()).unwrap_or_default();
        let mut sample: Vec<f64> = even_sample(values, 10_000).into_iter().map(f64::abs).collect();
        median(&mut sample).unwrap_or(0.0)
    };
    let quantity = |column: &ColumnGuess| electrical(column.role).filter(|_| !column.unit_said);
    let voltage = columns
        .iter()
        .enumerate()
        .filter(|(_, column)| quantity(column) == Some(Quantity::Voltage))
        .map(|(place, _)| size(place))
        .fold(0.0, f64::max);
    let milli_volts = voltage >= MILLIVOLTS_FROM;
    for (place, column) in columns.iter_mut().enumerate() {
        let Some(quantity) = quantity(column) else { continue };
        let milli = match quantity {
            Quantity::Voltage => milli_volts,
            Quantity::Current => size(place) >= if milli_volts { MILLIAMPERES_FROM } else { 200.0 },
            _ => false,
        };
        let base = base_symbol(quantity);
        column.unit = if milli { format!("m{base}") } else { base.to_owned() };
        column.scale = if milli { 1e-3 } else { 1.0 };
        column.reason =
            format!("{}; no unit given, {} from the size of the readings", column.reason, column.unit);
    }
}
