//! One run on its way through the chain: what is held of it, and how later stages see its rows.

use std::ops::Range;

use crate::align::clocks::{Clocks, LoggerResult, Stated};
use crate::align::{Aligned, Delays, Doubt, Noise, Steps};
use crate::channel::{CHANNELS, Channel, Readings};
use crate::fixture::Correction;
use crate::map::{CutOff, Index, Operating, Source};
use crate::plateau::Plateaus;
use crate::point::Rows;
use crate::pulse::Pulsed;
use crate::sieve::{Counter, Counts, Mask, Prepared, Settled};

use super::evaluations::Evaluations;
use crate::finding::{Answering, Answers};

/// Where the rows of one input went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Part {
    /// Number of the input.
    pub input: usize,
    /// Row of the run at which it begins.
    pub first_row: usize,
    /// Its rows.
    pub rows: usize,
}

/// A run and what the chain has made of it so far.
#[derive(Debug, Default)]
pub(super) struct Run {
    pub(super) name: String,
    pub(super) parts: Vec<Part>,
    /// Inputs with further channels of it, from other loggers.
    pub(super) beside: Vec<usize>,
    /// Where the rows of joined parts went, and the clocks of the other loggers.
    pub(super) placed: Vec<Part>,
    pub(super) loggers: Vec<Logger>,
    /// Stretches at rest; `None` where they were not looked for.
    pub(super) plateaus: Option<Plateaus>,
    /// The table that is used in place of the rows: settled points, whole periods, or logged powers.
    pub(super) averaged: Option<Readings>,
    /// What is known of a pulsed output.
    pub(super) pulsed: Pulsed,
    /// Mean square over squared mean of input and output current, where rows are whole periods.
    pub(super) form: [Vec<f64>; 2],
    /// Relative change of a product of the readings in a row, 0 where rows are not used one by one.
    pub(super) row_change: f64,
    /// Rows of all parts; only where there is more than one, else the input's own are used.
    pub(super) joined: Option<Readings>,
    /// Column numbers of the channels in the file, for the order of sampling.
    pub(super) columns: [usize; 5],
    pub(super) noise: Noise,
    pub(super) steps: Steps,
    pub(super) delays: Option<Delays>,
    pub(super) settled: Option<Settled>,
    pub(super) masks: Option<Vec<Mask>>,
    /// The next part of the gates and the masks so far.
    pub(super) gating: Option<(usize, Vec<Mask>)>,
    pub(super) counter: Option<Box<Counter>>,
    /// What an earlier count found out about the columns of these names, for the next one.
    pub(super) prepared: Option<(Vec<String>, Prepared)>,
    pub(super) counts: Option<Counts>,
    /// Setting of least rows that `masks` hold the verdicts of.
    pub(super) judged: Option<u32>,
    pub(super) labelled: bool,
    pub(super) source: Option<Source>,
    /// Whether `source` was looked for.
    pub(super) sourced: bool,
    pub(super) cut_off: Option<CutOff>,
    /// Operating rows, while answers and comparisons are made.
    pub(super) held: Option<Held>,
    pub(super) answering: Option<Answering>,
    /// Answers of which only what cleaning did to them is still to be found.
    pub(super) uncleaned: Option<Box<Answers>>,
    /// The outer `None` is stale; the inner one: there is nothing to answer.
    pub(super) answer: Option<Option<Box<Answers>>>,
    pub(super) evaluations: Evaluations,
    /// Changes whenever the rows were brought to other instants.
    pub(super) standing: u64,
}

/// Another logger of a run.
#[derive(Clone, Debug)]
pub(super) struct Logger {
    pub(super) input: usize,
    /// Channels taken from it.
    pub(super) channels: Vec<Channel>,
    pub(super) clocks: Clocks,
    /// What was stated of its clock.
    pub(super) stated: Stated,
}

impl Logger {
    /// What is reported of it.
    pub(super) fn result(&self) -> LoggerResult {
        LoggerResult::of(self.input, &self.channels, &self.clocks)
    }
}

/// Operating rows, and those by place once they were sorted.
#[derive(Debug)]
pub(super) struct Held {
    pub(super) op: Operating,
    pub(super) index: Option<Index>,
}

impl Run {
    /// Answers are stale, and what they rest on.
    pub(super) fn forget_answer(&mut self) {
        self.answer = None;
        self.answering = None;
        self.uncleaned = None;
        self.held = None;
    }
}

/// The rows of a run as later stages see them.
#[derive(Clone, Debug)]
pub struct RunRows<'a> {
    /// The readings, and with them the instant.
    pub aligned: Aligned<'a>,
    /// Reasons by row.
    pub masks: &'a [Mask],
    /// The correction in use.
    pub correction: &'a Correction,
    /// Noise by channel, SI units.
    pub noise: [f64; 5],
    /// Whether the rows are settled points.
    pub settled: bool,
    /// Whether products of the readings are no powers, so that nothing may be answered.
    pub refused: bool,
    /// Mean square over squared mean of input and output current; empty where rows are instants.
    pub form: &'a [Vec<f64>; 2],
    /// Whether times are known; else rows are only counted.
    pub timed: bool,
    /// What is not known of the delays between channels.
    pub doubt: Doubt,
}

