//! Raw counts of a converter to volts and amperes, and the resolution that this leaves.

use serde::{Deserialize, Serialize};

use crate::log::Comment;

use super::Role;
use super::name::electrical;
use super::spelling::Quantity;

/// What a column of counts is logged in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Logged {
    /// Counts of the converter.
    Counts,
    /// Volts or amperes: what one count is only states the resolution.
    Units,
}

/// How one count of the logger's converter comes about for one role.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RoleCounts {
    /// The role.
    pub role: Role,
    /// Bits of the converter, 1 to 32.
    pub bits: u32,
    /// Whether one of the bits is the sign, so that the range goes from minus to plus the reference.
    pub signed: bool,
    /// Voltage at the end of the range, V.
    pub reference: f64,
    /// Upper and lower resistance of a divider in front, ohm; of a voltage. Default: none.
    pub divider: Option<[f64; 2]>,
    /// Resistance across which the current is read, ohm; a sensor's volts per ampere serve as well.
    pub shunt: Option<f64>,
    /// Gain of an amplifier in front. Default 1.
    pub gain: f64,
    /// Counts with nothing applied. Default 0.
    pub zero: f64,
    /// What the column holds; default: counts where it holds whole numbers and no other unit is said.
    pub logged: Option<Logged>,
}

impl Default for RoleCounts {
    fn default() -> Self {
        Self {
            role: Role::VIn,
            bits: 0,
            signed: false,
            reference: 0.0,
            divider: None,
            shunt: None,
            gain: 1.0,
            zero: 0.0,
            logged: None,
        }
    }
}

impl RoleCounts {
    /// SI value of one count: volts for a voltage, amperes for a current.
    ///
    /// **Formula** reference / 2^bits / gain, with the sign bit left out of the bits; times
    /// (upper + lower) / lower behind a divider; over the shunt for a current.
    ///
    /// **Errors** which figure is missing or cannot be.
    pub fn step(&self) -> Result<f64, String> {
        let positive = |value: f64, what: &str| {
            if value > 0.0 && value.is_finite() {
                Ok(value)
            } else {
                Err(format!("{what} must be above 0, found {value}"))
            }
        };
        let bits = self.bits - u32::from(self.signed && self.bits > 0);
        if !(1..=32).contains(&bits) {
            return Err(format!("bits must be from 1 to 32, found {}", self.bits));
        }
        let counts = (0..bits).fold(1.0, |counts, _| counts * 2.0);
        let volts =
            positive(self.reference, "the reference in volts")? / counts / positive(self.gain, "the gain")?;
        match electrical(self.role) {
            Some(Quantity::Current) => match self.shunt {
                Some(shunt) => Ok(volts / positive(shunt, "the shunt in ohms")?),
                None => Err("a current needs the shunt in ohms (or a sensor's volts per ampere)".to_owned()),
            },
            Some(Quantity::Voltage) => match self.divider {
                Some([upper, lower]) => {
                    let lower = positive(lower, "the divider's lower resistance")?;
                    Ok(volts * (positive(upper + lower, "the divider's resistance")? / lower))
                }
                None => Ok(volts),
            },
            _ => Err("only voltages and currents are counted".to_owned()),
        }
    }
}

/// Value of one count of voltage and of current that comments state, as `LSB_V=0.000625`.
pub(super) fn stated_in(comments: &[Comment]) -> (Option<f64>, Option<f64>) {
    let find = |names: [&str; 2]| {
        comments.iter().find_map(|comment| {
            let text = comment.text.to_lowercase();
            names.iter().find_map(|name| {
                let rest = text.get(text.find(name)? + name.len()..)?;
                let rest = rest.trim_start().strip_prefix(['=', ':'])?.trim_start();
                let end = rest.find(|letter: char| !(letter.is_ascii_digit() || "+-.e".contains(letter)));
                let number = rest.get(..end.unwrap_or(rest.len()))?;
                crate::log::parse_number(number.as_bytes(), b'.').filter(|value| *value > 0.0)
            })
        })
    };
    (find(["lsb_v", "lsb_u"]), find(["lsb_i", "lsb_a"]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A converter of 16 bits with sign, range 20.48 V, and 81.92 mV across 12 mΩ: by hand
    /// 20.48 / 32768 = 0.625 mV, 0.08192 / 32768 / 0.012 = 208.3 µA.
    #[test]
    fn one_count_is_what_the_circuit_gives() {
        let volts = RoleCounts { bits: 16, signed: true, reference: 20.48, ..RoleCounts::default() };
        assert_eq!(volts.step(), Ok(0.000_625));
        let amperes = RoleCounts {
            role: Role::IIn,
            bits: 16,
            signed: true,
            reference: 0.08192,
            shunt: Some(0.012),
            ..RoleCounts::default()
        };
        assert!((amperes.step().unwrap() - 0.000_208_333_333_333).abs() < 1e-15);
        let divided = RoleCounts {
            bits: 12,
            reference: 3.3,
            gain: 2.0,
            divider: Some([90.0, 10.0]),
            ..RoleCounts::default()
        };
        assert!((divided.step().unwrap() - 3.3 / 4096.0 * 5.0).abs() < 1e-15);
    }

    #[test]
    fn says_which_figure_is_missing() {
        let none = RoleCounts { role: Role::IOut, bits: 12, reference: 3.3, ..RoleCounts::default() };
        assert!(none.step().unwrap_err().contains("shunt"));
        assert!(RoleCounts { bits: 0, ..none.clone() }.step().unwrap_err().contains("bits"));
        assert!(RoleCounts { reference: 0.0, ..none }.step().unwrap_err().contains("reference"));
    }

    #[test]
    fn reads_scales_from_comments() {
        let comment = |text: &str| vec![Comment { line: 1, text: text.to_owned() }];
        let found = stated_in(&comment("LSB_V=0.000625 LSB_I=0.000208333333 (A per count)"));
        assert_eq!(found, (Some(0.000_625), Some(0.000_208_333_333)));
        assert_eq!(stated_in(&comment("shunt_in=0.012 ohm")), (None, None));
    }
}
