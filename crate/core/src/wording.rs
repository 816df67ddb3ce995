//! Numbers inside sentences: rounded by their own uncertainty.
//!
//! Every ± is a 95 % interval, 1.96 standard uncertainties; efficiency is said in percent and
//! its ± in points.

/// Coverage factor of every ± in a sentence.
/// **Source** JCGM 100:2008 table G.1: 95 % of a normal distribution.
pub(crate) const COVERAGE: f64 = 1.96;

/// Decimals at which an expanded uncertainty keeps two significant digits, none above ten.
fn decimals(expanded: f64) -> usize {
    if !(expanded > 0.0 && expanded.is_finite()) {
        return 3;
    }
    let exponent = libm::floor(libm::log10(expanded)) as i32;
    // 0.0996 rounds to 0.10: one digit is dropped there, never more.
    (1 - exponent).clamp(0, 9) as usize
}

/// A number with a true minus sign.
fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{:.*}", decimals, value.abs());
    let zero = !text.bytes().any(|b| (b'1'..=b'9').contains(&b));
    if value < 0.0 && !zero { format!("\u{2212}{text}") } else { text }
}

/// The prefix in which a value of this unit is said, and what it multiplies by.
fn prefix(size: f64, unit: &'static str) -> (&'static str, f64) {
    match unit {
        "W" if size < 1.0 => ("mW", 1e3),
        "A" if size < 0.1 => ("mA", 1e3),
        "ohm" if size < 1.0 => ("m\u{3a9}", 1e3),
        "ohm" => ("\u{3a9}", 1.0),
        "J" if size >= 1e4 => ("kJ", 1e-3),
        other => (other, 1.0),
    }
}

/// `48 ± 4 mW`, or `about 48 mW` where the uncertainty is not known.
///
/// **Units** SI; `u` standard uncertainty.
pub(crate) fn said(value: f64, u: Option<f64>, unit: &'static str) -> String {
    let (unit, scale) = prefix(value.abs(), unit);
    match u {
        Some(u) if u > 0.0 => {
            let expanded = COVERAGE * u * scale;
            let places = decimals(expanded);
            format!("{} \u{b1} {} {unit}", signed(value * scale, places), signed(expanded, places))
        }
        Some(_) => format!("{} {unit}", plain(value * scale)),
        None => format!("about {} {unit}", plain(value * scale)),
    }
}

/// `95.72 % ± 0.04 points`.
pub(crate) fn efficiency(value: f64, u: Option<f64>) -> String {
    match u {
        Some(u) if u > 0.0 => {
            let expanded = 100.0 * COVERAGE * u;
            let places = decimals(expanded);
            format!("{} % \u{b1} {} points", signed(100.0 * value, places), signed(expanded, places))
        }
        Some(_) => format!("{:.2} %", 100.0 * value),
        None => format!("about {:.1} %", 100.0 * value),
    }
}

/// `0.31 ± 0.05 points` for a difference of efficiencies.
pub(crate) fn points(value: f64, u: Option<f64>) -> String {
    match u {
        Some(u) if u > 0.0 => {
            let expanded = 100.0 * COVERAGE * u;
            let places = decimals(expanded);
            format!("{} \u{b1} {} points", signed(100.0 * value, places), signed(expanded, places))
        }
        Some(_) => format!("{} points", plain(100.0 * value)),
        None => format!("about {} points", plain(100.0 * value)),
    }
}

/// Three significant digits without closing zeros, for limits and sizes that carry no ± of their
/// own.
pub(crate) fn plain(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return signed(value, 0);
    }
    let exponent = libm::floor(libm::log10(value.abs())) as i32;
    let places = (2 - exponent).clamp(0, 9) as usize;
    let text = signed(value, places);
    if places == 0 {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// The size of a ±: at most two significant digits.
pub(crate) fn size(expanded: f64) -> String {
    if expanded > 0.0 { signed(expanded, decimals(expanded)) } else { plain(expanded) }
}

/// A place: `12.4 V`, `0.70 A`, `35 mA`.
pub(crate) fn place(value: f64, unit: &'static str) -> String {
    match unit {
        "V" => format!("{} V", signed(value, 1)),
        "A" if value.abs() < 0.1 => format!("{} mA", signed(1e3 * value, 0)),
        "A" => format!("{} A", signed(value, 2)),
        _ => format!("{} {unit}", plain(value)),
    }
}

/// A share in whole percent; never 0 or 100 unless it is.
pub(crate) fn share(value: f64) -> String {
    let percent = 100.0 * value;
    if percent > 0.0 && percent < 1.0 {
        "under 1 %".to_owned()
    } else if percent > 99.0 && percent < 100.0 {
        "over 99 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_by_the_uncertainty() {
        assert_eq!(said(0.0482, Some(0.0021), "W"), "48.2 \u{b1} 4.1 mW");
        assert_eq!(said(-3.4712, Some(0.05), "W"), "\u{2212}3.471 \u{b1} 0.098 W");
        assert_eq!(said(0.1199, Some(0.0002), "ohm"), "119.90 \u{b1} 0.39 m\u{3a9}");
        assert_eq!(said(152.0, Some(31.0), "W"), "152 \u{b1} 61 W");
        assert_eq!(said(3.2, None, "A"), "about 3.2 A");
        assert_eq!(efficiency(0.957_17, Some(0.000_19)), "95.717 % \u{b1} 0.037 points");
        assert_eq!(points(-0.000_04, Some(0.001)), "0.00 \u{b1} 0.20 points");
        assert_eq!(plain(0.012_34), "0.0123");
        assert_eq!(share(0.004), "under 1 %");
        assert_eq!(place(0.035, "A"), "35 mA");
    }
}
