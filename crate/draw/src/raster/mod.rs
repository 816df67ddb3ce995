//! The scatter of rows as pixels.
//!
//! One pass in row order finds each row's place and colour and a second one lays the discs, tile
//! by tile so that the picture stays in the fastest memory, and inside a tile in an order that is
//! random and always the same, so that no stretch of the log hides another. Crosses of rows that
//! are out come last. The marks then make the hit index.

mod hit;
mod stamp;

pub use hit::HitIndex;

use crate::colour::{Look, Ramp, mix, slot};
use crate::contour::Squares;
use crate::range::Range;
use crate::scale::Scale;
use stamp::{PHASES, Picture, Stamp, packed};

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

/// One row on its way into the picture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Value along the horizontal axis.
    pub x: f64,
    /// Value along the vertical axis.
    pub y: f64,
    /// Value that colours it.
    pub value: f64,
    /// How it is shown.
    pub fate: Fate,
}

/// Rows that can be drawn.
pub trait Source {
    /// Number of rows.
    fn rows(&self) -> usize;
    /// One row; a place that is no number is not drawn.
    fn dot(&self, row: usize) -> Dot;
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
    /// Red, green, blue, alpha, row by row from the top; opaque.
    pub pixels: Vec<u8>,
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
    /// Which row is near a place.
    pub hits: HitIndex,
}

/// Steps of [`Raster::histogram`].
pub const HISTOGRAM_STEPS: usize = 64;
/// Side of a square of [`Raster::squares`], CSS pixels.
const SQUARE: f64 = 12.0;
/// Radius of a row's disc, CSS pixels.
const DISC: f64 = 1.35;
/// Size and stroke of a cross, CSS pixels, and the stroke under it.
const CROSS: (f64, f64, f64) = (5.0, 1.15, 2.6);
/// Crosses nearer than this share one, CSS pixels.
const CROSS_SPACING: f64 = 1.5;
/// How far a faded row goes towards the plate.
const FADE: f64 = 0.82;
/// Largest side that quarter pixels in 16 bits can address.
const LARGEST_SIDE: usize = 16_383;

#[derive(Clone, Copy, PartialEq, Eq)]
enum Layer {
    Faded,
    Plain,
    Lit,
    LitCross,
    Cross,
}

#[derive(Clone, Copy)]
struct Mark {
    x: u16,
    y: u16,
    colour: u8,
    layer: Layer,
    row: u32,
}

/// Draws the rows of a source. Sides are held in 1 to 16 383 pixels.
#[must_use]
pub fn draw(source: &impl Source, view: &View, options: &Options) -> Raster {
    let width = view.width.clamp(1, LARGEST_SIDE);
    let height = view.height.clamp(1, LARGEST_SIDE);
    let view = View { width, height, ..*view };
    let sorted = sort(source, &view, options);
    let tiles = Tiles::new(&sorted.marks, width, height);
    let plate = packed(options.look.plate);
    let mut picture =
        Picture { width: width as i32, height: height as i32, pixels: vec![plate; width * height] };
    paint(&mut picture, &tiles, &view, options);
    let quarter = 1.0 / PHASES as f64;
    let hits = HitIndex::new(
        width,
        height,
        tiles.marks.iter().map(|m| (m.row, f64::from(m.x) * quarter, f64::from(m.y) * quarter)),
    );
    let mut pixels = Vec::with_capacity(picture.pixels.len() * 4);
    for pixel in &picture.pixels {
        pixels.extend_from_slice(&pixel.to_le_bytes());
    }
    Raster {
        pixels,
        histogram: sorted.histogram,
        drawn: sorted.drawn,
        below: sorted.below,
        above: sorted.above,
        crosses: sorted.crosses,
        squares: sorted.squares,
        hits,
    }
}

struct Sorted {
    marks: Vec<Mark>,
    histogram: Vec<u32>,
    drawn: usize,
    below: usize,
    above: usize,
    crosses: usize,
    squares: Squares,
}

/// Places, colours and counts, in row order.
fn sort(source: &impl Source, view: &View, options: &Options) -> Sorted {
    let rows = source.rows();
    let mut sorted = Sorted {
        marks: Vec::with_capacity(rows),
        histogram: vec![0; HISTOGRAM_STEPS],
        drawn: 0,
        below: 0,
        above: 0,
        crosses: 0,
        squares: Squares::new(view.width, view.height, SQUARE * sane(view.ratio)),
    };
    let range = options.ramp.spread(options.range);
    let mut lit = options.highlight.iter().copied().peekable();
    for row in 0..rows {
        while lit.next_if(|stretch| stretch[1] < row).is_some() {}
        let is_lit = lit.peek().is_some_and(|stretch| stretch[0] <= row);
        let dot = source.dot(row);
        let shown = match dot.fate {
            Fate::In => dot.value.is_finite(),
            Fate::Out => options.rejected || is_lit,
            Fate::Hidden => false,
        };
        if !shown {
            continue;
        }
        let Some((x, y)) = view.place(&dot) else { continue };
        let chosen = options.selection.is_none_or(|(from, to)| {
            let time = source.time(row);
            time >= from && time <= to
        });
        let layer = match (dot.fate, is_lit, chosen) {
            (Fate::In, true, _) => Layer::Lit,
            (Fate::In, false, true) => Layer::Plain,
            (Fate::In, false, false) => Layer::Faded,
            (_, true, _) => Layer::LitCross,
            (_, false, true) => Layer::Cross,
            (_, false, false) => continue,
        };
        let colour = slot(range, dot.value);
        if dot.fate == Fate::In {
            sorted.drawn += 1;
            sorted.squares.add(x, y, dot.value);
            if dot.value < range.lo() {
                sorted.below += 1;
            } else if dot.value > range.hi() {
                sorted.above += 1;
            } else {
                sorted.histogram[colour as usize * HISTOGRAM_STEPS / 256] += 1;
            }
        } else {
            sorted.crosses += 1;
        }
        let quarters = |place: f64| (place * PHASES as f64) as u16;
        sorted.marks.push(Mark { x: quarters(x), y: quarters(y), colour, layer, row: row as u32 });
    }
    sorted
}

