//! The analysis: from the bytes of logs to a statement of a converter's efficiency.
//!
//! No browser, file, clock, thread or drawing. Each stage is a plain function from data and
//! settings to a result and problems, and knows only the stages before it:
//! `log` -> `channel` -> `align` -> `sieve` -> `fixture` -> `point` -> `map`, `loss` -> `finding`,
//! `compare` -> `bench`.
//!
//! Results are the same bytes natively and in the browser: only `+ - * / sqrt` and `libm`, sums in
//! fixed blocks, no hash order in any output.

pub mod align;
pub mod bench;
pub mod channel;
pub mod compare;
pub mod finding;
pub mod fixture;
pub mod log;
pub mod loss;
pub mod map;
pub mod math;
pub mod plateau;
pub mod point;
pub mod pulse;
pub mod quantity;
pub mod sieve;
pub mod unpack;
mod wording;
