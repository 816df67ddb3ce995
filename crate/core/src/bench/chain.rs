//! The evaluation order: what is stale, and the next piece of work.
//!
//! Order of a run: alignment, gates, count, verdicts, labels, answers. The fixture stands beside the
//! runs: it needs the calibration inputs only, so calibrating anew never changes who is removed.

use super::run::RunRows;
use super::{Bench, calibrate, label};
use crate::align::Aligned;
use crate::channel::Readings;
use crate::fixture::Grade;
use crate::pulse;
use crate::sieve::{self, Counter, Reason, Settings as SieveSettings, Settled};

/// How far the chain has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
pub struct Progress {
    /// Whether nothing is stale.
    pub done: bool,
    /// Stage at work, by name.
    pub stage: &'static str,
    /// Its part at work, by name; empty where it has none.
    pub part: &'static str,
    /// Rows done in that stage.
    pub rows_done: u64,
    /// Rows that it has to do.
    pub rows_total: u64,
}

/// The next piece of work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Task {
    Through,
    Align(usize),
    Gates(usize),
    Count(usize),
    Judge(usize),
    Fixture,
    Source(usize),
    Label(usize),
    Answer(usize),
    Compare,
}

impl Bench {
    /// Does about this many rows' work on the next stale stage.
    pub fn advance(&mut self, budget_rows: usize) -> Progress {
        let Some(task) = self.next_task() else {
            return Progress { done: true, stage: "done", ..Progress::default() };
        };
        match task {
            Task::Through => self.find_through(),
            Task::Align(run) => self.align(run),
            Task::Gates(run) => self.gates(run),
            Task::Count(run) => return self.count(run, budget_rows),
            Task::Judge(run) => self.judge(run),
            Task::Fixture => self.fit(),
            Task::Source(run) => self.find_source(run),
            Task::Label(run) => self.label(run),
            Task::Answer(run) => self.answer(run),
            Task::Compare => self.compare_next(),
        }
        let (stage, rows) = match task {
            Task::Through => ("alignment", 0),
            Task::Align(run) => ("alignment", self.rows_in(run)),
            Task::Gates(run) => ("gates", self.rows_in(run)),
            Task::Count(run) => ("sieve", self.rows_in(run)),
            Task::Judge(run) => ("verdicts", self.rows_in(run)),
            Task::Fixture => ("fixture", 0),
            Task::Source(run) | Task::Label(run) => ("labels", self.rows_in(run)),
            Task::Answer(run) => ("answers", self.rows_in(run)),
            Task::Compare => ("comparison", 0),
        };
        let done = self.next_task().is_none();
        self.make_room(done);
        let rows_done = match task {
            Task::Answer(run) => (rows as f64 * self.answered(run)) as u64,
            _ => rows as u64,
        };
        Progress { done, stage, part: "", rows_done, rows_total: rows as u64 }
    }

    /// Does all work that is stale.
    pub fn complete(&mut self) {
        while !self.advance(usize::MAX).done {}
    }

    /// Whether the rows stand: only answers and comparisons may still be stale.
    #[must_use]
    pub fn rows_ready(&self) -> bool {
        matches!(self.next_task(), None | Some(Task::Answer(_) | Task::Compare))
    }

    fn next_task(&self) -> Option<Task> {
        if self.through.is_none() {
            return Some(Task::Through);
        }
        for (index, run) in self.runs.iter().enumerate() {
            if run.delays.is_none() {
                return Some(Task::Align(index));
            }
            if run.masks.is_none() {
                return Some(Task::Gates(index));
            }
            if run.counts.is_none() {
                return Some(Task::Count(index));
            }
            if run.judged != Some(self.settings.sieve.least_rows_in_use()) {
                return Some(Task::Judge(index));
            }
        }
        if self.calibration.is_none() {
            return Some(Task::Fixture);
        }
        if let Some(run) = self.runs.iter().position(|run| !run.labelled) {
            return Some(if self.runs[run].sourced { Task::Label(run) } else { Task::Source(run) });
        }
        if let Some(run) = self.runs.iter().position(|run| run.answer.is_none()) {
            return Some(Task::Answer(run));
        }
        (self.pairs.len() < self.pairs_wanted()).then_some(Task::Compare)
    }

