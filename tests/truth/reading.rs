//! The reader against a plain twin that knows how the log was written.

use wattsieve_core::channel::Readings;
use wattsieve_tests::sim::{Bench, SEED, demo, drawn, plain_readings, record};

use crate::stages::{read, recognised};

fn check(bench: &Bench, seed: u64) {
    for (stream, job) in bench.jobs.iter().enumerate() {
        let recording = record(bench, job, stream as u64);
        let ours = read(&recording.bytes);
        let twin = plain_readings(&recording.bytes, &bench.dialect);
        let what = format!("seed {seed} {}", job.file);
        assert_eq!(ours.rows(), recording.truth.rows, "{what}");
        compare(&ours, &twin, &what);
        let kind = recognised(&ours).map_or("run", |kind| kind.code());
        assert_eq!(kind, recording.truth.role, "{what}");
    }
}

fn compare(ours: &Readings, twin: &Readings, what: &str) {
    for k in 0..5 {
        for (row, (a, b)) in ours.columns[k].iter().zip(&twin.columns[k]).enumerate() {
            // A line that breaks off keeps what it holds; the twin drops it whole.
            let broken = twin.marks.iter().any(|mark| mark.row as usize == row);
            assert!(a == b || broken, "{what} row {row} channel {k}: {a} {b}");
        }
    }
    let incomplete = |r: &Readings| -> Vec<usize> {
        (0..r.rows()).filter(|&row| r.columns.iter().any(|column| column[row].is_nan())).collect()
    };
    assert_eq!(incomplete(ours), incomplete(twin), "{what}");
    let starts = |r: &Readings| r.segments.iter().map(|s| s.first).collect::<Vec<_>>();
    assert_eq!(starts(ours), starts(twin), "{what}");
    assert!((ours.row_period - twin.row_period).abs() < 1e-9, "{what}");
}

#[test]
fn demo_logs_read_as_they_were_written() {
    check(&demo(SEED), SEED);
}

/// Other names, column orders, separators, line ends, V and mV, A and mA, s and ms.
#[test]
fn drawn_logs_read_as_they_were_written() {
    for seed in 0..60 {
        check(&drawn(seed), seed);
    }
}
