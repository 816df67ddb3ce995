//! What a run shows, computed once its rows and the correction stand.

use crate::loss::{self, LossModel, Off, Peak, Quiescent};
use crate::map::{
    self, Circumstances, CutOff, Energy, Extent, Grid, Index, Levels, Map, Operating, Point, Source,
};
use crate::point::Rows;

use super::run::RunRows;
use super::settings::Settings;

/// Everything that is answered of one run alone.
#[derive(Clone, Debug)]
pub(super) struct Answer {
    pub(super) operating: Operating,
    pub(super) index: Index,
    pub(super) levels: Levels,
    pub(super) source: Source,
    pub(super) cut_off: CutOff,
    pub(super) map: Map,
    pub(super) loss_model: LossModel,
    pub(super) peak: Peak,
    pub(super) quiescent: Quiescent,
    pub(super) off: Off,
    pub(super) energy: Energy,
    pub(super) at: Vec<Point>,
}

/// Answers for one run. `source` is what labelling found of it.
pub(super) fn answer(rows: &RunRows<'_>, source: Source, settings: &Settings) -> Answer {
    let operating = Operating::collect(rows);
    let index = Index::of(&operating);
    let levels = Levels::find(&operating);
    let cut_off = CutOff::find(rows, source.resistance.value);
    let grid = Grid::following(Extent::of(&operating), operating.len(), Some(&levels), settings.map.grid);
    let around = Circumstances {
        source: Some(&source),
        cut_off: Some(&cut_off),
        levels: Some(&levels),
        smallest_current: 3.0 * operating.axis_noise().1,
    };
    let map = Map::build(&operating, grid, around, &settings.map);
    let loss_model = LossModel::fit(&operating);
    let peak = loss::peak(&operating, &map, &levels, &loss_model.splits());
    let (quiescent, off) = loss::quiescent(rows, &operating, &loss_model, None);
    let energy = map::energy(&operating, &map);
    let at = loss::at(&operating, &index, &loss_model, &settings.at);
    debug_assert_eq!(operating.rows, rows.rows(), "every row was looked at");
    Answer { operating, index, levels, source, cut_off, map, loss_model, peak, quiescent, off, energy, at }
}
