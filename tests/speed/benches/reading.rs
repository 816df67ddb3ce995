//! Text in memory to columns, and columns to readings.

#![allow(missing_docs, reason = "the macros make functions without comments")]

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use wattsieve_core::channel::{self, guess, to_readings};
use wattsieve_core::log::{Reader, Settings, read};
use wattsieve_speed::{DIALECTS, Dialect, ROWS, log_text};

fn text_to_columns(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("text to columns");
    group.sample_size(10).throughput(Throughput::Elements(ROWS as u64));
    for (name, dialect) in DIALECTS {
        let text = log_text(ROWS, dialect);
        group.bench_function(name, |bencher| {
            bencher.iter(|| assert_eq!(read(text.as_bytes(), &Settings::default()).rows(), ROWS));
        });
    }
    let text = log_text(ROWS, Dialect::Plain);
    group.bench_function("plain, in pieces of 64 KiB", |bencher| {
        bencher.iter(|| {
            let mut reader = Reader::new(&Settings::default(), Some(text.len() as u64));
            text.as_bytes().chunks(65_536).for_each(|piece| reader.push(piece));
            assert_eq!(reader.finish().rows(), ROWS);
        });
    });
    group.finish();
}

fn columns_to_readings(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("columns to readings");
    group.sample_size(10).throughput(Throughput::Elements(ROWS as u64));
    let log = read(log_text(ROWS, Dialect::Plain).as_bytes(), &Settings::default());
    let settings = channel::Settings::default();
    let roles = guess(&log, &settings);
    group.bench_function("plain", |bencher| {
        bencher.iter_batched(
            || log.clone(),
            |log| assert_eq!(to_readings(log, &roles, &settings).readings.rows(), ROWS),
            BatchSize::PerIteration,
        );
    });
    group.finish();
}

criterion_group!(reading, text_to_columns, columns_to_readings);
criterion_main!(reading);
