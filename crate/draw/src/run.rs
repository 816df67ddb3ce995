//! A run's rows as something to draw: scatter, ranges, strip.

use crate::colour::Ramp;
use crate::range::Range;
use crate::raster::{Dot, Fate, Source};
use crate::strip::{Envelope, column};
use serde::Deserialize;
use wattsieve_core::fixture::State;
use wattsieve_core::point::{Rows, each_reading};
use wattsieve_core::sieve::{Mask, Reason};

/// What colours a row.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Colour {
    /// Output by input power, a fraction.
    #[default]
    Efficiency,
    /// Input less output power, W.
    Loss,
}

impl Colour {
    /// The value of one row.
    #[must_use]
    pub fn value(self, state: &State) -> f64 {
        match self {
            Self::Efficiency => state.efficiency(),
            Self::Loss => state.v_in * state.i_in - state.v_out * state.i_out,
        }
    }

    /// The table that goes with it.
    #[must_use]
    pub fn ramp(self) -> Ramp {
        match self {
            Self::Efficiency => Ramp::Efficiency,
            Self::Loss => Ramp::Loss,
        }
    }
}

/// How a row with these reasons is shown: operating points as discs, rows that are off not at all
/// (they have no place on an axis of currents), all others as crosses.
#[must_use]
pub fn fate(mask: Mask) -> Fate {
    if Reason::operating(mask) {
        Fate::In
    } else if Reason::kept(mask) && mask & Reason::Off.bit() != 0 {
        Fate::Hidden
    } else {
        Fate::Out
    }
}

/// The scatter of a run: input voltage across, output current up, at the converter's terminals.
pub struct Scatter<'a, R: Rows> {
    /// The rows.
    pub rows: &'a R,
    /// What colours them.
    pub colour: Colour,
}

impl<R: Rows> Scatter<'_, R> {
    fn dot_of(&self, state: &State) -> Dot {
        Dot { x: state.v_in, y: state.i_out, value: self.colour.value(state) }
    }
}

impl<R: Rows> Source for Scatter<'_, R> {
    fn rows(&self) -> usize {
        self.rows.rows()
    }

    fn dot(&self, row: usize) -> Dot {
        self.dot_of(&self.rows.state(row))
    }

    fn each(&self, mut visit: impl FnMut(Dot)) {
        let correction = self.rows.correction();
        each_reading(self.rows, 0..self.rows.rows(), |_, reading| {
            visit(self.dot_of(&correction.apply(reading)));
        });
    }

    fn fate(&self, row: usize) -> Fate {
        fate(self.rows.mask(row))
    }

    fn time(&self, row: usize) -> f64 {
        self.rows.time(row)
    }
}

/// Where a run's operating points lie; ranges are `None` where there is no such row.
#[derive(Clone, Debug, PartialEq)]
pub struct Extent {
    /// Input voltage at the terminals, V.
    pub v_in: Option<Range>,
    /// Output current, A; above zero.
    pub i_out: Option<Range>,
    /// Efficiency of the bulk, a fraction: the lowest twentieth of the rows and the highest
    /// two-hundredth left aside, so that the rows at the lightest loads do not take all colours.
    pub efficiency: Option<Range>,
    /// Loss of the bulk, W, from its first to its ninety-ninth percentile.
    pub loss: Option<Range>,
    /// Time of all rows, s.
    pub time: Option<Range>,
    /// Number of rows.
    pub rows: usize,
    /// Operating points among them.
    pub kept: usize,
}

/// Finds where a run's operating points lie.
#[must_use]
pub fn extent(rows: &impl Rows) -> Extent {
    let mut efficiency = Vec::new();
    let mut loss = Vec::new();
    let mut ends = [Ends::NONE; 3];
    for row in 0..rows.rows() {
        ends[0].add(rows.time(row));
        if !Reason::operating(rows.mask(row)) {
            continue;
        }
        let state = rows.state(row);
        ends[1].add(state.v_in);
        if state.i_out > 0.0 {
            ends[2].add(state.i_out);
        }
        for (list, colour) in [(&mut efficiency, Colour::Efficiency), (&mut loss, Colour::Loss)] {
            let value = colour.value(&state);
            if value.is_finite() {
                list.push(value);
            }
        }
    }
    Extent {
        v_in: ends[1].range(),
        i_out: ends[2].range(),
        kept: efficiency.len(),
        efficiency: middle(&mut efficiency, 20, 200),
        loss: middle(&mut loss, 100, 100),
        time: ends[0].range(),
        rows: rows.rows(),
    }
}

#[derive(Clone, Copy)]
struct Ends {
    lo: f64,
    hi: f64,
}

impl Ends {
    const NONE: Self = Self { lo: f64::NAN, hi: f64::NAN };

    fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.lo = self.lo.min(value);
            self.hi = self.hi.max(value);
        }
    }

    fn range(self) -> Option<Range> {
        (!self.lo.is_nan()).then(|| Range::around(self.lo, self.hi))
    }
}

