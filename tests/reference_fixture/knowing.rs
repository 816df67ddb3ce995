//! What a calibration says of itself: causes, the next run, planes, checks against an earlier one.

use crate::data::{borrowed, calibration_set, json, number};
use crate::points::worked;
use crate::wirings::{fit, runs};
use wattsieve_core::fixture::{
    self, Accuracy, Across, Calibration, Grade, Line, MeterReading, Plane, RunKind, Settings, Spot, Stated,
    Step,
};

fn u_of(c: &Calibration, place: usize) -> f64 {
    c.base.covariance[place][place].sqrt()
}

fn spot(c: &Calibration, reading: [f64; 5]) -> Spot {
    Spot { reading, reading_u: [0.0; 5], delays_u: 0.0, state: c.correction.apply(reading) }
}

const SERVICE: [f64; 5] = [12.6, 5.0, 0.05, 2.5, 5.8];

/// The causes' parts add up to the whole covariance: a sum of independent data.
#[test]
fn causes_add_up_to_the_covariance() {
    for letters in ["ZOT", "ZOTI", "ZOTISX", "TI"] {
        let c = fit(letters);
        for i in 0..15 {
            let sum: f64 = c.shares.iter().map(|share| share.covariance[i][i]).sum();
            let whole = c.base.covariance[i][i];
            assert!((sum - whole).abs() <= 1e-6 * whole + 1e-30, "{letters} {i}: {sum} {whole}");
        }
        let spots = [("A".to_owned(), spot(&c, SERVICE))];
        let point = &fixture::budget(&c, &spots).points[0];
        let squares: f64 = point.parts.iter().map(|part| part.u * part.u).sum();
        assert!((squares.sqrt() / point.u.unwrap() - 1.0).abs() < 1e-5, "{letters}");
        assert!(point.parts.windows(2).all(|pair| pair[0].u >= pair[1].u));
    }
}

/// What a further run is said to bring against the fit with that run.
#[test]
fn a_further_run_brings_what_is_promised() {
    for (before, letter, name) in
        [("ZOT", 'I', "input_shorted"), ("ZOT", 'S', "output_shorted"), ("ZT", 'O', "open_sweep")]
    {
        let c = fit(before);
        let then = fit(&format!("{before}{letter}"));
        let reading = [("A".to_owned(), spot(&c, SERVICE))];
        let point = &fixture::budget(&c, &reading).points[0];
        let promised = point.after.iter().find(|after| after.run == name).unwrap().u.unwrap();
        let kept = fixture::budget(&then, &[("A".to_owned(), spot(&then, SERVICE))]).points[0].u.unwrap();
        assert!((promised / kept - 1.0).abs() < 0.25, "{before}+{letter}: {promised} {kept}");
        assert!(promised <= point.u.unwrap() * 1.001, "{name}");
    }
    let c = fit("ZOT");
    let budget = fixture::budget(&c, &[("A".to_owned(), spot(&c, SERVICE))]);
    let next = budget.next_run.unwrap();
    assert!(next == "input_shorted" || next == "output_shorted", "{next}");
    let sentence =
        fixture::split_sentence(&c.report, &fixture::budget(&c, &[("A".into(), spot(&c, SERVICE))]));
    assert!(sentence.contains("points") && sentence.contains("settles it"), "{sentence}");
    assert_eq!(fixture::split_sentence(&fit("ZOTI").report, &budget_of(&fit("ZOTI"))), "");
}

fn budget_of(c: &Calibration) -> fixture::Budget {
    fixture::budget(c, &[("A".to_owned(), spot(c, SERVICE))])
}

/// A way written down gives what the wiring's name gives.
#[test]
fn a_written_way_is_the_named_wiring() {
    use Step::{
        Ground, IIn, IOut, InHigh, InLow, JumperHigh, JumperLow, Load, OutHigh, OutLow, VIn, VOutHigh,
        VOutLow,
    };
    let through = [
        VIn, IIn, InHigh, JumperHigh, OutHigh, IOut, VOutHigh, Load, VOutLow, OutLow, JumperLow, InLow,
        Ground,
    ];
    let input = [VIn, IIn, InHigh, JumperHigh, InLow, Ground];
    let output = [VOutLow, OutLow, JumperHigh, OutHigh, IOut, VOutHigh];
    let cross = [VIn, IIn, InHigh, JumperHigh, OutLow, VOutLow];
    let all = runs("ZOTISX");
    let named = fixture::fit(&borrowed(&all), &Settings::default()).unwrap();
    let mut written = borrowed(&all);
    for run in &mut written {
        run.path = match run.kind {
            RunKind::StraightThrough => &through,
            RunKind::InputShorted => &input,
            RunKind::OutputShorted => &output,
            RunKind::CrossBridge => &cross,
            _ => &[],
        };
    }
    let written = fixture::fit(&written, &Settings::default()).unwrap();
    for k in 0..15 {
        let (a, b) = (named.base.values[k], written.base.values[k]);
        assert!((a - b).abs() < 1e-9 + 0.01 * u_of(&named, k), "{k}: {a} {b}");
    }
    assert_eq!(named.report.known, written.report.known);
}

