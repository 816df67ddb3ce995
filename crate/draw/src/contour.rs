//! Lines of equal value and the outline of the visited region, from the rows of a picture.
//!
//! A help for the eye: means over small squares of the picture, smoothed, cut at round values. The
//! numbers that are stated come from the analysis, never from here.

use crate::range::Range;
use crate::scale::Kind;
use crate::tick::ticks;
use std::collections::BTreeMap;

/// Sums of values by square of the picture.
#[derive(Clone, Debug)]
pub struct Squares {
    columns: usize,
    lines: usize,
    side: f64,
    /// Sum of the values and number of rows by square, but of the open one.
    sums: Vec<[f64; 2]>,
    /// Column of each place across, and first square of the line of each place down.
    column_of: Vec<u32>,
    line_of: Vec<u32>,
    /// The square of the last row, and its sums: rows in sequence mostly share one.
    open: (usize, [f64; 2]),
}

/// One line of equal value; places are pixels of the picture.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// The value.
    pub value: f64,
    /// Corners along the line, at least two.
    pub places: Vec<(f64, f64)>,
}

/// A square needs so many smoothed rows to count as visited.
const VISITED: f64 = 0.3;
/// Rows beyond this many add no weight, so that a place of long rest does not pull its neighbours.
const HEAVIEST: f64 = 12.0;

impl Squares {
    /// None yet, over a picture of so many pixels. Places of rows are counted in so many parts of a pixel.
    #[must_use]
    pub fn new(width: usize, height: usize, side: f64, parts: usize) -> Self {
        let side = side.max(2.0);
        let (columns, lines) = ((width as f64 / side) as usize + 1, (height as f64 / side) as usize + 1);
        let square = |place: usize| (place as f64 / parts as f64 / side) as u32;
        Self {
            columns,
            lines,
            side,
            sums: vec![[0.0; 2]; columns * lines],
            column_of: (0..=width * parts).map(square).collect(),
            line_of: (0..=height * parts).map(|place| square(place) * columns as u32).collect(),
            open: (0, [0.0; 2]),
        }
    }

    /// Takes in one row.
    #[inline]
    pub fn add(&mut self, (x, y): (u32, u32), value: f64) {
        let square = (self.line_of[y as usize] + self.column_of[x as usize]) as usize;
        if square != self.open.0 {
            self.sums[self.open.0] = self.open.1;
            self.open = (square, self.sums[square]);
        }
        let [sum, count] = &mut self.open.1;
        *sum += value;
        *count += 1.0;
    }

    /// The smoothed field: values, and how visited each square is.
    fn field(&self) -> (Grid, Grid) {
        let mut sums = self.sums.clone();
        sums[self.open.0] = self.open.1;
        let weights: Vec<f64> = sums.iter().map(|[_, n]| n.min(HEAVIEST)).collect();
        let products: Vec<f64> =
            sums.iter().zip(&weights).map(|([sum, n], w)| if *n > 0.0 { sum / n * w } else { 0.0 }).collect();
        let shape = (self.columns, self.lines);
        let weights = blurred(&weights, shape, &[1.0, 4.0, 6.0, 4.0, 1.0]);
        let products = blurred(&products, shape, &[1.0, 4.0, 6.0, 4.0, 1.0]);
        let touched: Vec<f64> = sums.iter().map(|[_, n]| n.min(1.0)).collect();
        let visited = blurred(&touched, shape, &[1.0, 4.0, 6.0, 4.0, 1.0]);
        let values = products.iter().zip(&weights).map(|(p, w)| p / w).collect();
        (self.grid(values), self.grid(visited))
    }

    fn grid(&self, values: Vec<f64>) -> Grid {
        Grid { columns: self.columns, lines: self.lines, side: self.side, values }
    }

    /// Lines at round values inside a range and inside the visited region; `factor` turns the
    /// values into those that are named, such as 100 for percent.
    #[must_use]
    pub fn contours(&self, range: Range, factor: f64, most: usize) -> Vec<Contour> {
        let (mut values, visited) = self.field();
        for (value, visited) in values.values.iter_mut().zip(&visited.values) {
            if *visited < VISITED {
                *value = f64::NAN;
            }
        }
        let mut all = Vec::new();
        for (named, _) in ticks(Kind::Linear, range.times(factor), most).major {
            let value = named / factor;
            for places in values.cut(value) {
                // Specks say nothing.
                if places.len() > 5 {
                    all.push(Contour { value, places });
                }
            }
        }
        all
    }

    /// The outline of the visited region.
    #[must_use]
    pub fn outline(&self) -> Vec<Vec<(f64, f64)>> {
        let (_, visited) = self.field();
        // Small holes between sweeps say nothing; a region that runs out of the picture may be short.
        visited
            .cut(VISITED)
            .into_iter()
            .filter(|places| places.len() > 24 || places.first() != places.last())
            .collect()
    }
}

/// A separable weighting over neighbours; beyond the edge the edge goes on.
fn blurred(values: &[f64], (columns, lines): (usize, usize), kernel: &[f64]) -> Vec<f64> {
    let half = kernel.len() as i64 / 2;
    let total: f64 = kernel.iter().sum();
    let held = |at: i64, count: usize| at.clamp(0, count as i64 - 1) as usize;
    let mut across = vec![0.0; values.len()];
    for line in 0..lines {
        for column in 0..columns {
            let mut sum = 0.0;
            for (k, weight) in kernel.iter().enumerate() {
                sum += weight * values[line * columns + held(column as i64 + k as i64 - half, columns)];
            }
            across[line * columns + column] = sum / total;
        }
    }
    let mut both = vec![0.0; values.len()];
    for line in 0..lines {
        for column in 0..columns {
            let mut sum = 0.0;
            for (k, weight) in kernel.iter().enumerate() {
                sum += weight * across[held(line as i64 + k as i64 - half, lines) * columns + column];
            }
            both[line * columns + column] = sum / total;
        }
    }
    both
}

