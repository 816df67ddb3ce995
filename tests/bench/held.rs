//! What is worked out once and held while nothing that it rests on changes.

use wattsieve_core::bench::{Bench, Detail, Settings};
use wattsieve_core::fixture::Stated;
use wattsieve_core::point::Rows as _;

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

/// A page keeps where rows lie as long as their standing is the same.
#[test]
fn the_standing_of_a_runs_rows_changes_when_they_move_and_only_then() {
    let mut bench = bench(1 << 16);
    let mut seen = Vec::new();
    let mut next = |bench: &mut Bench, change: &dyn Fn(&mut Settings)| {
        let mut settings = bench.settings().clone();
        change(&mut settings);
        bench.set_settings(settings);
        bench.complete();
        let place = |bench: &Bench| {
            let rows = bench.rows_of(0).unwrap();
            let state = rows.state(rows.rows() / 2);
            [state.v_in, state.i_in, state.v_out, state.i_out].map(f64::to_bits)
        };
        let now = (bench.standing(0).unwrap(), place(bench));
        let moved = seen.last().map(|before: &([u64; 2], [u64; 4])| (now.0 != before.0, now.1 != before.1));
        seen.push(now);
        moved
    };
    assert_eq!(next(&mut bench, &|_| ()), None);
    let same = Some((false, false));
    assert_eq!(next(&mut bench, &|settings| settings.sieve.least_rows = 9), same);
    assert_eq!(next(&mut bench, &|settings| settings.sieve.cells = Some(33.0)), same);
    let moved = Some((true, true));
    assert_eq!(next(&mut bench, &|settings| settings.align.mode = wattsieve_core::align::Mode::None), moved);
    let other = Stated { value: 0.011, u: None };
    assert_eq!(next(&mut bench, &|settings| settings.fixture.input_correction = Some(other)), moved);
    assert_eq!(bench.standing(99), None);
}
