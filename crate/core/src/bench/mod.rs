//! The bench: all settings and inputs of one piece of work, the chain evaluated stage by stage, and
//! the results as one serialisable value.
//!
//! A changed setting re-runs only the stages downstream of it. The bench holds readings, not texts:
//! when the way of reading changes, it asks for the bytes again ([`Bench::set_settings`]).

mod calibrate;
mod chain;
mod changes;
mod checks;
mod counted;
mod evaluations;
mod export;
mod fixture_report;
mod input;
mod kind;
mod label;
mod loggers;
mod pick;
mod points;
mod ranges;
mod results;
mod run;
mod settings;
mod shown;
mod steps;
mod together;
mod told;
mod trust;
mod wrong;

use std::collections::BTreeSet;

pub use chain::Progress;
pub use counted::CountsWanted;
pub use evaluations::{AllEvaluations, Evaluations, RunEvaluations};
pub use export::SAVED;

pub use kind::Kind;
pub use pick::{Picked, Side, Wish};
pub use points::{SettledPoint, SettledResult};
pub use ranges::ColumnRange;
pub use results::{Detail, Results, RowRuns, RunResult, SCHEMA, Tool};
pub use run::{Part, RunRows};
pub use settings::{CalibrationUse, InputSettings, RunSettings, SETTINGS_VERSION, Settings};
pub use shown::{
    Grown, InputColumn, InputResult, InputTime, NextKind, Resolutions, SegmentResult, Sums, Understood,
};
pub use trust::{Changed, Neighbour, Shown, TimePart, Trust};
pub use wrong::wrong_setting;

use crate::align::Through;
use crate::compare::{Comparing, Pair};
use crate::fixture::Calibration;
use input::Input;
use run::Run;

/// One piece of work.
#[derive(Debug, Default)]
pub struct Bench {
    settings: Settings,
    inputs: Vec<Input>,
    runs: Vec<Run>,
    /// Calibration runs of several loggers.
    recorded: Vec<loggers::Recorded>,
    /// Delays from the straight-through runs; the outer `None` is stale.
    through: Option<Option<Through>>,
    /// Those that the runs' delays rest on.
    through_used: Option<Through>,
    calibration: Option<Calibration>,
    calibration_problem: Option<String>,
    fits: u64,
    /// How often the rows of any run were brought to one instant.
    moves: u64,
    /// The circuit before anything is known of the fixture; the outer `None` is stale.
    wiring: Option<Option<crate::fixture::Circuit>>,
    wirings: u64,
    /// The last budget with what it rests on.
    budget: Option<fixture_report::HeldBudget>,
    budgets: u64,
    /// Comparisons made so far: every run with each one before it.
    pairs: Vec<Option<Pair>>,
    /// The comparison at work.
    comparing: Option<Comparing>,
    comparisons: u64,
    /// Whether logs may be given again longer.
    follows: bool,
}

impl Bench {
    /// An empty bench with these settings.
    #[must_use]
    pub fn new(settings: Settings) -> Self {
        Self { settings, ..Self::default() }
    }

    /// Settings in use.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Number of inputs.
    #[must_use]
    pub fn inputs(&self) -> usize {
        self.inputs.len()
    }

    /// Number of runs.
    #[must_use]
    pub fn runs(&self) -> usize {
        self.runs.len()
    }

    /// Name of a run.
    #[must_use]
    pub fn run_name(&self, run: usize) -> Option<&str> {
        self.runs.get(run).map(|run| run.name.as_str())
    }

    /// File name of an input.
    #[must_use]
    pub fn input_name(&self, input: usize) -> Option<&str> {
        self.inputs.get(input).map(|input| input.name.as_str())
    }

    /// Line of the file of every data row of an input, ascending; `None` where it is not read.
    #[must_use]
    pub fn input_lines(&self, input: usize) -> Option<&[u32]> {
        self.inputs.get(input)?.readings.as_ref().map(|readings| readings.lines.as_slice())
    }

