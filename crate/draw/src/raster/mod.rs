//! The scatter of rows as pixels.
//!
//! Rows are placed once for a view. For each picture one pass in row order then finds the row in front in
//! every pixel, and only these are laid, tile by tile and inside a tile in an order that is random and
//! always the same, so that no stretch of the log hides another. Crosses of rows that are out come last.

mod hit;
mod paint;
mod placed;
mod shown;
mod stamp;

pub use placed::Placed;

use crate::colour::{Look, Ramp};
use crate::contour::Squares;
use crate::range::Range;
use crate::scale::Scale;
use hit::HitIndex;
use shown::Shown;

/// How one row is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// As a disc coloured by its value.
    In,
    /// As a cross, where crosses are asked for.
    Out,
    /// Not at all.
    Hidden,
}

/// One row as the picture sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Value along the horizontal axis.
    pub x: f64,
    /// Value along the vertical axis.
    pub y: f64,
    /// Value that colours it.
    pub value: f64,
}

/// Rows that can be drawn.
pub trait Source {
    /// Number of rows.
    fn rows(&self) -> usize;
    /// One row; a place that is no number is not drawn.
    fn dot(&self, row: usize) -> Dot;
    /// Visits all rows in order.
    fn each(&self, visit: impl FnMut(Dot)) {
        (0..self.rows()).map(|row| self.dot(row)).for_each(visit);
    }
    /// How a row is shown.
    fn fate(&self, row: usize) -> Fate;
    /// Time of a row, s.
    fn time(&self, row: usize) -> f64;
}

/// Size and axes of the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Width, device pixels.
    pub width: usize,
    /// Height, device pixels.
    pub height: usize,
    /// Device pixels per CSS pixel.
    pub ratio: f64,
    /// Horizontal axis, from 0 to the width.
    pub x: Scale,
    /// Vertical axis, from the height up to 0.
    pub y: Scale,
}

impl View {
    /// Exact place of a row in device pixels; `None` outside the picture or without a number.
    #[must_use]
    pub fn place(&self, dot: &Dot) -> Option<(f64, f64)> {
        let (x, y) = (self.x.place(dot.x), self.y.place(dot.y));
        let inside = x >= 0.0 && y >= 0.0 && x <= self.width as f64 && y <= self.height as f64;
        inside.then_some((x, y))
    }
}

/// What is shown, and how.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Table of colours.
    pub ramp: Ramp,
    /// Values at the two ends of the table.
    pub range: Range,
    /// Whether rows that are out are shown as crosses.
    pub rejected: bool,
    /// Rows to stand out, inclusive, ascending, not overlapping.
    pub highlight: Vec<[usize; 2]>,
    /// Rows outside this stretch of time, s, fade.
    pub selection: Option<(f64, f64)>,
    /// Radius of a row's disc, CSS pixels; see [`disc_of`].
    pub disc: f64,
    /// Colours of the page.
    pub look: Look,
}

/// A radius at which so many rows can be seen: fine where they crowd, larger where each stands alone.
#[must_use]
pub fn disc_of(rows: usize) -> f64 {
    match rows {
        0..=300 => 3.0,
        301..=3000 => 2.0,
        _ => DISC,
    }
}

/// The finished picture.
#[derive(Clone, Debug)]
pub struct Raster {
    /// Red, green, blue, alpha of each pixel, line by line from the top; opaque.
    pub pixels: Vec<[u8; 4]>,
    /// Rows in the picture by value: equal steps from the lower to the upper end of the colours.
    pub histogram: Vec<u32>,
    /// Coloured rows in the picture.
    pub drawn: usize,
    /// Of these, how many lie below the lower end of the colours.
    pub below: usize,
    /// Of these, how many lie above the upper end.
    pub above: usize,
    /// Crosses in the picture's area, also those that share a place.
    pub crosses: usize,
    /// Sums over small squares, for contours and the outline of what was visited.
    pub squares: Squares,
}

/// Steps of [`Raster::histogram`].
pub const HISTOGRAM_STEPS: usize = 64;
/// Side of a square of [`Raster::squares`], CSS pixels.
const SQUARE: f64 = 12.0;
/// Radius of a row's disc, CSS pixels.
const DISC: f64 = 1.35;
/// Crosses nearer than this share one, CSS pixels.
const CROSS_SPACING: f64 = 1.5;
/// Largest side that quarter pixels in 16 bits can address.
const LARGEST_SIDE: usize = 16_383;

/// Draws the rows of a source where they were placed.
#[must_use]
pub fn draw(source: &impl Source, placed: &Placed, options: &Options) -> Raster {
    let shown = Shown::of(source, placed, options);
    let picture = paint::paint(placed, &shown, options);
    Raster {
        pixels: picture.pixels,
        histogram: shown.histogram,
        drawn: shown.drawn,
        below: shown.below,
        above: shown.above,
        crosses: shown.crossed,
        squares: shown.squares,
    }
}

fn sane(ratio: f64) -> f64 {
    if ratio > 0.1 && ratio < 16.0 { ratio } else { 1.0 }
}

#[cfg(test)]
mod tests;
