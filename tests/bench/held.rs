//! What is worked out once and held while nothing that it rests on changes.

use wattsieve_core::bench::{Bench, Detail, Settings};

use crate::{bench, demo, feed, short};

#[test]
fn a_budget_is_made_once_for_the_same_points_and_fit() {
    let mut bench = bench(1 << 16);
    let first = bench.results(Detail::Brief);
    for _ in 0..3 {
        assert_eq!(bench.results(Detail::Brief).fixture, first.fixture);
    }
    assert_eq!(bench.evaluations().budget, 1);

    let middle = &first.fixture.as_ref().unwrap().budget.points[1];
    let place = [middle.v_in, middle.i_out];
    let asked = Settings { at: vec![place], ..bench.settings().clone() };
    bench.set_settings(asked.clone());
    let second = bench.results(Detail::Brief).fixture.unwrap();
    assert_eq!(bench.evaluations().budget, 2);
    assert!(second.budget.points.iter().any(|point| [point.v_in, point.i_out] == place));

    let mut other = asked;
    other.fixture.jumper.u = Some(0.004);
    bench.set_settings(other);
    let third = bench.results(Detail::Brief).fixture.unwrap();
    assert_eq!(bench.evaluations().budget, 3);
    assert_ne!(third.budget, second.budget);
}

#[test]
fn a_wiring_is_worked_out_once_for_the_same_settings() {
    let mut bench = Bench::new(Settings::default());
    feed(&mut bench, "lamp-diode.csv", &short("lamp-diode.csv"), 1 << 16);
    let first = bench.results(Detail::Brief).wiring.unwrap();
    let mut settings = bench.settings().clone();
    settings.sieve.least_rows = 7;
    bench.set_settings(settings.clone());
    assert_eq!(bench.results(Detail::Brief).wiring.as_ref(), Some(&first));
    assert_eq!(bench.evaluations().wiring, 1);

    settings.fixture.shared_ground = true;
    bench.set_settings(settings);
    assert_ne!(bench.results(Detail::Brief).wiring.unwrap(), first);
    assert_eq!(bench.evaluations().wiring, 2);

    // Where the fixture is known it says its circuit itself.
    feed(&mut bench, "through.csv", &demo("fixture-through-2r2.csv"), 1 << 16);
    assert_eq!(bench.results(Detail::Brief).wiring, None);
}
