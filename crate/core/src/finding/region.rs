//! The largest hole inside the logged region.

use std::collections::BTreeMap;

use super::{Answers, Finding};
use crate::quantity::Quantity;
use crate::wording::place;

/// The largest rectangle of cells that were never visited.
pub(super) fn not_logged(answers: &Answers) -> Option<Finding> {
    let grid = &answers.map.grid;
    let (columns, rows) = (grid.columns(), grid.rows());
    if answers.levels.count > 1 || columns < 3 || rows < 4 {
        return None;
    }
    let mut open = vec![false; grid.cells()];
    for blank in &answers.map.blank {
        if blank.why == "not_visited"
            && let Some(cell) = grid.cell(blank.v_in, blank.i_out)
        {
            open[cell] = true;
        }
    }
    let free = |column: usize, row: usize| open[column * rows + row];
    let mut best = (0, [0; 4]);
    for left in 0..columns {
        let mut height = vec![usize::MAX; rows];
        for right in left..columns {
            // Rows that are open over all columns from left to right.
            for (row, height) in height.iter_mut().enumerate() {
                if !free(right, row) {
                    *height = 0;
                }
            }
            let mut first = None;
            for row in 0..=rows {
                let open_row = row < rows && height[row] > 0;
                match (open_row, first) {
                    (true, None) => first = Some(row),
                    (false, Some(from)) => {
                        let area = (right - left + 1) * (row - from);
                        if area > best.0 {
                            best = (area, [left, right, from, row - 1]);
                        }
                        first = None;
                    }
                    _ => {}
                }
            }
        }
    }
    let (area, [left, right, low, high]) = best;
    let share = area as f64 / grid.cells() as f64;
    if area < 4 || share < 0.03 {
        return None;
    }
    let v = [grid.v_edges[left], grid.v_edges[right + 1]];
    let i = [grid.i_edges[low], grid.i_edges[high + 1]];
    let current = match (low, high + 1 == rows) {
        (0, false) => format!("below {}", place(i[1], "A")),
        (_, true) => format!("above {}", place(i[0], "A")),
        _ => format!("between {} and {}", place(i[0], "A"), place(i[1], "A")),
    };
    let voltage = match (left, right + 1 == columns) {
        (0, true) => String::new(),
        (0, false) => format!(", below {}", place(v[1], "V")),
        (_, true) => format!(", above {}", place(v[0], "V")),
        _ => format!(", from {} to {}", place(v[0], "V"), place(v[1], "V")),
    };
    Some(Finding {
        code: "not_logged",
        text: format!("Nothing is logged {current}{voltage}."),
        numbers: BTreeMap::from([
            ("v_from", Quantity::without_u(v[0])),
            ("v_to", Quantity::without_u(v[1])),
            ("i_from", Quantity::without_u(i[0])),
            ("i_to", Quantity::without_u(i[1])),
        ]),
        confidence: 0.9,
        rows: Vec::new(),
    })
}
