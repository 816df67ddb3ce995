//! Writes the netlists of twenty invented fixtures, lets ngspice solve them, and keeps the waveforms.
//!
//! Needed only to make `tests/spice_fixture/circuits` anew: `cargo run -p wattsieve-tests --bin spice-fixtures`,
//! with `ngspice` installed. The tests read what is kept there and never run it.
#![allow(clippy::unwrap_used, clippy::print_stdout, reason = "a tool for contributors")]

use std::fmt::Write as _;
use std::path::Path;
use std::process::Command;

use serde_json::{Value, json};
use wattsieve_tests::sim::Random;

/// A calibration resistor: cold value, relative rise per kelvin, thermal stages `[K/W, s]`.
#[derive(Clone, Debug)]
struct Load {
    cold: f64,
    per_kelvin: f64,
    stages: Vec<[f64; 2]>,
    /// Switched 0.4 s on and 1.1 s off instead of swept up and down.
    pulsed: bool,
}

/// What one fixture is, and which runs it has: Z all off, O open sweep, 1 to 3 straight through with that load, I and S
/// input and output shorted, X cross bridge. Every fixture also has C, a converter at work.
struct Plan {
    name: &'static str,
    runs: &'static str,
    loads: Vec<Load>,
    shared_ground: bool,
    common_positive: bool,
}

fn cold(value: f64) -> Load {
    Load { cold: value, per_kelvin: 0.0, stages: Vec::new(), pulsed: false }
}

fn housed(value: f64, pulsed: bool) -> Load {
    // A housed wirewound: element to case in seconds, case to air in minutes.
    Load { cold: value, per_kelvin: 100e-6, stages: vec![[0.9, 3.0], [2.4, 75.0]], pulsed }
}

fn plans() -> Vec<Plan> {
    let plan = |name, runs, loads| Plan { name, runs, loads, shared_ground: false, common_positive: false };
    let shared = |name, runs, loads| Plan { shared_ground: true, ..plan(name, runs, loads) };
    let common = |name, runs, loads| Plan { common_positive: true, ..plan(name, runs, loads) };
    vec![
        plan("all-runs", "ZO12IS", vec![cold(0.8), cold(2.7)]),
        plan("one-through-run", "Z1", vec![cold(1.2)]),
        plan("input-shorted", "ZO1I", vec![cold(0.9)]),
        plan("output-shorted", "O1S", vec![cold(1.5)]),
        plan("nothing-off", "1IS", vec![cold(0.7)]),
        plan("three-resistors", "Z123S", vec![cold(0.6), cold(1.9), cold(5.1)]),
        plan("cross-bridge", "ZO1ISX", vec![cold(1.1)]),
        shared("shared-ground", "ZO1IS", vec![cold(0.85)]),
        shared("shared-ground-cross-bridge", "ZO12ISX", vec![cold(0.75), cold(2.4)]),
        shared("shared-ground-one-short", "Z1I", vec![cold(1.0)]),
        common("common-positive", "ZO1I", vec![cold(1.6)]),
        common("common-positive-both-shorts", "ZO12IS", vec![cold(1.3), cold(3.9)]),
        plan("warm-triangle", "ZO1I", vec![housed(0.68, false)]),
        plan("warm-pulses", "ZO1I", vec![housed(0.82, true)]),
        // NBS Handbook 100, copper wire tables: 0.00393 per kelvin at 20 degrees Celsius.
        plan(
            "copper-wire",
            "ZO1IS",
            vec![Load {
                cold: 0.74,
                per_kelvin: 0.00393,
                stages: vec![[0.05, 2.0], [0.12, 40.0]],
                pulsed: false,
            }],
        ),
        plan("bent-output-current", "ZO12I", vec![cold(0.8), cold(2.2)]),
        plan("bent-and-warm", "ZO1IS", vec![housed(0.75, false)]),
        plan("bent-input-current", "Z12S", vec![cold(0.65), cold(2.0)]),
        shared("warm-shared-ground", "ZO1IS", vec![housed(0.9, false)]),
        shared("bent-shared-ground", "ZO12IS", vec![cold(0.7), cold(2.1)]),
    ]
}

