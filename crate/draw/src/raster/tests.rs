//! Pictures looked at pixel by pixel.

use super::*;
use crate::colour::{CIVIDIS, LIGHT, Rgb};
use crate::scale::Kind;

struct Few(Vec<Dot>);

impl Source for Few {
    fn rows(&self) -> usize {
        self.0.len()
    }
    fn dot(&self, row: usize) -> Dot {
        self.0[row]
    }
    fn time(&self, row: usize) -> f64 {
        row as f64
    }
}

fn view(side: usize, ratio: f64) -> View {
    View {
        width: side,
        height: side,
        ratio,
        x: Scale::new(Kind::Linear, Range::UNIT, 0.0, side as f64),
        y: Scale::new(Kind::Linear, Range::UNIT, side as f64, 0.0),
    }
}

fn options() -> Options {
    Options {
        ramp: Ramp::Efficiency,
        disc: 1.35,
        range: Range::UNIT,
        rejected: true,
        highlight: Vec::new(),
        selection: None,
        look: LIGHT,
    }
}

fn dot(x: f64, y: f64, value: f64, fate: Fate) -> Dot {
    Dot { x, y, value, fate }
}

fn pixel(raster: &Raster, side: usize, x: usize, y: usize) -> Rgb {
    let at = (y * side + x) * 4;
    assert_eq!(raster.pixels[at + 3], 255);
    raster.pixels[at..at + 3].try_into().unwrap()
}

#[test]
fn an_empty_source_is_a_bare_plate() {
    let raster = draw(&Few(Vec::new()), &view(20, 1.0), &options());
    assert_eq!(raster.pixels.len(), 20 * 20 * 4);
    assert!((0..20).all(|k| pixel(&raster, 20, k, k) == LIGHT.plate));
    assert_eq!((raster.drawn, raster.crosses, raster.hits.len()), (0, 0, 0));
}

#[test]
fn a_row_is_a_disc_of_its_colour() {
    let source = Few(vec![dot(0.525, 0.475, 1.0, Fate::In), dot(0.125, 0.875, 0.0, Fate::In)]);
    let raster = draw(&source, &view(20, 1.0), &options());
    assert_eq!(pixel(&raster, 20, 10, 10), CIVIDIS[255]);
    assert_eq!(pixel(&raster, 20, 2, 2), CIVIDIS[0]);
    assert_eq!(pixel(&raster, 20, 14, 10), LIGHT.plate);
    // Its edge is softened: between the colour and the plate.
    let edge = pixel(&raster, 20, 11, 11);
    assert!(edge != CIVIDIS[255] && edge != LIGHT.plate, "{edge:?}");
    assert_eq!((raster.drawn, raster.below, raster.above), (2, 0, 0));
    assert_eq!((raster.histogram[0], raster.histogram[HISTOGRAM_STEPS - 1]), (1, 1));
}

#[test]
fn a_disc_grows_with_the_pixel_ratio() {
    let inked = |ratio| {
        let raster = draw(&Few(vec![dot(0.5, 0.5, 0.5, Fate::In)]), &view(40, ratio), &options());
        (0..1600).filter(|k| pixel(&raster, 40, k % 40, k / 40) != LIGHT.plate).count()
    };
    assert!(inked(2.0) > 2 * inked(1.0), "{} {}", inked(1.0), inked(2.0));
}

#[test]
fn rows_out_are_crosses_over_a_plate_coloured_stroke() {
    let source = Few(vec![
        dot(0.5, 0.5, 1.0, Fate::In),
        dot(0.5125, 0.5125, 0.5, Fate::Out),
        dot(0.2, 0.2, 0.5, Fate::Hidden),
    ]);
    let raster = draw(&source, &view(40, 1.0), &options());
    assert_eq!((raster.drawn, raster.crosses, raster.hits.len()), (1, 1, 2));
    let centre = pixel(&raster, 40, 20, 19);
    let copper = crate::colour::contrast(centre, LIGHT.copper);
    assert!(copper < 1.25, "{centre:?}");
    let raster = draw(&source, &view(40, 1.0), &Options { rejected: false, ..options() });
    assert_eq!((raster.drawn, raster.crosses, raster.hits.len()), (1, 0, 1));
    assert_eq!(pixel(&raster, 40, 20, 19), CIVIDIS[255]);
}

