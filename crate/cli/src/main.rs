//! The native command: read, analyse and compare logs of converters.
//!
//! Files, progress and text live here; every number comes from the analysis.

mod arguments;
mod configure;
mod help;
mod page;
mod reading;
mod source;
mod table;
mod values;
mod work;

use std::process::ExitCode;

/// Complete.
pub(crate) const COMPLETE: u8 = 0;
/// Wrong options.
pub(crate) const WRONG_OPTIONS: u8 = 2;
/// An input was refused.
pub(crate) const REFUSED: u8 = 3;
/// An input asks for something.
pub(crate) const ASKS: u8 = 4;
/// Something cannot be written.
pub(crate) const CANNOT_WRITE: u8 = 5;

/// A sentence and the exit status that goes with it.
#[derive(Debug)]
pub(crate) struct Failure {
    /// Exit status.
    pub status: u8,
    /// What happened and what to do.
    pub message: String,
}

impl Failure {
    pub(crate) fn options(message: impl Into<String>) -> Self {
        Self { status: WRONG_OPTIONS, message: message.into() }
    }

    pub(crate) fn refused(message: impl Into<String>) -> Self {
        Self { status: REFUSED, message: message.into() }
    }

    pub(crate) fn write(message: impl Into<String>) -> Self {
        Self { status: CANNOT_WRITE, message: message.into() }
    }
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args().skip(1).collect();
    if given.is_empty() || given.iter().any(|argument| argument == "--help" || argument == "-h") {
        help::print();
        return ExitCode::from(if given.is_empty() { WRONG_OPTIONS } else { COMPLETE });
    }
    if given.iter().any(|argument| argument == "--version") {
        help::version();
        return ExitCode::SUCCESS;
    }
    let outcome = arguments::parse(&given)
        .map_err(Failure::options)
        .and_then(|parsed| configure::configure(&parsed))
        .and_then(work::work);
    match outcome {
        Ok(status) => ExitCode::from(status),
        Err(failure) => {
            help::complain(&failure.message);
            ExitCode::from(failure.status)
        }
    }
}
