//! What of each row is seen: one pass over the rows finds the one in front in every pixel.

use super::stamp::PHASES;
use super::{CROSS_SPACING, Fate, HISTOGRAM_STEPS, Options, Placed, SQUARE, Source, sane};
use crate::colour::Slots;
use crate::contour::Squares;

/// How a row is laid.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Layer {
    Faded,
    Plain,
    Lit,
    LitCross,
    Cross,
}

impl Options {
    /// How a row of this fate is laid; `None` where it is not shown.
    #[inline]
    pub(super) fn layer(
        &self,
        fate: Fate,
        lit: bool,
        value: f32,
        time: impl FnOnce() -> f64,
    ) -> Option<Layer> {
        let shown = match fate {
            Fate::In => value.is_finite(),
            Fate::Out => self.rejected || lit,
            Fate::Hidden => false,
        };
        if !shown {
            return None;
        }
        let chosen = self.selection.is_none_or(|(from, to)| (from..=to).contains(&time()));
        match (fate, lit, chosen) {
            (Fate::In, true, _) => Some(Layer::Lit),
            (Fate::In, false, true) => Some(Layer::Plain),
            (Fate::In, false, false) => Some(Layer::Faded),
            (_, true, _) => Some(Layer::LitCross),
            (_, false, true) => Some(Layer::Cross),
            (_, false, false) => None,
        }
    }

    /// Whether a picture with these options shows a row.
    pub(super) fn shows(&self, source: &impl Source, placed: &Placed, row: usize) -> bool {
        let lit = self.highlight.partition_point(|stretch| stretch[1] < row);
        let lit = self.highlight.get(lit).is_some_and(|stretch| stretch[0] <= row);
        self.layer(source.fate(row), lit, placed.value(row), || source.time(row)).is_some()
    }
}

/// What a picture is painted from, and what is counted on the way.
pub(super) struct Shown {
    pub(super) fronts: Fronts,
    /// Whether any row in front is faded.
    pub(super) faded: bool,
    pub(super) lit: Spaced,
    pub(super) crosses: Spaced,
    pub(super) lit_crosses: Spaced,
    pub(super) histogram: Vec<u32>,
    pub(super) drawn: usize,
    pub(super) below: usize,
    pub(super) above: usize,
    /// Crosses, also those that share a place.
    pub(super) crossed: usize,
    pub(super) squares: Squares,
}

impl Shown {
    /// Sorts the rows, in row order.
    pub(super) fn of(source: &impl Source, placed: &Placed, options: &Options) -> Self {
        let view = placed.view();
        let (width, height) = (view.width, view.height);
        let ratio = sane(view.ratio);
        let spacing = CROSS_SPACING * ratio;
        let mut shown = Self {
            fronts: Fronts::new(width, height),
            faded: false,
            lit: Spaced::new(width, height, 1.0),
            crosses: Spaced::new(width, height, spacing),
            lit_crosses: Spaced::new(width, height, spacing),
            histogram: vec![0; HISTOGRAM_STEPS],
            drawn: 0,
            below: 0,
            above: 0,
            crossed: 0,
            squares: Squares::new(width, height, SQUARE * ratio, PHASES),
        };
        let range = options.ramp.spread(options.range);
        let slots = Slots::of(range);
        let (lowest, highest) = (range.lo() as f32, range.hi() as f32);
        let mut lit = options.highlight.iter().copied().peekable();
        let plainly = options.highlight.is_empty() && options.selection.is_none();
        for (row, (place, value)) in placed.each().enumerate() {
            let Some(place) = place else { continue };
            let fate = source.fate(row);
            let layer = if plainly && fate == Fate::In && value.is_finite() {
                Some(Layer::Plain)
            } else {
                while lit.next_if(|stretch| stretch[1] < row).is_some() {}
                let is_lit = lit.peek().is_some_and(|stretch| stretch[0] <= row);
                options.layer(fate, is_lit, value, || source.time(row))
            };
            let colour = slots.slot(f64::from(value));
            match layer {
                None => continue,
                Some(Layer::Plain) => shown.fronts.add(place, row, colour, true),
                Some(Layer::Faded) => {
                    shown.faded = true;
                    shown.fronts.add(place, row, colour, false);
                }
                Some(Layer::Lit) => shown.lit.add(place),
                Some(Layer::Cross) => shown.crosses.add(place),
                Some(Layer::LitCross) => shown.lit_crosses.add(place),
            }
            if matches!(layer, Some(Layer::Cross | Layer::LitCross)) {
                shown.crossed += 1;
                continue;
            }
            shown.drawn += 1;
            shown.squares.add(place, f64::from(value));
            if value < lowest {
                shown.below += 1;
            } else if value > highest {
                shown.above += 1;
            } else {
                shown.histogram[colour as usize * HISTOGRAM_STEPS / 256] += 1;
            }
        }
        shown
    }
}

