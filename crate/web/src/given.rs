//! What a user gives besides logs, looked at before anything is changed.

use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::fixture::{Calibration, read_pairs};

use crate::failure::Failure;
use crate::value::to_js;

/// Looks whether the text of a file is a calibration record that can be used.
///
/// # Errors
/// Code `bad_record` with what is wrong with it.
#[wasm_bindgen]
pub fn check_record(text: &str) -> Result<(), JsValue> {
    Calibration::from_record(text).map(|_| ()).map_err(|error| {
        Failure {
            code: "bad_record",
            message: error.to_string(),
            hint: Some("What was open stays as it was. Save the record again where it was made.".to_owned()),
            at: None,
        }
        .into()
    })
}

/// Pairs of reference and reading, as typed, pasted or from a small file.
///
/// # Errors
/// Code `bad_pairs` with line and column.
#[wasm_bindgen]
pub fn pairs(text: &str) -> Result<JsValue, JsValue> {
    match read_pairs(text) {
        Ok(pairs) => to_js(&pairs),
        Err(problem) => Err(Failure {
            code: "bad_pairs",
            message: problem.to_string(),
            hint: Some(problem.hint.to_owned()),
            at: Some(format!("line {}", problem.line)),
        }
        .into()),
    }
}
