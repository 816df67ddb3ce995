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

/// What is timed.
const ONE: &str = "one grid of four (at most 25)";
const ALL: &str = "four grids and the exact count (at most 150)";
const WHOLE: &str = "the whole stage, first verdicts included";
const JUDGED: &str = "another count of least rows (at most 1)";
const NUMPY: &str = "numpy unique";
const POLARS: &str = "polars group_by, two threads";

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
        let opened = grown(browser, rows).await?;
        let mut python = if log == "ramps" { peers.python(&file)? } else { None };
        // Cells so narrow that each of the random rows is alone.
        let alone = json!({"v_in": 0.02, "v_out_high": 0.02, "v_out_low": 0.02, "i_in": 0.02, "i_out": 0.02});
        let asked: Vec<(String, Value, Option<u32>)> = match log {
            "random" => vec![("every row its own cell".to_owned(), json!({"widths": alone}), None)],
            "constant" => vec![("one cell".to_owned(), json!({"cells": 40}), None)],
            _ => CELLS.map(|n| (format!("{n} cells a channel"), json!({"cells": n}), Some(n))).to_vec(),
        };
        for (name, asked, cells) in asked {
            let mut times = Times::default();
            for _ in 0..runs {
                for vote in ["off", "smooth"] {
                    let mut asked = asked.clone();
                    asked["vote"] = json!(vote);
                    asked["least_rows"] = json!(3);
                    let reply =
                        browser.run_async("return await bench.count(arguments[0])", vec![asked]).await?;
                    let figure = |name: &str| number(&reply, name) * per_row;
                    if vote == "off" {
                        times.note(ONE, figure("grids") / SHIFTS);
                    } else {
                        times.note(ALL, figure("grids") + figure("exact"));
                        times.note(WHOLE, figure("counted"));
                        times.note(JUDGED, figure("judged"));
                    }
                }
                if let (Some(python), Some(cells)) = (&mut python, cells) {
                    times.note(NUMPY, python.ask(&format!("numpy {cells}"))? / rows as f64);
                    times.note(POLARS, python.ask(&format!("polars {cells}"))? / rows as f64);
                }
            }
            println!(" {log}, {name}");
            for name in [ONE, ALL, WHOLE, JUDGED, NUMPY, POLARS] {
                times.line(name);
            }
        }
        let counted = grown(browser, rows).await?;
        println!(
            " {log}, most memory that the core ever used: {opened:.0} bytes a row until the first answers, {counted:.0} after \
             all counts (what it holds then: tests/memory)"
        );
        browser.run("bench.closeRows()", vec![]).await?;
    }
    Ok(ramps)
}

/// Bytes a row by which the core's memory has grown since it held no log. It never shrinks: beside columns, masks and counts
/// there is in it what was needed for a while only, most of all the operating rows and what answers are found by.
async fn grown(browser: &Browser, rows: usize) -> Outcome<f64> {
    let bytes = browser.run_async("return await bench.grown()", vec![]).await?;
    Ok(bytes.as_f64().unwrap_or(f64::NAN) / rows as f64)
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
