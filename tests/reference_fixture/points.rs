//! Operating points against values from outside.

use crate::data::{json, number, path};
use wattsieve_core::fixture::{Correction, Grade, Parameter};
use wattsieve_core::point::{RowPoint, Rows};
use wattsieve_core::sieve::Mask;

/// One reading as a run.
struct One<'a> {
    reading: [f64; 5],
    correction: &'a Correction,
}

impl Rows for One<'_> {
    fn rows(&self) -> usize {
        1
    }
    fn time(&self, _: usize) -> f64 {
        0.0
    }
    fn mask(&self, _: usize) -> Mask {
        0
    }
    fn reading(&self, _: usize) -> [f64; 5] {
        self.reading
    }
    fn correction(&self) -> &Correction {
        self.correction
    }
    fn noise(&self) -> [f64; 5] {
        [0.0; 5]
    }
}

/// The operating point of one reading without noise.
pub(crate) fn point(correction: &Correction, reading: [f64; 5]) -> RowPoint {
    RowPoint::of(&One { reading, correction }, 0)
}

fn corrected(r_in: f64, r_out: f64, shared: f64) -> Correction {
    let mut c = Correction::as_logged();
    c.values[Parameter::InputResistance as usize] = r_in;
    c.values[Parameter::OutputResistance as usize] = r_out;
    c.values[Parameter::SharedGround as usize] = shared;
    c.grade = Grade::Settled;
    c
}

