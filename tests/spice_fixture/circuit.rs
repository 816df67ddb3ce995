//! A kept circuit: its truth and its waveforms, and how an imperfect logger writes them down.

use std::fmt::Write as _;
use std::path::PathBuf;

use serde_json::Value;
use wattsieve_core::bench::{Bench, InputSettings, Kind, Settings};
use wattsieve_core::fixture::{ChannelAccuracy, Stated};
use wattsieve_tests::sim::Random;

/// Standard uncertainty of the input current channel's gain, stated to the analysis.
pub(crate) const CURRENT_GAIN_U: f64 = 0.002;

/// Ideal waveforms of one run at the five channels.
pub(crate) struct Wave {
    pub(crate) letter: char,
    time: Vec<f64>,
    columns: [Vec<f64>; 5],
}

impl Wave {
    /// A channel at any time, straight between the simulator's points.
    fn at(&self, channel: usize, time: f64) -> f64 {
        let after = self.time.partition_point(|t| *t < time).clamp(1, self.time.len() - 1);
        let (a, b) = (self.time[after - 1], self.time[after]);
        let part = ((time - a) / (b - a)).clamp(0.0, 1.0);
        let column = &self.columns[channel];
        column[after - 1] + part * (column[after] - column[after - 1])
    }

    fn end(&self) -> f64 {
        self.time[self.time.len() - 1]
    }
}

/// One fixture of `circuits`.
pub(crate) struct Circuit {
    pub(crate) name: String,
    pub(crate) truth: Value,
    pub(crate) waves: Vec<Wave>,
}

impl Circuit {
    /// All, in order of their folders.
    pub(crate) fn all() -> Vec<Self> {
        let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("spice_fixture/circuits");
        let mut folders: Vec<PathBuf> = std::fs::read_dir(root).unwrap().map(|f| f.unwrap().path()).collect();
        folders.sort();
        folders
            .iter()
            .map(|folder| {
                let read = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
                let truth: Value = serde_json::from_str(&read("truth.json")).unwrap();
                Self {
                    name: folder.file_name().unwrap().to_string_lossy().into_owned(),
                    waves: waves(&read("waves.csv")),
                    truth,
                }
            })
            .collect()
    }

    /// A number of the truth.
    pub(crate) fn number(&self, key: &str) -> f64 {
        self.truth[key].as_f64().unwrap()
    }

    /// Whether the truth says so.
    pub(crate) fn is(&self, key: &str) -> bool {
        self.truth[key].as_bool().unwrap()
    }

    /// Whether it has a run of this letter.
    pub(crate) fn has(&self, letter: char) -> bool {
        self.waves.iter().any(|wave| wave.letter == letter)
    }

    /// The ideal readings at work.
    pub(crate) fn service(&self) -> [f64; 5] {
        std::array::from_fn(|k| self.truth["service"][k].as_f64().unwrap())
    }

    /// The load of a straight-through run.
    pub(crate) fn load(&self, letter: char) -> Option<&Value> {
        letter.to_digit(10).map(|digit| &self.truth["loads"][digit as usize - 1])
    }
}

fn waves(text: &str) -> Vec<Wave> {
    let mut waves: Vec<Wave> = Vec::new();
    for line in text.lines().skip(1) {
        let (letter, rest) = line.split_once(',').unwrap();
        let letter = letter.chars().next().unwrap();
        if waves.last().is_none_or(|wave| wave.letter != letter) {
            waves.push(Wave { letter, time: Vec::new(), columns: Default::default() });
        }
        let wave = waves.last_mut().unwrap();
        let mut fields = rest.split(',').map(|field| field.parse::<f64>().unwrap());
        wave.time.push(fields.next().unwrap());
        for column in &mut wave.columns {
            column.push(fields.next().unwrap());
        }
    }
    waves
}

/// What a logger makes of true values. Channels in the order V_P, V_Q, V_N, I_1, I_2.
#[derive(Clone, Debug)]
pub(crate) struct Logger {
    pub(crate) period: f64,
    pub(crate) gain: [f64; 5],
    pub(crate) offset: [f64; 5],
    /// A per V of V_P and V_Q.
    pub(crate) leak: [f64; 2],
    pub(crate) noise: [f64; 5],
    pub(crate) step: [f64; 5],
    pub(crate) delay: [f64; 5],
    /// A channel whose gain changes with the current, and by which share at 5 A.
    pub(crate) bent: Option<(usize, f64)>,
    decimals: usize,
}

impl Logger {
    /// Without any error.
    pub(crate) fn ideal() -> Self {
        Self {
            period: 0.05,
            gain: [1.0; 5],
            offset: [0.0; 5],
            leak: [0.0; 2],
            noise: [0.0; 5],
            step: [0.0; 5],
            delay: [0.0; 5],
            bent: None,
            decimals: 9,
        }
    }

