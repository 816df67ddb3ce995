//! Properties of the count, and its slow twin.

use wattsieve_core::align::{Aligned, Delays, Steps};
use wattsieve_core::sieve::{self, Counter, Counts, Kind, Picked, Settings, Slices, Vote};

use super::load;
use super::stored_cases::counts;

/// Numbers without a pattern: a linear congruential generator of full period (Knuth, TAOCP 2, 3.2.1).
pub(crate) struct Numbers(pub(crate) u64);

impl Numbers {
    pub(crate) fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// Rows along a few lines with strays, in so many columns.
fn strays(rows: usize, columns: usize, seed: u64) -> Vec<Vec<f64>> {
    let mut numbers = Numbers(seed);
    let mut table = vec![Vec::new(); columns];
    for row in 0..rows {
        let along = libm::sin(row as f64 * 0.013);
        for (axis, column) in table.iter_mut().enumerate() {
            let stray = if numbers.unit() < 0.01 { 3.0 * (numbers.unit() - 0.5) } else { 0.0 };
            column.push(along * (1.0 + axis as f64) - 0.3 * axis as f64 + 0.05 * numbers.unit() + stray);
        }
    }
    if rows > 20 {
        table[0][7] = f64::NAN;
    }
    table
}

fn count_columns(table: &[Vec<f64>], widths: &[f64], vote: Vote) -> Counts {
    let names: Vec<String> = (0..table.len()).map(|k| format!("c{k}")).collect();
    let settings = Settings {
        widths: names.iter().cloned().zip(widths.iter().copied()).collect(),
        vote,
        ..Settings::default()
    };
    let slices: Vec<&[f64]> = table.iter().map(Vec::as_slice).collect();
    sieve::count(&Slices(&slices), Kind { names, resolution: Vec::new() }, &settings)
}

/// Rows within half a width on every column, the obvious way.
fn slow_count(table: &[Vec<f64>], widths: &[f64], row: usize) -> usize {
    let near = |other: usize| {
        table.iter().zip(widths).all(|(column, width)| (column[other] - column[row]).abs() <= 0.5 * width)
    };
    (0..table[0].len()).filter(|&other| near(other)).count()
}

/// Mean of four counts in dense boxes, the obvious way.
fn slow_mean(table: &[Vec<f64>], widths: &[f64], row: usize) -> f64 {
    let key = |row: usize, shift: f64| -> Vec<i64> {
        let place = |(column, width): (&Vec<f64>, &f64)| (column[row] * (1.0 / width) - shift).floor() as i64;
        table.iter().zip(widths).map(place).collect()
    };
    let rows = table[0].len();
    let complete = |row: usize| table.iter().all(|column| column[row].is_finite());
    let same = |shift: f64| {
        let here = key(row, shift);
        (0..rows).filter(|&other| complete(other) && key(other, shift) == here).count()
    };
    [0.0, 0.25, 0.5, 0.75].map(|shift| same(shift) as f64).iter().sum::<f64>() / 4.0
}

#[test]
fn agrees_with_its_slow_twin_over_two_to_eight_columns() {
    for columns in 2..=8 {
        let table = strays(1500, columns, 17 + columns as u64);
        // The last case does not fit 64 bits of packed bins.
        for scale in [0.35, 0.08, 2e-6] {
            if scale < 1e-3 && columns < 4 {
                continue;
            }
            let widths: Vec<f64> = (0..columns).map(|axis| scale * (1.0 + 0.3 * axis as f64)).collect();
            let counts = count_columns(&table, &widths, Vote::Off);
            let mut exact = 0;
            for row in (0..1500).step_by(7) {
                let Some(count) = counts.count(row) else {
                    assert_eq!(row, 7);
                    continue;
                };
                let mean = slow_mean(&table, &widths, row);
                if mean <= 48.0 {
                    assert_eq!(count, slow_count(&table, &widths, row).min(64) as f64, "row {row}");
                    exact += 1;
                } else {
                    assert_eq!(count, mean, "row {row}");
                }
            }
            assert!(exact > 0);
            let alone = counts.cell_counts.iter().filter(|&&count| count == 1).count();
            assert!(scale > 1e-3 || alone > 1400);
        }
    }
}

/// Whether rows of two other passes lie within one width, the obvious way.
fn slowly_revisited(table: &[Vec<f64>], widths: &[f64], row: usize) -> bool {
    let near = |other: usize| {
        table.iter().zip(widths).all(|(column, width)| (column[other] - column[row]).abs() <= *width)
    };
    let apart = (0..table[0].len()).filter(|&other| other.abs_diff(row) > 5 && near(other));
    let (mut passes, mut last) = (0, None);
    for other in apart {
        passes += usize::from(last.is_none_or(|last| other - last > 5));
        last = Some(other);
    }
    passes >= 2 && slow_count(table, widths, row) <= 20
}

#[test]
fn rows_right_at_the_limit_are_told_as_by_the_slow_twin() {
    // Readings on eighths of a cell: many pairs lie exactly half a width or one width apart. The offsets, in cells, end
    // where binary64 tells no parts of a cell.
    for (offset, columns) in [(0.0, 5), (-3e6, 3), (4e15, 2)] {
        let mut numbers = Numbers(23);
        let spread = if columns == 2 { 96.0 } else { 24.0 };
        let mut table = vec![Vec::new(); columns];
        for row in 0..2000 {
            for (axis, column) in table.iter_mut().enumerate() {
                let width = 0.25 * (1.0 + axis as f64);
                let eighths = (spread * numbers.unit()).floor() + if row % 9 < 4 { 200.0 } else { 0.0 };
                column.push(width * (offset + eighths / 8.0));
            }
        }
        let widths: Vec<f64> = (0..columns).map(|axis| 0.25 * (1.0 + axis as f64)).collect();
        let counts = count_columns(&table, &widths, Vote::Revisited);
        let (mut exact, mut saved) = (0, 0);
        for row in 0..2000 {
            if slow_mean(&table, &widths, row) <= 48.0 {
                let expected = slow_count(&table, &widths, row).min(64) as f64;
                assert_eq!(counts.count(row), Some(expected), "offset {offset}, row {row}");
                assert_eq!(counts.revisited(row), slowly_revisited(&table, &widths, row), "row {row}");
                exact += 1;
                saved += usize::from(counts.revisited(row));
            }
        }
        assert!(exact > 1000 && saved > 100, "{exact} counted exactly, {saved} revisited");
    }
}

#[test]
fn a_long_log_of_rows_that_are_all_alone_is_counted_by_the_mean() {
    let mut numbers = Numbers(5);
    // Above the length from which only a share of the rows is counted exactly.
    let rows = 300_000;
    let table: Vec<Vec<f64>> = (0..5).map(|_| (0..rows).map(|_| numbers.unit()).collect()).collect();
    let counts = count_columns(&table, &[0.005; 5], Vote::Off);
    assert_eq!(counts.counted_exactly, 0);
    assert!((0..rows).step_by(1001).all(|row| counts.count(row).is_some_and(|count| count < 2.0)));
    // Where a few are alone among many alike, those few are counted exactly.
    let (mut table, lone) = (vec![vec![1.0; rows]; 5], 1000);
    for (column, others) in table.iter_mut().enumerate() {
        for row in (0..rows).step_by(rows / lone) {
            others[row] = 2.0 + numbers.unit() * (1.0 + column as f64);
        }
    }
    let counts = count_columns(&table, &[0.01; 5], Vote::Off);
    assert!((900..=1100).contains(&counts.counted_exactly), "{}", counts.counted_exactly);
}

#[test]
fn slices_do_not_change_the_counts() {
    let table = strays(30_000, 4, 5);
    let slices: Vec<&[f64]> = table.iter().map(Vec::as_slice).collect();
    for vote in [Vote::Smooth, Vote::Revisited] {
        let settings = Settings { vote, ..Settings::default() };
        let whole = sieve::count(&Slices(&slices), Kind::default(), &settings);
        for budget in [1000, 4096, 10_001] {
            let mut counter = Counter::new(&Slices(&slices), Kind::default(), &settings);
            let mut steps = 1;
            while !counter.step(&Slices(&slices), budget) {
                steps += 1;
            }
            assert!(steps > 20, "{steps} slices of {budget}");
            assert_eq!(counter.finish(), whole);
        }
    }
}

#[test]
fn moving_the_origin_flips_no_verdict() {
    for name in ["sieve_cell_run", "sieve_presets"] {
        let case = load::case(name);
        let settings = Settings { vote: Vote::Off, ..Settings::default() };
        let here = counts(&case.readings, &settings);
        let steps = Steps::default();
        let aligned = Aligned::new(&case.readings, &steps, &Delays::none());
        let picked = Picked::new(&aligned, &settings);
        for tenth in 1..=9 {
            let kind = Kind { names: picked.names().to_vec(), resolution: picked.resolution() };
            let mut fixed = settings.clone();
            fixed.widths = picked.names().iter().cloned().zip(here.widths.iter().copied()).collect();
            let mut counter = Counter::new(&picked, kind, &fixed).with_origin(f64::from(tenth) / 10.0);
            while !counter.step(&picked, usize::MAX) {}
            let moved = counter.finish();
            for least_rows in 2..=6 {
                let flips = (0..here.rows())
                    .filter(|&row| here.out(row, least_rows) != moved.out(row, least_rows))
                    .count();
                assert_eq!(flips, 0, "{name}, origin {tenth}/10, least rows {least_rows}");
            }
        }
    }
}

#[test]
fn raising_least_rows_never_keeps_more() {
    let table = strays(5000, 3, 11);
    for vote in [Vote::Off, Vote::Smooth, Vote::Revisited] {
        let counts = count_columns(&table, &[0.2, 0.3, 0.4], vote);
        let curve = sieve::share_out(&counts);
        for row in 0..counts.rows() {
            let out: Vec<bool> = (0..=20).map(|least_rows| counts.out(row, least_rows)).collect();
            assert!(out.windows(2).all(|pair| pair[0] <= pair[1]), "row {row}: {out:?}");
            let first = out.iter().position(|out| *out).map(|at| at as u32);
            assert_eq!(counts.falls_at(row).filter(|&at| at <= 20), first);
        }
        for &(least_rows, share) in &curve {
            let mut masks = vec![0; counts.rows()];
            counts.judge(least_rows, &mut masks);
            let out = masks.iter().filter(|mask| **mask != 0).count();
            assert_eq!(out as f64 / counts.rows() as f64, share);
        }
        assert!(curve[20].1 > curve[2].1);
    }
}

#[test]
fn row_order_changes_nothing_in_the_count() {
    let table = strays(4000, 4, 3);
    // A stride coprime to the number of rows visits each once.
    let order: Vec<usize> = (0..4000).map(|row| row * 1237 % 4000).collect();
    let shuffled: Vec<Vec<f64>> =
        table.iter().map(|column| order.iter().map(|&row| column[row]).collect()).collect();
    let widths = [0.2, 0.3, 0.25, 0.4];
    let (here, there) =
        (count_columns(&table, &widths, Vote::Off), count_columns(&shuffled, &widths, Vote::Off));
    for (place, &row) in order.iter().enumerate() {
        assert_eq!(here.count(row), there.count(place));
    }
    assert_eq!(here.occupied(), there.occupied());
}

#[test]
fn row_order_changes_nothing_in_a_long_log_that_begins_with_rows_that_are_alone() {
    // Counting deals such rows into parts at first, and has to look among cells later; reversed, it never deals.
    let rows = 300_000;
    let mut numbers = Numbers(31);
    let table: Vec<Vec<f64>> = (0..3)
        .map(|axis| {
            let value = |row: usize| match row {
                0..40_000 => 900.0 * numbers.unit(),
                _ => f64::from(axis) + 1.4 * numbers.unit(),
            };
            (0..rows).map(value).collect()
        })
        .collect();
    let reversed: Vec<Vec<f64>> = table.iter().map(|column| column.iter().rev().copied().collect()).collect();
    let (here, there) = (
        count_columns(&table, &[1.0, 1.0, 1.0], Vote::Off),
        count_columns(&reversed, &[1.0, 1.0, 1.0], Vote::Off),
    );
    for row in 0..rows {
        assert_eq!(here.count(row), there.count(rows - 1 - row), "row {row}");
    }
    assert_eq!(here.occupied(), there.occupied());
    assert!(here.counted_exactly > 1000 && here.counted_exactly == there.counted_exactly);
}

#[test]
fn units_of_the_channels_change_nothing() {
    let case = load::case("sieve_cell_run");
    let mut scaled = case.readings.clone();
    // Powers of two, so that rounding cannot enter.
    for (at, factor) in [(0, 1024.0), (2, 0.125), (4, 4096.0)] {
        scaled.columns[at].iter_mut().for_each(|value| *value *= factor);
        scaled.resolution[at] *= factor;
    }
    let settings = Settings::default();
    let (here, there) = (counts(&case.readings, &settings), counts(&scaled, &settings));
    assert_eq!(here.lambda, there.lambda);
    for row in 0..here.rows() {
        assert_eq!(here.count(row), there.count(row));
        assert_eq!(here.smooth(row), there.smooth(row));
    }
}

/// The same amount added to a channel: a whole number of cells flips no verdict; any other moves the origin of the
/// first, shifted count, of whose few flips the exact count leaves at most one row in a thousand.
#[test]
fn shifting_a_channel_changes_nothing() {
    let grid = |value: f64| (value * 1024.0).round() / 1024.0;
    let table: Vec<Vec<f64>> =
        strays(4000, 3, 21).iter().map(|column| column.iter().map(|value| grid(*value)).collect()).collect();
    // The moved channel's width and values are exact in binary.
    let widths = [193.0 / 1024.0, 0.25, 257.0 / 1024.0];
    for vote in [Vote::Off, Vote::Smooth, Vote::Revisited] {
        let here = count_columns(&table, &widths, vote);
        assert!((0..here.rows()).any(|row| here.out(row, 3)));
        for (shift, most) in [(0.25, 0), (-17.25, 0), (512.5, 0), (0.046_875, 4), (-3.1875, 4)] {
            let mut moved = table.clone();
            moved[1].iter_mut().for_each(|value| *value += shift);
            let there = count_columns(&moved, &widths, vote);
            for least_rows in 2..=6 {
                let flips = (0..here.rows())
                    .filter(|&row| here.out(row, least_rows) != there.out(row, least_rows))
                    .count();
                assert!(flips <= most, "{vote:?}, shift {shift}, least rows {least_rows}: {flips}");
            }
        }
    }
}

/// The stage must not be able to see powers, efficiency, corrections or results.
#[test]
fn the_sieve_knows_only_readings() {
    let folder = load::path("../crate/core/src/sieve");
    let mut files = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let text = std::fs::read_to_string(entry.unwrap().path()).unwrap();
        for stage in ["fixture", "point", "map", "loss", "finding", "compare", "bench"] {
            assert!(!text.contains(&format!("crate::{stage}")), "uses crate::{stage}");
        }
        files += 1;
    }
    assert!(files > 8);
}

#[test]
fn one_cell_and_every_row_its_own_cell() {
    let same = vec![vec![1.5; 3000]; 3];
    let counts = count_columns(&same, &[0.1, 0.1, 0.1], Vote::Off);
    assert_eq!((counts.occupied(), counts.count(5)), (1, Some(3000.0)));
    let mut numbers = Numbers(9);
    let apart: Vec<Vec<f64>> = (0..3).map(|_| (0..3000).map(|_| 1e6 * numbers.unit()).collect()).collect();
    let counts = count_columns(&apart, &[0.1, 0.1, 0.1], Vote::Off);
    assert_eq!((counts.occupied(), counts.count(5)), (3000, Some(1.0)));
    let empty = count_columns(&[vec![], vec![]], &[1.0, 1.0], Vote::Smooth);
    assert_eq!(empty.rows(), 0);
}
