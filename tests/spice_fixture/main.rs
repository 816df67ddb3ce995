//! Twenty invented fixtures solved by an independent circuit simulator: does the calibration find what is true?
//!
//! `circuits/NN-name` holds the netlist of every run (`*.cir`), the waveforms that ngspice 39 computed from them
//! (`waves.csv`) and the values in them (`truth.json`); `src/bin/spice-fixtures.rs` wrote them. Noise, steps, delays,
//! gains and offsets of the logger are put on here, from a seed.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "tests")]

mod circuit;

use circuit::{Circuit, Logger, bench, exact, stated};
use wattsieve_core::fixture::{Across, Calibration, Grade, MeterReading, Parameter};
use wattsieve_core::quantity::Quantity;
use wattsieve_tests::sim::Random;

/// Half width of a 95 % interval in standard uncertainties.
const K95: f64 = 1.959_963_985;

/// A stated value beside the true one.
#[derive(Debug)]
struct Truth {
    name: String,
    truth: f64,
    value: f64,
    u: f64,
}

impl Truth {
    fn z(&self) -> f64 {
        (self.value - self.truth) / self.u
    }
}

/// A sum that the runs determine, with its name and its true value.
fn sums<'a>(circuit: &Circuit, c: &'a Calibration) -> Vec<(&'static str, &'a Quantity, f64)> {
    let at = |key: &str| circuit.number(key);
    let through = circuit.has('1');
    let (high, low) =
        (at("in_high") + at("out_high") + at("jumper_high"), at("in_low") + at("out_low") + at("jumper_low"));
    let input = at("in_high") + at("in_low") + at("shared") + at("jumper_high");
    let output = at("out_high") + at("out_low") + at("shared") + at("jumper_high");
    let s = &c.report.sums;
    let difference = circuit.truth["name"] == "nothing-off";
    let mut all = Vec::new();
    if through {
        all.push(("path", &s.path, high + low));
        if !difference {
            all.push(("high side", &s.high_side, high));
            all.push(("low side", &s.low_side, low));
        }
    }
    if circuit.has('I') {
        all.push(("input side", &s.input_side, input));
    }
    if circuit.has('S') {
        all.push(("output side", &s.output_side, output));
    }
    all
}

/// Everything that the calibration states about a circuit, beside the truth.
fn truths(circuit: &Circuit, logger: &Logger, c: &Calibration) -> Vec<Truth> {
    let at = |key: &str| circuit.number(key);
    let mut all = Vec::new();
    let mut add = |name: &str, q: &Quantity, truth: f64| {
        if let (Some(value), Some(u)) = (q.value, q.u) {
            all.push(Truth { name: name.to_owned(), truth, value, u });
        }
    };
    for (name, q, truth) in sums(circuit, c) {
        add(name, q, truth);
    }
    let r = &c.report;
    add("R_I", &r.correction_in, at("in_high") + at("in_low"));
    add("R_O", &r.correction_out, at("out_high") + at("out_low"));
    if circuit.has('X') {
        for (name, q) in [
            ("in_high", &r.contacts.in_high),
            ("in_low", &r.contacts.in_low),
            ("out_high", &r.contacts.out_high),
            ("out_low", &r.contacts.out_low),
        ] {
            add(name, q, at(name));
        }
    }
    add("current gain ratio", &r.current_gain_ratio, logger.gain[3] / logger.gain[4]);
    add("voltage gain ratio", &r.voltage_gain_ratio, logger.gain[0] / logger.gain[1]);
    let u = |p: Parameter| c.correction.covariance[p as usize][p as usize].sqrt();
    let parameter = |p: Parameter| Quantity { value: Some(c.correction.get(p)), u: Some(u(p)), why: None };
    if circuit.is("shared_ground") {
        add("shared lead", &parameter(Parameter::SharedGround), at("shared"));
    }
    if circuit.has('O') && circuit.is("common_positive") {
        add("gain of the low node", &parameter(Parameter::GainVOutLow), logger.gain[2]);
    }
    for resistor in &r.calibration_resistors {
        let letter = circuit.waves[resistor.input].letter;
        let load = circuit.load(letter).unwrap();
        let number = |key: &str| load[key].as_f64().unwrap();
        add(&format!("cold resistor {letter}"), &resistor.cold, number("cold") + number("leads"));
    }
    // The converter at work, read without noise.
    let x = circuit.service();
    let reading: [f64; 5] =
        std::array::from_fn(|k| logger.reading(k, x[k], if k >= 3 { x[k - 3] } else { 0.0 }));
    let reading = if circuit.truth["name"] == "nothing-off" {
        [reading[0], reading[1] - reading[2], 0.0, reading[3], reading[4]]
    } else {
        reading
    };
    if c.correction.grade != Grade::AsLogged {
        let eta = c.correction.apply(reading).efficiency();
        let u = eta * c.correction.variance(&c.correction.sensitivity(reading)).sqrt();
        add("efficiency", &Quantity::new(eta, u), at("efficiency"));
    }
    all
}

fn calibration(circuit: &Circuit, logger: &Logger, seed: u64) -> Calibration {
    bench(circuit, logger, stated(), seed).calibration().unwrap().clone()
}

