//! Rows held in memory, for the answers' tests: readings made from states at the converter's
//! terminals through the inverse of a correction, with seeded noise.

use std::path::Path;

use wattsieve_core::fixture::{Correction, Grade};
use wattsieve_core::point::Rows;
use wattsieve_core::sieve::Mask;

/// A run as plain columns.
pub(crate) struct Table {
    pub(crate) time: Vec<f64>,
    pub(crate) readings: Vec<[f64; 5]>,
    pub(crate) masks: Vec<Mask>,
    pub(crate) correction: Correction,
    pub(crate) noise: [f64; 5],
}

impl Rows for Table {
    fn rows(&self) -> usize {
        self.readings.len()
    }
    fn time(&self, row: usize) -> f64 {
        self.time[row]
    }
    fn mask(&self, row: usize) -> Mask {
        self.masks[row]
    }
    fn reading(&self, row: usize) -> [f64; 5] {
        self.readings[row]
    }
    fn correction(&self) -> &Correction {
        &self.correction
    }
    fn noise(&self) -> [f64; 5] {
        self.noise
    }
}

impl Table {
    /// Readings with a row period of 20 ms and no reason on any row.
    pub(crate) fn new(readings: Vec<[f64; 5]>, correction: Correction, noise: [f64; 5]) -> Self {
        Self {
            time: (0..readings.len()).map(|k| k as f64 * 0.02).collect(),
            masks: vec![0; readings.len()],
            readings,
            correction,
            noise,
        }
    }
}

/// A correction that changes nothing and is exactly known.
pub(crate) fn exact() -> Correction {
    let mut correction = Correction::as_logged();
    correction.grade = Grade::Settled;
    correction
}

/// Numbers of a file with one header line.
pub(crate) fn numbers(name: &str) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/power").join(name);
    let text = std::fs::read_to_string(path).unwrap();
    text.lines()
        .filter(|line| !line.starts_with('#'))
        .skip(1)
        .map(|line| line.split(',').map(|x| x.trim().parse().unwrap()).collect())
        .collect()
}

/// The given columns of a file with one header line; other columns may hold words.
pub(crate) fn numbers_of(name: &str, columns: &[usize]) -> Vec<Vec<f64>> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("reference/power").join(name);
    let text = std::fs::read_to_string(path).unwrap();
    text.lines()
        .skip(1)
        .map(|line| {
            let fields: Vec<&str> = line.split(',').collect();
            columns.iter().map(|k| fields[*k].parse().unwrap()).collect()
        })
        .collect()
}

/// Seeded random numbers: splitmix64 (Steele, Lea, Flood, OOPSLA 2014) and the polar method
/// (Marsaglia and Bray, SIAM Review 6 (1964) 260).
pub(crate) struct Draw(pub(crate) u64);

impl Draw {
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        loop {
            let a = 2.0 * self.uniform() - 1.0;
            let b = 2.0 * self.uniform() - 1.0;
            let s = a * a + b * b;
            if s > 0.0 && s < 1.0 {
                return a * (-2.0 * libm::log(s) / s).sqrt();
            }
        }
    }
}
