//! Log reading and channel roles against published cases, answers made elsewhere, and slow twins.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod any_bytes;
mod bench_logs;
mod delimited;
mod dialects;
mod extremes;
mod growth;
mod kinds;
mod numbers;
mod packed;
mod shapes;
mod support;