/// Resistances of one fixture, ohm.
struct Parts {
    source_high: f64,
    source_low: f64,
    input_shunt: f64,
    in_high: f64,
    in_low: f64,
    output_shunt: f64,
    out_high: f64,
    out_low: f64,
    load_high: f64,
    load_low: f64,
    shared: f64,
    jumper_high: f64,
    jumper_low: f64,
}

fn parts(random: &mut Random, shared: bool) -> Parts {
    // Contacts alike within half their mean, as is assumed where no run tells them apart.
    let mean = random.between(0.010, 0.030);
    let mut contact = || (mean * (1.0 + 0.3535 * random.normal())).max(0.1 * mean);
    let (in_high, in_low, out_high, out_low) = (contact(), contact(), contact(), contact());
    Parts {
        source_high: random.between(0.02, 0.08),
        source_low: random.between(0.02, 0.06),
        input_shunt: 0.010,
        in_high,
        in_low,
        output_shunt: 0.010,
        out_high,
        out_low,
        load_high: random.between(0.005, 0.02),
        load_low: random.between(0.005, 0.02),
        shared: if shared { (mean * (1.0 + 0.5 * random.normal())).max(0.1 * mean) } else { 0.0 },
        jumper_high: 0.0008 + 0.0002 * random.normal(),
        jumper_low: 0.0008 + 0.0002 * random.normal(),
    }
}

/// The converter at work: 5 V and 4 A out with 1.2 W of loss, behind the fixture at 12 V.
fn service(t: &mut String, plan: &Plan, a_low: &str, b_low: &str) {
    writeln!(t, "VS splus sminus 12").unwrap();
    writeln!(t, "BIN aplus {a_low} I=(V(bplus,{b_low})*4+1.2)/max(V(aplus,{a_low}),0.5)").unwrap();
    writeln!(t, "VREG bplus {b_low} 5\nILOAD lplus lminus 4").unwrap();
    if plan.common_positive {
        writeln!(t, "RINT aplus bplus 0.0005").unwrap();
    } else if !plan.shared_ground {
        writeln!(t, "RINT aminus bminus 0.0005").unwrap();
    }
    writeln!(t, ".nodeset v(aplus)=11.8 v(p)=11.9 v(p2)=11.9").unwrap();
}

/// Length of a run in seconds and of one step of the kept waveform.
fn timing(run: char, plan: &Plan) -> (f64, f64) {
    match load_of(run, plan) {
        Some(load) if load.pulsed => (90.0, 0.02),
        Some(load) if !load.stages.is_empty() => (120.0, 0.4),
        _ => (24.0, 0.6),
    }
}

fn load_of(run: char, plan: &Plan) -> Option<&Load> {
    run.to_digit(10).map(|digit| &plan.loads[digit as usize - 1])
}

/// Up, down, up, down between 0 and the top; pulses of the load; nothing.
fn drive(run: char, plan: &Plan, top: f64) -> String {
    let (end, _) = timing(run, plan);
    if load_of(run, plan).is_some_and(|load| load.pulsed) {
        // Pulses of different heights, so that the current varies.
        let mut text = "PWL(0 0".to_owned();
        let mut start = 0.2;
        let mut height = 0;
        while start + 0.5 < end {
            let level = top * (0.4 + 0.2 * f64::from(height % 4));
            write!(
                text,
                " {start:.2} 0 {:.2} {level:.4} {:.2} {level:.4} {:.2} 0",
                start + 0.02,
                start + 0.4,
                start + 0.42
            )
            .unwrap();
            start += 1.5;
            height += 1;
        }
        return text + ")";
    }
    let warm = load_of(run, plan).is_some_and(|load| !load.stages.is_empty());
    if warm {
        format!("PWL(0 0 {} {top} {end} 0)", 0.5 * end)
    } else {
        format!("PWL(0 0 {} {top} {} 0 {} {top} {end} 0)", 0.25 * end, 0.5 * end, 0.75 * end)
    }
}

