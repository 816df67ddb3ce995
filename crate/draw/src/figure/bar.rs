//! The colour bar with the histogram beside it.

use super::frame::{TICK_SIZE, TITLE_SIZE};
use super::sheet::{Along, Problem, Sheet, Type};
use crate::colour::Ramp;
use crate::range::Range;
use crate::scale::{Kind, Scale};
use crate::tick::{number_label, ticks};
use plotters_backend::DrawingBackend;
use serde::Deserialize;

/// A colour bar.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default)]
pub struct BarSpec {
    /// Which colours.
    pub ramp: Ramp,
    /// Values at its two ends.
    pub range: [f64; 2],
    /// "quantity / unit".
    pub title: String,
    /// Multiplies the values named, such as 100 for percent.
    pub factor: f64,
    /// Rows by value, from the lower to the upper end; empty for none.
    pub histogram: Vec<f64>,
    /// Share of rows below the lower end, 0 to 1.
    pub below: f64,
    /// Share of rows above the upper end, 0 to 1.
    pub above: f64,
    /// A value to mark in copper.
    pub mark: Option<f64>,
}

impl Default for BarSpec {
    fn default() -> Self {
        Self {
            ramp: Ramp::Efficiency,
            range: [0.0, 1.0],
            title: String::new(),
            factor: 1.0,
            histogram: Vec::new(),
            below: 0.0,
            above: 0.0,
            mark: None,
        }
    }
}

/// Width of the bar, and room its histogram takes, CSS pixels.
const WIDTH: f64 = 10.0;
const HISTOGRAM: f64 = 30.0;

/// Draws the bar upright between two heights, its left side at `x`.
pub(super) fn upright<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    spec: &BarSpec,
    x: f64,
    (top, bottom): (f64, f64),
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let (x, right) = (sheet.edge(x), sheet.edge(x + WIDTH));
    let range = Range::around(spec.range[0], spec.range[1]);
    let scale = Scale::new(Kind::Linear, range, bottom, top);
    let tallest = spec.histogram.iter().copied().fold(0.0, f64::max);
    if tallest > 0.0 {
        let step = (bottom - top) / spec.histogram.len() as f64;
        for (k, &count) in spec.histogram.iter().enumerate() {
            // A single row still shows as a hair.
            let length = if count > 0.0 { (count / tallest * HISTOGRAM).max(0.75) } else { 0.0 };
            let low = bottom - step * k as f64;
            sheet.box_of((x - 4.0 - length, low - step), (x - 4.0, low), look.ink_3, 0.55)?;
        }
    }
    colours(sheet, spec, &scale, |from, to| ((x, to), (right, from)))?;
    sheet.outline((x, top), (right - 0.5, bottom), look.ink)?;

    let factor = if spec.factor.is_finite() && spec.factor != 0.0 { spec.factor } else { 1.0 };
    let most = ((bottom - top) / 34.0) as usize;
    let text = Type::sans(TICK_SIZE, look.ink_2, Along::Start);
    for (value, label) in &ticks(Kind::Linear, range.times(factor), most.clamp(2, 10)).major {
        let at = scale.place(value / factor);
        sheet.hair((right, at), (right + 4.0, at), look.ink, 1.0)?;
        sheet.text(label, right + 8.0, at, &text)?;
    }
    sheet.text(&spec.title, sheet.width - 4.0, top - 16.0, &Type::sans(TITLE_SIZE, look.ink, Along::End))?;
    let off = off_the_scale(spec.below, spec.above);
    sheet.text(&off, sheet.width - 4.0, bottom + 32.0, &Type::sans(TICK_SIZE, look.ink_2, Along::End))?;
    if let Some(value) = spec.mark.filter(|value| range.holds(*value)) {
        let at = scale.place(value);
        sheet.line(&[(x - 8.0, at), (right + 5.0, at)], look.plate, 3.5, 1.0)?;
        sheet.line(&[(x - 9.0, at), (right + 6.0, at)], look.copper, 1.5, 1.0)?;
    }
    Ok(())
}

/// Draws the bar lying, its top left corner given.
pub(super) fn lying<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    spec: &BarSpec,
    (left, top): (f64, f64),
    length: f64,
) -> Result<(), Problem<DB>> {
    let look = sheet.look;
    let range = Range::around(spec.range[0], spec.range[1]);
    let (left, right) = (sheet.edge(left), sheet.edge(left + length));
    let (top, bottom) = (sheet.edge(top), sheet.edge(top + WIDTH));
    let scale = Scale::new(Kind::Linear, range, left, right);
    colours(sheet, spec, &scale, |from, to| ((from, top), (to, bottom)))?;
    sheet.outline((left, top), (right, bottom - 0.5), look.ink)?;
    let factor = if spec.factor.is_finite() && spec.factor != 0.0 { spec.factor } else { 1.0 };
    let text = Type::sans(TICK_SIZE, look.ink_2, Along::Middle);
    let found = ticks(Kind::Linear, range.times(factor), ((length / 44.0) as usize).clamp(2, 8));
    for (value, label) in &found.major {
        let at = scale.place(value / factor);
        sheet.hair((at, bottom), (at, bottom + 4.0), look.ink, 1.0)?;
        sheet.text(label, at, bottom + 12.0, &text)?;
    }
    sheet.text(&spec.title, right, top - 9.0, &Type::sans(TICK_SIZE, look.ink_2, Along::End))?;
    if let Some(value) = spec.mark.filter(|value| range.holds(*value)) {
        let at = scale.place(value);
        sheet.line(&[(at, top - 5.0), (at, bottom + 5.0)], look.copper, 1.5, 1.0)?;
    }
    Ok(())
}

/// The colours along the bar, one box per step, later ones over earlier ones; `corners`
/// turns two places into a box.
fn colours<DB: DrawingBackend>(
    sheet: &Sheet<'_, DB>,
    spec: &BarSpec,
    scale: &Scale,
    corners: impl Fn(f64, f64) -> ((f64, f64), (f64, f64)),
) -> Result<(), Problem<DB>> {
    let table = spec.ramp.table(sheet.look);
    let range = scale.range();
    let spread = spec.ramp.spread(range);
    let steps = 128;
    for k in 0..steps {
        let value = |k: usize| range.lo() + range.span() * k as f64 / steps as f64;
        let middle = (value(k) + value(k + 1)) / 2.0;
        // Each on to the end, so that no ground shows between two.
        let (a, b) = corners(scale.place(value(k)), scale.place(range.hi()));
        sheet.box_of(a, b, table[crate::colour::slot(spread, middle) as usize], 1.0)?;
    }
    Ok(())
}

/// Says what share of the rows lies off the scale; nothing where that is nothing.
fn off_the_scale(below: f64, above: f64) -> String {
    match (below > 0.0, above > 0.0) {
        (true, true) => format!("{} of rows below, {} above", percent(below), percent(above)),
        (true, false) => format!("{} of rows below", percent(below)),
        (false, true) => format!("{} of rows above", percent(above)),
        (false, false) => String::new(),
    }
}

/// A share as percent with two significant figures.
fn percent(share: f64) -> String {
    let percent = share * 100.0;
    if percent < 0.01 {
        return "under 0.01 %".to_owned();
    }
    let digits = if percent >= 10.0 {
        0
    } else if percent >= 1.0 {
        1
    } else {
        2
    };
    let unit = crate::tick::power_of_ten(digits);
    format!("{} %", number_label(libm::round(percent * unit) / unit))
}
