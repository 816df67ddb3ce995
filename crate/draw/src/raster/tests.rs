//! Pictures looked at pixel by pixel.

use super::paint::FADE;
use super::*;
use crate::colour::{CIVIDIS, LIGHT, Rgb, mix};
use crate::scale::Kind;

struct Few(Vec<(Dot, Fate)>);

impl Source for Few {
    fn rows(&self) -> usize {
        self.0.len()
    }
    fn dot(&self, row: usize) -> Dot {
        self.0[row].0
    }
    fn fate(&self, row: usize) -> Fate {
        self.0[row].1
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

fn dot(x: f64, y: f64, value: f64, fate: Fate) -> (Dot, Fate) {
    (Dot { x, y, value }, fate)
}

fn picture(source: &Few, view: &View, options: &Options) -> Raster {
    draw(source, &Placed::new(source, view), options)
}

fn pixel(raster: &Raster, side: usize, x: usize, y: usize) -> Rgb {
    let [red, green, blue, alpha] = raster.pixels[y * side + x];
    assert_eq!(alpha, 255);
    [red, green, blue]
}

#[test]
fn an_empty_source_is_a_bare_plate() {
    let raster = picture(&Few(Vec::new()), &view(20, 1.0), &options());
    assert_eq!(raster.pixels.len(), 20 * 20);
    assert!((0..20).all(|k| pixel(&raster, 20, k, k) == LIGHT.plate));
    assert_eq!((raster.drawn, raster.crosses), (0, 0));
}

#[test]
fn a_row_is_a_disc_of_its_colour() {
    let source = Few(vec![dot(0.525, 0.475, 1.0, Fate::In), dot(0.125, 0.875, 0.0, Fate::In)]);
    let raster = picture(&source, &view(20, 1.0), &options());
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
        let raster = picture(&Few(vec![dot(0.5, 0.5, 0.5, Fate::In)]), &view(40, ratio), &options());
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
    let raster = picture(&source, &view(40, 1.0), &options());
    assert_eq!((raster.drawn, raster.crosses), (1, 1));
    let centre = pixel(&raster, 40, 20, 19);
    let copper = crate::colour::contrast(centre, LIGHT.copper);
    assert!(copper < 1.25, "{centre:?}");
    let raster = picture(&source, &view(40, 1.0), &Options { rejected: false, ..options() });
    assert_eq!((raster.drawn, raster.crosses), (1, 0));
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
    let raster = picture(&source, &view(20, 1.0), &options());
    assert_eq!((raster.drawn, raster.below, raster.above), (3, 1, 1));
}

#[test]
fn chosen_rows_are_lit_and_rows_outside_the_stretch_of_time_fade() {
    let source = Few((0..5).map(|k| dot(0.1 + 0.2 * k as f64, 0.5, 1.0, Fate::In)).collect());
    let chosen = Options { highlight: vec![[1, 1]], selection: Some((0.0, 3.0)), ..options() };
    let raster = picture(&source, &view(50, 1.0), &chosen);
    assert_eq!(pixel(&raster, 50, 5, 25), CIVIDIS[255]);
    assert_eq!(pixel(&raster, 50, 15, 25), LIGHT.copper);
    assert_eq!(pixel(&raster, 50, 25, 25), CIVIDIS[255]);
    assert_eq!(pixel(&raster, 50, 45, 25), mix(CIVIDIS[255], LIGHT.plate, FADE));
}

#[test]
fn rows_in_one_pixel_show_one_of_them_and_are_all_counted() {
    // Every fifth row has another colour, in a steady rhythm.
    let rows = (0..60_000).map(|row| {
        let (x, y) = (0.05 + 0.1 * (row / 10 % 10) as f64, 0.05 + 0.1 * (row / 100 % 10) as f64);
        dot(x, y, if row % 5 == 0 { 1.0 } else { 0.0 }, Fate::In)
    });
    let source = Few(rows.collect());
    let raster = picture(&source, &view(100, 1.0), &options());
    assert_eq!(
        (raster.drawn, raster.histogram[0], raster.histogram[HISTOGRAM_STEPS - 1]),
        (60_000, 48_000, 12_000)
    );
    let bright =
        (0..100).filter(|k| pixel(&raster, 100, 5 + k % 10 * 10, 5 + k / 10 * 10) == CIVIDIS[255]).count();
    assert!((8..=34).contains(&bright), "{bright} of 100 places show the fifth");
}

#[test]
fn a_picture_from_places_found_before_is_the_same_as_a_new_one() {
    let fates = [Fate::In, Fate::Out, Fate::Hidden];
    let made = |shift: usize| {
        let rows = (0..5000).map(|row| {
            let (x, y) = ((row * 37 % 1009) as f64 / 1009.0, (row * 91 % 997) as f64 / 997.0);
            dot(x, y, (row % 100) as f64 / 99.0, fates[(row / 7 + shift) % 3])
        });
        Few(rows.collect())
    };
    let view = view(300, 1.0);
    let placed = Placed::new(&made(0), &view);
    for shift in 0..3 {
        let (old, new) = (draw(&made(shift), &placed, &options()), picture(&made(shift), &view, &options()));
        assert!(old.pixels == new.pixels && old.histogram == new.histogram && old.crosses == new.crosses);
        assert!(old.crosses > 1500 && old.drawn > 1500);
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
    let fates = [Fate::In, Fate::In, Fate::Out, Fate::Hidden];
    let source = Few((0..30_000).map(|row| dot(next(), next(), next(), fates[row % 4])).collect());
    let view = View { y: Scale::new(Kind::Log, Range::around(0.01, 1.0), 200.0, 0.0), ..view(200, 1.0) };
    let placed = Placed::new(&source, &view);
    for probe in 0..400 {
        let options = Options { rejected: probe % 2 == 0, ..options() };
        let (x, y) = (next() * 200.0, next() * 200.0);
        let found = placed.nearest(&source, &options, (x, y), 12.0);
        let mut best = (f64::INFINITY, None);
        for row in 0..source.rows() {
            let seen = source.fate(row) == Fate::In || (source.fate(row) == Fate::Out && options.rejected);
            if !seen {
                continue;
            }
            if let Some((px, py)) = view.place(&source.dot(row)) {
                let square = (px - x) * (px - x) + (py - y) * (py - y);
                if square < best.0 && square <= 144.0 {
                    best = (square, Some(row));
                }
            }
        }
        assert_eq!(found, best.1);
    }
}