    /// Readings of a run.
    pub(super) fn readings_of(&self, run: usize) -> Option<&Readings> {
        match &self.runs.get(run)?.averaged {
            Some(averaged) => Some(averaged),
            None => self.logged(run),
        }
    }

    /// Readings of a run row by row, also where it is used as its settled points.
    pub(super) fn logged(&self, run: usize) -> Option<&Readings> {
        let run = self.runs.get(run)?;
        match &run.joined {
            Some(joined) => Some(joined),
            None => self.inputs.get(run.parts.first()?.input)?.readings.as_ref(),
        }
    }

    fn rows_in(&self, run: usize) -> usize {
        self.readings_of(run).map_or(0, Readings::rows)
    }

    /// Settings of the sieve for one run: those of the bench with the run's own decisions by hand.
    fn sieve_settings(&self, index: usize) -> SieveSettings {
        let mut settings = self.settings.sieve.clone();
        if let Some(own) = self.runs.get(index).and_then(|run| self.settings.runs.get(&run.name)) {
            settings.keep.extend(&own.keep);
            settings.remove.extend(&own.remove);
        }
        settings
    }

    fn gates(&mut self, index: usize) {
        let settings = self.sieve_settings(index);
        let held = self.runs.get_mut(index).and_then(|run| run.gating.take());
        let (part, mut masks) = held.unwrap_or_default();
        let more = match (self.readings_of(index), self.runs.get(index)) {
            (Some(readings), Some(run)) => {
                let delays = run.delays.clone().unwrap_or_default();
                let aligned = Aligned::new(readings, &run.steps, &delays);
                let input = sieve::Input {
                    aligned: &aligned,
                    noise: &run.noise,
                    delays: &delays,
                    settled: run.settled.is_some_and(Settled::recognised),
                };
                sieve::gates_part(&input, &settings, part, &mut masks);
                part + 1 < sieve::GATE_PARTS
            }
            _ => false,
        };
        if let Some(run) = self.runs.get_mut(index) {
            if more {
                run.gating = Some((part + 1, masks));
                return;
            }
            run.masks = Some(masks);
            run.judged = None;
            run.labelled = false;
            run.sourced = false;
            run.evaluations.gates += 1;
        }
    }

    fn count(&mut self, index: usize, budget: usize) -> Progress {
        let settings = self.sieve_settings(index);
        let rows = self.rows_in(index);
        let Some(run) = self.runs.get_mut(index) else { return Progress::default() };
        let held = run.counter.take();
        let run = &self.runs[index];
        let mut counts = None;
        let mut counter = None;
        let (mut part, mut prepared) = ("", None);
        let mut rows_done = 0;
        if let Some(readings) = self.readings_of(index) {
            let delays = run.delays.clone().unwrap_or_default();
            let aligned = Aligned::new(readings, &run.steps, &delays);
            let table = sieve::Picked::new(&aligned, &settings);
            let mut at_work = held.unwrap_or_else(|| {
                let kind = sieve::Kind { names: table.names().to_vec(), resolution: table.resolution() };
                let counter = Counter::new(&table, kind, &settings);
                Box::new(match &run.prepared {
                    Some((names, prepared)) if names == table.names() => {
                        counter.with_prepared(prepared.clone())
                    }
                    _ => counter,
                })
            });
            part = at_work.stage();
            let finished = at_work.step(&table, budget);
            rows_done = at_work.rows_done();
            if finished {
                prepared = at_work.prepared().map(|prepared| (table.names().to_vec(), prepared));
                counts = Some(at_work.finish());
            } else {
                counter = Some(at_work);
            }
        } else {
            counts = Some(sieve::Counts::default());
        }
        let run = &mut self.runs[index];
        run.counter = counter;
        if let Some(counts) = counts {
            run.counts = Some(counts);
            run.prepared = prepared;
            run.evaluations.count += 1;
            // The first verdicts are part of counting, so that `judge` says what a moved threshold costs.
            self.apply_verdicts(index);
        }
        let passes = self.runs[index].counts.as_ref().map_or(12, |_| 1);
        let total = (rows * passes) as u64;
        Progress {
            done: self.next_task().is_none(),
            stage: "sieve",
            part,
            rows_done: rows_done.min(total),
            rows_total: total,
        }
    }