    /// Drawn from what the analysis is told: voltage gains 1 +- 0.1 %, input current gain 1 +- 0.2 %, leaks
    /// 0 +- 0.5 mA/V; offsets and the output current's gain are found from the runs or judged by their size.
    pub(crate) fn draw(random: &mut Random, bent: Option<(usize, f64)>) -> Self {
        let mut about = |u: f64| u * random.normal();
        let gain = [
            1.0 + about(1e-3),
            1.0 + about(1e-3),
            1.0 + about(1e-3),
            1.0 + about(CURRENT_GAIN_U),
            1.0 + about(0.005),
        ];
        let offset = [0.002, 0.002, 0.001, 0.003, 0.003].map(&mut about);
        let leak = [about(0.0005), about(0.0005)];
        // Five channels one after the other, in a drawn order.
        let scan = random.between(0.0005, 0.004);
        let mut delay: [f64; 5] = std::array::from_fn(|k| k as f64 * scan);
        for last in (1..5).rev() {
            delay.swap(last, random.below(last + 1));
        }
        let volt = random.between_log(0.0006, 0.002);
        let amp = random.between_log(0.001, 0.003);
        Self {
            period: 0.02,
            gain,
            offset,
            leak,
            noise: [volt, volt, 0.4 * volt, amp, amp],
            step: [0.001, 0.001, 0.0002, 0.001, 0.001],
            delay,
            bent,
            decimals: 4,
        }
    }

    /// True values of one instant without noise.
    pub(crate) fn reading(&self, channel: usize, value: f64, node: f64) -> f64 {
        let mut gain = self.gain[channel];
        if let Some((bent, share)) = self.bent
            && bent == channel
        {
            gain *= 1.0 + share * value / 5.0;
        }
        let leak = if channel >= 3 { self.leak[channel - 3] * node } else { 0.0 };
        gain * value + self.offset[channel] + leak
    }

    /// The log of one run as text; the output as one difference where asked.
    pub(crate) fn log(&self, wave: &Wave, difference: bool, random: &mut Random) -> String {
        let mut text = if difference {
            "t [s],V_in [V],V_out [V],I_in [A],I_out [A]\n".to_owned()
        } else {
            "t [s],V_in [V],V_out+ [V],V_out- [V],I_in [A],I_out [A]\n".to_owned()
        };
        let rows = (wave.end() / self.period) as usize;
        for row in 0..rows {
            let time = row as f64 * self.period;
            let mut value: [f64; 5] = std::array::from_fn(|k| {
                let at = time + self.delay[k];
                // The channel of the output current hangs on the output's high node.
                let node = if k >= 3 { wave.at(k - 3, at) } else { 0.0 };
                self.reading(k, wave.at(k, at), node) + self.noise[k] * random.normal()
            });
            if difference {
                value[1] -= value[2];
            }
            let steps = value.iter().zip(self.step);
            let written: Vec<f64> =
                steps.map(|(x, step)| if step > 0.0 { (x / step).round() * step } else { *x }).collect();
            write!(text, "{time:.4}").unwrap();
            for (k, x) in written.iter().enumerate() {
                if !(difference && k == 2) {
                    write!(text, ",{x:.*}", self.decimals).unwrap();
                }
            }
            text.push('\n');
        }
        text
    }
}

/// A bench that was given every calibration run of a circuit, kinds and stated resistors with them.
pub(crate) fn bench(circuit: &Circuit, logger: &Logger, settings: Settings, seed: u64) -> Bench {
    let difference = circuit.truth["name"] == "nothing-off";
    let mut settings = settings;
    settings.fixture.shared_ground = circuit.is("shared_ground");
    settings.fixture.common_positive = circuit.is("common_positive");
    for wave in &circuit.waves {
        let kind = match wave.letter {
            'Z' => Kind::AllOff,
            'O' => Kind::OpenSweep,
            'I' => Kind::InputShorted,
            'S' => Kind::OutputShorted,
            'X' => Kind::CrossBridge,
            _ => Kind::StraightThrough,
        };
        // The value of the first resistor of some fixtures is known, of the others none.
        let stated = wave.letter == '1' && circuit.has('I') && !circuit.has('X');
        let resistor = circuit.load(wave.letter).filter(|_| stated).map(|load| {
            let value = load["cold"].as_f64().unwrap();
            Stated { value, u: Some(0.0001) }
        });
        settings.inputs.push(InputSettings { kind: Some(kind), resistor, ..InputSettings::default() });
    }
    let mut bench = Bench::new(settings);
    for (stream, wave) in circuit.waves.iter().enumerate() {
        let text = logger.log(wave, difference, &mut Random::new(seed, 1 + stream as u64));
        let input = bench.begin(&format!("{}.csv", wave.letter), None);
        bench.push(input, text.as_bytes());
        bench.finish(input);
    }
    bench.complete();
    bench
}

/// Settings that state the input current's gain as the logger was drawn.
pub(crate) fn stated() -> Settings {
    let mut settings = Settings::default();
    settings.fixture.channels.i_in =
        ChannelAccuracy { gain: Some(CURRENT_GAIN_U), ..ChannelAccuracy::default() };
    settings
}

/// Settings that take every gain as exact.
pub(crate) fn exact() -> Settings {
    let mut settings = Settings::default();
    let channels = &mut settings.fixture.channels;
    for channel in [
        &mut channels.v_in,
        &mut channels.v_out_high,
        &mut channels.v_out_low,
        &mut channels.i_in,
        &mut channels.i_out,
    ] {
        *channel = ChannelAccuracy { gain: Some(0.0), offset: Some(0.0), ..ChannelAccuracy::default() };
    }
    settings.fixture.leak = 0.0;
    settings
}
