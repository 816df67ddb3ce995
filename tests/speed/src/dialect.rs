//! One table of time and five channels, written in several ways.

use std::fmt::Write as _;

/// How the table is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dialect {
    /// Commas and decimal points.
    Plain,
    /// Semicolons and decimal commas.
    DecimalComma,
    /// Every cell in quotes.
    Quoted,
    /// A date with time in front.
    Dated,
    /// In every third row one cell is blank.
    Blanks,
    /// Seventeen digits, as a program writes that does not round.
    LongNumbers,
}

/// All of them with their names.
pub const DIALECTS: [(&str, Dialect); 6] = [
    ("plain", Dialect::Plain),
    ("decimal comma", Dialect::DecimalComma),
    ("quoted", Dialect::Quoted),
    ("dated", Dialect::Dated),
    ("blank cells", Dialect::Blanks),
    ("long numbers", Dialect::LongNumbers),
];

/// The table as text: time in seconds, two voltages and two currents and one more voltage, 48 bytes a
/// row where plain.
#[must_use]
pub fn log_text(rows: usize, dialect: Dialect) -> String {
    let mut out = String::with_capacity(64 * rows);
    let names = ["t_s", "vin_V", "iin_A", "vop_V", "von_V", "iout_A"];
    let (separator, quote) = match dialect {
        Dialect::DecimalComma => (';', ""),
        Dialect::Quoted => (',', "\""),
        _ => (',', ""),
    };
    let mut cells: [String; 6] = names.map(str::to_owned);
    if dialect == Dialect::Dated {
        cells[0] = "when".to_owned();
    }
    for row in 0..=rows {
        if row > 0 {
            fill(&mut cells, row - 1, dialect);
        }
        for (place, cell) in cells.iter().enumerate() {
            if place > 0 {
                out.push(separator);
            }
            out.push_str(quote);
            out.push_str(cell);
            out.push_str(quote);
        }
        out.push('\n');
    }
    out
}

fn fill(cells: &mut [String; 6], row: usize, dialect: Dialect) {
    let x = (row * 7919 % 10_007) as f64;
    let values = [
        row as f64 * 0.02,
        13.0 + x * 1e-4,
        0.13 + x * 2e-4,
        4.9 + x * 1e-5,
        0.01 + x * 1e-6,
        0.3 + x * 4e-4,
    ];
    for (place, (cell, value)) in cells.iter_mut().zip(values).enumerate() {
        cell.clear();
        // Writing to a String cannot fail.
        let _ = match (place, dialect) {
            (0, Dialect::Dated) => {
                let (seconds, milliseconds) = (row / 50, row % 50 * 20);
                let (day, hour) = (5 + seconds / 86_400, seconds / 3600 % 24);
                let (minute, second) = (seconds / 60 % 60, seconds % 60);
                write!(cell, "2024-03-{day:02} {hour:02}:{minute:02}:{second:02}.{milliseconds:03}")
            }
            (0, _) => write!(cell, "{value:.2}"),
            (4, Dialect::Blanks) if row % 3 == 1 => Ok(()),
            (_, Dialect::LongNumbers) => write!(cell, "{:.16}", value / 3.0),
            _ => write!(cell, "{value:.5}"),
        };
        if dialect == Dialect::DecimalComma {
            *cell = cell.replace('.', ",");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use wattsieve_core::log::{Settings, read};

    #[test]
    fn every_dialect_says_the_same() {
        let rows = 3_000;
        let plain = read(log_text(rows, Dialect::Plain).as_bytes(), &Settings::default());
        assert_eq!((plain.rows(), plain.columns.len()), (rows, 6));
        for (name, dialect) in DIALECTS {
            let log = read(log_text(rows, dialect).as_bytes(), &Settings::default());
            assert_eq!(log.rows(), rows, "{name}");
            for (place, (one, other)) in plain.columns.iter().zip(&log.columns).enumerate() {
                for (row, (one, other)) in one.values.iter().zip(&other.values).enumerate() {
                    let expected = match dialect {
                        Dialect::LongNumbers if place > 0 => one / 3.0,
                        _ => *one,
                    };
                    let blank = dialect == Dialect::Blanks && place == 4 && row % 3 == 1;
                    // Half of the last digit that the plain text keeps.
                    assert!(
                        if blank { other.is_nan() } else { (expected - other).abs() <= 5.1e-6 },
                        "{name}, row {row}, column {place}: {other} for {expected}"
                    );
                }
            }
        }
    }
}