/// The ambiguity that the two shorted planes leave falls to one reading across any one contact, by the
/// rule of lines and loops.
#[test]
fn a_meter_across_one_contact_tells_all_four() {
    let all = runs("ZOTIS");
    let without = fixture::fit(&borrowed(&all), &Settings::default()).unwrap();
    assert!(!without.report.known.alone.iter().any(|n| n == "out_low"));
    let truth = fit("ZOTISX").report.contacts.out_low.value.unwrap();
    let reading = MeterReading {
        across: Across::OutLow,
        volts: 3.0 * truth,
        volts_u: Some(2e-5),
        amps: 3.0,
        amps_u: Some(0.0),
        logged: None,
    };
    let settings = Settings { meter: vec![reading], ..Settings::default() };
    let with = fixture::fit(&borrowed(&all), &settings).unwrap();
    for name in ["in_high", "in_low", "out_high", "out_low"] {
        assert!(with.report.known.alone.iter().any(|n| n == name), "{name}");
        let segment = with.report.circuit.segments.iter().find(|s| s.name == name).unwrap();
        assert_eq!(segment.known, "alone");
    }
}

/// What each run settles, as the table of wirings says.
#[test]
fn the_circuit_says_what_each_run_settles() {
    let c = fit("ZTI");
    let runs = &c.report.circuit.runs;
    assert_eq!(runs[1].settles, ["correction_sum"]);
    assert_eq!(runs[2].settles, ["correction_in", "correction_out"]);
    assert_eq!(runs[1].shows.len(), 2);
    assert_eq!(runs[1].shows[0].segments, ["in_high", "out_high", "jumper_high"]);
    assert!(runs[2].carries.iter().any(|s| s == "in_low") && !runs[2].carries.iter().any(|s| s == "out_low"));
    let only = fit("T");
    let settles = |kind: &str| {
        only.report.circuit.wirings.iter().find(|run| run.kind == kind).map(|run| run.settles.len()).unwrap()
    };
    assert_eq!(settles("straight_through"), 0);
    assert_eq!(settles("input_shorted"), 2);
}

/// What each run tells of the channels, from the design matrix: the table of wirings of the trade guide's
/// section 2.4 (offsets from all off, the volts' ratio from an open sweep or from two loads of clearly
/// different value, the currents' ratio from a load).
#[test]
fn the_circuit_says_what_each_run_tells_of_the_channels() {
    let list = |c: &Calibration| -> Vec<Vec<String>> {
        let names = |run: &fixture::CircuitRun| run.channels.iter().map(ToString::to_string).collect();
        c.report.circuit.runs.iter().map(names).collect()
    };
    let of = |letters: &str| list(&fit(letters));
    assert_eq!(of("ZOT"), [vec!["offsets"], vec!["voltage_gain_ratio"], vec!["current_gain_ratio"]]);
    // One load alone cannot part a ratio of the volts from a resistance; a second one can.
    let set = calibration_set();
    let two = list(&fixture::fit(&borrowed(&set[2..4]), &Settings::default()).unwrap());
    assert_eq!(two[0], ["current_gain_ratio"]);
    assert!(two[1].contains(&"voltage_gain_ratio".to_owned()), "{two:?}");
    // Both planes shorted give the sum, and then one load gives the ratio.
    assert!(of("ZIST")[3].contains(&"voltage_gain_ratio".to_owned()));
    assert!(of("I")[0].is_empty());
}

