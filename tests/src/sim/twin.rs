//! A slow and plain reading of the simulator's own logs: the twin of the real reader.

use wattsieve_core::channel::{Mark, MarkKind, Readings, Segment, SegmentStart};

use super::text::{Dialect, Field};

/// Readings in SI units of a log that this dialect wrote.
///
/// **Missing data** a line with too few fields or a field that is no number is a row of `NaN`; its
/// time is `NaN` as well.
#[must_use]
pub fn plain_readings(bytes: &[u8], dialect: &Dialect) -> Readings {
    let text = String::from_utf8_lossy(bytes);
    let mut lines = text.trim_start_matches('\u{feff}').lines().filter(|l| !l.starts_with('#'));
    let header = lines.next().unwrap_or_default();
    let names: Vec<&str> = header.split(dialect.separator).collect();
    let columns: Vec<_> =
        names.iter().filter_map(|name| dialect.columns.iter().find(|c| c.name == *name)).collect();
    let mut readings = Readings::default();
    let mut starts = vec![(0, SegmentStart::Start)];
    let mut offset = 0.0;
    let mut last = f64::NEG_INFINITY;
    let mut periods = Vec::new();
    for line in lines {
        let row = readings.time.len();
        if line == header {
            starts.push((row, SegmentStart::Header));
            offset = last;
            continue;
        }
        let fields: Vec<Option<f64>> =
            line.split(dialect.separator).map(|field| field.parse().ok()).collect();
        let whole = fields.len() == columns.len() && fields.iter().all(Option::is_some);
        let mut values = [f64::NAN; 5];
        let mut time = f64::NAN;
        if whole {
            for (column, value) in columns.iter().zip(&fields) {
                let value = value.unwrap_or(f64::NAN) / column.scale;
                match column.field {
                    Field::Time => time = value,
                    Field::Channel(k) => values[k] = value,
                    Field::Temperature => {}
                }
            }
            if time + offset.max(0.0) > last && last.is_finite() {
                periods.push(time + offset.max(0.0) - last);
            }
            time += offset.max(0.0);
            last = time;
        } else {
            readings.marks.push(Mark { row: row as u32, kind: MarkKind::Unreadable });
        }
        readings.time.push(time);
        for (column, value) in readings.columns.iter_mut().zip(values) {
            column.push(value);
        }
    }
    let rows = readings.time.len();
    for (place, &(first, start)) in starts.iter().enumerate() {
        let end = starts.get(place + 1).map_or(rows, |next| next.0);
        readings.segments.push(Segment { first, last: end - 1, start });
    }
    periods.sort_by(f64::total_cmp);
    readings.row_period = periods.get(periods.len() / 2).copied().unwrap_or(0.0);
    for (column, resolution) in readings.columns.iter().zip(&mut readings.resolution) {
        *resolution = column
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .filter(|d| *d > 1e-9)
            .fold(f64::INFINITY, f64::min);
        if !resolution.is_finite() {
            *resolution = 0.0;
        }
    }
    readings
}
