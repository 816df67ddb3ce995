//! What can be known from which runs, in any order, whole or in pieces.

use crate::data::{Run, borrowed, calibration_set, json, number, priors_as_computed};
use wattsieve_core::fixture::{self, Calibration, Grade, Parameter, RunKind, Settings, Stated};
use wattsieve_tests::sim::Random;

/// Runs of an ideal linear circuit: every reading in proportion to a level that goes up and down,
/// from one simulated operating point (reference/fixture/wirings.json), with small noise.
fn ideal(kind: RunKind, set: &serde_json::Value, noise: f64, seed: u64) -> Run {
    let mut random = Random::new(seed, 0);
    let n = 200;
    let at = |node: &str| set.get(node).map_or(0.0, number);
    let full = match kind {
        RunKind::AllOff => [0.0; 5],
        RunKind::OpenSweep => [15.0, 15.0, 0.0, 0.0, 0.0],
        _ => [at("V_P"), at("V_Q"), at("V_N"), at("I1"), at("I2")],
    };
    let mut columns: [Vec<f64>; 5] = Default::default();
    for i in 0..n {
        let level = 1.0 - (2.0 * i as f64 / (n - 1) as f64 - 1.0).abs();
        for (column, top) in columns.iter_mut().zip(full) {
            column.push(level * top + noise * random.normal());
        }
    }
    Run { kind, time: (0..n).map(|i| 0.02 * i as f64).collect(), columns }
}

fn has(c: &Calibration, name: &str) -> bool {
    c.report.known.alone.iter().any(|n| n == name)
}

/// Runs by letter: Z all off, O open, T through, I input shorted, S output shorted, X cross bridge.
pub(crate) fn runs(letters: &str) -> Vec<Run> {
    let set = json("fixture/wirings.json");
    letters
        .chars()
        .enumerate()
        .map(|(i, letter)| {
            let (kind, key) = match letter {
                'Z' => (RunKind::AllOff, ""),
                'O' => (RunKind::OpenSweep, ""),
                'T' => (RunKind::StraightThrough, "T"),
                'I' => (RunKind::InputShorted, "SI"),
                'S' => (RunKind::OutputShorted, "SO"),
                _ => (RunKind::CrossBridge, "X"),
            };
            ideal(kind, &set[key], 1e-5, 11 + i as u64)
        })
        .collect()
}

pub(crate) fn fit(letters: &str) -> Calibration {
    fixture::fit(&borrowed(&runs(letters)), &Settings::default()).unwrap()
}

/// Which of R_I, R_O, R_I + R_O and the four single pieces a set of runs determines: the rank
/// analysis of node equations by numpy, for the same wirings.
#[test]
fn knows_exactly_what_the_wirings_can_tell() {
    const TABLE: [(&str, [bool; 4], Grade); 10] = [
        ("T", [false, false, true, false], Grade::SplitAssumed),
        ("I", [true, false, false, false], Grade::AsLogged),
        ("S", [false, true, false, false], Grade::AsLogged),
        ("TI", [true, true, true, false], Grade::Settled),
        ("TS", [true, true, true, false], Grade::Settled),
        ("IS", [true, true, true, false], Grade::AsLogged),
        ("TIS", [true, true, true, false], Grade::Settled),
        ("TISX", [true, true, true, true], Grade::Settled),
        ("TX", [false, false, true, false], Grade::SplitAssumed),
        ("O", [false, false, false, false], Grade::AsLogged),
    ];
    for (letters, expected, grade) in TABLE {
        for extra in ["", "Z", "ZO"] {
            if letters == "O" && extra == "ZO" {
                continue;
            }
            let set = format!("{letters}{extra}");
            let c = fit(&set);
            let got = ["correction_in", "correction_out", "correction_sum", "in_high"].map(|n| has(&c, n));
            assert_eq!(got, expected, "{set}");
            assert_eq!(has(&c, "out_low"), expected[3], "{set}");
            assert_eq!(c.correction.grade, grade, "{set}");
            let settled = grade == Grade::Settled;
            assert_eq!(
                c.report.refused.iter().any(|r| r.quantity == "division"),
                !(expected[0] && expected[1]) && letters != "O",
                "{set}"
            );
            if settled && !expected[3] {
                assert_eq!(c.report.null_space.len(), 1, "{set}");
            }
        }
    }
}