/// Before any run is made the wiring alone says what each would tell, whatever wires there are.
#[test]
fn a_wiring_says_what_runs_would_tell_before_any_is_made() {
    for shared in [false, true] {
        let settings = Settings { shared_ground: shared, ..Settings::default() };
        let circuit = fixture::wiring(&settings).unwrap();
        assert!(circuit.runs.is_empty());
        let of = |kind: &str| circuit.wirings.iter().find(|run| run.kind == kind).unwrap();
        assert_eq!(of("all_off").channels, ["offsets"]);
        assert_eq!(of("open_sweep").channels, ["voltage_gain_ratio"]);
        assert_eq!(of("straight_through").channels, ["current_gain_ratio"]);
        assert_eq!(of("straight_through").settles, ["correction_sum"]);
        assert!(of("input_shorted").channels.is_empty());
        // With one ground lead a short shows the side and the lead together only.
        let alone = of("input_shorted").settles.iter().any(|name| name == "correction_in");
        assert_eq!(alone, !shared);
        let carries = |kind: &str| of(kind).carries.iter().any(|name| name == "shared_ground");
        assert_eq!((carries("input_shorted"), carries("straight_through")), (shared, false));
    }
    // With a common plus the open sweep, both output sense leads on one node, compares the low node's volts.
    let common = Settings { common_positive: true, ..Settings::default() };
    let circuit = fixture::wiring(&common).unwrap();
    let open = circuit.wirings.iter().find(|run| run.kind == "open_sweep").unwrap();
    assert_eq!(open.channels, ["voltage_gain_ratio", "low_gain_ratio"]);
}

/// JCGM 100:2008 annex H.3: calibration of a thermometer.
#[test]
fn a_reference_line_is_that_of_the_guide() {
    let set = json("uncertainty/gum-h3.json");
    let list = |key: &str| -> Vec<f64> { set["data"][key].as_array().unwrap().iter().map(number).collect() };
    let pairs = list("t_k_degC").iter().zip(list("b_k_degC")).map(|(t, b)| [t - 20.0, b]).collect();
    let found = fixture::line(&Line { pairs, ..Line::default() }).unwrap();
    let published = |key: &str| number(&set["recomputed_40_digits"][key]);
    let [[a, b], [_, d]] = found.covariance;
    for (got, key) in [
        (found.offset, "y1"),
        (found.gain, "y2"),
        (d.sqrt(), "u_y1"),
        (a.sqrt(), "u_y2"),
        (b / (a * d).sqrt(), "r_y1_y2"),
        (found.scatter.unwrap(), "s"),
    ] {
        assert!((got / published(key) - 1.0).abs() < 1e-10, "{key}: {got}");
    }
    assert!(!found.bent);
}

/// A line acts on the fit as knowledge of its channel: as a start, or for good.
#[test]
fn lines_count_where_the_channels_are_calibrated() {
    let all = runs("ZOTI");
    let mut settings = Settings { accuracy: Accuracy::Calibrated, ..Settings::default() };
    let pairs: Vec<[f64; 2]> = (0..6).map(|k| [f64::from(k), 1.002 * f64::from(k) + 0.001]).collect();
    settings.lines.i_in = Line { pairs: pairs.clone(), reading_u: Some(1e-4), ..Line::default() };
    let c = fixture::fit(&borrowed(&all), &settings).unwrap();
    // The zero run moves the offset by 1 mA, and the line's covariance takes the gain along: by hand,
    // mean 2.5 over (17.5 / 6 + 2.5^2) of it.
    let along = 2.5 / (17.5 / 6.0 + 2.5 * 2.5) * 0.001;
    assert!((c.base.values[3] - 1.002 - along).abs() < 1e-5, "{}", c.base.values[3]);
    let i_in = &c.report.channels.0.iter().find(|(name, _)| name == "i_in").unwrap().1;
    assert_eq!(i_in.gain_from, "meter");
    assert!(i_in.line.as_ref().unwrap().n == 6);
    // Zero readings say the offset is not 1 mA; a fixed line does not listen, and keeps its own u.
    assert!(c.base.values[8].abs() < 2e-4);
    settings.lines.i_in.fixed = true;
    let c = fixture::fit(&borrowed(&all), &settings).unwrap();
    assert!((c.base.values[8] - 0.001).abs() < 2e-5, "{}", c.base.values[8]);
    let line = fixture::line(&settings.lines.i_in).unwrap();
    assert!((u_of(&c, 8) / line.covariance[1][1].sqrt() - 1.0).abs() < 0.01);
    for i in 0..15 {
        let sum: f64 = c.shares.iter().map(|share| share.covariance[i][i]).sum();
        assert!((sum / c.base.covariance[i][i].max(1e-30) - 1.0).abs() < 1e-3 || sum < 1e-20, "{i}");
    }
}

/// One voltage reference for all channels cancels in an efficiency.
#[test]
fn a_shared_reference_costs_nothing() {
    let all = runs("ZT");
    let plain = fixture::fit(&borrowed(&all), &Settings::default()).unwrap();
    let shared = Settings { common_voltage_gain: 0.01, ..Settings::default() };
    let shared = fixture::fit(&borrowed(&all), &shared).unwrap();
    assert!(u_of(&shared, 0) > 5.0 * u_of(&plain, 0));
    let u = |c: &Calibration| budget_of(c).points[0].u.unwrap();
    assert!((u(&shared) / u(&plain) - 1.0).abs() < 0.02, "{} {}", u(&shared), u(&plain));
}

