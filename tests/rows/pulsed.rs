//! Pulse-width-dimmed outputs: used by resolved rows or logged power, refused where averages only are logged.

use wattsieve_core::bench::{Bench, Detail, RunResult, Settings};
use wattsieve_core::pulse::{How, Output, Used};

use super::counting::Numbers;

/// Source: 30 % duty, 9.4 V and 1.8 A while on, 7.6 V while off: 0.3 * 9.4 * 1.8 = 5.076 W; averages give
/// (0.3 * 9.4 + 0.7 * 7.6) * 0.54 = 4.3956 W.
const TRUE_WATTS: f64 = 5.076;
const AVERAGES: f64 = 4.3956;

fn run(text: &str, output: Output) -> RunResult {
    let mut settings = Settings::default();
    settings.pulsed.output = output;
    let mut bench = Bench::new(settings);
    let input = bench.begin("dimmed.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    bench.results(Detail::Full).runs.remove(0)
}

fn noise(numbers: &mut Numbers) -> f64 {
    0.004 * (numbers.unit() - 0.5)
}

/// Rows `row` s apart of a 200 Hz dimmed string behind a smooth input of 12 V.
fn instants(row: f64, rows: usize) -> String {
    let mut numbers = Numbers(3);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for k in 0..rows {
        let t = k as f64 * row;
        let on = (t * 200.0 + 0.123).rem_euclid(1.0) < 0.3;
        let (v, i) = if on { (9.4, 1.8) } else { (7.6, 0.0) };
        let mut n = || noise(&mut numbers);
        text.push_str(&format!("{t:.6},{:.4},{:.4},{:.4},{:.4}\n", 12.0 + n(), v + n(), 0.47 + n(), i + n()));
    }
    text
}

#[test]
fn resolved_periods_give_the_power() {
    let found = run(&instants(1e-4, 20_000), Output::Auto);
    println!("{:?}", found.pulsed);
    assert_eq!((found.pulsed.how, found.pulsed.used), (How::Resolved, Used::Periods));
    assert!((found.pulsed.period.value.unwrap() - 5e-3).abs() < 1e-5);
    assert!((found.pulsed.power.value.unwrap() - TRUE_WATTS).abs() < 0.03);
    assert!((found.pulsed.product_of_averages.value.unwrap() - AVERAGES).abs() < 0.03);
    let cell = &found.answers.map.efficiency[0];
    let truth = TRUE_WATTS / (12.0 * 0.47);
    assert!((cell.value - truth).abs() < 0.01, "{} for {truth}", cell.value);
    // Said to be a direct current, rows stand for themselves.
    let steady = run(&instants(1e-4, 20_000), Output::Steady);
    assert!(!steady.pulsed.recognised && steady.pulsed.used == Used::Rows);
}

#[test]
fn rows_that_catch_pulses_by_chance_are_refused_with_the_reason() {
    let found = run(&instants(0.0137, 6000), Output::Auto);
    println!("{:?}", found.pulsed);
    assert_eq!((found.pulsed.how, found.pulsed.used), (How::Unresolved, Used::Refused));
    assert!(found.answers.map.efficiency.is_empty() && found.answers.peak.efficiency.value.is_none());
    assert_eq!(found.answers.findings[0].code, "pulsed_output");
    assert!(found.pulsed.log_instead.iter().any(|advice| advice.contains("power")));
}

fn averages(power: bool) -> String {
    let mut numbers = Numbers(4);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)");
    text.push_str(if power { ",p_out (W)\n" } else { "\n" });
    for k in 0..3000 {
        let t = f64::from(k) * 0.05;
        // Windows of 10.3 periods: the part of a period that is too much comes and goes.
        let duty = 0.3 + 0.02 * (2.0 * std::f64::consts::PI * 0.3 * f64::from(k)).sin();
        let (v, i, p) = (9.4 * duty + 7.6 * (1.0 - duty), 1.8 * duty, 9.4 * 1.8 * duty);
        let mut n = || 0.25 * noise(&mut numbers);
        text.push_str(&format!("{t:.3},{:.4},{:.4},{:.4},{:.4}", 12.0 + n(), v + n(), 0.47 + n(), i + n()));
        text.push_str(&if power { format!(",{:.4}\n", p + n()) } else { "\n".to_owned() });
    }
    text
}

#[test]
fn averages_are_refused_and_logged_power_is_used() {
    for output in [Output::Auto, Output::Pulsed] {
        let refused = run(&averages(false), output);
        println!("{:?}", refused.pulsed);
        assert_eq!(refused.pulsed.used, Used::Refused, "{output:?}");
        assert!((refused.pulsed.product_of_averages.value.unwrap() - AVERAGES).abs() < 0.02);
        assert!(refused.answers.map.efficiency.is_empty());
        assert!(refused.pulsed.refused.as_ref().unwrap().contains("4.39"), "{:?}", refused.pulsed.refused);
    }
    let found = run(&averages(true), Output::Auto);
    println!("{:?}", found.pulsed);
    assert_eq!((found.pulsed.how, found.pulsed.used), (How::PowerLogged, Used::Power));
    assert!((found.pulsed.power.value.unwrap() - TRUE_WATTS).abs() < 0.01);
    let [sum, rows] = found
        .answers
        .map
        .efficiency
        .iter()
        .fold([0.0, 0.0], |[sum, rows], cell| [sum + cell.value * cell.n as f64, rows + cell.n as f64]);
    assert!((sum / rows - TRUE_WATTS / (12.0 * 0.47)).abs() < 0.02, "{}", sum / rows);
}

#[test]
fn ordinary_runs_are_not_taken_for_pulsed_ones() {
    let mut numbers = Numbers(8);
    type Current<'a> = &'a dyn Fn(f64) -> f64;
    let cases: [(&str, Current<'_>); 4] = [
        ("ramps", &|t| 0.1 + 3.0 * (1.0 - (2.0 * (t / 9.0).rem_euclid(1.0) - 1.0).abs())),
        ("held", &|_| 1.5),
        ("to and fro", &|t| if ((t / 0.7) as u32).is_multiple_of(2) { 0.3 } else { 1.5 }),
        ("presets", &|t| [0.15, 0.6, 1.8][(t / 20.0) as usize % 3]),
    ];
    for (name, current) in cases {
        let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
        for k in 0..4000 {
            let t = f64::from(k) * 0.02;
            let i = current(t);
            let mut n = || noise(&mut numbers);
            let p = 5.0 * i + 0.3;
            text.push_str(&format!(
                "{t:.2},{:.4},{:.4},{:.4},{:.4}\n",
                12.0 + n(),
                5.0 + n(),
                p / 12.0 + n(),
                i + n()
            ));
        }
        let found = run(&text, Output::Auto);
        assert!(!found.pulsed.recognised, "{name}: {:?}", found.pulsed);
    }
}
