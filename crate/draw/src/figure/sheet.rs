//! The ground a figure is drawn on: CSS pixels in, the backend's units out.

use crate::colour::{Look, Rgb, Theme};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind};
use plotters::element::{Circle, PathElement, Polygon, Rectangle, Text};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{Color, FontFamily, FontStyle, FontTransform, RGBColor, ShapeStyle, TextStyle};
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// What can go wrong while drawing: only what the backend reports.
pub type Problem<DB> = DrawingAreaErrorKind<<DB as DrawingBackend>::ErrorType>;

/// Units of a backend per device pixel.
pub const SUBUNITS: f64 = 8.0;

pub(crate) const SANS: &str = "\"Segoe UI\",\"Helvetica Neue\",\"Liberation Sans\",Arial,sans-serif";
pub(crate) const SERIF: &str = "\"Iowan Old Style\",\"Palatino Linotype\",Palatino,\"URW Palladio L\",P052,\"Book Antiqua\",Georgia,serif";

/// Size and colours of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(default)]
pub struct Paper {
    /// Set of colours.
    pub theme: Theme,
    /// Device pixels per CSS pixel.
    pub ratio: f64,
    /// Width, CSS pixels.
    pub width: f64,
    /// Height, CSS pixels.
    pub height: f64,
}

impl Default for Paper {
    fn default() -> Self {
        Self { theme: Theme::Light, ratio: 1.0, width: 300.0, height: 200.0 }
    }
}

impl Paper {
    /// The ratio, held to what screens and printers have.
    #[must_use]
    pub fn sane_ratio(&self) -> f64 {
        if self.ratio > 0.2 && self.ratio < 16.0 { self.ratio } else { 1.0 }
    }

    /// Backend units per CSS pixel.
    #[must_use]
    pub fn scale(&self) -> f64 {
        self.sane_ratio() * SUBUNITS
    }
}

/// A named colour of the look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ink {
    /// Text, frames.
    #[default]
    Ink,
    /// Second lines.
    Second,
    /// Quiet notes.
    Quiet,
    /// First run, rows out, what is chosen.
    Copper,
    /// Second run.
    Slate,
    /// Hairlines.
    Rule,
    /// Stronger hairlines.
    Rule2,
    /// The figure's ground.
    Plate,
    /// Behind what is chosen.
    Wash,
}

impl Ink {
    /// Its colour.
    #[must_use]
    pub fn of(self, look: &Look) -> Rgb {
        match self {
            Self::Ink => look.ink,
            Self::Second => look.ink_2,
            Self::Quiet => look.ink_3,
            Self::Copper => look.copper,
            Self::Slate => look.slate,
            Self::Rule => look.rule,
            Self::Rule2 => look.rule_2,
            Self::Plate => look.plate,
            Self::Wash => look.wash,
        }
    }
}

/// Where text stands against its point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Along {
    Start,
    Middle,
    End,
}

/// How text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Type {
    pub(super) size: f64,
    pub(super) colour: Rgb,
    pub(super) along: Along,
    pub(super) serif: bool,
    pub(super) upwards: bool,
}

impl Type {
    pub(super) fn sans(size: f64, colour: Rgb, along: Along) -> Self {
        Self { size, colour, along, serif: false, upwards: false }
    }

    pub(super) fn italic(size: f64, colour: Rgb, along: Along) -> Self {
        Self { serif: true, ..Self::sans(size, colour, along) }
    }
}

/// An area with its scale and colours.
pub struct Sheet<'a, DB: DrawingBackend> {
    area: &'a DrawingArea<DB, Shift>,
    ratio: f64,
    scale: f64,
    /// Colours of the theme.
    pub look: &'static Look,
    /// Width, CSS pixels.
    pub width: f64,
    /// Height, CSS pixels.
    pub height: f64,
}

type Drawn<DB> = Result<(), Problem<DB>>;

impl<'a, DB: DrawingBackend> Sheet<'a, DB> {
    /// Lays a paper on an area.
    pub fn new(area: &'a DrawingArea<DB, Shift>, paper: &Paper) -> Self {
        Self {
            area,
            ratio: paper.sane_ratio(),
            scale: paper.scale(),
            look: paper.theme.look(),
            width: if paper.width > 1.0 { paper.width } else { 1.0 },
            height: if paper.height > 1.0 { paper.height } else { 1.0 },
        }
    }

    fn unit(&self, css: f64) -> i32 {
        // The cast holds at both ends; no number becomes 0.
        libm::round(css * self.scale) as i32
    }

    fn at(&self, x: f64, y: f64) -> (i32, i32) {
        (self.unit(x), self.unit(y))
    }

    /// The middle of the device pixel that holds a place, so that a hairline there is sharp.
    pub(super) fn crisp(&self, css: f64) -> f64 {
        (libm::floor(css * self.ratio + 1e-6) + 0.5) / self.ratio
    }

    /// The edge of a device pixel nearest to a place, so that a filled box there is sharp.
    pub(super) fn edge(&self, css: f64) -> f64 {
        libm::round(css * self.ratio) / self.ratio
    }

    fn stroke(&self, colour: Rgb, width: f64, alpha: f64) -> ShapeStyle {
        let width = (self.unit(width)).max(1) as u32;
        ShapeStyle { color: rgb(colour).mix(alpha), filled: false, stroke_width: width }
    }

    pub(super) fn fill_all(&self, colour: Rgb) -> Drawn<DB> {
        self.area.fill(&rgb(colour))
    }

    pub(super) fn line(&self, points: &[(f64, f64)], colour: Rgb, width: f64, alpha: f64) -> Drawn<DB> {
        let path: Vec<(i32, i32)> = points.iter().map(|&(x, y)| self.at(x, y)).collect();
        self.area.draw(&PathElement::new(path, self.stroke(colour, width, alpha)))
    }

