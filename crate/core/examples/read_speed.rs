//! Time per row of reading a log: `cargo run --release -p wattsieve-core --example read_speed`.

#![allow(clippy::print_stdout, reason = "an example that prints what it measures")]

use std::fmt::Write as _;
use std::time::Instant;

use wattsieve_core::channel::{self, guess, to_readings};
use wattsieve_core::log::{Reader, Settings, read};

const ROWS: usize = 1_000_000;

fn text(dialect: &str) -> String {
    let mut out = String::with_capacity(64 * ROWS);
    let comma = dialect == "decimal comma";
    out.push_str(if comma {
        "t_s;vin_V;iin_A;vop_V;von_V;iout_A\n"
    } else {
        "t_s,vin_V,iin_A,vop_V,von_V,iout_A\n"
    });
    let mut line = String::new();
    for row in 0..ROWS {
        let x = (row * 7919 % 10_007) as f64;
        let values = [
            row as f64 * 0.02,
            13.0 + x * 1e-4,
            0.13 + x * 2e-4,
            4.9 + x * 1e-5,
            0.01 + x * 1e-6,
            0.3 + x * 4e-4,
        ];
        line.clear();
        for (place, value) in values.iter().enumerate() {
            let lead = if place == 0 { "" } else { "," };
            let decimals = if place == 0 { 2 } else { 5 };
            let _ = match dialect {
                "quoted" => write!(line, "{lead}\"{value:.decimals$}\""),
                "long numbers" => write!(line, "{lead}{:.16}", value / 3.0),
                _ => write!(line, "{lead}{value:.decimals$}"),
            };
        }
        if comma {
            line = line.replace(',', ";").replace('.', ",");
        }
        out.push_str(&line);
        out.push('\n');
    }
    out
}

/// Nanoseconds that this process has had a processor, where the system tells; else of the clock.
fn nanoseconds(start: Instant) -> f64 {
    let told = std::fs::read_to_string("/proc/self/schedstat").ok();
    let busy = told.and_then(|text| text.split(' ').next().and_then(|first| first.parse().ok()));
    busy.unwrap_or_else(|| start.elapsed().as_secs_f64() * 1e9)
}

fn best(mut work: impl FnMut()) -> f64 {
    let start = Instant::now();
    (0..7)
        .map(|_| {
            let before = nanoseconds(start);
            work();
            (nanoseconds(start) - before) / ROWS as f64
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    for dialect in ["plain", "decimal comma", "quoted", "long numbers"] {
        let text = text(dialect);
        let bytes = text.as_bytes();
        let whole = best(|| assert_eq!(read(bytes, &Settings::default()).rows(), ROWS));
        let chunked = best(|| {
            let mut reader = Reader::new(&Settings::default(), Some(bytes.len() as u64));
            bytes.chunks(65_536).for_each(|piece| reader.push(piece));
            assert_eq!(reader.finish().rows(), ROWS);
        });
        println!(
            "{dialect}: {} bytes a row; {whole:.1} ns a row at once, {chunked:.1} in pieces of 64 KiB",
            bytes.len() / ROWS
        );
        if dialect == "plain" {
            let log = read(bytes, &Settings::default());
            let settings = channel::Settings::default();
            let roles = guess(&log, &settings);
            let mut logs: Vec<_> = (0..7).map(|_| log.clone()).collect();
            let convert = best(|| {
                if let Some(log) = logs.pop() {
                    assert_eq!(to_readings(log, &roles, &settings).readings.rows(), ROWS);
                }
            });
            println!("to readings: {convert:.1} ns a row");
        }
    }
}
