//! Sums over rows: efficiency is a ratio of sums, energy an integral over the time that was logged.

use wattsieve_core::map::{Circumstances, Extent, Grid, Map, Operating, Settings, energy};
use wattsieve_core::sieve::Reason;

use crate::support::{Draw, Table, exact};

const NO_NOISE: [f64; 5] = [0.0; 5];

fn map(table: &Table) -> (Operating, Map) {
    let op = Operating::collect(table);
    let grid = Grid::following(Extent::of(&op), op.len(), None, Some([1, 1]));
    let map = Map::build(&op, grid, Circumstances::default(), &Settings::default());
    (op, map)
}

/// 17 % of noise on the input power: the mean of the rows' ratios lies near `1 + s^2` times too high (the first terms
/// of the expectation of `1 / (1 + s z)`), which is 3.3 % of the value here; the ratio of sums has no such bias.
#[test]
fn a_noisy_cell_is_a_ratio_of_sums() {
    let mut draw = Draw(3);
    let (v_in, v_out, i_in, i_out) = (12.0, 5.0, 0.04, 0.0506);
    let truth = v_out * i_out / (v_in * i_in);
    let rows = 20_000;
    let readings = (0..rows)
        .map(|_| {
            [v_in, v_out, 0.0, i_in * (1.0 + 0.17 * draw.normal()), i_out * (1.0 + 0.001 * draw.uniform())]
        })
        .collect();
    let (op, map) = map(&Table::new(readings, exact(), [0.0, 0.0, 0.0, 0.17 * i_in, 0.0]));
    let mean_of_ratios: f64 = (0..op.len()).map(|k| op.p_out(k) / op.p_in(k)).sum::<f64>() / op.len() as f64;
    assert!((mean_of_ratios / truth - 1.033).abs() < 0.01, "{mean_of_ratios}");
    let cell = &map.efficiency[0];
    assert_eq!(cell.n, rows);
    let off = cell.value / truth - 1.0;
    assert!(off.abs() < 4.0 * 0.17 / (rows as f64).sqrt() + 0.0006, "{off}");
}

/// 100 s at 6 W in and 5 W out, a pause of 60 s without rows, 50 s at 12 W in and 10 W out with rows twice as
/// dense: by hand 600 J and 500 J, then 600 J and 500 J; nothing is known of the pause.
#[test]
fn energy_counts_the_time_that_was_logged() {
    let mut readings = Vec::new();
    let mut time = Vec::new();
    for k in 0..=100 {
        readings.push([12.0, 5.0, 0.0, 0.5, 1.0]);
        time.push(f64::from(k));
    }
    for k in 0..=100 {
        readings.push([12.0, 5.0, 0.0, 1.0, 2.0]);
        time.push(160.0 + 0.5 * f64::from(k));
    }
    let mut table = Table::new(readings, exact(), NO_NOISE);
    table.time = time;
    let (op, map) = map(&table);
    let found = energy(&op, &map);
    assert!((found.p_in.unwrap() - 1200.0).abs() < 1e-9, "{found:?}");
    assert!((found.p_out.unwrap() - 1000.0).abs() < 1e-9, "{found:?}");
}

/// What the fixture leaves open is the same for every row: more rows do not make it smaller.
///
/// **Source** JCGM 100:2008, 4.2 and 4.3: repeated observations say nothing of a type B contribution they share.
#[test]
fn more_rows_do_not_make_the_fixture_better_known() {
    let mut correction = exact();
    let (r_in, gain) = (12, 4);
    correction.covariance[r_in][r_in] = 1e-6;
    correction.covariance[gain][gain] = 1e-6;
    let mut found = Vec::new();
    for rows in [50, 5000] {
        let mut draw = Draw(9);
        let readings =
            (0..rows).map(|_| [12.0, 5.0, 0.0, 1.0, 2.2 * (1.0 + 0.001 * draw.normal())]).collect();
        let (_, map) = map(&Table::new(readings, correction.clone(), [0.0, 0.0, 0.0, 0.0, 0.0022]));
        found.push(map.efficiency[0].u_systematic.unwrap());
    }
    // By hand: (I_i / V_A)^2 u(R_I)^2 + u(g)^2, as a share of the efficiency 0.91667.
    let expected = 5.0 * 2.2 / 12.0 * (1e-6 / 144.0 + 1e-6_f64).sqrt();
    assert!(found.iter().all(|u| (u / expected - 1.0).abs() < 1e-3), "{found:?} {expected}");
}

/// A row that reads above 100 % keeps its place in every sum: leaving it out would turn noise into bias.
#[test]
fn a_label_takes_no_row_out() {
    let mut draw = Draw(5);
    let readings: Vec<[f64; 5]> =
        (0..4000).map(|_| [12.0, 5.0, 0.0, 0.1 * (1.0 + 0.2 * draw.normal()), 0.22]).collect();
    let mut table = Table::new(readings, exact(), NO_NOISE);
    let mut labelled = 0;
    for (mask, reading) in table.masks.iter_mut().zip(&table.readings) {
        if 5.0 * 0.22 > 12.0 * reading[3] {
            *mask |= Reason::AboveOne.bit();
            labelled += 1;
        }
    }
    assert!(labelled > 1000);
    let (op, map) = map(&table);
    assert_eq!((op.len(), map.efficiency[0].n), (4000, 4000));
    let truth = 5.0 * 0.22 / (12.0 * 0.1);
    assert!((map.efficiency[0].value / truth - 1.0).abs() < 4.0 * 0.2 / 4000.0_f64.sqrt());
    assert!(
        [Reason::AboveOne, Reason::SupplyLimit, Reason::Off].iter().all(|reason| Reason::kept(reason.bit()))
    );
}
