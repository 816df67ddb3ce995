//! Tells a pulsed output from the readings.

use super::{How, Output, Pulsed, Settings, Used};
use crate::align::Noise;
use crate::channel::{Channel, Readings, Role};
use crate::math::stats::{self, QuantileRule};
use crate::quantity::Quantity;

/// Rows to a period from which products are averaged properly. Common practice, no source.
const RESOLVED: f64 = 20.0;
/// Longest period that counts as pulses, s: slower changes are states of their own. Judgement.
const SLOWEST: f64 = 0.1;
/// Share of the rows that lie at one of two levels, and how near, as a share of their distance.
const AT_LEVELS: (f64, f64) = (0.85, 0.15);
/// Rows that stay at a level on average, up to which rows catch it by chance.
const BY_CHANCE: f64 = 4.0;
/// Relative difference of the logged power from the product of averages that is no matter of accuracy.
const UNLIKE: f64 = 0.02;
/// Rows looked at for wavering.
const LOOKED_AT: usize = 200_000;

/// What is said where power is logged and the current while on is not known.
const PATH_LOSS: &str = "the loss in the fixture's output path is reckoned at the mean output current; pulses that are on for a \
     share of the time lose more, in inverse proportion to that share: say how large the current is while it is on";

/// Output voltage of a row, V.
fn volts(readings: &Readings, row: usize) -> f64 {
    let low = readings.column(Channel::VOutLow);
    readings.column(Channel::VOutHigh)[row] - if low.is_empty() { 0.0 } else { low[row] }
}

/// The logged output power, W, where there is a column of it.
pub(super) fn logged_power(readings: &Readings, role: Role) -> Option<&[f64]> {
    readings.extras.iter().find(|extra| extra.role == role).map(|extra| extra.values.as_slice())
}

/// Tells whether the output is pulsed, and what can be made of the log.
#[must_use]
pub fn find(readings: &Readings, noise: &Noise, settings: &Settings) -> Pulsed {
    let mut found = Pulsed::default();
    let needed = [Channel::VOutHigh, Channel::IOut];
    if settings.output == Output::Steady || needed.iter().any(|&channel| !readings.has(channel)) {
        return found;
    }
    if let Some(power) = logged_power(readings, Role::POut) {
        by_logged_power(readings, power, settings, &mut found);
        if found.recognised {
            finish(readings, settings, &mut found);
            return found;
        }
    }
    if let Some(levels) = Levels::of(readings, noise) {
        levels.judge(readings, settings, &mut found);
    }
    if !found.recognised {
        wavering(readings, noise, &mut found);
    }
    if !found.recognised && settings.output == Output::Pulsed {
        found.recognised = true;
        found.how = How::Stated;
        found.used = Used::Refused;
        "The output is said to be pulsed, and the rows do not follow the pulses."
            .clone_into(&mut found.evidence);
    }
    finish(readings, settings, &mut found);
    found
}

/// Compares the logged power with the product of voltage and current.
fn by_logged_power(readings: &Readings, power: &[f64], settings: &Settings, found: &mut Pulsed) {
    let current = readings.column(Channel::IOut);
    let mut sample = stats::even_sample(current, 65_536);
    let top = stats::quantile(&mut sample, 0.995, QuantileRule::Linear).unwrap_or(0.0);
    let stride = readings.rows().div_ceil(65_536).max(1);
    let mut ratios: Vec<f64> = (0..readings.rows().min(power.len()))
        .step_by(stride)
        .filter(|&row| current[row] > 0.05 * top)
        .map(|row| power[row] / (volts(readings, row) * current[row]))
        .filter(|ratio| ratio.is_finite())
        .collect();
    if ratios.len() < 10 {
        return;
    }
    let usual = stats::median(&mut ratios).unwrap_or(1.0);
    let far = stats::quantile(&mut ratios, 0.9, QuantileRule::Linear).unwrap_or(1.0);
    if usual > 1.0 + UNLIKE || far > 1.0 + 2.0 * UNLIKE || settings.output == Output::Pulsed {
        found.recognised = true;
        found.how = How::PowerLogged;
        found.used = Used::Power;
        found.evidence = format!(
            "The logged output power is {:.1} % above the product of the averaged voltage and current (in a tenth of \
             the rows more than {:.1} %).",
            (usual - 1.0) * 100.0,
            (far - 1.0) * 100.0
        );
    }
}

