//! Cell widths from noise, resolution and occupancy.

use super::grid::{Grid, Span};
use super::pass::Pass;
use super::table::Table;
use super::{Kind, Settings};
use crate::math::stats::{self, QuantileRule};

/// Row-weighted median of rows per cell that automatic widths aim at.
const OCCUPANCY: f64 = 12.0;
/// Smallest and largest share of the range tried as a width.
const SHARES: (f64, f64) = (1e-3, 1.0);

/// What holds for every candidate of the widths.
#[derive(Clone, Debug)]
pub(super) struct Fixed {
    /// Range from the 0.5 % to the 99.5 % quantile.
    pub(super) ranges: Vec<f64>,
    /// Six noises or four resolution steps.
    floors: Vec<f64>,
    /// Given by the user.
    given: Vec<Option<f64>>,
    /// Share of the range given by the user.
    share: Option<f64>,
    /// What the widths that were chosen are multiplied by at the end.
    factor: f64,
}

impl Fixed {
    pub(super) fn new(samples: &[Vec<f64>], noise: &[f64], kind: &Kind, settings: &Settings) -> Self {
        let ranges: Vec<f64> = samples
            .iter()
            .map(|sample| {
                let mut sample = sample.clone();
                let high = stats::quantile(&mut sample, 0.995, QuantileRule::Linear);
                let low = stats::quantile(&mut sample, 0.005, QuantileRule::Linear);
                high.zip(low).map_or(0.0, |(high, low)| high - low)
            })
            .collect();
        let floors = noise
            .iter()
            .enumerate()
            .map(|(column, noise)| {
                (6.0 * noise).max(4.0 * kind.resolution.get(column).copied().unwrap_or(0.0))
            })
            .collect();
        let given = (0..noise.len())
            .map(|column| {
                let name = kind.names.get(column)?;
                let usable = |width: &f64| *width > 0.0 && width.is_finite();
                let cells = settings.channel_cells.get(name).filter(|cells| **cells >= 1.0);
                let by_cells = cells.map(|cells| ranges[column] / cells).filter(usable);
                settings.widths.get(name).copied().filter(usable).or(by_cells)
            })
            .collect();
        let share = settings.cells_in_use().map(|cells| 1.0 / cells);
        Self { ranges, floors, given, share, factor: settings.width_factor() }
    }

    fn widths(&self, share: f64) -> Vec<f64> {
        let width = |column: usize| {
            let wanted = self.floors[column].max(share * self.ranges[column]);
            // A channel that never changes gets one cell.
            self.given[column].unwrap_or(if wanted > 0.0 { wanted } else { 1.0 })
        };
        (0..self.ranges.len()).map(width).collect()
    }

    /// Whether a smaller share would give the same widths.
    fn at_floor(&self, share: f64) -> bool {
        self.floors.iter().zip(&self.ranges).all(|(floor, range)| share * range <= *floor)
    }

    fn chosen(&self) -> bool {
        self.share.is_none() && self.given.iter().any(Option::is_none)
    }
}

/// Inner ends of the outer hundredth of a column: its 0.5 % and 99.5 % quantiles; `None` where it does not vary.
pub(super) fn outer(sample: &[f64]) -> Option<[f64; 2]> {
    let mut sample = sample.to_vec();
    let high = stats::quantile(&mut sample, 0.995, QuantileRule::Linear)?;
    let low = stats::quantile(&mut sample, 0.005, QuantileRule::Linear)?;
    (high > low).then_some([low, high])
}

/// The search for the share of the range at which cells hold enough rows.
///
/// Small logs are searched by halving the logarithm of the share twenty times. Of long logs every try costs, but their
/// occupancy rises evenly: they are searched along the straight line through the ends of the bracket.
#[derive(Debug)]
pub(super) struct Widths {
    fixed: Fixed,
    /// Shares between which the answer lies, with the occupancy there once it is known.
    low: (f64, Option<f64>),
    high: (f64, Option<f64>),
    tried: f64,
    pass: Option<Box<Pass>>,
    tries: u32,
    long: bool,
}

