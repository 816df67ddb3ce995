//! What is true of a bench, beside its logs.

use serde::Serialize;

use super::bench::Bench;
use super::circuit::{Converter, Fixture, Meter, Resistor};
use super::faults::Cause;

/// The truth of one operating point, at the converter's terminals.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PointTruth {
    /// Input voltage, V.
    pub v_in: f64,
    /// Output current, A.
    pub i_out: f64,
    /// Output voltage, V.
    pub v_out: f64,
    /// Efficiency.
    pub efficiency: f64,
    /// Input power, W.
    pub p_in: f64,
    /// Output power, W.
    pub p_out: f64,
    /// Loss, W.
    pub loss: f64,
}

/// Rows that are wrong for one cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Corrupted {
    /// The cause.
    pub cause: Cause,
    /// Data-row numbers from 0, ascending.
    pub rows: Vec<usize>,
}

/// The truth of one log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogTruth {
    /// File name.
    pub file: String,
    /// `run`, or the kind of calibration run.
    pub role: &'static str,
    /// The converter's name in a run.
    pub converter: Option<String>,
    /// Data rows written, unreadable ones counted.
    pub rows: usize,
    /// Rows that are wrong, by cause; a row has one cause.
    pub corrupted: Vec<Corrupted>,
    /// Right rows next to a step: right as read, but not to be brought to one instant.
    pub beside_steps: Vec<usize>,
    /// Inclusive runs of rows in which the converter is stopped.
    pub off: Vec<[usize; 2]>,
    /// Inclusive runs of rows in which the source is in current limit.
    pub limited: Vec<[usize; 2]>,
    /// Largest (R - cold) / cold of the calibration resistor in a straight-through run.
    pub largest_drift: Option<f64>,
    /// The cold calibration resistor of a straight-through run, ohm.
    pub cold: Option<f64>,
    /// Points asked for.
    pub points: Vec<PointTruth>,
}

impl LogTruth {
    /// All wrong rows, ascending.
    #[must_use]
    pub fn wrong(&self) -> Vec<usize> {
        let mut rows: Vec<usize> =
            self.corrupted.iter().flat_map(|group| group.rows.iter().copied()).collect();
        rows.sort_unstable();
        rows
    }
}

/// Where two converters have the same efficiency.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Crossing {
    /// First converter.
    pub first: String,
    /// Second converter.
    pub second: String,
    /// Input voltage, V.
    pub v_in: f64,
    /// Output current, A.
    pub i_out: f64,
}

/// Short names of what the correction needs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sums {
    /// R_I, ohm.
    pub correction_in: f64,
    /// R_O, ohm.
    pub correction_out: f64,
    /// Input + to output + sense, jumper included, ohm.
    pub high_side: f64,
    /// Output - sense to ground, jumper included, ohm.
    pub low_side: f64,
    /// Output sense pair to load, ohm.
    pub load_side: f64,
    /// Source resistance at the input sense node, ohm.
    pub source: f64,
    /// Reading of the input current channel over that of the output channel at one current.
    pub current_gain_ratio: f64,
    /// The same for the two voltage channels.
    pub voltage_gain_ratio: f64,
}

/// The truth of a bench and of its logs.
#[derive(Clone, Debug, Serialize)]
pub struct Truth {
    /// Name and version of this form.
    pub schema: &'static str,
    /// Seed.
    pub seed: u64,
    /// Order of the arrays of five.
    pub channels: [&'static str; 5],
    /// What the correction needs.
    pub sums: Sums,
    /// The fixture, ohm.
    pub fixture: Fixture,
    /// The logger.
    pub meter: Meter,
    /// The calibration resistors.
    pub resistors: Vec<Resistor>,
    /// The converters.
    pub converters: Vec<Converter>,
    /// The logs.
    pub logs: Vec<LogTruth>,
    /// Where pairs of converters cross.
    pub crossings: Vec<Crossing>,
}

impl Truth {
    /// The truth of a bench whose logs are given.
    #[must_use]
    pub fn new(bench: &Bench, logs: Vec<LogTruth>, crossings: Vec<Crossing>) -> Self {
        Self {
            schema: "wattsieve-truth/1",
            seed: bench.seed,
            channels: ["v_in", "v_out_high", "v_out_low", "i_in", "i_out"],
            sums: bench.sums(),
            fixture: bench.fixture.clone(),
            meter: bench.meter.clone(),
            resistors: bench.resistors.clone(),
            converters: bench.converters.clone(),
            logs,
            crossings,
        }
    }
}

impl Bench {
    /// What the correction needs, true.
    #[must_use]
    pub fn sums(&self) -> Sums {
        let (f, gain) = (&self.fixture, &self.meter.gain);
        Sums {
            correction_in: f.input_resistance(),
            correction_out: f.output_resistance(),
            high_side: f.high_side(),
            low_side: f.low_side(),
            load_side: f.load_leads(),
            source: f.source_leads(),
            current_gain_ratio: gain[3] / gain[4],
            voltage_gain_ratio: gain[0] / gain[1],
        }
    }

    /// The truth at an input voltage and output current.
    #[must_use]
    pub fn point(&self, converter: &Converter, v_in: f64, i_out: f64) -> PointTruth {
        let v_out = self.output_volts(i_out);
        let p_in = self.input_power(converter, v_in, i_out);
        let p_out = v_out * i_out;
        PointTruth { v_in, i_out, v_out, efficiency: p_out / p_in, p_in, p_out, loss: p_in - p_out }
    }

    /// Where two converters lose the same, between two currents, by halving.
    #[must_use]
    pub fn crossing(&self, first: &Converter, second: &Converter, v_in: f64, between: [f64; 2]) -> Crossing {
        let gap = |i: f64| first.loss.watts(v_in, i) - second.loss.watts(v_in, i);
        let (mut low, mut high) = (between[0], between[1]);
        let sign = gap(low) > 0.0;
        for _ in 0..80 {
            let middle = 0.5 * (low + high);
            if (gap(middle) > 0.0) == sign {
                low = middle;
            } else {
                high = middle;
            }
        }
        Crossing { first: first.name.clone(), second: second.name.clone(), v_in, i_out: 0.5 * (low + high) }
    }
}
