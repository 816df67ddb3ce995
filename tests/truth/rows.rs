//! Delays and the sieve against the demo's truth.

use wattsieve_core::align::{self, Aligned, Noise, Steps};
use wattsieve_core::channel::Readings;
use wattsieve_core::sieve::{self, Reason};
use wattsieve_tests::sim::{LogTruth, SEED, demo, plain_readings, record};

/// Wrong rows out, wrong rows, good rows out, good rows.
fn score(masks: &[sieve::Mask], truth: &LogTruth) -> [usize; 4] {
    let wrong = truth.wrong();
    let mut score = [0; 4];
    for (row, &mask) in masks.iter().enumerate() {
        let at = if wrong.binary_search(&row).is_ok() { 0 } else { 2 };
        score[at + 1] += 1;
        score[at] += usize::from(!Reason::kept(mask));
    }
    score
}

fn sieved(readings: &Readings, delays: &align::Delays) -> Vec<sieve::Mask> {
    let settings = sieve::Settings::default();
    let noise = Noise::of(readings);
    let steps = Steps::find(readings, &noise, settings.step_limit);
    let settled = sieve::settled(readings, &noise, &steps, &settings).recognised();
    let aligned = Aligned::new(readings, &steps, delays);
    let unreadable: Vec<[usize; 2]> =
        readings.marks.iter().map(|m| [m.row as usize, m.row as usize]).collect();
    let input = sieve::Input {
        aligned: &aligned,
        noise: &noise,
        delays,
        marks: sieve::Marks { unreadable: &unreadable, over_range: &[] },
        settled,
    };
    let mut masks = sieve::gates(&input, &settings);
    if !settled {
        let table = sieve::Picked::new(&aligned, &settings);
        let counts = sieve::count(&table, sieve::Kind::default(), &settings);
        counts.judge(settings.least_rows, &mut masks);
    }
    masks
}

#[test]
fn explore() {
    let bench = demo(SEED);
    let mut through = None;
    for (stream, job) in bench.jobs.iter().enumerate() {
        let recording = record(&bench, job, stream as u64);
        let readings = plain_readings(&recording.bytes, &bench.dialect);
        let noise = Noise::of(&readings);
        let steps = Steps::find(&readings, &noise, 8.0);
        if job.file.contains("0r68") {
            let t = align::through_delays(&readings, &steps);
            println!("{t:?}");
            through = Some(t);
        }
        let delays = match &through {
            Some(t) => t.delays(),
            None => align::Delays::none(),
        };
        let masks = sieved(&readings, &delays);
        let s = score(&masks, &recording.truth);
        println!("{} rows {} noise {:?} steps {} score {s:?}", job.file, readings.rows(), noise.sigma, steps.len());
        let wrong = recording.truth.wrong();
        let missed: Vec<_> = recording.truth.corrupted.iter().map(|c| (c.cause, c.rows.iter().filter(|r| Reason::kept(masks[**r])).count())).collect();
        let mut lost = std::collections::BTreeMap::new();
        for (row, &m) in masks.iter().enumerate() {
            if !Reason::kept(m) && wrong.binary_search(&row).is_err() {
                let beside = recording.truth.beside_steps.binary_search(&row).is_ok();
                *lost.entry((Reason::first(m), beside)).or_insert(0) += 1;
            }
        }
        println!("   missed {missed:?} lost {lost:?}");
    }
}
#[test]
fn explore2() {
    let bench = demo(SEED);
    let job = &bench.jobs[2];
    let recording = record(&bench, job, 2);
    let readings = plain_readings(&recording.bytes, &bench.dialect);
    let noise = Noise::of(&readings);
    let steps = Steps::find(&readings, &noise, 8.0);
    println!("{:?} wrong {:?}", steps.intervals().collect::<Vec<_>>(), recording.truth.corrupted);
}
