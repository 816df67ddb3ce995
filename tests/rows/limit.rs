//! The supply's current limit, labelled from the run itself: found where it is, silent where it is not.

use wattsieve_core::bench::{Bench, Detail, Results, Settings};
use wattsieve_core::sieve::Reason;
use wattsieve_tests::sim::Random;

const ROWS: usize = 3000;

/// What feeds the converter.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Supply {
    /// Behind 0.12 ohm, no more than the drawn limit.
    Limited,
    /// Behind 0.4 ohm, no limit: the voltage droops with the current.
    Drooping,
    /// Stiff, and the load held at its largest current for a third of the run, under much noise.
    Noisy,
}

/// A log of a 5 V step-down module under a load that swings, and which rows the supply limits.
fn play(supply: Supply, seed: u64) -> (String, Vec<bool>) {
    let mut random = Random::new(9100 + seed, supply as u64);
    let most = random.between(5.0, 7.0);
    let swing = random.between(6.0, 11.0);
    let open = random.between(11.4, 12.6);
    let (ohms, limit) = match supply {
        Supply::Limited => (0.12, random.between(0.70, 0.85) * 5.0 * most / 0.94 / open),
        Supply::Drooping => (0.4, f64::INFINITY),
        Supply::Noisy => (0.02, f64::INFINITY),
    };
    let noise = if supply == Supply::Noisy { 0.02 } else { 0.003 };
    let mut text = String::from("t_s,v_in_V,i_in_A,v_out_V,i_out_A\n");
    let mut limited = Vec::with_capacity(ROWS);
    for row in 0..ROWS {
        let t = 0.02 * row as f64;
        let share = 1.0 - (2.0 * (t / swing).fract() - 1.0).abs();
        let held = supply == Supply::Noisy && row > ROWS / 3 && row < 2 * ROWS / 3;
        let wanted = if held { most } else { most * (0.03 + 0.97 * share) };
        // Losses of a twentieth and a quarter of a watt.
        let power = |i_out: f64| 5.0 * i_out * 1.05 + 0.25;
        let mut v_in = open;
        for _ in 0..40 {
            v_in = open - ohms * power(wanted) / v_in;
        }
        let mut i_in = power(wanted) / v_in;
        let mut i_out = wanted;
        let over = i_in > limit;
        if over {
            // The load pulls the node down until the power that is left balances what it still takes.
            i_in = limit;
            v_in = (open - ohms * limit) * (1.0 - 0.25 * (wanted / most));
            i_out = (limit * v_in - 0.25) / 5.25;
        }
        limited.push(over);
        let mut n = || noise * random.normal();
        text.push_str(&format!(
            "{t:.2},{:.4},{:.4},{:.4},{:.4}\n",
            v_in + n(),
            i_in + 0.3 * n(),
            5.0 + 0.2 * n(),
            i_out + 0.3 * n()
        ));
    }
    (text, limited)
}

fn analysed(text: &str, settings: Settings) -> Results {
    let mut bench = Bench::new(settings);
    let input = bench.begin("supply.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    bench.complete();
    bench.results(Detail::Full)
}

/// Rows with the label.
fn labelled(results: &Results) -> Vec<bool> {
    let mut rows = vec![false; ROWS];
    let of = |entry: &&wattsieve_core::sieve::ByReason| entry.code == Reason::SupplyLimit.code();
    for entry in results.runs[0].rows.by_reason.iter().filter(of) {
        entry.rows.iter().for_each(|span| rows[span[0]..=span[1]].fill(true));
    }
    rows
}

/// At least 95 % of the rows in limit get the label and at most 0.5 % of the others, over all runs; such rows leave the
/// operating points and not the log.
#[test]
fn rows_in_the_supplys_limit_are_labelled() {
    let mut sums = [0_usize; 4];
    for seed in 0..20 {
        let (text, truth) = play(Supply::Limited, seed);
        let results = analysed(&text, Settings::default());
        let label = labelled(&results);
        for (label, limited) in label.iter().zip(&truth) {
            let at = if *limited { 0 } else { 2 };
            sums[at] += 1;
            sums[at + 1] += usize::from(*label);
        }
        let rows = &results.runs[0].rows;
        let count = label.iter().filter(|label| **label).count();
        assert!(rows.kept >= rows.read - rows.removed_count && count > 100, "seed {seed}: {count}");
    }
    println!("{} of {} limited rows labelled, {} of {} others", sums[1], sums[0], sums[3], sums[2]);
    assert!(sums[0] > 3000 && sums[1] * 100 >= sums[0] * 95, "{sums:?}");
    assert!(sums[3] * 1000 <= sums[2] * 5, "{sums:?}");
}

#[test]
fn a_drooping_source_and_noise_are_no_limit() {
    for supply in [Supply::Drooping, Supply::Noisy] {
        for seed in 0..20 {
            let (text, _) = play(supply, seed);
            let results = analysed(&text, Settings::default());
            let limit = &results.runs[0].answers.source.current_limit;
            assert_eq!(limit.value, None, "{supply:?} {seed}");
            assert!(labelled(&results).iter().all(|label| !label), "{supply:?} {seed}");
        }
    }
}
