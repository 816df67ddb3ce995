//! One row as an operating point, with what its uncertainty is made of.

use super::Rows;
use crate::fixture::{Correction, Grade, PARAMETERS, Spot, Spread, State, spread};
use crate::sieve::Reason;
use serde::Serialize;

/// Factor from a standard uncertainty to half of a 95 % interval, normal distribution.
///
/// **Source** JCGM 100:2008, table G.1.
pub const COVERAGE_95: f64 = 1.96;

/// One cause of a row's uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Part {
    /// `scatter`, `gain`, `offset`, `leak`, `fixture` or `delays`.
    pub name: &'static str,
    /// Standard uncertainty of the efficiency from this cause alone, a fraction.
    pub u: f64,
}

/// One row at the converter's terminals.
///
/// **Units** V, A, W, fractions; uncertainties are standard ones (k = 1) unless named otherwise.
/// **Missing data** what needs a reading that is missing is `NaN`; uncertainties that are not
/// known are `None`: without a calibration there is scatter only, and no total.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RowPoint {
    /// Number of the row.
    pub row: usize,
    /// Time, s.
    pub time: f64,
    /// V_A.
    pub v_in: f64,
    /// I_i.
    pub i_in: f64,
    /// V_B.
    pub v_out: f64,
    /// I_o.
    pub i_out: f64,
    /// Input power.
    pub p_in: f64,
    /// Output power.
    pub p_out: f64,
    /// Input less output power.
    pub loss: f64,
    /// Output by input power.
    pub efficiency: f64,
    /// Of the efficiency: from the noise of this one row.
    pub u_random: f64,
    /// Of the efficiency: from what all rows share, and from the delays between channels while this row moves.
    pub u_systematic: Option<f64>,
    /// Of the efficiency: both together.
    pub u: Option<f64>,
    /// Half of the efficiency's 95 % interval.
    pub half_95: Option<f64>,
    /// Ends of the efficiency's 95 % interval; not known where `u` is not.
    pub low_95: Option<f64>,
    /// Upper end; also unknown where nothing bounds it.
    pub high_95: Option<f64>,
    /// How the interval was found: `linear`, `monte_carlo` or `none`.
    pub interval_by: &'static str,
    /// Between which points the values stand: `converter`, `board` or `source_to_load`.
    pub plane: &'static str,
    /// Of the loss: from the noise of this one row.
    pub loss_u_random: f64,
    /// Of the loss: both together.
    pub loss_u: Option<f64>,
    /// Half of the loss's 95 % interval.
    pub loss_half_95: Option<f64>,
    /// What the efficiency's uncertainty is made of, largest first. Causes can be correlated: their
    /// squares need not add up to that of the whole.
    pub parts: Vec<Part>,
}

/// Groups of parameters that make one cause: name, first and one past the last.
const CAUSES: [(&str, usize, usize); 4] =
    [("gain", 0, 5), ("offset", 5, 10), ("leak", 10, 12), ("fixture", 12, PARAMETERS)];

impl RowPoint {
    /// Evaluates one row.
    ///
    /// **Formula** a reading and its channel's offset enter only as their difference, so that the
    /// sensitivity to a reading is minus that to the offset.
    /// **Source** law of propagation, JCGM 100:2008 clauses 5.1.2 and 5.2.2.
    #[must_use]
    pub fn of(rows: &(impl Rows + ?Sized), row: usize) -> Self {
        Self::evaluated(rows, row, spread)
    }

    /// The same without the ends of the efficiency's interval, whose draws can take long.
    #[must_use]
    pub fn without_interval(rows: &(impl Rows + ?Sized), row: usize) -> Self {
        Self::evaluated(rows, row, |_, _| Spread::default())
    }

    fn evaluated(
        rows: &(impl Rows + ?Sized),
        row: usize,
        interval_of: impl Fn(&Correction, &Spot) -> Spread,
    ) -> Self {
        let correction = rows.correction();
        let reading = rows.reading(row);
        let State { v_in, i_in, v_out, i_out } = correction.apply(reading);
        let (p_in, p_out) = (v_in * i_in, v_out * i_out);
        let efficiency = p_out / p_in;
        let relative = correction.sensitivity(reading);
        let in_watts = correction.loss_sensitivity(reading);
        let noise = rows.noise();
        let scatter = |sensitivity: &[f64; PARAMETERS]| {
            let mut sum = 0.0;
            for (k, sigma) in noise.iter().enumerate() {
                let one = sensitivity[5 + k] * sigma;
                sum += one * one;
            }
            sum
        };
        let (random, loss_random) = (scatter(&relative), scatter(&in_watts));
        let slope = slope(rows, row);
        let delays = |sensitivity: &[f64; PARAMETERS]| {
            rows.doubt().variance(&std::array::from_fn(|k| sensitivity[5 + k] * slope[k]))
        };
        let (delayed, loss_delayed) = (delays(&relative), delays(&in_watts));
        let known = correction.grade != Grade::AsLogged;
        let systematic = known.then(|| correction.variance(&relative) + delayed);
        let loss_systematic = known.then(|| correction.variance(&in_watts) + loss_delayed);
        let size = efficiency.abs();
        let u = systematic.map(|systematic| size * (random + systematic).sqrt());
        let loss_u = loss_systematic.map(|systematic| (loss_random + systematic).sqrt());

        let mut parts = vec![Part { name: "scatter", u: size * random.sqrt() }];
        if delayed > 0.0 {
            parts.push(Part { name: "delays", u: size * delayed.sqrt() });
        }
        if known {
            for (name, from, to) in CAUSES {
                let mut own = [0.0; PARAMETERS];
                own[from..to].copy_from_slice(&relative[from..to]);
                let part = size * correction.variance(&own).max(0.0).sqrt();
                if part > 0.0 {
                    parts.push(Part { name, u: part });
                }
            }
        }
        parts.sort_by(|a, b| b.u.total_cmp(&a.u).then(a.name.cmp(b.name)));
        let state = State { v_in, i_in, v_out, i_out };
        let spot = Spot { reading, reading_u: noise, delays_u: delayed.sqrt(), state };
        let interval =
            if efficiency.is_finite() { interval_of(correction, &spot) } else { Spread::default() };
        Self {
            low_95: interval.low,
            high_95: interval.high,
            interval_by: match interval.by.as_ref() {
                "linear" => "linear",
                "monte_carlo" => "monte_carlo",
                _ => "none",
            },
            plane: correction.plane.code(),
            row,
            time: rows.time(row),
            v_in,
            i_in,
            v_out,
            i_out,
            p_in,
            p_out,
            loss: p_in - p_out,
            efficiency,
            u_random: size * random.sqrt(),
            u_systematic: systematic.map(|systematic| size * systematic.sqrt()),
            u,
            half_95: u.map(|u| COVERAGE_95 * u),
            loss_u_random: loss_random.sqrt(),
            loss_u,
            loss_half_95: loss_u.map(|u| COVERAGE_95 * u),
            parts,
        }
    }
}

