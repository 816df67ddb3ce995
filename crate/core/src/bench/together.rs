//! A run's rows brought to one instant, or to points at rest, or to whole periods.

use super::Bench;
use super::run::Run;
use crate::align::{self, Delays, Doubt, Noise, Steps};
use crate::channel::Readings;
use crate::fixture::RunKind;
use crate::sieve::{self, Settled};
use crate::{plateau, pulse};

impl Bench {
    pub(super) fn find_through(&mut self) {
        // Delays between the channels of one logger: what two recorded tells of their clocks.
        let best = (0..self.inputs.len())
            .filter(|&input| self.recorded(input).is_none())
            .filter_map(|input| self.calibration_run(input))
            .filter(|run| run.0 == RunKind::StraightThrough)
            .map(|(_, readings)| {
                let steps = Steps::find(readings, &Noise::of(readings), self.settings.sieve.step_limit);
                align::through_delays(readings, &steps)
            })
            .filter(align::Through::useful)
            .min_by(|a, b| uncertainty(a).total_cmp(&uncertainty(b)));
        if self.through_used != best {
            for run in &mut self.runs {
                run.forget_alignment();
            }
            self.through_used.clone_from(&best);
        }
        self.through = Some(best);
    }

    pub(super) fn align(&mut self, index: usize) {
        let found = self.logged(index).map(|readings| self.brought_together(index, readings));
        self.moves += 1;
        let Some(run) = self.runs.get_mut(index) else { return };
        run.standing = self.moves;
        run.evaluations.alignment += 1;
        let Some(found) = found else {
            run.delays = Some(Delays::none());
            return;
        };
        run.noise = found.noise;
        run.steps = found.steps;
        run.settled = Some(found.settled);
        run.delays = Some(found.delays);
        run.plateaus = found.plateaus;
        run.averaged = found.table;
        run.pulsed = found.pulsed;
        run.form = found.form;
        run.row_change = found.row_change;
    }

    /// A run's rows brought to one instant, or to points at rest, or to whole periods.
    fn brought_together(&self, index: usize, logged: &Readings) -> Together {
        let mut out = Together { noise: Noise::of(logged), ..Together::default() };
        out.steps = Steps::find(logged, &out.noise, self.settings.sieve.step_limit);
        out.settled = sieve::settled(logged, &out.noise, &out.steps, &self.settings.sieve);
        let own = self.runs.get(index).and_then(|run| self.settings.runs.get(&run.name));
        let all = &self.settings.pulsed;
        let output = own.and_then(|own| own.pulsed).unwrap_or(all.output);
        let on_current = own.and_then(|own| own.on_current).or(all.on_current).filter(|on| *on > 0.0);
        if !out.settled.recognised() || output == pulse::Output::Pulsed || has_power(logged) {
            out.pulsed = pulse::find(logged, &out.noise, &pulse::Settings { output, on_current, ..*all });
        }
        match out.pulsed.used {
            pulse::Used::Rows | pulse::Used::Refused => {}
            pulse::Used::Periods => {
                let periods = pulse::periods(logged, out.pulsed.rows_per_period.unwrap_or(1.0));
                out.noise = Noise::of(&periods.table);
                out.steps = Steps::default();
                out.settled = Settled::Periods;
                out.form = periods.form;
                out.table = Some(periods.table);
                return out;
            }
            pulse::Used::Power => {
                let pulse::Powers { table, form } = pulse::by_power(logged, on_current);
                out.form = form;
                out.noise = Noise::of(&table);
                out.steps = Steps::find(&table, &out.noise, self.settings.sieve.step_limit);
                if !out.settled.recognised() {
                    out.delays = self.delays(index, &table, &out.steps);
                }
                out.table = Some(table);
                return out;
            }
        }
        // Settled points have no delays to speak of: nothing moves while a row is taken.
        if out.settled.recognised() {
            return out;
        }
        let plateaus = plateau::find(logged, &out.noise, &self.settings.plateaus);
        if out.pulsed.used == pulse::Used::Rows && plateaus.used(self.plateau_use(index)) {
            out.table = Some(plateau::averaged(logged, &plateaus.list));
            out.noise = Noise::given(plateau::pooled_noise(&plateaus.list), [0.0; 5]);
            out.steps = Steps::default();
            out.settled = Settled::Plateaus;
        } else {
            out.delays = self.delays(index, logged, &out.steps);
            out.row_change = align::change_of_a_row(logged, &out.noise);
        }
        out.plateaus = Some(plateaus);
        out
    }

    /// Whether a run is to be used as its settled points.
    pub(super) fn plateau_use(&self, index: usize) -> plateau::Use {
        let own = self.runs.get(index).and_then(|run| self.settings.runs.get(&run.name));
        own.and_then(|own| own.plateaus).unwrap_or(self.settings.plateaus.use_them)
    }

    /// Delays of a run's channels; those of another logger are as uncertain as its clock.
    fn delays(&self, index: usize, readings: &Readings, steps: &Steps) -> Delays {
        let through = self.through.as_ref().and_then(Option::as_ref);
        let Some(run) = self.runs.get(index) else { return Delays::none() };
        if run.loggers.is_empty() {
            return align::estimate(readings, steps, through, &run.columns, &self.settings.align);
        }
        // The order of columns says nothing across two loggers.
        let mut delays = match self.settings.align.mode {
            align::Mode::Stated => Delays::stated(&self.settings.align),
            _ => Delays::none(),
        };
        for logger in run.loggers.iter().filter(|logger| logger.clocks.usable()) {
            for channel in &logger.channels {
                let own = delays.u[channel.index()].unwrap_or(0.0);
                if let Some(clock) = logger.clocks.row_u {
                    delays.u[channel.index()] = Some(libm::hypot(own, clock));
                }
            }
        }
        delays
    }

    /// What is not known of a run's delays. The channels of another logger move with its clock, together.
    pub(super) fn doubt(&self, run: &Run, readings: &Readings, delays: &Delays) -> Doubt {
        if run.loggers.is_empty() {
            return Doubt::of(delays, readings);
        }
        let own = match self.settings.align.mode {
            align::Mode::Stated => Delays::stated(&self.settings.align),
            _ => Delays::none(),
        };
        let mut doubt = Doubt::of(&own, readings);
        for logger in run.loggers.iter().filter(|logger| logger.clocks.usable()) {
            let mut cause = [0.0; 5];
            for channel in &logger.channels {
                cause[channel.index()] = logger.clocks.row_u.unwrap_or(0.0);
            }
            doubt.add_own(cause, readings);
        }
        doubt
    }
}

/// What alignment makes of a run.
#[derive(Default)]
struct Together {
    noise: Noise,
    steps: Steps,
    settled: Settled,
    delays: Delays,
    plateaus: Option<plateau::Plateaus>,
    table: Option<Readings>,
    pulsed: pulse::Pulsed,
    form: [Vec<f64>; 2],
    row_change: f64,
}

/// Whether an output power is logged.
fn has_power(readings: &Readings) -> bool {
    readings.extras.iter().any(|extra| extra.role == crate::channel::Role::POut)
}

fn uncertainty(through: &align::Through) -> f64 {
    through.u[crate::channel::Channel::IOut.index()].unwrap_or(f64::INFINITY)
}
