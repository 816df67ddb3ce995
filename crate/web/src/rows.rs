//! What was taken out and how rows are counted, on request.

use crate::Handle;
use crate::failure::Failure;
use crate::value::{from_js, to_js};
use serde::Deserialize;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::bench::CountsWanted;

#[derive(Deserialize)]
struct OfRun {
    run: usize,
}

#[wasm_bindgen]
impl Handle {
    /// What cleaning did to a run, see `Trust` of the results.
    ///
    /// # Errors
    /// There is no such run.
    pub fn trust(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let OfRun { run } = from_js(request, "request for what cleaning did")?;
        to_js(&self.bench.trust(run).ok_or_else(nothing_there)?)
    }

    /// Rows counted along a channel or over a pair, see `Bins` of the sieve.
    ///
    /// # Errors
    /// There is no such run or no such channel.
    pub fn bins(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let OfRun { run } = from_js(request.clone(), "request for counts")?;
        let wanted: CountsWanted = from_js(request, "request for counts")?;
        to_js(&self.bench.bins(run, &wanted).ok_or_else(nothing_there)?)
    }
}

fn nothing_there() -> JsValue {
    Failure { code: "no_run", message: "There is no such run or channel.".to_owned(), hint: None, at: None }
        .into()
}
