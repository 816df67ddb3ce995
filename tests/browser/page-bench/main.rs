//! Times the built page's own worker beside other parsers, in one browser, one after the other.
//!
//! `cargo page-bench [--rows N] [--runs N] [--only reading|rows]`, after `cargo page`. The others are installed by name into
//! `target/peers` and are no part of the project; the command says what to type where they are missing.

#![allow(clippy::print_stdout, reason = "a command that prints what it measures")]

mod peers;
mod rows;

use std::collections::BTreeMap;

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome, workspace};
use wattsieve_speed::{DIALECTS, Dialect, log_text};

use peers::Peers;

/// Bytes that are handed to the core at once, as the page hands them on.
const PIECE: usize = 1 << 18;

/// Nanoseconds a row by name, in the order of measuring.
#[derive(Default)]
struct Times(BTreeMap<&'static str, Vec<f64>>);

impl Times {
    fn note(&mut self, name: &'static str, value: f64) {
        self.0.entry(name).or_default().push(value);
    }

    /// The middle one; none where it was not measured.
    fn median(&self, name: &str) -> Option<f64> {
        let mut sorted = self.0.get(name)?.clone();
        sorted.sort_by(f64::total_cmp);
        sorted.get(sorted.len() / 2).copied()
    }

    /// One line of the report: what, its median and how much it varied.
    fn line(&self, name: &str) {
        if let (Some(median), Some(all)) = (self.median(name), self.0.get(name)) {
            let low = all.iter().copied().fold(f64::INFINITY, f64::min);
            let high = all.iter().copied().fold(0.0, f64::max);
            println!("  {name:<44} {median:>8.1}   ({low:.1} to {high:.1})");
        }
    }

    /// A ratio of two medians beside its bar, where that is finite.
    fn ratio(&self, what: &str, over: &str, under: &str, bar: f64, at_least: bool) {
        let (Some(over), Some(under)) = (self.median(over), self.median(under)) else {
            println!("  {what:<44} not measured");
            return;
        };
        let ratio = over / under;
        let word = if at_least { "at least" } else { "at most" };
        let met = if at_least { ratio >= bar } else { ratio <= bar };
        if bar.is_finite() {
            println!("  {what:<44} {ratio:>8.2}   {word} {bar}: {}", if met { "met" } else { "NOT MET" });
        } else {
            println!("  {what:<44} {ratio:>8.2}");
        }
    }
}

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or(f64::NAN)
}

#[tokio::main]
async fn main() -> Outcome<()> {
    let (mut rows, mut runs, mut only) = (1_000_000_usize, 5_usize, String::new());
    let mut arguments = std::env::args().skip(1);
    while let Some(word) = arguments.next() {
        let value = arguments.next().ok_or("--rows N or --runs N")?;
        match word.as_str() {
            "--rows" => rows = value.parse()?,
            "--runs" => runs = value.parse()?,
            "--only" => only = value,
            other => {
                return Err(format!("{other}: not known; --rows N, --runs N, --only reading|rows").into());
            }
        }
    }
    let peers = Peers::find();
    let page = workspace().join("dist/wattsieve.html");
    let text = std::fs::read_to_string(&page)
        .map_err(|error| format!("{}: {error}; run cargo page", page.display()))?;
    let browser = Browser::open(without_policy(&text)?.as_bytes()).await?;
    let sources: Vec<&str> = peers.scripts.iter().map(String::as_str).collect();
    let words = json!({"probe": include_str!("probe.js"), "peers": include_str!("peers.js")});
    browser.run(include_str!("harness.js"), vec![json!(sources), words]).await?;
    browser.run_async("await bench.start()", vec![]).await?;

    let folder = Folder::new()?;
    println!("{rows} rows; {runs} alternating runs");
    if only != "rows" {
        reading(&browser, &folder, &peers, rows, runs).await?;
    }
    if only != "reading" {
        let ramps = rows::measure(&browser, &folder, &peers, rows, runs).await?;
        rows::slide(&ramps, &text).await?;
    }
    for missing in &peers.missing {
        println!("\n{missing}");
    }
    Ok(())
}

/// Times reading a log of time and five channels.
async fn reading(browser: &Browser, folder: &Folder, peers: &Peers, rows: usize, runs: usize) -> Outcome<()> {
    let mut times = Times::default();
    let plain = log_text(rows, Dialect::Plain);
    println!("Reading time and five channels, {} bytes", plain.len());
    let file = folder.write("plain.csv", plain.as_bytes())?;
    let mut python = peers.python(&file)?;
    load(browser, &file).await?;
    for _ in 0..runs {
        in_memory(browser, &mut times, rows).await?;
        from_file(browser, &mut times, rows).await?;
        if let Some(python) = &mut python {
            pause().await;
            times.note("polars native, two threads", python.ask("read")? / rows as f64);
        }
    }
    memory(browser, &mut times, rows).await?;
    for (name, dialect) in DIALECTS {
        let file = folder.write("dialect.csv", log_text(rows, dialect).as_bytes())?;
        load(browser, &file).await?;
        for _ in 0..runs.min(3) {
            let reply = probe(browser, json!({"bench": "memory", "piece": PIECE})).await?;
            times.note(name, (number(&reply, "pushed") - number(&reply, "begun")) * 1e6 / rows as f64);
        }
    }
    report(&times);
    Ok(())
}

/// The page as built, without its policy: the peers make code from text, which it forbids.
fn without_policy(page: &str) -> Outcome<String> {
    let start = page.find("<meta http-equiv=\"Content-Security-Policy\"").ok_or("the page has no policy")?;
    let length = page.get(start..).and_then(|rest| rest.find('>')).ok_or("the policy has no end")?;
    let (before, rest) = page.split_at(start);
    Ok(format!("{before}{}", rest.get(length + 1..).unwrap_or_default()))
}

