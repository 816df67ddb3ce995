//! Answers and comparisons in short steps, and the operating rows that they share.
//!
//! Operating rows in columns take about 56 bytes a row. They are held while answers and comparisons
//! are made, for as many runs as fit, and dropped once nothing is stale.

use super::{Bench, run::Held};
use crate::compare::Ready;
use crate::finding::{self, Answering, Given};
use crate::map::{CutOff, Index, Operating, Source};

/// Rows over all runs that are held beyond those at work.
const MOST_HELD: usize = 2_000_000;

impl Bench {
    /// Does the next part of a run's answers.
    pub(super) fn answer(&mut self, index: usize) {
        if !self.gather(index) {
            return;
        }
        let asked = finding::Settings {
            points: self.settings.at.clone(),
            quiescent_at: self.settings.quiescent_at,
            map: self.settings.map.clone(),
        };
        if let Some(mut answers) = self.runs.get_mut(index).and_then(|run| run.uncleaned.take()) {
            answers.findings.extend(self.cleaning(index, &answers.map.grid));
            let run = &mut self.runs[index];
            run.answer = Some(Some(answers));
            run.evaluations.answer += 1;
            return;
        }
        let Some(run) = self.runs.get_mut(index) else { return };
        let mut answering = run.answering.take().unwrap_or_default();
        let run = &self.runs[index];
        let made = match (self.rows_of(index), run.held.as_ref(), &run.source, &run.cut_off) {
            (Some(rows), Some(Held { op, index: Some(by_place) }), Some(source), Some(cut_off)) => {
                let given = Given { rows: &rows, op, index: by_place, source, cut_off };
                answering.step(given, &asked).map(|answers| Some(Box::new(answers)))
            }
            _ => Some(None),
        };
        let run = &mut self.runs[index];
        match made {
            Some(Some(answers)) => run.uncleaned = Some(answers),
            Some(None) => {
                run.answer = Some(None);
                run.evaluations.answer += 1;
            }
            None => run.answering = Some(answering),
        }
    }

    /// Share of a run's answers that is done.
    pub(super) fn answered(&self, index: usize) -> f64 {
        match self.runs.get(index) {
            Some(run) if run.answer.is_some() => 1.0,
            Some(run) => {
                let done = run.answering.as_ref().map_or(0, Answering::done);
                let before = usize::from(run.held.is_some()) + usize::from(run.cut_off.is_some());
                (done + before) as f64 / (Answering::PARTS + 3) as f64
            }
            None => 1.0,
        }
    }

    /// Does one part of what answers and comparisons rest on; whether it was all there.
    fn gather(&mut self, index: usize) -> bool {
        let Some(run) = self.runs.get(index) else { return true };
        // First, since it gathers rows of its own: both at once would be the most memory of all.
        if run.cut_off.is_none() {
            let resistance = run.source.as_ref().and_then(|source| source.resistance.value);
            let found = self.rows_of(index).map(|rows| CutOff::find(&rows, resistance));
            let run = &mut self.runs[index];
            run.cut_off = found;
            return run.cut_off.is_none();
        }
        if run.held.is_none() {
            let op = self.rows_of(index).map(|rows| Operating::collect(&rows));
            let run = &mut self.runs[index];
            run.held = op.map(|op| Held { op, index: None });
            return run.held.is_none();
        }
        if let Some(held) = self.runs[index].held.as_mut()
            && held.index.is_none()
        {
            held.index = Some(Index::of(&held.op));
            return false;
        }
        true
    }

    /// Lets go of operating rows: of all runs once nothing is stale, else of those not at work while
    /// there are too many.
    pub(super) fn make_room(&mut self, done: bool) {
        let at_work = self.at_work();
        let rows = |run: &super::run::Run| run.held.as_ref().map_or(0, |held| held.op.rows);
        let mut held: usize = self.runs.iter().map(rows).sum();
        for (index, run) in self.runs.iter_mut().enumerate() {
            if done || (held > MOST_HELD && !at_work.contains(&index)) {
                held -= rows(run);
                run.held = None;
            }
        }
    }

    /// Runs that the next answer or comparison looks at.
    fn at_work(&self) -> Vec<usize> {
        match self.runs.iter().position(|run| run.answer.is_none()) {
            Some(run) => vec![run],
            None => self.next_pair().to_vec(),
        }
    }

    /// Number of pairs of runs.
    pub(super) fn pairs_wanted(&self) -> usize {
        self.runs.len() * self.runs.len().saturating_sub(1) / 2
    }

    /// The runs of the next comparison: every run with each one before it.
    fn next_pair(&self) -> [usize; 2] {
        let mut left = self.pairs.len();
        let mut second = 1;
        while left >= second {
            left -= second;
            second += 1;
        }
        [left, second]
    }

    /// Does the next part of the next comparison.
    pub(super) fn compare_next(&mut self) {
        let [first, second] = self.next_pair();
        if !(self.gather(first) && self.gather(second)) {
            return;
        }
        let settings =
            crate::compare::Settings { map: self.settings.map.clone(), ..self.settings.compare.clone() };
        let mut comparing = self.comparing.take().unwrap_or_default();
        let made = match (self.side(first), self.side(second)) {
            (Some(a), Some(b)) => comparing.step([a, b], &self.settings.at, &settings).map(Some),
            _ => Some(None),
        };
        match made {
            Some(pair) => {
                self.pairs.push(pair);
                self.comparisons += 1;
            }
            None => self.comparing = Some(comparing),
        }
    }

    /// Comparisons are stale.
    pub(super) fn forget_pairs(&mut self) {
        self.pairs.clear();
        self.comparing = None;
    }

    fn side(&self, index: usize) -> Option<Ready<'_>> {
        let run = self.runs.get(index)?;
        let answer = run.answer.as_ref()?.as_deref()?;
        let held = run.held.as_ref()?;
        Some(Ready {
            name: &run.name,
            op: &held.op,
            index: held.index.as_ref()?,
            levels: &answer.levels,
            model: &answer.loss_model,
        })
    }

    /// Finds what feeds a run; labels and answers use it.
    pub(super) fn find_source(&mut self, index: usize) {
        let found = self.rows_of(index).map(|rows| Source::find(&rows));
        if let Some(run) = self.runs.get_mut(index) {
            run.source = found;
            run.sourced = true;
        }
    }
}
