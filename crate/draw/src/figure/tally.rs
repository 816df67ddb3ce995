//! Rows counted in bins, by one quantity or by a pair: filled where there are enough rows, hollow where there are
//! few, with a copper mark where rows are out.

use super::frame::{self, AxisSpec, Form, Frame, Margins};
use super::sheet::{Paper, Problem, Sheet};
use crate::colour::{Rgb, mix};
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// Counts in bins of equal width. A single quantity has `rows` 1 and counts along the vertical axis.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct TallySpec {
    /// Size and colours.
    #[serde(flatten)]
    pub paper: Paper,
    /// Room around the frame.
    pub margins: Margins,
    /// Horizontal axis.
    pub x: AxisSpec,
    /// Vertical axis: the second quantity, or the count.
    pub y: AxisSpec,
    /// Whether two quantities are counted: the bins then lie along both axes.
    pub pair: bool,
    /// Bins across.
    pub columns: usize,
    /// Lower side of the first bin, across and up.
    pub from: [f64; 2],
    /// Width of a bin, across and up.
    pub step: [f64; 2],
    /// Rows in the statistics by bin, `row * columns + column`, row 0 lowest.
    pub kept: Vec<u32>,
    /// Rows out of them.
    pub out: Vec<u32>,
    /// Whether a bin holds too few rows.
    pub thin: Vec<bool>,
    /// A count to compare with, drawn across where one quantity is counted.
    pub level: Option<f64>,
    /// The chosen bins: corners in values of the axes, lower left and upper right.
    pub chosen: Option<[[f64; 2]; 2]>,
}

/// Palest fill of a bin that holds enough rows.
const PALEST: f64 = 0.16;

/// Draws the counts and gives back where the frame lies.
///
/// # Errors
/// Only what the backend reports.
pub fn tally<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    spec: &TallySpec,
) -> Result<Frame, Problem<DB>> {
    let sheet = Sheet::new(area, &spec.paper);
    sheet.fill_all(sheet.look.plate)?;
    let frame = frame::lay(&sheet, &spec.x, &spec.y, &spec.margins)?;
    if spec.pair {
        pair(&sheet, &frame, spec)?;
    } else {
        single(&sheet, &frame, spec)?;
    }
    frame::rule(&sheet, &frame, &spec.x, &spec.y, if spec.pair { Form::Closed } else { Form::Bare })?;
    if let Some([a, b]) = spec.chosen
        && let Some((a, b)) = corners(&frame, a, b)
    {
        let path = [a, (b.0, a.1), b, (a.0, b.1), a, (b.0, a.1)];
        sheet.line(&path, sheet.look.plate, 4.0, 1.0)?;
        sheet.line(&path, sheet.look.copper, 1.75, 1.0)?;
    }
    Ok(frame)
}

fn at(list: &[u32], k: usize) -> u32 {
    list.get(k).copied().unwrap_or(0)
}

fn pair<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    spec: &TallySpec,
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let most = (0..spec.kept.len()).map(|k| at(&spec.kept, k) + at(&spec.out, k)).max().unwrap_or(0);
    let full = libm::log(1.0 + f64::from(most));
    for k in 0..spec.kept.len() {
        let (kept, out) = (at(&spec.kept, k), at(&spec.out, k));
        if kept + out == 0 || spec.columns == 0 {
            continue;
        }
        let low = [
            spec.from[0] + (k % spec.columns) as f64 * spec.step[0],
            spec.from[1] + (k / spec.columns) as f64 * spec.step[1],
        ];
        let high = [low[0] + spec.step[0], low[1] + spec.step[1]];
        let Some((a, b)) = corners(frame, low, high) else { continue };
        let thin = spec.thin.get(k).copied().unwrap_or(false);
        let share = libm::log(1.0 + f64::from(kept + out)) / full.max(1e-9);
        let fill = mix(look.plate, look.ink, PALEST + (1.0 - PALEST) * 0.85 * share);
        if thin {
            let colour = if kept == 0 { look.copper } else { look.ink_2 };
            hollow(sheet, a, b, colour)?;
        } else {
            sheet.box_of(a, b, fill, 1.0)?;
        }
        if out > 0 {
            cross(sheet, a, b, look.copper, look.plate)?;
        }
    }
    Ok(())
}

