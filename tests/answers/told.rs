//! Findings: told where the run shows them, and not where it does not.

use wattsieve_core::finding::{Finding, Settings, answer};
use wattsieve_core::fixture::{Correction, Grade};
use wattsieve_core::sieve::Reason;

use crate::support::{Draw, Table, exact};

const NOISE: [f64; 5] = [0.002, 0.002, 0.001, 0.003, 0.003];
const LEADS: f64 = 0.15;

/// A supply behind leads, limited to 2.6 A, feeding a step-down converter that stops at 10.2 V; the
/// load swept up and down; then the load off with the output on; then a burst of bad rows.
fn story(correction: Correction) -> Table {
    let mut draw = Draw(99);
    let mut rows: Vec<([f64; 5], u16)> = Vec::new();
    let loss = |i: f64| 0.3 + 0.03 * i + 0.03 * i * i + if i > 0.7 { 0.06 } else { 0.0 };
    let mut on = true;
    for k in 0..9000 {
        let phase = (k % 600) as f64 / 600.0;
        let ramp = if phase < 0.5 { 2.0 * phase } else { 2.0 - 2.0 * phase };
        let mut i = 0.1 * libm::exp(ramp * libm::log(58.0));
        let open = if k < 6000 { 12.8 - 2.45 * k as f64 / 6000.0 } else { 12.6 };
        let mut mask = 0;
        if k >= 8000 {
            i = 0.0;
            mask |= Reason::Off.bit();
        }
        let solve = |i: f64| {
            let p = 5.0 * i + if i > 0.0 { loss(i) } else { 0.3 };
            (open - (open * open - 4.0 * LEADS * p).sqrt()) / (2.0 * LEADS)
        };
        let mut i_in = solve(i);
        let mut v_in = open - LEADS * i_in;
        let mut v_out = 5.0;
        if on && v_in < 10.2 {
            on = false;
        } else if !on && open > 11.5 {
            on = true;
        }
        if !on {
            i = 0.0;
            i_in = 0.004;
            v_in = open - LEADS * i_in;
            v_out = 0.1;
            mask |= Reason::Off.bit();
        }
        if i_in > 2.45 && on {
            // The limiter holds the current; the voltage gives way and the output with it.
            let over = i_in - 2.45;
            v_in = open - LEADS * 2.45 - 4.0 * over;
            i_in = 2.45;
            i = (v_in * i_in - 1.4) / 5.0;
            mask |= Reason::SupplyLimit.bit();
            v_in = v_in.max(10.25);
        }
        let mut reading = [v_in, v_out + 0.01, 0.01, i_in, i];
        for (c, x) in reading.iter_mut().enumerate() {
            *x += NOISE[c] * draw.normal();
        }
        if (7000..7080).contains(&k) && k % 2 == 0 {
            mask |= Reason::Spike.bit();
            reading[3] *= 1.3;
        }
        rows.push((reading, mask));
    }
    let mut table = Table::new(rows.iter().map(|r| r.0).collect(), correction, NOISE);
    table.masks = rows.iter().map(|r| r.1).collect();
    table
}

fn find<'a>(findings: &'a [Finding], code: &str) -> &'a Finding {
    findings.iter().find(|f| f.code == code).unwrap_or_else(|| panic!("no finding {code}"))
}

