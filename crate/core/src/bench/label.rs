//! Labels that need the correction: what a row is, not whether it counts as read.

use crate::map::Source;
use crate::point::{Rows, each_reading};
use crate::sieve::{Mask, Reason, Settings, set_runs};

/// Standard uncertainties above one from which a row is labelled. Judgement.
const ABOVE_ONE: f64 = 3.0;

/// Label bits of every row.
///
/// A row whose efficiency exceeds one by more than three standard uncertainties is labelled, never
/// removed: an excess is a message about the calibration. Rows in the supply's current limit are
/// labelled where the run itself shows such a limit or one is stated.
pub(super) fn labels(rows: &dyn Rows, source: &Source, settings: &Settings) -> Vec<Mask> {
    let mut labels = vec![0; rows.rows()];
    let noise = rows.noise();
    let correction = rows.correction();
    each_reading(rows, 0..rows.rows(), |row, reading| {
        if !Reason::kept(rows.mask(row)) {
            return;
        }
        let state = correction.apply(reading);
        let excess = state.efficiency() - 1.0;
        // Also false for a missing value; below the current's noise there is no efficiency to judge.
        if excess > 0.0 && state.i_in > 0.0 && state.i_out > 0.0 {
            let systematic = correction.variance(&correction.sensitivity(reading));
            let random = random_variance(&state, &noise, correction);
            if excess > ABOVE_ONE * (1.0 + excess) * (systematic + random).sqrt() {
                labels[row] |= Reason::AboveOne.bit();
            }
        }
    });
    if settings.gates.supply_limit && settings.supply_limit.is_none() {
        set_runs(&mut labels, &source.limit_rows, Reason::SupplyLimit);
    }
    labels
}

fn random_variance(
    state: &crate::fixture::State,
    noise: &[f64; 5],
    correction: &crate::fixture::Correction,
) -> f64 {
    use crate::fixture::Parameter::{GainIIn, GainIOut, GainVIn, GainVOutHigh, GainVOutLow};
    let square = |u: f64, gain: f64, of: f64| {
        let part = u / gain / of;
        part * part
    };
    square(noise[0], correction.get(GainVIn), state.v_in)
        + square(noise[1], correction.get(GainVOutHigh), state.v_out)
        + square(noise[2], correction.get(GainVOutLow), state.v_out)
        + square(noise[3], correction.get(GainIIn), state.i_in)
        + square(noise[4], correction.get(GainIOut), state.i_out)
}

/// Puts labels on masks in place of those that stood there.
///
/// A stated current limit was labelled by the gates, on readings, and stays as it is.
pub(super) fn apply(masks: &mut [Mask], labels: &[Mask], settings: &Settings) {
    let mut renewed = Reason::AboveOne.bit();
    if settings.supply_limit.is_none() {
        renewed |= Reason::SupplyLimit.bit();
    }
    for (mask, label) in masks.iter_mut().zip(labels) {
        *mask = (*mask & !renewed) | (label & renewed);
    }
}