/// Planes: the resistance of what lies between counts as loss, or as nothing.
#[test]
fn planes_differ_by_what_lies_between() {
    let all = runs("ZOTI");
    let meter = |across, volts, logged| MeterReading {
        across,
        volts,
        volts_u: Some(1e-4),
        amps: 2.0,
        amps_u: Some(0.0),
        logged: Some(logged),
    };
    let settings = |plane, meter| Settings { plane, meter, ..Settings::default() };
    let at = |settings: &Settings| fixture::fit(&borrowed(&all), settings).unwrap();
    let converter = at(&settings(Plane::Converter, Vec::new()));
    let board = at(&settings(Plane::Board, Vec::new()));
    let lost = at(&settings(Plane::SourceToLoad, Vec::new()));
    let leads = vec![meter(Across::Source, 12.4, 12.2), meter(Across::Load, 5.0, 5.06)];
    let whole = at(&settings(Plane::SourceToLoad, leads));
    let eta = |c: &Calibration| c.correction.apply(SERVICE).efficiency();
    let raw = (SERVICE[1] - SERVICE[2]) * SERVICE[4] / (SERVICE[0] * SERVICE[3]);
    assert!((eta(&board) / raw - 1.0).abs() < 2e-3);
    assert!(eta(&converter) > eta(&board) && eta(&board) > eta(&whole));
    let state = whole.correction.apply(SERVICE);
    let (leads_in, leads_out) = (0.1 * SERVICE[3], 0.03 * SERVICE[4]);
    assert!((state.v_in - SERVICE[0] - leads_in).abs() < 0.01, "{}", state.v_in);
    assert!((state.v_out - (SERVICE[1] - SERVICE[2]) + leads_out).abs() < 0.01, "{}", state.v_out);
    assert_eq!(whole.report.plane, "source_to_load");
    assert_eq!(lost.report.plane, "board");
    assert!(lost.report.plane_problem.unwrap().contains("leads"));
    // A record holds the converter's plane whatever was quoted.
    let again = Calibration::from_record(&board.to_record()).unwrap();
    assert_eq!(again.base.values, converter.base.values);
}

/// The same fixture again, and one with a contact opened in between.
#[test]
fn a_check_tells_a_moved_contact() {
    let record = Calibration::from_record(&fit("ZOTI").to_record()).unwrap();
    let settings = Settings::default();
    let again = runs("ZOT");
    let now = fixture::fit(&borrowed(&again), &settings).unwrap();
    let check = fixture::check(&record, &now, &borrowed(&again), &settings);
    assert_eq!(check.verdict, "same", "{check:?}");
    assert!(check.p.unwrap() > 0.001 && check.degrees >= 5);
    let mut moved = runs("ZOT");
    for row in 0..moved[2].time.len() {
        let drop = 0.012 * moved[2].columns[3][row];
        moved[2].columns[1][row] -= drop;
    }
    let now = fixture::fit(&borrowed(&moved), &settings).unwrap();
    let mut check = fixture::check(&record, &now, &borrowed(&moved), &settings);
    assert_eq!(check.verdict, "changed", "{check:?}");
    let c = &record.correction;
    check.tell_points(
        c,
        &[(
            "A".to_owned(),
            Spot { reading: SERVICE, reading_u: [0.0; 5], delays_u: 0.0, state: c.apply(SERVICE) },
        )],
    );
    let sum = check.parameters.iter().find(|p| p.name == "correction_sum").unwrap();
    assert!((sum.difference.value.unwrap() - 0.012).abs() < 3.0 * sum.difference.u.unwrap());
    assert!(sum.points.unwrap() > 1e-3);
}

/// A value without its uncertainty is not taken for settled, and that is said.
#[test]
fn a_correction_without_its_uncertainty_is_told() {
    let mut settings = Settings {
        input_correction: Some(Stated { value: 0.065, u: None }),
        output_correction: Some(Stated { value: 0.048, u: Some(0.0005) }),
        ..Settings::default()
    };
    settings.accuracy = Accuracy::Within(0.01);
    let c = fixture::fit(&[], &settings).unwrap();
    assert_eq!(c.correction.grade, Grade::SplitAssumed);
    assert!(c.report.split.u_assumed && !c.report.split.settled);
    assert!(fixture::split_sentence(&c.report, &budget_of(&c)).contains("5 %"));
    assert!((u_of(&c, 3) - 0.01 / 3.0_f64.sqrt()).abs() < 1e-12, "rectangular, JCGM 100 clause 4.3.7");
}

