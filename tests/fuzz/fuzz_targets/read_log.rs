//! Any bytes through the reader of logs.

#![no_main]

#[path = "../check.rs"]
mod check;

libfuzzer_sys::fuzz_target!(|data: &[u8]| check::check(data));
