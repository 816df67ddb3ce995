//! Reads the files, evaluates the bench, writes what was asked.
#![allow(clippy::print_stdout, clippy::print_stderr, reason = "the command talks to its user")]

use std::fs;
use std::io::{IsTerminal as _, Write as _};

use wattsieve_core::bench::{Bench, Detail, Results};

use crate::arguments::Verb;
use crate::configure::{Outputs, Plan, text_of};
use crate::page::{self, Carried};
use crate::source::{Source, sources};
use crate::{ASKS, COMPLETE, Failure, REFUSED, table};

/// Does what the plan says; gives the exit status.
pub(crate) fn work(plan: Plan) -> Result<u8, Failure> {
    let carries = plan.outputs.page.is_some();
    let mut settings = plan.settings.clone();
    let (sources, own) = sources(&plan.files, &settings.inputs)?;
    settings.inputs = own;
    let mut bench = Bench::new(settings);
    let mut carried = Vec::new();
    for source in &sources {
        let bytes = read(&mut bench, source, carries)?;
        carried.push(bytes);
    }
    evaluate(&mut bench, plan.outputs.quiet);
    let results = bench.results(Detail::Full);
    report(plan.verb, &results, &plan.outputs, bench.calibration_problem());
    write(&mut bench, &results, &plan, carried)?;
    let refused = results.inputs.iter().any(|input| input.outcome == "refused");
    let asks = results.inputs.iter().any(|input| input.outcome == "asks");
    Ok(if refused {
        REFUSED
    } else if asks {
        ASKS
    } else {
        COMPLETE
    })
}

/// Streams one log into the bench; keeps its bytes where they are to be carried.
fn read(bench: &mut Bench, source: &Source, keep: bool) -> Result<Vec<u8>, Failure> {
    let input = bench.begin(&source.name, source.bytes);
    let mut kept = Vec::new();
    source.read(|piece| {
        bench.push(input, piece);
        bench.hash(input, piece);
        if keep {
            kept.extend_from_slice(piece);
        }
    })?;
    bench.finish(input);
    bench.finish_hash(input);
    Ok(kept)
}

/// Runs the chain; shows progress on a terminal.
fn evaluate(bench: &mut Bench, quiet: bool) {
    let shows = !quiet && std::io::stderr().is_terminal();
    loop {
        let progress = bench.advance(1 << 18);
        if progress.done {
            break;
        }
        if shows {
            eprint!("\r\x1b[K{}: {} of {} rows", progress.stage, progress.rows_done, progress.rows_total);
        }
    }
    if shows {
        eprint!("\r\x1b[K");
    }
}

fn report(verb: Verb, results: &Results, outputs: &Outputs, problem: Option<&str>) {
    for input in &results.inputs {
        for ask in &input.asks {
            eprintln!("wattsieve: {}: {} Answer with `{}`.", input.name, ask.message, ask.option);
        }
    }
    if let Some(problem) = problem {
        eprintln!("wattsieve: the fixture was not calibrated: {problem}");
    }
    if !outputs.quiet && outputs.json.as_deref() != Some("-") {
        print!("{}", table::table(verb, results));
    }
}

fn write(bench: &mut Bench, results: &Results, plan: &Plan, carried: Vec<Vec<u8>>) -> Result<(), Failure> {
    let outputs = &plan.outputs;
    if let Some(path) = &outputs.json {
        put(path, &bench.json(results))?;
    }
    if let Some(path) = &outputs.settings {
        let text = serde_json::to_string_pretty(bench.settings())
            .map_err(|error| Failure::write(error.to_string()))?;
        put(path, &text)?;
    }
    if let Some(path) = &outputs.calibration {
        let record = bench.calibration_record().ok_or_else(|| {
            Failure::write("there is no calibration to write: give calibration runs or corrections")
        })?;
        put(path, &record)?;
    }
    if let Some(path) = &outputs.csv {
        let mut text = String::new();
        for run in 0..bench.runs() {
            text.push_str(&bench.kept_rows_csv(run, run == 0));
        }
        put(path, &text)?;
    }
    if let Some(path) = &outputs.settled_csv {
        let text: String = (0..bench.runs()).map(|run| bench.settled_csv(run, run == 0)).collect();
        put(path, &text)?;
    }
    if let Some(path) = &outputs.page {
        let from = page_to_fill(outputs)?;
        let logs: Vec<Carried> = results
            .inputs
            .iter()
            .zip(carried)
            .map(|(input, bytes)| Carried {
                name: input.name.clone(),
                sha256: input.sha256.clone().unwrap_or_default(),
                bytes,
            })
            .collect();
        let filled = page::fill(&from, &bench.saved(), &logs).map_err(Failure::write)?;
        put(path, &filled)?;
    }
    Ok(())
}

fn page_to_fill(outputs: &Outputs) -> Result<String, Failure> {
    if let Some(path) = &outputs.page_from {
        return text_of(path);
    }
    let built = std::path::Path::new("dist").join("wattsieve.html");
    fs::read_to_string(&built).map_err(|error| {
        Failure::write(format!(
            "{}: cannot be read: {error}; make it with `cargo page`, or name it with --page-from",
            built.display()
        ))
    })
}

fn put(path: &str, text: &str) -> Result<(), Failure> {
    if path == "-" {
        return std::io::stdout()
            .write_all(text.as_bytes())
            .map_err(|error| Failure::write(format!("standard output: cannot be written: {error}")));
    }
    fs::write(path, text).map_err(|error| Failure::write(format!("{path}: cannot be written: {error}")))
}
