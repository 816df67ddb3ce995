//! Why a cell is blank.

use serde::Serialize;

use super::cutoff::CutOff;
use super::grid::Grid;
use super::levels::Levels;
use super::operating::{Absent, Operating};
use super::source::Source;

/// A cell without operating rows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Blank {
    /// Middle of the cell, V.
    pub v_in: f64,
    /// Middle of the cell, A.
    pub i_out: f64,
    /// `not_visited`, `beyond_source`, `off`, `out_of_regulation`, `all_removed` or
    /// `below_smallest_current`.
    pub why: &'static str,
}

/// What is known of a run besides its rows, to explain what is missing.
#[derive(Clone, Copy, Debug, Default)]
pub struct Circumstances<'a> {
    /// The source, where it was looked at.
    pub source: Option<&'a Source>,
    /// The cut-off, where it was looked for.
    pub cut_off: Option<&'a CutOff>,
    /// Output levels.
    pub levels: Option<&'a Levels>,
    /// Smallest output current that can be told from zero, A.
    pub smallest_current: f64,
}

pub(crate) fn blanks(
    op: &Operating,
    grid: &Grid,
    occupied: &[bool],
    around: Circumstances<'_>,
) -> Vec<Blank> {
    let mut seen = vec![[0usize; 3]; grid.cells()];
    for other in &op.other {
        if let Some(cell) = grid.cell(other.v_in, other.i_out) {
            let kind = match other.why {
                Absent::Removed => 0,
                Absent::SupplyLimit => 1,
                Absent::Off => 2,
            };
            seen[cell][kind] += 1;
        }
    }
    let reach = Reach::of(op, around);
    (0..grid.cells())
        .filter(|&cell| !occupied[cell])
        .map(|cell| {
            let [v_in, i_out] = grid.middle(cell);
            let [removed, limit, off] = seen[cell];
            let why = if limit > 0 && limit >= removed {
                "beyond_source"
            } else if off > 0 && off >= removed {
                "off"
            } else if removed > 0 {
                "all_removed"
            } else {
                reach.why(v_in, i_out)
            };
            Blank { v_in, i_out, why }
        })
        .collect()
}

/// What can be said of a place without any row.
struct Reach<'a> {
    around: Circumstances<'a>,
    /// Output voltage per place is not known there: the run's mean has to do.
    v_out: f64,
    efficiency: f64,
    /// Largest output power seen, W.
    most: f64,
}

impl<'a> Reach<'a> {
    fn of(op: &Operating, around: Circumstances<'a>) -> Self {
        let n = op.len().max(1) as f64;
        let (mut v_out, mut p_in, mut p_out, mut most) = (0.0, 0.0, 0.0, 0.0_f64);
        for k in 0..op.len() {
            v_out += op.v_out[k];
            p_in += op.p_in(k);
            p_out += op.p_out(k);
            most = most.max(op.p_out(k));
        }
        Self { around, v_out: v_out / n, efficiency: p_out / p_in, most }
    }

    fn why(&self, v_in: f64, i_out: f64) -> &'static str {
        if i_out < self.around.smallest_current {
            return "below_smallest_current";
        }
        if let Some(cut_off) = self.around.cut_off
            && let Some(voltage) = cut_off.voltage.value
            && v_in < voltage
        {
            return "off";
        }
        if let Some(levels) = self.around.levels
            && let Some(level) = levels.nearest(i_out)
            && levels.regulates_above(level).is_some_and(|volts| v_in < volts)
        {
            return "out_of_regulation";
        }
        let i_in = i_out * self.v_out / (self.efficiency * v_in);
        if let Some(source) = self.around.source {
            let beyond = match (source.highest, source.resistance.value) {
                (Some(highest), Some(resistance)) => v_in > highest - resistance * i_in,
                _ => false,
            };
            let limited = source.current_limit.value.is_some_and(|limit| i_in > limit);
            if limited || (beyond && i_out * self.v_out > 0.05 * self.most) {
                return "beyond_source";
            }
        }
        "not_visited"
    }
}
