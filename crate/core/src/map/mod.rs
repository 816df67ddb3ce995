//! The map: efficiency and loss over input voltage and output current at the converter's
//! terminals, and what bounds it.
//!
//! Order of use: [`Operating::collect`], [`Levels::find`], [`Source::find`], [`CutOff::find`],
//! [`Grid::following`], [`Map::build`]; [`at`] answers at asked points once `loss` has told where
//! the loss steps.

mod at;
mod blank;
pub(crate) mod cell;
mod cutoff;
mod energy;
mod grid;
mod index;
mod levels;
pub(crate) mod local;
mod operating;
mod regress;
mod scale;
mod scatter;
mod source;

use serde::{Deserialize, Serialize};

pub use at::{How, Point, at};
pub use blank::{Blank, Circumstances};
pub use cell::{Cell, Difference};
pub use cutoff::CutOff;
pub use energy::{Energy, energy};
pub use grid::{Extent, Grid};
pub use index::Index;
pub use levels::{DropOut, Level, Levels, drop_out_line};
pub use operating::Operating;
pub(crate) use operating::{BLOCK, minus, plus, times};
pub use scale::{SHARE_BELOW, value_above};
pub use source::Source;

/// Settings of the map.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Number of cells on input voltage and output current; default: follows the data. 1 to 200.
    pub grid: Option<[usize; 2]>,
    /// A cell with fewer rows is thin. Default 8.
    pub least_rows: usize,
    /// A cell with fewer separate visits is thin. Default 3; a table of settled points counts every
    /// row as a visit.
    pub least_visits: usize,
    /// Draws the interval of an asked point where the law of propagation does not hold; off, it is left
    /// to that law, which answers very many points much sooner. Default on.
    pub draws: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self { grid: None, least_rows: 8, least_visits: 3, draws: true }
    }
}

/// The map of one run.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Map {
    /// Cells with their efficiency.
    pub efficiency: Vec<Cell>,
    /// The same cells with their loss, W.
    pub loss: Vec<Cell>,
    /// Cells without rows, and why.
    pub blank: Vec<Blank>,
    /// The boundaries of the cells.
    #[serde(rename = "edges")]
    pub grid: Grid,
    /// Grid cell of each entry of `efficiency` and `loss`.
    #[serde(skip)]
    pub places: Vec<usize>,
}

impl Map {
    /// Sums the operating rows into the grid's cells.
    #[must_use]
    pub fn build(op: &Operating, grid: Grid, around: Circumstances<'_>, settings: &Settings) -> Self {
        let thin = cell::Thin { rows: settings.least_rows, visits: settings.least_visits };
        let cells = cell::cells(op, &grid, around.levels.filter(|l| l.count > 0), thin);
        let mut occupied = vec![false; grid.cells()];
        let mut map = Self::default();
        for (place, efficiency, loss) in cells {
            occupied[place] = true;
            map.places.push(place);
            map.efficiency.push(efficiency);
            map.loss.push(loss);
        }
        map.blank = blank::blanks(op, &grid, &occupied, around);
        map.grid = grid;
        map
    }
}
