//! Wires in the converter's place that are harder to tell: a bridge across, and a current at rest; and
//! what speaks for the next best kind.

use super::kind::{Kind, LEAST_OHM, MOST_OHM, QUIET_AMPERE, QUIET_VOLT, RunKind, Seen, line};

/// Largest resistance of a fixture that is believed where nothing was swept, ohm.
const AT_REST_OHM: f64 = 0.3;

/// Largest drop beside the input voltage that is believed there.
const AT_REST_DROP: f64 = 0.05;

/// Input high bridged to output low: the voltage between the input node and the low output node follows
/// the current through zero with a few milliohms, and there is no load in between.
///
/// **Source** the wiring itself; bounds are common practice, no source.
pub(super) fn cross_bridge(
    v_in: &Seen,
    low: Option<&Seen>,
    v_out: &Seen,
    i_in: &Seen,
    i_out: &Seen,
) -> Option<Kind> {
    if !i_in.swept(0.05) {
        return None;
    }
    let across = match low {
        Some(low) => v_in.values.iter().zip(&low.values).map(|(high, low)| high - low).collect(),
        None if v_out.quiet(QUIET_VOLT, v_in.span()) => v_in.values.clone(),
        None => return None,
    };
    let noise = low.map_or(v_in.noise, |low| (v_in.noise * v_in.noise + low.noise * low.noise).sqrt());
    let across = Seen::new(across, noise);
    let fit = line(&i_in.values, &across.values)?;
    let follows = (LEAST_OHM..MOST_OHM).contains(&fit.slope)
        && fit.intercept.abs() < 0.05
        && fit.scatter < (5.0 * across.noise).max(0.05 * across.span());
    // With a load behind wires the output voltage takes most of it.
    let load = line(&i_in.values, &v_out.values)?;
    let loaded = load.slope > 0.5 * fit.slope && !v_out.quiet(QUIET_VOLT, 0.0);
    let other = line(&i_in.values, &i_out.values)?;
    let one_current = (other.slope.abs() - 1.0).abs() < 0.05 && other.intercept.abs() < 0.05;
    let none = i_out.quiet(QUIET_AMPERE, i_in.span());
    (follows && !loaded && (one_current || none)).then(|| Kind {
        kind: RunKind::CrossBridge,
        evidence: format!(
            "the voltage from the input to the low output node follows the input current up to {:.2} A with {:.2} mΩ, and no load voltage is there",
            i_in.largest(),
            1e3 * fit.slope
        ),
        resistance: Some(fit.slope),
        next: None,
    })
}

/// Wire in the converter's place at a current that stays as it is.
pub(super) fn straight_through_at_rest(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> Option<Kind> {
    let flows = i_in.middle > (20.0 * i_in.noise).max(0.2) && i_in.span() < 0.1 * i_in.middle;
    if !flows || v_out.middle < 0.2 {
        return None;
    }
    let ratio = i_out.middle / i_in.middle;
    let same = (ratio - 1.0).abs() < 0.01 && i_out.span() < 0.1 * i_out.middle.abs();
    let drop: Vec<f64> = v_in.values.iter().zip(&v_out.values).map(|(v_in, v_out)| v_in - v_out).collect();
    let drop = Seen::new(drop, (v_in.noise * v_in.noise + v_out.noise * v_out.noise).sqrt());
    let ohms = drop.middle / i_in.middle;
    let small = (LEAST_OHM..AT_REST_OHM).contains(&ohms) && drop.middle < AT_REST_DROP * v_in.middle;
    // Where the source moves, a wire's drop does not move with it.
    let moves = v_in.span() > (30.0 * v_in.noise).max(0.02 * v_in.middle);
    let steady = !moves || line(&v_in.values, &drop.values).is_some_and(|fit| fit.slope.abs() < 0.02);
    (same && small && steady).then(|| Kind {
        kind: RunKind::StraightThrough,
        evidence: format!(
            "{:.2} A flow all the time, both currents agree with a factor of {ratio:.4}, and {:.1} mV are lost between input and output, as over {:.2} mΩ{}",
            i_in.middle,
            1e3 * drop.middle,
            1e3 * ohms,
            if moves { " whatever the input voltage" } else { "; nothing was swept, so this is less sure" }
        ),
        resistance: Some(ohms),
        next: None,
    })
}

/// What a run would have to be if it were a straight-through run, and what speaks against that.
pub(super) fn against_wires(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> (RunKind, String) {
    let currents = line(&i_in.values, &i_out.values);
    let drop: Vec<f64> = v_in.values.iter().zip(&v_out.values).map(|(v_in, v_out)| v_in - v_out).collect();
    let over = line(&i_in.values, &drop);
    let against = match (currents, over) {
        (Some(currents), _) if (currents.slope - 1.0).abs() >= 0.05 => format!(
            "the output current changes {:.3} times as much as the input current, where wires give 1",
            currents.slope
        ),
        (_, Some(over)) => format!(
            "{:.2} V between input and output are left at no current, where wires leave none",
            over.intercept
        ),
        _ => "the currents do not move, so the drop cannot be followed".to_owned(),
    };
    (RunKind::StraightThrough, format!("against it: {against}"))
}

/// What a calibration run would be as a converter's.
pub(super) fn as_converter(v_in: &Seen, v_out: &Seen, i_in: &Seen, i_out: &Seen) -> String {
    let (mut power_in, mut power_out) = (0.0, 0.0);
    for (((v, i), u), o) in v_in.values.iter().zip(&i_in.values).zip(&v_out.values).zip(&i_out.values) {
        power_in += v * i;
        power_out += u * o;
    }
    if power_in > 0.0 && power_out > 0.0 {
        format!("as a converter it would give {:.1} % of the power on", 100.0 * power_out / power_in)
    } else {
        "as a converter it would give no power on".to_owned()
    }
}
