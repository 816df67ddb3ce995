//! Looking at one run: extent, raster, the row under the pointer, the time strip.

use crate::Handle;
use crate::failure::Failure;
use crate::value::{from_js, to_js};
use js_sys::{Object, Reflect, Uint8Array};
use serde::{Deserialize, Serialize};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::bench::RunRows;
use wattsieve_core::point::{COVERAGE_95, RowPoint, Rows as _};
use wattsieve_core::sieve::{REASONS, Reason};
use wattsieve_draw::colour::Theme;
use wattsieve_draw::range::Range;
use wattsieve_draw::raster::{Options, Placed, Raster, Source as _, View, disc_of, draw};
use wattsieve_draw::run::{self, Colour, Scatter};
use wattsieve_draw::scale::{Kind, Scale};
use wattsieve_draw::strip::Envelope;
use wattsieve_draw::tick::number_label;

/// What was last drawn.
#[derive(Default)]
pub(crate) struct Look {
    drawn: Option<Drawn>,
}

/// The picture in front.
struct Drawn {
    run: usize,
    colour: Colour,
    /// The rows' standing when they were placed.
    standing: [u64; 2],
    placed: Placed,
    options: Options,
}

#[derive(Deserialize)]
struct OfRun {
    run: usize,
}

#[derive(Deserialize)]
struct RasterRequest {
    run: usize,
    width: f64,
    height: f64,
    ratio: f64,
    x: [f64; 2],
    y: [f64; 2],
    #[serde(default)]
    y_log: bool,
    #[serde(default)]
    colour: Colour,
    range: [f64; 2],
    #[serde(default)]
    rejected: bool,
    #[serde(default)]
    highlight: Option<Vec<[usize; 2]>>,
    #[serde(default)]
    theme: Theme,
    #[serde(default)]
    selection: Option<Selection>,
    /// For paper or a file: the hit index of the picture on the screen stays.
    #[serde(default)]
    still: bool,
}

/// A stretch of time, as an object or as a pair.
#[derive(Deserialize)]
#[serde(untagged)]
enum Selection {
    Named { from: f64, to: f64 },
    Pair([f64; 2]),
}

#[derive(Serialize)]
struct RasterReply {
    width: usize,
    height: usize,
    histogram: Vec<u32>,
    below: usize,
    above: usize,
    drawn: usize,
    crosses: usize,
    /// Shares of the rows drawn that lie under, over and off the scale of colours; 0 without rows.
    below_share: f64,
    above_share: f64,
    off_scale_share: f64,
    /// Contours and the outline of the visited region, as `lines` of the axes take them.
    lines: Vec<LineReply>,
}

/// One line over the picture, in values of its axes.
#[derive(Serialize)]
struct LineReply {
    points: Vec<[f64; 2]>,
    label: String,
    weight: f64,
}

/// Rows in the picture below which contours would be drawn by chance.
const CONTOURS_FROM: usize = 500;

fn lines(picture: &Raster, view: &View, colour: Colour, range: Range) -> Vec<LineReply> {
    let values =
        |places: Vec<(f64, f64)>| places.iter().map(|&(x, y)| [view.x.value(x), view.y.value(y)]).collect();
    if picture.drawn < CONTOURS_FROM {
        return Vec::new();
    }
    let factor = match colour {
        Colour::Efficiency => 100.0,
        Colour::Loss => 1.0,
    };
    let outline = picture.squares.outline().into_iter();
    let outline =
        outline.map(|places| LineReply { points: values(places), label: String::new(), weight: 0.9 });
    let contours = picture.squares.contours(range, factor, 9).into_iter().map(|line| LineReply {
        points: values(line.places),
        label: number_label(line.value * factor),
        weight: 0.8,
    });
    outline.chain(contours).collect()
}

#[derive(Deserialize)]
struct HoverRequest {
    run: usize,
    x: f64,
    y: f64,
    radius: f64,
}

