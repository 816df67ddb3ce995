//! Finds the operating rows near a point without walking through all of them.

use super::operating::Operating;

const SIDE: usize = 64;

/// Operating rows sorted into boxes of V_A and ln I_o.
///
/// **Shape** inside a box the points ascend.
#[derive(Clone, Debug)]
pub struct Index {
    start: Vec<u32>,
    points: Vec<u32>,
    v_low: f64,
    v_step: f64,
    x_low: f64,
    x_step: f64,
}

impl Index {
    /// Sorts the rows in two passes.
    #[must_use]
    pub fn of(op: &Operating) -> Self {
        let (mut v_low, mut v_high) = (f64::INFINITY, f64::NEG_INFINITY);
        let (mut i_low, mut i_high) = (f64::INFINITY, f64::NEG_INFINITY);
        for k in 0..op.len() {
            v_low = v_low.min(op.v_in[k]);
            v_high = v_high.max(op.v_in[k]);
            i_low = i_low.min(op.i_out[k]);
            i_high = i_high.max(op.i_out[k]);
        }
        let (x_low, x_high) = if op.is_empty() { (0.0, 1.0) } else { (libm::log(i_low), libm::log(i_high)) };
        if op.is_empty() {
            (v_low, v_high) = (0.0, 1.0);
        }
        let mut index = Self {
            start: vec![0; SIDE * SIDE + 1],
            points: vec![0; op.len()],
            v_low,
            v_step: ((v_high - v_low) / SIDE as f64).max(1e-12),
            x_low,
            x_step: ((x_high - x_low) / SIDE as f64).max(1e-12),
        };
        let boxes: Vec<u16> = (0..op.len())
            .map(|k| {
                let v = index.column(op.v_in[k]);
                let x = index.row(libm::log(op.i_out[k]));
                (v * SIDE + x) as u16
            })
            .collect();
        for &cell in &boxes {
            index.start[cell as usize + 1] += 1;
        }
        for k in 0..SIDE * SIDE {
            index.start[k + 1] += index.start[k];
        }
        let mut next = index.start.clone();
        for (k, &cell) in boxes.iter().enumerate() {
            index.points[next[cell as usize] as usize] = k as u32;
            next[cell as usize] += 1;
        }
        index
    }

    fn column(&self, v: f64) -> usize {
        clamp((v - self.v_low) / self.v_step)
    }

    fn row(&self, x: f64) -> usize {
        clamp((x - self.x_low) / self.x_step)
    }

    /// Points of all boxes that touch the window, ascending; some lie outside it.
    pub(crate) fn gather(&self, v: [f64; 2], i: [f64; 2], out: &mut Vec<u32>) {
        out.clear();
        let x = i.map(|i| libm::log(i.max(1e-300)));
        for column in self.column(v[0])..=self.column(v[1]) {
            for row in self.row(x[0])..=self.row(x[1]) {
                let cell = column * SIDE + row;
                let (a, b) = (self.start[cell] as usize, self.start[cell + 1] as usize);
                out.extend_from_slice(&self.points[a..b]);
            }
        }
        // Every point occurs once, so an unstable sort has one outcome.
        out.sort_unstable();
    }
}

fn clamp(x: f64) -> usize {
    if x > 0.0 { (x as usize).min(SIDE - 1) } else { 0 }
}
