//! One log to be recorded.

use serde::Serialize;

use super::faults::Faults;
use super::program::Program;

/// What is connected.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Wiring {
    /// Leads on, everything off.
    AllOff,
    /// Converter replaced by jumpers, no load; the source is swept in V.
    OpenSweep,
    /// Converter replaced by jumpers, this calibration resistor as load; the source is swept in V.
    StraightThrough(usize),
    /// The converter's input plane shorted; the source is swept in A.
    InputShorted,
    /// The converter's output plane shorted, supply at the load terminals, swept in A; N tied to G.
    OutputShorted,
    /// This converter.
    Converter(usize),
}

/// One log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Job {
    /// File name.
    pub file: String,
    /// Wiring.
    pub wiring: Wiring,
    /// Number of rows recorded (unreadable ones count).
    pub rows: usize,
    /// Source, V, open circuit.
    pub volts: Program,
    /// Output current asked, A; in a shorted run the source's current.
    pub amps: Program,
    /// The source's current limit, A.
    pub limit: Option<f64>,
    /// Time between rows where it is not the logger's own, s.
    pub row_period: Option<f64>,
    /// Factor on the logger's noise, below 1 where readings were averaged.
    pub noise_scale: f64,
    /// Whether a case-temperature column is written.
    pub temperature: bool,
    /// What goes wrong.
    pub faults: Faults,
    /// Input voltage (V) and output current (A) of the points whose truth is wanted.
    pub points: Vec<[f64; 2]>,
}

impl Job {
    /// A job with nothing special about it.
    #[must_use]
    pub fn new(file: &str, wiring: Wiring, rows: usize) -> Self {
        Self {
            file: file.to_owned(),
            wiring,
            rows,
            volts: Program::hold(0.0),
            amps: Program::hold(0.0),
            limit: None,
            row_period: None,
            noise_scale: 1.0,
            temperature: false,
            faults: Faults::default(),
            points: Vec::new(),
        }
    }
}
