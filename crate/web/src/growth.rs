//! A log that is given again, longer.

use crate::Handle;
use crate::look::Look;
use crate::preview::{Shown, ShownRow};
use crate::value::to_js;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::channel::PreviewRow;
use wattsieve_core::log::Fingerprint;

/// Sum of the first bytes of a file.
#[wasm_bindgen]
#[derive(Default)]
pub struct Sum(Fingerprint);

#[wasm_bindgen]
impl Sum {
    /// Of no bytes yet.
    #[must_use]
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next bytes.
    pub fn push(&mut self, bytes: &[u8]) {
        self.0.push(bytes);
    }
}

#[wasm_bindgen]
impl Handle {
    /// The input that a file of this name and size may be a longer state of, and how many of its
    /// first bytes tell: `[input, bytes]`; nothing where there is none.
    #[must_use]
    pub fn may_have_grown(&self, name: &str, bytes: f64) -> Option<Vec<f64>> {
        let (input, known) = self.bench.may_have_grown(name, bytes as u64)?;
        Some(vec![input as f64, known as f64])
    }

    /// Begins to read on in an input whose file has become so long, by the sum of its first bytes;
    /// gives the place from which bytes are wanted, nothing where it is another log.
    pub fn grow(&mut self, input: usize, sum: &Sum, bytes: f64) -> Option<f64> {
        let from = self.bench.grow(input, &sum.0, Some(bytes as u64))?;
        self.settled = false;
        self.look = Look::default();
        Some(from as f64)
    }

    /// Ends reading that could not be finished; the input is as it was before.
    pub fn abandon(&mut self, input: usize) {
        self.settled = false;
        self.bench.abandon(input);
    }

    /// Rows that were new when a log was last given again.
    #[must_use]
    pub fn new_rows(&self, input: usize) -> usize {
        self.bench.grown(input).rows
    }

    /// The first rows, as they stand in the text: as a preview; at most 20.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn first(&self, input: usize) -> Result<JsValue, JsValue> {
        self.kept_rows_of(input, |_| true)
    }

    /// The first rows in which something was lost, as they stand in the text: as a preview.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn worst(&self, input: usize) -> Result<JsValue, JsValue> {
        self.kept_rows_of(input, |row| row.lost)
    }
}

/// Most rows of one answer: the reader keeps as many of either kind, so so many are without a gap.
const MOST: usize = 20;

impl Handle {
    fn kept_rows_of(&self, input: usize, wanted: impl Fn(&PreviewRow) -> bool) -> Result<JsValue, JsValue> {
        let Some(preview) = self.bench.input_preview(input) else { return Ok(JsValue::NULL) };
        let rows = preview.rows.iter().filter(|row| wanted(row)).take(MOST).map(|row| ShownRow {
            row: row.row as usize,
            line: row.line,
            cells: row.fields.clone(),
            problem: row.lost,
            marked: row.marked.clone(),
        });
        to_js(&Shown { headers: preview.headers.clone(), rows: rows.collect() })
    }
}