    /// Encoding that an input's text was found or stated to have.
    #[must_use]
    pub fn input_encoding(&self, input: usize) -> Option<&'static str> {
        self.inputs.get(input).map(Input::encoding)
    }

    /// The first records of an input and the first in which something was lost.
    #[must_use]
    pub fn input_preview(&self, input: usize) -> Option<&crate::channel::Preview> {
        self.inputs.get(input).map(|input| &input.preview)
    }

    /// Readings of a run.
    #[must_use]
    pub fn readings(&self, run: usize) -> Option<&crate::channel::Readings> {
        self.readings_of(run)
    }

    /// Begins an input; `bytes` is its size where known, to reserve memory once. Gives its number.
    pub fn begin(&mut self, name: &str, bytes: Option<u64>) -> usize {
        let index = self.inputs.len();
        if self.settings.inputs.len() <= index {
            self.settings.inputs.resize(index + 1, InputSettings::default());
        }
        let mut input = Input::new(name);
        input.open(&self.settings.inputs[index], bytes);
        self.inputs.push(input);
        index
    }

    /// Begins an input again whose bytes are wanted anew.
    pub fn begin_again(&mut self, input: usize, bytes: Option<u64>) {
        if let (Some(input), Some(settings)) = (self.inputs.get_mut(input), self.settings.inputs.get(input)) {
            input.open(settings, bytes);
        }
    }

    /// Whether what it takes to go on with a log that grew is kept: some ten bytes per row. Default
    /// false: a grown log is read anew.
    pub fn follow(&mut self, follows: bool) {
        self.follows = follows;
    }

    /// The input that a file of this name and size may be a longer state of: the last one of its
    /// name that is no larger. Gives its number and its bytes.
    #[must_use]
    pub fn may_have_grown(&self, name: &str, bytes: u64) -> Option<(usize, u64)> {
        let name = name.rsplit(['/', '\\']).next().unwrap_or(name);
        let fits = |input: &Input| input.name == name && (1..=bytes).contains(&input.bytes());
        let input = self.inputs.iter().rposition(fits)?;
        Some((input, self.inputs[input].bytes()))
    }

    /// Begins to read on in an input whose file has become `bytes` long. `beginning` is the sum of the
    /// first bytes of the new file, as many as the input has. Gives the place from which bytes are
    /// wanted; `None` where the file does not begin as the input does: it is another log.
    pub fn grow(
        &mut self,
        input: usize,
        beginning: &crate::log::Fingerprint,
        bytes: Option<u64>,
    ) -> Option<u64> {
        self.inputs.get_mut(input)?.grow(self.settings.inputs.get(input)?, beginning, bytes)
    }

    /// How an input's log grew. No part of the results: those are of the log as it is.
    #[must_use]
    pub fn grown(&self, input: usize) -> Grown {
        self.inputs.get(input).map(|input| input.grown).unwrap_or_default()
    }

    /// Ends reading that could not be finished: an input that was read before is as it was.
    pub fn abandon(&mut self, index: usize) {
        let Some(settings) = self.settings.inputs.get(index) else { return };
        if let Some(input) = self.inputs.get_mut(index) {
            input.abandon(settings);
        }
    }

    /// Takes the next bytes of an input; pieces of any size give the same result.
    pub fn push(&mut self, input: usize, bytes: &[u8]) {
        if let Some(input) = self.inputs.get_mut(input) {
            input.push(bytes);
        }
    }

    /// Ends an input: its rows become readings and its kind is told where it was not stated.
    pub fn finish(&mut self, index: usize) {
        let Some(settings) = self.settings.inputs.get(index) else { return };
        if let Some(input) = self.inputs.get_mut(index) {
            input.finish(settings, self.follows);
            if let Some(stated) = settings.kind {
                input.state(Some(stated));
            }
        }
        self.inputs_changed(Some(index));
    }

    /// Takes the next bytes of an input into its hash; the hash is wanted for export only, so it may be
    /// made later than the readings.
    pub fn hash(&mut self, input: usize, bytes: &[u8]) {
        if let Some(input) = self.inputs.get_mut(input) {
            input.hash(bytes);
        }
    }

    /// Ends the hash of an input.
    pub fn finish_hash(&mut self, input: usize) {
        if let Some(input) = self.inputs.get_mut(input) {
            input.finish_hash();
        }
    }

    /// Inputs whose hash is not made yet.
    #[must_use]
    pub fn unhashed(&self) -> Vec<usize> {
        (0..self.inputs.len()).filter(|&index| self.inputs[index].sha256.is_none()).collect()
    }

    /// Takes an input out; the numbers of those after it fall by one.
    pub fn remove(&mut self, index: usize) {
        if index >= self.inputs.len() {
            return;
        }
        self.inputs.remove(index);
        if index < self.settings.inputs.len() {
            self.settings.inputs.remove(index);
        }
        if let Some(next) = self.settings.inputs.get_mut(index)
            && index == 0
        {
            next.continues = false;
        }
        self.runs.clear();
        self.recorded.clear();
        self.inputs_changed(None);
    }

    /// Name under which a run goes.
    fn name_of(&self, index: usize) -> String {
        let stated = self.settings.inputs.get(index).and_then(|settings| settings.run.clone());
        stated.unwrap_or_else(|| stem(&self.inputs[index].name).to_owned())
    }

    /// The input whose run this one holds further channels of.
    fn host_of(&self, index: usize) -> Option<usize> {
        let beside = |index: usize| self.settings.inputs.get(index).is_some_and(|input| input.beside);
        if !beside(index) {
            return None;
        }
        (0..index).rev().find(|&before| !beside(before))
    }

    /// The other inputs of the group in which several loggers recorded one run.
    pub(super) fn others_of(&self, index: usize) -> Vec<usize> {
        let host = self.host_of(index).unwrap_or(index);
        (0..self.inputs.len())
            .filter(|&other| other != index && (other == host || self.host_of(other) == Some(host)))
            .collect()
    }

    /// Roles that some inputs have a column of.
    pub(super) fn roles_of(&self, inputs: &[usize]) -> Vec<crate::channel::Role> {
        inputs.iter().flat_map(|&input| self.inputs[input].roles()).collect()
    }

    /// One input in the results.
    pub(super) fn input_result(&self, index: usize) -> InputResult {
        let mut result = self.inputs[index]
            .result(&self.roles_of(&self.others_of(index)), self.settings.sieve.settled_points);
        if self.host_of(index).is_some() {
            result.role = self.kind_of(index);
            (result.role_evidence, result.role_next) = (None, None);
        }
        result.loggers =
            self.recorded(index).map(|recorded| recorded.loggers.iter().map(run::Logger::result).collect());
        let name = self.inputs.get(index).map(|input| &*input.name);
        if let Some(ask) = loggers::ask(self.loggers(), index, name) {
            result.asks.push(ask);
            result.outcome = "asks";
        }
        result
    }

    /// Groups inputs into runs anew. Runs whose parts stayed as they were keep what was computed.
    fn inputs_changed(&mut self, read: Option<usize>) {
        let mut old = std::mem::take(&mut self.runs);
        let mut names = BTreeSet::new();
        let mut grouped: Vec<Run> = Vec::new();
        for index in 0..self.inputs.len() {
            let input = &self.inputs[index];
            let others = self.others_of(index);
            let usable = input.usable(&self.roles_of(&others), self.settings.sieve.settled_points);
            let Some(readings) = input.readings.as_ref().filter(|_| self.kind_of(index).is_run() && usable)
            else {
                continue;
            };
            if let Some(host) = self.host_of(index) {
                let run = grouped.last_mut().filter(|run| run.parts.iter().any(|part| part.input == host));
                if let Some(run) = run {
                    run.beside.push(index);
                }
                continue;
            }
            let part = Part { input: index, first_row: 0, rows: readings.rows() };
            let continues = self.settings.inputs.get(index).is_some_and(|settings| settings.continues);
            if let Some(run) = grouped.last_mut().filter(|_| continues) {
                let first_row = run.parts.iter().map(|part| part.rows).sum();
                run.parts.push(Part { first_row, ..part });
                continue;
            }
            let wanted = self.name_of(index);
            let mut name = wanted.clone();
            let mut number = 2;
            while !names.insert(name.clone()) {
                name = format!("{wanted} {number}");
                number += 1;
            }
            grouped.push(Run { name, parts: vec![part], columns: input.order(), ..Run::default() });
        }
        for run in &mut grouped {
            let same = old.iter().position(|known| {
                known.parts == run.parts
                    && known.beside == run.beside
                    && loggers::as_stated(known, &self.settings.inputs)
                    && !run.parts.iter().any(|part| Some(part.input) == read)
                    && !run.beside.iter().any(|input| Some(*input) == read)
            });
            if let Some(place) = same {
                let name = std::mem::take(&mut run.name);
                let renamed = old[place].name != name;
                *run = old.swap_remove(place);
                run.name = name;
                if renamed {
                    run.forget_answer();
                }
            } else {
                if let Some(before) =
                    old.iter().find(|known| known.parts.first().map(|p| p.input) == read && read.is_some())
                {
                    run.evaluations = before.evaluations;
                }
                loggers::join(run, &self.inputs, &self.settings.inputs);
                run.evaluations.log += run.parts.len() as u64;
            }
        }
        self.runs = grouped;
        let calibrates = read.is_none_or(|index| {
            self.inputs
                .get(index)
                .is_some_and(|input| !(input.kind().is_run() && self.kind_of(index).is_run()))
        });
        if calibrates {
            self.join_calibrations(read);
            self.through = None;
            self.calibration = None;
        }
        self.forget_pairs();
    }

    /// How often each stage ran.
    #[must_use]
    pub fn evaluations(&self) -> AllEvaluations {
        AllEvaluations {
            fixture: self.fits,
            comparison: self.comparisons,
            wiring: self.wirings,
            budget: self.budgets,
            runs: self
                .runs
                .iter()
                .map(|run| RunEvaluations { name: run.name.clone(), stages: run.evaluations })
                .collect(),
        }
    }

    /// The calibration in use; `None` until the chain has come so far.
    #[must_use]
    pub fn calibration(&self) -> Option<&Calibration> {
        self.calibration.as_ref()
    }
}

/// A file name without folder and ending.
fn stem(name: &str) -> &str {
    let base = name.rsplit(['/', '\\']).next().unwrap_or(name);
    match base.rsplit_once('.') {
        Some((stem, _)) if !stem.is_empty() => stem,
        _ => base,
    }
}
