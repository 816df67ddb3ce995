//! What is not known of the delays between channels, as a part of the budget: against the effect of really moving a
//! channel, and gone where nothing moves.

use wattsieve_core::align::Mode;
use wattsieve_core::bench::{Bench, Detail, Results, Settings};
use wattsieve_core::fixture::{BudgetPoint, ChannelAccuracy, Stated};
use wattsieve_core::point::RowPoint;
use wattsieve_tests::sim::Random;

use crate::feed;

/// Row period, s, and rows.
const PERIOD: f64 = 0.005;
const ROWS: usize = 8000;
/// Time of one sweep, s.
const SWEEP: f64 = 10.0;
/// Channels of the log by their place in the settings.
const CHANNELS: [usize; 4] = [0, 1, 3, 4];
/// One standard uncertainty of a delay, s.
const U: f64 = 1e-3;
const ASKED: [[f64; 2]; 3] = [[12.2, 0.6], [12.3, 1.2], [12.1, 2.5]];

/// Output current, A, at a time, s, and the fall of the source, V/s.
type Course = (fn(f64) -> f64, f64);

const RISING: Course = (rising, 0.0175);
const BOTH_WAYS: Course = (both_ways, 0.0);
const STILL: Course = (still, 0.0);

fn rising(t: f64) -> f64 {
    0.3 * libm::exp((t / SWEEP).fract() * libm::log(4.0 / 0.3))
}

fn both_ways(t: f64) -> f64 {
    let turn = (t / SWEEP).fract();
    0.3 * libm::exp((1.0 - (2.0 * turn - 1.0).abs()) * libm::log(4.0 / 0.3))
}

fn still(_: f64) -> f64 {
    1.2
}

/// A made-up converter, logged at one instant.
fn log((course, fall): Course) -> String {
    let mut draw = Random::new(17, 0);
    let mut text = "t (s),V in (V),I in (A),V out (V),I out (A)\n".to_owned();
    for row in 0..ROWS {
        let t = row as f64 * PERIOD;
        let i = course(t);
        let v = 12.55 - fall * t;
        let v_out = 5.0 - 0.01 * i;
        let i_in = (v_out * i + 0.1 + 0.004 * v + 0.06 * i + 0.03 * i * i) / v;
        let mut noisy = |x: f64, sigma: f64| x + sigma * draw.normal();
        let [v, i_in, v_out, i] = [noisy(v, 1e-3), noisy(i_in, 1e-4), noisy(v_out, 5e-4), noisy(i, 1e-4)];
        text.push_str(&format!("{t:.3},{v:.5},{i_in:.6},{v_out:.5},{i:.6}\n"));
    }
    text
}

fn settings(seconds: [f64; 5], u: [f64; 5]) -> Settings {
    let mut settings = Settings { at: ASKED.to_vec(), ..Settings::default() };
    settings.align.mode = Mode::Stated;
    settings.align.seconds = seconds.map(Some);
    settings.align.seconds_u = u.map(Some);
    settings.fixture.input_correction = Some(Stated { value: 0.0, u: Some(1e-4) });
    settings.fixture.output_correction = Some(Stated { value: 0.0, u: Some(1e-4) });
    let gain = ChannelAccuracy { gain: Some(2e-4), ..ChannelAccuracy::default() };
    settings.fixture.channels.i_in = gain;
    settings.fixture.channels.i_out = gain;
    settings
}

fn opened(course: Course, seconds: [f64; 5], u: [f64; 5]) -> Bench {
    let mut bench = Bench::new(settings(seconds, u));
    feed(&mut bench, "delays.csv", log(course).as_bytes(), 1 << 16);
    bench.complete();
    bench
}

fn one(channel: usize, seconds: f64) -> [f64; 5] {
    std::array::from_fn(|k| if k == channel { seconds } else { 0.0 })
}

fn points(results: &Results) -> &[BudgetPoint] {
    &results.fixture.as_ref().unwrap().budget.points
}

fn part(point: &BudgetPoint) -> f64 {
    point.parts.iter().find(|part| part.source == "delays").map_or(0.0, |part| part.u)
}