impl RunRows<'_> {
    /// Brings what the fixture loses beyond the mean current into the voltages, so that the correction at the mean
    /// current gives the true powers.
    ///
    /// **Formula** a resistance loses `R mean(i²) = R f (mean i)²`; the voltages take the part `R (f - 1) mean i`.
    fn formed(&self, row: usize, mut reading: [f64; 5]) -> [f64; 5] {
        use crate::fixture::Parameter::{InputResistance, OutputResistance};
        if let (Some(of_in), Some(of_out)) = (self.form[0].get(row), self.form[1].get(row)) {
            reading[0] -= self.correction.get(InputResistance) * (of_in - 1.0) * reading[3];
            reading[1] += self.correction.get(OutputResistance) * (of_out - 1.0) * reading[4];
        }
        reading
    }
}

impl Rows for RunRows<'_> {
    fn rows(&self) -> usize {
        self.masks.len()
    }

    fn time(&self, row: usize) -> f64 {
        if self.timed { self.aligned.readings().time[row] } else { f64::NAN }
    }

    fn mask(&self, row: usize) -> Mask {
        self.masks[row]
    }

    fn reading(&self, row: usize) -> [f64; 5] {
        self.formed(row, self.aligned.reading(row))
    }

    fn readings(&self, rows: Range<usize>, out: &mut [Vec<f64>; 5]) {
        for channel in CHANNELS {
            self.aligned.fill(channel, rows.clone(), &mut out[channel.index()][..rows.len()]);
        }
        if !self.form[0].is_empty() {
            for (place, row) in rows.enumerate() {
                let formed = self.formed(row, std::array::from_fn(|channel| out[channel][place]));
                out.iter_mut().zip(formed).for_each(|(column, value)| column[place] = value);
            }
        }
    }

    fn correction(&self) -> &Correction {
        self.correction
    }

    fn noise(&self) -> [f64; 5] {
        self.noise
    }

    fn doubt(&self) -> Doubt {
        self.doubt.clone()
    }

    fn settled(&self) -> bool {
        self.settled
    }

    fn refused(&self) -> bool {
        self.refused
    }
}

/// Rows of several parts one after another; every part begins with a gap.
pub(super) fn join(parts: &[&Readings]) -> Readings {
    use crate::channel::{Segment, SegmentStart};
    let mut joined = Readings::default();
    let mut end = 0.0;
    for (index, part) in parts.iter().enumerate() {
        let first = joined.rows();
        let start = if index == 0 { 0.0 } else { end + part.row_period.max(joined.row_period) };
        joined.time.extend(part.time.iter().map(|t| t + start));
        for channel in 0..5 {
            if index > 0 && joined.columns[channel].is_empty() != part.columns[channel].is_empty() {
                joined.columns[channel].resize(first, f64::NAN);
                joined.columns[channel].extend(&part.columns[channel]);
                joined.columns[channel].resize(joined.time.len(), f64::NAN);
            } else {
                joined.columns[channel].extend(&part.columns[channel]);
            }
            let (a, b) = (joined.resolution[channel], part.resolution[channel]);
            joined.resolution[channel] = if a == 0.0 || (b > 0.0 && b < a) { b } else { a };
        }
        for extra in &part.extras {
            match joined.extras.iter_mut().find(|known| known.name == extra.name) {
                Some(known) => {
                    known.values.resize(first, f64::NAN);
                    known.values.extend(&extra.values);
                }
                None => {
                    let mut added = extra.clone();
                    added.values = vec![f64::NAN; first];
                    added.values.extend(&extra.values);
                    joined.extras.push(added);
                }
            }
        }
        joined.segments.extend(part.segments.iter().map(|segment| Segment {
            first: segment.first + first,
            last: segment.last + first,
            start: if index > 0 && segment.first == 0 { SegmentStart::Gap } else { segment.start },
        }));
        let shift = u32::try_from(first).unwrap_or(u32::MAX);
        joined.marks.extend(part.marks.iter().map(|mark| {
            let mut mark = *mark;
            mark.row += shift;
            mark
        }));
        joined.lines.extend(&part.lines);
        joined.row_period = if index == 0 { part.row_period } else { joined.row_period.max(part.row_period) };
        end = joined.time.iter().rev().find(|t| t.is_finite()).copied().unwrap_or(end);
    }
    let rows = joined.time.len();
    for extra in &mut joined.extras {
        extra.values.resize(rows, f64::NAN);
    }
    joined
}