/// An independent circuit simulator's sums, within a microohm (reference/fixture/wirings.json).
#[test]
fn recovers_the_simulated_sums() {
    let set = json("fixture/wirings.json");
    let mut settings = Settings::default();
    settings.channels.v_in.gain = Some(0.0);
    settings.channels.v_out_high.gain = Some(0.0);
    settings.channels.v_out_low.gain = Some(0.0);
    let c = fixture::fit(&borrowed(&runs("ZOTISX")), &settings).unwrap();
    let sums = &c.report.sums;
    for (q, expected) in [
        (&sums.high_side, number(&set["T"]["b"])),
        (&sums.low_side, number(&set["T"]["e"])),
        (&sums.path, number(&set["T"]["b"]) + number(&set["T"]["e"])),
        (&sums.input_side, number(&set["SI"]["value"])),
        (&sums.output_side, number(&set["SO"]["value"])),
    ] {
        let value = q.value.unwrap();
        assert!((value - expected).abs() < 1e-6, "{value} {expected}");
    }
    // The truth of each piece, jumpers of 0.9 and 0.7 milliohm being assumed 0.8 +- 0.2.
    let contacts = &c.report.contacts;
    for (q, truth) in [
        (&contacts.in_high, 0.0432),
        (&contacts.in_low, 0.0218),
        (&contacts.out_high, 0.0214),
        (&contacts.out_low, 0.0267),
    ] {
        assert!((q.value.unwrap() - truth).abs() < 2.0 * q.u.unwrap(), "{q:?} {truth}");
    }
}

/// R_I and R_O hold the shunts once; a contact is what is left without them (reference/fixture/wirings.json: shunts of
/// 12 milliohm, contacts of 31.2, 21.8, 9.4 and 26.7).
#[test]
fn a_shunt_counts_once() {
    let shunt = fixture::Shunt {
        resistance: Some(Stated { value: 0.012, u: Some(1e-6) }),
        ..fixture::Shunt::default()
    };
    let mut settings = Settings { input_shunt: shunt, output_shunt: shunt, ..Settings::default() };
    for k in ["v_in", "v_out_high", "v_out_low"] {
        let channels = &mut settings.channels;
        let channel = match k {
            "v_in" => &mut channels.v_in,
            "v_out_high" => &mut channels.v_out_high,
            _ => &mut channels.v_out_low,
        };
        channel.gain = Some(0.0);
    }
    let c = fixture::fit(&borrowed(&runs("ZOTISX")), &settings).unwrap();
    let contacts = &c.report.contacts;
    for (q, truth) in [
        (&contacts.in_high, 0.0312),
        (&contacts.in_low, 0.0218),
        (&contacts.out_high, 0.0094),
        (&contacts.out_low, 0.0267),
        (&c.report.correction_in, 0.0650),
        (&c.report.correction_out, 0.0481),
    ] {
        assert!((q.value.unwrap() - truth).abs() < 2.0 * q.u.unwrap(), "{q:?} {truth}");
    }
}

/// Values of a calibration that must not depend on how the runs are handed in.
fn essence(c: &Calibration) -> Vec<(f64, f64)> {
    [0, 1, 2, 4, 5, 8, 12, 13]
        .into_iter()
        .map(|p| (c.correction.values[p], c.correction.covariance[p][p].sqrt()))
        .collect()
}

fn same(a: &Calibration, b: &Calibration, share: f64, what: &str) {
    assert_eq!(a.correction.grade, b.correction.grade, "{what}");
    assert_eq!(a.report.known, b.report.known, "{what}");
    for ((x, u), (y, v)) in essence(a).into_iter().zip(essence(b)) {
        assert!((x - y).abs() <= share * u, "{what}: {x} {y} u {u}");
        assert!((u - v).abs() <= share * u, "{what}: u {u} {v}");
    }
}

#[test]
fn order_does_not_matter() {
    let runs = calibration_set();
    let settings = Settings::default();
    let whole = fixture::fit(&borrowed(&runs), &settings).unwrap();
    for shift in 1..runs.len() {
        let mut list = borrowed(&runs);
        list.rotate_left(shift);
        same(&whole, &fixture::fit(&list, &settings).unwrap(), 1e-3, "rotated");
        list.reverse();
        same(&whole, &fixture::fit(&list, &settings).unwrap(), 1e-3, "reversed");
    }
}

#[test]
fn a_run_in_two_files_is_the_same_run() {
    let runs = calibration_set();
    let settings = Settings::default();
    let whole = fixture::fit(&borrowed(&runs), &settings).unwrap();
    for cut in 0..runs.len() {
        let n = runs[cut].time.len();
        let (a, b) = (runs[cut].part(0, n * 2 / 5), runs[cut].part(n * 2 / 5, n));
        let mut list = borrowed(&runs);
        list[cut] = a.borrow(cut);
        list.push(b.borrow(runs.len()));
        same(&whole, &fixture::fit(&list, &settings).unwrap(), 0.05, "cut");
    }
}

