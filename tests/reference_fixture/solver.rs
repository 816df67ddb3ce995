//! The project's least squares against certified values.

use crate::data::{json, number};
use wattsieve_core::math::linear::{Matrix, Solution, least_squares};

/// Correct decimal digits.
fn digits(value: f64, certified: f64) -> f64 {
    if value == certified {
        return 16.0;
    }
    let scale = if certified == 0.0 { 1.0 } else { certified.abs() };
    -libm::log10((value - certified).abs() / scale)
}

fn numbers(value: &serde_json::Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

/// NIST Statistical Reference Datasets, linear regression (reference/regression): values and
/// standard deviations of the parameters to at least the digits that double arithmetic can give.
#[test]
fn reaches_the_certified_digits_of_nist_strd() {
    let sets = json("regression/nist-strd-linear.json");
    let mut seen = 0;
    for set in sets["datasets"].as_array().unwrap() {
        let name = set["name"].as_str().unwrap();
        let least = match name {
            "Filip" | "Wampler4" => 6.0,
            "Wampler5" => 5.0,
            "Wampler1" | "Wampler2" | "Wampler3" | "Longley" => 8.0,
            _ => 11.0,
        };
        let y = numbers(&set["y"]);
        let p = set["p"].as_u64().unwrap() as usize;
        let intercept = set["intercept"].as_bool().unwrap();
        let x: Vec<Vec<f64>> = match &set["x"] {
            serde_json::Value::Object(map) => (1..p).map(|k| numbers(&map[&format!("x{k}")])).collect(),
            single => vec![numbers(single)],
        };
        let rows: Vec<Vec<f64>> = (0..y.len())
            .map(|i| {
                let mut row = Vec::new();
                if intercept {
                    row.push(1.0);
                }
                if x.len() > 1 {
                    row.extend(x.iter().map(|column| column[i]));
                } else {
                    let mut power = 1.0;
                    while row.len() < p {
                        power *= x[0][i];
                        row.push(power);
                    }
                }
                row
            })
            .collect();
        let solution = least_squares(&Matrix::from_rows(&rows), &y, None, 1e-15);
        assert_eq!(solution.rank, p, "{name}");
        let spare = (y.len() - p) as f64;
        let s = (solution.residual_sum / spare).sqrt();
        for (k, parameter) in set["certified"]["parameters"].as_array().unwrap().iter().enumerate() {
            let got = digits(solution.x[k], number(&parameter["estimate"]));
            assert!(got >= least, "{name} parameter {k}: {got:.1} digits");
            let sd = number(&parameter["sd"]);
            if sd > 0.0 {
                let got = digits(s * solution.covariance.get(k, k).sqrt(), sd);
                assert!(got >= least.min(8.0), "{name} u of parameter {k}: {got:.1} digits");
            }
        }
        seen += 1;
    }
    assert_eq!(seen, 11);
}

/// A line through points; covariance with the residual variance.
fn line(x: &[f64], y: &[f64]) -> (Solution, f64) {
    let rows: Vec<[f64; 2]> = x.iter().map(|x| [1.0, *x]).collect();
    let solution = least_squares(&Matrix::from_rows(&rows), y, None, 1e-15);
    let s2 = solution.residual_sum / (x.len() - 2) as f64;
    (solution, s2)
}

/// JCGM 100:2008 annex H.3: calibration line of a thermometer.
#[test]
fn gum_h3_thermometer_line() {
    let set = json("uncertainty/gum-h3.json");
    let t0 = number(&set["data"]["t0_degC"]);
    let t: Vec<f64> = numbers(&set["data"]["t_k_degC"]).iter().map(|t| t - t0).collect();
    let b = numbers(&set["data"]["b_k_degC"]);
    let (solution, s2) = line(&t, &b);
    let expected = &set["recomputed_40_digits"];
    let c = &solution.covariance;
    let near = |name: &str, value: f64| {
        let got = digits(value, number(&expected[name]));
        assert!(got > 9.0, "{name}: {value}, {got:.1} digits");
    };
    near("y1", solution.x[0]);
    near("y2", solution.x[1]);
    near("u_y1", (s2 * c.get(0, 0)).sqrt());
    near("u_y2", (s2 * c.get(1, 1)).sqrt());
    near("r_y1_y2", c.get(0, 1) / (c.get(0, 0) * c.get(1, 1)).sqrt());
    near("s", s2.sqrt());
    near("b_30", solution.x[0] + 10.0 * solution.x[1]);
    near("u_b_30", (s2 * c.quadratic(&[1.0, 10.0])).sqrt());
    let published = &set["published"];
    assert!((solution.x[0] - number(&published["y1"])).abs() < 5e-5);
    assert!(((s2 * c.quadratic(&[1.0, 10.0])).sqrt() - number(&published["u_b_30"])).abs() < 5e-5);
}

/// NBS Handbook 91 (1963), section 5-4.1: Young's modulus against temperature.
#[test]
fn nbs_handbook_91_line() {
    let set = json("regression/nbs-handbook-91-line.json");
    let (solution, s2) = line(&numbers(&set["data"]["x"]), &numbers(&set["data"]["y"]));
    let expected = &set["published"];
    for (name, value) in [
        ("slope", solution.x[1]),
        ("intercept", solution.x[0]),
        ("var_slope", s2 * solution.covariance.get(1, 1)),
        ("var_intercept", s2 * solution.covariance.get(0, 0)),
        ("s", s2.sqrt()),
    ] {
        assert!(digits(value, number(&expected[name])) > 6.5, "{name}: {value}");
    }
    let at_1200 = s2 * solution.covariance.quadratic(&[1.0, 1200.0]);
    assert!((at_1200 - number(&expected["var_of_line_at_1200"])).abs() < 0.005);
}

/// JCGM 100:2008 annex H.2: resistance, reactance and impedance from correlated means.
#[test]
fn gum_h2_resistance_and_reactance() {
    let set = json("uncertainty/gum-h2.json");
    let data: Vec<Vec<f64>> =
        ["V_volt", "I_ampere", "phi_radian"].iter().map(|name| numbers(&set["data"][*name])).collect();
    let n = data[0].len() as f64;
    let mean: Vec<f64> = data.iter().map(|c| c.iter().sum::<f64>() / n).collect();
    let mut covariance = Matrix::zeros(3, 3);
    for i in 0..3 {
        for k in 0..3 {
            let sum: f64 = data[i].iter().zip(&data[k]).map(|(a, b)| (a - mean[i]) * (b - mean[k])).sum();
            covariance.set(i, k, sum / (n * (n - 1.0)));
        }
    }
    let (v, i, phi) = (mean[0], mean[1], mean[2]);
    let (cos, sin) = (libm::cos(phi), libm::sin(phi));
    let z = v / i;
    let by_r = [cos / i, -z * cos / i, -z * sin];
    let by_x = [sin / i, -z * sin / i, z * cos];
    let by_z = [1.0 / i, -z / i, 0.0];
    let expected = &set["recomputed_40_digits"]["approach_1_propagation_from_means"];
    let published = &set["published"]["approach_1"];
    for (name, value, d) in [("R", z * cos, by_r), ("X", z * sin, by_x), ("Z", z, by_z)] {
        assert!(digits(value, number(&expected[name])) > 11.0, "{name}");
        let u = covariance.quadratic(&d).sqrt();
        let key = format!("u{name}");
        assert!(digits(u, number(&expected[&key])) > 9.0, "{key}: {u}");
        assert!((u - number(&published[&key])).abs() < 1e-3, "{key} as printed: {u}");
    }
}
