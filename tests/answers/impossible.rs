//! Rows that give more power than they take are told, with their number, and good runs are not accused.

use wattsieve_core::finding::{Finding, Settings, answer};
use wattsieve_core::fixture::{Correction, Grade};
use wattsieve_core::sieve::Reason;

use crate::support::{Draw, Table, exact};

const NOISE: [f64; 5] = [0.002, 0.002, 0.001, 0.003, 0.003];

/// A 12 V to 5 V converter at so many rows and this efficiency, the output current swept.
fn run(rows: usize, efficiency: f64, correction: Correction) -> Table {
    let mut draw = Draw(31);
    let readings = (0..rows).map(|row| {
        let i_out = 0.5 + 2.0 * (row as f64 / 200.0).fract();
        let mut reading = [12.0, 5.0, 0.0, 5.0 * i_out / 12.0 / efficiency, i_out];
        for (value, noise) in reading.iter_mut().zip(NOISE) {
            *value += noise * draw.normal();
        }
        reading
    });
    Table::new(readings.collect(), correction, NOISE)
}

fn told(table: &Table) -> Option<Finding> {
    answer(table, &Settings::default()).findings.into_iter().find(|finding| finding.code == "above_one")
}

#[test]
fn a_run_that_mostly_reads_above_unity_is_told_with_its_rows() {
    // Input and output exchanged: nine tenths become ten ninths.
    let swapped = run(600, 1.0 / 0.9, exact());
    let finding = told(&swapped).unwrap();
    assert!(finding.text.starts_with("600 of 600 rows (100 %)"), "{}", finding.text);
    assert_eq!(finding.numbers["count"].value, Some(600.0));
    assert_eq!(finding.numbers["share"].value, Some(1.0));
    assert_eq!(finding.rows, vec![[0, 599]]);
    assert!(finding.text.contains("swapped") && finding.text.contains("straight-through"));
}

#[test]
fn readings_without_sense_are_told_though_their_noise_hides_every_single_row() {
    let mut draw = Draw(8);
    let mut between = |low: f64, high: f64| low + (high - low) * draw.uniform();
    let readings: Vec<[f64; 5]> = (0..42)
        .map(|_| [between(8.0, 14.0), between(4.0, 6.0), 0.0, between(0.05, 1.0), between(0.1, 6.0)])
        .collect();
    let above = readings.iter().filter(|r| r[1] * r[4] > r[0] * r[3]).count();
    assert!(above > 28, "{above}");
    let mut table = Table::new(readings, Correction::as_logged(), [2.0, 0.6, 0.0, 0.3, 2.0]);
    // Such noise leaves five rows that count as on.
    for mask in &mut table.masks[5..] {
        *mask |= Reason::Off.bit();
    }
    let finding = told(&table).unwrap();
    assert!(finding.text.starts_with(&format!("{above} of 42 rows")), "{}", finding.text);
    // Rows taken out are no evidence.
    for (mask, reading) in table.masks.iter_mut().zip(&table.readings) {
        if reading[1] * reading[4] > reading[0] * reading[3] {
            *mask |= Reason::Rare.bit();
        }
    }
    assert_eq!(told(&table), None);
}

#[test]
fn good_runs_are_not_accused() {
    assert_eq!(told(&run(600, 0.9, exact())), None);
    // A linear regulator next to its input: scatter puts nearly half the rows above.
    assert_eq!(told(&run(600, 0.9999, exact())), None);
    // Half a per cent above, where the input current's gain is known to one.
    let mut known = exact();
    known.covariance[3][3] = 1e-4;
    assert_eq!(known.grade, Grade::Settled);
    assert_eq!(told(&run(600, 1.005, known)), None);
    assert!(told(&run(600, 1.005, exact())).is_some());
    // An output that was never on: its current reads an offset.
    let mut off = run(600, 0.9, exact());
    for (mask, reading) in off.masks.iter_mut().zip(&mut off.readings) {
        *mask |= Reason::Off.bit();
        (reading[3], reading[4]) = (1e-4, 2e-3);
    }
    assert_eq!(told(&off), None);
}

#[test]
fn single_rows_by_more_than_their_uncertainty_are_told_by_their_label() {
    let mut table = run(600, 0.9, exact());
    for (row, mask) in table.masks.iter_mut().enumerate() {
        if (100..130).contains(&row) {
            *mask |= Reason::AboveOne.bit();
            table.readings[row][3] *= 0.8;
        }
    }
    let finding = told(&table).unwrap();
    assert!(finding.text.starts_with("30 rows (5 % of the operating ones)"), "{}", finding.text);
    assert_eq!((finding.numbers["count"].value, finding.rows), (Some(30.0), vec![[100, 129]]));
}
