//! Two runs against each other, on their common region only, with the covariance of the fixture
//! that they share.

mod comparing;
mod crossing;
mod difference;
mod discovery;
mod verdict;

use std::ops::Range;

use serde::{Deserialize, Serialize};

pub use comparing::{Comparing, Ready};
pub use crossing::Crossover;
pub use discovery::standing;
pub use verdict::{Class, Verdict};

use crate::loss::{Asker, LossModel};
use crate::map::local::Place;
use crate::map::{
    Cell, Difference, Extent, Grid, Index, Levels, Map, Operating, Point, Settings as MapSettings,
};
use crate::point::Rows;
use difference::{Delta, Fixtures};

/// Settings of a comparison.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Scatter of one port's series resistance when its contacts are made again between the runs,
    /// ohm, one standard deviation. Default 0: nothing was unplugged. 0 to 0.1.
    pub replug: f64,
    /// Efficiency difference, as a fraction, below which "no difference" is a result; state it
    /// before looking. Default 0.005 (half a point). 0.0001 to 0.1.
    pub no_difference_below: f64,
    /// Share of falsely named winners that is accepted. Default 0.05. 0.001 to 0.5.
    pub false_share: f64,
    /// Output voltages that differ by more than this share are different loads. Default 0.02.
    pub same_output: f64,
    /// Input voltages to look for crossings at, V; default: five across the common region.
    pub input_voltages: Vec<f64>,
    /// Cells of the common grid.
    pub map: MapSettings,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            replug: 0.0,
            no_difference_below: 0.005,
            false_share: 0.05,
            same_output: 0.02,
            input_voltages: Vec::new(),
            map: MapSettings::default(),
        }
    }
}

/// One side of a comparison.
#[derive(Clone, Copy)]
pub struct Side<'a> {
    /// Name of the run.
    pub name: &'a str,
    /// Its rows.
    pub rows: &'a dyn Rows,
    /// Its output levels.
    pub levels: &'a Levels,
    /// Its loss model.
    pub model: &'a LossModel,
}

/// Who wins at one place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Winner {
    /// Input voltage, V.
    pub v_in: f64,
    /// Output current, A.
    pub i_out: f64,
    /// Name of the run with the higher efficiency; `None` where no difference is shown.
    pub value: Option<String>,
}

/// The comparison of two runs; all differences are first - second.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    /// Name of the first run.
    pub first: String,
    /// Name of the second run.
    pub second: String,
    /// Share of each run's operating rows that lies in common cells.
    pub common_share: [f64; 2],
    /// Boundaries of the cells that both runs were sorted into.
    pub edges: Grid,
    /// Difference of efficiency and of loss per common cell.
    pub difference: Vec<Cell>,
    /// Differences at the asked points.
    pub difference_at: Vec<Point>,
    /// Who wins, per common cell.
    pub winner: Vec<Winner>,
    /// Who wins, per asked point.
    pub winner_at: Vec<Winner>,
    /// Where the losses cross.
    pub crossovers: Vec<Crossover>,
    /// In what the runs are not alike: `output_voltage`, `fixture`, `accuracy_not_known`.
    pub unlike: Vec<&'static str>,
    /// The verdict.
    pub verdict: Verdict,
}

/// About as many common cells at most, unless the grid is stated.
const MOST_CELLS: usize = 200;

/// Compares two runs, and answers at asked `[v_in, i_out]` points.
#[must_use]
pub fn compare<'a>(first: Side<'a>, second: Side<'a>, asked: &[[f64; 2]], settings: &Settings) -> Pair {
    let ops = [Operating::collect(first.rows), Operating::collect(second.rows)];
    let indices = [Index::of(&ops[0]), Index::of(&ops[1])];
    let ready = |k: usize, side: &Side<'a>| Ready {
        name: side.name,
        op: &ops[k],
        index: &indices[k],
        levels: side.levels,
        model: side.model,
    };
    let sides = [ready(0, &first), ready(1, &second)];
    let mut comparing = Comparing::default();
    loop {
        if let Some(pair) = comparing.step(sides, asked, settings) {
            return pair;
        }
    }
}

/// A common extent that ends at a level is opened a little, so that the level's rows stay inside.
fn widen(extent: Extent, levels: Option<&Levels>) -> Extent {
    if levels.is_none() {
        return extent;
    }
    let [low, high] = extent.i_out;
    Extent { i_out: [low * 0.98, high * 1.02], ..extent }
}

#[derive(Debug)]
struct Common {
    place: usize,
    cells: [Cell; 2],
    delta: Delta,
}

