//! Made-up logs of a step-up converter, unlike anything in the demo.

use std::fmt::Write as _;

/// A log of `rows` rows, 100 in a second: the source swings slowly between 4.2 and 5.6 V while the
/// load climbs and falls between 0.05 and 1.5 A; a 9 V output; losses fixed, linear and resistive.
/// The noise is a fixed sequence, so the same `rows` gives the same bytes.
pub fn step_up_log(rows: usize) -> String {
    let mut text = String::with_capacity(rows * 48 + 64);
    text.push_str("t (s),Vin (V),Iin (A),Vout (V),Iout (A)\n");
    let mut noise = Noise(0x2545_F491_4F6C_DD1D);
    for row in 0..rows {
        let time = row as f64 / 100.0;
        let v_in = 4.9 + 0.7 * triangle(time / 97.0) + 0.001 * noise.next();
        let i_out = 0.775 + 0.725 * triangle(time / 13.0) + 0.0004 * noise.next();
        let v_out = 9.0 - 0.02 * i_out + 0.001 * noise.next();
        let loss = 0.06 + 0.18 * i_out + 0.09 * i_out * i_out;
        let i_in = (v_out * i_out + loss) / v_in + 0.0004 * noise.next();
        let _ = writeln!(text, "{time:.2},{v_in:.4},{i_in:.4},{v_out:.4},{i_out:.4}");
    }
    text
}

/// A calibration run with the converter's output plane shorted, as the demo's logger writes it: 2500 rows, 50 in a
/// second, the current up and down between 0.2 and 5 A through 22 mOhm.
pub fn output_shorted_log() -> String {
    let mut text = String::from("time (s),V in (V),I in (A),V out + (V),V out - (V),I out (A)\n");
    let mut noise = Noise(0x6C62_272E_07BB_0142);
    for row in 0..2500 {
        let time = f64::from(row) / 50.0;
        let amps = 2.6 + 2.4 * triangle(time / 25.0);
        let volts = -0.0218 * amps;
        let [a, b, c] = [(); 3].map(|()| 0.001 * noise.next());
        let [d, e] = [(); 2].map(|()| 0.003 * noise.next());
        let _ = writeln!(text, "{time:.2},{a:.4},{d:.4},{:.4},{:.4},{:.4}", volts + b, 0.3 * c, amps + e);
    }
    text
}

/// A table of 42 settled points of a step-down converter, six inputs by seven loads, as a person writes
/// one down: no time, no noise that repeats. `scale` scales the losses.
pub fn hand_table(scale: f64) -> String {
    let mut text = String::from("Vin (V),Iin (A),Vout (V),Iout (A)\n");
    let mut noise = Noise(0x1234_5678_9ABC_DEF1);
    for v in [20.0, 22.0, 24.0, 26.0, 28.0, 30.0] {
        for i_out in [0.1, 0.3, 0.7, 1.5, 2.6, 3.8, 5.0] {
            let (v_in, v_out) = (v + 0.02 * noise.next(), 12.05 - 0.01 * i_out);
            let loss = scale * (0.35 + 0.05 * i_out + 0.022 * i_out * i_out + 0.004 * (v - 20.0));
            let i_in = (v_out * i_out + loss) / v_in + 0.0005 * noise.next();
            let _ = writeln!(text, "{v_in:.3},{i_in:.4},{v_out:.3},{i_out:.4}");
        }
    }
    text
}

/// A log in which every row lies alone: all readings uniform at random, so the sieve keeps none.
pub fn restless_log(rows: usize) -> String {
    let mut text = String::from("t (s),Vin (V),Iin (A),Vout (V),Iout (A)\n");
    let mut noise = Noise(0x0F1E_2D3C_4B5A_6978);
    for row in 0..rows {
        let [a, b, c, d] = [(); 4].map(|()| noise.uniform());
        let time = row as f64 / 100.0;
        let (v_in, i_in, v_out, i_out) = (12.0 + 28.0 * a, 0.1 + 4.9 * b, 5.0 + 25.0 * c, 0.1 + 4.9 * d);
        let _ = writeln!(text, "{time:.2},{v_in:.4},{i_in:.4},{v_out:.4},{i_out:.4}");
    }
    text
}

/// Between -1 and 1, one round per unit.
fn triangle(turns: f64) -> f64 {
    let share = turns - turns.floor();
    4.0 * (share - 0.5).abs() - 1.0
}

/// A linear congruential sequence (Knuth's MMIX constants, from memory); sums of four come near
/// enough to a bell of unit width.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    fn next(&mut self) -> f64 {
        let mut sum = 0.0;
        for _ in 0..4 {
            sum += self.uniform() - 0.5;
        }
        sum * 1.732
    }
}