#[test]
fn the_part_is_what_moving_a_channel_by_its_uncertainty_does() {
    for channel in CHANNELS {
        let plain = opened(RISING, [0.0; 5], one(channel, U)).results(Detail::Brief);
        let [later, sooner] =
            [U, -U].map(|by| opened(RISING, one(channel, by), [0.0; 5]).results(Detail::Brief));
        assert_eq!(points(&plain).len(), ASKED.len());
        for (k, point) in points(&plain).iter().enumerate() {
            let at = |results: &Results| results.runs[0].answers.at[k].value.unwrap();
            let moved = 0.5 * (at(&later) - at(&sooner)).abs();
            println!("channel {channel}, {:?}: stated {:.3e}, moved {moved:.3e}", ASKED[k], part(point));
            // A moved channel brings other rows into the window: a few hundred-thousandths of a point.
            assert!((part(point) - moved).abs() < 0.05 * moved + 3e-7, "channel {channel} at {:?}", ASKED[k]);
            assert!(part(point) > if channel >= 3 { 1e-4 } else { 0.0 });
            let squares: f64 = point.parts.iter().map(|part| part.u * part.u).sum();
            assert!((squares.sqrt() / point.u.unwrap() - 1.0).abs() < 1e-9);
        }
    }
}

#[test]
fn the_total_holds_it_wherever_one_is_stated() {
    let with = opened(RISING, [0.0; 5], one(4, U)).results(Detail::Brief);
    let without = opened(RISING, [0.0; 5], [0.0; 5]).results(Detail::Brief);
    for (k, point) in points(&with).iter().enumerate() {
        let grown = |with: f64, without: f64| (with * with - without * without).max(0.0).sqrt();
        let at = |results: &Results| results.runs[0].answers.at[k].clone();
        let (here, before) = (at(&with), at(&without));
        assert_eq!(here.value, before.value);
        let found = grown(here.u.unwrap(), before.u.unwrap());
        assert!(part(point) > 1e-4 && (found / part(point) - 1.0).abs() < 1e-6, "{found} {}", part(point));
        let half = 0.5 * (here.interval.high.unwrap() - here.interval.low.unwrap());
        assert!(half >= 1.95 * part(point), "{half}");
    }
    let cells = |results: &Results| results.runs[0].answers.map.efficiency.clone();
    for (here, before) in cells(&with).iter().zip(&cells(&without)) {
        assert_eq!((here.value, here.u_random), (before.value, before.u_random));
        assert!(here.thin || here.u.unwrap() > before.u.unwrap(), "{here:?}");
    }
}

#[test]
fn nothing_is_stated_where_nothing_moves_or_both_ways_cancel() {
    let of = |course: Course| {
        let results = opened(course, [0.0; 5], one(4, U)).results(Detail::Brief);
        let mut found: Vec<f64> = points(&results).iter().map(part).collect();
        assert!(!found.is_empty());
        found.sort_by(f64::total_cmp);
        found.pop().unwrap()
    };
    let [one_way, ways, rest] = [of(RISING), of(BOTH_WAYS), of(STILL)];
    println!("one way {one_way:.2e}, both ways {ways:.2e}, at rest {rest:.2e}");
    assert!(one_way > 1e-4);
    assert!(ways < 0.05 * one_way && rest < 0.01 * one_way, "{ways} {rest}");
}

/// A row has no other way to cancel it: its own part is what moving the channel does to it.
#[test]
fn a_single_row_states_its_own_part_also_on_both_ways() {
    let bench = opened(BOTH_WAYS, [0.0; 5], one(4, U));
    let rows = bench.rows_of(0).unwrap();
    let (mut stated, mut wanted) = (0.0, 0.0);
    for row in (200..900).step_by(10) {
        let point = RowPoint::of(&rows, row);
        stated += point.parts.iter().find(|part| part.name == "delays").map_or(0.0, |part| part.u);
        // Known course: d ln I = 0.518 / s; the mean over the four channels is taken off.
        let slope = 2.0 * libm::log(4.0 / 0.3) / SWEEP;
        let (v, i) = (point.v_in, point.i_out);
        let by_in = slope * i * (5.0 - 0.02 * i + 0.06 + 0.06 * i) / v / point.i_in;
        wanted += point.efficiency * U * (slope - (slope - by_in) / 4.0).abs();
    }
    assert!((stated / wanted - 1.0).abs() < 0.05, "{stated} {wanted}");
}
