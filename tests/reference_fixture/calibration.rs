//! The fixture's fit on the synthetic calibration set (see reference/fixture/README.md).

use crate::data::{borrowed, calibration_set, priors_as_computed};
use wattsieve_core::fixture::{self, Calibration, Grade, Parameter, Settings, Stated};

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

/// One row in fifty reads 1 % high: with weights by residual the answer stays, without them it moves by several u.
#[test]
fn stray_rows_hardly_move_the_fit() {
    let clean = calibration_set();
    let mut runs = calibration_set();
    for run in &mut runs {
        for (row, value) in run.columns[1].iter_mut().enumerate() {
            if row % 50 == 17 {
                *value *= 1.01;
            }
        }
    }
    let settings = Settings { robust: true, ..priors_as_computed() };
    let a = fixture::fit(&borrowed(&clean), &settings).unwrap();
    let off = |b: &Calibration| -> f64 {
        COMPUTED
            .iter()
            .map(|(p, _, _)| (a.correction.get(*p) - b.correction.get(*p)).abs() / u(&a, *p))
            .fold(0.0, f64::max)
    };
    let robust = off(&fixture::fit(&borrowed(&runs), &settings).unwrap());
    let plain = off(&fixture::fit(&borrowed(&runs), &Settings { robust: false, ..settings }).unwrap());
    println!("off by {robust} u, without weights {plain} u");
    assert!(robust < 1.0 && plain > 4.0, "{robust} {plain}");
}

/// Corrected straight-through efficiency by current, from the same file with numpy.
#[test]
fn acceptance_agrees_by_band() {
    const EXPECTED: [(f64, f64, f64, usize); 6] = [
        (0.05, 0.2, 1.002_769, 30),
        (0.2, 0.5, 1.000_175, 62),
        (0.5, 1.0, 0.999_632, 104),
        (1.0, 2.0, 1.000_235, 206),
        (2.0, 3.0, 1.000_036, 208),
        (3.0, 6.0, 0.999_974, 578),
    ];
    let runs = calibration_set();
    // The bands of one run alone: the other load's run is fitted as two straight-through files.
    let mut settings = priors_as_computed();
    settings.acceptance_edges = vec![0.05, 0.2, 0.5, 1.0, 2.0, 3.0, 6.0];
    let list = borrowed(&runs);
    let c = fixture::fit(&list, &settings).unwrap();
    let mut with_jumpers = c.correction.clone();
    let path = c.report.sums.path.value.unwrap();
    let half = 0.5 * (path - c.correction.values[12] - c.correction.values[13]);
    with_jumpers.values[12] += half;
    with_jumpers.values[13] += half;
    let bands = fixture::acceptance(
        &list[2..3],
        &with_jumpers,
        [0.0012, 0.0012, 0.0004, 0.002, 0.002],
        &settings.acceptance_edges,
    );
    assert_eq!(bands.len(), EXPECTED.len());
    for (band, (from, to, efficiency, n)) in bands.iter().zip(EXPECTED) {
        assert_eq!((band.i_from, band.i_to, band.n), (from, to, n));
        let got = band.efficiency.value.unwrap();
        assert!((got - efficiency).abs() < 2e-4, "{from}: {got}");
    }
    // Over both loads, as reported: 1 within the stated interval in nearly every band.
    let bands = &c.report.acceptance;
    let inside = bands
        .iter()
        .filter(|b| (b.efficiency.value.unwrap() - 1.0).abs() < 1.96 * b.efficiency.u.unwrap())
        .count();
    assert!(inside + 1 >= bands.len(), "{bands:?}");
}

#[test]
fn the_resistor_is_followed_but_not_needed() {
    let runs = calibration_set();
    let mut list = borrowed(&runs);
    list[2].resistor = Some(Stated { value: 0.68, u: Some(0.0001) });
    let c = fixture::fit(&list, &priors_as_computed()).unwrap();
    let r = &c.report.calibration_resistors;
    assert_eq!(r.len(), 2);
    // 0.68 ohm behind 12.7 and 21.1 milliohm of load leads; it did not warm.
    let load = &c.report.sums.load_side;
    assert!((load.value.unwrap() - 0.0338).abs() < 3.0 * load.u.unwrap(), "{load:?}");
    assert!(!r[0].heating_warning && r[0].track.len() <= 200 && r[0].track.len() > 100);
    assert!(r[0].track.iter().skip(20).all(|p| (p.after - 0.7138).abs() < 0.02));
    // Another resistor value changes nothing else.
    list[2].resistor = None;
    let other = fixture::fit(&list, &priors_as_computed()).unwrap();
    assert_eq!(other.correction, c.correction);
}

#[test]
fn a_record_comes_back_the_same() {
    let runs = calibration_set();
    let c = fixture::fit(&borrowed(&runs), &Settings::default()).unwrap();
    let text = c.to_record();
    let back = Calibration::from_record(&text).unwrap();
    assert_eq!(back.correction, c.correction);
    assert_eq!(back.report.basis, "record");
    let again = Calibration::from_record(&back.to_record()).unwrap();
    assert_eq!(again, back);
    assert_eq!(again.to_record(), back.to_record());
}

#[test]
fn what_is_no_record_is_refused_politely() {
    let check = |text: &str, part: &str| {
        let message = Calibration::from_record(text).unwrap_err().to_string();
        assert!(message.contains(part), "{message}");
    };
    check("a,b\n1,2", "not a calibration record");
    check("{\"schema\":\"something/1\"}", "not a calibration record");
    check("{\"schema\":\"wattsieve-calibration/2\"}", "later version");
    let runs = calibration_set();
    let text = fixture::fit(&borrowed(&runs), &Settings::default()).unwrap().to_record();
    check(&text.replace("\"correction_out\",", ""), "damaged");
    check(&text[..text.len() / 2], "line");
}

/// Faults planted one at a time are named; the clean set names none.
#[test]
fn residuals_name_their_cause() {
    let causes = |change: &dyn Fn(&mut crate::data::Run)| -> Vec<String> {
        let mut runs = calibration_set();
        for run in &mut runs[2..4] {
            change(run);
        }
        let c = fixture::fit(&borrowed(&runs), &Settings::default()).unwrap();
        c.report.residual_shape.iter().map(|s| s.cause.to_string()).collect()
    };
    assert_eq!(causes(&|_| {}), Vec::<String>::new());
    let late = causes(&|run| {
        // The output current is read half a row late: 10 ms.
        let i = run.columns[4].clone();
        for n in 1..i.len() {
            run.columns[4][n] = 0.5 * (i[n] + i[n - 1]);
        }
    });
    assert_eq!(late, ["delay_between_channels"]);
    let bent = causes(&|run| {
        for value in &mut run.columns[4] {
            *value *= 1.0 + 0.002 * *value;
        }
    });
    assert!(bent.iter().any(|cause| cause == "channel_not_straight"), "{bent:?}");
    let warm = causes(&|run| {
        let n = run.columns[4].len() as f64;
        for (row, value) in run.columns[4].iter_mut().enumerate() {
            *value *= 1.0 + 0.004 * row as f64 / n;
        }
    });
    assert!(warm.iter().any(|cause| cause == "drift_or_warming"), "{warm:?}");
}
