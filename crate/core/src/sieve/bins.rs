//! Counts of rows along one channel or over a pair, as a view shows them.

use serde::Serialize;

use super::{Mask, Reason, Table};
use crate::math::stats::{self, QuantileRule};

/// Most bins along one axis.
const MOST: usize = 400;
/// Rows keyed at a time.
const CHUNK: usize = 4096;
/// Bins that an axis reaches beyond the bulk of the rows.
const BEYOND: f64 = 6.0;

/// One axis of a count.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Axis {
    /// Column.
    pub name: String,
    /// Lower end of the first bin, in the column's unit.
    pub from: f64,
    /// Upper end of the last bin.
    pub to: f64,
    /// Width of a bin.
    pub width: f64,
    /// Number of bins.
    pub bins: usize,
    /// Rows below the first bin.
    pub below: usize,
    /// Rows above the last bin.
    pub above: usize,
}

/// Counts along one axis or over two.
///
/// **Shape** one entry per bin; over two axes `row * columns + column`, the first axis along columns, row 0 lowest.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bins {
    /// Along columns.
    pub x: Axis,
    /// Along rows; `None` for one channel.
    pub y: Option<Axis>,
    /// Bins along the first axis.
    pub columns: usize,
    /// Bins along the second axis; 1 for one channel.
    pub rows: usize,
    /// Rows in the statistics by bin.
    pub kept: Vec<u32>,
    /// Rows out of them by bin.
    pub out: Vec<u32>,
    /// Whether a bin holds rows but fewer than the setting of least rows.
    pub thin: Vec<bool>,
    /// Rows of the fullest bin, kept or out.
    pub most: u32,
    /// Rows in all bins that are in the statistics.
    pub kept_rows: usize,
    /// Rows in all bins that are out of them.
    pub out_rows: usize,
    /// Thin bins.
    pub thin_bins: usize,
    /// Rows in thin bins.
    pub thin_rows: usize,
}

/// How wide the bins of one axis are wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wanted {
    /// So many over the range.
    Number(usize),
    /// So wide, in the column's unit.
    Width(f64),
}

/// An axis over a column of a table: from the smallest to the largest value, but no farther than a few bins beyond
/// 99.8 % of the rows; `None` without values.
fn axis(table: &dyn Table, column: usize, name: &str, wanted: Wanted) -> Option<Axis> {
    let rows = table.rows();
    let mut values = vec![0.0; CHUNK.min(rows)];
    let stride = rows.div_ceil(65_536).max(1);
    let mut sample = Vec::new();
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for from in (0..rows).step_by(CHUNK) {
        let to = (from + CHUNK).min(rows);
        let part = &mut values[..to - from];
        table.fill(column, from..to, part);
        for value in part.iter().filter(|value| value.is_finite()) {
            (low, high) = (low.min(*value), high.max(*value));
        }
        let start = from.div_ceil(stride) * stride - from;
        sample.extend(part.iter().skip(start).step_by(stride).copied().filter(|value| value.is_finite()));
    }
    if low > high {
        return None;
    }
    let bulk = [0.001, 0.999].map(|p| stats::quantile(&mut sample, p, QuantileRule::Linear).unwrap_or(low));
    let span = (bulk[1] - bulk[0]).max(1e-12 * high.abs()).max(f64::MIN_POSITIVE);
    let mut width = match wanted {
        Wanted::Number(bins) => span / bins.clamp(1, MOST) as f64,
        Wanted::Width(width) if width > 0.0 && width.is_finite() => width,
        Wanted::Width(_) => span / 100.0,
    };
    let bounds = |width: f64| {
        let from = low.max(bulk[0] - BEYOND * width);
        let to = high.min(bulk[1] + BEYOND * width);
        let first = libm::floor(from / width);
        (first, ((libm::floor(to / width) - first) as usize).saturating_add(1))
    };
    let (mut first, mut bins) = bounds(width);
    while bins > MOST {
        width *= 2.0;
        (first, bins) = bounds(width);
    }
    let from = first * width;
    let to = (first + bins as f64) * width;
    Some(Axis { name: name.to_owned(), from, to, width, bins, below: 0, above: 0 })
}

impl Axis {
    /// The bin of a value, `None` outside.
    fn place(&mut self, value: f64) -> Option<usize> {
        let bin = libm::floor((value - self.from) / self.width);
        if bin < 0.0 {
            self.below += 1;
            return None;
        }
        if bin >= self.bins as f64 {
            self.above += 1;
            return None;
        }
        value.is_finite().then_some(bin as usize)
    }
}

/// Counts the rows of a table's first column, or of its first two, in bins.
///
/// **Shape** `masks` is as long as the table, or shorter: rows without a mask count as kept. **Missing data** rows without a value are
/// in no bin. `None` without any value.
#[must_use]
pub fn bins(
    table: &dyn Table,
    names: &[String],
    masks: &[Mask],
    wanted: &[Wanted],
    least_rows: u32,
) -> Option<Bins> {
    let of = |column: usize| {
        let name = names.get(column)?;
        axis(table, column, name, *wanted.get(column)?)
    };
    let mut x = of(0)?;
    let mut y = if table.columns() > 1 { Some(of(1)?) } else { None };
    let (columns, rows) = (x.bins, y.as_ref().map_or(1, |y| y.bins));
    let (mut kept, mut out) = (vec![0_u32; columns * rows], vec![0_u32; columns * rows]);
    let mut values = [vec![0.0; CHUNK], vec![0.0; CHUNK]];
    for from in (0..table.rows()).step_by(CHUNK) {
        let to = (from + CHUNK).min(table.rows());
        for column in 0..table.columns().min(2) {
            table.fill(column, from..to, &mut values[column][..to - from]);
        }
        for row in from..to {
            let (a, b) = (values[0][row - from], values[1][row - from]);
            if a.is_nan() || y.is_some() && b.is_nan() {
                continue;
            }
            let column = x.place(a);
            let line = match &mut y {
                Some(y) => y.place(b),
                None => Some(0),
            };
            if let (Some(column), Some(line)) = (column, line) {
                let stays = masks.get(row).is_none_or(|mask| Reason::kept(*mask));
                let counts = if stays { &mut kept } else { &mut out };
                counts[line * columns + column] += 1;
            }
        }
    }
    let thin = kept.iter().zip(&out).map(|(kept, out)| (1..least_rows).contains(&(kept + out))).collect();
    let empty = Bins {
        x,
        y,
        columns,
        rows,
        kept,
        out,
        thin,
        most: 0,
        kept_rows: 0,
        out_rows: 0,
        thin_bins: 0,
        thin_rows: 0,
    };
    Some(empty.summed())
}

impl Bins {
    /// The same with its sums.
    fn summed(mut self) -> Self {
        for (bin, (&kept, &out)) in self.kept.iter().zip(&self.out).enumerate() {
            let rows = kept + out;
            self.most = self.most.max(rows);
            self.kept_rows += kept as usize;
            self.out_rows += out as usize;
            if self.thin[bin] {
                self.thin_bins += 1;
                self.thin_rows += rows as usize;
            }
        }
        self
    }
}
