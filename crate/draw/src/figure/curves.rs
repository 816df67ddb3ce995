//! Lines, bands and marks over two axes.

use super::axes::{Note, note};
use super::frame::{self, AxisSpec, Form, Frame, Margins};
use super::sheet::{Along, Ink, Paper, Problem, Sheet, Type};
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// How a series is joined.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stroke {
    /// A continuous line.
    #[default]
    Line,
    /// Dashes: always so for a second run, whose colour alone must not carry the meaning.
    Dashed,
    /// Fine dots.
    Dotted,
    /// Not at all.
    None,
}

/// How the points of a series are marked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Mark {
    /// Not at all.
    #[default]
    None,
    /// Small discs.
    Dot,
    /// Squares.
    Square,
    /// Small rings.
    Ring,
}

/// One line with its band and marks.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Series {
    /// Values along the horizontal axis.
    pub x: Vec<f64>,
    /// Values along the vertical axis; a gap where `null`.
    pub y: Vec<Option<f64>>,
    /// Lower edge of the band or of the bars, if any.
    pub low: Vec<Option<f64>>,
    /// Upper edge.
    pub high: Vec<Option<f64>>,
    /// Whether the edges are bars at each point instead of a band.
    pub whiskers: bool,
    /// Colour.
    pub ink: Ink,
    /// How it is joined.
    pub stroke: Stroke,
    /// How its points are marked.
    pub mark: Mark,
    /// Width of the line, CSS pixels; 1.5 where zero.
    pub weight: f64,
    /// Text at its right end.
    pub label: String,
}

/// A line straight up at one value, with a dot where asked.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Upright {
    /// Value along the horizontal axis.
    pub x: f64,
    /// Value of the dot along the vertical axis.
    pub dot: Option<f64>,
    /// Colour.
    pub ink: Ink,
}

/// Curves over two axes.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct CurvesSpec {
    /// Size and colours.
    #[serde(flatten)]
    pub paper: Paper,
    /// Room around the frame.
    pub margins: Margins,
    /// Horizontal axis.
    pub x: AxisSpec,
    /// Vertical axis.
    pub y: AxisSpec,
    /// Whether hairlines run across at the ticks.
    pub hairlines: bool,
    /// Stretches of the horizontal axis on a wash.
    pub shade: Vec<[f64; 2]>,
    /// Lines straight up.
    pub uprights: Vec<Upright>,
    /// Lines straight across at these values, thin.
    pub levels: Vec<f64>,
    /// The curves, later ones over earlier ones.
    pub series: Vec<Series>,
    /// Notes.
    pub notes: Vec<Note>,
}

/// Least distance between two labels at line ends, CSS pixels.
const LABEL_STEP: f64 = 14.0;

/// Draws the curves and gives back where the frame lies.
///
/// # Errors
/// Only what the backend reports.
pub fn curves<DB: DrawingBackend>(
    area: &DrawingArea<DB, Shift>,
    spec: &CurvesSpec,
) -> Result<Frame, Problem<DB>> {
    let sheet = Sheet::new(area, &spec.paper);
    let look = sheet.look;
    sheet.fill_all(look.plate)?;
    let mut margins = spec.margins;
    if margins.right.is_none() {
        let mut widest = 0.0_f64;
        for series in &spec.series {
            widest = widest.max(sheet.width_of(&series.label, 12.0)?);
        }
        // Labels take at most a third of the figure; the rest of a longer one runs over the lines.
        let room = (libm::ceil(widest) + 10.0).min(sheet.width / 3.0);
        margins.right = Some(if widest > 0.0 { room } else { 14.0 });
    }
    let frame = frame::lay(&sheet, &spec.x, &spec.y, &margins)?;
    for [from, to] in &spec.shade {
        let (a, b) = (frame.x.place(*from), frame.x.place(*to));
        if a.is_finite() && b.is_finite() {
            let clip = |x: f64| x.clamp(frame.left, frame.right());
            sheet.box_of((clip(a), frame.top), (clip(b), frame.bottom()), look.wash, 1.0)?;
        }
    }
    if spec.hairlines {
        frame::hairlines(&sheet, &frame, &spec.y)?;
    }
    for level in &spec.levels {
        let at = frame.y.place(*level);
        if frame.holds((frame.left, at)) {
            sheet.hair((frame.left, at), (frame.right(), at), look.line, 1.0)?;
        }
    }
    for series in &spec.series {
        band(&sheet, &frame, series)?;
    }
    for series in &spec.series {
        line(&sheet, &frame, series)?;
    }
    frame::rule(&sheet, &frame, &spec.x, &spec.y, Form::Open)?;
    for upright in &spec.uprights {
        let at = frame.x.place(upright.x);
        if at.is_finite() && frame.holds((at, frame.top)) {
            let colour = upright.ink.of(look);
            sheet.dashed(
                &[(sheet.crisp(at), frame.top), (sheet.crisp(at), frame.bottom())],
                colour,
                1.0,
                (3.0, 2.0),
            )?;
            if let Some(place) = upright.dot.and_then(|y| frame.place(upright.x, y)) {
                sheet.dot(place.0, place.1, 3.5, colour, 1.0)?;
            }
        }
    }
    labels(&sheet, &frame, spec)?;
    for mark in &spec.notes {
        if let Some(place) = frame.place(mark.x, mark.y) {
            note(&sheet, mark, place)?;
        }
    }
    Ok(frame)
}

