//! What leaves the bench as text: results, kept rows, the calibration, the bench itself.

use std::fmt::Write as _;

use serde::Serialize;

use super::{Bench, Detail, Results, Settings};
use crate::point::Rows as _;
use crate::sieve::Reason;

/// Name of the saved bench's format and its number.
pub const SAVED: &str = "wattsieve-bench/1";

#[derive(Serialize)]
struct SavedInput<'a> {
    name: &'a str,
    sha256: Option<&'a str>,
    bytes: u64,
}

#[derive(Serialize)]
struct Saved<'a> {
    format: &'static str,
    version: &'static str,
    settings: &'a Settings,
    inputs: Vec<SavedInput<'a>>,
    results: &'a Results,
}

impl Bench {
    /// Results as the bytes of a file: JSON, one line, ended by a line break.
    #[must_use]
    pub fn json(&self, results: &Results) -> String {
        let mut text = serde_json::to_string(results).unwrap_or_default();
        text.push('\n');
        text
    }

    /// The bench as JSON: settings, the inputs' names and hashes, and brief results to show at once.
    /// The logs travel beside it.
    #[must_use]
    pub fn saved(&mut self) -> String {
        let results = self.results(Detail::Brief);
        let saved = Saved {
            format: SAVED,
            version: env!("CARGO_PKG_VERSION"),
            settings: &self.settings,
            inputs: results
                .inputs
                .iter()
                .map(|input| SavedInput {
                    name: &input.name,
                    sha256: input.sha256.as_deref(),
                    bytes: input.bytes,
                })
                .collect(),
            results: &results,
        };
        serde_json::to_string(&saved).unwrap_or_default()
    }

    /// The calibration in use as a record that another bench can take; `None` where nothing is calibrated.
    #[must_use]
    pub fn calibration_record(&self) -> Option<String> {
        let calibration = self.calibration.as_ref()?;
        if !self.calibrated() {
            return None;
        }
        Some(calibration.to_record())
    }

    /// Operating rows of a run as CSV at the converter's terminals, decimal point, with the row numbers
    /// of the log; `header` writes the line of names first.
    #[must_use]
    pub fn kept_rows_csv(&self, index: usize, header: bool) -> String {
        let mut writer = csv::Writer::from_writer(Vec::new());
        if header {
            let names = [
                "run",
                "row",
                "line",
                "time_s",
                "v_in_V",
                "i_in_A",
                "v_out_V",
                "i_out_A",
                "p_in_W",
                "p_out_W",
                "loss_W",
                "efficiency",
                "labels",
            ];
            let _ = writer.write_record(names);
        }
        if let (Some(rows), Some(run)) = (self.rows_of(index), self.runs.get(index)) {
            let readings = rows.aligned.readings();
            let mut fields: [String; 13] = Default::default();
            for row in (0..rows.rows()).filter(|&row| Reason::kept(rows.mask(row))) {
                let state = rows.state(row);
                let (p_in, p_out) = (state.v_in * state.i_in, state.v_out * state.i_out);
                let numbers = [
                    rows.time(row),
                    state.v_in,
                    state.i_in,
                    state.v_out,
                    state.i_out,
                    p_in,
                    p_out,
                    p_in - p_out,
                    state.efficiency(),
                ];
                for field in &mut fields {
                    field.clear();
                }
                fields[0].push_str(&run.name);
                let _ = write!(fields[1], "{row}");
                if let Some(line) = readings.lines.get(row) {
                    let _ = write!(fields[2], "{line}");
                }
                for (field, number) in fields[3..12].iter_mut().zip(numbers) {
                    if !number.is_nan() {
                        let _ = write!(field, "{number}");
                    }
                }
                let mask = rows.mask(row);
                for reason in [Reason::SupplyLimit, Reason::Off, Reason::AboveOne] {
                    if mask & reason.bit() != 0 {
                        if !fields[12].is_empty() {
                            fields[12].push(' ');
                        }
                        fields[12].push_str(reason.code());
                    }
                }
                let _ = writer.write_record(&fields);
            }
        }
        writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
    }
}
