//! Errors as data.

use serde::Serialize;
use wasm_bindgen::JsValue;

/// What went wrong, for the page: it decides by the code and shows the words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Failure {
    /// Short and stable.
    pub(crate) code: &'static str,
    /// What happened, one sentence.
    pub(crate) message: String,
    /// What to do about it.
    pub(crate) hint: Option<String>,
    /// Where: a file, a run, a row.
    pub(crate) at: Option<String>,
}

impl Failure {
    /// A mistake of this program, not of the data.
    pub(crate) fn internal(message: &str) -> Self {
        Self {
            code: "internal",
            message: format!("This is a mistake in the program: {message}."),
            hint: Some("Keep the log that shows it.".to_owned()),
            at: None,
        }
    }
}

impl From<Failure> for JsValue {
    fn from(failure: Failure) -> Self {
        // Plain text fields cannot fail to cross.
        failure.serialize(&serde_wasm_bindgen::Serializer::json_compatible()).unwrap_or(Self::NULL)
    }
}

/// Name under which the first panic's words are left for the worker's script.
const LEFT_AS: &str = "wattsievePanic";

/// Makes a panic say what it was: on the console, and to the script that replaces the worker.
pub(crate) fn install_hook() {
    std::panic::set_hook(Box::new(|info| {
        let global = js_sys::global();
        let key = JsValue::from_str(LEFT_AS);
        let first = js_sys::Reflect::get(&global, &key).is_ok_and(|old| old.is_undefined());
        // Later messages are noise.
        if first {
            let _ = js_sys::Reflect::set(&global, &key, &JsValue::from_str(&info.to_string()));
            console_error_panic_hook::hook(info);
        }
    }));
}
