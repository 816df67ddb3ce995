//! The columns that the sieve counts over.

use std::ops::Range;

use super::Settings;
use crate::align::Aligned;
use crate::channel::{CHANNELS, Channel};

/// Most columns that the sieve counts over.
pub const MOST_COLUMNS: usize = 8;

/// Columns of readings, row by row.
pub trait Table {
    /// Number of rows.
    fn rows(&self) -> usize;

    /// Number of columns, at most [`MOST_COLUMNS`].
    fn columns(&self) -> usize;

    /// One column of a range of rows; **shape** `out` is as long as `rows`. `NaN` where missing.
    fn fill(&self, column: usize, rows: Range<usize>, out: &mut [f64]);

    /// The same where it stands in memory as it is, as long as `rows`; `None` where it has to be worked out.
    fn stored(&self, _column: usize, _rows: Range<usize>) -> Option<&[f64]> {
        None
    }
}

/// One column of a range of rows, worked out into `room` where it does not stand in memory as it is.
pub(super) fn column_of<'a>(
    table: &'a dyn Table,
    column: usize,
    rows: Range<usize>,
    room: &'a mut [f64],
) -> &'a [f64] {
    match table.stored(column, rows.clone()) {
        Some(values) => values,
        None => {
            let out = &mut room[..rows.len()];
            table.fill(column, rows, out);
            out
        }
    }
}

/// Plain slices of equal length as a table.
#[derive(Clone, Debug)]
pub struct Slices<'a>(pub &'a [&'a [f64]]);

impl Table for Slices<'_> {
    fn rows(&self) -> usize {
        self.0.first().map_or(0, |column| column.len())
    }

    fn columns(&self) -> usize {
        self.0.len()
    }

    fn fill(&self, column: usize, rows: Range<usize>, out: &mut [f64]) {
        out.copy_from_slice(&self.0[column][rows]);
    }

    fn stored(&self, column: usize, rows: Range<usize>) -> Option<&[f64]> {
        self.0[column].get(rows)
    }
}

/// One column of a log in the sieve.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Pick {
    Channel(Channel),
    Extra(usize),
}

/// The columns of a log that the settings name, brought to one instant.
#[derive(Clone, Debug)]
pub struct Picked<'a> {
    aligned: &'a Aligned<'a>,
    picks: Vec<Pick>,
    names: Vec<String>,
    /// Names in the settings that the log does not have.
    unknown: Vec<String>,
}

impl<'a> Picked<'a> {
    /// Picks the columns that the settings name; without names every electrical channel of the log.
    ///
    /// Names that the log does not have are listed in [`Picked::unknown`]; beyond eight columns the rest is left out
    /// and listed there too.
    #[must_use]
    pub fn new(aligned: &'a Aligned<'a>, settings: &Settings) -> Self {
        let readings = aligned.readings();
        let mut picked = Self { aligned, picks: Vec::new(), names: Vec::new(), unknown: Vec::new() };
        let channel_name = |channel: Channel| {
            if channel == Channel::VOutHigh && !readings.has(Channel::VOutLow) {
                "v_out"
            } else {
                channel.name()
            }
        };
        if settings.channels.is_empty() {
            for channel in CHANNELS.into_iter().filter(|&channel| readings.has(channel)) {
                picked.picks.push(Pick::Channel(channel));
                picked.names.push(channel_name(channel).to_owned());
            }
            return picked;
        }
        for name in &settings.channels {
            let channel = CHANNELS
                .into_iter()
                .filter(|&channel| readings.has(channel))
                .find(|&channel| channel.name() == name || channel_name(channel) == name);
            let pick = channel
                .map(Pick::Channel)
                .or_else(|| readings.extras.iter().position(|extra| extra.name == *name).map(Pick::Extra));
            match pick {
                Some(pick) if picked.picks.contains(&pick) => {}
                Some(pick) if picked.picks.len() < MOST_COLUMNS => {
                    picked.picks.push(pick);
                    picked.names.push(name.clone());
                }
                _ => picked.unknown.push(name.clone()),
            }
        }
        picked
    }

    /// Names of the columns in order.
    #[must_use]
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// Names in the settings that could not be picked.
    #[must_use]
    pub fn unknown(&self) -> &[String] {
        &self.unknown
    }

    /// Resolution of each column in its unit, 0 where unknown.
    #[must_use]
    pub fn resolution(&self) -> Vec<f64> {
        let readings = self.aligned.readings();
        self.picks
            .iter()
            .map(|pick| match pick {
                Pick::Channel(channel) => readings.resolution[channel.index()],
                Pick::Extra(at) => smallest_change(&readings.extras[*at].values),
            })
            .collect()
    }
}

impl Table for Picked<'_> {
    fn rows(&self) -> usize {
        self.aligned.rows()
    }

    fn columns(&self) -> usize {
        self.picks.len()
    }

    fn fill(&self, column: usize, rows: Range<usize>, out: &mut [f64]) {
        match self.picks[column] {
            Pick::Channel(channel) => self.aligned.fill(channel, rows, out),
            Pick::Extra(at) => out.copy_from_slice(&self.aligned.readings().extras[at].values[rows]),
        }
    }

    fn stored(&self, column: usize, rows: Range<usize>) -> Option<&[f64]> {
        match self.picks[column] {
            Pick::Channel(channel) => self.aligned.stored(channel, rows),
            Pick::Extra(at) => self.aligned.readings().extras[at].values.get(rows),
        }
    }
}

fn smallest_change(values: &[f64]) -> f64 {
    let smallest = values
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .filter(|change| *change > 0.0)
        .fold(f64::INFINITY, f64::min);
    if smallest.is_finite() { smallest } else { 0.0 }
}

/// A whole column, gathered in blocks.
pub(super) fn gather(table: &dyn Table, column: usize) -> Vec<f64> {
    let mut values = vec![0.0; table.rows()];
    let rows = table.rows();
    table.fill(column, 0..rows, &mut values);
    values
}