fn single<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    spec: &TallySpec,
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let inside = |y: f64| if y.is_finite() { y.clamp(frame.top, frame.bottom()) } else { frame.bottom() };
    for k in 0..spec.kept.len() {
        let (kept, out) = (f64::from(at(&spec.kept, k)), f64::from(at(&spec.out, k)));
        let from = spec.from[0] + k as f64 * spec.step[0];
        let sides = (frame.x.place(from), frame.x.place(from + spec.step[0]));
        if kept + out <= 0.0 || !sides.0.is_finite() || !sides.1.is_finite() {
            continue;
        }
        let sides = (sides.0.max(frame.left), sides.1.min(frame.right()));
        if sides.1 <= sides.0 {
            continue;
        }
        let top = inside(frame.y.place(kept + out));
        let middle = if kept > 0.0 { inside(frame.y.place(kept)) } else { frame.bottom() };
        let thin = spec.thin.get(k).copied().unwrap_or(false);
        if thin {
            hollow(sheet, (sides.0, top), (sides.1, frame.bottom()), look.ink_2)?;
        } else if kept > 0.0 {
            sheet.box_of(
                (sides.0, middle),
                (sides.1, frame.bottom()),
                mix(look.plate, look.ink, 0.6),
                1.0,
            )?;
        }
        if out > 0.0 {
            sheet.box_of((sides.0, top), (sides.1, middle), look.copper, if thin { 0.35 } else { 1.0 })?;
        }
    }
    if let Some(level) = spec.level {
        let y = frame.y.place(level);
        if frame.holds((frame.left, y)) {
            sheet.dashed(&[(frame.left, y), (frame.right(), y)], look.copper, 1.0, (5.0, 3.0))?;
        }
    }
    Ok(())
}

/// A box of which only the sides are drawn; a small one is a dot in its middle.
fn hollow<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    a: (f64, f64),
    b: (f64, f64),
    colour: Rgb,
) -> Result<(), Problem<DB>> {
    if b.0 - a.0 >= 3.0 && b.1 - a.1 >= 3.0 {
        sheet.outline(a, (b.0 - 1.0, b.1 - 1.0), colour)
    } else {
        let (x, y) = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
        sheet.box_of((x - 0.6, y - 0.6), (x + 0.6, y + 0.6), colour, 1.0)
    }
}

/// A cross in the middle of a box, on an under-stroke.
fn cross<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    a: (f64, f64),
    b: (f64, f64),
    colour: Rgb,
    under: Rgb,
) -> Result<(), Problem<DB>> {
    let (x, y) = ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0);
    let r = ((b.0 - a.0).min(b.1 - a.1) * 0.35).clamp(1.4, 2.6);
    for (ink, width) in [(under, 2.4), (colour, 1.15)] {
        sheet.line(&[(x - r, y - r), (x + r, y + r)], ink, width, 1.0)?;
        sheet.line(&[(x - r, y + r), (x + r, y - r)], ink, width, 1.0)?;
    }
    Ok(())
}

/// Upper left and lower right corner inside the frame.
fn corners(frame: &Frame, low: [f64; 2], high: [f64; 2]) -> Option<((f64, f64), (f64, f64))> {
    let (x0, y0) = frame.place(low[0], low[1])?;
    let (x1, y1) = frame.place(high[0], high[1])?;
    let x = |v: f64| v.clamp(frame.left, frame.right());
    let y = |v: f64| v.clamp(frame.top, frame.bottom());
    let (a, b) = ((x(x0.min(x1)), y(y0.min(y1))), (x(x0.max(x1)), y(y0.max(y1))));
    (b.0 > a.0 && b.1 > a.1).then_some((a, b))
}
