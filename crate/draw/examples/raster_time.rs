//! Prints how long the scatter of a million rows takes.
#![allow(clippy::print_stdout, reason = "its purpose")]

use std::time::Instant;
use wattsieve_draw::colour::{LIGHT, Ramp};
use wattsieve_draw::range::Range;
use wattsieve_draw::raster::{Dot, Fate, Options, Placed, Source, View, draw};
use wattsieve_draw::scale::{Kind, Scale};

struct Sweeps(usize);

impl Source for Sweeps {
    fn rows(&self) -> usize {
        self.0
    }
    fn dot(&self, row: usize) -> Dot {
        let (sweep, along) = (row / 1000, (row % 1000) as f64 / 1000.0);
        let x = 10.0 + 4.0 * (sweep as f64 * 1000.0 / self.0 as f64) - 0.3 * along;
        let y = 0.03 + 2.4 * along * along;
        Dot { x, y, value: 0.8 + 0.15 * along }
    }
    fn fate(&self, row: usize) -> Fate {
        if row % 300 == 7 { Fate::Out } else { Fate::In }
    }
    fn time(&self, row: usize) -> f64 {
        row as f64
    }
}

fn main() {
    let (width, height, ratio) = (1200, 800, 1.0);
    let view = View {
        width,
        height,
        ratio,
        x: Scale::new(Kind::Linear, Range::around(9.5, 14.5), 0.0, width as f64),
        y: Scale::new(Kind::Log, Range::around(0.025, 2.6), height as f64, 0.0),
    };
    let options = Options {
        ramp: Ramp::Efficiency,
        disc: 1.35,
        range: Range::around(0.8, 0.96),
        rejected: true,
        highlight: Vec::new(),
        selection: None,
        look: LIGHT,
    };
    for rows in [100_000, 1_000_000] {
        for _ in 0..3 {
            let start = Instant::now();
            let placed = Placed::new(&Sweeps(rows), &view);
            let found = start.elapsed().as_secs_f64() * 1e3;
            let start = Instant::now();
            let raster = draw(&Sweeps(rows), &placed, &options);
            let drawn = start.elapsed().as_secs_f64() * 1e3;
            println!("{rows} rows placed in {found:.1} ms, {} drawn in {drawn:.1} ms", raster.drawn);
        }
    }
}
