//! The worker's one object: the bench with all data, and what was last drawn of each run.
//!
//! No method calls back into the script while it holds the bench. Progress is a return value.

use crate::failure::{Failure, install_hook};
use crate::look::Look;
use crate::value::{from_js, to_js};
use serde::{Deserialize, Serialize};
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::bench::{Bench, Detail, SETTINGS_VERSION, Settings, wrong_setting};

/// The analysis as the worker holds it.
#[wasm_bindgen]
#[derive(Default)]
pub struct Handle {
    pub(crate) bench: Bench,
    pub(crate) look: Look,
    pub(crate) settled: bool,
}

/// A saved bench, as far as it is needed to go on with it.
#[derive(Deserialize)]
struct Saved {
    settings: Settings,
}

/// Which text is wanted.
#[derive(Deserialize)]
struct Wanted {
    what: String,
    run: Option<usize>,
}

/// A text and the name of its file.
#[derive(Serialize)]
struct TextFile {
    name: String,
    text: String,
}

#[wasm_bindgen]
impl Handle {
    /// An empty bench.
    #[must_use]
    #[wasm_bindgen(constructor)]
    pub fn new() -> Self {
        install_hook();
        let mut handle = Self::default();
        handle.bench.follow(true);
        handle
    }

    /// Empties the bench; with a saved one given, its settings are taken over before its logs are
    /// read.
    ///
    /// # Errors
    /// A saved bench that cannot be understood, or that a later version wrote.
    pub fn clear(&mut self, saved: JsValue) -> Result<(), JsValue> {
        let settings = if saved.is_null() || saved.is_undefined() {
            Settings::default()
        } else {
            let saved: Saved = from_js(saved, "saved bench")?;
            if saved.settings.version > SETTINGS_VERSION {
                return Err(Failure {
                    code: "newer",
                    message: format!(
                        "This bench was saved by a later version (format {}; this one knows {SETTINGS_VERSION}).",
                        saved.settings.version
                    ),
                    hint: Some("Open it with the version that saved it, or a later one.".to_owned()),
                    at: None,
                }
                .into());
            }
            saved.settings
        };
        self.bench = Bench::new(settings);
        self.bench.follow(true);
        self.look = Look::default();
        self.settled = false;
        Ok(())
    }

    /// Begins an input of so many bytes (0: not known) and gives its number.
    pub fn begin(&mut self, name: &str, bytes: f64) -> usize {
        self.bench.begin(name, known(bytes))
    }

    /// Begins an input anew whose bytes are wanted again.
    pub fn begin_again(&mut self, input: usize, bytes: f64) {
        self.settled = false;
        self.bench.begin_again(input, known(bytes));
    }

    /// Takes the next bytes of an input.
    pub fn push(&mut self, input: usize, bytes: &[u8]) {
        self.bench.push(input, bytes);
    }

    /// Ends an input.
    pub fn finish(&mut self, input: usize) {
        self.settled = false;
        self.look = Look::default();
        self.bench.finish(input);
    }

    /// Takes an input out; those after it move up by one.
    pub fn remove(&mut self, input: usize) {
        self.settled = false;
        self.look = Look::default();
        self.bench.remove(input);
    }

