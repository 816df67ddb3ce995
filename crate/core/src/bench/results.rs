//! The results as one serialisable value: schema `wattsieve-results/1`.
//!
//! SI units, fractions not percent. Rows are given as inclusive `[first, last]` runs of data-row
//! numbers. Keys are never left out: what is not known is `null`.

use serde::Serialize;

use super::points::SettledResult;
use super::run::{Logger, Run};
use super::shown::InputResult;
use super::{Bench, Part, Settings, Trust};
use crate::align;
use crate::channel::Readings;
use crate::compare::Pair;
use crate::finding::Answers;
use crate::fixture::{self, Circuit, Report};
use crate::map::{SHARE_BELOW, value_above};
use crate::pulse::Pulsed;
use crate::sieve::{self, Fates, Settled};

/// Name of the format and its number.
pub const SCHEMA: &str = "wattsieve-results/1";

/// Row runs of a finding that a brief result keeps, to light them on a figure.
const EVIDENCE: usize = 2000;

/// How much of the results is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// Everything but the row lists: for a screen.
    Brief,
    /// Everything.
    Full,
}

/// Inclusive `[first, last]` runs of data-row numbers, ascending.
pub type RowRuns = Vec<[usize; 2]>;

/// The program that made the results.
#[derive(Clone, Debug, Serialize)]
pub struct Tool {
    /// Version of the analysis.
    pub version: &'static str,
}

/// Everything that was found.
#[derive(Clone, Debug, Serialize)]
pub struct Results {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// The program.
    pub tool: Tool,
    /// Settings as used.
    pub settings: Settings,
    /// One entry per input, in the order they were given.
    pub inputs: Vec<InputResult>,
    /// The fixture; `null` without calibration.
    pub fixture: Option<Report>,
    /// The circuit of the wiring as it is set and what each calibration run would tell of it; `null` where
    /// `fixture` says so itself.
    pub wiring: Option<Circuit>,
    /// Why the calibration runs could not be fitted, and what to do; `null` where they could or
    /// there are none.
    pub calibration_problem: Option<String>,
    /// One entry per run, in order.
    pub runs: Vec<RunResult>,
    /// Efficiency at or under which 8 % of the operating rows of all runs lie, by the cells of their
    /// maps: a scale of colours may begin here; `null` without cells.
    pub colour_from: Option<f64>,
    /// Differences of runs; `null` with fewer than two.
    pub comparison: Option<Comparison>,
    /// Weighted by use; empty where no duty was given.
    pub duty: Vec<()>,
    /// Published weightings; empty where none was asked.
    pub weighted: Vec<()>,
}

/// Runs against each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    /// Every run with every later one.
    pub pairs: Vec<Pair>,
}

/// One run in the results.
#[derive(Clone, Debug, Serialize)]
pub struct RunResult {
    /// Name.
    pub name: String,
    /// Where its rows come from.
    pub parts: Vec<Part>,
    /// Between which points its efficiencies are quoted: `converter`, `board` or `source_to_load`.
    pub plane: &'static str,
    /// What became of the rows.
    pub rows: Fates,
    /// Delays between channels.
    pub alignment: align::Summary,
    /// The sieve.
    pub sieve: Option<sieve::Summary>,
    /// A pulse-width-dimmed or bursting output.
    pub pulsed: Pulsed,
    /// What cleaning did; `null` in the brief form.
    pub trust: Option<Trust>,
    /// Whether the log is a table of settled points.
    pub settled_points: SettledResult,
    /// What is said of it, and how sure that is.
    #[serde(flatten)]
    pub answers: Answers,
    /// Temperature; `null` where none is analysed.
    pub temperature: Option<()>,
    /// Light; `null` where none is analysed.
    pub light: Option<()>,
}

impl Bench {
    /// All results; does what is still stale first.
    pub fn results(&mut self, detail: Detail) -> Results {
        self.complete();
        let fixture = self.fixture_report();
        let mut results = Results {
            schema: SCHEMA,
            tool: Tool { version: env!("CARGO_PKG_VERSION") },
            settings: self.settings.clone(),
            inputs: (0..self.inputs.len()).map(|index| self.input_result(index)).collect(),
            wiring: if fixture.is_none() { self.wiring() } else { None },
            fixture,
            calibration_problem: self.calibration_problem.clone(),
            runs: (0..self.runs.len()).filter_map(|run| self.run_result(run, detail)).collect(),
            colour_from: None,
            comparison: (!self.pairs.is_empty())
                .then(|| Comparison { pairs: self.pairs.iter().flatten().cloned().collect() }),
            duty: Vec::new(),
            weighted: Vec::new(),
        };
        results.colour_from =
            value_above(results.runs.iter().flat_map(|run| &run.answers.map.efficiency), SHARE_BELOW);
        if detail == Detail::Brief {
            results.shorten();
        }
        results
    }

