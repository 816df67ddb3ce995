//! Plain values over the border.

use crate::failure::Failure;
use serde::Serialize;
use serde::de::DeserializeOwned;
use wasm_bindgen::JsValue;

/// A value as plain objects, lists and numbers; what is not known is `null`.
pub(crate) fn to_js(value: &impl Serialize) -> Result<JsValue, JsValue> {
    let serializer = serde_wasm_bindgen::Serializer::json_compatible();
    value
        .serialize(&serializer)
        .map_err(|error| Failure::internal(&format!("a result could not be handed over: {error}")).into())
}

/// A request's payload.
pub(crate) fn from_js<T: DeserializeOwned>(value: JsValue, what: &str) -> Result<T, JsValue> {
    serde_wasm_bindgen::from_value(value).map_err(|error| {
        Failure {
            code: "bad_request",
            message: format!("The {what} could not be understood: {error}."),
            hint: None,
            at: None,
        }
        .into()
    })
}
