//! Findings about rows: each comes where it should and is silent elsewhere.

use wattsieve_core::bench::{Bench, Detail, Settings};

use super::counting::Numbers;

/// A converter's log of so many rows a fiftieth of a second apart; the current by row, noise of 1 mV and 1 mA at most.
fn log(rows: usize, current: impl Fn(usize, &mut Numbers) -> f64) -> String {
    let mut numbers = Numbers(11);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for row in 0..rows {
        let i_out = current(row, &mut numbers);
        let i_in = (5.0 * i_out + 0.3 + 0.1 * i_out) / 12.0;
        let mut noise = || 0.002 * (numbers.unit() - 0.5);
        text.push_str(&format!(
            "{:.2},{:.4},{:.4},{:.4},{:.4}\n",
            0.02 * row as f64,
            12.0 + noise(),
            5.0 + noise(),
            i_in + noise(),
            i_out + noise()
        ));
    }
    text
}

/// Whether a finding is there, and its text.
fn said(text: &str, code: &str, settings: Settings) -> Option<String> {
    let mut bench = Bench::new(settings);
    let input = bench.begin("log.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    bench.complete();
    let results = bench.results(Detail::Brief);
    assert!(!results.runs.is_empty(), "{:?}", results.inputs[0].asks);
    let found = results.runs[0].answers.findings.iter().find(|said| said.code == code);
    found.map(|found| found.text.clone())
}

fn triangle(row: usize, rows: f64) -> f64 {
    0.3 + 3.0 * (1.0 - (2.0 * (row as f64 / rows).fract() - 1.0).abs())
}

#[test]
fn unknown_delays_are_told_where_rows_move_fast_and_only_once() {
    let code = "alignment_unknown";
    // One fast sweep up: nothing tells the delays, and every row is per cents from the next.
    let fast = log(300, |row, _| 0.3 + 0.012 * row as f64);
    let text = said(&fast, code, Settings::default()).unwrap();
    assert!(text.contains("straight-through"), "{text}");
    // The same sweep a hundred times slower costs nothing; neither does standing still.
    assert_eq!(said(&log(30_000, |row, _| 0.3 + 0.000_12 * row as f64), code, Settings::default()), None);
    assert_eq!(said(&log(3000, |_, _| 1.5), code, Settings::default()), None);
    // Up and down without delays: there is no gap, and nothing to say.
    assert_eq!(said(&log(3000, |row, _| triangle(row, 300.0)), code, Settings::default()), None);
    // Delays as stated are known.
    let mut stated = Settings::default();
    stated.align.mode = wattsieve_core::align::Mode::Stated;
    stated.align.seconds = [Some(0.0); 5];
    assert_eq!(said(&fast, code, stated), None);
}

/// Falling rows lose more than rising ones at once, as no order of the channels makes them; `rows` to one swing.
fn warm(rows: f64) -> String {
    let mut numbers = Numbers(4);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for row in 0..2400_usize {
        let i_out = triangle(row, rows);
        let heat = if (row as f64 / rows).fract() < 0.5 { 0.0 } else { 0.12 * i_out };
        let mut noise = || 0.002 * (numbers.unit() - 0.5);
        let i_in = (5.0 * i_out + 0.3 + 0.1 * i_out + heat) / 12.0 + noise();
        let time = 0.02 * row as f64;
        text.push_str(&format!("{time:.2},12,{:.4},{i_in:.4},{:.4}\n", 5.0 + noise(), i_out + noise()));
    }
    text
}

#[test]
fn a_gap_that_no_delay_explains_is_told_where_rows_move() {
    let text = said(&warm(240.0), "alignment_unknown", Settings::default()).unwrap();
    assert!(text.contains("half the speed"), "{text}");
    // Where rows hardly change from one to the next no delay matters, whatever the gap comes from.
    assert_eq!(said(&warm(1200.0), "alignment_unknown", Settings::default()), None);
}

#[test]
fn a_sieve_without_a_plateau_is_told() {
    let code = "sieve_no_plateau";
    // Rows all over the place: every row is its own cell.
    let scattered = log(400, |_, numbers| 0.3 + 3.0 * numbers.unit());
    let mut narrow = Settings::default();
    narrow.sieve.widths.insert("i_out".to_owned(), 0.002);
    narrow.sieve.widths.insert("i_in".to_owned(), 0.002);
    narrow.sieve.settled_points = wattsieve_core::sieve::SettledPoints::No;
    narrow.sieve.vote = wattsieve_core::sieve::Vote::Off;
    let text = said(&scattered, code, narrow.clone()).unwrap();
    assert!(text.contains("real readings"), "{text}");
    // Switched off it takes nothing.
    let mut off = narrow.clone();
    off.sieve.gates.rare = false;
    assert_eq!(said(&scattered, code, off), None);
    // A plain run has a plateau.
    assert_eq!(said(&log(6000, |row, _| triangle(row, 600.0)), code, Settings::default()), None);
}

#[test]
fn cleaning_that_changes_nothing_is_not_told() {
    assert_eq!(said(&log(6000, |row, _| triangle(row, 600.0)), "cleaning", Settings::default()), None);
}

/// A sweep over and over of `rows`; every so many rows one reads a current that `strays` gives, alone among its neighbours.
fn with_strays(rows: usize, every: usize, strays: impl Fn(&mut Numbers) -> f64) -> String {
    log(rows, |row, numbers| if row % every == every / 2 { strays(numbers) } else { triangle(row, 1500.0) })
}

#[test]
fn gates_that_disagree_are_told_with_the_gate_that_takes_more() {
    let code = "gates_disagree";
    // Rows seldom visited, in slow passages that stand out from no neighbour: the sieve takes them alone.
    let seldom =
        log(12_000, |row, _| if row % 3000 < 2800 { 1.5 } else { 1.5 + 0.01 * ((row % 3000) - 2800) as f64 });
    let mut strict = Settings::default();
    strict.sieve.vote = wattsieve_core::sieve::Vote::Off;
    strict.sieve.least_rows = 40;
    let text = said(&seldom, code, strict.clone()).unwrap();
    assert!(text.contains("mostly by the sieve") && text.contains("a gentler sieve"), "{text}");
    // A load that switches for single rows to a current where the run stands often as well: the spike gate alone.
    let blinking = log(12_000, |row, _| if row % 40 == 20 || row > 9000 { 2.5 } else { 1.5 });
    let text = said(&blinking, code, Settings::default()).unwrap();
    assert!(text.contains("mostly by the spike gate"), "{text}");
    // With one of the two switched off there is nothing to agree with.
    for text in [&seldom, &blinking] {
        let mut off = strict.clone();
        off.sieve.gates.spike = false;
        assert_eq!(said(text, code, off), None);
        let mut off = strict.clone();
        off.sieve.gates.rare = false;
        assert_eq!(said(text, code, off), None);
    }
    // Stray readings that both take, and a plain run: they agree.
    let dirty = with_strays(12_000, 100, |numbers| 5.0 + 4.0 * numbers.unit());
    assert_eq!(said(&dirty, code, Settings::default()), None);
    assert_eq!(said(&log(6000, |row, _| triangle(row, 600.0)), code, Settings::default()), None);
}

#[test]
fn a_log_of_random_numbers_is_told_to_be_impossible() {
    let mut numbers = Numbers(3);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for row in 0..42 {
        let mut between = |low: f64, high: f64| low + (high - low) * numbers.unit();
        let reading = [between(8.0, 14.0), between(4.0, 6.0), between(0.05, 1.0), between(0.1, 6.0)];
        text.push_str(&format!("{:.1}", 0.5 * f64::from(row)));
        reading.iter().for_each(|value| text.push_str(&format!(",{value:.4}")));
        text.push('\n');
    }
    let told = said(&text, "above_one", Settings::default()).unwrap();
    assert!(told.contains("of 42 rows") && told.contains("swapped"), "{told}");
    assert_eq!(said(&log(3000, |row, _| triangle(row, 300.0)), "above_one", Settings::default()), None);
}