/// Stretches of a series without a gap, as places; held near the frame so that nothing runs off.
fn stretches(frame: &Frame, x: &[f64], y: &[Option<f64>]) -> Vec<Vec<(f64, f64)>> {
    let mut all = vec![Vec::new()];
    for (x, y) in x.iter().zip(y) {
        match y.and_then(|y| frame.place(*x, y)) {
            Some((px, py)) => {
                let held = (px, py.clamp(frame.top - 2000.0, frame.bottom() + 2000.0));
                if let Some(last) = all.last_mut() {
                    last.push(held);
                }
            }
            None => all.push(Vec::new()),
        }
    }
    all.retain(|stretch| !stretch.is_empty());
    all
}

fn band<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    series: &Series,
) -> Result<(), Problem<DB>> {
    let colour = series.ink.of(sheet.look);
    let inside = |y: f64| y.clamp(frame.top, frame.bottom());
    let mut edges: Vec<(f64, f64, f64)> = Vec::new();
    let flush = |edges: &mut Vec<(f64, f64, f64)>| -> Result<(), Problem<DB>> {
        if edges.len() > 1 && !series.whiskers {
            let down = edges.iter().map(|e| (e.0, e.1)).chain(edges.iter().rev().map(|e| (e.0, e.2)));
            sheet.area_of(&down.collect::<Vec<_>>(), colour, 0.2)?;
        }
        edges.clear();
        Ok(())
    };
    for ((x, low), high) in series.x.iter().zip(&series.low).zip(&series.high) {
        let places = low.zip(*high).and_then(|(low, high)| frame.place(*x, low).zip(frame.place(*x, high)));
        match places.filter(|(a, _)| a.0 >= frame.left - 0.5 && a.0 <= frame.right() + 0.5) {
            Some((a, b)) if series.whiskers => {
                let (x, a, b) = (sheet.crisp(a.0), inside(a.1), inside(b.1));
                sheet.line(&[(x, a), (x, b)], colour, 1.25, 1.0)?;
                for end in [a, b] {
                    sheet.line(&[(x - 3.5, end), (x + 3.5, end)], colour, 1.25, 1.0)?;
                }
            }
            Some((a, b)) => edges.push((a.0, inside(a.1), inside(b.1))),
            None => flush(&mut edges)?,
        }
    }
    flush(&mut edges)
}

fn line<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    series: &Series,
) -> Result<(), Problem<DB>> {
    let colour = series.ink.of(sheet.look);
    let weight = if series.weight > 0.0 { series.weight } else { 1.5 };
    for stretch in stretches(frame, &series.x, &series.y) {
        for path in frame::clipped(frame, &stretch) {
            match series.stroke {
                Stroke::Line => sheet.line(&path, colour, weight, 1.0)?,
                Stroke::Dashed => sheet.dashed(&path, colour, weight, (4.0, 3.0))?,
                Stroke::Dotted => sheet.dashed(&path, colour, weight, (1.5, 2.5))?,
                Stroke::None => {}
            }
        }
        for &(x, y) in stretch.iter().filter(|place| frame.holds(**place)) {
            match series.mark {
                Mark::None => {}
                Mark::Dot => sheet.dot(x, y, 2.25, colour, 1.0)?,
                Mark::Ring => sheet.ring(x, y, 1.75, colour, 0.9)?,
                Mark::Square => sheet.box_of((x - 4.0, y - 4.0), (x + 4.0, y + 4.0), colour, 1.0)?,
            }
        }
    }
    Ok(())
}

/// Names the lines at their right ends, moved apart where they would touch.
fn labels<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    spec: &CurvesSpec,
) -> Result<(), Problem<DB>> {
    let mut ends: Vec<(f64, f64, &Series)> = Vec::new();
    for series in spec.series.iter().filter(|series| !series.label.is_empty()) {
        let last =
            stretches(frame, &series.x, &series.y).into_iter().flatten().rfind(|place| frame.holds(*place));
        if let Some((x, y)) = last {
            ends.push((x, y, series));
        }
    }
    ends.sort_by(|a, b| a.1.total_cmp(&b.1));
    for k in 1..ends.len() {
        let least = ends[k - 1].1 + LABEL_STEP;
        ends[k].1 = ends[k].1.max(least);
    }
    // Back up from the lower edge where they were pushed past it.
    let mut limit = frame.bottom() + 2.0;
    for end in ends.iter_mut().rev() {
        end.1 = end.1.min(limit);
        limit = end.1 - LABEL_STEP;
    }
    for (x, y, series) in ends {
        let kind = Type::sans(12.0, series.ink.of(sheet.look), Along::Start);
        sheet.text(&series.label, x + 8.0, y, &kind)?;
    }
    Ok(())
}