#[test]
fn tells_what_the_run_shows() {
    let answers = answer(&story(exact()), &Settings { points: vec![[12.0, 2.0]], ..Default::default() });
    for finding in &answers.findings {
        println!("{:4.2} {} {:?}", finding.confidence, finding.text, finding.rows.len());
    }
    println!(
        "{:?}\n{:?}\n{:?}\n{:?}",
        answers.source, answers.cut_off.voltage, answers.quiescent, answers.energy
    );
    let step = find(&answers.findings, "loss_step");
    assert!((step.numbers["power"].value.unwrap() - 0.06).abs() < 0.012, "{}", step.text);
    assert!((step.numbers["i_out"].value.unwrap() - 0.7).abs() < 0.03, "{}", step.text);
    let quiescent = find(&answers.findings, "quiescent");
    assert!((quiescent.numbers["power"].value.unwrap() - 0.3).abs() < 0.003, "{}", quiescent.text);
    let limit = find(&answers.findings, "supply_limit");
    assert!((limit.numbers["current"].value.unwrap() - 2.45).abs() < 0.01, "{}", limit.text);
    let source = find(&answers.findings, "source_resistance");
    let resistance = &source.numbers["resistance"];
    assert!(
        (resistance.value.unwrap() - LEADS).abs() < 3.0 * resistance.u.unwrap() + 0.003,
        "{}",
        source.text
    );
    let cut = find(&answers.findings, "cut_off");
    assert!((cut.numbers["voltage"].value.unwrap() - 10.2).abs() < 0.1, "{}", cut.text);
    let crowd = find(&answers.findings, "rejects_clustered");
    assert_eq!(crowd.rows, vec![[7000, 7078]], "{}", crowd.text);
    let best = find(&answers.findings, "best_efficiency");
    assert!(best.text.contains("within 0.2 points"), "{}", best.text);
    assert!((answers.energy.map_closure.value.unwrap() - 1.0).abs() < 0.002);
    assert!(answers.findings.iter().all(|f| f.confidence >= 0.0 && f.confidence <= 1.0));
    assert_eq!(answers.grade, "settled");
    let json = serde_json::to_value(&answers).unwrap();
    for key in [
        "map",
        "at",
        "peak",
        "quiescent",
        "off",
        "cut_off",
        "source",
        "levels",
        "loss_model",
        "energy",
        "findings",
        "grade",
    ] {
        assert!(json.get(key).is_some(), "{key}");
    }
    let cell: Vec<&String> = json["map"]["efficiency"][0].as_object().unwrap().keys().collect();
    assert_eq!(cell.len(), 12, "{cell:?}");
}

#[test]
fn scatter_does_not_pose_as_accuracy() {
    let answers = answer(&story(Correction::as_logged()), &Settings::default());
    let grade = find(&answers.findings, "grade");
    assert!(grade.text.contains("accuracy is not known"), "{}", grade.text);
    assert!(answers.map.efficiency.iter().all(|c| c.u.is_none() && c.u_systematic.is_none()));
    assert!(answers.map.efficiency.iter().any(|c| c.u_random.is_some()));
    assert_eq!(answers.peak.efficiency.u, None);
    assert!(answers.loss_model.terms.iter().all(|t| t.u.is_none()));
    assert_eq!(answers.grade, "as_logged");
}

#[test]
fn says_what_an_assumed_split_costs() {
    // 7.8 mohm of doubt between the sides at 6 A to 5 V from 13 V: 0.8 % of the efficiency.
    let mut correction = exact();
    correction.grade = Grade::SplitAssumed;
    let half = 0.0078 * 0.0078;
    correction.covariance[12][12] = half;
    correction.covariance[13][13] = half;
    correction.covariance[12][13] = -half;
    correction.covariance[13][12] = -half;
    let op = wattsieve_core::map::Operating::collect(&Table::new(
        vec![[13.0, 5.0, 0.0, 2.41, 6.0]],
        correction,
        NOISE,
    ));
    let cost = wattsieve_core::finding::split_cost(&op, [13.0, 5.0, 0.0, 2.41, 6.0]);
    // 0.005 ohm cost 0.5073 % there (worked in numpy).
    let expected = 0.005_073 / 0.005 * 0.0078 * (5.0 * 6.0 / (13.0 * 2.41));
    assert!((cost / expected - 1.0).abs() < 0.001, "{cost} {expected}");
}

#[test]
fn an_empty_run_says_so_everywhere() {
    let answers = answer(
        &Table::new(Vec::new(), exact(), NOISE),
        &Settings { points: vec![[12.0, 1.0]], ..Default::default() },
    );
    assert!(answers.map.efficiency.is_empty());
    assert_eq!(answers.at[0].value, None);
    assert_eq!(answers.peak.efficiency.value, None);
    assert!(answers.peak.efficiency.why.is_some());
    assert!(answers.loss_model.is_empty());
    serde_json::to_string(&answers).unwrap();
}