    /// Settings in use.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn settings(&self) -> Result<JsValue, JsValue> {
        to_js(self.bench.settings())
    }

    /// Replaces the settings; gives the numbers of the inputs whose bytes are wanted again.
    ///
    /// # Errors
    /// Settings that cannot be understood; the old ones stay.
    pub fn set_settings(&mut self, settings: JsValue) -> Result<Vec<usize>, JsValue> {
        let settings = settings_of(settings)?;
        self.settled = false;
        Ok(self.bench.set_settings(settings))
    }

    /// Does about so many rows' work on what is stale: `{done, stage, part, rows_done, rows_total}`.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn advance(&mut self, budget_rows: usize) -> Result<JsValue, JsValue> {
        let progress = self.bench.advance(budget_rows);
        self.settled = progress.done;
        to_js(&progress)
    }

    /// Whether the rows stand, so that they can be drawn and read off; answers may still be stale.
    #[must_use]
    pub fn rows_ready(&self) -> bool {
        self.bench.rows_ready()
    }

    /// What became of a run's rows so far, the `rows` object of the results without row lists;
    /// `null` where there is no such run.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn row_counts(&self, run: usize) -> Result<JsValue, JsValue> {
        to_js(&self.bench.row_counts(run))
    }

    /// What the readings of each column of an input span; `null` where there is no such input.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn column_ranges(&self, input: usize) -> Result<JsValue, JsValue> {
        to_js(&self.bench.column_ranges(input))
    }

    /// The results without row lists, for the screen.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn view(&mut self) -> Result<JsValue, JsValue> {
        to_js(&self.bench.results(Detail::Brief))
    }

    /// How often each stage ran.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn counts(&self) -> Result<JsValue, JsValue> {
        to_js(&self.bench.evaluations())
    }

    /// Numbers of the inputs that are not hashed yet.
    #[must_use]
    pub fn unhashed(&self) -> Vec<usize> {
        self.bench.unhashed()
    }

    /// Takes the next bytes of an input into its hash.
    pub fn hash(&mut self, input: usize, bytes: &[u8]) {
        self.bench.hash(input, bytes);
    }

    /// Ends the hash of an input.
    pub fn finish_hash(&mut self, input: usize) {
        self.bench.finish_hash(input);
    }

    /// A text to save, `{name, text}`: `results`, `kept_csv` (of one run, or of all), `settled_csv`
    /// (the table of settled points), `calibration`,
    /// `settings` or `bench`.
    ///
    /// # Errors
    /// What is asked does not exist yet.
    pub fn export_text(&mut self, wanted: JsValue) -> Result<JsValue, JsValue> {
        let Wanted { what, run } = from_js(wanted, "request for a file")?;
        let (name, text) = match what.as_str() {
            "results" => {
                let results = self.bench.results(Detail::Full);
                ("wattsieve-results.json".to_owned(), self.bench.json(&results))
            }
            "kept_csv" | "rows" => self.kept_rows(run),
            "settled_csv" => self.settled_table(run),
            "calibration" => {
                let record = self.bench.calibration_record().ok_or_else(no_calibration)?;
                ("wattsieve-calibration.json".to_owned(), record)
            }
            "settings" => {
                let mut text = serde_json::to_string_pretty(self.bench.settings())
                    .map_err(|error| Failure::internal(&error.to_string()))?;
                text.push('\n');
                ("wattsieve-settings.json".to_owned(), text)
            }
            "bench" => ("wattsieve-bench.json".to_owned(), self.bench.saved()),
            other => {
                return Err(Failure {
                    code: "bad_request",
                    message: format!("There is no file called {other}."),
                    hint: None,
                    at: None,
                }
                .into());
            }
        };
        to_js(&TextFile { name, text })
    }

    fn kept_rows(&self, run: Option<usize>) -> (String, String) {
        let Some(run) = run else {
            let text = (0..self.bench.runs()).map(|run| self.bench.kept_rows_csv(run, run == 0)).collect();
            return ("kept-rows.csv".to_owned(), text);
        };
        (format!("{}-kept-rows.csv", self.safe_name(run)), self.bench.kept_rows_csv(run, true))
    }

    fn settled_table(&self, run: Option<usize>) -> (String, String) {
        let Some(run) = run else {
            let text = (0..self.bench.runs()).map(|run| self.bench.settled_csv(run, run == 0)).collect();
            return ("settled-points.csv".to_owned(), text);
        };
        (format!("{}-settled-points.csv", self.safe_name(run)), self.bench.settled_csv(run, true))
    }

    /// A run's name as part of a file name that every system takes.
    fn safe_name(&self, run: usize) -> String {
        let name = self.bench.run_name(run).unwrap_or("run");
        name.chars().map(|c| if c.is_alphanumeric() || "-_.".contains(c) { c } else { '-' }).collect()
    }

    /// Stops at once, as a mistake in the program would: for the test that nothing is lost by it.
    ///
    /// # Panics
    /// Always.
    pub fn panic(&self) {
        panic!("stopped on purpose");
    }
}

/// Settings of the page; the message names the field that cannot be understood.
fn settings_of(value: JsValue) -> Result<Settings, JsValue> {
    serde_wasm_bindgen::from_value(value.clone()).map_err(|error| {
        let plain = serde_wasm_bindgen::from_value(value).ok();
        let field = plain.as_ref().and_then(wrong_setting);
        let message = match field {
            Some(field) => format!("The settings could not be understood: {field}: {error}."),
            None => format!("The settings could not be understood: {error}."),
        };
        Failure { code: "bad_request", message, hint: None, at: None }.into()
    })
}

fn known(bytes: f64) -> Option<u64> {
    (bytes >= 1.0).then_some(bytes as u64)
}

fn no_calibration() -> JsValue {
    Failure {
        code: "no_calibration",
        message: "There is no calibration to save.".to_owned(),
        hint: Some("Open a straight-through run first.".to_owned()),
        at: None,
    }
    .into()
}