#[derive(Deserialize)]
struct WalkRequest {
    run: usize,
    row: f64,
    by: Step,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Step {
    By(f64),
    To(String),
}

#[derive(Deserialize)]
struct StripRequest {
    run: usize,
    width: f64,
}

#[derive(Serialize)]
struct ExtentReply {
    v_in: Option<[f64; 2]>,
    i_out: Option<[f64; 2]>,
    efficiency: Option<[f64; 2]>,
    loss: Option<[f64; 2]>,
    time: Option<[f64; 2]>,
    rows: usize,
    kept: usize,
}

/// One row under the pointer.
#[derive(Serialize)]
struct Reading {
    row: usize,
    line: Option<u32>,
    time: f64,
    v_in: f64,
    i_in: f64,
    v_out: f64,
    i_out: f64,
    p_in: f64,
    p_out: f64,
    loss: f64,
    efficiency: f64,
    u_random: f64,
    u_systematic: Option<f64>,
    u: Option<f64>,
    /// Half of the 95 % interval.
    half_95: Option<f64>,
    loss_u_random: f64,
    loss_u: Option<f64>,
    loss_half_95: Option<f64>,
    parts: Vec<PartReply>,
    reasons: Vec<&'static str>,
    kept: bool,
    operating: bool,
    /// Place in the last raster, device pixels.
    px: Option<[f64; 2]>,
}

/// What an uncertainty is made of; points are half of a 95 % interval.
#[derive(Serialize)]
struct PartReply {
    name: &'static str,
    u: f64,
    points: f64,
}

#[derive(Serialize)]
struct StripReply {
    time: [f64; 2],
    v_in: EnvelopeReply,
    i_out: EnvelopeReply,
    efficiency: EnvelopeReply,
    out: Vec<u32>,
}

#[derive(Serialize)]
struct EnvelopeReply {
    unit: &'static str,
    lo: Option<f64>,
    hi: Option<f64>,
    min: Vec<f64>,
    max: Vec<f64>,
}

impl EnvelopeReply {
    fn of(envelope: Envelope, unit: &'static str) -> Self {
        let range = envelope.range();
        Self {
            unit,
            lo: range.map(Range::lo),
            hi: range.map(Range::hi),
            min: envelope.min,
            max: envelope.max,
        }
    }
}

#[wasm_bindgen]
impl Handle {
    /// Where a run's operating points lie.
    ///
    /// # Errors
    /// There is no such run.
    pub fn extent(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let OfRun { run } = from_js(request, "request for an extent")?;
        let found = run::extent(&self.rows(run)?);
        let pair = |range: Option<Range>| range.map(|range| [range.lo(), range.hi()]);
        to_js(&ExtentReply {
            v_in: pair(found.v_in),
            i_out: pair(found.i_out),
            efficiency: pair(found.efficiency),
            loss: pair(found.loss),
            time: pair(found.time),
            rows: found.rows,
            kept: found.kept,
        })
    }

    /// The scatter of a run as pixels; `pixels` is a buffer of its own, made to be transferred.
    ///
    /// # Errors
    /// There is no such run, or the request cannot be understood.
    pub fn raster(&mut self, request: JsValue) -> Result<JsValue, JsValue> {
        let wanted: RasterRequest = from_js(request, "request for a picture")?;
        // The casts hold at both ends.
        let (width, height) = ((wanted.width as usize).max(1), (wanted.height as usize).max(1));
        let kind = if wanted.y_log { Kind::Log } else { Kind::Linear };
        let view = View {
            width,
            height,
            ratio: wanted.ratio,
            x: Scale::new(Kind::Linear, Range::around(wanted.x[0], wanted.x[1]), 0.0, width as f64),
            y: Scale::new(kind, Range::around(wanted.y[0], wanted.y[1]), height as f64, 0.0),
        };
        let rows = self.rows(wanted.run)?;
        let options = Options {
            disc: disc_of(rows.rows()),
            ramp: wanted.colour.ramp(),
            range: Range::around(wanted.range[0], wanted.range[1]),
            rejected: wanted.rejected,
            highlight: ascending(wanted.highlight.unwrap_or_default()),
            selection: wanted.selection.map(|selection| match selection {
                Selection::Named { from, to } | Selection::Pair([from, to]) => (from.min(to), from.max(to)),
            }),
            look: *wanted.theme.look(),
        };
        let scatter = Scatter { rows: &rows, colour: wanted.colour };
        let standing = self.bench.standing(wanted.run).unwrap_or_default();
        // Rows that were placed in this view are where they were.
        let held = self
            .in_front(wanted.run)
            .filter(|drawn| drawn.colour == wanted.colour && *drawn.placed.view() == view);
        let fresh = if held.is_none() { Some(Placed::new(&scatter, &view)) } else { None };
        let Some(placed) = fresh.as_ref().or(held.map(|drawn| &drawn.placed)) else {
            return Ok(JsValue::NULL);
        };
        let picture = draw(&scatter, placed, &options);
        let share = |rows: usize| rows as f64 / picture.drawn.max(1) as f64;
        let reply = to_js(&RasterReply {
            width,
            height,
            histogram: picture.histogram.clone(),
            below: picture.below,
            above: picture.above,
            drawn: picture.drawn,
            crosses: picture.crosses,
            below_share: share(picture.below),
            above_share: share(picture.above),
            off_scale_share: share(picture.below + picture.above),
            lines: lines(&picture, &view, wanted.colour, options.range),
        })?;
        // A copy outside the memory of wasm, which the next call may move.
        let pixels = Uint8Array::from(picture.pixels.as_flattened()).buffer();
        Reflect::set(&Object::from(reply.clone()), &JsValue::from_str("pixels"), &pixels)?;
        if !wanted.still {
            if let Some(placed) = fresh {
                let (run, colour) = (wanted.run, wanted.colour);
                self.look.drawn = Some(Drawn { run, colour, standing, placed, options });
            } else if let Some(drawn) = &mut self.look.drawn {
                drawn.options = options;
            }
        }
        Ok(reply)
    }

