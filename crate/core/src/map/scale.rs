//! Where a scale of colours may begin.

use super::Cell;

/// Share of rows that may lie below the colours, so that the best region keeps its differences.
/// Judgement.
pub const SHARE_BELOW: f64 = 0.08;

/// Value at or under which at least this share of the rows of some cells lies: the lower quantile
/// with every row at its cell's value. `None` without rows.
///
/// **Missing data** cells without a value are passed over.
#[must_use]
pub fn value_above<'a>(cells: impl IntoIterator<Item = &'a Cell>, share: f64) -> Option<f64> {
    let mut cells: Vec<(f64, usize)> =
        cells.into_iter().filter(|cell| !cell.value.is_nan()).map(|cell| (cell.value, cell.n)).collect();
    cells.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let rows: usize = cells.iter().map(|cell| cell.1).sum();
    let mut seen = 0;
    cells.into_iter().find_map(|(value, n)| {
        seen += n;
        (n > 0 && seen as f64 >= share * rows as f64).then_some(value)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cell(value: f64, n: usize) -> Cell {
        Cell { value, n, ..Cell::default() }
    }

    /// 100 rows by hand: 5 at 0.2, 4 at 0.5, 91 at 0.9; eight of a hundred end inside the second.
    #[test]
    fn finds_the_cell_in_which_the_share_ends() {
        let cells = [cell(0.9, 91), cell(0.5, 4), cell(0.2, 5), cell(f64::NAN, 50)];
        assert_eq!(value_above(&cells, 0.08), Some(0.5));
        assert_eq!(value_above(&cells, 0.05), Some(0.2));
        assert_eq!(value_above(&cells, 1.0), Some(0.9));
        assert_eq!(value_above(&[], 0.08), None);
    }
}
