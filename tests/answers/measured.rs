//! A table of real measurements: an inverter at six loads and three input voltages, seven repeats of each.

use wattsieve_core::bench::{Bench, Detail, Settings};

use wattsieve_core::sieve::Settled;

use crate::support::numbers_of;

/// At least 97 % of 126 measured rows stay, as a table and with every gate and the sieve at their defaults.
///
/// **Source** pvlib 0.16.1 test data (BSD-3-Clause), efficiencies and powers as measured; currents follow from them, the
/// output voltage of 400 V is ours.
#[test]
fn a_table_of_real_measurements_stays() {
    let mut text = "V_in [V],I_in [A],V_out [V],I_out [A]\n".to_owned();
    let rows = numbers_of("inverter-measured.csv", &[2, 3, 4]);
    assert_eq!(rows.len(), 126);
    for row in &rows {
        let (power, volts, efficiency) = (row[0], row[1], row[2]);
        text += &format!("{volts},{:.4},400,{:.4}\n", power / efficiency / volts, power / 400.0);
    }
    let mut bench = Bench::new(Settings::default());
    let input = bench.begin("inverter.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    bench.complete();
    let results = bench.results(Detail::Full);
    assert!(results.inputs[0].asks.is_empty(), "a table needs no times: {:?}", results.inputs[0].asks);
    let run = &results.runs[0];
    assert_eq!((run.settled_points.why, run.alignment.why), (Some(Settled::Untimed), Some("settled_points")));
    assert!(run.answers.findings.iter().any(|said| said.text.contains("no time is logged")));
    println!("{} of {} rows kept", run.rows.kept, run.rows.read);
    assert_eq!(run.rows.read, 126);
    assert!(run.rows.kept * 100 >= 126 * 97, "{}", run.rows.kept);
}
