//! Axes: frame, ticks, tick labels, titles.

use super::sheet::{Along, Problem, Sheet, Type};
use crate::range::Range;
use crate::scale::{Kind, Scale};
use crate::tick::{Ticks, ticks};
use plotters_backend::DrawingBackend;
use serde::{Deserialize, Serialize};

/// One axis.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default)]
pub struct AxisSpec {
    /// Linear or logarithmic.
    pub kind: Kind,
    /// Values at its two ends; made usable where they are not (see [`Range::around`]).
    pub range: [f64; 2],
    /// "quantity / unit".
    pub title: String,
    /// Multiplies the values named at the ticks, such as 100 for percent.
    pub factor: f64,
    /// Most ticks to name; chosen from the length where `None`.
    pub most: Option<usize>,
    /// Names in place of numbers: the axis then runs over 0 to their count, each in the middle of
    /// its step.
    pub names: Vec<String>,
}

impl Default for AxisSpec {
    fn default() -> Self {
        Self {
            kind: Kind::Linear,
            range: [0.0, 1.0],
            title: String::new(),
            factor: 1.0,
            most: None,
            names: Vec::new(),
        }
    }
}

impl AxisSpec {
    fn range(&self) -> Range {
        if self.names.is_empty() {
            Range::around(self.range[0], self.range[1])
        } else {
            Range::around(0.0, self.names.len() as f64)
        }
    }

    /// The axis as a scale between two places.
    #[must_use]
    pub fn scale(&self, start: f64, end: f64) -> Scale {
        let kind = if self.names.is_empty() { self.kind } else { Kind::Linear };
        Scale::new(kind, self.range(), start, end)
    }

    fn ticks(&self, length: f64, spacing: f64) -> Ticks {
        if !self.names.is_empty() {
            let named = self.names.iter().enumerate();
            return Ticks {
                major: named.map(|(k, name)| (k as f64 + 0.5, name.clone())).collect(),
                minor: Vec::new(),
            };
        }
        let factor = if self.factor.is_finite() && self.factor != 0.0 { self.factor } else { 1.0 };
        let most = self.most.unwrap_or((length / spacing) as usize).clamp(2, 12);
        let range = if self.kind == Kind::Log { self.range().positive() } else { self.range() };
        let mut found = ticks(self.kind, range.times(factor), most);
        for (value, _) in &mut found.major {
            *value /= factor;
        }
        for value in &mut found.minor {
            *value /= factor;
        }
        found
    }
}

/// Room around the frame, CSS pixels; what is `None` is found from the labels.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Margins {
    /// Left of the frame.
    pub left: Option<f64>,
    /// Right of it.
    pub right: Option<f64>,
    /// Above it.
    pub top: Option<f64>,
    /// Below it.
    pub bottom: Option<f64>,
}

/// Where the frame lies, CSS pixels from the figure's top left corner.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Frame {
    /// Left side.
    pub left: f64,
    /// Top side.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Horizontal scale; places are CSS pixels of the figure.
    #[serde(skip)]
    pub x: Scale,
    /// Vertical scale.
    #[serde(skip)]
    pub y: Scale,
}

impl Frame {
    /// Right side.
    #[must_use]
    pub fn right(&self) -> f64 {
        self.left + self.width
    }

    /// Bottom side.
    #[must_use]
    pub fn bottom(&self) -> f64 {
        self.top + self.height
    }

    /// Place of a pair of values; `None` where either has none.
    #[must_use]
    pub fn place(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let place = (self.x.place(x), self.y.place(y));
        (place.0.is_finite() && place.1.is_finite()).then_some(place)
    }

    /// Whether a place lies inside, with a pixel to spare.
    #[must_use]
    pub fn holds(&self, (x, y): (f64, f64)) -> bool {
        x >= self.left - 1.0 && x <= self.right() + 1.0 && y >= self.top - 1.0 && y <= self.bottom() + 1.0
    }
}

/// How the frame is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Form {
    /// All four sides, ticks inward on each.
    Closed,
    /// Left and bottom only, hairlines across.
    Open,
    /// As open, without hairlines.
    Bare,
}

/// Size of tick labels and of axis titles, CSS pixels.
pub(super) const TICK_SIZE: f64 = 11.0;
pub(super) const TITLE_SIZE: f64 = 12.0;
const MAJOR: f64 = 6.0;
const MINOR: f64 = 3.0;

/// Finds where the frame lies, from the margins and the labels.
pub(super) fn lay<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    x: &AxisSpec,
    y: &AxisSpec,
    margins: &Margins,
) -> Result<Frame, Problem<DB>> {
    let top = margins.top.unwrap_or(12.0);
    let title = |axis: &AxisSpec| if axis.title.is_empty() { 0.0 } else { 20.0 };
    let bottom = margins.bottom.unwrap_or(24.0 + title(x));
    let room = |before: f64, after: f64, whole: f64| (whole - before - after).max(10.0);
    let height = room(top, bottom, sheet.height);
    let left = match margins.left {
        Some(left) => left,
        None => {
            let mut widest = 0.0_f64;
            for (_, label) in &y.ticks(height, 34.0).major {
                widest = widest.max(sheet.width_of(label, TICK_SIZE)?);
            }
            libm::ceil(widest) + 14.0 + title(y)
        }
    };
    let right = margins.right.unwrap_or(14.0);
    let width = room(left, right, sheet.width);
    // The sides lie on device pixels, so that what is laid under the frame fits it exactly.
    let (left, top) = (sheet.edge(left), sheet.edge(top));
    let (right, bottom) = (sheet.edge(left + width), sheet.edge(top + height));
    let (width, height) = (right - left, bottom - top);
    Ok(Frame { left, top, width, height, x: x.scale(left, right), y: y.scale(bottom, top) })
}

