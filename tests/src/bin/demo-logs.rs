//! Writes the demo logs and the truth beside them, or one long log.
//!
//! `cargo demo-logs [--out FOLDER] [--seed N]`, or `cargo demo-logs --rows N --out FILE`.
#![allow(clippy::print_stdout, reason = "a command")]

use std::error::Error;
use std::fs;
use std::path::Path;

use wattsieve_tests::sim::{self, Bench, LogTruth, PointTruth, Truth};

fn main() -> Result<(), Box<dyn Error>> {
    let mut out = None;
    let mut rows = None;
    let mut seed = sim::SEED;
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        let mut value = || arguments.next().ok_or(format!("{argument} needs a value"));
        match argument.as_str() {
            "--out" => out = Some(value()?),
            "--rows" => rows = Some(value()?.parse::<usize>()?),
            "--seed" => seed = value()?.parse()?,
            _ => return Err(format!("unknown option {argument}: --out, --rows, --seed").into()),
        }
    }
    let bench = sim::demo(seed);
    match rows {
        Some(rows) => one_long_log(&bench, rows, out.as_deref().unwrap_or("long-run.csv")),
        None => all_logs(&bench, Path::new(out.as_deref().unwrap_or("demo-data"))),
    }
}

fn one_long_log(bench: &Bench, rows: usize, out: &str) -> Result<(), Box<dyn Error>> {
    let path = Path::new(out);
    let name = path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    let recording = sim::record(bench, &sim::long_run(&name, rows), 1000);
    fs::write(path, &recording.bytes)?;
    println!("{}: {} rows, {} bytes", path.display(), rows, recording.bytes.len());
    Ok(())
}

fn all_logs(bench: &Bench, folder: &Path) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(folder)?;
    let mut logs = Vec::new();
    let mut total = 0;
    for (stream, job) in bench.jobs.iter().enumerate() {
        let recording = sim::record(bench, job, stream as u64);
        fs::write(folder.join(&recording.file), &recording.bytes)?;
        total += recording.bytes.len();
        println!(
            "{}: {} rows, {} wrong, {} bytes",
            recording.file,
            job.rows,
            recording.truth.wrong().len(),
            recording.bytes.len()
        );
        logs.push(recording.truth);
    }
    for (file, log) in [
        ("points-synchronous.csv", "lamp-synchronous.csv"),
        ("points-diode.csv", "lamp-diode.csv"),
        ("points-limited-supply.csv", "lamp-synchronous-limited-supply.csv"),
        ("points-settled.csv", "lamp-synchronous-settled.csv"),
    ] {
        fs::write(folder.join(file), point_table(&logs, log))?;
    }
    fs::write(folder.join("pack.csv"), sim::pack_table())?;
    fs::write(folder.join("duty-mostly-dim.csv"), sim::duty_table())?;
    let crossings = [11.0, 12.0, 12.5, 13.0]
        .map(|v| bench.crossing(&bench.converters[0], &bench.converters[2], v, [0.75, 3.0]));
    let truth = Truth::new(bench, logs, crossings.to_vec());
    fs::write(folder.join("truth.json"), serde_json::to_string_pretty(&truth)? + "\n")?;
    fs::write(folder.join("generator.json"), serde_json::to_string_pretty(bench)? + "\n")?;
    println!("{total} bytes of logs in {}", folder.display());
    Ok(())
}

/// The points of one log as a table for `--at`.
fn point_table(logs: &[LogTruth], file: &str) -> String {
    let points: &[PointTruth] = logs.iter().find(|log| log.file == file).map_or(&[], |log| &log.points);
    let rows: String = points.iter().map(|p| format!("{},{}\n", p.v_in, p.i_out)).collect();
    format!("v_in,i_out\n{rows}")
}