/// The netlist of one run. Node 0 is the ground sense node; nodes p, q, n are the other sense nodes.
fn netlist(plan: &Plan, run: char, x: &Parts, out: &str) -> String {
    let mut t = format!("* {}, run {run}\n", plan.name);
    let mut r = |name: &str, a: &str, b: &str, ohm: f64| writeln!(t, "R{name} {a} {b} {ohm:.9}").unwrap();
    r("SRCH", "splus", "p", x.source_high);
    r("SHI", "p", "p2", x.input_shunt);
    r("PA", "p2", "aplus", x.in_high);
    r("BQ", "bplus", "q2", x.out_high);
    r("SHO", "q2", "q", x.output_shunt);
    r("LH", "q", "lplus", x.load_high);
    r("LL", "lminus", "n", x.load_low);
    r("SRCL", "0", "sminus", x.source_low);
    // Returns: each to its own terminal, or both to one lead that leads to the only ground terminal.
    let (a_low, b_low) = if plan.shared_ground {
        r("NB", "n", "k", x.out_low);
        r("AG", "k", "0", x.in_low);
        r("S", "k", "cminus", x.shared);
        ("cminus", "cminus")
    } else {
        r("NB", "n", "bminus", x.out_low);
        r("AG", "aminus", "0", x.in_low);
        ("aminus", "bminus")
    };
    match run {
        'O' | '1'..='3' => {
            r("JP", "aplus", "bplus", x.jumper_high);
            if !plan.shared_ground {
                r("JN", "bminus", "aminus", x.jumper_low);
            }
        }
        'I' => r("J", "aplus", a_low, x.jumper_high),
        'S' => r("J", "bplus", b_low, x.jumper_high),
        'X' => r("J", "aplus", b_low, x.jumper_high),
        _ => {}
    }
    // Floating ends hang on a gigaohm.
    for (at, node) in
        ["aplus", "bplus", a_low, b_low, "lplus", "lminus", "splus", "sminus"].iter().enumerate()
    {
        r(&format!("X{at}"), node, "0", 1e9);
    }
    let wave = |top: f64| drive(run, plan, top);
    match run {
        'Z' => writeln!(t, "VS splus sminus 0").unwrap(),
        'C' => service(&mut t, plan, a_low, b_low),
        'O' => {
            writeln!(t, "VS splus sminus {}", wave(15.0)).unwrap();
            if plan.common_positive {
                // Both output sense leads on one node: the low one is moved to the high one.
                writeln!(t, "RMOVED nsense q 0.001").unwrap();
            }
        }
        'I' => writeln!(t, "IS sminus splus {}", wave(5.0)).unwrap(),
        'S' => {
            writeln!(t, "IS lplus lminus {}", wave(5.0)).unwrap();
            if !plan.shared_ground {
                writeln!(t, "RTIE n 0 0.001").unwrap();
            }
        }
        'X' => {
            writeln!(t, "IS lminus splus {}", wave(5.0)).unwrap();
            // With a shared lead both minus sides hang together already: a tie would open a second way.
            if !plan.shared_ground {
                writeln!(t, "RTIE lminus sminus 0.05").unwrap();
            }
        }
        _ => {
            let load = load_of(run, plan).unwrap();
            let path =
                x.source_high + x.source_low + x.input_shunt + x.output_shunt + 4.0 * x.in_high + load.cold;
            writeln!(t, "VS splus sminus {}", wave((5.0 * path).min(12.0))).unwrap();
            if load.stages.is_empty() {
                writeln!(t, "RCAL lplus lminus {}", load.cold).unwrap();
            } else {
                let sum: Vec<String> = (0..load.stages.len()).map(|k| format!("V(t{k})")).collect();
                let ohm = format!("({}*(1+{}*({})))", load.cold, load.per_kelvin, sum.join("+"));
                writeln!(t, "BCAL lplus lminus I=V(lplus,lminus)/{ohm}").unwrap();
                for (k, [kelvin_per_watt, seconds]) in load.stages.iter().enumerate() {
                    writeln!(t, "BP{k} 0 t{k} I=V(lplus,lminus)*V(lplus,lminus)/{ohm}").unwrap();
                    writeln!(
                        t,
                        "RT{k} t{k} 0 {kelvin_per_watt}\nCT{k} t{k} 0 {:.9} IC=0",
                        seconds / kelvin_per_watt
                    )
                    .unwrap();
                }
            }
        }
    }
    let (end, step) = timing(run, plan);
    let (start, end) = if run == 'C' { ("", 1.2) } else { (" uic", end) };
    let low = if run == 'O' && plan.common_positive { "v(nsense)" } else { "v(n)" };
    write!(
        t,
        ".options reltol=1e-7 abstol=1e-13 vntol=1e-10 gmin=1e-18\n.tran {step} {end} 0 {step}{start}\n.control\nset \
         numdgt=10\nset wr_singlescale\nrun\nlinearize\nlet vp=v(p)\nlet vq=v(q)\nlet vn={low}\nlet \
         ione=(v(p)-v(p2))/{}\nlet itwo=(v(q2)-v(q))/{}\nlet va=v(aplus)-v({a_low})\nlet vb=v(bplus)-v({b_low})\nwrdata {out} vp vq \
         vn ione itwo va vb\n.endc\n.end\n",
        x.input_shunt, x.output_shunt
    )
    .unwrap();
    t
}

