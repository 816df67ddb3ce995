//! The page's colours.

use super::Rgb;
use serde::Deserialize;

/// Which set of colours a figure is drawn in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// Ink on paper.
    #[default]
    Light,
    /// Paper on ink.
    Dark,
    /// Ink on white, for the printer.
    Print,
}

impl Theme {
    /// Its colours.
    #[must_use]
    pub fn look(self) -> &'static Look {
        match self {
            Self::Light => &LIGHT,
            Self::Dark => &DARK,
            Self::Print => &PRINT,
        }
    }
}

/// One set of colours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Look {
    /// The page.
    pub paper: Rgb,
    /// Cards, figures, under-strokes.
    pub plate: Rgb,
    /// Text, frames, contours.
    pub ink: Rgb,
    /// Second lines, tick labels.
    pub ink_2: Rgb,
    /// Quiet notes.
    pub ink_3: Rgb,
    /// First run, rows out, what is chosen.
    pub copper: Rgb,
    /// Second run.
    pub slate: Rgb,
    /// A chosen finding.
    pub wash: Rgb,
    /// Borders of controls.
    pub line: Rgb,
    /// Stronger hairlines, decoration only.
    pub rule_2: Rgb,
    /// Hairlines, decoration only.
    pub rule: Rgb,
}

/// Ink on paper.
pub const LIGHT: Look = Look {
    paper: [0xf6, 0xf3, 0xea],
    plate: [0xff, 0xfd, 0xf7],
    ink: [0x1e, 0x22, 0x28],
    ink_2: [0x54, 0x56, 0x5a],
    ink_3: [0x65, 0x64, 0x60],
    copper: [0xa0, 0x4a, 0x1a],
    slate: [0x3a, 0x4c, 0x74],
    wash: [0xf3, 0xe5, 0xd8],
    line: [0x8a, 0x84, 0x75],
    rule_2: [0xb9, 0xb2, 0xa0],
    rule: [0xde, 0xd8, 0xc9],
};

/// Paper on ink.
pub const DARK: Look = Look {
    paper: [0x14, 0x16, 0x1a],
    plate: [0x1a, 0x1d, 0x22],
    ink: [0xec, 0xe6, 0xd8],
    ink_2: [0xb6, 0xb1, 0xa5],
    ink_3: [0x95, 0x91, 0x86],
    copper: [0xe5, 0x9a, 0x69],
    slate: [0xae, 0xbd, 0xe2],
    wash: [0x33, 0x26, 0x1d],
    line: [0x73, 0x76, 0x7c],
    rule_2: [0x53, 0x56, 0x5c],
    rule: [0x2c, 0x2f, 0x35],
};

/// Ink on white.
pub const PRINT: Look = Look { paper: [0xff; 3], plate: [0xff; 3], ..LIGHT };
