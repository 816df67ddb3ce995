//! Laying discs and crosses.

use super::shown::Shown;
use super::stamp::{PHASES, Picture, Stamp, packed};
use super::{DISC, Options, Placed, sane};
use crate::colour::mix;

/// Size and stroke of a cross, CSS pixels, and the stroke under it.
const CROSS: (f64, f64, f64) = (5.0, 1.15, 2.6);
/// How far a faded row goes towards the plate.
pub(super) const FADE: f64 = 0.82;
/// Side of a square whose discs are laid together, so that the picture stays in the fastest memory; device pixels.
const TILE: usize = 64;

/// A disc to be laid, its place in quarter pixels.
#[derive(Clone, Copy)]
struct Disc {
    x: i32,
    y: i32,
    colour: u32,
}

/// Paints the rows that are shown over the plate.
pub(super) fn paint(placed: &Placed, shown: &Shown, options: &Options) -> Picture {
    let (width, height) = (placed.view().width, placed.view().height);
    let look = &options.look;
    let ratio = sane(placed.view().ratio);
    let (plate, copper) = (packed(look.plate), packed(look.copper));
    let mut picture = Picture::new(width, height, plate);
    let radius = options.disc.clamp(DISC, 8.0);
    discs(&mut picture, shown, options, &Stamp::disc(radius * ratio, width));
    if !shown.lit.places.is_empty() {
        let halo = Stamp::disc((radius + 1.6) * ratio, width);
        let body = Stamp::disc((radius + 0.5) * ratio, width);
        lay_all(&mut picture, &shown.lit.places, [(&halo, plate), (&body, copper)]);
    }
    for (places, grown) in [(&shown.crosses.places, 1.0), (&shown.lit_crosses.places, 1.4)] {
        if !places.is_empty() {
            let under = Stamp::cross((CROSS.0 + CROSS.2 - CROSS.1) * grown * ratio, CROSS.2 * ratio, width);
            let over = Stamp::cross(CROSS.0 * grown * ratio, CROSS.1 * grown * ratio, width);
            lay_all(&mut picture, places, [(&under, plate), (&over, copper)]);
        }
    }
    picture
}

fn lay_all(picture: &mut Picture, places: &[(i32, i32)], stamps: [(&Stamp, u32); 2]) {
    for (stamp, colour) in stamps {
        for &(x, y) in places {
            stamp.lay(picture, x, y, colour);
        }
    }
}

/// Lays the coloured rows, those that fade first.
fn discs(picture: &mut Picture, shown: &Shown, options: &Options, stamp: &Stamp) {
    let table = options.ramp.table(&options.look);
    let faded = table.map(|colour| packed(mix(colour, options.look.plate, FADE)));
    let plain = table.map(packed);
    let mut tile: Vec<Disc> = Vec::new();
    for (fades, colours) in [(true, &faded), (false, &plain)] {
        if fades && !shown.faded {
            continue;
        }
        shown.fronts.by_square(TILE, !fades, |front| {
            let Some(front) = front else {
                shuffled(&tile, |disc| stamp.lay(picture, disc.x, disc.y, disc.colour));
                tile.clear();
                return;
            };
            let colour = colours[front.colour as usize];
            if front.within {
                // Its neighbours would cover all but this of its disc.
                picture.set(front.x, front.y, colour);
            } else {
                let quarters = |pixel: usize, inside: u32| (pixel * PHASES) as i32 + inside as i32;
                let (x, y) = (quarters(front.x, front.inside.0), quarters(front.y, front.inside.1));
                tile.push(Disc { x, y, colour });
            }
        });
    }
}

/// Visits everything once, in an order that is random and always the same, so that no direction
/// hides another.
///
/// **Source** full-period linear congruential sequence over the next power of two, its increment
/// odd and its factor one more than a multiple of four (Hull and Dobell 1962); constants from
/// memory, any that meet the condition serve.
fn shuffled<T>(all: &[T], mut visit: impl FnMut(&T)) {
    let size = all.len().next_power_of_two();
    let mut at = size / 3;
    for _ in 0..size {
        at = (at.wrapping_mul(1_664_525).wrapping_add(1_013_904_223)) & (size - 1);
        if let Some(one) = all.get(at) {
            visit(one);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_is_visited_once_and_in_the_same_order_each_time() {
        for count in [0, 1, 2, 3, 1000, 1024, 1025] {
            let all: Vec<u32> = (0..count).collect();
            let mut order = Vec::new();
            shuffled(&all, |&one| order.push(one));
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, all);
            if count > 100 {
                let neighbours = order.windows(2).filter(|pair| pair[0].abs_diff(pair[1]) < 10).count();
                assert!(neighbours < count as usize / 10, "{neighbours} of {count} stay together");
            }
        }
    }
}
