//! Which row is nearest to a place in the picture.

/// Side of one bucket, device pixels.
const SIDE: usize = 8;

/// Rows sorted into square buckets of the picture.
///
/// Holds row numbers only; where a row lies exactly is asked again, so that the answer is the one
/// a search over all rows would give.
#[derive(Clone, Debug, Default)]
pub(super) struct HitIndex {
    columns: usize,
    lines: usize,
    /// Start of each bucket in `rows`, and the end of the last.
    starts: Vec<u32>,
    rows: Vec<u32>,
}

impl HitIndex {
    /// Sorts rows with their places, device pixels inside the picture, rows ascending.
    #[must_use]
    pub(super) fn new(
        width: usize,
        height: usize,
        places: impl Iterator<Item = (u32, f64, f64)> + Clone,
    ) -> Self {
        let (columns, lines) = (width / SIDE + 1, height / SIDE + 1);
        let bucket = |x: f64, y: f64| {
            let (x, y) = ((x as usize / SIDE).min(columns - 1), (y as usize / SIDE).min(lines - 1));
            y * columns + x
        };
        let mut starts = vec![0_u32; columns * lines + 1];
        for (_, x, y) in places.clone() {
            starts[bucket(x, y) + 1] += 1;
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut rows = vec![0_u32; starts[columns * lines] as usize];
        for (row, x, y) in places {
            let at = &mut next[bucket(x, y)];
            rows[*at as usize] = row;
            *at += 1;
        }
        Self { columns, lines, starts, rows }
    }

    /// The nearest row within a radius, device pixels; the lowest row number where several are
    /// equally near.
    ///
    /// `place` gives a row's exact place, the one the index was made from.
    pub(super) fn nearest(
        &self,
        x: f64,
        y: f64,
        radius: f64,
        mut place: impl FnMut(u32) -> Option<(f64, f64)>,
    ) -> Option<u32> {
        if !(x.is_finite() && y.is_finite() && radius >= 0.0) || self.rows.is_empty() {
            return None;
        }
        let side = SIDE as f64;
        let (home_x, home_y) = (libm::floor(x / side) as i64, libm::floor(y / side) as i64);
        let mut best: Option<(f64, u32)> = None;
        let mut limit = radius * radius;
        let rings = (self.columns + self.lines) as i64 + home_x.abs() + home_y.abs();
        for ring in 0..=rings {
            // Nothing in this ring can be nearer than its inner edge.
            let inner = (ring - 1).max(0) as f64 * side;
            if inner * inner > limit {
                break;
            }
            self.for_ring(home_x, home_y, ring, |row| {
                let Some((px, py)) = place(row) else { return };
                let square = (px - x) * (px - x) + (py - y) * (py - y);
                let better =
                    best.is_none_or(|(old, old_row)| square < old || (square == old && row < old_row));
                if square <= limit && better {
                    best = Some((square, row));
                    limit = square;
                }
            });
        }
        best.map(|(_, row)| row)
    }

    fn for_ring(&self, home_x: i64, home_y: i64, ring: i64, mut visit: impl FnMut(u32)) {
        for line in home_y - ring..=home_y + ring {
            if line < 0 || line >= self.lines as i64 {
                continue;
            }
            let edge = (line - home_y).abs() == ring;
            let step = if edge || ring == 0 { 1 } else { 2 * ring };
            let mut column = home_x - ring;
            while column <= home_x + ring {
                if column >= 0 && column < self.columns as i64 {
                    let bucket = line as usize * self.columns + column as usize;
                    for &row in &self.rows[self.starts[bucket] as usize..self.starts[bucket + 1] as usize] {
                        visit(row);
                    }
                }
                column += step;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scatter(count: usize, width: f64, height: f64) -> Vec<(u32, f64, f64)> {
        let mut seed = 7_u64;
        let mut next = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / 9_007_199_254_740_992.0
        };
        (0..count)
            .map(|row| {
                let (x, y) = (next(), next());
                // A dense blob, a sparse rest, and many exact coincidences.
                let (x, y) = match row % 3 {
                    0 => (0.5 + 0.02 * x, 0.5 + 0.02 * y),
                    1 => (libm::floor(x * 20.0) / 20.0, libm::floor(y * 20.0) / 20.0),
                    _ => (x, y),
                };
                (row as u32, x * width, y * height)
            })
            .collect()
    }

    fn brute(places: &[(u32, f64, f64)], x: f64, y: f64, radius: f64) -> Option<u32> {
        let mut best: Option<(f64, u32)> = None;
        for &(row, px, py) in places {
            let square = (px - x) * (px - x) + (py - y) * (py - y);
            if square <= radius * radius && best.is_none_or(|(old, _)| square < old) {
                best = Some((square, row));
            }
        }
        best.map(|(_, row)| row)
    }

    #[test]
    fn equals_a_search_over_all_rows() {
        let (width, height) = (611, 437);
        let places = scatter(20_000, 611.0, 437.0);
        let index = HitIndex::new(width, height, places.iter().copied());
        assert_eq!(index.rows.len(), places.len());
        let mut found_some = 0;
        let probes = scatter(600, 700.0, 500.0);
        for &(k, x, y) in &probes {
            let (x, y) = (x - 40.0, y - 30.0);
            let radius = [0.0, 3.0, 25.0, 2000.0][k as usize % 4];
            let found =
                index.nearest(x, y, radius, |row| Some((places[row as usize].1, places[row as usize].2)));
            assert_eq!(found, brute(&places, x, y, radius), "at {x} {y} within {radius}");
            found_some += usize::from(found.is_some());
        }
        assert!(found_some > 300);
    }

    #[test]
    fn finds_nothing_where_nothing_is() {
        let none: [(u32, f64, f64); 0] = [];
        let index = HitIndex::new(10, 10, none.into_iter());
        assert!(index.rows.is_empty());
        assert_eq!(index.nearest(1.0, 1.0, 100.0, |_| None), None);
        let one = HitIndex::new(100, 100, [(5_u32, 50.0, 50.0)].into_iter());
        assert_eq!(one.nearest(50.0, 59.0, 8.9, |_| Some((50.0, 50.0))), None);
        assert_eq!(one.nearest(50.0, 59.0, 9.0, |_| Some((50.0, 50.0))), Some(5));
        assert_eq!(one.nearest(f64::NAN, 0.0, 9.0, |_| Some((50.0, 50.0))), None);
    }
}
