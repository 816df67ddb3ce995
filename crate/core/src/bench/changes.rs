//! New settings: what of the bench becomes stale.

use std::collections::BTreeSet;

use super::run::Run;
use super::{Bench, InputSettings, Settings};

impl Bench {
    /// Replaces the settings; gives the inputs whose bytes are wanted again, because they are to be read
    /// differently. Only stages that depend on what changed become stale.
    pub fn set_settings(&mut self, mut new: Settings) -> Vec<usize> {
        new.inputs.resize(self.inputs.len().max(new.inputs.len()), InputSettings::default());
        let old = std::mem::replace(&mut self.settings, new);
        let new = &self.settings;
        let mut wanted = Vec::new();
        let mut regroup = old.sieve.settled_points != new.sieve.settled_points;
        let mut refit = old.fixture != new.fixture
            || old.calibration != new.calibration
            || old.calibration_use != new.calibration_use;
        for (index, input) in self.inputs.iter_mut().enumerate() {
            let (before, now) = (old.inputs.get(index), new.inputs.get(index));
            let (Some(before), Some(now)) = (before, now) else { continue };
            if before.read != now.read || before.columns != now.columns {
                wanted.push(index);
            }
            if before.kind != now.kind {
                input.state(now.kind);
            }
            regroup |= before.kind != now.kind
                || before.run != now.run
                || before.continues != now.continues
                || before.beside != now.beside
                || before.clock != now.clock;
            refit |= before.resistor != now.resistor
                || before.four_wire != now.four_wire
                || before.hold_back != now.hold_back
                || before.path != now.path;
        }
        if old.fixture != new.fixture {
            self.wiring = None;
        }
        let gates_change = gates_part(&old.sieve) != gates_part(&new.sieve);
        let count_change = count_part(&old.sieve) != count_part(&new.sieve);
        let realign = old.align != new.align
            || old.sieve.step_limit.to_bits() != new.sieve.step_limit.to_bits()
            || old.sieve.settled_points != new.sieve.settled_points
            || old.plateaus != new.plateaus
            || old.pulsed != new.pulsed;
        let by_hand = changed_by_hand(&old, new);
        let reanswer = old.map != new.map
            || old.at != new.at
            || old.quiescent_at.map(f64::to_bits) != new.quiescent_at.map(f64::to_bits);
        let recompare = old.compare != new.compare;
        for run in &mut self.runs {
            let own = |settings: &Settings| {
                settings
                    .runs
                    .get(&run.name)
                    .map_or((None, None, None), |own| (own.plateaus, own.pulsed, own.on_current))
            };
            if realign || own(&old) != own(new) {
                run.forget_alignment();
            }
            if gates_change || by_hand.contains(&run.name) {
                run.forget_gates();
            }
            if count_change {
                run.forget_counts();
            }
            if reanswer {
                run.forget_answer();
            }
        }
        if realign {
            self.through = None;
        }
        if realign || gates_change || refit {
            self.calibration = None;
        }
        if reanswer || recompare {
            self.forget_pairs();
        }
        if regroup {
            self.inputs_changed(None);
        }
        wanted
    }
}

impl Run {
    pub(super) fn forget_alignment(&mut self) {
        self.plateaus = None;
        self.averaged = None;
        self.pulsed = crate::pulse::Pulsed::default();
        self.form = [Vec::new(), Vec::new()];
        self.delays = None;
        self.forget_gates();
        self.forget_counts();
    }

    fn forget_gates(&mut self) {
        self.prepared = None;
        self.masks = None;
        self.judged = None;
        self.labelled = false;
        self.sourced = false;
        self.gating = None;
        self.forget_answer();
    }

    fn forget_counts(&mut self) {
        self.counter = None;
        self.counts = None;
        self.judged = None;
        self.forget_answer();
    }
}

/// The part of the sieve's settings that the gates look at.
fn gates_part(settings: &crate::sieve::Settings) -> crate::sieve::Settings {
    let standard = crate::sieve::Settings::default();
    let mut part = crate::sieve::Settings {
        least_rows: standard.least_rows,
        strictness: standard.strictness,
        cells: standard.cells,
        channel_cells: standard.channel_cells,
        widths: standard.widths,
        channels: standard.channels,
        vote: standard.vote,
        ..settings.clone()
    };
    part.gates.rare = standard.gates.rare;
    part
}

/// The part of the sieve's settings that counting looks at.
fn count_part(settings: &crate::sieve::Settings) -> crate::sieve::Settings {
    crate::sieve::Settings {
        strictness: settings.strictness,
        cells: settings.cells,
        channel_cells: settings.channel_cells.clone(),
        widths: settings.widths.clone(),
        channels: settings.channels.clone(),
        vote: settings.vote,
        ..crate::sieve::Settings::default()
    }
}

/// Runs whose decisions by hand differ.
fn changed_by_hand(old: &Settings, new: &Settings) -> BTreeSet<String> {
    let names: BTreeSet<&String> = old.runs.keys().chain(new.runs.keys()).collect();
    names.into_iter().filter(|name| old.runs.get(*name) != new.runs.get(*name)).cloned().collect()
}
