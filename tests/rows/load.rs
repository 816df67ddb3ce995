//! Stored rows as readings.

use std::path::PathBuf;

use wattsieve_core::channel::{Readings, Segment, SegmentStart};
use wattsieve_core::math::stats;

/// Path of a file of the test folder.
pub(crate) fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// Columns of a file of numbers with comment lines and one header line.
pub(crate) fn columns(name: &str) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(path(name)).unwrap();
    let mut lines = text.lines().filter(|line| !line.starts_with('#'));
    let width = lines.next().unwrap().split(',').count();
    let mut columns = vec![Vec::new(); width];
    for line in lines {
        for (column, field) in columns.iter_mut().zip(line.split(',')) {
            column.push(field.parse().unwrap());
        }
    }
    columns
}

/// Readings from a time column and five columns by channel; empty ones are absent.
pub(crate) fn readings(time: Vec<f64>, columns: [Vec<f64>; 5]) -> Readings {
    let rows = time.len();
    let mut starts = vec![(0, SegmentStart::Start)];
    let mut gaps: Vec<f64> = time.windows(2).map(|pair| pair[1] - pair[0]).filter(|gap| *gap > 0.0).collect();
    let row_period = stats::median(&mut gaps).unwrap_or(0.0);
    for row in 1..rows {
        if time[row] < time[row - 1] {
            starts.push((row, SegmentStart::ClockBack));
        } else if time[row] - time[row - 1] > 5.0 * row_period {
            starts.push((row, SegmentStart::Gap));
        }
    }
    let ends = starts.iter().skip(1).map(|start| start.0).chain([rows]);
    let segments = starts
        .iter()
        .zip(ends)
        .map(|(&(first, start), end)| Segment { first, last: end - 1, start })
        .collect();
    let resolution = std::array::from_fn(|k: usize| smallest_change(&columns[k]));
    Readings { time, columns, segments, row_period, resolution, ..Readings::default() }
}

fn smallest_change(column: &[f64]) -> f64 {
    let smallest = column
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .filter(|change| *change > 1e-12)
        .fold(f64::INFINITY, f64::min);
    if smallest.is_finite() { smallest } else { 0.0 }
}

/// A stored case with time, `v_in`, `i_in`, both output nodes, `i_out` and the answer.
pub(crate) struct Case {
    pub(crate) readings: Readings,
    /// Whether each row is wrong.
    pub(crate) wrong: Vec<bool>,
}

pub(crate) fn case(name: &str) -> Case {
    let mut columns = columns(&format!("cases/{name}/rows.csv"));
    let wrong =
        if columns.len() > 6 { columns.remove(6).iter().map(|x| *x > 0.0).collect() } else { Vec::new() };
    let [time, v_in, i_in, high, low, i_out]: [Vec<f64>; 6] = columns.try_into().unwrap();
    Case { readings: readings(time, [v_in, high, low, i_in, i_out]), wrong }
}

/// Column numbers of the stored cases, by channel.
pub(crate) const ORDER: [usize; 5] = [1, 3, 4, 2, 5];
