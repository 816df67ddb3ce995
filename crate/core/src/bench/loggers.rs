//! Runs of several files: further loggers beside a part, and parts one after another.

use std::borrow::Cow;

use super::input::Input;
use super::run::{self, Logger, Run};
use super::{Bench, InputSettings, Kind, Part};
use crate::align::clocks::{self, From, Stated, Why};
use crate::channel::{Ask, Channel, Readings};
use crate::fixture::RunKind;

/// Inputs that hold further channels of a part: those that follow it in the list.
fn beside(run: &Run, part: usize) -> impl Iterator<Item = usize> + '_ {
    let next = run.parts.iter().map(|part| part.input).filter(move |&input| input > part).min();
    run.beside.iter().copied().filter(move |&input| input > part && next.is_none_or(|next| input < next))
}

fn stated(settings: &[InputSettings], input: usize) -> Stated {
    settings.get(input).and_then(|settings| settings.clock).unwrap_or_default()
}

/// Whether a run was joined with the clocks that the settings state.
pub(super) fn as_stated(run: &Run, settings: &[InputSettings]) -> bool {
    run.loggers.iter().all(|logger| logger.stated == stated(settings, logger.input))
}

/// One log with the channels of further loggers, and what became of each of these.
fn merged<'a>(
    host: usize,
    others: &[usize],
    inputs: &'a [Input],
    settings: &[InputSettings],
) -> Option<(Cow<'a, Readings>, Vec<Logger>)> {
    let mut own = Cow::Borrowed(inputs.get(host)?.readings.as_ref()?);
    let mut loggers = Vec::new();
    for &input in others {
        let Some(other) = inputs.get(input).and_then(|input| input.readings.as_ref()) else { continue };
        let stated = stated(settings, input);
        let find = if inputs[host].kind().is_run() { clocks::find } else { clocks::find_in_calibration };
        let clocks = find(&own, other, &stated);
        let channels = clocks::added(&own, other);
        if clocks.usable() {
            own = Cow::Owned(clocks::merge(&own, other, &clocks));
        }
        loggers.push(Logger { input, channels, clocks, stated });
    }
    Some((own, loggers))
}

/// Joins the files of a run where there is more than one.
pub(super) fn join(run: &mut Run, inputs: &[Input], settings: &[InputSettings]) {
    run.loggers.clear();
    run.placed.clear();
    run.joined = None;
    let mut parts: Vec<Cow<'_, Readings>> = Vec::new();
    for part in &run.parts {
        let others: Vec<usize> = beside(run, part.input).collect();
        let Some((own, loggers)) = merged(part.input, &others, inputs, settings) else { continue };
        run.loggers.extend(loggers);
        let first_row = run.placed.last().map_or(0, |before: &Part| before.first_row + before.rows);
        run.placed.push(Part { input: part.input, first_row, rows: own.rows() });
        parts.push(own);
    }
    if parts.len() > 1 {
        run.joined = Some(run::join(&parts.iter().map(AsRef::as_ref).collect::<Vec<_>>()));
    } else if !run.loggers.is_empty() {
        run.joined = parts.pop().map(Cow::into_owned);
    }
}

/// A calibration run that several loggers recorded.
#[derive(Debug)]
pub(super) struct Recorded {
    /// The input that the others belong to.
    pub(super) host: usize,
    pub(super) readings: Readings,
    pub(super) loggers: Vec<Logger>,
}

impl Bench {
    /// Joins the calibration runs that several loggers recorded; those of which neither a log was read just now nor
    /// a clock stated anew stay as they are.
    pub(super) fn join_calibrations(&mut self, read: Option<usize>) {
        let mut known = std::mem::take(&mut self.recorded);
        let hosts = (0..self.inputs.len()).filter(|&input| {
            self.inputs[input].kind().calibration().is_some() && self.host_of(input).is_none()
        });
        self.recorded = hosts
            .filter_map(|host| {
                let others = self.others_of(host);
                let stays = |recorded: &Recorded| {
                    let from = |logger: &Logger| (logger.input, logger.stated);
                    recorded.host == host
                        && read.is_none_or(|read| read != host && !others.contains(&read))
                        && recorded
                            .loggers
                            .iter()
                            .map(from)
                            .eq(others.iter().map(|&input| (input, stated(&self.settings.inputs, input))))
                };
                if let Some(place) = known.iter().position(stays) {
                    return Some(known.swap_remove(place));
                }
                let (readings, loggers) = merged(host, &others, &self.inputs, &self.settings.inputs)?;
                (!loggers.is_empty()).then(|| Recorded { host, readings: readings.into_owned(), loggers })
            })
            .collect();
    }

    /// Other loggers whose clock matters.
    pub(super) fn loggers(&self) -> impl Iterator<Item = &Logger> {
        // With the converter's input shorted the output says nothing.
        let needed = |recorded: &&Recorded| {
            let own = &recorded.readings;
            self.kind_of(recorded.host) != Kind::InputShorted
                || !(own.has(Channel::VIn) && own.has(Channel::IIn))
        };
        let of_runs = self.runs.iter().flat_map(|run| &run.loggers);
        of_runs.chain(self.recorded.iter().filter(needed).flat_map(|recorded| &recorded.loggers))
    }

    /// What other loggers recorded of a calibration run.
    pub(super) fn recorded(&self, input: usize) -> Option<&Recorded> {
        self.recorded.iter().find(|recorded| recorded.host == input)
    }

    /// Wiring and readings of a calibration run; `None` for a converter at work, and for an input whose channels
    /// stand with those of another one.
    pub(super) fn calibration_run(&self, input: usize) -> Option<(RunKind, &Readings)> {
        let own = self.inputs.get(input)?;
        let kind = own.kind().calibration().filter(|_| self.host_of(input).is_none())?;
        match self.recorded(input) {
            Some(recorded) => Some((kind, &recorded.readings)),
            None => Some((kind, own.readings.as_ref()?)),
        }
    }

    /// What an input is: one that holds further channels of another is what that one is.
    pub(super) fn kind_of(&self, input: usize) -> Kind {
        self.inputs[self.host_of(input).unwrap_or(input)].kind()
    }
}

/// What an input asks whose clock cannot be told.
pub(super) fn ask<'a>(
    mut loggers: impl Iterator<Item = &'a Logger>,
    input: usize,
    name: Option<&str>,
) -> Option<Ask> {
    let logger = loggers.find(|logger| logger.input == input)?;
    (logger.clocks.why == Some(Why::NoCommonTime) && logger.clocks.from == From::None).then(|| Ask {
        code: "clock_unknown",
        message:
            "nothing moves in this log and in the one that it belongs to together, so their clocks cannot be \
                  compared; state the first log's time at this log's time 0"
                .to_owned(),
        role: None,
        option: format!("--clock {}:offset=SECONDS", name.unwrap_or("NAME")),
    })
}