/// Two levels of the output current, and the rows at which it goes on.
struct Levels {
    on: f64,
    rises: Vec<usize>,
    /// Rows at the upper level, and changes of level.
    high: usize,
    changes: usize,
    rows: usize,
}

impl Levels {
    /// `None` where most rows do not lie at two levels that are far apart.
    fn of(readings: &Readings, noise: &Noise) -> Option<Self> {
        let current = readings.column(Channel::IOut);
        let mut sample = stats::even_sample(current, 65_536);
        let low = stats::quantile(&mut sample, 0.05, QuantileRule::Linear)?;
        let high = stats::quantile(&mut sample, 0.95, QuantileRule::Linear)?;
        let span = high - low;
        if sample.len() < 100 || span < 0.5 * high || high <= 0.0 || span < 12.0 * readings.resolution[4] {
            return None;
        }
        let near = |value: f64| (value - low).abs().min((value - high).abs()) <= AT_LEVELS.1 * span;
        let at = sample.iter().filter(|value| near(**value)).count();
        // Second differences of a pulsed current are no noise: the ends' scatter must be small beside the span.
        let _ = noise;
        if (at as f64) < AT_LEVELS.0 * sample.len() as f64 {
            return None;
        }
        let (down, up) = (low + 0.35 * span, low + 0.65 * span);
        let mut rises = Vec::new();
        let (mut state, mut changes, mut on) = (None, 0, 0);
        for (row, &value) in current.iter().enumerate() {
            on += usize::from(value > 0.5 * (up + down));
            let now = if value > up {
                true
            } else if value < down {
                false
            } else {
                continue;
            };
            if state == Some(!now) {
                changes += 1;
                if now {
                    rises.push(row);
                }
            }
            state = Some(now);
        }
        (changes >= 10).then_some(Self { on: high, rises, high: on, changes, rows: current.len() })
    }

    fn judge(&self, readings: &Readings, settings: &Settings, found: &mut Pulsed) {
        let mut gaps: Vec<f64> = self.rises.windows(2).map(|pair| (pair[1] - pair[0]) as f64).collect();
        let Some(usual) = stats::median(&mut gaps) else { return };
        let spread = stats::scaled_mad(&mut gaps).unwrap_or(0.0);
        let row = readings.row_period;
        let period = settings.period.unwrap_or(usual * row);
        let rows_per_period = if row > 0.0 { period / row } else { usual };
        let stay = self.rows as f64 / self.changes as f64;
        let stated = settings.output == Output::Pulsed;
        let regular = spread <= 0.3 * usual;
        let duty = self.high as f64 / self.rows as f64;
        if rows_per_period >= RESOLVED && regular && (period <= SLOWEST || stated) {
            let n = gaps.len() as f64;
            found.recognised = true;
            found.how = How::Resolved;
            found.used = Used::Periods;
            found.period = Quantity::new(period, row * (spread + 0.29) / libm::sqrt(n));
            found.rows_per_period = Some(rows_per_period);
            found.duty = Quantity::new(duty, 0.58 / (rows_per_period * libm::sqrt(n)));
            found.evidence = format!(
                "The output current goes on and off every {:.4} s, {:.0} rows to a period, and is {:.3} A while on.",
                period, rows_per_period, self.on
            );
        } else if stay < BY_CHANCE || stated {
            found.recognised = true;
            found.how = How::Unresolved;
            found.used = Used::Refused;
            found.duty = Quantity::without_u(duty);
            found.rows_per_period = settings.period.map(|_| rows_per_period);
            found.evidence = format!(
                "Rows find the output current at {:.3} A or off by chance: it changes between them every {stay:.1} rows.",
                self.on
            );
        }
    }
}

