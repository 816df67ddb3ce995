//! The fixture's fit on the synthetic calibration set (see reference/fixture/README.md).

use crate::data::{borrowed, calibration_set, priors_as_computed};
use wattsieve_core::fixture::{self, Calibration, Grade, Parameter, Settings};

fn u(c: &Calibration, p: Parameter) -> f64 {
    c.correction.covariance[p as usize][p as usize].sqrt()
}

/// Values and u that an independent program (numpy, another estimator) computed from the same
/// files.
const COMPUTED: [(Parameter, f64, f64); 4] = [
    (Parameter::InputResistance, 0.065_001_675, 0.000_157_501),
    (Parameter::OutputResistance, 0.048_040_691, 0.000_157_544),
    (Parameter::GainVOutHigh, 1.004_010_567, 9.842e-6),
    (Parameter::GainIOut, 0.996_179_750, 3.1665e-5),
];

#[test]
fn agrees_with_the_independent_fit_within_a_fifth_of_u() {
    let runs = calibration_set();
    let c = fixture::fit(&borrowed(&runs), &priors_as_computed()).unwrap();
    assert_eq!((c.unknowns, c.rank), (16, 15));
    assert_eq!(c.correction.grade, Grade::Settled);
    for (p, value, u_expected) in COMPUTED {
        let off = (c.correction.get(p) - value).abs() / u_expected;
        assert!(off < 0.2, "{p:?} off by {off} u");
        assert!((u(&c, p) / u_expected - 1.0).abs() < 0.08, "u of {p:?}: {}", u(&c, p));
    }
    let null = &c.report.null_space;
    assert_eq!(null.len(), 1);
    let weights: Vec<f64> = null[0].weights.values().copied().collect();
    // in_high, in_low, out_high, out_low
    assert_eq!(weights, [1.0, -1.0, -1.0, 1.0]);
}

#[test]
fn robust_weights_move_nothing_on_clean_data() {
    let runs = calibration_set();
    let plain = Settings { robust: false, ..Settings::default() };
    let a = fixture::fit(&borrowed(&runs), &plain).unwrap();
    let b = fixture::fit(&borrowed(&runs), &Settings::default()).unwrap();
    for (p, _, _) in COMPUTED {
        let off = (a.correction.get(p) - b.correction.get(p)).abs() / u(&a, p);
        assert!(off < 0.5, "{p:?} off by {off} u");
    }
}
