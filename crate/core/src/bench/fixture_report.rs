//! The fixture's part of the results: the calibration's own report, and what the runs add to it.

use super::Bench;
use crate::fixture::{self, Calibration, Report, Spot};

impl Bench {
    /// The fixture in the results; `None` where nothing is known of it.
    pub(super) fn fixture_report(&self) -> Option<Report> {
        let calibration = self.calibration.as_ref().filter(|_| self.calibrated())?;
        let mut report = calibration.report.clone();
        report.notes.clone_from(&calibration.notes);
        let spots = self.spots();
        report.budget = fixture::budget_by(calibration, &spots, self.settings.map.draws);
        report.split.sentence = fixture::split_sentence(&report, &report.budget);
        if let Some(check) = &mut report.checks.record {
            check.tell_points(&calibration.correction, &spots);
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