/// How fast the readings of a row change, V/s and A/s in channel order: from the kept rows beside it.
///
/// **Missing data** 0 where no time is known, no kept row is beside it, or nothing depends on it.
fn slope(rows: &(impl Rows + ?Sized), row: usize) -> [f64; 5] {
    if rows.doubt().is_none() {
        return [0.0; 5];
    }
    let kept = |row: &usize| *row < rows.rows() && Reason::kept(rows.mask(*row));
    let first = row.checked_sub(1).filter(kept).unwrap_or(row);
    let last = Some(row + 1).filter(kept).unwrap_or(row);
    let seconds = rows.time(last) - rows.time(first);
    let (before, after) = (rows.reading(first), rows.reading(last));
    std::array::from_fn(|k| {
        let slope = (after[k] - before[k]) / seconds;
        if slope.is_finite() { slope } else { 0.0 }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::Parameter;
    use crate::sieve::Mask;

    struct One {
        reading: [f64; 5],
        correction: Correction,
        noise: [f64; 5],
    }

    impl Rows for One {
        fn rows(&self) -> usize {
            1
        }
        fn time(&self, _: usize) -> f64 {
            0.0
        }
        fn mask(&self, _: usize) -> Mask {
            0
        }
        fn reading(&self, _: usize) -> [f64; 5] {
            self.reading
        }
        fn correction(&self) -> &Correction {
            &self.correction
        }
        fn noise(&self) -> [f64; 5] {
            self.noise
        }
    }

    fn one() -> One {
        let mut correction = Correction::as_logged();
        correction.values[Parameter::InputResistance as usize] = 0.05;
        correction.values[Parameter::OutputResistance as usize] = 0.06;
        correction.values[Parameter::GainIOut as usize] = 1.004;
        correction.grade = Grade::Settled;
        correction.covariance[3][3] = 1e-6;
        correction.covariance[9][9] = 4e-8;
        correction.covariance[12][12] = 1e-6;
        correction.covariance[12][13] = -5e-7;
        correction.covariance[13][12] = -5e-7;
        correction.covariance[13][13] = 2e-6;
        One { reading: [12.0, 5.1, 0.02, 0.9, 2.0], correction, noise: [2e-3, 1e-3, 1e-3, 5e-4, 8e-4] }
    }

    /// The scatter against finite differences of the readings themselves.
    #[test]
    fn scatter_follows_from_the_readings() {
        let rows = one();
        let found = RowPoint::of(&rows, 0);
        let (mut efficiency, mut loss) = (0.0, 0.0);
        for k in 0..5 {
            let step = rows.noise[k] * 1e-3;
            let shifted = |by: f64| {
                let mut reading = rows.reading;
                reading[k] += by;
                RowPoint::of(&One { reading, correction: rows.correction.clone(), noise: [0.0; 5] }, 0)
            };
            let (up, down) = (shifted(step), shifted(-step));
            let slope = |a: f64, b: f64| (a - b) / (2.0 * step) * rows.noise[k];
            efficiency += slope(up.efficiency, down.efficiency) * slope(up.efficiency, down.efficiency);
            loss += slope(up.loss, down.loss) * slope(up.loss, down.loss);
        }
        assert!((found.u_random / efficiency.sqrt() - 1.0).abs() < 1e-5);
        assert!((found.loss_u_random / loss.sqrt() - 1.0).abs() < 1e-5);
    }

    #[test]
    fn parts_name_their_causes_and_add_up_where_uncorrelated() {
        let mut rows = one();
        rows.correction.covariance[12][13] = 0.0;
        rows.correction.covariance[13][12] = 0.0;
        let found = RowPoint::of(&rows, 0);
        let squares: f64 = found.parts.iter().map(|part| part.u * part.u).sum();
        assert!((squares.sqrt() / found.u.unwrap() - 1.0).abs() < 1e-12);
        let names: Vec<&str> = found.parts.iter().map(|part| part.name).collect();
        assert!(names.contains(&"scatter") && names.contains(&"fixture") && !names.contains(&"leak"));
        assert!(found.parts.windows(2).all(|pair| pair[0].u >= pair[1].u));
    }

    #[test]
    fn without_calibration_there_is_no_total() {
        let rows = One { correction: Correction::as_logged(), ..one() };
        let found = RowPoint::of(&rows, 0);
        assert!(
            found.u_random > 0.0 && found.u.is_none() && found.half_95.is_none() && found.loss_u.is_none()
        );
        assert_eq!(found.parts.len(), 1);
    }
}
