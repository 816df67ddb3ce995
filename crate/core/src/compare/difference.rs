//! One difference of two runs at one place.

use super::Settings;
use crate::align::Doubt;
use crate::fixture::{Correction, PARAMETERS, Parameter};
use crate::map::local::Place;
use crate::map::{How, Operating, Point, minus, plus};
use crate::quantity::Quantity;

/// Differences first - second at one place, with their variances apart.
#[derive(Clone, Debug)]
pub(crate) struct Delta {
    pub(crate) first: Place,
    pub(crate) second: Place,
    /// Efficiency, loss, output power.
    pub(crate) value: [f64; 3],
    pub(crate) random: [f64; 3],
    /// Systematic variances; `None` where an accuracy is not known.
    pub(crate) systematic: Option<[f64; 3]>,
    /// Variances from contacts made again between the runs.
    pub(crate) replug: [f64; 3],
    /// Variances from the delays between channels.
    pub(crate) delays: [f64; 3],
}

/// How two runs' corrections go together.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Fixtures<'a> {
    pub(crate) first: &'a Correction,
    pub(crate) second: &'a Correction,
    /// One calibration serves both: its errors are the same in both runs.
    pub(crate) shared: bool,
    pub(crate) known: bool,
    /// Scatter of one port's resistance when its contacts are made again, ohm.
    pub(crate) replug: f64,
    /// What is not known of the delays of either run's channels.
    pub(crate) doubts: [&'a Doubt; 2],
}

impl<'a> Fixtures<'a> {
    pub(crate) fn of(first: &'a Operating, second: &'a Operating, settings: &Settings) -> Self {
        Self {
            first: &first.correction,
            second: &second.correction,
            shared: first.correction == second.correction,
            known: first.accuracy_known() && second.accuracy_known(),
            replug: settings.replug,
            doubts: [&first.doubt, &second.doubt],
        }
    }

    /// Variance of a difference from the fixture.
    ///
    /// **Formula** `(J_A - J_B) C (J_A - J_B)^T` on one calibration; on two the variances add.
    /// **Source** JCGM 100:2008 clause 5.2.2.
    pub(crate) fn variance(&self, a: &[f64; PARAMETERS], b: &[f64; PARAMETERS]) -> f64 {
        if self.shared {
            self.first.variance(&minus(a, b)).max(0.0)
        } else {
            self.first.variance(a).max(0.0) + self.second.variance(b).max(0.0)
        }
    }

    /// Variance from the delays between channels: one error where both runs rest on the same delays.
    pub(crate) fn delayed(&self, a: &[f64; 5], b: &[f64; 5]) -> f64 {
        let [first, second] = self.doubts;
        if first.same_as(second) {
            first.variance(&std::array::from_fn(|k| a[k] - b[k]))
        } else {
            first.variance(a) + second.variance(b)
        }
    }

    /// Variance from contacts made again: each run and port on its own.
    ///
    /// **Formula** `sum over runs of ((dx/dR_I)^2 + (dx/dR_O)^2) r^2`.
    pub(crate) fn replugged(&self, a: &[f64; PARAMETERS], b: &[f64; PARAMETERS]) -> f64 {
        let ports = [Parameter::InputResistance as usize, Parameter::OutputResistance as usize];
        let sum: f64 = ports.iter().map(|&port| a[port] * a[port] + b[port] * b[port]).sum();
        sum * self.replug * self.replug
    }
}

impl Delta {
    pub(crate) fn of(first: Place, second: Place, fixtures: &Fixtures<'_>) -> Self {
        let mut random = [0.0; 3];
        let mut systematic = [0.0; 3];
        let mut replug = [0.0; 3];
        let mut delays = [0.0; 3];
        for k in 0..3 {
            let (a, b) = (&first.sensitivity[k], &second.sensitivity[k]);
            random[k] = first.u_random[k] * first.u_random[k] + second.u_random[k] * second.u_random[k];
            systematic[k] = fixtures.variance(a, b);
            replug[k] = fixtures.replugged(a, b);
            delays[k] = fixtures.delayed(&first.per_second[k], &second.per_second[k]);
        }
        Self {
            value: [
                first.efficiency - second.efficiency,
                first.loss - second.loss,
                first.p_out - second.p_out,
            ],
            random,
            systematic: fixtures.known.then_some(systematic),
            replug,
            delays,
            first,
            second,
        }
    }

    /// Standard uncertainty of (0) efficiency, (1) loss or (2) output power.
    pub(crate) fn u(&self, which: usize) -> Option<f64> {
        self.u_systematic(which).map(|systematic| (systematic * systematic + self.random[which]).sqrt())
    }

    /// Systematic standard uncertainty, contacts made again and delays included.
    pub(crate) fn u_systematic(&self, which: usize) -> Option<f64> {
        self.systematic.map(|systematic| (systematic[which] + self.replug[which] + self.delays[which]).sqrt())
    }

    /// Efficiency difference over its uncertainty.
    pub(crate) fn z(&self) -> Option<f64> {
        self.u(0).and_then(|u| {
            if u > 0.0 { Some(self.value[0] / u) } else { (self.value[0] == 0.0).then_some(0.0) }
        })
    }

    pub(crate) fn quantity(&self, which: usize) -> Quantity {
        Quantity { value: Some(self.value[which]), u: self.u(which), why: None }
    }

    /// Sensitivities of the input power difference's two runs.
    fn p_in(&self, fixtures: &Fixtures<'_>) -> Quantity {
        let sum = |place: &Place| plus(&place.sensitivity[1], &place.sensitivity[2]);
        let (a, b) = (sum(&self.first), sum(&self.second));
        let moved = |place: &Place| -> [f64; 5] {
            std::array::from_fn(|k| place.per_second[1][k] + place.per_second[2][k])
        };
        let variance = fixtures.variance(&a, &b)
            + fixtures.replugged(&a, &b)
            + fixtures.delayed(&moved(&self.first), &moved(&self.second))
            + self.random[1]
            + self.random[2];
        Quantity {
            value: Some(self.value[1] + self.value[2]),
            u: fixtures.known.then(|| variance.sqrt()),
            why: None,
        }
    }

    pub(crate) fn point(&self, fixtures: &Fixtures<'_>) -> Point {
        let how = if self.first.by_rows && self.second.by_rows { How::Rows } else { How::Fit };
        let end = |t: f64| self.u(0).map(|u| self.value[0] + t * u);
        Point {
            interval: crate::fixture::Spread {
                by: if self.u(0).is_some() { "linear" } else { "none" }.into(),
                low: end(-1.96),
                high: end(1.96),
                why: None,
            },
            v_in: self.first.v_in,
            i_out: self.first.i_out,
            value: Some(self.value[0]),
            u: self.u(0),
            p_in: self.p_in(fixtures),
            p_out: self.quantity(2),
            loss: self.quantity(1),
            n: self.first.n.min(self.second.n),
            how,
            why: None,
            u_random: Some(self.random[0].sqrt()),
            u_systematic: self.u_systematic(0),
            u_delays: self.delays[0].sqrt(),
        }
    }
}
