//! A comparison in parts, each short enough to look up between two of them.

use super::difference::{Delta, Fixtures};
use super::verdict::{Evidence, verdict};
use super::{
    Common, Crossover, MOST_CELLS, Pair, Settings, at_asked, common_cells, crossing, standing, unlike,
    voltages, widen, winner_of,
};
use crate::loss::{Asker, LossModel, hull};
use crate::map::{Circumstances, Extent, Grid, Index, Levels, Map, Operating};

/// Common cells that are fitted in one part.
const CELLS: usize = 20;

/// One side of a comparison with its rows gathered.
#[derive(Clone, Copy, Debug)]
pub struct Ready<'a> {
    /// Name of the run.
    pub name: &'a str,
    /// Its operating rows.
    pub op: &'a Operating,
    /// Those by place.
    pub index: &'a Index,
    /// Its output levels.
    pub levels: &'a Levels,
    /// Its loss model.
    pub model: &'a LossModel,
}

/// A comparison in the making.
#[derive(Debug, Default)]
pub struct Comparing {
    corners: Vec<Vec<[f64; 2]>>,
    extent: Option<Extent>,
    grid: Option<Grid>,
    maps: Vec<Map>,
    /// Cells of the first map that were looked at.
    cells_done: usize,
    common: Vec<Common>,
    voltages_done: usize,
    crossovers: Vec<Crossover>,
}

impl Comparing {
    /// Does the next part; gives the pair after the last one.
    ///
    /// What is given must be the same in all parts.
    pub fn step(&mut self, sides: [Ready<'_>; 2], asked: &[[f64; 2]], settings: &Settings) -> Option<Pair> {
        let [first, second] = sides;
        if let Some(side) = sides.get(self.corners.len()) {
            self.corners.push(hull(side.op));
            return None;
        }
        if self.grid.is_none() {
            let levels = [first.levels, second.levels].into_iter().find(|levels| levels.count > 1);
            self.extent = Extent::of(first.op)
                .and_then(|a| Extent::of(second.op).and_then(|b| a.common(b)))
                .map(|common| widen(common, levels));
            let fewer = first.op.len().min(second.op.len());
            // Coarser than a map of its own: every common cell is fitted in both runs.
            let rows = fewer.min(MOST_CELLS * 30);
            self.grid = Some(Grid::following(self.extent, rows, levels, settings.map.grid));
            return None;
        }
        if let (Some(side), Some(grid)) = (sides.get(self.maps.len()), &self.grid) {
            let around = Circumstances { levels: Some(side.levels), ..Circumstances::default() };
            self.maps.push(Map::build(side.op, grid.clone(), around, &settings.map));
            return None;
        }
        let fixtures = Fixtures::of(first.op, second.op, settings);
        let asker = |k: usize| {
            let Ready { op, index, model, .. } = sides[k];
            Asker::within(op, index, model, self.corners[k].clone()).sharper()
        };
        let askers = [asker(0), asker(1)];
        let by_level = sides.map(|side| side.levels.count > 1);
        let cells = self.maps[0].places.len();
        if self.cells_done < cells {
            let to = (self.cells_done + CELLS).min(cells);
            let found = common_cells(&self.maps, self.cells_done..to, by_level, &askers, &fixtures);
            self.common.extend(found);
            self.cells_done = to;
            return None;
        }
        if let (Some(&v_in), Some(extent)) =
            (voltages(self.extent, settings).get(self.voltages_done), self.extent)
        {
            let found = crossing::crossings(&askers[0], &askers[1], &fixtures, v_in, extent.i_out);
            self.crossovers.extend(found);
            self.voltages_done += 1;
            return None;
        }
        let names = [first.name, second.name];
        let common = std::mem::take(&mut self.common);
        let common_share = [0, 1].map(|k| {
            let rows: usize = common.iter().map(|c| c.cells[k].n).sum();
            let all = sides[k].op.len();
            if all == 0 { 0.0 } else { rows as f64 / all as f64 }
        });
        let z: Vec<Option<f64>> = common.iter().map(|c| c.delta.z()).collect();
        let stands = standing(&z, settings.false_share);
        let difference = common.iter().map(|c| c.cell(by_level, &self.maps)).collect();
        let winner =
            common.iter().zip(&stands).map(|(c, stands)| winner_of(&c.delta, *stands, names)).collect();
        let (difference_at, winner_at) = at_asked(&askers, asked, &fixtures, names, settings);
        let deltas: Vec<Delta> = common.into_iter().map(|c| c.delta).collect();
        let crossovers = std::mem::take(&mut self.crossovers);
        let verdict = verdict(
            &Evidence {
                names,
                deltas: &deltas,
                standing: &stands,
                common_share,
                crossovers: &crossovers,
                fixtures: &fixtures,
            },
            settings,
        );
        Some(Pair {
            first: first.name.to_owned(),
            second: second.name.to_owned(),
            common_share,
            edges: self.grid.take().unwrap_or_default(),
            difference,
            difference_at,
            winner,
            winner_at,
            crossovers,
            unlike: unlike(&deltas, &fixtures, settings),
            verdict,
        })
    }
}
