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

/// A line in ink, such as a contour or the outline of the visited region.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct InkLine {
    /// Corners, pairs of values.
    pub points: Vec<[f64; 2]>,
    /// Text on the line; drawn where the line is long enough.
    pub label: String,
    /// Width, CSS pixels; 0.8 where zero.
    pub weight: f64,
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
    /// Lines in ink under the frame.
    pub lines: Vec<InkLine>,
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
        ink_line(&sheet, &frame, line)?;
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

fn ink_line<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    line: &InkLine,
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let path: Vec<_> = line.points.iter().filter_map(|p| frame.place(p[0], p[1])).collect();
    let weight = if line.weight > 0.0 { line.weight } else { 0.8 };
    let dark = look.plate[0] < 0x80;
    let parts = frame::clipped(frame, &path);
    for part in &parts {
        if dark {
            sheet.line(part, look.plate, weight + 2.2, 0.7)?;
        }
        sheet.line(part, look.ink, weight, 1.0)?;
    }
    let length = |part: &[(f64, f64)]| -> f64 {
        part.windows(2).map(|pair| libm::hypot(pair[1].0 - pair[0].0, pair[1].1 - pair[0].1)).sum()
    };
    let longest = parts.iter().max_by(|a, b| length(a).total_cmp(&length(b)));
    if let Some(part) = longest.filter(|part| !line.label.is_empty() && length(part) > 70.0) {
        let (x, y) = part[part.len() / 2];
        let half = sheet.width_of(&line.label, 10.5)? / 2.0 + 2.0;
        let inside = x - half > frame.left
            && x + half < frame.right()
            && y - 7.0 > frame.top
            && y + 7.0 < frame.bottom();
        if inside {
            sheet.box_of((x - half, y - 7.0), (x + half, y + 7.0), look.plate, 0.8)?;
            sheet.text(&line.label, x, y, &Type::sans(10.5, look.ink, Along::Middle))?;
        }
    }
    Ok(())
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
