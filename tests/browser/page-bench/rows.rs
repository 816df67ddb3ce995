//! Counting rows into new cells beside peers, and the page's own slider.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome};
use wattsieve_speed::{five_channels, uniform_channels};

use crate::peers::Peers;
use crate::{Times, load, number};

/// Cells a channel.
const CELLS: [u32; 3] = [20, 40, 80];

/// Grids that are shifted against each other.
const SHIFTS: f64 = 4.0;

/// Moves of the slider.
const MOVES: u32 = 20;

/// Logs by name: a run that ramps, one in which every row stands alone, one that never changes.
fn logs(rows: usize) -> [(&'static str, Vec<Vec<f64>>); 3] {
    [
        ("ramps", five_channels(rows)),
        ("random", uniform_channels(rows)),
        ("constant", vec![vec![1.25; rows]; 5]),
    ]
}

fn text(columns: &[Vec<f64>]) -> String {
    let mut out = String::from("t_s,vin_V,vop_V,von_V,iin_A,iout_A\n");
    let rows = columns.first().map_or(0, Vec::len);
    for row in 0..rows {
        // Writing to a String cannot fail.
        let _ = write!(out, "{:.2}", row as f64 * 0.02);
        for column in columns {
            let _ = write!(out, ",{:.5}", column.get(row).copied().unwrap_or(f64::NAN));
        }
        out.push('\n');
    }
    out
}

/// Times counting in the page's worker and, on the log that ramps, the peers; gives that log.
pub(crate) async fn measure(
    browser: &Browser,
    folder: &Folder,
    peers: &Peers,
    rows: usize,
    runs: usize,
) -> Outcome<PathBuf> {
    let mut ramps = PathBuf::new();
    browser.run(include_str!("rows.js"), vec![]).await?;
    let per_row = 1e6 / rows as f64;
    println!("\nCounting {rows} rows of five channels into new cells, ns a row, median (lowest to highest):");
    for (log, columns) in logs(rows) {
        let file = folder.write(&format!("{log}.csv"), text(&columns).as_bytes())?;
        drop(columns);
        if log == "ramps" {
            ramps.clone_from(&file);
        }
        load(browser, &file).await?;
        browser.run_async("return await bench.openRows()", vec![]).await?;
        let mut python = if log == "ramps" { peers.python(&file)? } else { None };
        for cells in CELLS {
            let mut times = Times::default();
            for _ in 0..runs {
                for (what, vote) in [("plain", "off"), ("centred", "smooth")] {
                    let asked = json!({"cells": cells, "vote": vote, "least_rows": 3});
                    let reply =
                        browser.run_async("return await bench.count(arguments[0])", vec![asked]).await?;
                    let counted = number(&reply, "counted") * per_row;
                    if what == "plain" {
                        times.note("one grid of four", counted / SHIFTS);
                    } else {
                        times.note("four grids and the exact count", counted);
                        times.note("another count of least rows", number(&reply, "judged") * per_row);
                    }
                }
                if let Some(python) = &mut python {
                    times.note("numpy unique", python.ask(&format!("numpy {cells}"))? / rows as f64);
                    times.note(
                        "polars group_by, two threads",
                        python.ask(&format!("polars {cells}"))? / rows as f64,
                    );
                }
            }
            println!(" {log}, {cells} cells a channel");
            for name in [
                "one grid of four",
                "four grids and the exact count",
                "another count of least rows",
                "numpy unique",
                "polars group_by, two threads",
            ] {
                times.line(name);
            }
        }
        browser.run("bench.closeRows()", vec![]).await?;
    }
    Ok(ramps)
}

/// Times the slider of the page as it is built.
pub(crate) async fn slide(log: &Path, page: &str) -> Outcome<()> {
    let browser = Browser::open(page.as_bytes()).await?;
    browser.choose("input[type=file]", &[log.to_path_buf()]).await?;
    browser.rest().await?;
    browser.run(include_str!("rows.js"), vec![]).await?;
    let reply = browser.run_async("return await bench.slide(arguments[0])", vec![json!(MOVES)]).await?;
    let mut times: Vec<f64> =
        reply["times"].as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    times.sort_by(f64::total_cmp);
    let middle = times.get(times.len() / 2).copied().unwrap_or(f64::NAN);
    println!(
        "\nSlider of the least rows, from a move to new pixels: median {middle:.0} ms of {} moves ({:.0} to {:.0}); at most 60: {}",
        times.len(),
        times.first().copied().unwrap_or(f64::NAN),
        times.last().copied().unwrap_or(f64::NAN),
        if middle <= 60.0 { "met" } else { "NOT MET" },
    );
    println!("Longest task of the page meanwhile: {:.0} ms", number(&reply, "longest"));
    Ok(())
}
