//! Raw counts of a converter to volts and amperes.

use crate::log::Comment;

/// How one count of the logger's converter comes about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counts {
    /// Bits of the converter; a signed converter's sign bit is not counted.
    pub bits: u32,
    /// Voltage at the end of its range, V.
    pub reference_volts: f64,
    /// Gain of the amplifier in front of it; 1 for none.
    pub amplifier_gain: f64,
}

impl Counts {
    /// Volts at the converter's amplifier input for one count.
    ///
    /// **Formula** reference / 2^bits / gain.
    #[must_use]
    pub fn volts_at_input(self) -> f64 {
        let mut counts = 1.0;
        for _ in 0..self.bits.min(64) {
            counts *= 2.0;
        }
        self.reference_volts / counts / self.amplifier_gain
    }

    /// Volts for one count behind a divider of upper and lower resistance, ohm.
    #[must_use]
    pub fn volts_behind_divider(self, upper_ohms: f64, lower_ohms: f64) -> f64 {
        self.volts_at_input() * (upper_ohms + lower_ohms) / lower_ohms
    }

    /// Amperes for one count across a shunt, ohm.
    #[must_use]
    pub fn amperes_across_shunt(self, shunt_ohms: f64) -> f64 {
        self.volts_at_input() / shunt_ohms
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
        let volts = Counts { bits: 15, reference_volts: 20.48, amplifier_gain: 1.0 };
        assert_eq!(volts.volts_at_input(), 0.000_625);
        let amperes = Counts { bits: 15, reference_volts: 0.08192, amplifier_gain: 1.0 };
        assert!((amperes.amperes_across_shunt(0.012) - 0.000_208_333_333_333).abs() < 1e-15);
        let divided = Counts { bits: 12, reference_volts: 3.3, amplifier_gain: 2.0 };
        assert!((divided.volts_behind_divider(90.0, 10.0) - 3.3 / 4096.0 * 5.0).abs() < 1e-15);
    }

    #[test]
    fn reads_scales_from_comments() {
        let comment = |text: &str| vec![Comment { line: 1, text: text.to_owned() }];
        let found = stated_in(&comment("LSB_V=0.000625 LSB_I=0.000208333333 (A per count)"));
        assert_eq!(found, (Some(0.000_625), Some(0.000_208_333_333)));
        assert_eq!(stated_in(&comment("shunt_in=0.012 ohm")), (None, None));
    }
}