/// The range of all but one part in so many at the lower and at the upper end, nearest ranks.
fn middle(values: &mut [f64], lower: usize, upper: usize) -> Option<Range> {
    if values.is_empty() {
        return None;
    }
    let last = values.len() - 1;
    let mut rank = |at: usize| *values.select_nth_unstable_by(at, f64::total_cmp).1;
    let (lo, hi) = (rank(last / lower), rank(last - last / upper));
    Some(Range::around(lo, hi))
}

/// A run against time.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// Time of all rows, s.
    pub time: Range,
    /// Input voltage at the terminals, V.
    pub v_in: Envelope,
    /// Output current, A.
    pub i_out: Envelope,
    /// Efficiency of the operating points, a fraction.
    pub efficiency: Envelope,
    /// Rows that are out, per column.
    pub out: Vec<u32>,
}

/// Squeezes a run into so many columns; `None` without a row that has a time.
#[must_use]
pub fn strip(rows: &impl Rows, columns: usize) -> Option<Strip> {
    let columns = columns.clamp(1, 16_384);
    let mut ends = Ends::NONE;
    for row in 0..rows.rows() {
        ends.add(rows.time(row));
    }
    let time = ends.range()?;
    let mut strip = Strip {
        time,
        v_in: Envelope::new(columns),
        i_out: Envelope::new(columns),
        efficiency: Envelope::new(columns),
        out: vec![0; columns],
    };
    for row in 0..rows.rows() {
        let Some(column) = column(time, columns, rows.time(row)) else { continue };
        let mask = rows.mask(row);
        if !Reason::kept(mask) {
            strip.out[column] += 1;
            continue;
        }
        let state = rows.state(row);
        strip.v_in.add(column, state.v_in);
        strip.i_out.add(column, state.i_out);
        if Reason::operating(mask) {
            strip.efficiency.add(column, state.efficiency());
        }
    }
    Some(strip)
}

#[cfg(test)]
mod tests {
    use super::*;
    use wattsieve_core::fixture::Correction;

    /// Rows of a converter that loses a fifth; every tenth row is removed, every seventh is off.
    struct Made {
        count: usize,
        correction: Correction,
    }

    impl Rows for Made {
        fn rows(&self) -> usize {
            self.count
        }
        fn time(&self, row: usize) -> f64 {
            row as f64 * 0.02
        }
        fn mask(&self, row: usize) -> Mask {
            match row {
                r if r % 10 == 3 => Reason::Rare.bit(),
                r if r % 7 == 2 => Reason::Off.bit(),
                _ => 0,
            }
        }
        fn reading(&self, row: usize) -> [f64; 5] {
            let i_in = 1.0 + row as f64 / self.count as f64;
            let efficiency = if row.is_multiple_of(500) { 0.1 } else { 0.8 };
            [10.0, 5.0, 0.0, i_in, 10.0 * i_in * efficiency / 5.0]
        }
        fn correction(&self) -> &Correction {
            &self.correction
        }
        fn noise(&self) -> [f64; 5] {
            [0.0; 5]
        }
    }

    fn made(count: usize) -> Made {
        Made { count, correction: Correction::as_logged() }
    }

    #[test]
    fn the_extent_leaves_stray_efficiencies_aside() {
        let found = extent(&made(10_000));
        let efficiency = found.efficiency.unwrap();
        assert!(efficiency.holds(0.8) && efficiency.lo() > 0.7, "{efficiency:?}");
        let v_in = found.v_in.unwrap();
        assert!(v_in.holds(10.0));
        assert_eq!(found.rows, 10_000);
        let operating = (0..10_000).filter(|&row| Reason::operating(made(1).mask(row))).count();
        assert_eq!(found.kept, operating);
        let empty = extent(&made(0));
        assert!(empty.v_in.is_none() && empty.efficiency.is_none() && empty.time.is_none());
    }

    #[test]
    fn the_strip_counts_every_row_that_is_out() {
        let found = strip(&made(10_000), 300).unwrap();
        assert_eq!(found.out.iter().sum::<u32>(), 1000);
        let efficiency = found.efficiency.range().unwrap();
        assert!((efficiency.lo() - 0.1).abs() < 1e-12 && (efficiency.hi() - 0.8).abs() < 1e-12);
        assert!(strip(&made(0), 300).is_none());
    }

    #[test]
    fn off_rows_are_not_drawn_and_limited_ones_are_crosses() {
        assert_eq!(fate(0), Fate::In);
        assert_eq!(fate(Reason::AboveOne.bit()), Fate::In);
        assert_eq!(fate(Reason::Off.bit()), Fate::Hidden);
        assert_eq!(fate(Reason::SupplyLimit.bit()), Fate::Out);
        assert_eq!(fate(Reason::Rare.bit() | Reason::Off.bit()), Fate::Out);
        assert_eq!(fate(Reason::Rare.bit() | Reason::KeptByHand.bit()), Fate::In);
    }
}