    /// The circuit before anything is known of the fixture: worked out once for each state of its settings.
    fn wiring(&mut self) -> Option<Circuit> {
        if self.wiring.is_none() {
            self.wiring = Some(fixture::wiring(&self.settings.fixture));
            self.wirings += 1;
        }
        self.wiring.clone().flatten()
    }

    /// What became of a run's rows, without row lists: for a screen that follows a slider. `None`
    /// until the rows stand.
    #[must_use]
    pub fn row_counts(&self, run: usize) -> Option<Fates> {
        let masks = self.runs.get(run)?.masks.as_deref()?;
        Some(Fates::counted(masks))
    }

    /// Whether anything is known of the fixture: from runs, from a record, or as given.
    pub(super) fn calibrated(&self) -> bool {
        let given = &self.settings.fixture;
        self.calibration_problem.is_none()
            && (self.settings.calibration.is_some()
                || given.input_correction.is_some()
                || given.output_correction.is_some()
                || (0..self.inputs.len()).any(|input| self.calibration_run(input).is_some()))
    }

    /// Between which points efficiencies are quoted: as logged, from sense node to sense node.
    #[must_use]
    pub fn plane(&self) -> fixture::Plane {
        let known = self.calibration.as_ref().filter(|_| self.calibrated());
        known.map_or(fixture::Plane::Board, |found| found.correction.plane)
    }

    /// Why the fixture could not be calibrated.
    #[must_use]
    pub fn calibration_problem(&self) -> Option<&str> {
        self.calibration_problem.as_deref()
    }

    fn run_result(&self, index: usize, detail: Detail) -> Option<RunResult> {
        let run = self.runs.get(index)?;
        let readings = self.readings_of(index)?;
        let answer = run.answer.as_ref()?.as_deref()?;
        let delays = run.delays.as_ref()?;
        let masks = run.masks.as_deref()?;
        let full = detail == Detail::Full;
        let counted = run.counts.as_ref().filter(|counts| counts.rows() > 0);
        let aligned = align::Aligned::new(readings, &run.steps, delays);
        let names = sieve::Picked::new(&aligned, &self.settings.sieve).names().to_vec();
        let alignment = self.alignment(run, readings, delays);
        let sieve = counted.map(|counts| sieve::Summary::of(counts, &names, &self.settings.sieve));
        let mut answers = answer.clone();
        let found = std::mem::take(&mut answers.findings);
        answers.findings = super::told::told(
            run,
            readings.rows(),
            &alignment,
            &self.settings.sieve,
            sieve.as_ref().filter(|_| self.sieves(index)),
        );
        // What cannot be used or is used otherwise than by rows comes first; how rows were aligned and sieved, or that they are a
        // table, last.
        let table = run.averaged.is_none();
        let comes_last = |told: &crate::finding::Finding| match told.code {
            "alignment" | "alignment_unknown" | "sieve_no_plateau" | "gates_disagree" => true,
            code => table && code == "settled_points",
        };
        let (last, first): (Vec<_>, Vec<_>) =
            std::mem::take(&mut answers.findings).into_iter().partition(comes_last);
        answers.findings = first.into_iter().chain(found).chain(last).collect();
        Some(RunResult {
            name: run.name.clone(),
            parts: if run.placed.is_empty() { run.parts.clone() } else { run.placed.clone() },
            plane: self.plane().code(),
            rows: if full { Fates::of(masks) } else { Fates::counted(masks) },
            alignment,
            sieve,
            pulsed: run.pulsed.clone(),
            trust: full.then(|| self.trust(index)).flatten(),
            settled_points: self.settled_result(index, readings),
            answers,
            temperature: None,
            light: None,
        })
    }
}

impl Bench {
    /// The delays of a run with what is to be said of them.
    fn alignment(&self, run: &Run, readings: &Readings, delays: &align::Delays) -> align::Summary {
        let mut summary = align::Summary::of(readings, &run.steps, delays);
        if summary.why.is_some() {
            if self.settings.align.mode == align::Mode::None {
                summary.why = Some("switched_off");
            } else if run.settled.is_some_and(Settled::recognised) {
                summary.why = Some("settled_points");
            } else if !run.loggers.is_empty() {
                summary.why = Some("two_loggers");
            }
        }
        summary.loggers = (!run.loggers.is_empty()).then(|| run.loggers.iter().map(Logger::result).collect());
        summary
    }
}

impl Results {
    /// Takes the row lists out.
    fn shorten(&mut self) {
        for run in &mut self.runs {
            for finding in &mut run.answers.findings {
                finding.rows.truncate(EVIDENCE);
            }
        }
        for input in &mut self.inputs {
            for problem in &mut input.problems {
                problem.rows = crate::log::Runs::default();
            }
        }
    }
}