/// Output voltage and current that waver together from row to row by much more than their noise: rows average over a
/// number of pulses that is not whole.
fn wavering(readings: &Readings, noise: &Noise, found: &mut Pulsed) {
    let current = readings.column(Channel::IOut);
    let mut products = [0.0; 3];
    let mut count = 0.0;
    let end = readings.rows().min(LOOKED_AT);
    // Third differences: ramps and their turning points fade, wavering stays.
    let third =
        |f: &dyn Fn(usize) -> f64, row: usize| f(row + 3) - 3.0 * f(row + 2) + 3.0 * f(row + 1) - f(row);
    let mut sizes: Vec<f64> = Vec::with_capacity(end);
    let v = |row: usize| volts(readings, row);
    let i = |row: usize| current[row];
    for row in 0..end.saturating_sub(3) {
        sizes.push(third(&i, row).abs());
    }
    let usual = stats::quantile(&mut sizes.clone(), 0.5, QuantileRule::Linear).unwrap_or(0.0);
    let mut sample = stats::even_sample(current, 65_536);
    let middle = stats::quantile(&mut sample, 0.5, QuantileRule::Linear).unwrap_or(0.0);
    // Scatter of one row, from the median size of third differences of noise: 0.6745 sqrt 20 sigma.
    let scatter = usual / (0.6745 * libm::sqrt(20.0));
    if scatter < 0.02 * middle || middle <= 0.0 || scatter < 3.0 * readings.resolution[4] {
        return;
    }
    let _ = noise;
    for (row, size) in sizes.iter().enumerate() {
        let (a, b) = (third(&v, row), third(&i, row));
        // Steps are left out; what is looked for is in every row.
        if size.is_finite() && a.is_finite() && *size <= 6.0 * usual {
            products[0] += a * a;
            products[1] += a * b;
            products[2] += b * b;
            count += 1.0;
        }
    }
    let together = products[1] / libm::sqrt(products[0] * products[2]).max(f64::MIN_POSITIVE);
    if count >= 100.0 && together > 0.9 {
        found.recognised = true;
        found.how = How::Averaged;
        found.used = Used::Refused;
        found.evidence = format!(
            "Output voltage and current waver together from row to row ({:.1} % of the current, correlation {together:.3}): \
             rows average over pulses.",
            scatter / middle * 100.0
        );
    }
}

/// What is said of a pulsed output.
fn finish(readings: &Readings, settings: &Settings, found: &mut Pulsed) {
    if !found.recognised {
        for quantity in [&mut found.period, &mut found.duty, &mut found.product_of_averages, &mut found.power]
        {
            *quantity = Quantity::unknown("not_pulsed");
        }
        return;
    }
    let n = readings.rows();
    let current = readings.column(Channel::IOut);
    let logged = logged_power(readings, Role::POut);
    let mut sums = [0.0; 5];
    for (row, &amps) in current.iter().enumerate().take(n) {
        let (v, i) = (volts(readings, row), amps);
        if v.is_finite() && i.is_finite() {
            sums[0] += v;
            sums[1] += i;
            sums[2] += v * i;
            sums[3] += logged.and_then(|power| power.get(row)).copied().unwrap_or(f64::NAN);
            sums[4] += 1.0;
        }
    }
    let [v, i, products, power, count] = sums;
    found.product_of_averages = Quantity::without_u(v * i / (count * count));
    found.power = match found.used {
        Used::Power if power.is_finite() => Quantity::without_u(power / count),
        Used::Periods => Quantity::without_u(products / count),
        _ => Quantity::unknown("pulsed_output"),
    };
    if found.used == Used::Power {
        match settings.on_current {
            Some(on) => found.duty = Quantity::without_u((i / count / on).min(1.0)),
            None => found.path_loss = Some(PATH_LOSS),
        }
    }
    for quantity in [&mut found.period, &mut found.duty] {
        if quantity.value.is_none() {
            *quantity = Quantity::unknown("not_resolved");
        }
    }
    found.survives = vec![
        "input voltage and input current, where the input is smooth",
        "the duration and the times of changes",
    ];
    if found.used == Used::Refused {
        found.refused = Some(format!(
            "{} The product of averaged voltage and current is not the power (it would give {:.3} W over this run): no \
             efficiency is answered from it.",
            found.evidence,
            v * i / (count * count)
        ));
        found.log_instead = vec![
            "the mean of the product of voltage and current over whole periods, as an output power column",
            "or at least 20 rows to a period, all channels of a row at one instant",
        ];
    }
}