    fn judge(&mut self, index: usize) {
        self.apply_verdicts(index);
        if let Some(run) = self.runs.get_mut(index) {
            run.evaluations.judge += 1;
        }
    }

    /// Whether the sieve takes rows of a run.
    pub(super) fn sieves(&self, index: usize) -> bool {
        let settled = self.runs.get(index).and_then(|run| run.settled);
        self.settings.sieve.gates.rare && !settled.is_some_and(Settled::recognised)
    }

    fn apply_verdicts(&mut self, index: usize) {
        let least_rows = self.settings.sieve.least_rows_in_use();
        let on = self.sieves(index);
        let Some(run) = self.runs.get_mut(index) else { return };
        let mut changed = false;
        if let (Some(masks), Some(counts)) = (run.masks.as_mut(), run.counts.as_ref())
            && counts.rows() == masks.len()
        {
            if on {
                changed = counts.judge(least_rows, masks);
            } else {
                for mask in masks.iter_mut() {
                    changed |= *mask & Reason::Rare.bit() != 0;
                    *mask &= !Reason::Rare.bit();
                }
            }
        }
        run.judged = Some(least_rows);
        // Along the plateau a moved threshold takes no other row: what was answered stays.
        if changed {
            run.forget_answer();
            self.forget_pairs();
        }
    }

    fn fit(&mut self) {
        let (calibration, problem) = calibrate::calibrate(self);
        self.calibration = Some(calibration);
        self.calibration_problem = problem;
        self.fits += 1;
        for run in &mut self.runs {
            run.labelled = false;
            run.sourced = false;
            run.forget_answer();
        }
        self.forget_pairs();
    }

    fn label(&mut self, index: usize) {
        let source = self.runs.get(index).and_then(|run| run.source.as_ref());
        let found = self
            .rows_of(index)
            .zip(source)
            .map(|(rows, source)| label::labels(&rows, source, &self.settings.sieve));
        if let Some(run) = self.runs.get_mut(index) {
            if let (Some(masks), Some(labels)) = (run.masks.as_mut(), found) {
                label::apply(masks, &labels, &self.settings.sieve);
            }
            run.cut_off = None;
            run.labelled = true;
            run.evaluations.label += 1;
            run.forget_answer();
        }
        self.forget_pairs();
    }

    /// Numbers that change whenever the rows of a run may lie elsewhere: at other instants, or corrected
    /// in another way. `None` where there is no such run.
    #[must_use]
    pub fn standing(&self, index: usize) -> Option<[u64; 2]> {
        Some([self.runs.get(index)?.standing, self.fits])
    }

    /// The rows of a run as far as the chain has come; `None` until its rows are judged and a
    /// correction is there.
    #[must_use]
    pub fn rows_of(&self, index: usize) -> Option<RunRows<'_>> {
        let readings = self.readings_of(index)?;
        let run = self.runs.get(index)?;
        let delays = run.delays.as_ref()?;
        let masks = run.masks.as_deref()?;
        let calibration = self.calibration.as_ref()?;
        let correction = &calibration.correction;
        let settled = run.settled.is_some_and(Settled::recognised);
        Some(RunRows {
            aligned: Aligned::new(readings, &run.steps, delays),
            masks,
            correction,
            // Changes from row to row in a table of settled points tell of the settings, not of
            // noise; the channels' noise was seen in the calibration runs. Averages of stretches at
            // rest bring their own.
            noise: if settled && (run.averaged.is_none() || run.pulsed.used == pulse::Used::Power) {
                calibration.noise()
            } else {
                run.noise.sigma
            },
            settled,
            refused: run.pulsed.used == pulse::Used::Refused,
            form: &run.form,
            timed: run.settled != Some(Settled::Untimed),
            doubt: self.doubt(run, readings, delays),
        })
    }

    /// How sure the answers are.
    #[must_use]
    pub fn grade(&self) -> Grade {
        self.calibration.as_ref().map_or(Grade::AsLogged, |calibration| calibration.correction.grade)
    }
}
