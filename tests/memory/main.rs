//! How much a bench holds: every byte that the program has asked for and not given back.

#![allow(unsafe_code, reason = "an allocator that counts")]
#![allow(clippy::print_stdout, reason = "tests")]

use std::alloc::{GlobalAlloc, Layout, System};
use std::fmt::Write as _;
use std::sync::atomic::{AtomicUsize, Ordering};

use wattsieve_core::bench::{Bench, Detail, Settings};
use wattsieve_tests::sim::Random;

/// The system's allocator, and the bytes in use and most of them so far.
struct Counting;

static IN_USE: AtomicUsize = AtomicUsize::new(0);
static MOST: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is handed on as it came; counting touches no memory that is handed out.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        let now = IN_USE.fetch_add(layout.size(), Ordering::Relaxed) + layout.size();
        MOST.fetch_max(now, Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        IN_USE.fetch_sub(layout.size(), Ordering::Relaxed);
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Rows of the log.
const ROWS: usize = 400_000;
/// Bytes a row that a bench may hold.
const BAR: f64 = 90.0;

/// What a log holds.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    /// A converter whose load is swept, with noise.
    Swept,
    /// Numbers so spread that every row has a cell of its own.
    Random,
    /// The same readings in every row.
    Constant,
}

/// Time and five channels.
fn log(kind: Kind) -> String {
    let mut random = Random::new(3, 1);
    let mut text = String::with_capacity(60 * ROWS);
    text.push_str("t_s,vin_V,vop_V,von_V,iin_A,iout_A\n");
    for row in 0..ROWS {
        let along = (row as f64 / 1200.0).fract();
        let i_out = 0.1 + 5.9 * (1.0 - (2.0 * along - 1.0).abs());
        let v_in = 12.5 - 2.0 * row as f64 / ROWS as f64;
        let mut values = [v_in, 5.02, 0.02, (5.0 * i_out + 0.3 + 0.1 * i_out) / v_in, i_out];
        for value in &mut values {
            match kind {
                Kind::Swept => *value += 0.001 * random.normal(),
                Kind::Random => *value = 1.0 + 9.0 * random.unit(),
                Kind::Constant => *value = 1.25,
            }
        }
        let _ = write!(text, "{:.2}", 0.02 * row as f64);
        for value in values {
            let _ = write!(text, ",{value:.5}");
        }
        text.push('\n');
    }
    text
}

/// One test only, so that nothing else asks for memory meanwhile.
#[test]
fn a_bench_with_its_counts_holds_at_most_ninety_bytes_a_row() {
    for kind in [Kind::Swept, Kind::Random, Kind::Constant] {
        holds_little(kind);
    }
}

fn holds_little(kind: Kind) {
    let text = log(kind);
    let before = IN_USE.load(Ordering::Relaxed);
    let a_row = |bytes: &AtomicUsize| (bytes.load(Ordering::Relaxed) as f64 - before as f64) / ROWS as f64;
    MOST.store(before, Ordering::Relaxed);
    let mut bench = Bench::new(Settings::default());
    let input = bench.begin("log.csv", Some(text.len() as u64));
    for piece in text.as_bytes().chunks(1 << 18) {
        bench.push(input, piece);
    }
    bench.finish(input);
    println!(
        "{kind:?}: {:.1} bytes a row with the readings, {:.1} at most until then",
        a_row(&IN_USE),
        a_row(&MOST)
    );
    let apart = [None, Some(80.0), Some(20.0)];
    for cells in apart.into_iter().take(if kind == Kind::Swept { 3 } else { 1 }) {
        let mut settings = bench.settings().clone();
        settings.sieve.cells = cells;
        if kind == Kind::Random {
            settings.sieve.widths = ["v_in", "v_out_high", "v_out_low", "i_in", "i_out"]
                .map(|name| (name.to_owned(), 0.2))
                .into();
        }
        bench.set_settings(settings);
        MOST.store(IN_USE.load(Ordering::Relaxed), Ordering::Relaxed);
        bench.complete();
        let (held, most) = (a_row(&IN_USE), a_row(&MOST));
        println!("{kind:?}, {cells:?} cells: {held:.1} bytes a row held, {most:.1} at most meanwhile");
        assert!(held <= BAR, "{kind:?}, {cells:?} cells: {held:.1} bytes a row");
        // While answers are found: once the operating rows, and half as much again; where one cell of the map has them
        // all, its rows once more.
        let meanwhile = if kind == Kind::Swept { 2.0 * BAR } else { 2.5 * BAR };
        assert!(most <= meanwhile, "{kind:?}, {cells:?} cells: {most:.1} bytes a row at most");
        assert!(held > 48.0, "six columns alone take that: {held:.1}");
    }
    let results = bench.results(Detail::Brief);
    assert_eq!(results.runs.len(), 1);
    let sieve = results.runs[0].sieve.as_ref().expect("rows are counted");
    assert_eq!(sieve.occupied > ROWS / 10 * 9, kind == Kind::Random, "{kind:?}: {} cells", sieve.occupied);
}