/// A held-back run judges a fit that has not seen it.
#[test]
fn acceptance_is_made_from_what_was_held_back() {
    let all = runs("ZOTIT");
    let mut held = borrowed(&all);
    held[4].held_back = true;
    let c = fixture::fit(&held, &Settings::default()).unwrap();
    assert_eq!(c.report.acceptance_from, "held_back");
    let rows: usize = c.report.acceptance.iter().map(|band| band.n).sum();
    assert!(rows > 100 && rows <= all[4].time.len());
    for band in &c.report.acceptance {
        let (value, u) = (band.efficiency.value.unwrap(), band.efficiency.u.unwrap());
        assert!((value - 1.0).abs() < 4.0 * u, "{band:?}");
    }
}

/// Where the law of propagation holds it is used; near zero current the draws take over, and agree with
/// the exact distribution of a quotient by its quantiles.
#[test]
fn draws_take_over_where_the_law_bends() {
    let c = worked(&json("uncertainty/efficiency-points.json"));
    let spot =
        |reading: [f64; 5]| Spot { reading, reading_u: [0.0; 5], delays_u: 0.0, state: c.apply(reading) };
    let heavy = fixture::spread(&c, &spot([12.6, 4.9519, 0.0, 0.42307, 1.0]));
    assert_eq!(heavy.by, "linear");
    // 2 mA of input current with 0.5 mA of offset: the denominator lies four of its u from zero.
    let reading = [12.6, 5.0, 0.0, 0.002, 0.002];
    let light = fixture::spread(&c, &spot(reading));
    assert_eq!(light.by, "monte_carlo");
    let drawn = fixture::draw(&c, &spot(reading)).unwrap();
    assert_eq!(drawn, fixture::draw(&c, &spot(reading)).unwrap(), "the same draws each time");
    // Output current is as uncertain: of ln, 0.25 on both sides. P(eta < x) = P(I_o - k x I_i < 0) exactly
    // (Geary's quotient of normals; the voltages' share is far smaller).
    let k = 12.6 / 5.0;
    let below = |x: f64| {
        let mean = 0.002 - k * x * 0.002;
        let sigma = 0.0005 * (1.0 + k * x * k * x).sqrt();
        0.5 * libm::erfc(mean / sigma / 2.0_f64.sqrt())
    };
    let inside = below(light.high.unwrap()) - below(light.low.unwrap());
    assert!((inside - 0.95).abs() < 0.006, "{inside}");
}

/// A resistor sensed at its own terminals sets the scale of both currents and changes no efficiency.
#[test]
fn a_sensed_resistor_scales_the_currents() {
    let all = runs("ZOTI");
    let plain = fixture::fit(&borrowed(&all), &Settings::default()).unwrap();
    let cold = plain.report.calibration_resistors[0].cold.value.unwrap();
    let mut sensed = borrowed(&all);
    sensed[2].four_wire = true;
    sensed[2].resistor = Some(Stated { value: cold / 1.01, u: Some(0.001 * cold) });
    let c = fixture::fit(&sensed, &Settings::default()).unwrap();
    assert!((c.base.values[3] - 1.0 / 1.01).abs() < 1e-6, "{}", c.base.values[3]);
    assert!((u_of(&c, 3) - 0.001).abs() < 3e-4, "{}", u_of(&c, 3));
    let eta = |c: &Calibration| c.correction.apply(SERVICE).efficiency();
    assert!((eta(&c) / eta(&plain) - 1.0).abs() < 1e-9);
    let u = |c: &Calibration| budget_of(c).points[0].u.unwrap();
    assert!((u(&c) / u(&plain) - 1.0).abs() < 1e-3, "{} {}", u(&c), u(&plain));
    let i_in = &c.report.channels.0.iter().find(|(name, _)| name == "i_in").unwrap().1;
    assert_eq!(i_in.gain_from, "resistor");
    // It is one more cause, and the causes still add up.
    let resistor = c.shares.iter().find(|share| share.source == "calibration_resistor").unwrap();
    assert!((resistor.covariance[3][3].sqrt() - 0.001).abs() < 3e-4);
    for i in 0..15 {
        for k in 0..15 {
            let sum: f64 = c.shares.iter().map(|share| share.covariance[i][k]).sum();
            let size = (c.base.covariance[i][i] * c.base.covariance[k][k]).sqrt();
            let share = if i == k { 1e-6 } else { 1e-4 };
            assert!((sum - c.base.covariance[i][k]).abs() <= share * size + 1e-30, "{i} {k}: {sum}");
        }
    }
}
