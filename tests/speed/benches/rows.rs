//! Counting, judging, gates and interpolation of a million rows.

#![allow(missing_docs, reason = "the macros make functions without comments")]

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use wattsieve_core::align::{Aligned, Delays, Noise, Source, Steps};
use wattsieve_core::channel::{CHANNELS, Readings, Segment, SegmentStart};
use wattsieve_core::sieve::{self, Counter, Counts, Kind, Prepared, Settings, Slices, Vote};
use wattsieve_speed::{ROWS, five_channels, uniform_channels};

/// Rows of one step of counting.
const STEP: usize = 65_536;

fn counted(
    columns: &[Vec<f64>],
    settings: &Settings,
    prepared: Option<Prepared>,
) -> (Counts, Option<Prepared>) {
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let table = Slices(&slices);
    let kind = Kind { names: (0..5).map(|k| k.to_string()).collect(), resolution: Vec::new() };
    let mut counter = Counter::new(&table, kind, settings);
    if let Some(prepared) = prepared {
        counter = counter.with_prepared(prepared);
    }
    while !counter.step(&table, STEP) {}
    let prepared = counter.prepared();
    (counter.finish(), prepared)
}

fn counting(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("counting");
    group.sample_size(10).throughput(Throughput::Elements(ROWS as u64));
    let columns = five_channels(ROWS);
    let automatic = Settings::default();
    group.bench_function("automatic", |bencher| bencher.iter(|| counted(&columns, &automatic, None)));
    let (_, prepared) = counted(&columns, &automatic, None);
    for cells in [20.0, 40.0, 80.0] {
        for (vote, word) in [(Vote::Off, "plain count"), (automatic.vote, "shifted average, centred count")] {
            let settings = Settings { cells: Some(cells), vote, ..Settings::default() };
            group.bench_function(format!("{cells} cells, {word}"), |bencher| {
                bencher.iter_batched(
                    || prepared.clone(),
                    |prepared| counted(&columns, &settings, prepared),
                    BatchSize::PerIteration,
                );
            });
        }
    }
    let plain = Settings { cells: Some(40.0), vote: Vote::Off, ..Settings::default() };
    let same = vec![vec![1.0; ROWS]; 5];
    group.bench_function("one cell", |bencher| bencher.iter(|| counted(&same, &plain, None)));
    let apart = uniform_channels(ROWS);
    let widths = (0..5).map(|k| (k.to_string(), 0.02)).collect();
    let narrow = Settings { widths, vote: Vote::Off, ..Settings::default() };
    group.bench_function("every row its own cell", |bencher| bencher.iter(|| counted(&apart, &narrow, None)));
    group.finish();
}

fn judging(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("judging");
    group.sample_size(20).throughput(Throughput::Elements(ROWS as u64));
    let (counts, _) = counted(&five_channels(ROWS), &Settings::default(), None);
    let mut masks = vec![0; ROWS];
    let mut least_rows = 0;
    group.bench_function("new least rows", |bencher| {
        bencher.iter(|| {
            least_rows = (least_rows + 1) % 20;
            counts.judge(least_rows, &mut masks);
        });
    });
    group.bench_function("share out", |bencher| bencher.iter(|| sieve::share_out(&counts)));
    group.finish();
}

fn gates(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("gates");
    group.sample_size(10).throughput(Throughput::Elements(ROWS as u64));
    let columns = five_channels(ROWS);
    let readings = Readings {
        time: (0..ROWS).map(|row| row as f64 * 0.02).collect(),
        columns: std::array::from_fn(|k| columns[k].clone()),
        segments: vec![Segment { first: 0, last: ROWS - 1, start: SegmentStart::Start }],
        row_period: 0.02,
        ..Readings::default()
    };
    let settings = Settings::default();
    group.bench_function("noise", |bencher| bencher.iter(|| Noise::of(&readings)));
    let noise = Noise::of(&readings);
    group.bench_function("steps", |bencher| {
        bencher.iter(|| Steps::find(&readings, &noise, settings.step_limit));
    });
    let steps = Steps::find(&readings, &noise, settings.step_limit);
    let seconds = [0.0, 6e-3, 9e-3, 3e-3, 12e-3];
    let stated = Delays { from: Source::Stated, seconds, u: [Some(1e-5); 5] };
    for (name, delays) in [("no delays", Delays::none()), ("stated delays", stated)] {
        let aligned = Aligned::new(&readings, &steps, &delays);
        let input = sieve::Input { aligned: &aligned, noise: &noise, delays: &delays, settled: false };
        group.bench_function(format!("all gates, {name}"), |bencher| {
            bencher.iter(|| sieve::gates(&input, &settings));
        });
        let mut out = vec![0.0; 4096];
        group.bench_function(format!("five channels at one instant, {name}"), |bencher| {
            bencher.iter(|| {
                for first in (0..ROWS - 4096).step_by(4096) {
                    for channel in CHANNELS {
                        aligned.fill(channel, first..first + 4096, &mut out);
                    }
                }
            });
        });
    }
    group.finish();
}

criterion_group!(rows, counting, judging, gates);
criterion_main!(rows);