/// Which channel of a fixture is bent, by which share at 5 A.
fn bend(circuit: &Circuit) -> Option<(usize, f64)> {
    match circuit.truth["name"].as_str().unwrap() {
        "bent-output-current" => Some((4, 0.010)),
        "bent-and-warm" => Some((4, -0.010)),
        "bent-input-current" => Some((3, 0.008)),
        "bent-shared-ground" => Some((4, 0.012)),
        _ => None,
    }
}

/// Without noise, steps and delays every sum that the runs determine comes back within a microohm.
#[test]
fn ideal_samples_give_the_sums_within_a_microohm() {
    let mut checked = 0;
    for circuit in Circuit::all() {
        let bench = bench(&circuit, &Logger::ideal(), exact(), 1);
        let c = bench.calibration().unwrap();
        for (name, q, truth) in sums(&circuit, c) {
            let value = q.value.unwrap_or_else(|| panic!("{}: {name} not given", circuit.name));
            println!("{} {name}: {:.3} microohm off", circuit.name, 1e6 * (value - truth));
            assert!((value - truth).abs() < 1e-6, "{} {name}: {value} for {truth}", circuit.name);
            checked += 1;
        }
    }
    assert!(checked >= 80, "{checked}");
}

/// Standard deviations of a count of independent misses by which the misses may exceed their expectation. Truths of
/// one fixture share their jumpers, gains and offsets, so that the count scatters more than an independent one.
const ALLOWED: f64 = 3.0;

/// Standard uncertainties beyond which none of `n` truths may be: the two-sided 95 % limit for all of them together.
///
/// **Source** Z. Sidak, Rectangular confidence regions for the means of multivariate normal distributions, Journal of
/// the American Statistical Association 62 (1967), 626: each at 0.95^(1/n), which holds for dependent ones too.
fn limit_of_all(n: usize) -> f64 {
    let each = 1.0 - libm::pow(0.95, 1.0 / n as f64);
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        let outside = libm::erfc(middle / std::f64::consts::SQRT_2);
        if outside > each { low = middle } else { high = middle }
    }
    low
}

/// Every truth lies within its 95 % interval, as far as 95 % intervals can: a right one misses one truth in twenty, so
/// that of 184 about nine are outside by chance. Asserted are therefore, over all fixtures with a straight logger: no
/// more outside than chance explains; none beyond the limit for that many truths at once; no shape named. With a bent
/// gain, which the fit does not model, the residuals name the shape. The seed was fixed before anything was looked at.
///
/// What is outside with this seed was looked at one by one: three voltage gain ratios (2.1, 2.3 and 3.0 u), which other
/// loggers on the same fixtures do not show, and one efficiency (2.9 u) of the fixture whose plus jumper was drawn 2.3
/// standard uncertainties from the stated one. `what_is_outside_is_chance` holds that to account.
#[test]
fn truths_lie_within_their_intervals_or_the_shape_is_named() {
    let (mut told, mut missed, mut whole, mut straight) = (0, 0, 0, 0);
    let mut farthest = 0.0;
    for (at, circuit) in Circuit::all().iter().enumerate() {
        let bend = bend(circuit);
        let logger = Logger::draw(&mut Random::new(1, 100 + at as u64), bend);
        let c = calibration(circuit, &logger, 1000 + at as u64);
        let shapes: Vec<&str> = c.report.residual_shape.iter().map(|shape| shape.cause.as_ref()).collect();
        let all = truths(circuit, &logger, &c);
        let out: Vec<String> = all
            .iter()
            .filter(|truth| truth.z().abs() > K95)
            .map(|truth| format!("{} {:+.1} u", truth.name, truth.z()))
            .collect();
        println!(
            "{}: {} of {} truths outside {out:?}; shapes {shapes:?}",
            circuit.name,
            out.len(),
            all.len()
        );
        if bend.is_some() {
            assert!(shapes.contains(&"channel_not_straight"), "{}: {shapes:?}", circuit.name);
            continue;
        }
        assert!(shapes.is_empty(), "{}: {shapes:?}", circuit.name);
        farthest = all.iter().map(|truth| truth.z().abs()).fold(farthest, f64::max);
        straight += 1;
        whole += usize::from(out.is_empty());
        told += all.len();
        missed += out.len();
    }
    let expected = 0.05 * told as f64;
    println!(
        "{missed} of {told} truths outside, {expected:.0} expected; in {whole} of {straight} fixtures none is outside"
    );
    assert!(told > 150, "{told}");
    assert!(farthest < limit_of_all(told), "{farthest} for {}", limit_of_all(told));
    assert!(missed as f64 <= expected + ALLOWED * (0.95 * expected).sqrt());
}

/// Loggers that each fixture is given one after the other.
const LOGGERS: u64 = 6;

