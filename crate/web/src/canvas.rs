//! The plotters backend of a canvas or of a text, with two things of our own: text is measured by the canvas
//! itself, and units are finer than pixels.
//!
//! The library's own measuring puts a styled element into the page, which the page's policy
//! refuses. Its whole-number coordinates would put every line on the nearest pixel; here one unit
//! is an eighth of a device pixel, and the canvas scales back.

use std::convert::Infallible;

use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
};
use plotters_canvas::CanvasBackend;
use wasm_bindgen::JsCast;
use wasm_bindgen::prelude::JsValue;
use wattsieve_draw::figure::{Paper, SUBUNITS};
use wattsieve_draw::svg::Svg;
use web_sys::{CanvasRenderingContext2d, HtmlCanvasElement};

/// Error of the wrapped backend.
type CanvasError = <CanvasBackend as DrawingBackend>::ErrorType;
/// What every drawing call gives.
type Drawn = Result<(), DrawingErrorKind<CanvasError>>;

/// What a figure is drawn on.
enum Ground<'a> {
    Canvas(CanvasBackend),
    Text(Svg<'a>),
}

/// A canvas in eighths of device pixels, or a drawing as text whose words a canvas measures: one backend, so
/// that the figures exist once.
pub(crate) struct FineCanvas<'a> {
    ground: Ground<'a>,
    context: CanvasRenderingContext2d,
    size: (u32, u32),
}

impl FineCanvas<'static> {
    /// Sizes and clears the canvas for a paper; `None` where it has no 2D context.
    pub(crate) fn new(canvas: HtmlCanvasElement, paper: &Paper) -> Option<Self> {
        let (width, height) = pixels(paper);
        if canvas.width() != width {
            canvas.set_width(width);
        }
        if canvas.height() != height {
            canvas.set_height(height);
        }
        let context: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.dyn_into().ok()?;
        context.reset_transform().ok()?;
        context.clear_rect(0.0, 0.0, f64::from(width), f64::from(height));
        context.scale(1.0 / SUBUNITS, 1.0 / SUBUNITS).ok()?;
        context.set_line_join("round");
        let ground = Ground::Canvas(CanvasBackend::with_canvas_object(canvas)?);
        Some(Self { ground, context, size: (width * SUBUNITS as u32, height * SUBUNITS as u32) })
    }
}

impl<'a> FineCanvas<'a> {
    /// Draws into a text; the canvas only measures words. `None` where it has no 2D context.
    pub(crate) fn text(canvas: &HtmlCanvasElement, paper: &Paper, text: &'a mut String) -> Option<Self> {
        let context: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.dyn_into().ok()?;
        let (width, height) = pixels(paper);
        let size = (width * SUBUNITS as u32, height * SUBUNITS as u32);
        let ground = Ground::Text(Svg::new(text, size, paper.scale()));
        Some(Self { ground, context, size })
    }
}

/// Device pixels of a paper.
fn pixels(paper: &Paper) -> (u32, u32) {
    let pixels = |css: f64| ((css * paper.sane_ratio() + 0.5) as u32).clamp(1, 16_384);
    (pixels(paper.width), pixels(paper.height))
}

/// Writing to a text cannot fail by itself.
fn written(done: Result<(), DrawingErrorKind<Infallible>>) -> Drawn {
    done.map_err(|error| match error {
        DrawingErrorKind::DrawingError(never) => match never {},
        DrawingErrorKind::FontError(error) => DrawingErrorKind::FontError(error),
    })
}

/// A browser's refusal as the wrapped backend's error, which only the backend itself can make;
/// measuring falls back to a guess instead.
fn guess(text: &str, size: f64) -> (u32, u32) {
    ((text.chars().count() as f64 * size * 0.55) as u32, size as u32)
}

impl DrawingBackend for FineCanvas<'_> {
    type ErrorType = CanvasError;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.ensure_prepared(),
            Ground::Text(svg) => written(svg.ensure_prepared()),
        }
    }

    fn present(&mut self) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.present(),
            Ground::Text(svg) => written(svg.present()),
        }
    }

    fn draw_pixel(&mut self, point: BackendCoord, colour: BackendColor) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_pixel(point, colour),
            Ground::Text(svg) => written(svg.draw_pixel(point, colour)),
        }
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_line(from, to, style),
            Ground::Text(svg) => written(svg.draw_line(from, to, style)),
        }
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_rect(upper_left, bottom_right, style, fill),
            Ground::Text(svg) => written(svg.draw_rect(upper_left, bottom_right, style, fill)),
        }
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_path(path, style),
            Ground::Text(svg) => written(svg.draw_path(path, style)),
        }
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        centre: BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_circle(centre, radius, style, fill),
            Ground::Text(svg) => written(svg.draw_circle(centre, radius, style, fill)),
        }
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.fill_polygon(path, style),
            Ground::Text(svg) => written(svg.fill_polygon(path, style)),
        }
    }

    fn draw_text<S: BackendTextStyle>(&mut self, text: &str, style: &S, at: BackendCoord) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.draw_text(text, style, at),
            Ground::Text(svg) => written(svg.draw_text(text, style, at)),
        }
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<CanvasError>> {
        let (slant, size, family) = (style.style(), style.size(), style.family());
        self.context.set_font(&format!("{} {size}px {}", slant.as_str(), family.as_str()));
        let measured: Result<_, JsValue> = self.context.measure_text(text);
        Ok(measured.map_or_else(
            |_| guess(text, size),
            |metrics| {
                let height = metrics.font_bounding_box_ascent() + metrics.font_bounding_box_descent();
                // The casts hold at both ends and send NaN to 0.
                (metrics.width().ceil() as u32, height.ceil() as u32)
            },
        ))
    }

    fn blit_bitmap(&mut self, at: BackendCoord, size: (u32, u32), source: &[u8]) -> Drawn {
        match &mut self.ground {
            Ground::Canvas(canvas) => canvas.blit_bitmap(at, size, source),
            Ground::Text(svg) => written(svg.blit_bitmap(at, size, source)),
        }
    }
}