/// Hairlines across at the vertical ticks.
pub(super) fn hairlines<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    y: &AxisSpec,
) -> Result<(), Problem<DB>> {
    for (value, _) in &y.ticks(frame.height, 34.0).major {
        let at = frame.y.place(*value);
        if at < frame.bottom() - 1.0 {
            sheet.hair((frame.left, at), (frame.right(), at), sheet.look.rule, 1.0)?;
        }
    }
    Ok(())
}

/// Draws the frame with ticks, labels and titles.
pub(super) fn rule<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    frame: &Frame,
    x: &AxisSpec,
    y: &AxisSpec,
    form: Form,
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let ink = look.ink;
    let (left, top, right, bottom) = (frame.left, frame.top, frame.right(), frame.bottom());
    let closed = form == Form::Closed;
    let across = x.ticks(frame.width, if x.kind == Kind::Log { 46.0 } else { 64.0 });
    let up = y.ticks(frame.height, 34.0);

    let named = !x.names.is_empty();
    for (list, length) in [(values(&across), MAJOR), (across.minor.clone(), MINOR)] {
        for value in list {
            let at = frame.x.place(value);
            sheet.hair((at, bottom), (at, bottom - length), ink, 1.0)?;
            if closed {
                sheet.hair((at, top), (at, top + length), ink, 1.0)?;
            }
        }
    }
    for (list, length) in [(values(&up), MAJOR), (up.minor.clone(), MINOR)] {
        for value in list {
            let at = frame.y.place(value);
            sheet.hair((left, at), (left + length, at), ink, 1.0)?;
            if closed {
                sheet.hair((right, at), (right - length, at), ink, 1.0)?;
            }
        }
    }
    if closed {
        // Drawn just outside the plot, which the raster fills to its edge.
        sheet.outline((left, top), (right, bottom), ink)?;
    } else {
        sheet.hair((left, top), (left, bottom), ink, 1.0)?;
        sheet.hair((left, bottom), (right, bottom), ink, 1.0)?;
    }

    let mut last_end = f64::NEG_INFINITY;
    for (value, label) in &across.major {
        let half = sheet.width_of(label, TICK_SIZE)? / 2.0;
        let at = frame.x.place(*value);
        // Names that do not fit beside each other take turns on two lines.
        let crowded = at - half < last_end + 4.0;
        if crowded && !named {
            continue;
        }
        let drop = if crowded { 25.0 } else { 13.0 };
        sheet.text(label, at, bottom + drop, &Type::sans(TICK_SIZE, look.ink_2, Along::Middle))?;
        if !crowded {
            last_end = at + half;
        }
    }
    for (value, label) in &up.major {
        let at = frame.y.place(*value);
        sheet.text(label, left - 8.0, at, &Type::sans(TICK_SIZE, look.ink_2, Along::End))?;
    }
    let title = Type::sans(TITLE_SIZE, look.ink, Along::Middle);
    sheet.text(&x.title, (left + right) / 2.0, bottom + 32.0, &title)?;
    sheet.text(&y.title, 10.0, (top + bottom) / 2.0, &Type { upwards: true, ..title })
}

fn values(ticks: &Ticks) -> Vec<f64> {
    ticks.major.iter().map(|(value, _)| *value).collect()
}

/// The parts of a line inside the frame.
pub(super) fn clipped(frame: &Frame, path: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
    let mut out: Vec<Vec<(f64, f64)>> = Vec::new();
    for pair in path.windows(2) {
        if let Some((a, b)) = clip(frame, pair[0], pair[1]) {
            match out.last_mut() {
                Some(last) if last.last() == Some(&a) => last.push(b),
                _ => out.push(vec![a, b]),
            }
        }
    }
    out
}

/// The part of one step of a line inside the frame, by the parametric method of Liang and Barsky.
fn clip(frame: &Frame, a: (f64, f64), b: (f64, f64)) -> Option<((f64, f64), (f64, f64))> {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    for (step, room) in [
        (-dx, a.0 - frame.left),
        (dx, frame.right() - a.0),
        (-dy, a.1 - frame.top),
        (dy, frame.bottom() - a.1),
    ] {
        if step == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if step < 0.0 {
            from = from.max(room / step);
        } else {
            to = to.min(room / step);
        }
    }
    let at = |t: f64| {
        if t == 0.0 {
            a
        } else if t == 1.0 {
            b
        } else {
            (a.0 + dx * t, a.1 + dy * t)
        }
    };
    (from <= to).then(|| (at(from), at(to)))
}
