//! Benches drawn at random: stated intervals must cover the truth as often as they claim.

use wattsieve_core::align::{self, Aligned, Delays, Noise, Steps};
use wattsieve_core::channel::{CHANNELS, Readings};
use wattsieve_core::fixture::{self, Calibration, CalibrationRun, ChannelAccuracy, RunKind};
use wattsieve_core::map;
use wattsieve_core::point::Rows;
use wattsieve_core::quantity::Quantity;
use wattsieve_core::sieve::{self, Reason};
use wattsieve_tests::sim::{Bench, CURRENT_GAIN_U, drawn, plain_readings, record};

/// Half width of a 95 % interval in standard uncertainties.
const K95: f64 = 1.959_963_985;

fn kind(role: &str) -> Option<RunKind> {
    Some(match role {
        "all_off" => RunKind::AllOff,
        "open_sweep" => RunKind::OpenSweep,
        "straight_through" => RunKind::StraightThrough,
        "input_shorted" => RunKind::InputShorted,
        "output_shorted" => RunKind::OutputShorted,
        _ => return None,
    })
}

fn calibrate(bench: &Bench) -> (Calibration, Delays) {
    let logs: Vec<(RunKind, Readings)> = bench
        .jobs
        .iter()
        .enumerate()
        .filter_map(|(stream, job)| {
            let recording = record(bench, job, stream as u64);
            let kind = kind(recording.truth.role)?;
            Some((kind, plain_readings(&recording.bytes, &bench.dialect)))
        })
        .collect();
    let limit = sieve::Settings::default().step_limit;
    let through = logs
        .iter()
        .filter(|log| log.0 == RunKind::StraightThrough)
        .map(|log| align::through_delays(&log.1, &Steps::find(&log.1, &Noise::of(&log.1), limit)))
        .filter(align::Through::useful)
        .min_by(|a, b| a.u[4].unwrap().total_cmp(&b.u[4].unwrap()));
    let delays = through.map_or_else(Delays::none, |through| through.delays());
    let mut gates = sieve::Settings::default();
    gates.gates.sign = false;
    gates.gates.off = false;
    gates.gates.supply_limit = false;
    gates.gates.slew = false;
    let prepared: Vec<_> = logs
        .iter()
        .map(|(_, readings)| {
            let noise = Noise::of(readings);
            let steps = Steps::find(readings, &noise, limit);
            let aligned = Aligned::new(readings, &steps, &delays);
            let input = sieve::Input {
                aligned: &aligned,
                noise: &noise,
                delays: &delays,
                settled: false,
            };
            let kept: Vec<bool> =
                sieve::gates(&input, &gates).into_iter().map(Reason::kept).collect();
            let columns = CHANNELS.map(|channel| {
                let mut column = vec![0.0; readings.rows()];
                aligned.fill(channel, 0..readings.rows(), &mut column);
                column
            });
            (columns, kept, noise.sigma)
        })
        .collect();
    let runs: Vec<CalibrationRun<'_>> = logs
        .iter()
        .zip(&prepared)
        .enumerate()
        .map(|(input, ((kind, readings), (columns, kept, noise)))| CalibrationRun {
            input,
            kind: *kind,
            time: &readings.time,
            columns: std::array::from_fn(|k| columns[k].as_slice()),
            kept: Some(kept),
            noise: Some(*noise),
            resistor: None,
        })
        .collect();
    let mut settings = fixture::Settings::default();
    settings.channels.i_in =
        ChannelAccuracy { gain: Some(CURRENT_GAIN_U), ..ChannelAccuracy::default() };
    (fixture::fit(&runs, &settings).unwrap(), delays)
}

struct TestRows<'a> {
    aligned: Aligned<'a>,
    masks: Vec<sieve::Mask>,
    correction: &'a fixture::Correction,
    noise: [f64; 5],
}

impl Rows for TestRows<'_> {
    fn rows(&self) -> usize {
        self.masks.len()
    }
    fn time(&self, row: usize) -> f64 {
        self.aligned.readings().time[row]
    }
    fn mask(&self, row: usize) -> sieve::Mask {
        self.masks[row]
    }
    fn reading(&self, row: usize) -> [f64; 5] {
        self.aligned.reading(row)
    }
    fn correction(&self) -> &fixture::Correction {
        self.correction
    }
    fn noise(&self) -> [f64; 5] {
        self.noise
    }
}

fn points(bench: &Bench, calibration: &Calibration, delays: &Delays) -> Vec<map::Point> {
    let stream = bench.jobs.len() - 1;
    let recording = record(bench, &bench.jobs[stream], stream as u64);
    let readings = plain_readings(&recording.bytes, &bench.dialect);
    let settings = sieve::Settings::default();
    let noise = Noise::of(&readings);
    let steps = Steps::find(&readings, &noise, settings.step_limit);
    let aligned = Aligned::new(&readings, &steps, delays);
    let input = sieve::Input {
        aligned: &aligned,
        noise: &noise,
        delays,
        settled: false,
    };
    let mut masks = sieve::gates(&input, &settings);
    let table = sieve::Picked::new(&aligned, &settings);
    let counts = sieve::count(&table, sieve::Kind::default(), &settings);
    counts.judge(settings.least_rows, &mut masks);
    let correction = &calibration.correction;
    let rows = TestRows { aligned, masks, correction, noise: noise.sigma };
    let op = map::Operating::collect(&rows);
    map::at(&op, &map::Index::of(&op), &bench.jobs[stream].points, &[])
}

#[test]
fn explore_mc() {
    let n: u64 = std::env::var("N").ok().and_then(|n| n.parse().ok()).unwrap_or(200);
    let out: Vec<[f64; 6]> = std::thread::scope(|scope| {
        let threads: Vec<_> = (0..2)
            .map(|t| {
                scope.spawn(move || {
                    (0..n)
                        .filter(|s| s % 2 == t)
                        .map(|seed| {
                            let bench = drawn(seed);
                            let sums = bench.sums();
                            let (c, delays) = calibrate(&bench);
                            let at = points(&bench, &c, &delays);
                            let truth = bench.jobs.last().unwrap().points.iter().map(|p| bench.efficiency(&bench.converters[0], p[0], p[1])).collect::<Vec<_>>();
                            let q: Vec<_> = at.iter().map(|p| Quantity { value: p.value, u: p.u, why: None }).collect();
                            if q.iter().any(|q| q.u.is_none()) { println!("seed {seed} {at:?}"); }
                            let r = &c.report;
                            [
                                (&r.correction_in, sums.correction_in),
                                (&r.correction_out, sums.correction_out),
                                (&r.current_gain_ratio, sums.current_gain_ratio),
                                (&r.voltage_gain_ratio, sums.voltage_gain_ratio),
(&q[0], truth[0]), (&q[1], truth[1])
                            ]
                            .map(|(q, t)| {
                                let Some(u) = q.u else { return 99.0 };
let z = (q.value.unwrap() - t) / u;
                                if z.abs() > 3.5 {
                                    println!("seed {seed}: {q:?} truth {t} z {z} chi {:?}", r.chi2_reduced);
                                }
                                z
                            })
                        })
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        threads.into_iter().flat_map(|t| t.join().unwrap()).collect()
    });
    for k in 0..6 {
        let inside = out.iter().filter(|z| z[k].abs() <= K95).count();
        let mean = out.iter().map(|z| z[k]).sum::<f64>() / out.len() as f64;
        let rms = (out.iter().map(|z| z[k] * z[k]).sum::<f64>() / out.len() as f64).sqrt();
        println!("{k}: {:.3} mean {mean:.3} rms {rms:.3}", inside as f64 / out.len() as f64);
    }
}