    /// The row nearest to a place in the run's last raster, or `null`.
    ///
    /// # Errors
    /// There is no such run.
    pub fn hover(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let HoverRequest { run, x, y, radius } = from_js(request, "place of the pointer")?;
        let rows = self.rows(run)?;
        let Some(drawn) = self.in_front(run) else { return Ok(JsValue::NULL) };
        let scatter = Scatter { rows: &rows, colour: drawn.colour };
        let nearest = drawn.placed.nearest(&scatter, &drawn.options, (x, y), radius);
        match nearest {
            Some(row) => to_js(&self.reading(run, &rows, row)),
            None => Ok(JsValue::NULL),
        }
    }

    /// The row so many steps from another one, or the first or last (`home`, `end`); rows without a
    /// voltage or current are passed over.
    ///
    /// # Errors
    /// There is no such run.
    pub fn walk(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let WalkRequest { run, row, by } = from_js(request, "step")?;
        let rows = self.rows(run)?;
        let Some(last) = rows.rows().checked_sub(1) else { return Ok(JsValue::NULL) };
        let (target, forward) = match by {
            Step::By(by) => (row + by, by >= 0.0),
            Step::To(end) if end == "end" => (last as f64, false),
            Step::To(_) => (0.0, true),
        };
        // The cast holds at both ends.
        let start = (target.max(0.0) as usize).min(last);
        let shown = |row: &usize| {
            let state = rows.state(*row);
            state.v_in.is_finite() && state.i_out.is_finite()
        };
        let found = if forward {
            (start..=last).find(shown).or_else(|| (0..start).rev().find(shown))
        } else {
            (0..=start).rev().find(shown).or_else(|| (start..=last).find(shown))
        };
        match found {
            Some(row) => to_js(&self.reading(run, &rows, row)),
            None => Ok(JsValue::NULL),
        }
    }

    /// A run against time, squeezed into so many columns; `null` without a row that has a time.
    ///
    /// # Errors
    /// There is no such run.
    pub fn strip(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let StripRequest { run, width } = from_js(request, "request for the strip")?;
        let Some(strip) = run::strip(&self.rows(run)?, width as usize) else { return Ok(JsValue::NULL) };
        to_js(&StripReply {
            time: [strip.time.lo(), strip.time.hi()],
            v_in: EnvelopeReply::of(strip.v_in, "V"),
            i_out: EnvelopeReply::of(strip.i_out, "A"),
            efficiency: EnvelopeReply::of(strip.efficiency, "1"),
            out: strip.out,
        })
    }
}

impl Handle {
    /// The picture of a run, where it is the one in front and the rows stand where they stood in it.
    fn in_front(&self, run: usize) -> Option<&Drawn> {
        let standing = self.bench.standing(run)?;
        self.look.drawn.as_ref().filter(|drawn| drawn.run == run && drawn.standing == standing)
    }

    fn rows(&self, run: usize) -> Result<RunRows<'_>, JsValue> {
        self.bench.rows_of(run).ok_or_else(|| {
            Failure {
                code: "no_run",
                message: format!("There is no run number {}.", run + 1),
                hint: Some("Open the log of a converter at work.".to_owned()),
                at: None,
            }
            .into()
        })
    }

    fn reading(&self, run: usize, rows: &RunRows<'_>, row: usize) -> Reading {
        let point = RowPoint::of(rows, row);
        let mask = rows.mask(row);
        let place = self
            .in_front(run)
            .and_then(|drawn| drawn.placed.view().place(&Scatter { rows, colour: drawn.colour }.dot(row)));
        let parts = point.parts.iter().map(|part| PartReply {
            name: part.name,
            u: part.u,
            points: 100.0 * COVERAGE_95 * part.u,
        });
        Reading {
            row,
            line: rows.aligned.readings().lines.get(row).copied(),
            time: point.time,
            v_in: point.v_in,
            i_in: point.i_in,
            v_out: point.v_out,
            i_out: point.i_out,
            p_in: point.p_in,
            p_out: point.p_out,
            loss: point.loss,
            efficiency: point.efficiency,
            u_random: point.u_random,
            u_systematic: point.u_systematic,
            u: point.u,
            half_95: point.half_95,
            loss_u_random: point.loss_u_random,
            loss_u: point.loss_u,
            loss_half_95: point.loss_half_95,
            parts: parts.collect(),
            reasons: REASONS
                .into_iter()
                .filter(|reason| mask & reason.bit() != 0)
                .map(Reason::code)
                .collect(),
            kept: Reason::kept(mask),
            operating: Reason::operating(mask),
            px: place.map(|(x, y)| [x, y]),
        }
    }
}

/// Stretches sorted and joined where they overlap; reversed ones dropped.
fn ascending(mut stretches: Vec<[usize; 2]>) -> Vec<[usize; 2]> {
    stretches.retain(|stretch| stretch[0] <= stretch[1]);
    stretches.sort_unstable();
    let mut joined: Vec<[usize; 2]> = Vec::with_capacity(stretches.len());
    for stretch in stretches {
        match joined.last_mut() {
            Some(last) if stretch[0] <= last[1] => last[1] = last[1].max(stretch[1]),
            _ => joined.push(stretch),
        }
    }
    joined
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_are_put_in_order() {
        assert_eq!(ascending(vec![[5, 9], [1, 2], [8, 12], [4, 3]]), vec![[1, 2], [5, 12]]);
    }
}