/// Rows above which a log is long.
const LONG: usize = 100_000;
/// Share at which the search in a long log starts.
const START: f64 = 0.03;
/// Relative difference of the occupancy from the one aimed at that is near enough in a long log.
const NEAR: f64 = 0.1;

impl Widths {
    pub(super) fn new(fixed: Fixed, spans: &[Span], rows: usize) -> Self {
        let long = rows > LONG;
        // The narrowest first in a small log: where noise or resolution sets the widths that is the answer.
        let tried = if long { START } else { SHARES.0 };
        let (low, high) = ((SHARES.0, None), (SHARES.1, None));
        let mut widths = Self { fixed, low, high, tried, pass: None, tries: 0, long };
        if widths.fixed.chosen() {
            widths.pass = Some(Box::new(widths.pass_at(spans)));
        }
        widths
    }

    fn pass_at(&self, spans: &[Span]) -> Pass {
        Pass::new(Grid::new(spans, &self.fixed.widths(self.tried), 0.0), 64)
    }

    /// Counts further rows of the candidate under way; whether the search is over.
    pub(super) fn step(
        &mut self,
        table: &dyn Table,
        budget: usize,
        codes: &mut [u32],
        spans: &[Span],
    ) -> bool {
        let Some(pass) = &mut self.pass else { return true };
        if !pass.step(table, budget, codes) {
            return false;
        }
        let found = median_occupancy(pass.counts().to_vec());
        let enough = found >= OCCUPANCY;
        if enough {
            self.high = (self.tried, Some(found));
        } else {
            self.low = (self.tried, Some(found));
        }
        self.tries += 1;
        let floor = enough && self.fixed.at_floor(self.tried);
        let near = self.long && enough && found <= OCCUPANCY * (1.0 + NEAR);
        let most = if self.long { 10 } else { 21 };
        if floor || near || self.tries >= most || enough && self.tried <= SHARES.0 {
            return true;
        }
        self.tried = if self.long { self.along_the_line() } else { libm::sqrt(self.low.0 * self.high.0) };
        self.pass = Some(Box::new(self.pass_at(spans)));
        false
    }

    /// Where the straight line through the bracket's ends, in logarithms, meets a little above the aim.
    fn along_the_line(&self) -> f64 {
        let (Some(few), Some(many)) = (self.low.1, self.high.1) else {
            // One end is not known yet: a factor of three towards it.
            let next = if self.low.1.is_some() { self.tried * 3.0 } else { self.tried / 3.0 };
            return next.clamp(SHARES.0, SHARES.1);
        };
        let aim = libm::log(OCCUPANCY * (1.0 + 0.5 * NEAR) / few) / libm::log(many / few);
        let part = aim.clamp(0.1, 0.9);
        self.low.0 * libm::exp(part * libm::log(self.high.0 / self.low.0))
    }

    /// The widths, and the share where it was searched.
    pub(super) fn finish(self) -> (Vec<f64>, Option<f64>) {
        let searched = self.fixed.chosen();
        let share = self.fixed.share.unwrap_or(self.high.0);
        let mut widths = self.fixed.widths(share);
        // Never narrower than noise and resolution allow.
        for (column, width) in
            widths.iter_mut().enumerate().filter(|entry| self.fixed.given[entry.0].is_none())
        {
            *width = (*width * self.fixed.factor).max(self.fixed.floors[column]);
        }
        (widths, searched.then_some(share))
    }
}

/// Median over rows of the number of rows in the row's cell.
fn median_occupancy(mut counts: Vec<u32>) -> f64 {
    counts.sort_unstable();
    let rows: u64 = counts.iter().map(|&count| u64::from(count)).sum();
    if rows == 0 {
        return OCCUPANCY;
    }
    let at = |rank: u64| {
        let mut seen = 0;
        counts.iter().find(|&&count| {
            seen += u64::from(count);
            seen > rank
        })
    };
    let low = at((rows - 1) / 2).copied().unwrap_or(0);
    let high = at(rows / 2).copied().unwrap_or(0);
    0.5 * (f64::from(low) + f64::from(high))
}