async fn load(browser: &Browser, file: &std::path::Path) -> Outcome<()> {
    browser.choose("#bench-file", &[file.to_path_buf()]).await?;
    browser.run_async("return await bench.load()", vec![]).await?;
    Ok(())
}

/// Lets what was measured last clear away: its memory is given back by threads of their own.
async fn pause() {
    tokio::time::sleep(std::time::Duration::from_millis(600)).await;
}

async fn probe(browser: &Browser, message: Value) -> Outcome<Value> {
    pause().await;
    browser.run_async("return await bench.probe(arguments[0])", vec![message]).await
}

async fn peer(browser: &Browser, run: &str) -> Outcome<f64> {
    pause().await;
    let script = "return await bench.peer({ run: arguments[0], file: bench.file })";
    Ok(number(&browser.run_async(script, vec![json!(run)]).await?, "took"))
}

/// Everything that starts from a text in memory, once.
async fn in_memory(browser: &Browser, times: &mut Times, rows: usize) -> Outcome<()> {
    let per_row = 1e6 / rows as f64;
    let reply = probe(browser, json!({"bench": "memory", "piece": PIECE})).await?;
    let begun = number(&reply, "begun");
    times.note("page: bytes to columns", (number(&reply, "pushed") - begun) * per_row);
    times.note("page: bytes to readings", (number(&reply, "finished") - begun) * per_row);
    let reply = probe(browser, json!({"bench": "text", "piece": PIECE})).await?;
    let took = number(&reply, "pushed") - number(&reply, "begun");
    times.note("page: text of the script to columns", took * per_row);
    if !times.0.is_empty() && browser.run("return Boolean(bench.peers)", vec![]).await? == json!(true) {
        times.note("uDSV: text to columns", peer(browser, "udsv").await? * per_row);
        times.note("PapaParse: text to columns", peer(browser, "papa").await? * per_row);
    }
    Ok(())
}

/// Everything that starts from a file, once.
async fn from_file(browser: &Browser, times: &mut Times, rows: usize) -> Outcome<()> {
    let per_row = 1e6 / rows as f64;
    pause().await;
    let alone = probe_file(browser).await?;
    times.note("reading the file alone", number(&alone, "took") * per_row);
    pause().await;
    let reply = browser.run_async("return await bench.drop(bench.worker)", vec![]).await?;
    let begun = number(&reply, "begun");
    times.note("page: dropped file to columns", (number(&reply, "pushed") - begun) * per_row);
    times.note("page: dropped file to readings", (number(&reply, "finished") - begun) * per_row);
    times.note("page: dropped file to the whole view", number(&reply, "view") * per_row);
    if browser.run("return Boolean(bench.peers)", vec![]).await? == json!(true) {
        times.note("uDSV: file to columns", peer(browser, "udsvFile").await? * per_row);
    }
    Ok(())
}

async fn probe_file(browser: &Browser) -> Outcome<Value> {
    browser.run_async("return await bench.probe({ bench: 'alone', file: bench.file })", vec![]).await
}

/// How much the core's memory grows in a worker that is new: bytes a row.
async fn memory(browser: &Browser, times: &mut Times, rows: usize) -> Outcome<()> {
    let script = "const worker = await bench.fresh(); const times = await bench.drop(worker);
        worker.terminate(); return times;";
    let reply = browser.run_async(script, vec![]).await?;
    let before = number(&reply, "sizeBefore");
    times.note("memory while loading", (number(&reply, "sizePushed") - before) / rows as f64);
    times.note("memory until readings stand", (number(&reply, "sizeFinished") - before) / rows as f64);
    Ok(())
}

fn report(times: &Times) {
    println!("\nNanoseconds a row, median (lowest to highest):");
    for name in [
        "page: bytes to columns",
        "page: text of the script to columns",
        "page: bytes to readings",
        "uDSV: text to columns",
        "PapaParse: text to columns",
        "polars native, two threads",
        "reading the file alone",
        "page: dropped file to columns",
        "page: dropped file to readings",
        "page: dropped file to the whole view",
        "uDSV: file to columns",
    ] {
        times.line(name);
    }
    println!("\nRatios of medians:");
    let ours = "page: bytes to columns";
    times.ratio("uDSV / page, text in memory", "uDSV: text to columns", ours, 6.0, true);
    times.ratio("PapaParse / page, text in memory", "PapaParse: text to columns", ours, 40.0, true);
    times.ratio("polars native / page, text in memory", "polars native, two threads", ours, 2.0, true);
    let dropped = "page: dropped file to columns";
    times.ratio("uDSV / page, dropped file", "uDSV: file to columns", dropped, 5.0, true);
    times.ratio("page / reading alone, dropped file", dropped, "reading the file alone", 2.0, false);
    println!("\nDialects over plain, bytes to columns:");
    for (name, dialect) in DIALECTS {
        // The others are more work by themselves: more text, or text to understand.
        match dialect {
            Dialect::DecimalComma | Dialect::Quoted => times.ratio(name, name, "plain", 3.0, false),
            _ => times.ratio(name, name, "plain", f64::INFINITY, false),
        }
    }
    println!("\nMemory of the core, bytes a row:");
    for name in ["memory while loading", "memory until readings stand"] {
        if let Some(value) = times.median(name) {
            let met = if value <= 120.0 { "met" } else { "NOT MET" };
            println!("  {name:<44} {value:>8.1}   at most 120: {met}");
        }
    }
}
