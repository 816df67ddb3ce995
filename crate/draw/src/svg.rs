//! Figures as SVG text: for paper, for tests, for looking at them without a browser.
//!
//! One element per call, styles as plain attributes. Text is set in the family it is asked for;
//! its size is estimated, as no font is at hand here.

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontTransform,
};
use serde::Deserialize;
use std::convert::Infallible;
use std::fmt::Write;

use crate::colour::PRINT;
use crate::figure::{SANS, SERIF};

/// A drawing that grows as text.
pub struct Svg<'a> {
    size: (u32, u32),
    text: &'a mut String,
}

impl<'a> Svg<'a> {
    /// Starts a drawing of so many units; `scale` units make one CSS pixel.
    pub fn new(text: &'a mut String, size: (u32, u32), scale: f64) -> Self {
        let (width, height) = (f64::from(size.0) / scale, f64::from(size.1) / scale);
        text.clear();
        let _ = writeln!(
            text,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{height}\" viewBox=\"0 0 {} {}\">",
            size.0, size.1
        );
        Self { size, text }
    }

    fn put(&mut self, element: std::fmt::Arguments<'_>) -> Result<(), DrawingErrorKind<Infallible>> {
        // Writing to a string cannot fail.
        let _ = self.text.write_fmt(element);
        self.text.push('\n');
        Ok(())
    }

    fn points(path: impl IntoIterator<Item = BackendCoord>) -> String {
        let mut points = String::new();
        for (x, y) in path {
            let _ = write!(points, "{x},{y} ");
        }
        points
    }
}

fn paint(style: &impl BackendStyle, fill: bool) -> String {
    let colour = hex(style.color());
    let alpha = style.color().alpha;
    if fill {
        format!("fill=\"{colour}\" fill-opacity=\"{alpha}\"")
    } else {
        let width = style.stroke_width();
        format!(
            "fill=\"none\" stroke=\"{colour}\" stroke-opacity=\"{alpha}\" stroke-width=\"{width}\" stroke-linejoin=\"round\""
        )
    }
}

