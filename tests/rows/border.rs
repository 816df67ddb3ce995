//! The one control over the sieve, counts for a view, and what cleaning did.

use wattsieve_core::bench::{Bench, CountsWanted, Detail, Settings};
use wattsieve_core::sieve::{self, Kind, Settings as Sieve, Slices, Wanted};

use super::counting::Numbers;

/// Rows along a curve with strays.
fn table(rows: usize) -> Vec<Vec<f64>> {
    let mut numbers = Numbers(11);
    let mut columns = vec![Vec::new(); 3];
    for row in 0..rows {
        let along = libm::sin(row as f64 * 0.017);
        for (axis, column) in columns.iter_mut().enumerate() {
            let stray = if numbers.unit() < 0.01 { 2.0 * (numbers.unit() - 0.5) } else { 0.0 };
            column.push(along * (1.0 + axis as f64) + 0.04 * numbers.unit() + stray);
        }
    }
    columns
}

fn out_at(columns: &[Vec<f64>], settings: &Sieve) -> (Vec<f64>, usize) {
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let counts = sieve::count(&Slices(&slices), Kind::default(), settings);
    let least = settings.least_rows_in_use();
    let out = (0..counts.rows()).filter(|&row| counts.out(row, least)).count();
    (counts.widths.clone(), out)
}

#[test]
fn stricter_narrows_cells_and_never_takes_fewer_rows() {
    let columns = table(9000);
    let at = |strictness: Option<f64>| out_at(&columns, &Sieve { strictness, ..Sieve::default() });
    assert_eq!(at(Some(0.0)), at(None));
    let mut before = 0;
    let mut widths = vec![f64::INFINITY; 3];
    for step in -4..=4 {
        let (now, out) = at(Some(f64::from(step) / 4.0));
        println!("{step}: {out} out, widths {now:?}");
        assert!(out >= before && now.iter().zip(&widths).all(|(a, b)| a <= b));
        (before, widths) = (out, now);
    }
    assert!(before > 2 * at(Some(-1.0)).1);
    // While it is set, both sliders are passed over.
    let both = Sieve { strictness: Some(0.5), cells: Some(10.0), least_rows: 12, ..Sieve::default() };
    assert_eq!(out_at(&columns, &both), at(Some(0.5)));
}

#[test]
fn one_channel_can_have_its_own_cells() {
    let columns = table(9000);
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let kind = Kind { names: vec!["a".into(), "b".into(), "c".into()], resolution: Vec::new() };
    let settings = Sieve { channel_cells: [("b".to_owned(), 25.0)].into(), ..Sieve::default() };
    let counts = sieve::count(&Slices(&slices), kind.clone(), &settings);
    assert!((counts.ranges[1] / counts.widths[1] - 25.0).abs() < 1e-9);
    let settings = Sieve { widths: [("b".to_owned(), 0.3)].into(), ..settings };
    assert!((sieve::count(&Slices(&slices), kind, &settings).widths[1] - 0.3).abs() < 1e-12);
}

/// Source: every row falls in the bin that division and rounding down give.
#[test]
fn bins_hold_every_row_once_and_mark_thin_ones() {
    let columns = table(5000);
    let slices = [columns[0].as_slice(), columns[1].as_slice()];
    let names = ["a".to_owned(), "b".to_owned()];
    let mut masks = vec![0; 5000];
    masks[7] = sieve::Reason::Rare.bit();
    let found =
        sieve::bins(&Slices(&slices), &names, &masks, &[Wanted::Number(40), Wanted::Width(0.1)], 3).unwrap();
    let y = found.y.clone().unwrap();
    let (kept, out) = (found.kept.iter().sum::<u32>(), found.out.iter().sum::<u32>());
    assert!(out <= 1 && (kept + out) as usize + found.x.below + found.x.above + y.below + y.above >= 5000);
    assert!(((y.to - y.from) / y.width - y.bins as f64).abs() < 1e-9 && (y.width - 0.1).abs() < 1e-12);
    let mut plain = vec![0_u32; found.columns * found.rows];
    for row in 0..5000 {
        let place = |value: f64, axis: &sieve::Axis| ((value - axis.from) / axis.width).floor();
        let (column, line) = (place(columns[0][row], &found.x), place(columns[1][row], &y));
        if column >= 0.0 && line >= 0.0 && (column as usize) < found.columns && (line as usize) < found.rows {
            plain[line as usize * found.columns + column as usize] += 1;
        }
    }
    for (at, plain) in plain.iter().enumerate() {
        assert_eq!(found.kept[at] + found.out[at], *plain);
        assert_eq!(found.thin[at], (1..3).contains(plain));
    }
    assert!(found.thin.iter().any(|thin| *thin));
    // The sums that a view shows, against the bins themselves.
    let all = |bin: &usize| found.kept[*bin] + found.out[*bin];
    let thin: Vec<usize> = (0..found.thin.len()).filter(|&bin| found.thin[bin]).collect();
    assert_eq!(
        (found.thin_bins, found.thin_rows),
        (thin.len(), thin.iter().map(|bin| all(bin) as usize).sum())
    );
    assert_eq!(Some(found.most), (0..found.kept.len()).map(|bin| all(&bin)).max());
    let sum = |rows: &[u32]| rows.iter().map(|rows| *rows as usize).sum::<usize>();
    assert_eq!((found.kept_rows, found.out_rows), (sum(&found.kept), sum(&found.out)));
}