/// The row in front in every pixel: a random one of those whose centre lies there, always the same.
///
/// Discs of one pixel cover each other but for a fraction of it, so that the others would be laid for
/// nothing.
pub(super) struct Fronts {
    columns: usize,
    lines: usize,
    /// By pixel, from the upper bit: whether it is plain, 19 bits of rank, 8 of colour, 4 of place inside
    /// the pixel; 0 where nothing lies. So the largest is the one in front.
    packed: Vec<u32>,
}

/// Marks a row that does not fade; it lies before all that do.
const PLAIN: u32 = 1 << 31;
/// Upper end of the rank's bits.
const RANKS: u32 = 1 << 19;

/// The row in front in a pixel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Front {
    /// Pixel of its centre.
    pub(super) x: usize,
    /// Pixel of its centre.
    pub(super) y: usize,
    /// Place of its centre in the pixel, quarters across and down.
    pub(super) inside: (u32, u32),
    /// Entry of the table of colours.
    pub(super) colour: u8,
    /// Whether every pixel around has a row of its own.
    pub(super) within: bool,
}

impl Fronts {
    fn new(width: usize, height: usize) -> Self {
        // A row on the right or lower edge begins a pixel of its own.
        let (columns, lines) = (width + 1, height + 1);
        Self { columns, lines, packed: vec![0; columns * lines] }
    }

    #[inline]
    fn add(&mut self, (x, y): (u32, u32), row: usize, colour: u8, plain: bool) {
        let phases = PHASES as u32;
        let front = &mut self.packed[(y / phases) as usize * self.columns + (x / phases) as usize];
        let inside = x % phases + y % phases * phases;
        let layer = if plain { PLAIN } else { 0 };
        *front = (*front).max(layer | rank(row) << 12 | u32::from(colour) << 4 | inside);
    }

    /// Visits the rows in front of one layer, square by square of so many pixels a side; `None` is where
    /// a square ends.
    pub(super) fn by_square(&self, side: usize, plain: bool, mut visit: impl FnMut(Option<Front>)) {
        let of_layer = |front: u32| front != 0 && (front & PLAIN != 0) == plain;
        let phases = PHASES as u32;
        for top in (0..self.lines).step_by(side) {
            for left in (0..self.columns).step_by(side) {
                for y in top..(top + side).min(self.lines) {
                    let from = y * self.columns + left;
                    let stretch = &self.packed[from..from + side.min(self.columns - left)];
                    for (at, &front) in stretch.iter().enumerate() {
                        if of_layer(front) {
                            let x = left + at;
                            visit(Some(Front {
                                x,
                                y,
                                inside: (front % phases, front / phases % phases),
                                colour: (front >> 4) as u8,
                                within: self.around(x, y).is_some_and(|all| all.into_iter().all(of_layer)),
                            }));
                        }
                    }
                }
                visit(None);
            }
        }
    }

    /// What lies in the eight pixels around one; `None` at the edge.
    #[inline]
    fn around(&self, x: usize, y: usize) -> Option<[u32; 8]> {
        // The last column and line are no pixels of the picture.
        if x == 0 || y == 0 || x + 2 >= self.columns || y + 2 >= self.lines {
            return None;
        }
        let at = y * self.columns + x;
        let [above, here, below] =
            [at - self.columns, at, at + self.columns].map(|middle| &self.packed[middle - 1..=middle + 1]);
        Some([here[0], here[2], above[1], below[1], above[0], above[2], below[0], below[2]])
    }
}

