//! Times counting and judging of a long log, in nanoseconds a row: `cargo run --release -p wattsieve-tests --bin row-speed`.

#![allow(clippy::print_stdout, reason = "a command")]

use wattsieve_core::align::{self, Aligned, Delays, Noise, Source, Steps};
use wattsieve_core::channel::{CHANNELS, Readings, Segment, SegmentStart};
use wattsieve_core::sieve::{self, Counter, Kind, Prepared, Settings, Slices, Vote};
use wattsieve_tests::sim::Random;

const ROWS: usize = 1_000_000;

/// Five channels of a ramping run: supply sinking from 13 to 10 V, current up and down in 24 s.
fn run(random: &mut Random) -> Vec<Vec<f64>> {
    let mut columns = vec![Vec::new(); 5];
    for row in 0..ROWS {
        let time = row as f64 * 0.02;
        let along = (time / 24.0) % 1.0;
        let i_out = 0.1 + 5.9 * (1.0 - (2.0 * along - 1.0).abs());
        let open = 13.3 - 2.0 * row as f64 / ROWS as f64;
        let power = 5.0 * i_out + 0.22 + 0.085 * i_out + 0.014 * i_out * i_out;
        let i_in = power / (open - 0.36 * power / open);
        let low = 0.0267 * i_out + 0.0218 * i_in;
        let state = [open - 0.36 * i_in, 5.0 - 0.048 * i_out + low, low, i_in, i_out];
        let noise = [0.0012, 0.0012, 0.0004, 0.002, 0.002];
        let stray = if random.unit() < 0.002 { random.below(5) } else { 9 };
        for (k, column) in columns.iter_mut().enumerate() {
            let off = if k == stray { random.between(-1.5, 1.5) } else { 0.0 };
            column.push(state[k] + noise[k] * random.normal() + off);
        }
    }
    columns
}

fn kind() -> Kind {
    Kind { names: (0..5).map(|k| k.to_string()).collect(), resolution: Vec::new() }
}

/// A point in this process's own running time, where the system tells it, so that other work does not count.
struct Instant(f64);

impl Instant {
    fn now() -> Self {
        let told = std::fs::read_to_string("/proc/self/schedstat").ok();
        let nanoseconds = told.and_then(|text| text.split(' ').next()?.parse::<f64>().ok());
        let epoch = || std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        Self(nanoseconds.unwrap_or_else(|| epoch().map_or(0.0, |time| time.as_nanos() as f64)))
    }

    fn nanoseconds(&self) -> f64 {
        Self::now().0 - self.0
    }
}

fn per_row(start: &Instant) -> f64 {
    start.nanoseconds() / ROWS as f64
}

fn time(
    name: &str,
    columns: &[Vec<f64>],
    settings: &Settings,
    prepared: Option<Prepared>,
) -> Option<Prepared> {
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let table = Slices(&slices);
    let start = Instant::now();
    let mut counter = Counter::new(&table, kind(), settings);
    if let Some(prepared) = prepared {
        counter = counter.with_prepared(prepared);
    }
    let mut last = String::new();
    let mut part = Instant::now();
    let mut parts: Vec<(String, f64)> = Vec::new();
    let mut longest = 0.0_f64;
    loop {
        let slice = Instant::now();
        let done = counter.step(&table, 65_536);
        longest = longest.max(slice.nanoseconds() / 1e6);
        let stage = counter.stage().to_owned();
        if stage != last || done {
            parts.push((std::mem::replace(&mut last, stage), per_row(&part)));
            part = Instant::now();
        }
        if done {
            break;
        }
    }
    let whole = per_row(&start);
    let prepared = counter.prepared();
    let counts = counter.finish();
    let mut masks = vec![0; ROWS];
    let start = Instant::now();
    for least_rows in 0..20 {
        counts.judge(least_rows, &mut masks);
    }
    let judge = per_row(&start) / 20.0;
    let start = Instant::now();
    let out = sieve::share_out(&counts)[3].1;
    let curve = per_row(&start);
    println!(
        "{name}: whole {whole:.1}, judge {judge:.2}, curve {curve:.1} ns/row; {} cells, {} exact, share out {out:.5}, longest slice {longest:.0} ms",
        counts.occupied(),
        counts.counted_exactly
    );
    for (stage, cost) in parts.iter().skip(1) {
        println!("    {stage}: {cost:.1} ns/row");
    }
    prepared
}

/// Times finding steps and delays, the gates, and interpolation.
fn time_gates(columns: &[Vec<f64>]) {
    let time: Vec<f64> = (0..ROWS).map(|row| row as f64 * 0.02).collect();
    let readings = Readings {
        time,
        columns: std::array::from_fn(|k| columns[k].clone()),
        segments: vec![Segment { first: 0, last: ROWS - 1, start: SegmentStart::Start }],
        row_period: 0.02,
        ..Readings::default()
    };
    let settings = Settings::default();
    let start = Instant::now();
    let noise = Noise::of(&readings);
    println!("noise: {:.1} ns/row", per_row(&start));
    let start = Instant::now();
    let steps = Steps::find(&readings, &noise, settings.step_limit);
    println!("steps: {:.1} ns/row, {} found", per_row(&start), steps.len());
    let start = Instant::now();
    let found = align::estimate(&readings, &steps, None, &[1, 3, 4, 2, 5], &align::Settings::default());
    println!("up and down: {:.1} ns/row, {:?}", per_row(&start), found.from);
    let seconds = [0.0, 6e-3, 9e-3, 3e-3, 12e-3];
    let delays = Delays { from: Source::Stated, seconds, u: [Some(1e-5); 5] };
    for delays in [Delays::none(), delays] {
        let aligned = Aligned::new(&readings, &steps, &delays);
        let input = sieve::Input { aligned: &aligned, noise: &noise, delays: &delays, settled: false };
        let start = Instant::now();
        let masks = sieve::gates(&input, &settings);
        let out = masks.iter().filter(|&&mask| !sieve::Reason::kept(mask)).count();
        println!("gates, {:?}: {:.1} ns/row, {out} out", delays.from, per_row(&start));
        let start = Instant::now();
        let mut out = vec![0.0; 4096];
        for first in (0..ROWS - 4096).step_by(4096) {
            for channel in CHANNELS {
                aligned.fill(channel, first..first + 4096, &mut out);
            }
        }
        println!("fill of five: {:.1} ns/row", per_row(&start));
        let start = Instant::now();
        let sum: f64 = (0..ROWS).map(|row| aligned.reading(row)[3]).sum();
        println!("row by row: {:.1} ns/row ({sum:.3})", per_row(&start));
    }
}

fn main() {
    let mut random = Random::new(3, 1);
    let columns = run(&mut random);
    time_gates(&columns);
    let cells = |cells: f64| Settings { cells: Some(cells), vote: Vote::Off, ..Settings::default() };
    let mut prepared = time("automatic", &columns, &Settings::default(), None);
    for number in [20.0, 40.0, 80.0] {
        prepared = time(&format!("{number} cells"), &columns, &cells(number), prepared.take());
    }
    let same = vec![vec![1.0; ROWS]; 5];
    time("one cell", &same, &cells(40.0), None);
    let apart: Vec<Vec<f64>> = (0..5)
        .map(|k| {
            (0..ROWS).map(|row| if row % 1000 < 998 { f64::from(k) } else { 0.0 } + random.unit()).collect()
        })
        .collect();
    let narrow = Settings {
        widths: (0..5).map(|k| (k.to_string(), 0.02)).collect(),
        vote: Vote::Off,
        ..Settings::default()
    };
    time("uniformly random", &apart, &narrow, None);
}
