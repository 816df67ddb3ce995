//! Colours: the page's look, the map of efficiency, the pair of hues of a difference.

mod cividis;
mod look;
mod ramp;

pub use cividis::CIVIDIS;
pub use look::{DARK, LIGHT, Look, PRINT, Theme};
pub use ramp::{Ramp, Slots, difference_table, efficiency_table, slot};

/// Red, green and blue, sRGB, 0 to 255.
pub type Rgb = [u8; 3];

/// A colour so far on the way from one to another, mixed in sRGB; the share is held in 0 to 1.
#[must_use]
pub fn mix(from: Rgb, to: Rgb, share: f64) -> Rgb {
    let share = share.clamp(0.0, 1.0);
    std::array::from_fn(|k| {
        let (a, b) = (f64::from(from[k]), f64::from(to[k]));
        libm::round(a + (b - a) * share) as u8
    })
}

/// Relative luminance, 0 to 1.
///
/// **Source** WCAG 2.2, definition of relative luminance.
#[must_use]
pub fn luminance(colour: Rgb) -> f64 {
    let linear = colour.map(|byte| {
        let v = f64::from(byte) / 255.0;
        if v <= 0.04045 { v / 12.92 } else { libm::pow((v + 0.055) / 1.055, 2.4) }
    });
    0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
}

/// Contrast ratio of two colours, 1 to 21.
///
/// **Source** WCAG 2.2, definition of contrast ratio.
#[must_use]
pub fn contrast(a: Rgb, b: Rgb) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    let (light, dark) = if a > b { (a, b) } else { (b, a) };
    (light + 0.05) / (dark + 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published table, carried whole in `reference/cividis.csv`: Nunez, Anderton, Renslow 2018.
    const PUBLISHED: &str = include_str!("../../reference/cividis.csv");

    #[test]
    fn cividis_is_the_published_table() {
        let mut rows = 0;
        for (line, colour) in PUBLISHED.lines().skip(1).zip(CIVIDIS) {
            let cells: Vec<&str> = line.split(',').collect();
            for k in 0..3 {
                let share: f64 = cells[k + 1].parse().unwrap();
                assert_eq!(colour[k], (share * 255.0 + 0.5) as u8, "{line}");
            }
            let published: f64 = cells[5].parse().unwrap();
            assert!((luminance(colour) - published).abs() < 5e-3, "{line}: {}", luminance(colour));
            rows += 1;
        }
        assert_eq!(rows, 256);
    }

    #[test]
    fn cividis_only_gets_lighter() {
        for pair in CIVIDIS.windows(2) {
            assert!(luminance(pair[1]) >= luminance(pair[0]) - 1e-4);
        }
    }

    /// Thresholds of WCAG 2.2, 1.4.3 (text 4.5) and 1.4.11 (marks 3), on every ground of a theme.
    #[test]
    fn the_look_can_be_read() {
        for theme in [LIGHT, DARK, PRINT] {
            for ground in [theme.paper, theme.plate, theme.wash] {
                for (name, colour, least) in [
                    ("ink", theme.ink, 4.5),
                    ("second ink", theme.ink_2, 4.5),
                    ("third ink", theme.ink_3, 4.5),
                    ("copper", theme.copper, 4.5),
                    ("slate", theme.slate, 4.5),
                    ("line", theme.line, 3.0),
                ] {
                    let found = contrast(colour, ground);
                    assert!(found >= least - 0.02, "{name} {colour:?} on {ground:?}: {found}");
                }
            }
            assert!(contrast(theme.plate, theme.copper) >= 4.5);
        }
    }

    /// Black on white is 21 to 1 by the definition in WCAG 2.2.
    #[test]
    fn contrast_has_its_published_ends() {
        assert_eq!(contrast([0; 3], [255; 3]), 21.0);
        assert_eq!(contrast([9, 9, 9], [9, 9, 9]), 1.0);
    }

    #[test]
    fn difference_is_the_plate_at_zero_and_hues_apart() {
        for theme in [LIGHT, DARK] {
            let table = difference_table(&theme);
            let distance = |a: Rgb, b: Rgb| (0..3).map(|k| a[k].abs_diff(b[k]) as u32).sum::<u32>();
            assert!(distance(table[127], theme.plate) <= 4 && distance(table[128], theme.plate) <= 4);
            for colour in table {
                assert!(contrast(theme.ink, colour) >= 4.5, "a number on {colour:?} cannot be read");
            }
            assert!(table[255][0] > table[255][2] && table[0][2] > table[0][0]);
        }
    }
}
