//! The page's figures: each takes a canvas and a specification and gives back where the frame lies,
//! `{left, top, width, height}` in CSS pixels.

use crate::canvas::FineCanvas;
use crate::failure::Failure;
use crate::value::{from_js, to_js};
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use serde::Deserialize;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_draw::figure::{
    self, AxesSpec, BarsSpec, CellsSpec, CurvesSpec, Frame, Paper, Problem, TallySpec,
};
use wattsieve_draw::svg::Legend;
use web_sys::HtmlCanvasElement;

type Area<'a> = DrawingArea<FineCanvas<'a>, Shift>;

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

/// A line drawing that the page made itself, to be given a title and captions.
#[derive(Deserialize)]
struct Drawing {
    svg: String,
    width: f64,
    height: f64,
}

/// Draws a figure as an SVG file in the colours of paper, with its title above and its captions below. `tool`
/// is one of the figures' names or `drawing` (`{svg, width, height}`), `spec` what it takes, `words` a [`Legend`]; `canvas` only measures words.
///
/// # Errors
/// As [`axes`]; a tool that is none.
#[wasm_bindgen]
pub fn vector(
    canvas: HtmlCanvasElement,
    tool: &str,
    spec: JsValue,
    words: JsValue,
) -> Result<String, JsValue> {
    let legend: Legend = from_js(words, "words of a figure")?;
    let mut body = String::new();
    let (paper, frame) = match tool {
        "axes" => {
            let spec: AxesSpec = from_js(spec, "specification of the axes")?;
            (spec.paper, write(&canvas, &spec.paper, &mut body, |area| figure::axes(area, &spec))?)
        }
        "curves" => {
            let spec: CurvesSpec = from_js(spec, "specification of the curves")?;
            (spec.paper, write(&canvas, &spec.paper, &mut body, |area| figure::curves(area, &spec))?)
        }
        "bars" => {
            let spec: BarsSpec = from_js(spec, "specification of the bars")?;
            (spec.paper, write(&canvas, &spec.paper, &mut body, |area| figure::bars(area, &spec))?)
        }
        "cells" => {
            let spec: CellsSpec = from_js(spec, "specification of the cells")?;
            (spec.paper, write(&canvas, &spec.paper, &mut body, |area| figure::cells(area, &spec))?)
        }
        "tally" => {
            let spec: TallySpec = from_js(spec, "specification of the counts")?;
            (spec.paper, write(&canvas, &spec.paper, &mut body, |area| figure::tally(area, &spec))?)
        }
        "drawing" => {
            let drawing: Drawing = from_js(spec, "drawing")?;
            return Ok(legend.around(&drawing.svg, (drawing.width, drawing.height), [0.0; 4]));
        }
        _ => return Err(Failure::internal(&format!("no figure is called {tool}")).into()),
    };
    Ok(legend.around(&body, (paper.width, paper.height), [frame.left, frame.top, frame.width, frame.height]))
}

fn no_canvas() -> Failure {
    Failure {
        code: "no_canvas",
        message: "This browser gives no 2D canvas to draw on.".to_owned(),
        hint: Some("Allow canvas drawing for local pages, or use another browser.".to_owned()),
        at: None,
    }
}

fn write(
    canvas: &HtmlCanvasElement,
    paper: &Paper,
    body: &mut String,
    figure: impl for<'a> FnOnce(&Area<'a>) -> Result<Frame, Problem<FineCanvas<'a>>>,
) -> Result<Frame, JsValue> {
    onto(FineCanvas::text(canvas, paper, body).ok_or_else(no_canvas)?, figure)
}

fn draw(
    canvas: HtmlCanvasElement,
    paper: &Paper,
    figure: impl for<'a> FnOnce(&Area<'a>) -> Result<Frame, Problem<FineCanvas<'a>>>,
) -> Result<JsValue, JsValue> {
    to_js(&onto(FineCanvas::new(canvas, paper).ok_or_else(no_canvas)?, figure)?)
}

fn onto<'a>(
    backend: FineCanvas<'a>,
    figure: impl FnOnce(&Area<'a>) -> Result<Frame, Problem<FineCanvas<'a>>>,
) -> Result<Frame, JsValue> {
    let area = backend.into_drawing_area();
    let failed =
        |error: Problem<FineCanvas<'a>>| Failure::internal(&format!("a figure could not be drawn: {error}"));
    let frame = figure(&area).map_err(failed)?;
    area.present().map_err(failed)?;
    Ok(frame)
}