#[test]
fn every_run_can_be_missing() {
    let runs = calibration_set();
    for missing in 0..runs.len() {
        let list: Vec<_> = borrowed(&runs)
            .into_iter()
            .enumerate()
            .filter(|(i, _)| *i != missing)
            .map(|(_, run)| run)
            .collect();
        let c = fixture::fit(&list, &Settings::default()).unwrap();
        let r = &c.correction;
        assert_eq!(r.grade, Grade::Settled, "without {missing}");
        for (p, truth) in [(Parameter::InputResistance, 0.0650), (Parameter::OutputResistance, 0.0481)] {
            let u = r.covariance[p as usize][p as usize].sqrt();
            assert!((r.get(p) - truth).abs() < 3.0 * u && u < 0.002, "without {missing}: {p:?} {u}");
        }
        let ratio = &c.report.current_gain_ratio;
        assert!((ratio.value.unwrap() - 1.0 / 0.9962).abs() < 4.0 * ratio.u.unwrap());
    }
}

#[test]
fn one_load_cannot_part_gain_and_resistance() {
    let runs = calibration_set();
    let list = |keep: &[usize]| -> Vec<_> { keep.iter().map(|i| runs[*i].borrow(*i)).collect() };
    let settings = priors_as_computed();
    // Columns P, I, 1 with numpy on the same files: 3833, 3.81, 4.87.
    for (keep, expected) in [(&[2][..], 3833.3), (&[2, 1], 3.8106), (&[2, 3], 4.8678)] {
        let c = fixture::fit(&list(keep), &settings).unwrap();
        let got = c.report.condition_number.unwrap();
        assert!((got / expected - 1.0).abs() < 1e-3, "{keep:?}: {got}");
        let refused = c.report.refused.iter().find(|r| r.quantity == "voltage_gain_ratio");
        assert_eq!(refused.is_some(), keep.len() == 1);
        if let Some(refused) = refused {
            assert_eq!(refused.run_needed, "open_sweep");
        }
    }
    // With the specification as prior the sum is printed, with the width that gives: 0.14 % of the
    // 0.83 ohm loop. The true mismatch here is 0.4 %, so a specification of 0.3 % fits.
    let mut settings = Settings::default();
    let path = |settings: &Settings| {
        let c = fixture::fit(&list(&[0, 2]), settings).unwrap();
        (c.report.sums.path.value.unwrap(), c.report.sums.path.u.unwrap())
    };
    let (_, u) = path(&settings);
    assert!(u > 0.0009 && u < 0.0016, "{u}");
    settings.voltage_gain = 0.003;
    let (value, wide) = path(&settings);
    assert!((value - 0.1147).abs() < 2.0 * wide, "{value} {wide}");
    assert!((wide / u - 3.0).abs() < 0.3);
}

/// With the straight-through run alone the split is assumed: u of the part moved between the sides
/// is s / sqrt 2, s the width of each pair of contacts.
#[test]
fn the_assumed_split_widens_by_its_width() {
    let runs = calibration_set();
    let list: Vec<_> = [0, 1, 2, 3].iter().map(|i| runs[*i].borrow(*i)).collect();
    let c = fixture::fit(&list, &Settings::default()).unwrap();
    assert_eq!(c.correction.grade, Grade::SplitAssumed);
    let s = c.report.split.width.unwrap();
    assert!((s - 0.5 * 0.11308 / 4.0).abs() < 1e-4, "half the mean contact: {s}");
    let k = &c.correction.covariance;
    let moved = (0.25 * (k[12][12] + k[13][13] - 2.0 * k[12][13])).sqrt();
    assert!((moved / (s / 2.0_f64.sqrt()) - 1.0).abs() < 0.01, "{moved} {s}");
    assert!(k[12][13] < 0.0, "only the sum is measured: the sides move against each other");
    assert!(c.notes[0].contains("sum"), "{:?}", c.notes);
    let separate = Settings { contacts: fixture::Contacts::Separate, ..Settings::default() };
    let c = fixture::fit(&list, &separate).unwrap();
    assert_eq!(c.correction.grade, Grade::AsLogged);
    assert_eq!(c.report.correction_in.value, None);
}

