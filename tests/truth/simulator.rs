//! The simulator itself against an independent circuit simulation, and the shipped demo logs against
//! the simulator.

use std::fs;
use std::path::Path;

use wattsieve_tests::sim::{
    Bench, Column, Converter, Dialect, Field, Fixture, Job, LightMode, Load, Loss, Meter, Program, Resistor,
    SEED, Wiring, demo, record,
};

/// The circuit that was solved by ngspice 39: source V0 behind leads, converter by power balance,
/// 5.0 V held at its output.
fn spice_bench() -> Bench {
    let fixture = Fixture {
        source_high: 0.0634,
        source_low: 0.0571,
        in_high: 0.0432,
        in_low: 0.0218,
        out_high: 0.0214,
        out_low: 0.0267,
        load_high: 0.0127,
        load_low: 0.0211,
        jumper_high: 0.0009,
        jumper_low: 0.0007,
        input_shunt: 0.012,
        output_shunt: 0.012,
    };
    let leads = fixture.load_leads() + fixture.output_resistance();
    Bench {
        seed: 1,
        meter: Meter {
            row_period: 0.02,
            gain: [1.0; 5],
            offset: [0.0; 5],
            leak: [0.0; 2],
            noise: [0.0; 5],
            step: [0.0; 5],
            delay: [0.0; 5],
        },
        resistors: vec![Resistor { cold: 0.68, coefficient: 0.0, stages: Vec::new() }],
        load: Load { fixed: 5.0, slope: -leads },
        converters: vec![Converter {
            name: "spice".into(),
            loss: Loss {
                fixed: 0.34,
                per_volt: 0.0,
                per_amp: 0.085,
                per_amp_volt: 0.0,
                per_amp2: 0.014,
                light_mode: Some(LightMode { ends_at: 1.70, saves: 0.12, band: 1e-6 }),
            },
            presets: Vec::new(),
            cut_off: None,
            restart_above: 0.0,
            off_current: 0.0,
            sinks: 1.0,
        }],
        dialect: Dialect {
            separator: ',',
            carriage_return: false,
            byte_order_mark: false,
            comments: Vec::new(),
            columns: Vec::new(),
        },
        jobs: Vec::new(),
        fixture,
    }
}

/// Source: node voltages printed by ngspice 39 (operating point, relative tolerance 1e-9) for this
/// circuit; columns V0, I_o, I_i, V_P, V_Q, V_N, V_A, efficiency.
const SPICE: [[f64; 8]; 7] = [
    [
        14.4,
        0.1,
        0.05063302548303,
        14.39389872043,
        4.998963799956,
        0.003773799955524,
        14.39060757377,
        0.6862099253420059,
    ],
    [
        14.4,
        1.5,
        0.5510646669345,
        14.33359670763,
        4.979913209739,
        0.05206320973916,
        14.29777750428,
        0.9518974491202644,
    ],
    [
        14.4,
        6.0,
        2.242119958086,
        14.12982454505,
        4.920478215086,
        0.2090782150863,
        13.98408674778,
        0.9568157175124623,
    ],
    [
        12.6,
        2.5,
        1.059379675942,
        12.47234474905,
        4.969594476936,
        0.08984447693554,
        12.40348507011,
        0.9512937599383,
    ],
    [
        12.6,
        6.0,
        2.58693741949,
        12.28827404095,
        4.927995235745,
        0.2165952357449,
        12.12012310868,
        0.956815717333444,
    ],
    [
        11.0,
        0.5,
        0.2525299628283,
        10.96957013948,
        4.99480515319,
        0.01885515318965,
        10.9531556919,
        0.9038322488236666,
    ],
    [
        11.0,
        6.0,
        3.002376964506,
        10.63821357578,
        4.937051817826,
        0.2256518178262,
        10.44305907308,
        0.956815717293131,
    ],
];

#[test]
fn solves_the_circuit_as_a_circuit_simulator_does() {
    let bench = spice_bench();
    let converter = &bench.converters[0];
    for [volts, asked, i_in, v_p, v_q, v_n, v_a, efficiency] in SPICE {
        let x = bench.operate(converter, volts, asked, None);
        let nodes = bench.nodes(&x);
        // The simulator's own tolerance on currents is 1e-9 of 3 A.
        for (ours, theirs) in [
            (nodes[0], v_p),
            (nodes[1], v_q),
            (nodes[2], v_n),
            (nodes[3], i_in),
            (x.v_in, v_a),
            (bench.efficiency(converter, x.v_in, asked), efficiency),
        ] {
            assert!((ours - theirs).abs() < 1e-8, "{volts} V {asked} A: {ours} against {theirs}");
        }
    }
}

/// Source: the same circuit straight through, solved by ngspice 39: 5.5 V, 0.68 ohm.
#[test]
fn writes_a_straight_through_run_as_a_circuit_simulator_solves_it() {
    let mut bench = spice_bench();
    bench.dialect.columns = (0..5)
        .map(|k| Column { field: Field::Channel(k), name: k.to_string(), scale: 1.0, decimals: 10 })
        .collect();
    let mut job = Job::new("through.csv", Wiring::StraightThrough(0), 3);
    job.volts = Program::hold(5.5);
    let text = String::from_utf8(record(&bench, &job, 0).bytes).unwrap();
    let last: Vec<f64> =
        text.lines().last().unwrap().split(',').map(|field| field.parse().unwrap()).collect();
    let spice = [4.801_633_298_2, 4.422_023_182_3, 0.285_142_255_0, 5.795_574_288_7, 5.795_574_288_7];
    for (ours, theirs) in last.iter().zip(spice) {
        assert!((ours - theirs).abs() < 1e-9, "{ours} against {theirs}");
    }
}

#[test]
fn shipped_logs_are_what_the_generator_writes() {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../demo-data"));
    let bench = demo(SEED);
    let mut total = 0;
    for (stream, job) in bench.jobs.iter().enumerate() {
        let recording = record(&bench, job, stream as u64);
        let shipped = fs::read(folder.join(&recording.file)).unwrap();
        assert!(shipped == recording.bytes, "{} differs: run cargo demo-logs", recording.file);
        total += shipped.len();
    }
    assert!(total < 8_000_000);
}
