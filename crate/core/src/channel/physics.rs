//! Roles from the readings alone, where names say nothing: the best and the next best, as
//! suggestions that a person confirms.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use crate::log::{Form, Log};

use super::Role;
use super::column::{ColumnGuess, role_name};

/// One way to give the roles.
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestion {
    /// Role and column number (from 1), in column order.
    pub columns: Vec<(Role, u32)>,
    /// Higher is more likely; only good for comparing suggestions of one log.
    pub score: f64,
    /// Share of rows in which it gives an efficiency between 0 and 1.
    pub plausible_share: f64,
}

impl Serialize for Suggestion {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut out = serializer.serialize_struct("Suggestion", 3)?;
        out.serialize_field("columns", &self.columns)?;
        out.serialize_field("plausible_share", &self.plausible_share)?;
        out.serialize_field("option", &self.option())?;
        out.end()
    }
}

impl Suggestion {
    /// As the command's option.
    #[must_use]
    pub fn option(&self) -> String {
        let parts: Vec<String> =
            self.columns.iter().map(|(role, number)| format!("{}={number}", role_name(*role))).collect();
        format!("--columns {}", parts.join(","))
    }
}

/// Rows looked at.
const ROWS: usize = 300;

/// More columns than this are not tried in every order.
const MOST_COLUMNS: usize = 8;

struct Column {
    number: u32,
    values: Vec<f64>,
    /// Spread over mean: voltages are steadier than currents.
    unsteady: f64,
    mean: f64,
}

/// The best ways to give roles to columns without one, best first; at most two.
///
/// **Formula** each assignment is scored by the share of rows with both powers above zero and
/// 0 < P_out / P_in < 1.02; then by voltages being steadier than currents, by a low output node
/// being small beside the high one and following the output current, and by the usual column order.
/// **Source** common practice, no source.
pub(super) fn suggest(log: &Log, guesses: &[ColumnGuess]) -> Vec<Suggestion> {
    let rows = log.rows();
    let stride = rows.div_ceil(ROWS).max(1);
    let free: Vec<usize> = guesses
        .iter()
        .enumerate()
        .filter(|(place, guess)| {
            guess.role == Role::Extra
                && log.columns.get(*place).is_some_and(|column| column.form == Form::Number)
        })
        .map(|(place, _)| place)
        .collect();
    let known_time = guesses.iter().find(|guess| guess.role == Role::Time).map(|guess| guess.number);
    let rising = |place: usize| {
        let values = log.columns.get(place).map(|column| column.values.as_slice()).unwrap_or_default();
        let up = values.windows(2).filter(|pair| pair[1] > pair[0]).count();
        values.len() > 2 && up * 100 >= (values.len() - 1) * 98
    };
    let time = known_time
        .or_else(|| free.iter().copied().find(|&place| rising(place)).map(|place| place as u32 + 1));
    let columns: Vec<Column> = free
        .iter()
        .filter(|&&place| Some(place as u32 + 1) != time)
        .filter_map(|&place| {
            let column = log.columns.get(place)?;
            let values: Vec<f64> = column.values.iter().step_by(stride).copied().collect();
            let finite: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
            let mean = finite.iter().sum::<f64>() / finite.len().max(1) as f64;
            let spread =
                finite.iter().map(|value| (value - mean).abs()).sum::<f64>() / finite.len().max(1) as f64;
            Some(Column { number: place as u32 + 1, values, unsteady: spread / mean.abs().max(1e-12), mean })
        })
        .collect();
    if !(4..=MOST_COLUMNS).contains(&columns.len()) {
        return Vec::new();
    }
    let mut best: Vec<Suggestion> = Vec::new();
    let all = 0..columns.len();
    for v_in in all.clone() {
        for i_in in all.clone().filter(|place| *place != v_in) {
            for high in all.clone().filter(|place| ![v_in, i_in].contains(place)) {
                for i_out in all.clone().filter(|place| ![v_in, i_in, high].contains(place)) {
                    let lows =
                        all.clone().filter(|place| ![v_in, i_in, high, i_out].contains(place)).map(Some);
                    for low in lows.chain([None]) {
                        let places = [Some(v_in), Some(i_in), Some(high), low, Some(i_out)];
                        keep(score(&columns, places, time), &mut best);
                    }
                }
            }
        }
    }
    best
}

