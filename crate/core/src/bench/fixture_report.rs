//! The fixture's part of the results: the calibration's own report, and what the runs add to it.

use super::Bench;
use crate::fixture::{self, Budget, Calibration, Report, Spot};

/// A budget and what it was made from: its draws take long, and results are asked for again and again.
#[derive(Clone, Debug)]
pub(super) struct HeldBudget {
    /// Number of the fit.
    fit: u64,
    spots: Vec<(String, Spot)>,
    draws: bool,
    budget: Budget,
}

impl Bench {
    /// Makes the budget anew where it rests on another fit, other operating points or another setting.
    fn renew_budget(&mut self) {
        let (fit, draws, spots) = (self.fits, self.settings.map.draws, self.spots());
        let held = self.budget.as_ref();
        if held.is_some_and(|held| held.fit == fit && held.draws == draws && held.spots == spots) {
            return;
        }
        self.budget = self.calibration.as_ref().map(|calibration| {
            let budget = fixture::budget_by(calibration, &spots, draws);
            HeldBudget { fit, spots, draws, budget }
        });
        self.budgets += 1;
    }

    /// The fixture in the results; `None` where nothing is known of it.
    pub(super) fn fixture_report(&mut self) -> Option<Report> {
        if !self.calibrated() {
            return None;
        }
        self.renew_budget();
        let calibration = self.calibration.as_ref()?;
        let mut report = calibration.report.clone();
        report.notes.clone_from(&calibration.notes);
        let held = self.budget.as_ref()?;
        report.budget = held.budget.clone();
        report.split.sentence = fixture::split_sentence(&report, &report.budget);
        if let Some(check) = &mut report.checks.record {
            check.tell_points(&calibration.correction, &held.spots);
        }
        self.watch(calibration, &mut report);
        Some(report)
    }

    /// Usual operating points of all runs, with the run's name.
    fn spots(&self) -> Vec<(String, Spot)> {
        self.runs
            .iter()
            .filter_map(|run| Some((&run.name, &run.answer.as_ref()?.as_ref()?.watch)))
            .flat_map(|(name, watch)| watch.spots.iter().map(|spot| (name.clone(), *spot)))
            .collect()
    }

    /// Free checks from ordinary runs.
    fn watch(&self, calibration: &Calibration, report: &mut Report) {
        for run in &self.runs {
            let Some(Some(answer)) = run.answer.as_ref() else { continue };
            if let Some(currents) = &answer.watch.currents {
                report.checks.linear_regulator.push(super::checks::linear(&run.name, currents, calibration));
            }
            if let Some(low) = &answer.watch.low {
                report.checks.contacts.push(super::checks::contacts(&run.name, low, calibration));
            }
        }
    }
}
