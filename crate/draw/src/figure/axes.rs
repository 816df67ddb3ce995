//! The axes of the scatter: laid over the point raster, with a colour bar beside it.

use super::bar::{self, BarSpec};
use super::frame::{self, AxisSpec, Form, Frame, Margins};
use super::sheet::{Along, Ink, Paper, Problem, Sheet, Type};
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// Words or a numbered ring at a place of the figure.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Note {
    /// Value along the horizontal axis.
    pub x: f64,
    /// Value along the vertical axis.
    pub y: f64,
    /// The words; lines apart by a line feed.
    pub text: String,
    /// Whether it is a number in a ring.
    pub ring: bool,
    /// Whether the ring is filled: the chosen finding.
    pub chosen: bool,
}

/// Axes around a scatter.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct AxesSpec {
    /// Size and colours.
    #[serde(flatten)]
    pub paper: Paper,
    /// Room around the frame.
    pub margins: Margins,
    /// Horizontal axis.
    pub x: AxisSpec,
    /// Vertical axis.
    pub y: AxisSpec,
    /// Colour bar at the right, or above where the figure is narrow; none without.
    pub bar: Option<BarSpec>,
    /// Whether the bar lies above the frame.
    pub bar_above: bool,
    /// Lines in ink, such as contours and the outline of the visited region: pairs of values.
    pub lines: Vec<Vec<[f64; 2]>>,
    /// Notes and rings.
    pub notes: Vec<Note>,
    /// Paint the plate first; leave it off where the raster lies under this canvas.
    pub ground: bool,
}

/// Draws the axes and gives back where the frame lies.
///
/// # Errors
/// Only what the backend reports.
pub fn axes<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    spec: &AxesSpec,
) -> Result<Frame, Problem<DB>> {
    let sheet = Sheet::new(area, &spec.paper);
    let look = sheet.look;
    if spec.ground {
        sheet.fill_all(look.plate)?;
    }
    let mut margins = spec.margins;
    if spec.bar.is_some() && !spec.bar_above {
        margins.right = margins.right.or(Some(132.0));
        margins.top = margins.top.or(Some(30.0));
    } else if spec.bar.is_some() {
        margins.top = margins.top.or(Some(52.0));
    }
    let frame = frame::lay(&sheet, &spec.x, &spec.y, &margins)?;
    for line in &spec.lines {
        let path: Vec<_> = line.iter().filter_map(|p| frame.place(p[0], p[1])).collect();
        if path.len() > 1 {
            if look.plate[0] < 0x80 {
                sheet.line(&path, look.plate, 3.0, 1.0)?;
            }
            sheet.line(&path, look.ink, 0.9, 1.0)?;
        }
    }
    frame::rule(&sheet, &frame, &spec.x, &spec.y, Form::Closed)?;
    if let Some(bar) = &spec.bar {
        if spec.bar_above {
            bar::lying(&sheet, bar, (frame.left, frame.top - 34.0), frame.width)?;
        } else {
            bar::upright(&sheet, bar, frame.right() + 48.0, (frame.top, frame.bottom()))?;
        }
    }
    for note in &spec.notes {
        if let Some(place) = frame.place(note.x, note.y).filter(|place| frame.holds(*place)) {
            self::note(&sheet, note, place)?;
        }
    }
    Ok(frame)
}

/// Draws one note.
pub(super) fn note<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    note: &Note,
    (x, y): (f64, f64),
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    if note.ring {
        let (ground, ink) = if note.chosen { (look.copper, look.plate) } else { (look.plate, look.copper) };
        sheet.dot(x, y, 9.0, ground, 1.0)?;
        sheet.ring(x, y, 9.0, look.copper, 1.25)?;
        return sheet.text(&note.text, x, y + 0.5, &Type::sans(11.0, ink, Along::Middle));
    }
    let lines: Vec<&str> = note.text.split('\n').collect();
    let first = y - 7.5 * (lines.len() as f64 - 1.0);
    for (k, line) in lines.iter().enumerate() {
        let kind = Type::italic(12.5, Ink::Second.of(look), Along::Middle);
        sheet.text(line, x, first + 15.0 * k as f64, &kind)?;
    }
    Ok(())
}