/// Differences in the cells of both maps, from some of the first map's cells.
fn common_cells(
    maps: &[Map],
    range: Range<usize>,
    by_level: [bool; 2],
    askers: &[Asker<'_>; 2],
    fixtures: &Fixtures<'_>,
) -> Vec<Common> {
    let mut out = Vec::new();
    for j in range {
        let place = maps[0].places[j];
        let Ok(k) = maps[1].places.binary_search(&place) else { continue };
        let cells = [maps[0].efficiency[j].clone(), maps[1].efficiency[k].clone()];
        // One place for both: where a run has levels it can be asked only there.
        let target = match by_level {
            [true, false] => [cells[0].v_in, cells[0].i_out],
            [false, true] => [cells[1].v_in, cells[1].i_out],
            _ => [0.5 * (cells[0].v_in + cells[1].v_in), (cells[0].i_out * cells[1].i_out).sqrt()],
        };
        let answer = |k: usize| -> Option<Place> {
            let asker: &Asker<'_> = &askers[k];
            asker.by_rows(target[0], target[1]).ok()
        };
        if let (Some(a), Some(b)) = (answer(0), answer(1)) {
            out.push(Common { place, cells, delta: Delta::of(a, b, fixtures) });
        }
    }
    out
}

impl Common {
    fn cell(&self, by_level: [bool; 2], maps: &[Map]) -> Cell {
        debug_assert!(self.place < maps[0].grid.cells());
        let [a, b] = &self.cells;
        let delta = &self.delta;
        Cell {
            v_in: delta.first.v_in,
            i_out: delta.first.i_out,
            value: delta.value[0],
            u: delta.u(0),
            u_random: Some(delta.random[0].sqrt()),
            u_systematic: delta.u_systematic(0),
            n: a.n.min(b.n),
            n_effective: delta.first.n_effective.min(delta.second.n_effective),
            visits: a.visits.min(b.visits),
            level: if by_level[0] { a.level } else { b.level },
            thin: a.thin || b.thin,
            leans: false,
            loss: Some(delta.quantity(1)),
            z: Difference::Z(delta.z()),
        }
    }
}

fn winner_of(delta: &Delta, stands: bool, names: [&str; 2]) -> Winner {
    let better = if delta.value[0] > 0.0 { names[0] } else { names[1] };
    Winner {
        v_in: delta.first.v_in,
        i_out: delta.first.i_out,
        value: (stands && delta.value[0] != 0.0).then(|| better.to_owned()),
    }
}

fn at_asked(
    askers: &[Asker<'_>; 2],
    asked: &[[f64; 2]],
    fixtures: &Fixtures<'_>,
    names: [&str; 2],
    settings: &Settings,
) -> (Vec<Point>, Vec<Winner>) {
    let deltas: Vec<Result<Delta, &'static str>> = asked
        .iter()
        .map(|&[v_in, i_out]| {
            let a = askers[0].place(v_in, i_out)?;
            let b = askers[1].place(v_in, i_out)?;
            Ok(Delta::of(a, b, fixtures))
        })
        .collect();
    let z: Vec<Option<f64>> = deltas.iter().map(|d| d.as_ref().ok().and_then(Delta::z)).collect();
    let stands = standing(&z, settings.false_share);
    let mut points = Vec::with_capacity(asked.len());
    let mut winners = Vec::with_capacity(asked.len());
    for ((delta, &[v_in, i_out]), stands) in deltas.iter().zip(asked).zip(stands) {
        match delta {
            Ok(delta) => {
                points.push(delta.point(fixtures));
                winners.push(winner_of(delta, stands, names));
            }
            Err(why) => {
                points.push(Point::unknown(v_in, i_out, why));
                winners.push(Winner { v_in, i_out, value: None });
            }
        }
    }
    (points, winners)
}

fn voltages(extent: Option<Extent>, settings: &Settings) -> Vec<f64> {
    if !settings.input_voltages.is_empty() {
        return settings.input_voltages.clone();
    }
    let Some(Extent { v_in: [low, high], .. }) = extent else { return Vec::new() };
    (0..5).map(|k| low + (high - low) * (f64::from(k) + 0.5) / 5.0).collect()
}

fn unlike(deltas: &[Delta], fixtures: &Fixtures<'_>, settings: &Settings) -> Vec<&'static str> {
    let mut out = Vec::new();
    let mut ratios: Vec<f64> = deltas.iter().map(|d| (d.first.p_out / d.second.p_out - 1.0).abs()).collect();
    if crate::math::small::median(&mut ratios) > settings.same_output {
        out.push("output_voltage");
    }
    if !fixtures.shared {
        out.push("fixture");
    }
    if !fixtures.known {
        out.push("accuracy_not_known");
    }
    out
}
