//! Readings whose products are powers, from resolved periods or from the logged power.

use super::find::logged_power;
use crate::channel::{CHANNELS, Channel, Readings, Role, Segment, SegmentStart};
use crate::math::stats::{self, QuantileRule};

/// Rows that one point averages at least, as whole periods: what an end cut at a row costs is then small.
const ROWS: f64 = 400.0;

/// Rows whose products are powers: one for each group of whole periods, or as logged.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Powers {
    /// Mean currents, and voltages weighted by them, so that products are mean powers; V, A.
    pub table: Readings,
    /// Mean square over square of the mean of the input and of the output current: what a resistance loses more than
    /// at the mean current. **Shape** one per row; none where it is not known.
    pub form: [Vec<f64>; 2],
}

/// Averages products over groups of whole periods of the output current.
///
/// **Formula** `i = mean i`, `v = sum (v i) / sum i`. **Source** definition of mean power, IEC 60050-131, entry 131-11-42
/// (from memory). **Missing data** rows without a value are left out of their group.
#[must_use]
pub fn periods(readings: &Readings, rows_per_period: f64) -> Powers {
    let current = readings.column(Channel::IOut);
    let mut sample = stats::even_sample(current, 65_536);
    let low = stats::quantile(&mut sample, 0.05, QuantileRule::Linear).unwrap_or(0.0);
    let high = stats::quantile(&mut sample, 0.95, QuantileRule::Linear).unwrap_or(0.0);
    let (down, up) = (low + 0.35 * (high - low), low + 0.65 * (high - low));
    let group = libm::ceil(ROWS / rows_per_period.max(1.0)).max(1.0) as usize;
    let mut out = Powers::default();
    for segment in &readings.segments {
        let mut below = false;
        let mut rises = Vec::new();
        for (row, value) in current.iter().enumerate().take(segment.last + 1).skip(segment.first) {
            if *value < down {
                below = true;
            } else if *value > up && below {
                rises.push(row);
                below = false;
            }
        }
        for pair in rises.iter().step_by(group).collect::<Vec<_>>().windows(2) {
            add(readings, *pair[0]..*pair[1], &mut out);
        }
    }
    let rows = out.table.time.len();
    if rows > 0 {
        out.table.segments.push(Segment { first: 0, last: rows - 1, start: SegmentStart::Start });
    }
    let mut gaps: Vec<f64> = out.table.time.windows(2).map(|pair| pair[1] - pair[0]).collect();
    out.table.row_period = stats::median(&mut gaps).filter(|gap| gap.is_finite()).unwrap_or(0.0);
    out
}

fn add(readings: &Readings, rows: std::ops::Range<usize>, out: &mut Powers) {
    let column = |channel: Channel| readings.column(channel);
    let low = column(Channel::VOutLow);
    let mut n = 0.0;
    let mut means = [0.0; 5];
    let (mut p_in, mut p_out, mut squares) = (0.0, 0.0, [0.0; 2]);
    for row in rows.clone() {
        let x = CHANNELS.map(|channel| column(channel).get(row).copied().unwrap_or(0.0));
        if x.iter().any(|value| value.is_nan()) {
            continue;
        }
        n += 1.0;
        means.iter_mut().zip(x).for_each(|(mean, value)| *mean += value);
        p_in += x[0] * x[3];
        p_out += (x[1] - x[2]) * x[4];
        squares[0] += x[3] * x[3];
        squares[1] += x[4] * x[4];
    }
    let [_, _, _, i_in, i_out] = means;
    if n < 2.0 || i_in == 0.0 || i_out == 0.0 {
        return;
    }
    let middle = rows.start + rows.len() / 2;
    let table = &mut out.table;
    table.time.push(readings.time[middle]);
    if let Some(&line) = readings.lines.get(rows.start) {
        table.lines.push(line);
    }
    let v_low = means[2] / n;
    let values = [p_in / i_in, p_out / i_out + v_low, v_low, i_in / n, i_out / n];
    for channel in CHANNELS.into_iter().filter(|&channel| readings.has(channel)) {
        table.columns[channel.index()].push(values[channel.index()]);
    }
    debug_assert!(low.is_empty() || table.columns[2].len() == table.time.len());
    out.form[0].push(squares[0] * n / (i_in * i_in));
    out.form[1].push(squares[1] * n / (i_out * i_out));
}

/// The log with voltages that give the logged powers: output voltage `p_out / i_out`, and the input's in the same way where
/// an input power is logged.
///
/// A current that is `on_current`, A, for a share `D` of the time and off else has the mean `D on_current`, and a resistance
/// loses `1/D` of what it loses at the mean. The input's current is taken as smooth.
///
/// **Formula** `mean (i^2) / (mean i)^2 = D on^2 / (D on)^2 = 1/D`. **Source** arithmetic, for pulses that are rectangular.
/// **Missing data** `NaN` where the current is below a
/// hundredth of its usual one.
#[must_use]
pub fn by_power(readings: &Readings, on_current: Option<f64>) -> Powers {
    let mut out = readings.clone();
    let replace = |out: &mut Readings, role: Role, amps: Channel, volts: Channel, low: Option<Channel>| {
        let Some(power) = logged_power(readings, role) else { return };
        let current = readings.column(amps);
        let mut sample = stats::even_sample(current, 65_536);
        let least = 0.01 * stats::quantile(&mut sample, 0.95, QuantileRule::Linear).unwrap_or(0.0);
        let low = low.map(|low| readings.column(low)).unwrap_or_default();
        out.columns[volts.index()] = current
            .iter()
            .zip(power)
            .enumerate()
            .map(|(row, (amps, watts))| {
                let below = low.get(row).copied().unwrap_or(0.0);
                if *amps > least { watts / amps + below } else { f64::NAN }
            })
            .collect();
    };
    replace(&mut out, Role::POut, Channel::IOut, Channel::VOutHigh, Some(Channel::VOutLow));
    replace(&mut out, Role::PIn, Channel::IIn, Channel::VIn, None);
    let form = on_current.map_or_else(Default::default, |on| {
        let current = readings.column(Channel::IOut).iter();
        [
            vec![1.0; readings.rows()],
            current.map(|mean| if *mean > 0.0 { (on / mean).max(1.0) } else { 1.0 }).collect(),
        ]
    });
    Powers { table: out, form }
}