/// A run with spikes of the output current in one place: cleaning must change the answer there, and say so.
#[test]
fn cleaning_shows_the_answer_before_and_after_and_the_rows_at_the_border() {
    let mut numbers = Numbers(5);
    let mut text = String::from("time (s),v_in (V),v_out (V),i_in (A),i_out (A)\n");
    let mut spiked = Vec::new();
    for row in 0..6000 {
        let t = f64::from(row) * 0.02;
        let i_out = 0.2 + 3.0 * (1.0 - (2.0 * (t / 12.0).rem_euclid(1.0) - 1.0).abs());
        let v_in = 12.0 + 0.8 * libm::sin(t / 19.0);
        let i_in = (5.0 * i_out + 0.3 + 0.1 * i_out) / v_in;
        let mut noise = || 0.002 * (numbers.unit() - 0.5);
        let spike = if row % 97 == 50 && i_out < 0.7 { 0.9 } else { 0.0 };
        if spike > 0.0 {
            spiked.push(row as usize);
        }
        text.push_str(&format!(
            "{t:.2},{:.4},{:.4},{:.4},{:.4}\n",
            v_in + noise(),
            5.0 + noise(),
            i_in + noise(),
            i_out + noise() + spike
        ));
    }
    let mut bench = Bench::new(Settings::default());
    let input = bench.begin("spikes.csv", None);
    bench.push(input, text.as_bytes());
    bench.finish(input);
    assert!(bench.results(Detail::Brief).runs[0].trust.is_none());
    let results = bench.results(Detail::Full);
    let trust = results.runs[0].trust.as_ref().unwrap();
    assert_eq!(trust.time.iter().map(|part| part.rows).sum::<usize>(), 6000);
    let removed: usize = trust.time.iter().map(|part| part.removed).sum();
    assert_eq!(removed, results.runs[0].rows.removed_count);
    let largest = &trust.cells[trust.largest.unwrap()];
    println!("{largest:?}");
    assert!(largest.removed > 0 && largest.change.unwrap() < -0.005, "{largest:?}");
    for cell in trust.cells.iter().filter(|cell| cell.removed == 0) {
        assert!(cell.change.is_none_or(|change| change == 0.0));
    }
    let said = results.runs[0].answers.findings.iter().find(|said| said.code == "cleaning").unwrap();
    assert_eq!(said.numbers["change"].value, largest.change);
    assert_eq!(said.numbers["removed"].value, Some(largest.removed as f64));
    assert!(said.text.contains(&format!("{} of {} rows", largest.removed, largest.rows)), "{}", said.text);
    assert!(!trust.survivors.is_empty() && trust.survivors.len() <= 10 && trust.rejects.len() <= 10);
    for row in trust.rejects.iter() {
        assert!(row.around.iter().any(|near| near.row == row.row && !near.kept) && row.count.unwrap() < 3.0);
    }
    println!("rejects {:?}", trust.rejects.iter().map(|row| (row.row, row.channel)).collect::<Vec<_>>());
    let spikes = trust.rejects.iter().filter(|row| spiked.contains(&row.row)).count();
    assert!(spikes * 2 >= trust.rejects.len(), "{spikes} of the rejects are spikes");
    assert!(trust.survivors.iter().all(|row| row.falls_at.unwrap() > 3));
    let wanted =
        CountsWanted { x: "v_in".into(), y: Some("i_out".into()), across: None, down: None, cells: true };
    let bins = bench.bins(0, &wanted).unwrap();
    let width = results.runs[0].sieve.as_ref().unwrap().cell_width.0[0].1;
    assert!((bins.x.width / width - 1.0).abs() < 1e-9, "{} {width}", bins.x.width);
    assert!(bench.bins(0, &CountsWanted { x: "nothing".into(), ..wanted }).is_none());
}