/// Solves a netlist; rows of time, V_P, V_Q, V_N, I_1, I_2, V_A, V_B.
fn solve(file: &Path, raw: &Path) -> Vec<Vec<f64>> {
    let run = Command::new("ngspice").arg("-b").arg(file).output().expect("ngspice is not installed");
    let text = std::fs::read_to_string(raw)
        .unwrap_or_else(|_| panic!("{}: {}", file.display(), String::from_utf8_lossy(&run.stderr)));
    text.lines().map(|line| line.split_whitespace().map(|x| x.parse().unwrap()).collect()).collect()
}

/// Ten significant digits, no longer than needed.
fn short(value: f64) -> String {
    if value.abs() < 1e-7 {
        return "0".to_owned();
    }
    let text = format!("{value:.8}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn truth(plan: &Plan, x: &Parts, at_work: &[f64]) -> Value {
    let loads: Vec<Value> = plan
        .loads
        .iter()
        .map(|load| {
            json!({ "cold": load.cold, "leads": x.load_high + x.load_low, "per_kelvin": load.per_kelvin,
                "stages": load.stages, "pulsed": load.pulsed })
        })
        .collect();
    json!({
        "note": "Invented; solved by ngspice, netlists beside.",
        "name": plan.name, "runs": plan.runs, "loads": loads,
        "shared_ground": plan.shared_ground, "common_positive": plan.common_positive,
        "in_high": x.input_shunt + x.in_high, "in_low": x.in_low,
        "out_high": x.output_shunt + x.out_high, "out_low": x.out_low, "shared": x.shared,
        "jumper_high": x.jumper_high, "jumper_low": if plan.shared_ground { 0.0 } else { x.jumper_low },
        "service": &at_work[1..6],
        "efficiency": at_work[7] * at_work[5] / (at_work[6] * at_work[4]),
    })
}

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("spice_fixture/circuits");
    let raw = std::env::temp_dir().join("wattsieve-spice.data");
    for (at, plan) in plans().iter().enumerate() {
        let folder = root.join(format!("{:02}-{}", at + 1, plan.name));
        std::fs::create_dir_all(&folder).unwrap();
        let x = parts(&mut Random::new(5005, at as u64), plan.shared_ground);
        let mut waves = "run,t,v_p,v_q,v_n,i_1,i_2\n".to_owned();
        let mut at_work = Vec::new();
        for run in plan.runs.chars().chain(['C']) {
            let _ = std::fs::remove_file(&raw);
            let file = folder.join(format!("{run}.cir"));
            std::fs::write(&file, netlist(plan, run, &x, "waves.data")).unwrap();
            // Where the waveforms go is no part of the kept netlist.
            let here = std::env::temp_dir().join("wattsieve-spice.cir");
            std::fs::write(&here, netlist(plan, run, &x, raw.to_str().unwrap())).unwrap();
            for row in solve(&here, &raw) {
                if run == 'C' {
                    at_work = row;
                    continue;
                }
                let fields: Vec<String> = row[..6].iter().map(|value| short(*value)).collect();
                writeln!(waves, "{run},{}", fields.join(",")).unwrap();
            }
        }
        std::fs::write(folder.join("waves.csv"), waves).unwrap();
        let text = serde_json::to_string_pretty(&truth(plan, &x, &at_work)).unwrap();
        std::fs::write(folder.join("truth.json"), text + "\n").unwrap();
        println!("{}", plan.name);
    }
}
