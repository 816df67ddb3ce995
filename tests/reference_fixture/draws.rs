//! Propagation of distributions against JCGM 101:2008 (reference/uncertainty/gum-s1-monte-carlo.json).

use crate::data::{json, number};
use wattsieve_core::fixture::{Correction, Grade, Parameter, Spot, draw};
use wattsieve_core::math::random::Random;

const DRAWS: usize = 400_000;

/// Mean, standard deviation and shortest 95 % interval of a sample.
fn summary(mut values: Vec<f64>) -> [f64; 4] {
    let n = values.len();
    let mean = values.iter().sum::<f64>() / n as f64;
    let u = (values.iter().map(|x| (x - mean) * (x - mean)).sum::<f64>() / (n - 1) as f64).sqrt();
    values.sort_by(f64::total_cmp);
    let inside = n * 95 / 100;
    let first = (0..n - inside)
        .min_by(|a, b| (values[a + inside] - values[*a]).total_cmp(&(values[b + inside] - values[*b])))
        .unwrap();
    [mean, u, values[first], values[first + inside]]
}

/// One published case by draws of the project's own generator: mean and u within 1 %, ends within 3 % of the
/// interval's width (the shortest interval of a flat-topped distribution is loose at its ends).
fn check(
    name: &str,
    expected: &serde_json::Value,
    interval: &str,
    scale: f64,
    mut model: impl FnMut() -> f64,
) {
    let [mean, u, low, high] = summary((0..DRAWS).map(|_| model() * scale).collect());
    let exact_u = number(&expected["u"]);
    assert!((u / exact_u - 1.0).abs() < 0.01, "{name}: u {u} for {exact_u}");
    assert!((mean - number(&expected["y"])).abs() < 0.01 * exact_u, "{name}: {mean}");
    if let Some(ends) = expected[interval].as_array() {
        let (a, b) = (number(&ends[0]), number(&ends[1]));
        let off = ((low - a).abs()).max((high - b).abs());
        assert!(off < 0.03 * (b - a), "{name}: {low} to {high} for {a} to {b}");
    }
}

fn case<'a>(set: &'a serde_json::Value, id: &str) -> &'a serde_json::Value {
    set["cases"].as_array().unwrap().iter().find(|case| case["id"].as_str().unwrap().starts_with(id)).unwrap()
}

/// Clauses 9.2.2 to 9.2.4 (sums), 9.3 (mass), 9.4.2 and 9.4.3 (comparison loss), and ln X of the guide beside them.
#[test]
fn the_generator_gives_the_supplements_distributions() {
    let set = json("uncertainty/gum-s1-monte-carlo.json");
    let mut random = Random::new(1);
    let root = 3.0_f64.sqrt();
    let flat = |random: &mut Random, low: f64, high: f64| low + (high - low) * random.unit();
    check("9.2.2", &case(&set, "S1-9.2.2")["exact"], "interval95", 1.0, || {
        (0..4).map(|_| random.normal()).sum()
    });
    check("9.2.3", &case(&set, "S1-9.2.3")["exact"], "interval95", 1.0, || {
        (0..4).map(|_| flat(&mut random, -root, root)).sum()
    });
    check("9.2.4", &case(&set, "S1-9.2.4")["exact"], "interval95", 1.0, || {
        (0..3).map(|_| flat(&mut random, -root, root)).sum::<f64>()
            + flat(&mut random, -10.0 * root, 10.0 * root)
    });
    check("9.3", &case(&set, "S1-9.3")["exact"], "none", 1.0, || {
        let (mass, difference) = (100_000.0 + 0.05 * random.normal(), 1.234 + 0.02 * random.normal());
        let air = flat(&mut random, 1.1, 1.3);
        let (weight, reference) = (flat(&mut random, 7000.0, 9000.0), flat(&mut random, 7950.0, 8050.0));
        (mass + difference) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / reference)) - 100_000.0
    });
    for (id, r) in [("S1-9.4.2", 0.0), ("S1-9.4.3", 0.9_f64)] {
        for row in case(&set, id)["rows"].as_array().unwrap() {
            let x = number(&row["x1"]);
            check(id, &row["exact"], "shortest95", 1e6, || {
                let (a, b) = (random.normal(), random.normal());
                let (first, second) = (x + 0.005 * a, 0.005 * (r * a + (1.0 - r * r).sqrt() * b));
                first * first + second * second
            });
        }
    }
    check("ln X", &case(&set, "NPL")["exact"], "shortest95", 1.0, || libm::log(flat(&mut random, 0.1, 1.1)));
}

/// A reading whose efficiency is Q - N + R_O I_o: 1 V in, 1 A in, 1 A out.
fn sum_of_four() -> (Correction, Spot) {
    let mut c = Correction::as_logged();
    c.grade = Grade::Settled;
    for p in [Parameter::OffsetVOutHigh, Parameter::OffsetVOutLow, Parameter::OutputResistance] {
        c.covariance[p as usize][p as usize] = 1e-6;
    }
    let reading = [1.0, 0.5, 0.0, 1.0, 1.0];
    let spot =
        Spot { reading, reading_u: [0.0, 1e-3, 0.0, 0.0, 0.0], delays_u: 0.0, state: c.apply(reading) };
    (c, spot)
}

/// Clause 9.2.2 through the fixture itself: four normal inputs of u 1 (here 0.001) add up to u 2.00 and -3.92 to 3.92.
#[test]
fn four_normal_inputs_add_up_as_published() {
    let exact = &case(&json("uncertainty/gum-s1-monte-carlo.json"), "S1-9.2.2")["exact"].clone();
    let (c, spot) = sum_of_four();
    let drawn = draw(&c, &spot).unwrap();
    let scaled = |x: f64| (x - 0.5) * 1000.0;
    assert!((drawn.u * 1000.0 / number(&exact["u"]) - 1.0).abs() < 0.02, "{drawn:?}");
    assert!(scaled(drawn.mean).abs() < 0.03, "{drawn:?}");
    for (end, expected) in [drawn.low, drawn.high].into_iter().zip(exact["interval95"].as_array().unwrap()) {
        assert!((scaled(end) - number(expected)).abs() < 0.12, "{drawn:?}");
    }
}

/// What first-order propagation misses (clauses 9.3 and 9.4): output voltage and current both within their uncertainty
/// of zero. The product of two such normal values with correlation r has mean r u^2 and variance u^4 (1 + r^2), moments of
/// the bivariate normal distribution (Isserlis, Biometrika 12 (1918) 134); the law of propagation says 0 and 0.
#[test]
fn a_product_of_two_zeros_is_not_missed() {
    for r in [0.0, 0.9] {
        let mut c = Correction::as_logged();
        c.grade = Grade::Settled;
        let (q, i) = (Parameter::OffsetVOutHigh as usize, Parameter::OffsetIOut as usize);
        c.covariance[q][q] = 1e-4;
        c.covariance[i][i] = 1e-4;
        c.covariance[q][i] = r * 1e-4;
        c.covariance[i][q] = r * 1e-4;
        let reading = [1.0, 0.0, 0.0, 1.0, 0.0];
        let spot = Spot { reading, reading_u: [0.0; 5], delays_u: 0.0, state: c.apply(reading) };
        let drawn = draw(&c, &spot).unwrap();
        let u = 1e-4 * (1.0 + r * r).sqrt();
        assert!((drawn.u / u - 1.0).abs() < 0.04, "{r}: {drawn:?}");
        assert!((drawn.mean - r * 1e-4).abs() < 0.03 * u, "{r}: {drawn:?}");
    }
}