#[test]
fn units_do_not_matter() {
    // Volts and amperes both in other units: ohms, gains and A/V stay.
    let runs = calibration_set();
    let settings = Settings::default();
    let a = fixture::fit(&borrowed(&runs), &settings).unwrap();
    let scaled: Vec<Run> = runs
        .iter()
        .map(|run| Run {
            kind: run.kind,
            time: run.time.clone(),
            columns: run.columns.clone().map(|c| c.into_iter().map(|x| 1024.0 * x).collect()),
        })
        .collect();
    let b = fixture::fit(&borrowed(&scaled), &settings).unwrap();
    for p in [0, 1, 2, 4, 12, 13] {
        let u = a.correction.covariance[p][p].sqrt();
        assert!((a.correction.values[p] - b.correction.values[p]).abs() < 1e-3 * u, "{p}");
    }
}

/// Quotients of a circuit simulation with one shared lead (reference/fixture/shared-ground.json).
#[test]
fn finds_the_shared_ground_lead() {
    let set = json("fixture/shared-ground.json");
    let at = |k: &str| number(&set[k]);
    let (pa, ag, bq, nb, s) = (at("pa"), at("ag"), at("bq"), at("nb"), at("s"));
    let cal = |k: &str| number(&set["cal"][k]);
    let point =
        |v: [f64; 5]| serde_json::json!({"V_P": v[0], "V_Q": v[1], "V_N": v[2], "I1": v[3], "I2": v[4]});
    let i = 5.0;
    let through = point([4.2, 4.2 - i * cal("b"), i * cal("e"), i, i]);
    let short_in = point([i * cal("short_in"), 0.0, 0.0, i, 0.0]);
    let short_out = point([0.0, -i * cal("short_out"), 0.0, 0.0, i]);
    let runs = [
        ideal(RunKind::AllOff, &through, 1e-6, 1),
        ideal(RunKind::OpenSweep, &through, 1e-6, 2),
        ideal(RunKind::StraightThrough, &through, 1e-6, 3),
        ideal(RunKind::InputShorted, &short_in, 1e-6, 4),
        ideal(RunKind::OutputShorted, &short_out, 1e-6, 5),
    ];
    let settings = Settings {
        shared_ground: true,
        jumper: Stated { value: at("jumper"), u: Some(1e-7) },
        ..Settings::default()
    };
    let c = fixture::fit(&borrowed(&runs), &settings).unwrap();
    assert_eq!(c.correction.grade, Grade::Settled);
    let got = |p: Parameter| c.correction.get(p);
    assert!((got(Parameter::SharedGround) - s).abs() < 1e-6);
    assert!((got(Parameter::InputResistance) - pa - ag).abs() < 1e-6);
    assert!((got(Parameter::OutputResistance) - bq - nb).abs() < 1e-6);
    // Without the output-shorted run the lead is not seen apart from the input side.
    let c = fixture::fit(&borrowed(&runs[..4]), &settings).unwrap();
    assert!(!has(&c, "shared_ground"));
    assert_eq!(c.correction.grade, Grade::SplitAssumed);
}

#[test]
fn works_with_only_the_output_difference() {
    let runs: Vec<Run> = calibration_set()
        .into_iter()
        .map(|run| {
            let difference = run.columns[1].iter().zip(&run.columns[2]).map(|(q, n)| q - n).collect();
            let [p, _, _, i, o] = run.columns;
            Run { kind: run.kind, time: run.time, columns: [p, difference, Vec::new(), i, o] }
        })
        .collect();
    let c = fixture::fit(&borrowed(&runs), &Settings::default()).unwrap();
    assert_eq!(c.correction.grade, Grade::Settled);
    for (p, truth) in [(Parameter::InputResistance, 0.0650), (Parameter::OutputResistance, 0.0481)] {
        let u = c.correction.covariance[p as usize][p as usize].sqrt();
        assert!((c.correction.get(p) - truth).abs() < 2.5 * u, "{p:?} {}", c.correction.get(p));
    }
    let names: Vec<_> = c.report.channels.0.iter().map(|(name, _)| name.as_ref()).collect();
    assert_eq!(names, ["v_in", "i_in", "v_out", "i_out"]);
}

