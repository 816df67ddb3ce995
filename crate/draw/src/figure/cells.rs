//! A map of cells: each a coloured box with its number, hatched where nothing can be said.

use super::bar::{self, BarSpec};
use super::frame::{self, AxisSpec, Form, Frame, Margins};
use super::sheet::{Along, Paper, Problem, Sheet, Type};
use crate::colour::{contrast, slot};
use crate::range::Range;
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// One cell.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct CellSpec {
    /// Its two sides along the horizontal axis.
    pub x: [f64; 2],
    /// Its two sides along the vertical axis.
    pub y: [f64; 2],
    /// Value that colours it; none leaves the plate.
    pub value: Option<f64>,
    /// Words in it: a number, or a letter that stands for the reason of a blank.
    pub text: String,
    /// Whether it is hatched: thin, or no difference shown.
    pub hatch: bool,
}

/// A map of cells.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct CellsSpec {
    /// Size and colours.
    #[serde(flatten)]
    pub paper: Paper,
    /// Room around the frame.
    pub margins: Margins,
    /// Horizontal axis.
    pub x: AxisSpec,
    /// Vertical axis.
    pub y: AxisSpec,
    /// Colours; drawn as a bar above the frame where it has a title.
    pub bar: BarSpec,
    /// The cells.
    pub cells: Vec<CellSpec>,
    /// The chosen cell.
    pub chosen: Option<usize>,
}

/// Draws the cells and gives back where the frame lies.
///
/// # Errors
/// Only what the backend reports.
pub fn cells<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    spec: &CellsSpec,
) -> Result<Frame, Problem<DB>> {
    let sheet = Sheet::new(area, &spec.paper);
    let look = sheet.look;
    sheet.fill_all(look.plate)?;
    let with_bar = !spec.bar.title.is_empty();
    let mut margins = spec.margins;
    margins.top = margins.top.or(Some(if with_bar { 56.0 } else { 12.0 }));
    let frame = frame::lay(&sheet, &spec.x, &spec.y, &margins)?;
    let table = spec.bar.ramp.table(look);
    let range = spec.bar.ramp.spread(Range::around(spec.bar.range[0], spec.bar.range[1]));
    for cell in &spec.cells {
        let Some((a, b)) = corners(&frame, cell) else { continue };
        let colour =
            cell.value.filter(|value| value.is_finite()).map(|value| table[slot(range, value) as usize]);
        if let Some(colour) = colour {
            // A hair of plate between neighbours.
            let gap = if b.0 - a.0 > 6.0 && b.1 - a.1 > 6.0 { 0.5 } else { 0.0 };
            sheet.box_of((a.0 + gap, a.1 + gap), (b.0 - gap, b.1 - gap), colour, 1.0)?;
        }
        let ground = colour.unwrap_or(look.plate);
        let ink =
            if contrast(look.ink, ground) >= contrast(look.plate, ground) { look.ink } else { look.plate };
        if cell.hatch {
            hatch(&sheet, a, b)?;
        }
        if cell.text.is_empty() {
            continue;
        }
        let kind = if colour.is_some() || cell.hatch {
            Type::sans(10.5, ink, Along::Middle)
        } else {
            Type::italic(12.0, look.ink_2, Along::Middle)
        };
        let fits = sheet.width_of(&cell.text, kind.size)? <= b.0 - a.0 - 2.0 && b.1 - a.1 >= kind.size + 1.0;
        if fits && cell.hatch && colour.is_none() {
            let half = sheet.width_of(&cell.text, kind.size)? / 2.0 + 2.0;
            let (x, y) = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
            sheet.box_of((x - half, y - 7.0), (x + half, y + 7.0), look.plate, 0.85)?;
        }
        if fits {
            sheet.text(&cell.text, (a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0, &kind)?;
        }
    }
    frame::rule(&sheet, &frame, &spec.x, &spec.y, Form::Closed)?;
    if let Some((a, b)) = spec.chosen.and_then(|k| spec.cells.get(k)).and_then(|cell| corners(&frame, cell)) {
        let path = [a, (b.0, a.1), b, (a.0, b.1), a, (b.0, a.1)];
        sheet.line(&path, look.plate, 4.0, 1.0)?;
        sheet.line(&path, look.ink, 2.0, 1.0)?;
    }
    if with_bar {
        let length = (frame.width * 0.45).max(120.0).min(frame.width);
        bar::lying(&sheet, &spec.bar, (frame.right() - length, frame.top - 36.0), length)?;
    }
    Ok(frame)
}

/// Upper left and lower right corner of a cell inside the frame.
fn corners(frame: &Frame, cell: &CellSpec) -> Option<((f64, f64), (f64, f64))> {
    let (x0, y0) = frame.place(cell.x[0], cell.y[0])?;
    let (x1, y1) = frame.place(cell.x[1], cell.y[1])?;
    let x = |v: f64| v.clamp(frame.left, frame.right());
    let y = |v: f64| v.clamp(frame.top, frame.bottom());
    let (x0, x1) = if x0 < x1 { (x(x0), x(x1)) } else { (x(x1), x(x0)) };
    let (y0, y1) = if y0 < y1 { (y(y0), y(y1)) } else { (y(y1), y(y0)) };
    (x1 > x0 && y1 > y0).then_some(((x0, y0), (x1, y1)))
}

/// Lines at 45 degrees across a box.
fn hatch<DB: DrawingBackend>(sheet: &Sheet<'_, DB>, a: (f64, f64), b: (f64, f64)) -> Result<(), Problem<DB>> {
    const STEP: f64 = 6.0;
    let (width, height) = (b.0 - a.0, b.1 - a.1);
    // From a place the whole figure shares, so that the lines run on from cell to cell.
    let mut sum = libm::ceil((a.0 + a.1) / STEP) * STEP;
    while sum < a.0 + a.1 + width + height {
        let from = (sum - a.1).min(b.0);
        let to = (sum - b.1).max(a.0);
        sheet.line(&[(from, sum - from), (to, sum - to)], sheet.look.line, 0.9, 1.0)?;
        sum += STEP;
    }
    Ok(())
}
