//! Rows inside a box that somebody drew.

use crate::Handle;
use crate::value::{from_js, to_js};
use serde::Deserialize;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::bench::Wish;

#[derive(Deserialize)]
struct Of<T> {
    run: usize,
    #[serde(flatten)]
    wish: T,
}

#[wasm_bindgen]
impl Handle {
    /// The rows of a run inside a box: `{rows, count, kept, out, removed_by_hand, kept_by_hand}`; `null` where there
    /// is no such run. See [`Wish`] for the request's sides.
    ///
    /// # Errors
    /// A request that cannot be understood.
    pub fn pick(&self, request: JsValue) -> Result<JsValue, JsValue> {
        let Of { run, wish } = from_js::<Of<Wish>>(request, "box of rows")?;
        to_js(&self.bench.pick(run, &wish))
    }
}
