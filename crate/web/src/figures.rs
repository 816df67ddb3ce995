//! The page's figures: each takes a canvas and a specification and gives back where the frame lies,
//! `{left, top, width, height}` in CSS pixels.

use crate::canvas::FineCanvas;
use crate::failure::Failure;
use crate::value::{from_js, to_js};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_draw::figure::{
    self, AxesSpec, BarsSpec, CellsSpec, CurvesSpec, Frame, Paper, Problem, TallySpec,
};
use web_sys::HtmlCanvasElement;

type Area = DrawingArea<FineCanvas, Shift>;

/// Draws axes, colour bar and notes over a scatter; see [`AxesSpec`] for the specification.
///
/// # Errors
/// A specification that cannot be understood, or a canvas that does not draw.
#[wasm_bindgen]
pub fn axes(canvas: HtmlCanvasElement, spec: JsValue) -> Result<JsValue, JsValue> {
    let spec: AxesSpec = from_js(spec, "specification of the axes")?;
    draw(canvas, &spec.paper, |area| figure::axes(area, &spec))
}

/// Draws curves with bands and marks; see [`CurvesSpec`] for the specification.
///
/// # Errors
/// As [`axes`].
#[wasm_bindgen]
pub fn curves(canvas: HtmlCanvasElement, spec: JsValue) -> Result<JsValue, JsValue> {
    let spec: CurvesSpec = from_js(spec, "specification of the curves")?;
    draw(canvas, &spec.paper, |area| figure::curves(area, &spec))
}

/// Draws values by name with their intervals; see [`BarsSpec`] for the specification.
///
/// # Errors
/// As [`axes`].
#[wasm_bindgen]
pub fn bars(canvas: HtmlCanvasElement, spec: JsValue) -> Result<JsValue, JsValue> {
    let spec: BarsSpec = from_js(spec, "specification of the bars")?;
    draw(canvas, &spec.paper, |area| figure::bars(area, &spec))
}

/// Draws a map of cells; see [`CellsSpec`] for the specification.
///
/// # Errors
/// As [`axes`].
#[wasm_bindgen]
pub fn cells(canvas: HtmlCanvasElement, spec: JsValue) -> Result<JsValue, JsValue> {
    let spec: CellsSpec = from_js(spec, "specification of the cells")?;
    draw(canvas, &spec.paper, |area| figure::cells(area, &spec))
}

/// Draws rows counted in bins; see [`TallySpec`] for the specification.
///
/// # Errors
/// As [`axes`].
#[wasm_bindgen]
pub fn tally(canvas: HtmlCanvasElement, spec: JsValue) -> Result<JsValue, JsValue> {
    let spec: TallySpec = from_js(spec, "specification of the counts")?;
    draw(canvas, &spec.paper, |area| figure::tally(area, &spec))
}

fn draw(
    canvas: HtmlCanvasElement,
    paper: &Paper,
    figure: impl FnOnce(&Area) -> Result<Frame, Problem<FineCanvas>>,
) -> Result<JsValue, JsValue> {
    let backend = FineCanvas::new(canvas, paper).ok_or_else(|| Failure {
        code: "no_canvas",
        message: "This browser gives no 2D canvas to draw on.".to_owned(),
        hint: Some("Allow canvas drawing for local pages, or use another browser.".to_owned()),
        at: None,
    })?;
    let area = backend.into_drawing_area();
    let failed =
        |error: Problem<FineCanvas>| Failure::internal(&format!("a figure could not be drawn: {error}"));
    let frame = figure(&area).map_err(failed)?;
    area.present().map_err(failed)?;
    to_js(&frame)
}
