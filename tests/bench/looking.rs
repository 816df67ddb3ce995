//! What is asked of the bench to be looked at: what columns span, what is left after each stage.

use wattsieve_core::bench::{Bench, Detail, Settings};

use crate::feed;

/// Ranges and gaps of a log of six rows, by hand: millivolts become volts, a column of words has no
/// range, one that is not used keeps its own unit.
#[test]
fn columns_say_what_they_span() {
    let log = "t (ms),V in (mV),I in (A),V out (V),I out (A),remark,fan\n\
        0,12000,0.5,5.0,1.0,warm,3\n\
        20,12500,,5.1,1.1,warm,-2\n\
        40,11750,0.6,4.9,0.9,warm,7\n\
        60,12100,0.55,5.0,1.0,warm,4\n\
        80,12200,0.56,5.0,1.0,warm,4\n\
        100,12300,0.57,5.0,1.0,warm,4\n";
    let mut bench = Bench::new(Settings::default());
    let input = feed(&mut bench, "ranges.csv", log.as_bytes(), 7);
    let ranges = bench.column_ranges(input).unwrap();
    let found: Vec<_> = ranges.iter().map(|one| (one.number, one.range, one.empty)).collect();
    assert_eq!(
        found,
        [
            (1, Some([0.0, 0.1]), 0),
            (2, Some([11.75, 12.5]), 0),
            (3, Some([0.5, 0.6]), 1),
            (4, Some([4.9, 5.1]), 0),
            (5, Some([0.9, 1.1]), 0),
            (6, None, 0),
            (7, Some([-2.0, 7.0]), 0),
        ]
    );
    assert_eq!(bench.column_ranges(1), None);
}

#[test]
fn what_fell_out_and_what_is_left_add_up_to_all_rows() {
    let mut bench = crate::bench(1 << 16);
    let results = bench.results(Detail::Brief);
    for run in &results.runs {
        let rows = &run.rows;
        let mut left = rows.read;
        for stage in &rows.stages {
            assert_eq!(stage.fell, stage.out.iter().map(|one| one.rows).sum::<usize>(), "{}", run.name);
            left -= stage.fell;
            assert_eq!(stage.left, left, "{}", run.name);
        }
        assert_eq!(left, rows.operating, "{}", run.name);
        assert!(rows.operating <= rows.kept && rows.kept + rows.removed_count == rows.read);
        assert!(rows.stages[3].fell > 0, "{}: the demo holds rows that the gates take out", run.name);
    }
    // The scale of colours begins inside of what the maps show.
    let from = results.colour_from.unwrap();
    let values = results.runs.iter().flat_map(|run| &run.answers.map.efficiency).map(|cell| cell.value);
    let (low, high) =
        values.fold((f64::MAX, f64::MIN), |(low, high), value| (low.min(value), high.max(value)));
    assert!(low <= from && from < high, "{low} {from} {high}");
}