fn hex(colour: BackendColor) -> String {
    let (r, g, b) = colour.rgb;
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// What a figure's file says beside the drawing, and what lies under it.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(default)]
pub struct Legend {
    /// Title, above.
    pub title: String,
    /// Captions, below: what is shown, between which points, in which units.
    pub lines: Vec<String>,
    /// A picture that lies in the frame, under the drawing, as a `data:` address: the rows of a map.
    pub picture: Option<String>,
}

/// Room above the drawing, CSS pixels; line pitch and width of a letter of the captions.
const ABOVE: f64 = 40.0;
const PITCH: f64 = 17.0;
const LETTER: f64 = 6.1;

impl Legend {
    /// The whole file: the drawing `body` of this `size`, its `frame` (left, top, width, height), title and
    /// captions around it on white, CSS pixels.
    #[must_use]
    pub fn around(&self, body: &str, (width, height): (f64, f64), frame: [f64; 4]) -> String {
        let most = ((width - 40.0) / LETTER).max(20.0) as usize;
        let lines: Vec<String> = self.lines.iter().flat_map(|line| broken(line, most)).collect();
        let below = 20.0 + PITCH * lines.len() as f64;
        let whole = ABOVE + height + below;
        let mut text = String::with_capacity(body.len() + 1024);
        let _ = writeln!(
            text,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{whole}\" viewBox=\"0 0 {width} {whole}\">"
        );
        let title = escaped(&self.title);
        let _ = writeln!(text, "<title>{title}</title>");
        let _ = writeln!(text, "<rect width=\"{width}\" height=\"{whole}\" fill=\"#ffffff\"/>");
        let (serif, sans) = (escaped(SERIF), escaped(SANS));
        let [ink, second] = [PRINT.ink, PRINT.ink_2].map(|[r, g, b]| format!("#{r:02x}{g:02x}{b:02x}"));
        let _ = writeln!(
            text,
            "<text x=\"20\" y=\"26\" font-family=\"{serif}\" font-size=\"17\" fill=\"{ink}\">{title}</text>"
        );
        if let Some(picture) = &self.picture {
            let [left, top, wide, high] = frame;
            let (top, picture) = (ABOVE + top, escaped(picture));
            let _ = writeln!(
                text,
                "<image x=\"{left}\" y=\"{top}\" width=\"{wide}\" height=\"{high}\" preserveAspectRatio=\"none\" href=\"{picture}\"/>"
            );
        }
        let _ = writeln!(text, "<g transform=\"translate(0 {ABOVE})\">\n{}</g>", body.trim_start());
        for (k, line) in lines.iter().enumerate() {
            let (y, line) = (ABOVE + height + 18.0 + PITCH * k as f64, escaped(line));
            let _ = writeln!(
                text,
                "<text x=\"20\" y=\"{y}\" font-family=\"{sans}\" font-size=\"12\" fill=\"{second}\">{line}</text>"
            );
        }
        text.push_str("</svg>\n");
        text
    }
}

/// A line broken at spaces so that no part has more letters than `most`, where words allow it.
fn broken(line: &str, most: usize) -> Vec<String> {
    let mut parts: Vec<String> = Vec::new();
    for word in line.split(' ') {
        match parts.last_mut() {
            Some(last) if last.chars().count() + 1 + word.chars().count() <= most => {
                last.push(' ');
                last.push_str(word);
            }
            _ => parts.push(word.to_owned()),
        }
    }
    parts
}

/// Text made safe inside an element or a quoted attribute.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '"' => out.push_str("&quot;"),
            // Control characters are not allowed in XML at all.
            c if (c as u32) < 0x20 => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

impl DrawingBackend for Svg<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        self.size
    }

    fn ensure_prepared(&mut self) -> Result<(), DrawingErrorKind<Infallible>> {
        Ok(())
    }

    fn present(&mut self) -> Result<(), DrawingErrorKind<Infallible>> {
        if !self.text.ends_with("</svg>\n") {
            self.text.push_str("</svg>\n");
        }
        Ok(())
    }

    fn draw_pixel(
        &mut self,
        at: BackendCoord,
        colour: BackendColor,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.draw_rect(at, (at.0 + 1, at.1 + 1), &colour, true)
    }

    fn draw_line<S: BackendStyle>(
        &mut self,
        from: BackendCoord,
        to: BackendCoord,
        style: &S,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.draw_path([from, to], style)
    }

    fn draw_rect<S: BackendStyle>(
        &mut self,
        upper_left: BackendCoord,
        bottom_right: BackendCoord,
        style: &S,
        fill: bool,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        let (x, y) = upper_left;
        let (width, height) = (bottom_right.0 - x, bottom_right.1 - y);
        self.put(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {}/>",
            paint(style, fill)
        ))
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.put(format_args!("<polyline points=\"{}\" {}/>", Self::points(path), paint(style, false)))
    }

    fn draw_circle<S: BackendStyle>(
        &mut self,
        (x, y): BackendCoord,
        radius: u32,
        style: &S,
        fill: bool,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.put(format_args!("<circle cx=\"{x}\" cy=\"{y}\" r=\"{radius}\" {}/>", paint(style, fill)))
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        self.put(format_args!("<polygon points=\"{}\" {}/>", Self::points(path), paint(style, true)))
    }

    fn draw_text<S: BackendTextStyle>(
        &mut self,
        text: &str,
        style: &S,
        (x, y): BackendCoord,
    ) -> Result<(), DrawingErrorKind<Infallible>> {
        let turn = match style.transform() {
            FontTransform::None => String::new(),
            FontTransform::Rotate90 => format!(" transform=\"rotate(90 {x} {y})\""),
            FontTransform::Rotate180 => format!(" transform=\"rotate(180 {x} {y})\""),
            FontTransform::Rotate270 => format!(" transform=\"rotate(270 {x} {y})\""),
        };
        let anchor = match style.anchor().h_pos {
            HPos::Left => "start",
            HPos::Center => "middle",
            HPos::Right => "end",
        };
        // Baseline below the anchor by what the common fonts have above it.
        let drop = style.size()
            * match style.anchor().v_pos {
                VPos::Top => 0.8,
                VPos::Center => 0.35,
                VPos::Bottom => -0.2,
            };
        let drop = libm::round(drop);
        let (size, slant) = (style.size(), style.style());
        let family = escaped(style.family().as_str());
        let (colour, alpha) = (hex(style.color()), style.color().alpha);
        self.put(format_args!(
            "<text x=\"{x}\" y=\"{y}\" dy=\"{drop}\"{turn} text-anchor=\"{anchor}\" font-family=\"{family}\" font-size=\"{size}\" font-style=\"{}\" fill=\"{colour}\" fill-opacity=\"{alpha}\">{}</text>",
            slant.as_str(),
            escaped(text)
        ))
    }

    fn estimate_text_size<S: BackendTextStyle>(
        &self,
        text: &str,
        style: &S,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        // Mean advance of the common sans-serif fonts, narrow for the letters that are.
        let ems: f64 = text
            .chars()
            .map(|c| match c {
                'i' | 'l' | 'j' | 't' | 'f' | 'r' | ' ' | '.' | ',' | ':' | '\u{2009}' => 0.3,
                'm' | 'w' | 'M' | 'W' => 0.85,
                _ => 0.56,
            })
            .sum();
        Ok((libm::ceil(ems * style.size()) as u32, libm::ceil(style.size() * 1.15) as u32))
    }
}