fn keep(found: Option<Suggestion>, best: &mut Vec<Suggestion>) {
    let Some(found) = found else { return };
    let place = best.iter().position(|other| found.score > other.score).unwrap_or(best.len());
    best.insert(place, found);
    best.truncate(2);
}

fn score(columns: &[Column], places: [Option<usize>; 5], time: Option<u32>) -> Option<Suggestion> {
    let column = |place: Option<usize>| place.and_then(|place| columns.get(place));
    let [v_in, i_in, high, low, i_out] = places.map(column);
    let (v_in, i_in, high, i_out) = (v_in?, i_in?, high?, i_out?);
    let (mut looked_at, mut fit, mut ratio) = (0_u32, 0_u32, 0.0);
    for (row, (v, i)) in v_in.values.iter().zip(&i_in.values).enumerate() {
        let output = high.values.get(row)? - low.map_or(Some(0.0), |low| low.values.get(row).copied())?;
        let current = *i_out.values.get(row)?;
        let (power_in, power_out) = (v * i, output * current);
        if power_in.is_nan() || power_out.is_nan() {
            continue;
        }
        looked_at += 1;
        if *v > 0.0 && *i > 0.0 && output > 0.0 && current > 0.0 && power_out < 1.02 * power_in {
            fit += 1;
            ratio += power_out / power_in;
        }
    }
    if fit == 0 {
        return None;
    }
    let plausible_share = f64::from(fit) / f64::from(looked_at);
    let mean_ratio = ratio / f64::from(fit);
    let mut score = 4.0 * plausible_share + mean_ratio;
    score += f64::from(u8::from(v_in.unsteady < i_in.unsteady))
        + f64::from(u8::from(high.unsteady < i_out.unsteady));
    if let Some(low) = low {
        let small = low.mean.abs() < 0.2 * high.mean;
        score += if small { 1.5 * correlation(&low.values, &i_out.values) } else { -2.0 };
    }
    let order = [Some(v_in), Some(i_in), Some(high), low, Some(i_out)];
    let numbers: Vec<u32> = order.iter().flatten().map(|column| column.number).collect();
    let rising = numbers.windows(2).filter(|pair| pair[0] < pair[1]).count();
    score += 0.05 * rising as f64 / numbers.len() as f64;
    let roles = [
        Role::VIn,
        Role::IIn,
        if low.is_some() { Role::VOutHigh } else { Role::VOut },
        Role::VOutLow,
        Role::IOut,
    ];
    let mut chosen: Vec<(Role, u32)> = roles
        .into_iter()
        .zip(order)
        .filter_map(|(role, column)| column.map(|column| (role, column.number)))
        .collect();
    chosen.extend(time.map(|number| (Role::Time, number)));
    chosen.sort_by_key(|(_, number)| *number);
    Some(Suggestion { columns: chosen, score, plausible_share })
}

/// Correlation coefficient; 0 where one side does not vary.
fn correlation(x: &[f64], y: &[f64]) -> f64 {
    let pairs: Vec<(f64, f64)> =
        x.iter().copied().zip(y.iter().copied()).filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    let n = pairs.len().max(1) as f64;
    let mean_x = pairs.iter().map(|(x, _)| x).sum::<f64>() / n;
    let mean_y = pairs.iter().map(|(_, y)| y).sum::<f64>() / n;
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for (x, y) in pairs {
        let (x, y) = (x - mean_x, y - mean_y);
        xx += x * x;
        yy += y * y;
        xy += x * y;
    }
    if xx > 0.0 && yy > 0.0 { xy / (xx * yy).sqrt() } else { 0.0 }
}