fn sane(ratio: f64) -> f64 {
    if ratio > 0.1 && ratio < 16.0 { ratio } else { 1.0 }
}

fn paint(picture: &mut Picture, tiles: &Tiles, view: &View, options: &Options) {
    let marks = &tiles.marks;
    let look = &options.look;
    let ratio = sane(view.ratio);
    let table = options.ramp.table(look);
    let faded = table.map(|colour| packed(mix(colour, look.plate, FADE)));
    let table = table.map(packed);
    let radius = options.disc.clamp(DISC, 8.0);
    let disc = Stamp::disc(radius * ratio, picture.width);
    for (layer, colours) in [(Layer::Faded, &faded), (Layer::Plain, &table)] {
        if marks.iter().any(|mark| mark.layer == layer) {
            tiles.shuffled(|mark| {
                if mark.layer == layer {
                    disc.lay(picture, i32::from(mark.x), i32::from(mark.y), colours[mark.colour as usize]);
                }
            });
        }
    }
    let (plate, copper) = (packed(look.plate), packed(look.copper));
    let lit = || marks.iter().filter(|mark| mark.layer == Layer::Lit);
    if lit().next().is_some() {
        let halo = Stamp::disc((radius + 1.6) * ratio, picture.width);
        let body = Stamp::disc((radius + 0.5) * ratio, picture.width);
        for (stamp, colour) in [(&halo, plate), (&body, copper)] {
            for mark in lit() {
                stamp.lay(picture, i32::from(mark.x), i32::from(mark.y), colour);
            }
        }
    }
    for (layer, grown) in [(Layer::Cross, 1.0), (Layer::LitCross, 1.4)] {
        let spaced = spaced(marks, layer, picture, CROSS_SPACING * ratio);
        if spaced.is_empty() {
            continue;
        }
        let under =
            Stamp::cross((CROSS.0 + CROSS.2 - CROSS.1) * grown * ratio, CROSS.2 * ratio, picture.width);
        let over = Stamp::cross(CROSS.0 * grown * ratio, CROSS.1 * grown * ratio, picture.width);
        for (stamp, colour) in [(&under, plate), (&over, copper)] {
            for &(x, y) in &spaced {
                stamp.lay(picture, x, y, colour);
            }
        }
    }
}

/// Places of the crosses of a layer, at most one in each square of the spacing.
fn spaced(marks: &[Mark], layer: Layer, picture: &Picture, spacing: f64) -> Vec<(i32, i32)> {
    let side = (spacing * PHASES as f64).max(1.0) as usize;
    let columns = picture.width as usize * PHASES / side + 2;
    let lines = picture.height as usize * PHASES / side + 2;
    let mut taken = Vec::new();
    let mut places = Vec::new();
    for mark in marks.iter().filter(|mark| mark.layer == layer) {
        if taken.is_empty() {
            taken = vec![false; columns * lines];
        }
        let square = &mut taken[mark.y as usize / side * columns + mark.x as usize / side];
        if !*square {
            *square = true;
            places.push((i32::from(mark.x), i32::from(mark.y)));
        }
    }
    places
}

/// Marks sorted by the square of the picture they lie in; in row order inside each.
struct Tiles {
    marks: Vec<Mark>,
    /// First mark of each tile, and the count of all.
    starts: Vec<usize>,
}

/// Side of a tile, device pixels.
const TILE: usize = 64;

impl Tiles {
    fn new(marks: &[Mark], width: usize, height: usize) -> Self {
        let columns = width / TILE + 1;
        let tile =
            |mark: &Mark| mark.y as usize / (TILE * PHASES) * columns + mark.x as usize / (TILE * PHASES);
        let mut starts = vec![0; columns * (height / TILE + 1) + 1];
        for mark in marks {
            starts[tile(mark) + 1] += 1;
        }
        for k in 1..starts.len() {
            starts[k] += starts[k - 1];
        }
        let mut next = starts.clone();
        let mut sorted = marks.to_vec();
        for mark in marks {
            let at = &mut next[tile(mark)];
            sorted[*at] = *mark;
            *at += 1;
        }
        Self { marks: sorted, starts }
    }

    /// Visits every mark once, tile by tile, inside a tile in an order that is random and always
    /// the same.
    fn shuffled(&self, mut visit: impl FnMut(&Mark)) {
        for ends in self.starts.windows(2) {
            shuffled(&self.marks[ends[0]..ends[1]], &mut visit);
        }
    }
}

/// Visits every mark once, in an order that is random and always the same.
///
/// **Source** full-period linear congruential sequence over the next power of two, its increment
/// odd and its factor one more than a multiple of four (Hull and Dobell 1962); constants from
/// memory, any that meet the condition serve.
fn shuffled(marks: &[Mark], mut visit: impl FnMut(&Mark)) {
    let size = marks.len().next_power_of_two();
    let mut at = size / 3;
    for _ in 0..size {
        at = (at.wrapping_mul(1_664_525).wrapping_add(1_013_904_223)) & (size - 1);
        if let Some(mark) = marks.get(at) {
            visit(mark);
        }
    }
}

#[cfg(test)]
mod tests;
