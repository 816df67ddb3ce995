//! Where the rows of a source lie in a picture, whatever becomes of them.
//!
//! A threshold that moves takes rows out and brings others back, but moves none: what is found here
//! serves every picture of one view.

use std::cell::OnceCell;

use super::stamp::PHASES;
use super::{HitIndex, LARGEST_SIDE, Options, Source, View};

/// The place of a row that has none.
const NOWHERE: u32 = u32::MAX;

/// A place in quarter pixels, across and down.
#[inline]
fn unpacked(place: u32) -> Option<(u32, u32)> {
    (place != NOWHERE).then_some((place >> 16, place & 0xffff))
}

/// Places and values of all rows of a source in one view.
///
/// **Memory** 8 bytes a row, and 4 more once a row was looked for.
#[derive(Clone, Debug)]
pub struct Placed {
    view: View,
    /// Quarter pixels: across in the upper 16 bits, down in the lower ones; or [`NOWHERE`].
    places: Vec<u32>,
    values: Vec<f32>,
    hits: OnceCell<HitIndex>,
}

impl Placed {
    /// Places the rows of a source. Sides are held in 1 to 16 383 pixels.
    #[must_use]
    pub fn new(source: &impl Source, view: &View) -> Self {
        let width = view.width.clamp(1, LARGEST_SIDE);
        let height = view.height.clamp(1, LARGEST_SIDE);
        let view = View { width, height, ..*view };
        let rows = source.rows();
        let mut placed = Self {
            view,
            places: Vec::with_capacity(rows),
            values: Vec::with_capacity(rows),
            hits: OnceCell::new(),
        };
        let quarters = |place: f64| (place * PHASES as f64) as u32;
        source.each(|dot| {
            let place = view.place(&dot).map_or(NOWHERE, |(x, y)| quarters(x) << 16 | quarters(y));
            placed.places.push(place);
            placed.values.push(dot.value as f32);
        });
        placed
    }

    /// The view that the places are of.
    #[must_use]
    pub fn view(&self) -> &View {
        &self.view
    }

    /// Number of rows.
    pub(super) fn rows(&self) -> usize {
        self.places.len()
    }

    /// Places and values of all rows, in row order.
    #[inline]
    pub(super) fn each(&self) -> impl Iterator<Item = (Option<(u32, u32)>, f32)> {
        self.places.iter().map(|&place| unpacked(place)).zip(self.values.iter().copied())
    }

    /// Place of a row in quarter pixels; `None` outside the picture or without a number.
    #[inline]
    pub(super) fn place(&self, row: usize) -> Option<(u32, u32)> {
        unpacked(self.places[row])
    }

    /// Value that colours a row.
    #[inline]
    pub(super) fn value(&self, row: usize) -> f32 {
        self.values[row]
    }

    /// The row nearest to a place, device pixels, among those that a picture with these options
    /// shows; the lowest row number where several are equally near.
    ///
    /// `source` is the one that was placed; the answer is the one a search over all its rows would give.
    #[must_use]
    pub fn nearest(
        &self,
        source: &impl Source,
        options: &Options,
        (x, y): (f64, f64),
        radius: f64,
    ) -> Option<usize> {
        let hits = self.hits.get_or_init(|| {
            let quarter = 1.0 / PHASES as f64;
            let places = (0..self.rows()).filter_map(|row| {
                let (x, y) = self.place(row)?;
                Some((row as u32, f64::from(x) * quarter, f64::from(y) * quarter))
            });
            HitIndex::new(self.view.width, self.view.height, places)
        });
        let count = source.rows().min(self.rows());
        let nearest = hits.nearest(x, y, radius, |row| {
            let row = row as usize;
            if row < count && options.shows(source, self, row) {
                self.view.place(&source.dot(row))
            } else {
                None
            }
        });
        nearest.map(|row| row as usize)
    }
}