/// What one seed leaves outside is chance and no gap in the model: the same fixtures behind other loggers (gains, offsets,
/// leaks, delays, noise drawn anew) with their jumpers read by a meter. A gap would move a truth's deviations all one way;
/// what rests on contacts taken as alike is left out, as that deviation belongs to the fixture and stays.
///
/// The mean of n deviations in their u scatters by 1 over root n; the limit is that of all truths together.
#[test]
fn what_is_outside_is_chance() {
    let (mut told, mut missed) = (0, 0);
    let mut means: Vec<(String, f64)> = Vec::new();
    for (at, circuit) in Circuit::all().iter().enumerate().filter(|(_, circuit)| bend(circuit).is_none()) {
        let mut sums: std::collections::BTreeMap<String, f64> = std::collections::BTreeMap::new();
        for draw in 0..LOGGERS {
            let logger = Logger::draw(&mut Random::new(50 + draw, 100 + at as u64), None);
            let mut settings = stated();
            settings.fixture.meter = jumpers_read(circuit);
            let bench = bench(circuit, &logger, settings, 100_000 + 100 * draw + at as u64);
            let c = bench.calibration().unwrap();
            let assumed = ["R_I", "R_O", "shared lead", "efficiency"];
            let all = truths(circuit, &logger, c);
            for truth in all
                .iter()
                .filter(|t| c.correction.grade == Grade::Settled || !assumed.contains(&t.name.as_str()))
            {
                told += 1;
                missed += usize::from(truth.z().abs() > K95);
                *sums.entry(truth.name.clone()).or_default() += truth.z();
            }
        }
        let mean = |(name, sum): (String, f64)| (format!("{} {name}", circuit.name), sum / LOGGERS as f64);
        means.extend(sums.into_iter().map(mean));
    }
    let limit = limit_of_all(means.len()) / (LOGGERS as f64).sqrt();
    let worst = means.iter().max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).unwrap();
    let expected = 0.05 * told as f64;
    println!("{missed} of {told} outside, {expected:.0} expected; largest mean {worst:?}, limit {limit:.2}");
    assert!(worst.1.abs() < limit, "{worst:?} {limit}");
    assert!((missed as f64) < expected + ALLOWED * (0.95 * expected).sqrt(), "{missed} of {told}");
}

/// A meter's readings across the jumpers at 3 A.
fn jumpers_read(circuit: &Circuit) -> Vec<MeterReading> {
    let read = |across, key: &str| MeterReading {
        across,
        volts: 3.0 * circuit.number(key),
        volts_u: Some(3e-7),
        amps: 3.0,
        amps_u: Some(0.0),
        logged: None,
    };
    let mut readings = vec![read(Across::JumperHigh, "jumper_high")];
    // Where the ground lead is shared there is no minus jumper.
    if !circuit.is("shared_ground") {
        readings.push(read(Across::JumperLow, "jumper_low"));
    }
    readings
}

/// No heating is claimed of a resistor that does not warm, none is missed of one that does; its rise per watt is that of
/// the thermal network. The copper wire's temperature coefficient is the published one.
///
/// **Source** 0.00393 per kelvin at 20 degrees Celsius: NBS Handbook 100, copper wire tables (1966).
#[test]
fn heating_is_found_where_it_is_and_copper_is_copper() {
    const COPPER: f64 = 0.00393;
    let (mut cold, mut warm, mut wrongly) = (0, 0, 0);
    for (at, circuit) in Circuit::all().iter().enumerate() {
        let logger = Logger::draw(&mut Random::new(2, 100 + at as u64), None);
        let c = calibration(circuit, &logger, 2000 + at as u64);
        for resistor in &c.report.calibration_resistors {
            let load = circuit.load(circuit.waves[resistor.input].letter).unwrap();
            let kelvin_per_watt: f64 =
                load["stages"].as_array().unwrap().iter().map(|s| s[0].as_f64().unwrap()).sum();
            if kelvin_per_watt == 0.0 {
                cold += 1;
                let claimed = resistor.per_watt.value.is_some() || resistor.heating_warning;
                if claimed {
                    println!("{}: {resistor:?}", circuit.name);
                }
                wrongly += usize::from(claimed);
                continue;
            }
            warm += 1;
            let rise = &resistor.per_watt;
            let (value, u) = (rise.value.unwrap(), rise.u.unwrap());
            let truth = kelvin_per_watt * load["per_kelvin"].as_f64().unwrap();
            println!("{}: {value:.3e} +- {u:.1e} per watt for {truth:.3e}", circuit.name);
            assert!((value - truth).abs() < 2.5 * u, "{}: {value} {u} for {truth}", circuit.name);
            if circuit.truth["name"] == "copper-wire" {
                let ideal = bench(circuit, &Logger::ideal(), exact(), 1);
                let resistor = &ideal.calibration().unwrap().report.calibration_resistors[0];
                let coefficient = resistor.per_watt.value.unwrap() / kelvin_per_watt;
                println!("copper: {coefficient:.5} per kelvin");
                // The candidates of the time constants stand 15 % apart.
                assert!((coefficient / COPPER - 1.0).abs() < 0.08, "{coefficient}");
            }
        }
    }
    println!("claimed of {wrongly} of {cold} cold resistors");
    assert!(wrongly == 0 && cold >= 20 && warm == 5, "{cold} {warm}");
}