/// A number from 1 that looks random: the largest of a pixel's rows lies in front.
fn rank(row: usize) -> u32 {
    // Multiplying by odd numbers and folding the upper bits down takes no two rows to one number; any
    // that look random serve.
    let mut mixed = (row as u32).wrapping_mul(0x9e37_79b1);
    mixed ^= mixed >> 15;
    mixed = mixed.wrapping_mul(0x2c1b_3c6d);
    (mixed >> 13).clamp(1, RANKS - 1)
}

/// Places of which at most one is held in each square of a spacing.
pub(super) struct Spaced {
    /// Quarter pixels.
    side: u32,
    columns: usize,
    squares: usize,
    /// By square; empty until there is a place.
    taken: Vec<bool>,
    pub(super) places: Vec<(i32, i32)>,
}

impl Spaced {
    fn new(width: usize, height: usize, spacing: f64) -> Self {
        let side = (spacing * PHASES as f64).max(1.0) as u32;
        let count = |pixels: usize| pixels * PHASES / side as usize + 2;
        let columns = count(width);
        Self { side, columns, squares: columns * count(height), taken: Vec::new(), places: Vec::new() }
    }

    fn add(&mut self, (x, y): (u32, u32)) {
        if self.taken.is_empty() {
            self.taken = vec![false; self.squares];
        }
        let square = &mut self.taken[(y / self.side) as usize * self.columns + (x / self.side) as usize];
        if !*square {
            *square = true;
            self.places.push((x as i32, y as i32));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fronts(of: &Fronts, plain: bool) -> Vec<Front> {
        let mut seen = Vec::new();
        of.by_square(4, plain, |front| seen.extend(front));
        seen
    }

    #[test]
    fn each_row_is_in_front_as_often_as_any_other() {
        // Rows that share pixels in a steady rhythm, as sweeps do.
        for stride in [1, 7, 64, 1000, 4096] {
            let mut first = 0;
            for pair in 0..4000 {
                let mut pixel = Fronts::new(1, 1);
                pixel.add((0, 0), pair, 10, true);
                pixel.add((0, 0), pair + stride * 3, 20, true);
                first += usize::from(fronts(&pixel, true)[0].colour == 10);
            }
            assert!((1800..2200).contains(&first), "stride {stride}: {first} of 4000");
        }
    }

    #[test]
    fn a_row_is_within_where_all_pixels_around_it_have_rows_of_its_layer() {
        let mut block = Fronts::new(9, 9);
        for k in 0..49 {
            block.add((4 * (k % 7) + 2, 4 * (k / 7) + 1), k as usize, k as u8, true);
        }
        let inner = |k: u8| (1..6).contains(&(k % 7)) && (1..6).contains(&(k / 7));
        for front in fronts(&block, true) {
            assert_eq!(front.within, inner(front.colour), "{front:?}");
            assert_eq!((front.inside, front.x + 7 * front.y), ((2, 1), front.colour.into()));
        }
        // One of them fades: it and those around it are laid whole.
        block.packed[3 * 10 + 3] &= !PLAIN;
        let near = |at: usize| (2..=4).contains(&at);
        for front in fronts(&block, true) {
            assert_eq!(front.within, inner(front.colour) && !(near(front.x) && near(front.y)), "{front:?}");
        }
        assert!(matches!(fronts(&block, false)[..], [Front { x: 3, y: 3, within: false, .. }]));
    }

    #[test]
    fn a_faded_row_lies_behind_whatever_its_number() {
        for row in 0..200 {
            let mut pixel = Fronts::new(4, 4);
            pixel.add((5, 5), row, 1, false);
            pixel.add((6, 7), 1000, 2, true);
            pixel.add((7, 7), row + 1, 3, false);
            let seen = Front { x: 1, y: 1, inside: (2, 3), colour: 2, within: false };
            assert_eq!((fronts(&pixel, true), fronts(&pixel, false)), (vec![seen], vec![]));
        }
    }
}
