//! Reading the small reference files.

use std::path::PathBuf;

use wattsieve_core::fixture::{CalibrationRun, RunKind, Settings};

/// A file below `tests/reference`.
pub(crate) fn path(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("reference").join(name)
}

/// Columns of a CSV file of numbers with one header line; lines that start with `#` are left out.
pub(crate) fn columns(name: &str) -> Vec<Vec<f64>> {
    let text = std::fs::read_to_string(path(name)).unwrap();
    let mut lines = text.lines().filter(|l| !l.starts_with('#'));
    let width = lines.next().unwrap().split(',').count();
    let mut columns = vec![Vec::new(); width];
    for line in lines {
        for (column, field) in columns.iter_mut().zip(line.split(',')) {
            column.push(field.parse().unwrap());
        }
    }
    columns
}

/// A JSON file.
pub(crate) fn json(name: &str) -> serde_json::Value {
    serde_json::from_str(&std::fs::read_to_string(path(name)).unwrap()).unwrap()
}

/// A number that a JSON file gives as a number or as a decimal string.
pub(crate) fn number(value: &serde_json::Value) -> f64 {
    value.as_f64().unwrap_or_else(|| value.as_str().unwrap().parse().unwrap())
}

/// One run of the synthetic calibration set, columns in channel order.
pub(crate) struct Run {
    pub(crate) kind: RunKind,
    pub(crate) time: Vec<f64>,
    pub(crate) columns: [Vec<f64>; 5],
}

impl Run {
    pub(crate) fn load(kind: RunKind, name: &str) -> Self {
        let c = columns(&format!("fixture/{name}.csv"));
        // The file holds v_p, i_in, v_q, v_n, i_out.
        let columns = [c[0].clone(), c[2].clone(), c[3].clone(), c[1].clone(), c[4].clone()];
        Self { kind, time: (0..c[0].len()).map(|n| 0.02 * n as f64).collect(), columns }
    }

    pub(crate) fn borrow(&self, input: usize) -> CalibrationRun<'_> {
        CalibrationRun {
            input,
            kind: self.kind,
            time: &self.time,
            columns: std::array::from_fn(|k| self.columns[k].as_slice()),
            ..CalibrationRun::default()
        }
    }

    /// Rows `from..to` as a run of its own.
    pub(crate) fn part(&self, from: usize, to: usize) -> Self {
        Self {
            kind: self.kind,
            time: self.time[from..to].to_vec(),
            columns: std::array::from_fn(|k| self.columns[k][from..to].to_vec()),
        }
    }
}

/// The six runs: all off, open, through with two loads, input and output shorted.
pub(crate) fn calibration_set() -> Vec<Run> {
    vec![
        Run::load(RunKind::AllOff, "cal_zero"),
        Run::load(RunKind::OpenSweep, "cal_open"),
        Run::load(RunKind::StraightThrough, "cal_through_0R68"),
        Run::load(RunKind::StraightThrough, "cal_through_2R2"),
        Run::load(RunKind::InputShorted, "cal_short_in"),
        Run::load(RunKind::OutputShorted, "cal_short_out"),
    ]
}

/// Borrows a list of runs.
pub(crate) fn borrowed(runs: &[Run]) -> Vec<CalibrationRun<'_>> {
    runs.iter().enumerate().map(|(i, run)| run.borrow(i)).collect()
}

/// Priors of the published synthetic result: input voltage exact, output voltage free, low node
/// within 0.3 %, all rows weighed alike.
pub(crate) fn priors_as_computed() -> Settings {
    let mut settings = Settings { robust: false, ..Settings::default() };
    settings.channels.v_in.gain = Some(0.0);
    settings.channels.v_out_high.gain_free = true;
    settings.channels.v_out_low.gain = Some(0.003);
    settings
}
