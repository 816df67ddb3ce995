//! Two runs on one fixture.

use wattsieve_core::compare::{Class, Settings, Side, compare, standing};
use wattsieve_core::finding::answer;
use wattsieve_core::fixture::{Correction, Grade, Parameter, State};
use wattsieve_core::map::{How, Operating};

use crate::support::{Draw, Table};

/// A fixture with known resistances and the calibration that was measured for it: the truth drawn
/// around it within its covariance.
pub(crate) fn fixture(draw: &mut Draw) -> (Correction, Correction) {
    let mut measured = Correction::as_logged();
    measured.grade = Grade::Settled;
    let set = [
        (Parameter::GainVIn, 1.0, 5e-4),
        (Parameter::GainVOutHigh, 1.002, 5e-4),
        (Parameter::GainIOut, 0.997, 8e-4),
        (Parameter::OffsetIIn, 0.001, 2e-4),
        (Parameter::OffsetIOut, -0.0005, 2e-4),
        (Parameter::InputResistance, 0.065, 5e-4),
        (Parameter::OutputResistance, 0.048, 5e-4),
    ];
    let mut truth = measured.clone();
    for (parameter, value, u) in set {
        let k = parameter as usize;
        measured.values[k] = value;
        measured.covariance[k][k] = u * u;
        truth.values[k] = value + u * draw.normal();
    }
    (truth, measured)
}

const NOISE: [f64; 5] = [0.003, 0.002, 0.001, 0.003, 0.003];
const V_OUT: f64 = 3.2;

fn loss_a(v: f64, i: f64) -> f64 {
    0.25 + 0.004 * v + 0.03 * i + 0.028 * i * i
}

fn loss_b(_: f64, i: f64) -> f64 {
    0.03 + 0.34 * i + 0.02 * i * i
}

/// A run on a fixture: the load swept up and down, or held on three presets in turn.
fn run(
    draw: &mut Draw,
    truth: &Correction,
    measured: &Correction,
    loss: fn(f64, f64) -> f64,
    presets: Option<[f64; 3]>,
    rows: usize,
) -> Table {
    let converter = Operating::collect(&Table::new(Vec::new(), truth.clone(), NOISE));
    let mut readings = Vec::new();
    for k in 0..rows {
        let phase = (k % 500) as f64 / 500.0;
        let ramp = if phase < 0.5 { 2.0 * phase } else { 2.0 - 2.0 * phase };
        let i_out = match presets {
            Some(presets) => presets[(k / 150) % 3],
            None => 0.25 * libm::exp(ramp * libm::log(36.0)),
        };
        let v_in = 13.4 - 3.0 * k as f64 / rows as f64;
        let v_out = V_OUT + 0.01 * i_out;
        let i_in = (v_out * i_out + loss(v_in, i_out)) / v_in;
        let state = State { v_in, i_in, v_out, i_out };
        let reading = converter.reading_of(state, 0.03 * i_out);
        readings.push(std::array::from_fn(|c| reading[c] + NOISE[c] * draw.normal()));
    }
    Table::new(readings, measured.clone(), NOISE)
}

fn efficiency(loss: fn(f64, f64) -> f64, v: f64, i: f64) -> f64 {
    let p_out = (V_OUT + 0.01 * i) * i;
    p_out / (p_out + loss(v, i))
}

#[test]
fn a_run_against_itself_differs_by_nothing() {
    let mut draw = Draw(5);
    let (truth, measured) = fixture(&mut draw);
    let table = run(&mut draw, &truth, &measured, loss_a, None, 4000);
    let answers = answer(&table, &Default::default());
    let side = Side { name: "one", rows: &table, levels: &answers.levels, model: &answers.loss_model };
    let pair = compare(side, side, &[[12.0, 1.0]], &Settings::default());
    assert!(pair.difference.len() > 20);
    for cell in &pair.difference {
        assert_eq!(cell.value, 0.0);
        assert_eq!(cell.u_systematic, Some(0.0));
        assert_eq!(cell.loss.as_ref().unwrap().value, Some(0.0));
    }
    assert!(pair.winner.iter().all(|w| w.value.is_none()));
    assert_eq!(pair.difference_at[0].value, Some(0.0));
    assert!(pair.crossovers.is_empty());
    assert_eq!(pair.verdict.class, Class::NoLargerThan, "{}", pair.verdict.text);
    assert!(pair.unlike.is_empty());
}