#[test]
fn given_corrections_need_no_run() {
    let mut settings = Settings {
        input_correction: Some(Stated { value: 0.065, u: Some(0.001) }),
        output_correction: Some(Stated { value: 0.048, u: Some(0.0005) }),
        ..Settings::default()
    };
    let c = fixture::fit(&[], &settings).unwrap();
    assert_eq!(c.correction.grade, Grade::AsLogged, "the current ratio is not known");
    assert!((c.correction.get(Parameter::InputResistance) - 0.065).abs() < 1e-12);
    settings.channels.i_in.gain = Some(0.001);
    settings.channels.i_out.gain = Some(0.001);
    let c = fixture::fit(&[], &settings).unwrap();
    assert_eq!(c.correction.grade, Grade::Settled);
    assert_eq!(c.report.basis, "given");
    assert!((c.correction.covariance[12][12].sqrt() - 0.001).abs() < 1e-9);
    assert!((c.correction.covariance[3][3].sqrt() - 0.001).abs() < 1e-9);
}

#[test]
fn a_stretch_at_zero_counts_as_all_off() {
    let runs = calibration_set();
    let zero = &runs[0];
    let mut through = runs[2].part(0, runs[2].time.len());
    for (column, rest) in through.columns.iter_mut().zip(&zero.columns) {
        let mut joined = rest.clone();
        joined.append(column);
        *column = joined;
    }
    through.time = (0..through.columns[0].len()).map(|i| 0.02 * i as f64).collect();
    let with = fixture::fit(&[through.borrow(0), runs[4].borrow(1)], &Settings::default()).unwrap();
    let without = fixture::fit(&[runs[2].borrow(0), runs[4].borrow(1)], &Settings::default()).unwrap();
    let u = |c: &Calibration| c.correction.covariance[5][5].sqrt();
    assert!(u(&with) < 0.5 * u(&without), "{} {}", u(&with), u(&without));
    assert!((with.correction.get(Parameter::OffsetVIn) - 0.003).abs() < 4.0 * u(&with));
    assert!(with.notes.iter().any(|n| n.contains("guess")));
    assert!(!without.notes.iter().any(|n| n.contains("guess")));
}

/// Both output sense leads on one node while the source is swept: the slope of one reading on the
/// other is the ratio of their gains.
#[test]
fn a_common_positive_converter_needs_the_low_nodes_gain() {
    let mut random = Random::new(20, 0);
    let (g_q, g_n) = (1.0010, 0.9985);
    let mut open = ideal(RunKind::OpenSweep, &serde_json::json!({}), 0.0012, 21);
    for i in 0..open.time.len() {
        let volt = open.columns[0][i];
        open.columns[1][i] = g_q * volt - 0.002 + 0.0012 * random.normal();
        open.columns[2][i] = g_n * volt + 0.0015 + 0.0012 * random.normal();
    }
    let set = json("fixture/wirings.json");
    let through = ideal(RunKind::StraightThrough, &set["T"], 0.0012, 22);
    let short = ideal(RunKind::InputShorted, &set["SI"], 0.0012, 23);
    let settings = Settings { common_positive: true, ..Settings::default() };
    let runs = [open, through, short];
    let c = fixture::fit(&borrowed(&runs), &settings).unwrap();
    let k = &c.correction;
    let ratio = k.get(Parameter::GainVOutLow) / k.get(Parameter::GainVOutHigh);
    let u = (k.covariance[2][2] + k.covariance[1][1] - 2.0 * k.covariance[1][2]).sqrt();
    assert!((ratio - g_n / g_q).abs() < 4.0 * u && u < 5e-5, "{ratio} {u}");
    assert!(!c.notes.iter().any(|n| n.contains("low output node")));
    // Without it the gain is only assumed, and said to be.
    let c = fixture::fit(&borrowed(&runs[1..]), &settings).unwrap();
    assert!(c.notes.iter().any(|n| n.contains("low output node")));
}

#[test]
fn a_run_that_says_nothing_is_left_out_and_told() {
    let mut runs = calibration_set();
    let blank = vec![f64::NAN; runs[5].time.len()];
    runs[5].columns[1] = blank.clone();
    runs[5].columns[4] = blank;
    let mut named = borrowed(&runs);
    named[5].name = "short-out.csv";
    let c = fixture::fit(&named, &Settings::default()).unwrap();
    assert_eq!(c.correction.grade, Grade::Settled);
    let told = "short-out.csv (output shorted) was left out";
    assert!(c.notes.iter().any(|n| n.contains(told)), "{:?}", c.notes);
    let error = fixture::fit(&named[5..], &Settings::default()).unwrap_err();
    assert!(error.to_string().starts_with("short-out.csv (output shorted)"), "{error}");
    // Without a name its number stands in.
    let error = fixture::fit(&[runs[5].borrow(5)], &Settings::default()).unwrap_err();
    assert!(error.to_string().starts_with("input 5"), "{error}");
}