/// Values at the middles of the squares.
struct Grid {
    columns: usize,
    lines: usize,
    side: f64,
    values: Vec<f64>,
}

/// An edge between two middles: the upper or left one, and whether it runs down.
type Edge = (usize, bool);

impl Grid {
    /// Lines at one value, by marching squares; nothing next to a value that is no number.
    fn cut(&self, level: f64) -> Vec<Vec<(f64, f64)>> {
        let mut links: BTreeMap<Edge, Vec<Edge>> = BTreeMap::new();
        let mut join = |a: Edge, b: Edge| {
            links.entry(a).or_default().push(b);
            links.entry(b).or_default().push(a);
        };
        for line in 0..self.lines.saturating_sub(1) {
            for column in 0..self.columns.saturating_sub(1) {
                let at = line * self.columns + column;
                let corners = [at, at + 1, at + 1 + self.columns, at + self.columns];
                if corners.iter().any(|&k| !self.values[k].is_finite()) {
                    continue;
                }
                let above = corners.map(|k| self.values[k] >= level);
                let edges: [Edge; 4] = [(at, false), (at + 1, true), (at + self.columns, false), (at, true)];
                let crossed: Vec<usize> = (0..4).filter(|&k| above[k] != above[(k + 1) % 4]).collect();
                match crossed[..] {
                    [a, b] => join(edges[a], edges[b]),
                    [_, _, _, _] => {
                        // A saddle: the mean decides which corners belong together.
                        let mean = corners.iter().map(|&k| self.values[k]).sum::<f64>() / 4.0;
                        let turned = usize::from((mean >= level) == above[0]);
                        join(edges[turned], edges[(turned + 3) % 4]);
                        join(edges[(turned + 1) % 4], edges[(turned + 2) % 4]);
                    }
                    _ => {}
                }
            }
        }
        self.traced(links, level)
    }

    fn traced(&self, mut links: BTreeMap<Edge, Vec<Edge>>, level: f64) -> Vec<Vec<(f64, f64)>> {
        let mut all = Vec::new();
        // Open lines first, from their ends; what is left is closed.
        let mut starts: Vec<Edge> =
            links.iter().filter(|(_, next)| next.len() == 1).map(|(edge, _)| *edge).collect();
        starts.extend(links.keys().copied().collect::<Vec<_>>());
        for start in starts {
            let mut path = vec![start];
            let mut here = start;
            while let Some(next) = links.get_mut(&here).and_then(Vec::pop) {
                if let Some(back) = links.get_mut(&next)
                    && let Some(at) = back.iter().position(|edge| *edge == here)
                {
                    back.swap_remove(at);
                }
                path.push(next);
                here = next;
            }
            if path.len() > 1 {
                all.push(path.into_iter().map(|edge| self.crossing(edge, level)).collect());
            }
        }
        all
    }

    /// Where a value lies on an edge, pixels.
    fn crossing(&self, (at, down): Edge, level: f64) -> (f64, f64) {
        let other = if down { at + self.columns } else { at + 1 };
        let (a, b) = (self.values[at], self.values[other]);
        let share = if a == b { 0.5 } else { ((level - a) / (b - a)).clamp(0.0, 1.0) };
        let middle = |k: usize| (k as f64 + 0.5) * self.side;
        let (x, y) = (middle(at % self.columns), middle(at / self.columns));
        if down { (x, y + share * self.side) } else { (x + share * self.side, y) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A cone: its lines of equal value are circles about its middle.
    fn cone() -> Squares {
        let mut squares = Squares::new(400, 300, 10.0, 2);
        for x in 0..200 {
            for y in 0..150 {
                let half = (4 * x + 1, 4 * y + 1);
                let radius = libm::hypot(0.5 * f64::from(half.0) - 200.0, 0.5 * f64::from(half.1) - 150.0);
                if radius < 130.0 {
                    squares.add(half, 1.0 - radius / 1000.0);
                }
            }
        }
        squares
    }

    #[test]
    fn lines_of_a_cone_are_circles() {
        let found = cone().contours(Range::around(0.87, 1.0), 100.0, 8);
        let values: Vec<f64> = found.iter().map(|line| line.value).collect();
        assert!(values.contains(&0.94) && values.contains(&0.96), "{values:?}");
        for line in found.iter().filter(|line| line.value < 0.97 && line.value > 0.9) {
            let expected = (1.0 - line.value) * 1000.0;
            for &(x, y) in &line.places {
                let radius = libm::hypot(x - 200.0, y - 150.0);
                assert!((radius - expected).abs() < 4.0, "{}: {radius} for {expected}", line.value);
            }
            assert_eq!(line.places.first(), line.places.last(), "{} is not closed", line.value);
        }
    }

    #[test]
    fn the_outline_follows_the_visited_region() {
        let found = cone().outline();
        assert_eq!(found.len(), 1);
        for &(x, y) in &found[0] {
            let radius = libm::hypot(x - 200.0, y - 150.0);
            assert!((120.0..145.0).contains(&radius), "{radius}");
        }
    }

    #[test]
    fn nothing_comes_of_nothing() {
        let squares = Squares::new(100, 100, 10.0, 4);
        assert!(squares.outline().is_empty());
        assert!(squares.contours(Range::UNIT, 1.0, 8).is_empty());
    }
}