#[test]
fn finds_a_small_improvement_that_each_efficiency_would_hide() {
    fn better(v: f64, i: f64) -> f64 {
        loss_a(v, i) - 0.006 * i * i
    }
    let mut draw = Draw(17);
    let (truth, measured) = fixture(&mut draw);
    let first = run(&mut draw, &truth, &measured, better, None, 8000);
    let second = run(&mut draw, &truth, &measured, loss_a, None, 8000);
    let answers = [&first, &second].map(|t| answer(t, &Default::default()));
    let side =
        |name, rows, k: usize| Side { name, rows, levels: &answers[k].levels, model: &answers[k].loss_model };
    let pair = compare(side("new", &first, 0), side("old", &second, 1), &[[12.0, 6.0]], &Settings::default());
    println!("{}", pair.verdict.text);
    assert_eq!(pair.verdict.class, Class::Less, "{}", pair.verdict.text);
    assert!(pair.verdict.text.contains("new draws"));
    let point = &pair.difference_at[0];
    let expected = efficiency(better, 12.0, 6.0) - efficiency(loss_a, 12.0, 6.0);
    let u = point.u.unwrap();
    assert!((point.value.unwrap() - expected).abs() < 2.5 * u, "{point:?} {expected}");
    // Each efficiency alone is known much worse.
    let alone = wattsieve_core::loss::at(
        &Operating::collect(&first),
        &wattsieve_core::map::Index::of(&Operating::collect(&first)),
        &answers[0].loss_model,
        &[[12.0, 6.0]],
    );
    assert!(alone[0].u.unwrap() > 2.0 * u, "{} {u}", alone[0].u.unwrap());
    // The accepted share of false winners is 5 %.
    let wins = |name: &str| pair.winner.iter().filter(|w| w.value.as_deref() == Some(name)).count();
    assert!(wins("old") * 20 <= wins("new"), "{} {}", wins("old"), wins("new"));
    // Making the contacts again between the runs hides part of it.
    let replugged = Settings { replug: 0.001, ..Settings::default() };
    let pair = compare(side("new", &first, 0), side("old", &second, 1), &[[12.0, 6.0]], &replugged);
    assert!(pair.difference_at[0].u.unwrap() > 2.0 * u);
    // Without a calibration nothing is claimed.
    let mut bare = [first, second];
    for table in &mut bare {
        table.correction = Correction::as_logged();
    }
    let answers = [&bare[0], &bare[1]].map(|t| answer(t, &Default::default()));
    let side = |name, k: usize| Side {
        name,
        rows: &bare[k],
        levels: &answers[k].levels,
        model: &answers[k].loss_model,
    };
    let pair = compare(side("new", 0), side("old", 1), &[], &Settings::default());
    assert_eq!(pair.verdict.class, Class::CannotTell);
    assert!(pair.winner.iter().all(|w| w.value.is_none()));
}

#[test]
fn compares_presets_with_a_dimmed_run_and_finds_the_crossing() {
    let benches = 60;
    let mut inside = 0;
    let mut all = 0;
    let mut crossing = 0;
    let mut crossings = 0;
    for seed in 0..benches {
        let mut draw = Draw(1000 + seed);
        let (truth, measured) = fixture(&mut draw);
        let first = run(&mut draw, &truth, &measured, loss_a, None, 6000);
        let presets = Some([0.5, 2.5, 8.0]);
        let second = run(&mut draw, &truth, &measured, loss_b, presets, 6000);
        let answers = [&first, &second].map(|t| answer(t, &Default::default()));
        assert_eq!(answers[0].levels.count, 0);
        assert_eq!(answers[1].levels.count, 3);
        let side = |name, rows, k: usize| Side {
            name,
            rows,
            levels: &answers[k].levels,
            model: &answers[k].loss_model,
        };
        let asked = [[12.0, 0.5], [12.0, 2.5], [11.5, 8.0], [12.0, 1.2]];
        let pair = compare(
            side("dimmed", &first, 0),
            side("presets", &second, 1),
            &asked,
            &Settings { input_voltages: vec![12.0], ..Settings::default() },
        );
        if seed == 0 {
            println!("{}", pair.verdict.text);
            println!("{:?}", pair.crossovers);
            for point in &pair.difference_at {
                println!("{point:?}");
            }
        }
        for (point, [v, i]) in pair.difference_at.iter().zip(asked) {
            let expected = efficiency(loss_a, v, i) - efficiency(loss_b, v, i);
            let z = (point.value.unwrap() - expected) / point.u.unwrap();
            all += 1;
            inside += usize::from(z.abs() <= 2.0);
        }
        assert_eq!(pair.difference_at[0].how, How::Rows);
        assert_eq!(pair.difference_at[3].how, How::Fit);
        assert_eq!(pair.winner_at[0].value.as_deref(), Some("presets"));
        assert_eq!(pair.winner_at[2].value.as_deref(), Some("dimmed"));
        assert_eq!(pair.verdict.class, Class::CannotTell);
        assert!(!pair.difference.is_empty());
        assert!(pair.difference.iter().all(|cell| cell.level.is_some()));
        // 0.298 + 0.03 I + 0.028 I^2 = 0.03 + 0.34 I + 0.02 I^2
        let truth = (0.31 - (0.31f64 * 0.31 - 4.0 * 0.008 * 0.268).sqrt()) / 0.016;
        assert_eq!(pair.crossovers.len(), 1, "{seed}");
        let found = &pair.crossovers[0];
        crossings += 1;
        crossing += usize::from((found.value - truth).abs() <= 2.0 * found.u.unwrap());
    }
    println!("differences {inside} of {all}, crossings {crossing} of {crossings}");
    assert!(inside as f64 / all as f64 > 0.90);
    assert!(crossing as f64 / crossings as f64 > 0.86);
}

