//! The analysis and its figures for the browser: bindings and the worker protocol. Thin.
//!
//! One compiled module is started twice. In the worker it holds a [`Handle`]: the bench with all
//! data. On the page it draws figures only ([`axes`], [`curves`], [`bars`], [`cells`]). Values
//! cross as plain objects, errors as `{code, message, hint, at}`.

mod canvas;
mod failure;
mod figures;
mod given;
mod growth;
mod handle;
mod hash;
mod look;
mod pick;
mod preview;
mod rows;
mod unpack;
mod value;

pub use figures::{axes, bars, cells, curves, tally, vector};
pub use given::{check_record, pairs};
pub use growth::Sum;
pub use handle::Handle;
pub use hash::Hash;
pub use preview::Preview;
pub use unpack::{Archive, Unpacker, packing, unpacked_name};

use wasm_bindgen::prelude::wasm_bindgen;

/// Prepares the page's instance. Call it once.
#[wasm_bindgen]
pub fn start_page() {
    failure::install_hook();
}