#[test]
fn what_has_no_place_or_value_is_not_drawn() {
    let source = Few(vec![
        dot(f64::NAN, 0.5, 0.5, Fate::In),
        dot(0.5, f64::INFINITY, 0.5, Fate::In),
        dot(1.5, 0.5, 0.5, Fate::In),
        dot(0.5, 0.5, f64::NAN, Fate::In),
        dot(1.0, 1.0, 0.5, Fate::In),
        dot(0.0, 0.0, 2.0, Fate::In),
        dot(0.0, 0.0, -1.0, Fate::In),
    ]);
    let raster = draw(&source, &view(20, 1.0), &options());
    assert_eq!((raster.drawn, raster.below, raster.above), (3, 1, 1));
}

#[test]
fn chosen_rows_are_lit_and_rows_outside_the_stretch_of_time_fade() {
    let source = Few((0..5).map(|k| dot(0.1 + 0.2 * k as f64, 0.5, 1.0, Fate::In)).collect());
    let chosen = Options { highlight: vec![[1, 1]], selection: Some((0.0, 3.0)), ..options() };
    let raster = draw(&source, &view(50, 1.0), &chosen);
    assert_eq!(pixel(&raster, 50, 5, 25), CIVIDIS[255]);
    assert_eq!(pixel(&raster, 50, 15, 25), LIGHT.copper);
    assert_eq!(pixel(&raster, 50, 25, 25), CIVIDIS[255]);
    assert_eq!(pixel(&raster, 50, 45, 25), mix(CIVIDIS[255], LIGHT.plate, FADE));
}

#[test]
fn every_mark_is_visited_once_and_in_the_same_order_each_time() {
    for count in [0, 1, 2, 3, 1000, 1024, 1025] {
        let marks: Vec<Mark> = (0..count)
            .map(|row| Mark { x: 0, y: 0, colour: 0, layer: Layer::Plain, row: row as u32 })
            .collect();
        let mut order = Vec::new();
        shuffled(&marks, |mark| order.push(mark.row));
        let mut sorted = order.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, (0..count as u32).collect::<Vec<_>>());
        if count > 100 {
            let neighbours = order.windows(2).filter(|pair| pair[0].abs_diff(pair[1]) < 10).count();
            assert!(neighbours < count / 10, "{neighbours} of {count} stay together");
        }
    }
}

/// The nearest row, asked through the picture, against a search over all rows.
#[test]
fn hits_are_exact_in_a_dense_picture() {
    let mut seed = 3_u64;
    let mut next = || {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (seed >> 11) as f64 / 9_007_199_254_740_992.0
    };
    let source = Few((0..30_000).map(|_| dot(next(), next(), next(), Fate::In)).collect());
    let view = View { y: Scale::new(Kind::Log, Range::around(0.01, 1.0), 200.0, 0.0), ..view(200, 1.0) };
    let raster = draw(&source, &view, &options());
    for _ in 0..200 {
        let (x, y) = (next() * 200.0, next() * 200.0);
        let found = raster.hits.nearest(x, y, 12.0, |row| view.place(&source.dot(row as usize)));
        let mut best = (f64::INFINITY, None);
        for row in 0..source.rows() {
            if let Some((px, py)) = view.place(&source.dot(row)) {
                let square = (px - x) * (px - x) + (py - y) * (py - y);
                if square < best.0 && square <= 144.0 {
                    best = (square, Some(row as u32));
                }
            }
        }
        assert_eq!(found, best.1);
    }
}