#[test]
fn holds_false_winners_down() {
    // 400 cells, 40 of them truly different by four standard uncertainties.
    let mut share = 0.0;
    let mut found = 0;
    for seed in 0..50 {
        let mut draw = Draw(seed + 7);
        let z: Vec<Option<f64>> =
            (0..400).map(|k| Some(draw.normal() + if k < 40 { 4.0 } else { 0.0 })).collect();
        let stands = standing(&z, 0.05);
        let wrong = stands[40..].iter().filter(|x| **x).count();
        let all = stands.iter().filter(|x| **x).count();
        let naive = z[40..].iter().filter(|z| z.unwrap().abs() > 1.96).count();
        assert!(naive > wrong);
        share += wrong as f64 / all.max(1) as f64 / 50.0;
        found += all - wrong;
    }
    println!("false share {share:.3}, {found} of 2000 found");
    assert!(share < 0.065, "{share}");
    assert!(found > 1600, "{found}");
}

#[test]
fn a_fixture_cancels_in_the_difference_and_contacts_do_not() {
    // Worked example: 12.6 V, 2 A to 5.0 V, loss 0.566 W and 0.30 W more; voltage gains 5e-4
    // (correlated 0.98), current gains 1e-3 (0.95), offsets 0.5 mV and 0.5 mA, resistances 0.5 mohm
    // (0.60): 0.0033 points for the difference, 0.054 points with 1 mohm of contacts made again;
    // computed with numpy from the law of propagation (JCGM 100:2008 clause 5.2.2).
    let mut correction = Correction::as_logged();
    correction.grade = Grade::Settled;
    let u = [5e-4, 5e-4, 1e-3, 1e-3, 5e-4, 5e-4, 5e-4, 5e-4, 5e-4, 5e-4];
    let at = [0, 1, 3, 4, 5, 6, 8, 9, 12, 13];
    for (&k, &u) in at.iter().zip(&u) {
        correction.covariance[k][k] = u * u;
    }
    for (a, b, r) in [(0, 1, 0.98), (3, 4, 0.95), (12, 13, 0.60)] {
        let c = r * (correction.covariance[a][a] * correction.covariance[b][b]).sqrt();
        correction.covariance[a][b] = c;
        correction.covariance[b][a] = c;
    }
    correction.values[12] = 0.065;
    correction.values[13] = 0.0481;
    let readings = [0.566, 0.866].map(|loss: f64| {
        let p = 10.0 + loss;
        let i = (12.6 - (12.6f64 * 12.6 - 4.0 * 0.065 * p).sqrt()) / (2.0 * 0.065);
        [12.6, 5.0 - 2.0 * 0.0481, 0.0, i, 2.0]
    });
    let j = readings.map(|r| {
        let eta = correction.apply(r).efficiency();
        correction.sensitivity(r).map(|s| s * eta)
    });
    let minus: [f64; 15] = std::array::from_fn(|k| j[0][k] - j[1][k]);
    let shared = correction.variance(&minus).sqrt();
    assert!((shared - 3.3047e-5).abs() < 2e-7, "{shared}");
    let replug: f64 = j.iter().map(|j| (j[12] * j[12] + j[13] * j[13]) * 1e-6).sum();
    let whole = (shared * shared + replug).sqrt();
    assert!((whole - 5.3666e-4).abs() < 1e-6, "{whole}");
}
