//! Random numbers that are the same on every platform and in every run: the seed is a constant of the
//! caller, nothing comes from outside.

/// Generator of the xoshiro256++ kind, seeded through splitmix64.
///
/// **Source** D. Blackman and S. Vigna, "Scrambled linear pseudorandom number generators", ACM
/// Transactions on Mathematical Software 47 (2021); both algorithms are in the public domain.
#[derive(Clone, Debug)]
pub struct Random {
    state: [u64; 4],
    spare: Option<f64>,
}

impl Random {
    /// A generator; equal seeds give equal numbers.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut mix = seed;
        let state = std::array::from_fn(|_| {
            mix = mix.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = mix;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            z ^ (z >> 31)
        });
        Self { state, spare: None }
    }

    /// 64 random bits.
    pub fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform in `[0, 1)`, 53 bits.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// Normal with mean 0 and standard deviation 1.
    ///
    /// **Source** polar method, G. Marsaglia and T. A. Bray, SIAM Review 6 (1964) (from memory).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.unit() - 1.0, 2.0 * self.unit() - 1.0);
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let factor = (-2.0 * libm::log(square) / square).sqrt();
                self.spare = Some(y * factor);
                return x * factor;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Moments of 200 000 numbers lie within five of their own standard deviations.
    #[test]
    fn gives_uniform_and_normal_numbers() {
        let mut random = Random::new(11);
        let n = 200_000;
        let (mut unit, mut one, mut two, mut four) = (0.0, 0.0, 0.0, 0.0);
        for _ in 0..n {
            unit += random.unit();
            let x = random.normal();
            one += x;
            two += x * x;
            four += x * x * x * x;
        }
        let n = f64::from(n);
        assert!((unit / n - 0.5).abs() < 5.0 * (1.0 / 12.0 / n).sqrt());
        assert!((one / n).abs() < 5.0 / n.sqrt());
        assert!((two / n - 1.0).abs() < 5.0 * (2.0 / n).sqrt());
        assert!((four / n - 3.0).abs() < 5.0 * (96.0 / n).sqrt());
        assert_eq!(Random::new(5).bits(), Random::new(5).bits());
        assert_ne!(Random::new(5).bits(), Random::new(6).bits());
    }
}
