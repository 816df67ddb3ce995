//! Values by name with their intervals, such as the acceptance of a calibration by current band.

use super::frame::{self, AxisSpec, Form, Frame, Margins};
use super::sheet::{Along, Ink, Paper, Problem, Sheet, Type};
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// One value with its interval, or one bar.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct BarsItem {
    /// Its name along the horizontal axis.
    pub name: String,
    /// The value; an empty place where `null`.
    pub value: Option<f64>,
    /// Lower end of its interval.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
    /// Colour.
    pub ink: Ink,
}

/// Values side by side.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct BarsSpec {
    /// Size and colours.
    #[serde(flatten)]
    pub paper: Paper,
    /// Room around the frame.
    pub margins: Margins,
    /// Title of the horizontal axis.
    pub title: String,
    /// Vertical axis.
    pub y: AxisSpec,
    /// A level to compare with, drawn across.
    pub level: Option<f64>,
    /// The values.
    pub items: Vec<BarsItem>,
    /// Whether each is a bar from the level (or the lower end of the axis) rather than a dot.
    pub solid: bool,
}

/// Draws the values and gives back where the frame lies.
///
/// # Errors
/// Only what the backend reports.
pub fn bars<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    spec: &BarsSpec,
) -> Result<Frame, Problem<DB>> {
    let sheet = Sheet::new(area, &spec.paper);
    let look = sheet.look;
    sheet.fill_all(look.plate)?;
    let names: Vec<String> = spec.items.iter().map(|item| item.name.clone()).collect();
    let x = AxisSpec { title: spec.title.clone(), names, ..AxisSpec::default() };
    let frame = frame::lay(&sheet, &x, &spec.y, &spec.margins)?;
    let level = spec.level.map(|level| frame.y.place(level)).filter(|at| frame.holds((frame.left, *at)));
    if let Some(at) = level {
        sheet.hair((frame.left, at), (frame.right(), at), look.line, 1.0)?;
    }
    frame::rule(&sheet, &frame, &x, &spec.y, Form::Bare)?;
    let inside = |y: f64| y.clamp(frame.top, frame.bottom());
    for (k, item) in spec.items.iter().enumerate() {
        let at = sheet.crisp(frame.x.place(k as f64 + 0.5));
        let colour = item.ink.of(look);
        let Some(value) = item.value.map(|value| frame.y.place(value)).filter(|y| y.is_finite()) else {
            sheet.text(
                "no rows",
                at,
                frame.bottom() - 10.0,
                &Type::italic(11.5, look.ink_3, Along::Middle),
            )?;
            continue;
        };
        if spec.solid {
            let half = (frame.width / spec.items.len() as f64 * 0.35).min(16.0);
            let ground = level.unwrap_or(frame.bottom());
            sheet.box_of((at - half, inside(value)), (at + half, ground), colour, 0.85)?;
        }
        if let Some((low, high)) = item.low.zip(item.high) {
            let (low, high) = (frame.y.place(low), frame.y.place(high));
            if low.is_finite() && high.is_finite() {
                let (low, high) = (inside(low), inside(high));
                sheet.line(&[(at, low), (at, high)], colour, 1.25, 1.0)?;
                for end in [low, high] {
                    sheet.line(&[(at - 3.5, end), (at + 3.5, end)], colour, 1.25, 1.0)?;
                }
            }
        }
        if !spec.solid {
            if frame.holds((at, value)) {
                sheet.dot(at, value, 3.25, colour, 1.0)?;
            } else {
                // Off the scale: an arrow head at the edge it left by.
                let (edge, tip) =
                    if value < frame.top { (frame.top + 7.0, -6.0) } else { (frame.bottom() - 7.0, 6.0) };
                sheet.area_of(&[(at - 4.0, edge), (at + 4.0, edge), (at, edge + tip)], colour, 1.0)?;
            }
        }
    }
    Ok(frame)
}
