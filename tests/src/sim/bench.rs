//! The bench as a whole, and the solution of its circuit with a converter in place.

use serde::Serialize;

use super::circuit::{Converter, Fixture, Load, Meter, Nodes, Resistor};
use super::job::Job;
use super::text::Dialect;

/// Everything that decides what is logged.
#[derive(Clone, Debug, Serialize)]
pub struct Bench {
    /// Seed of every random number.
    pub seed: u64,
    /// The fixture.
    pub fixture: Fixture,
    /// The logger.
    pub meter: Meter,
    /// Calibration resistors.
    pub resistors: Vec<Resistor>,
    /// What the converters feed.
    pub load: Load,
    /// The converters.
    pub converters: Vec<Converter>,
    /// How logs are written.
    pub dialect: Dialect,
    /// What is logged.
    pub jobs: Vec<Job>,
}

/// The converter at work.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Operation {
    /// Input voltage at the converter, V.
    pub v_in: f64,
    /// Input current, A.
    pub i_in: f64,
    /// Output voltage at the converter, V.
    pub v_out: f64,
    /// Output current, A.
    pub i_out: f64,
    /// Whether the source is in current limit.
    pub limited: bool,
}

impl Bench {
    /// Output voltage at the converter's terminals, V, at an output current, A.
    #[must_use]
    pub fn output_volts(&self, current: f64) -> f64 {
        let leads = self.fixture.load_leads() + self.fixture.output_resistance();
        self.load.volts(current) + current * leads
    }

    /// Input power, W, at the converter's terminals.
    #[must_use]
    pub fn input_power(&self, converter: &Converter, v_in: f64, i_out: f64) -> f64 {
        self.output_volts(i_out) * i_out + converter.loss.watts(v_in, i_out)
    }

    /// True efficiency at the converter's terminals.
    #[must_use]
    pub fn efficiency(&self, converter: &Converter, v_in: f64, i_out: f64) -> f64 {
        self.output_volts(i_out) * i_out / self.input_power(converter, v_in, i_out)
    }

    /// Solves the circuit for a source of `volts` that gives at most `limit` amperes, with `asked`
    /// amperes set at the converter.
    ///
    /// **Formula** `V_A = V_0 - r I_i` with `V_A I_i = P(V_A, I_o)`, the solution with the higher
    /// voltage; the loss depends little on V_A, so that repeating it converges in a few steps.
    #[must_use]
    pub fn operate(&self, converter: &Converter, volts: f64, asked: f64, limit: Option<f64>) -> Operation {
        let r = self.fixture.source_leads() + self.fixture.input_resistance();
        let mut v_in = volts;
        let mut i_in = 0.0;
        for _ in 0..40 {
            let power = self.input_power(converter, v_in, asked);
            i_in = 2.0 * power / (volts + (volts * volts - 4.0 * r * power).max(0.0).sqrt());
            let next = volts - r * i_in;
            let moved = (next - v_in).abs();
            v_in = next;
            if moved < 1e-13 {
                break;
            }
        }
        let free = Operation { v_in, i_in, v_out: self.output_volts(asked), i_out: asked, limited: false };
        match limit {
            Some(most) if i_in > most => self.held(converter, volts - r * most, asked, most),
            _ => free,
        }
    }

    /// The same with the source held at its limit: the input voltage sinks with what is asked
    /// beyond the limit, and the output current is what the power then allows.
    fn held(&self, converter: &Converter, at_limit: f64, asked: f64, most: f64) -> Operation {
        let within = self.current_for(converter, at_limit, at_limit * most, asked);
        let v_in = at_limit - converter.sinks * (asked - within);
        let i_out = self.current_for(converter, v_in, v_in * most, asked);
        Operation { v_in, i_in: most, v_out: self.output_volts(i_out), i_out, limited: true }
    }

    /// Output current, A, at which the input power is `power`, by halving; at most `highest`.
    fn current_for(&self, converter: &Converter, v_in: f64, power: f64, highest: f64) -> f64 {
        let (mut low, mut high) = (0.0, highest);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.input_power(converter, v_in, middle) < power {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Node voltages and currents that belong to an operation.
    #[must_use]
    pub fn nodes(&self, x: &Operation) -> Nodes {
        let f = &self.fixture;
        let v_p = x.v_in + x.i_in * f.input_resistance();
        let v_n = x.i_in * f.in_low + x.i_out * f.out_low;
        let v_q = v_n + x.v_out - x.i_out * f.output_resistance();
        [v_p, v_q, v_n, x.i_in, x.i_out]
    }
}