    /// A hairline of one device pixel or more, straight across or up.
    pub(super) fn hair(&self, from: (f64, f64), to: (f64, f64), colour: Rgb, alpha: f64) -> Drawn<DB> {
        let straight =
            |a: f64, b: f64| if (a - b).abs() < 1e-9 { (self.crisp(a), self.crisp(b)) } else { (a, b) };
        let (x0, x1) = straight(from.0, to.0);
        let (y0, y1) = straight(from.1, to.1);
        // Whole device pixels only: 1 up to a ratio of 2, then 1 per 2.
        let width = libm::floor((self.ratio + 0.5) / 1.5).max(1.0) / self.ratio;
        self.line(&[(x0, y0), (x1, y1)], colour, width, alpha)
    }

    /// A line in dashes of `on` and gaps of `off`, CSS pixels.
    pub(super) fn dashed(
        &self,
        points: &[(f64, f64)],
        colour: Rgb,
        width: f64,
        (on, off): (f64, f64),
    ) -> Drawn<DB> {
        let mut dash: Vec<(f64, f64)> = points.first().copied().into_iter().collect();
        let (mut drawing, mut left) = (true, on);
        for pair in points.windows(2) {
            let ((mut x, mut y), (to_x, to_y)) = (pair[0], pair[1]);
            loop {
                let rest = libm::hypot(to_x - x, to_y - y);
                if !rest.is_finite() || rest <= left {
                    left -= if rest.is_finite() { rest } else { 0.0 };
                    if drawing {
                        dash.push((to_x, to_y));
                    }
                    break;
                }
                x += (to_x - x) * left / rest;
                y += (to_y - y) * left / rest;
                if drawing {
                    dash.push((x, y));
                    self.line(&dash, colour, width, 1.0)?;
                    dash.clear();
                } else {
                    dash = vec![(x, y)];
                }
                drawing = !drawing;
                left = if drawing { on } else { off };
            }
        }
        if drawing && dash.len() > 1 {
            self.line(&dash, colour, width, 1.0)?;
        }
        Ok(())
    }

    pub(super) fn area_of(&self, points: &[(f64, f64)], colour: Rgb, alpha: f64) -> Drawn<DB> {
        let path: Vec<(i32, i32)> = points.iter().map(|&(x, y)| self.at(x, y)).collect();
        self.area.draw(&Polygon::new(path, rgb(colour).mix(alpha)))
    }

    /// A filled box between two corners, its sides on pixel edges.
    pub(super) fn box_of(&self, a: (f64, f64), b: (f64, f64), colour: Rgb, alpha: f64) -> Drawn<DB> {
        let (a, b) = ((self.edge(a.0), self.edge(a.1)), (self.edge(b.0), self.edge(b.1)));
        let style = ShapeStyle { color: rgb(colour).mix(alpha), filled: true, stroke_width: 0 };
        self.area.draw(&Rectangle::new([self.at(a.0, a.1), self.at(b.0, b.1)], style))
    }

    /// The four sides of a box as hairlines.
    pub(super) fn outline(&self, a: (f64, f64), b: (f64, f64), colour: Rgb) -> Drawn<DB> {
        let (x0, y0, x1, y1) = (self.crisp(a.0), self.crisp(a.1), self.crisp(b.0), self.crisp(b.1));
        self.line(&[(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0), (x1, y0)], colour, 1.0, 1.0)
    }

    pub(super) fn dot(&self, x: f64, y: f64, radius: f64, colour: Rgb, alpha: f64) -> Drawn<DB> {
        let style = ShapeStyle { color: rgb(colour).mix(alpha), filled: true, stroke_width: 0 };
        self.area.draw(&Circle::new(self.at(x, y), self.unit(radius), style))
    }

    pub(super) fn ring(&self, x: f64, y: f64, radius: f64, colour: Rgb, width: f64) -> Drawn<DB> {
        self.area.draw(&Circle::new(self.at(x, y), self.unit(radius), self.stroke(colour, width, 1.0)))
    }

    fn style(&self, kind: &Type) -> TextStyle<'static> {
        let (family, slant) = if kind.serif { (SERIF, FontStyle::Italic) } else { (SANS, FontStyle::Normal) };
        let horizontal = match kind.along {
            Along::Start => HPos::Left,
            Along::Middle => HPos::Center,
            Along::End => HPos::Right,
        };
        let mut style = TextStyle::from((FontFamily::Name(family), kind.size * self.scale, slant))
            .pos(Pos::new(horizontal, VPos::Center));
        style.color = rgb(kind.colour).to_backend_color();
        if kind.upwards { style.transform(FontTransform::Rotate270) } else { style }
    }

    /// Text with its middle line at a height.
    pub(super) fn text(&self, text: &str, x: f64, y: f64, kind: &Type) -> Drawn<DB> {
        if text.is_empty() {
            return Ok(());
        }
        self.area.draw(&Text::new(text.to_owned(), self.at(x, y), self.style(kind)))
    }

    /// Width of a text, CSS pixels, as the backend measures it.
    pub(super) fn width_of(&self, text: &str, size: f64) -> Result<f64, Problem<DB>> {
        if text.is_empty() {
            return Ok(0.0);
        }
        let style = self.style(&Type::sans(size, self.look.ink, Along::Start));
        Ok(f64::from(self.area.estimate_text_size(text, &style)?.0) / self.scale)
    }
}

fn rgb(colour: Rgb) -> RGBColor {
    RGBColor(colour[0], colour[1], colour[2])
}
