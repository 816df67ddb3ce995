//! A dimmed output on a calibrated fixture: rows that follow the pulses, and logged power.

use wattsieve_core::bench::{Bench, Detail, RunResult, RunSettings, Settings};
use wattsieve_core::pulse::Used;

use super::{bench, feed};

/// 200 Hz, on for 30 % of the time at 9.4 V and 6 A, off at 7.6 V; 12 V and 1.55 A in.
const DUTY: f64 = 0.3;
const ON: [f64; 2] = [9.4, 6.0];
const OFF: [f64; 2] = [7.6, 0.0];
const INPUT: [f64; 2] = [12.0, 1.55];

fn ripple(row: u32) -> f64 {
    0.0004 * (f64::from(row * 7919 % 1000) / 1000.0 - 0.5)
}

fn resolved() -> String {
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    for row in 0..20_000 {
        let time = f64::from(row) * 1e-4;
        let [v, i] = if (time * 200.0 + 0.123).rem_euclid(1.0) < DUTY { ON } else { OFF };
        let r = ripple(row);
        text.push_str(&format!(
            "{time:.6},{:.5},{:.5},{:.5},{:.5}\n",
            INPUT[0] + r,
            v + r,
            INPUT[1] + r,
            i + r
        ));
    }
    text
}

fn averaged_with_power() -> String {
    let mean = |k: usize| DUTY * ON[k] + (1.0 - DUTY) * OFF[k];
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A),p_out (W)\n");
    for row in 0..2000 {
        let time = f64::from(row) * 0.05;
        let r = ripple(row);
        text.push_str(&format!(
            "{time:.2},{:.5},{:.5},{:.5},{:.5},{:.5}\n",
            INPUT[0] + r,
            mean(0) + r,
            INPUT[1] + r,
            mean(1) + r,
            DUTY * ON[0] * ON[1] + r
        ));
    }
    text
}

fn answered(record: &str, text: &str, on_current: Option<f64>) -> RunResult {
    let own = RunSettings { on_current, ..RunSettings::default() };
    let settings = Settings {
        calibration: Some(serde_json::from_str(record).unwrap()),
        runs: [("dimmed".to_owned(), own)].into(),
        ..Settings::default()
    };
    let mut bench = Bench::new(settings);
    feed(&mut bench, "dimmed.csv", text.as_bytes(), 1 << 16);
    bench.results(Detail::Full).runs.remove(0)
}

fn efficiency(run: &RunResult) -> f64 {
    let cells = &run.answers.map.efficiency;
    let rows: usize = cells.iter().map(|cell| cell.n).sum();
    cells.iter().map(|cell| cell.value * cell.n as f64).sum::<f64>() / rows as f64
}

#[test]
fn the_current_while_on_gives_the_output_path_its_loss_where_power_is_logged() {
    let mut fitted = bench(1 << 16);
    fitted.complete();
    let record = fitted.calibration_record().unwrap();
    let parameters = &fitted.calibration().unwrap().correction;
    let path = parameters.get(wattsieve_core::fixture::Parameter::OutputResistance);
    let followed = answered(&record, &resolved(), None);
    let [stated, unstated] =
        [Some(ON[1]), None].map(|on_current| answered(&record, &averaged_with_power(), on_current));
    assert_eq!(
        [&followed, &stated, &unstated].map(|run| run.pulsed.used),
        [Used::Periods, Used::Power, Used::Power]
    );
    // What the mean current misses: R_O (mean i)^2 (1/D - 1).
    let mean = DUTY * ON[1];
    let missed = path * mean * mean * (1.0 / DUTY - 1.0) / (INPUT[0] * INPUT[1]);
    assert!(missed > 0.005, "{missed}");
    let [followed_at, stated_at, unstated_at] = [&followed, &stated, &unstated].map(efficiency);
    assert!((followed_at - stated_at).abs() < 0.05 * missed, "{followed_at} {stated_at}, {missed} missed");
    assert!((stated_at - unstated_at - missed).abs() < 0.05 * missed, "{stated_at} {unstated_at} {missed}");
    assert!(stated.pulsed.path_loss.is_none() && unstated.pulsed.path_loss.is_some());
    assert!((stated.pulsed.duty.value.unwrap() - DUTY).abs() < 1e-3);
}
