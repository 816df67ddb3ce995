//! A small random generator that gives the same numbers on every platform.

/// Generator of the xoshiro256++ kind, seeded through splitmix64.
///
/// **Source** Blackman and Vigna, "Scrambled linear pseudorandom number generators", ACM TOMS 47
/// (2021); the algorithms are in the public domain (constants from memory).
#[derive(Clone, Debug)]
pub struct Random {
    state: [u64; 4],
    spare: Option<f64>,
}

/// One step of splitmix64.
fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Random {
    /// A generator for one seed and one stream; streams of one seed are independent.
    #[must_use]
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut start = stream.wrapping_mul(0xd134_2543_de82_ef95);
        let mut mix = seed ^ split_mix(&mut start);
        Self { state: std::array::from_fn(|_| split_mix(&mut mix)), spare: None }
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

    /// Uniform in `[0, 1)`.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform in `[low, high)`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Uniform in the logarithm, in `[low, high)`; both positive.
    pub fn between_log(&mut self, low: f64, high: f64) -> f64 {
        libm::exp(self.between(libm::log(low), libm::log(high)))
    }

    /// A whole number below `end`; 0 where `end` is 0.
    pub fn below(&mut self, end: usize) -> usize {
        ((self.unit() * end as f64) as usize).min(end.saturating_sub(1))
    }

    /// Normal deviate with mean 0 and standard deviation 1.
    ///
    /// **Source** polar method, Marsaglia and Bray, SIAM Review 6 (1964).
    pub fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let u = 2.0 * self.unit() - 1.0;
            let v = 2.0 * self.unit() - 1.0;
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let scale = (-2.0 * libm::log(s) / s).sqrt();
                self.spare = Some(v * scale);
                return u * scale;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the sequence published with splitmix64 for seed 1234567 (from memory).
    #[test]
    fn split_mix_gives_its_published_sequence() {
        let mut state = 1_234_567;
        assert_eq!(split_mix(&mut state), 6_457_827_717_110_365_317);
        assert_eq!(split_mix(&mut state), 3_203_168_211_198_807_973);
        assert_eq!(split_mix(&mut state), 9_817_491_932_198_370_423);
    }

    #[test]
    fn normal_deviates_have_the_moments_of_the_normal_distribution() {
        let mut random = Random::new(1, 2);
        let n = 200_000;
        let (mut m1, mut m2, mut m4, mut outside) = (0.0, 0.0, 0.0, 0);
        for _ in 0..n {
            let x = random.normal();
            m1 += x;
            m2 += x * x;
            m4 += x * x * x * x;
            outside += usize::from(x.abs() > 1.959_963_985);
        }
        let n = f64::from(n);
        assert!((m1 / n).abs() < 4.0 / n.sqrt());
        assert!((m2 / n - 1.0).abs() < 4.0 * (2.0 / n).sqrt());
        assert!((m4 / n - 3.0).abs() < 4.0 * (96.0 / n).sqrt());
        assert!((outside as f64 / n - 0.05).abs() < 0.003);
    }

    #[test]
    fn streams_of_one_seed_differ() {
        assert_ne!(Random::new(7, 0).bits(), Random::new(7, 1).bits());
        assert_eq!(Random::new(7, 3).bits(), Random::new(7, 3).bits());
    }
}
