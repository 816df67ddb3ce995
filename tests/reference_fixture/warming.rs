//! Self-heating on synthetic runs (see reference/fixture/README.md).

use crate::data::columns;
use wattsieve_core::fixture::{Heating, heating};

fn fit(name: &str) -> Heating {
    let c = columns(&format!("fixture/{name}.csv"));
    // 1 mV and 1 mA on 0.68 ohm.
    heating(&c[0], &c[1], &c[2], 0.001 * (1.0 + 0.68 * 0.68_f64).sqrt()).unwrap()
}

/// Cold resistance by a scan of one time constant with numpy: 0.68003, 0.68019, 0.68005; truth
/// 0.6800 each.
#[test]
fn one_constant_agrees_with_the_independent_scan() {
    for (name, expected) in
        [("heat_one_slow", 0.68003), ("heat_two_slow", 0.68019), ("heat_two_pulse", 0.68005)]
    {
        let h = fit(name);
        assert!((h.cold_one - expected).abs() < 5e-5, "{name} {}", h.cold_one);
        assert!(h.seen);
    }
}

#[test]
fn the_truth_lies_in_the_interval_also_with_two_constants() {
    for name in ["heat_one_slow", "heat_two_slow", "heat_two_pulse"] {
        let h = fit(name);
        assert!((h.cold - 0.68).abs() < 2.0 * h.cold_u, "{name} {} {}", h.cold, h.cold_u);
        // Peak drifts of the forward model: 0.22 % and 0.30 %; pulsed 0.08 %.
        let peak = match name {
            "heat_one_slow" => 0.002_177,
            "heat_two_slow" => 0.003_002,
            _ => 0.000_816,
        };
        let (drift, u) = h.largest_drift;
        assert!((drift - peak).abs() < (2.0 * u).max(1e-4), "{name}: {drift} {u}");
    }
    let slow = fit("heat_one_slow");
    // The independent scan: 114 s, 85 to 159 s (truth 90).
    let (low, high) = slow.time_constant_interval;
    assert!((low.unwrap() - 85.3).abs() < 4.0, "{low:?}");
    assert!((high.unwrap() - 158.7).abs() < 12.0, "{high:?}");
    // Pulses of two stages, one being fitted: 6.5 to 12.6 s.
    let (low, high) = fit("heat_two_pulse").time_constant_interval;
    assert!((low.unwrap() - 6.45).abs() < 0.5 && (high.unwrap() - 12.6).abs() < 0.8, "{low:?} {high:?}");
}

#[test]
fn no_heating_is_claimed_without_it() {
    let c = columns("fixture/heat_one_slow.csv");
    let mut random = wattsieve_tests::sim::Random::new(5, 0);
    let mut claimed = 0;
    for _ in 0..20 {
        let volt: Vec<f64> = c[2].iter().map(|i| 0.68 * i + 0.0015 + 0.0012 * random.normal()).collect();
        let h = heating(&c[0], &volt, &c[2], 0.0012).unwrap();
        claimed += usize::from(h.seen);
        assert!((h.cold - 0.68).abs() < 4.0 * h.cold_u);
    }
    assert_eq!(claimed, 0);
}
