//! Loss model, peak, levels and source on generated data with known truth.
//!
//! `map_points.csv`, `supply_limit.csv`, `sieve_presets.csv`: generated with numpy (seed 77, others);
//! truth of the first: 0.22 W + 0.085 V I + 0.014 ohm I^2, 0.12 W more from 1.70 A, to 5.0 V.

use wattsieve_core::loss::{LossModel, peak_between};
use wattsieve_core::map::{Levels, Operating, Source, drop_out_line};

use crate::support::{Table, exact, numbers};

fn map_points() -> Table {
    let rows = numbers("map_points.csv");
    let readings = rows.iter().map(|r| [r[0], r[2], 0.0, r[1], r[3]]).collect();
    Table::new(readings, exact(), [0.0012, 0.0012, 0.0, 0.002, 0.002])
}

#[test]
fn finds_the_loss_and_its_step_together() {
    let op = Operating::collect(&map_points());
    let model = LossModel::fit(&op);
    println!("{model:#?}");
    assert_eq!(model.steps.len(), 1);
    let step = &model.steps[0];
    let power = step.power.value.unwrap();
    assert!((power - 0.1200).abs() < 0.003, "{power}");
    assert!((step.i_out.value.unwrap() - 1.70).abs() < 0.02, "{:?}", step.i_out);
    let term = |name: &str| model.terms.iter().find(|t| t.name == name).unwrap();
    assert!((term("fixed").value - 0.2204).abs() < 0.0005, "{:?}", term("fixed"));
    assert!((term("linear").value - 0.0845).abs() < 0.0005);
    assert!((term("resistive_output").value - 0.01407).abs() < 0.0001);
    assert!((term("fixed").u.unwrap() - 0.0019).abs() < 0.0002);
    assert!((model.chi2_reduced.unwrap() - 1.03).abs() < 0.02);
    assert!(model.unsupported.contains(&"fixed_per_volt"));
    let correlation = model.covariance[1][2] / (model.covariance[1][1] * model.covariance[2][2]).sqrt();
    assert!((correlation + 0.97).abs() < 0.01, "{correlation}");
}

#[test]
fn the_peak_is_not_the_highest_row() {
    let op = Operating::collect(&map_points());
    let splits = LossModel::fit(&op).splits();
    let peak = peak_between(&op, [12.4, 12.6], &splits);
    println!("{peak:?}");
    assert!((peak.efficiency.value.unwrap() - 0.9572).abs() < 0.0005);
    assert!((peak.i_out.value.unwrap() - 4.84).abs() < 0.25);
    assert!((peak.i_from.unwrap() - 3.30).abs() < 0.06);
    assert!((peak.i_to.unwrap() - 5.95).abs() < 0.1);
}

#[test]
fn finds_the_supply_limit_and_the_source() {
    let rows = numbers("supply_limit.csv");
    let readings = rows.iter().map(|r| [r[0], 5.0, 0.0, r[1], r[0] * r[1] * 0.95 / 5.0]).collect();
    let table = Table::new(readings, exact(), [0.001, 0.001, 0.0, 0.003, 0.003]);
    let source = Source::find(&table);
    println!("{source:?}");
    assert!((source.current_limit.value.unwrap() - 3.200).abs() < 0.005);
    assert!((source.limit_fall - 0.51).abs() < 0.05);
    assert!((source.resistance.value.unwrap() - 0.1199).abs() < 0.0005);
    assert!((source.open_circuit.value.unwrap() - 11.2999).abs() < 0.002);
}

#[test]
fn finds_three_presets_and_the_line_on_which_the_top_one_drops_out() {
    let rows = numbers("sieve_presets.csv");
    let readings = rows.iter().map(|r| [r[1], r[3], r[4], r[2], r[5]]).collect();
    let mut table = Table::new(readings, exact(), [0.0012, 0.0012, 0.0005, 0.0015, 0.002]);
    for (mask, row) in table.masks.iter_mut().zip(&rows) {
        if row[5] < 0.005 {
            *mask = wattsieve_core::sieve::Reason::Off.bit();
        }
    }
    let op = Operating::collect(&table);
    let levels = Levels::find(&op);
    println!("{levels:#?}");
    assert_eq!(levels.count, 3);
    for (found, truth) in levels.currents.iter().zip([0.150, 0.600, 1.800]) {
        assert!((found / truth - 1.0).abs() < 0.01, "{found} {truth}");
    }
    // 95 % of 1.8 A on the line (V - 9.60 V) / 0.635 ohm lies at 10.686 V.
    let above = levels.regulates_above(2).unwrap();
    assert!((above - 10.686).abs() < 0.07, "{above}");
    assert_eq!(levels.regulates_above(0), None);
    let line = drop_out_line(&op, &levels).unwrap();
    println!("{line:?}");
    assert!((line.knee - 9.60).abs() < 0.01);
    assert!((line.path - 0.635).abs() < 0.01);
}
