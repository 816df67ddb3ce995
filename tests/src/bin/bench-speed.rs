//! Times the chain of a whole bench step by step, in milliseconds of this process's own running time:
//! `cargo run --release -p wattsieve-tests --bin bench-speed -- [--rows N] [LOG...]`.
//!
//! Without logs a long demo run and the demo's calibration logs are used.

#![allow(clippy::print_stdout, reason = "a command")]

use std::error::Error;

use wattsieve_core::bench::{Bench, Detail, Settings};
use wattsieve_tests::sim;

/// This process's running time so far, ms, where the system tells it, so that other work does not count.
fn now() -> f64 {
    let told = std::fs::read_to_string("/proc/self/schedstat").ok();
    let nanoseconds = told.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
    let epoch = || std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    nanoseconds.unwrap_or_else(|| epoch().map_or(0.0, |time| time.as_nanos() as f64)) / 1e6
}

/// Does all that is stale in steps of a budget; tells per stage the sum, the steps and the longest.
fn settle(bench: &mut Bench, what: &str) {
    let mut stages: Vec<(&'static str, f64, usize, f64)> = Vec::new();
    let begin = now();
    let mut ready = None;
    loop {
        let before = now();
        let step = bench.advance(65_536);
        let took = now() - before;
        if step.stage != "done" {
            match stages.last_mut() {
                Some(last) if last.0 == step.stage => {
                    last.1 += took;
                    last.2 += 1;
                    last.3 = last.3.max(took);
                }
                _ => stages.push((step.stage, took, 1, took)),
            }
        }
        if ready.is_none() && bench.rows_ready() {
            ready = Some(now() - begin);
        }
        if step.done {
            break;
        }
    }
    println!("{what}: {:.1} ms, rows ready after {:.1} ms", now() - begin, ready.unwrap_or(0.0));
    for (stage, sum, steps, longest) in stages {
        println!("    {stage}: {sum:.1} ms in {steps} steps, longest {longest:.1} ms");
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut rows = 1_000_000;
    let mut logs: Vec<(String, Vec<u8>)> = Vec::new();
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        if argument == "--rows" {
            rows = arguments.next().ok_or("--rows needs a number")?.parse()?;
        } else {
            let bytes = std::fs::read(&argument)?;
            logs.push((argument, bytes));
        }
    }
    if logs.is_empty() {
        let demo = sim::demo(sim::SEED);
        for (stream, job) in demo.jobs.iter().enumerate() {
            if job.file.starts_with("fixture") {
                let recording = sim::record(&demo, job, stream as u64);
                logs.push((recording.file, recording.bytes));
            }
        }
        for name in ["long", "longer"] {
            let seed = 1000 + name.len() as u64;
            let recording = sim::record(&demo, &sim::long_run(&format!("{name}.csv"), rows), seed);
            logs.push((recording.file, recording.bytes));
        }
    }
    let mut bench = Bench::new(Settings::default());
    let before = now();
    for (name, bytes) in &logs {
        let input = bench.begin(name, Some(bytes.len() as u64));
        for chunk in bytes.chunks(1 << 20) {
            bench.push(input, chunk);
        }
        let end = now();
        bench.finish(input);
        let took = now() - end;
        if took > 20.0 {
            println!("end of {name}: {took:.1} ms");
        }
    }
    println!("reading: {:.1} ms", now() - before);
    drop(logs);
    settle(&mut bench, "everything");
    for least_rows in [4, 5, 20, 3] {
        let mut settings = bench.settings().clone();
        settings.sieve.least_rows = least_rows;
        bench.set_settings(settings);
        settle(&mut bench, &format!("least rows {least_rows}"));
    }
    let mut settings = bench.settings().clone();
    settings.sieve.step_limit *= 1.5;
    bench.set_settings(settings);
    settle(&mut bench, "step limit");
    parts(&bench);
    for detail in [Detail::Brief, Detail::Full] {
        let before = now();
        let results = bench.results(detail);
        let made = now() - before;
        let text = bench.json(&results);
        println!(
            "results, {detail:?}: {made:.1} ms; text {:.1} ms, {} bytes",
            now() - before - made,
            text.len()
        );
    }
    Ok(())
}

/// Times the parts of the answers of the first run, ms.
fn parts(bench: &Bench) {
    use wattsieve_core::loss::{LossModel, peak, quiescent};
    use wattsieve_core::map::{
        Circumstances, CutOff, Extent, Grid, Index, Levels, Map, Operating, Source, energy,
    };
    let Some(rows) = bench.rows_of(0) else { return };
    let mut last = now();
    let mut told = |what: &str| {
        let time = now();
        println!("    part {what}: {:.1} ms", time - last);
        last = now();
    };
    let op = Operating::collect(&rows);
    told("collect");
    let index = Index::of(&op);
    told("index");
    let levels = Levels::find(&op);
    told("levels");
    let source = Source::find(&rows);
    told("source");
    let cut_off = CutOff::find(&rows, source.resistance.value);
    told("cut-off");
    let grid = Grid::following(Extent::of(&op), op.len(), Some(&levels), None);
    told("grid");
    let around = Circumstances {
        source: Some(&source),
        cut_off: Some(&cut_off),
        levels: Some(&levels),
        smallest_current: 0.0,
    };
    let map = Map::build(&op, grid, around, &Default::default());
    told("map");
    let model = LossModel::fit(&op);
    told("loss model");
    let peak = peak(&op, &map, &levels, &model.splits());
    told("peak");
    let asked = [[12.5, 1.0], [12.0, 4.0], [12.8, 0.5]];
    let at = wattsieve_core::map::at(&op, &index, &asked, &model.splits());
    told("three points");
    let (quiescent, _) = quiescent(&rows, &op, &model, None);
    told("quiescent");
    let energy = energy(&op, &map);
    told("energy");
    println!(
        "    {} {} {} {}",
        peak.i_from.is_some(),
        at.len(),
        quiescent.by_v_in.len(),
        energy.p_in.is_some()
    );
}
