//! The circuit: fixture, logger, converter, load and calibration resistor.
//!
//! ```text
//! S+ -a- P -pa- A+ | converter | B+ -bq- Q -c- L+   load   L- -d- N -nb- B-      A- -ag- G -f- S-
//! ```
//! Shunts are part of pa and bq. Every node voltage is against G.

use serde::Serialize;

/// Resistances of the fixture's pieces, ohm.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fixture {
    /// Source to P, cable included.
    pub source_high: f64,
    /// G to source, cable included.
    pub source_low: f64,
    /// P to the converter's input +, shunt included.
    pub in_high: f64,
    /// The converter's input - to G.
    pub in_low: f64,
    /// The converter's output + to Q, shunt included.
    pub out_high: f64,
    /// N to the converter's output -.
    pub out_low: f64,
    /// Q to the load.
    pub load_high: f64,
    /// Load to N.
    pub load_low: f64,
    /// Jumper in place of the converter, high side.
    pub jumper_high: f64,
    /// Jumper in place of the converter, low side.
    pub jumper_low: f64,
    /// Input shunt, a part of `in_high`.
    pub input_shunt: f64,
    /// Output shunt, a part of `out_high`.
    pub output_shunt: f64,
}

impl Fixture {
    /// R_I: everything between the input sense pair and the converter's input.
    #[must_use]
    pub fn input_resistance(&self) -> f64 {
        self.in_high + self.in_low
    }

    /// R_O: everything between the converter's output and the output sense pair.
    #[must_use]
    pub fn output_resistance(&self) -> f64 {
        self.out_high + self.out_low
    }

    /// P to Q in a straight-through run, jumper included.
    #[must_use]
    pub fn high_side(&self) -> f64 {
        self.in_high + self.jumper_high + self.out_high
    }

    /// N to G in a straight-through run, jumper included.
    #[must_use]
    pub fn low_side(&self) -> f64 {
        self.out_low + self.jumper_low + self.in_low
    }

    /// Source to the input sense pair: the source resistance seen there, cell resistance left out.
    #[must_use]
    pub fn source_leads(&self) -> f64 {
        self.source_high + self.source_low
    }

    /// Output sense pair to load.
    #[must_use]
    pub fn load_leads(&self) -> f64 {
        self.load_high + self.load_low
    }
}

/// Channel values in the order V_P, V_Q, V_N, I_i, I_o (V, A).
pub type Nodes = [f64; 5];

/// The logger: `reading = gain * true + offset + leak * volts + noise`, rounded to the step.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Meter {
    /// Time between rows, s.
    pub row_period: f64,
    /// Gain per channel.
    pub gain: [f64; 5],
    /// Offset per channel, V or A.
    pub offset: [f64; 5],
    /// Amperes read per volt at P, and at Q, by the two current channels.
    pub leak: [f64; 2],
    /// Standard deviation of the noise of one reading, V or A.
    pub noise: [f64; 5],
    /// Step of the converter, V or A; 0 for none.
    pub step: [f64; 5],
    /// Instant of each channel after the row's time, s.
    pub delay: [f64; 5],
}

impl Meter {
    /// What the logger would read without noise and rounding.
    #[must_use]
    pub fn ideal(&self, nodes: Nodes) -> Nodes {
        let mut reading = std::array::from_fn(|k| self.gain[k] * nodes[k] + self.offset[k]);
        reading[3] += self.leak[0] * nodes[0];
        reading[4] += self.leak[1] * nodes[1];
        reading
    }

    /// First and last sampling instant of a row, after the row's time, s.
    #[must_use]
    pub fn span(&self) -> (f64, f64) {
        let low = self.delay.iter().copied().fold(f64::INFINITY, f64::min);
        let high = self.delay.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (low, high)
    }
}

/// A mode with less loss at light load; the change is spread over a narrow band of current.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LightMode {
    /// Ends at this output current, A.
    pub ends_at: f64,
    /// Loss saved in it, W.
    pub saves: f64,
    /// Width of the band, A.
    pub band: f64,
}

/// Loss of a converter in W at input voltage V (V) and output current I (A):
/// `fixed + per_volt V + (per_amp + per_amp_volt V) I + per_amp2 I^2`, less the light mode's saving.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Loss {
    /// W.
    pub fixed: f64,
    /// W/V.
    pub per_volt: f64,
    /// W/A.
    pub per_amp: f64,
    /// W/(A V).
    pub per_amp_volt: f64,
    /// ohm.
    pub per_amp2: f64,
    /// Light-load mode.
    pub light_mode: Option<LightMode>,
}

impl Loss {
    /// Loss, W.
    #[must_use]
    pub fn watts(&self, v_in: f64, i_out: f64) -> f64 {
        let base = self.fixed
            + self.per_volt * v_in
            + (self.per_amp + self.per_amp_volt * v_in) * i_out
            + self.per_amp2 * i_out * i_out;
        let saved = self.light_mode.as_ref().map_or(0.0, |mode| {
            mode.saves * ((mode.ends_at + 0.5 * mode.band - i_out) / mode.band).clamp(0.0, 1.0)
        });
        base - saved
    }
}

/// A converter that regulates its output current.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Converter {
    /// Its name in the truth.
    pub name: String,
    /// Loss.
    pub loss: Loss,
    /// Fixed output currents, A; empty where it is dimmed continuously.
    pub presets: Vec<f64>,
    /// Stops when its input voltage falls below, V.
    pub cut_off: Option<f64>,
    /// Starts again only when the idle input is above this, V, and the dimmer is turned down.
    pub restart_above: f64,
    /// Input current while stopped, A.
    pub off_current: f64,
    /// How far it lets its input voltage sink per ampere of output asked beyond what the source
    /// can give, V/A.
    pub sinks: f64,
}

/// A load whose voltage is `fixed + slope * current`: an emitter array, or a resistor.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Load {
    /// V.
    pub fixed: f64,
    /// ohm.
    pub slope: f64,
}

impl Load {
    /// Voltage at a current; 0 at no current.
    #[must_use]
    pub fn volts(&self, current: f64) -> f64 {
        if current > 0.0 { self.fixed + self.slope * current } else { 0.0 }
    }
}

/// A calibration resistor that warms up: `R = cold (1 + coefficient * sum of temperature rises)`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Resistor {
    /// Resistance when cold, ohm.
    pub cold: f64,
    /// 1/K.
    pub coefficient: f64,
    /// (thermal resistance in K/W, time constant in s), one or two.
    pub stages: Vec<[f64; 2]>,
}

impl Resistor {
    /// Advances the temperature rises by one interval at constant power.
    ///
    /// **Formula** exact for constant power: `x' = x e + P R_th (1 - e)`, `e = exp(-dt / tau)`.
    pub fn warm(&self, rises: &mut [f64], watts: f64, seconds: f64) {
        for (rise, [resistance, constant]) in rises.iter_mut().zip(&self.stages) {
            let keep = libm::exp(-seconds / constant);
            *rise = *rise * keep + watts * resistance * (1.0 - keep);
        }
    }

    /// Resistance at given rises, ohm.
    #[must_use]
    pub fn ohms(&self, rises: &[f64]) -> f64 {
        self.cold * (1.0 + self.coefficient * rises.iter().sum::<f64>())
    }
}
