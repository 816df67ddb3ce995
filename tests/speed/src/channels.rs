//! Five channels as columns.

use wattsieve_tests::sim::Random;

/// A ramping run: supply sinking from 13 to 11 V, current up and down in 24 s; V, V, V, A, A. Two rows
/// in a thousand have one stray reading.
#[must_use]
pub fn five_channels(rows: usize) -> Vec<Vec<f64>> {
    let mut random = Random::new(3, 1);
    let mut columns: Vec<Vec<f64>> = (0..5).map(|_| Vec::with_capacity(rows)).collect();
    for row in 0..rows {
        let time = row as f64 * 0.02;
        let along = (time / 24.0) % 1.0;
        let i_out = 0.1 + 5.9 * (1.0 - (2.0 * along - 1.0).abs());
        let open = 13.3 - 2.0 * row as f64 / rows as f64;
        let power = 5.0 * i_out + 0.22 + 0.085 * i_out + 0.014 * i_out * i_out;
        let i_in = power / (open - 0.36 * power / open);
        let low = 0.0267 * i_out + 0.0218 * i_in;
        let state = [open - 0.36 * i_in, 5.0 - 0.048 * i_out + low, low, i_in, i_out];
        let noise = [0.0012, 0.0012, 0.0004, 0.002, 0.002];
        let stray = if random.unit() < 0.002 { random.below(5) } else { 9 };
        for (k, column) in columns.iter_mut().enumerate() {
            let off = if k == stray { random.between(-1.5, 1.5) } else { 0.0 };
            column.push(state[k] + noise[k] * random.normal() + off);
        }
    }
    columns
}

/// Readings spread evenly, so that nearly every row has a cell of its own.
#[must_use]
pub fn uniform_channels(rows: usize) -> Vec<Vec<f64>> {
    let mut random = Random::new(4, 1);
    (0..5)
        .map(|k| {
            (0..rows).map(|row| if row % 1000 < 998 { f64::from(k) } else { 0.0 } + random.unit()).collect()
        })
        .collect()
}