/// A circuit simulation's readings, corrected, give the converter's own efficiency.
#[test]
fn corrected_readings_give_the_simulated_efficiency() {
    let set = json("fixture/service-rows.json");
    let c = corrected(number(&set["R_I"]), number(&set["R_O"]), 0.0);
    let rows = set["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 18);
    for row in rows {
        let reading = ["Vp", "Vq", "Vn", "Ii", "Io"].map(|k| number(&row[k]));
        let point = point(&c, reading);
        assert!((point.efficiency - number(&row["eta"])).abs() < 1e-9);
        assert!((point.v_in - number(&row["Va"])).abs() < 1e-9);
        assert!((point.v_out - number(&row["Vb"])).abs() < 1e-9);
    }
}

#[test]
fn a_shared_ground_lead_is_corrected() {
    let set = json("fixture/shared-ground.json");
    let at = |k: &str| number(&set[k]);
    let c = corrected(at("pa") + at("ag"), at("bq") + at("nb"), at("s"));
    for row in set["rows"].as_array().unwrap() {
        let reading = ["V_P", "V_Q", "V_N", "Ii", "Io"].map(|k| number(&row[k]));
        let point = point(&c, reading);
        assert!((point.efficiency - number(&row["eta"])).abs() < 1e-9);
    }
}

/// A correction whose covariance is that of the worked example: ln gains of P, Q, 1, 2, offsets of
/// P, Q, 1, 2, R_I, R_O.
pub(crate) fn worked(set: &serde_json::Value) -> Correction {
    const PLACE: [usize; 10] = [0, 1, 3, 4, 5, 6, 8, 9, 12, 13];
    let mut c = corrected(number(&set["R_I"]), number(&set["R_O"]), 0.0);
    for (i, row) in set["Sigma"].as_array().unwrap().iter().enumerate() {
        for (k, value) in row.as_array().unwrap().iter().enumerate() {
            c.covariance[PLACE[i]][PLACE[k]] = number(value);
        }
    }
    c
}

/// Linear propagation by another program, and 200 000 random draws (JCGM 101).
#[test]
fn uncertainty_agrees_with_propagation_and_with_random_draws() {
    let set = json("uncertainty/efficiency-points.json");
    let c = worked(&set);
    for (name, entry) in set["points"].as_object().unwrap() {
        let r: Vec<f64> = entry["reading"].as_array().unwrap().iter().map(number).collect();
        let reading = [r[0], r[1], 0.0, r[2], r[3]];
        let got = point(&c, reading);
        let at = |k: &str| number(&entry[k]);
        let u = got.u_systematic.unwrap();
        assert!((got.efficiency - at("eta")).abs() < 1e-12, "{name}");
        assert!((u / at("u_eta") - 1.0).abs() < 1e-6, "{name}: {u}");
        // Its readings and u are rounded; the loss gradient there is by differences.
        assert!((got.loss_u.unwrap() / at("u_loss") - 1.0).abs() < 1e-4, "{name}");
        assert!((u / at("mc_std") - 1.0).abs() < 0.01, "{name} against draws");
        let interval = at("mc_hi") - at("mc_lo");
        assert!((2.0 * 1.96 * u / interval - 1.0).abs() < 0.01, "{name} interval");
    }
    // Two converters at 12.6 V and 2 A, the second losing 0.3 W more.
    let reading = |loss: f64| {
        let (r_in, r_out) = (number(&set["R_I"]), number(&set["R_O"]));
        let p = 10.0 + loss;
        let i = (12.6 - (12.6 * 12.6 - 4.0 * r_in * p).sqrt()) / (2.0 * r_in);
        let round = |x: f64, n: f64| (x * n).round() / n;
        [12.6, round(5.0 - 2.0 * r_out, 1e4), 0.0, round(i, 1e5), 2.0]
    };
    let base = 0.22 + 0.085 * 2.0 + 0.014 * 4.0 + 0.12;
    let (first, second) = (reading(base), reading(base + 0.30));
    let by = |reading| c.sensitivity(reading).map(|s| s * c.apply(reading).efficiency());
    let (a, b) = (by(first), by(second));
    let difference = c.apply(first).efficiency() - c.apply(second).efficiency();
    let u = c.variance(&std::array::from_fn(|p| a[p] - b[p])).sqrt();
    assert_eq!(c.variance(&std::array::from_fn(|p| a[p] - a[p])), 0.0, "a point less itself");
    let pair = &set["pair"];
    assert!((difference - (number(&pair["etaA"]) - number(&pair["etaB"]))).abs() < 1e-9);
    assert!((u / number(&pair["u_diff_shared"]) - 1.0).abs() < 1e-4);
}

/// Lower triangle L with `L L^T = C`.
fn triangle(c: &[[f64; 15]; 15]) -> [[f64; 15]; 15] {
    let mut l = [[0.0; 15]; 15];
    for i in 0..15 {
        for k in 0..=i {
            let sum: f64 = c[i][k] - (0..k).map(|j| l[i][j] * l[k][j]).sum::<f64>();
            l[i][k] = if i == k {
                sum.max(0.0).sqrt()
            } else if l[k][k] > 0.0 {
                sum / l[k][k]
            } else {
                0.0
            };
        }
    }
    l
}

/// The worked table once more, by draws of its parameters with their covariance: efficiency and loss of 100 000
/// corrections scatter as stated within 2 %.
///
/// **Source** propagation of distributions, JCGM 101:2008, clause 7; an independent way to the same number.
#[test]
fn a_hundred_thousand_draws_agree_with_the_stated_uncertainty() {
    const DRAWS: usize = 100_000;
    let set = json("uncertainty/efficiency-points.json");
    let c = worked(&set);
    let l = triangle(&c.covariance);
    let mut random = wattsieve_tests::sim::Random::new(101, 0);
    let mut seen = 0;
    for (name, entry) in set["points"].as_object().unwrap() {
        let r: Vec<f64> = entry["reading"].as_array().unwrap().iter().map(number).collect();
        let reading = [r[0], r[1], 0.0, r[2], r[3]];
        let stated = point(&c, reading);
        let mut values: [Vec<f64>; 2] = Default::default();
        for _ in 0..DRAWS {
            let z: [f64; 15] = std::array::from_fn(|_| random.normal());
            let mut drawn = c.clone();
            for (i, value) in drawn.values.iter_mut().enumerate() {
                *value += (0..=i).map(|k| l[i][k] * z[k]).sum::<f64>();
            }
            let state = drawn.apply(reading);
            values[0].push(state.efficiency());
            values[1].push(state.v_in * state.i_in - state.v_out * state.i_out);
        }
        for (values, u) in values.iter_mut().zip([stated.u_systematic.unwrap(), stated.loss_u.unwrap()]) {
            let mean = values.iter().sum::<f64>() / DRAWS as f64;
            let scatter = values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / DRAWS as f64;
            assert!((scatter.sqrt() / u - 1.0).abs() < 0.02, "{name}: {} for {u}", scatter.sqrt());
            values.sort_by(f64::total_cmp);
            let width = values[DRAWS * 39 / 40] - values[DRAWS / 40];
            assert!((width / (2.0 * 1.96 * u) - 1.0).abs() < 0.02, "{name}: {width} for {u}");
        }
        seen += 1;
    }
    assert_eq!(seen, 3);
}

/// A 95 % interval of a normal distribution is 1.960 standard uncertainties to each side (JCGM 100:2008, table G.1).
#[test]
fn a_plus_minus_is_a_95_percent_interval() {
    let set = json("uncertainty/efficiency-points.json");
    let c = worked(&set);
    for entry in set["points"].as_object().unwrap().values() {
        let r: Vec<f64> = entry["reading"].as_array().unwrap().iter().map(number).collect();
        let got = point(&c, [r[0], r[1], 0.0, r[2], r[3]]);
        let factor = [(got.half_95, got.u), (got.loss_half_95, got.loss_u)];
        assert!(factor.iter().all(|(half, u)| (half.unwrap() / u.unwrap() - 1.960).abs() < 5e-4));
    }
}

/// Three libraries and 40-digit arithmetic (reference/uncertainty/efficiency-cross-library.json).
#[test]
fn uncertainty_agrees_with_other_libraries() {
    let set = json("uncertainty/efficiency-cross-library.json");
    let at = |k: &str| number(&set["inputs"][k]);
    let mut c = Correction::as_logged();
    c.grade = Grade::Settled;
    for (place, name) in [(5, "u_Vi"), (6, "u_Vo"), (8, "u_Ii"), (9, "u_Io")] {
        c.covariance[place][place] = at(name) * at(name);
    }
    let reading = [at("Vi"), at("Vo"), 0.0, at("Ii"), at("Io")];
    let compare = |c: &Correction, expected: &serde_json::Value| {
        let point = point(c, reading);
        let u = point.u_systematic.unwrap();
        assert!((u / number(&expected["u_eta"]) - 1.0).abs() < 1e-12);
        let u = point.loss_u.unwrap();
        assert!((u / number(&expected["u_loss"]) - 1.0).abs() < 1e-12);
    };
    compare(&c, &set["independent"]);
    for (i, k, r) in [(5, 6, "r_Vi_Vo"), (8, 9, "r_Ii_Io")] {
        let r = number(&set["correlated"][r]);
        let covariance = r * (c.covariance[i][i] * c.covariance[k][k]).sqrt();
        c.covariance[i][k] = covariance;
        c.covariance[k][i] = covariance;
    }
    compare(&c, &set["correlated"]);
}

/// Measured inverter, 6 loads x 3 input voltages x 7 repeats (pvlib test data, BSD-3-Clause).
#[test]
fn measured_inverter_efficiencies_come_back() {
    let text = std::fs::read_to_string(path("power/inverter-measured.csv")).unwrap();
    let expected = json("power/inverter-measured-expected.json");
    let mut rows = Vec::new();
    for line in text.lines().skip(1) {
        let field: Vec<&str> = line.split(',').collect();
        let x = |k: usize| field[k].parse::<f64>().unwrap();
        let (power, volt, eta) = (x(2), x(3), x(4));
        // Any output voltage will do: only its power is published.
        let reading = [volt, 400.0, 0.0, power / eta / volt, power / 400.0];
        let point = point(&Correction::as_logged(), reading);
        assert!((point.efficiency - eta).abs() < 1e-12);
        assert!((point.loss - (power / eta - power)).abs() < 1e-6);
        assert!(point.u_systematic.is_none());
        rows.push((field[1].to_owned(), x(0), point.efficiency));
    }
    assert_eq!(rows.len(), 126);
    for (level, loads) in expected["mean_efficiency"].as_object().unwrap() {
        for (load, mean) in loads.as_object().unwrap() {
            let load: f64 = load.parse().unwrap();
            let values: Vec<f64> =
                rows.iter().filter(|r| r.0 == *level && r.1 == load).map(|r| r.2).collect();
            assert_eq!(values.len(), 7);
            let got = values.iter().sum::<f64>() / 7.0;
            assert!((got - number(mean)).abs() < 1e-11, "{level} {load}");
        }
    }
}
