//! The sentences, one function each.

use std::collections::BTreeMap;

use super::{Answers, Finding, is, runs, split_cost, surely};
use crate::fixture::{Grade, State};
use crate::map::Operating;
use crate::math::small::median;
use crate::quantity::Quantity;
use crate::wording::{COVERAGE, efficiency, place, plain, said, size};

fn numbers(list: &[(&'static str, Quantity)]) -> BTreeMap<&'static str, Quantity> {
    list.iter().cloned().collect()
}

fn exact(value: Option<f64>) -> Quantity {
    value.map_or_else(|| Quantity::unknown("not_known"), Quantity::without_u)
}

pub(super) fn best_efficiency(op: &Operating, answers: &Answers) -> Option<Finding> {
    let peak = &answers.peak;
    let value = peak.efficiency.value?;
    let (v_in, i_out) = (peak.v_in.value?, peak.i_out.value?);
    let (from, to) = (peak.i_from?, peak.i_to?);
    let reach = if answers.levels.count > 1 {
        format!("the best of {} levels", answers.levels.count)
    } else {
        format!("within 0.2 points of it from {} to {}", place(from, "A"), place(to, "A"))
    };
    let said = match (peak.efficiency.u, peak.u_random) {
        (None, Some(random)) if random > 0.0 => format!(
            "about {:.2} % as logged, repeating to \u{b1}{} points,",
            100.0 * value,
            size(100.0 * COVERAGE * random)
        ),
        (u, _) => efficiency(value, u),
    };
    let text = format!("Best efficiency {said} at {}, {}; {reach}.", place(v_in, "V"), place(i_out, "A"));
    let evidence = (0..op.len())
        .filter(|&k| {
            op.i_out[k] >= 0.97 * from && op.i_out[k] <= 1.03 * to && (op.v_in[k] - v_in).abs() < 0.02 * v_in
        })
        .map(|k| op.row[k]);
    Some(Finding {
        code: "best_efficiency",
        text,
        numbers: numbers(&[
            ("efficiency", peak.efficiency.clone()),
            ("v_in", peak.v_in.clone()),
            ("i_out", peak.i_out.clone()),
            ("i_from", exact(peak.i_from)),
            ("i_to", exact(peak.i_to)),
        ]),
        confidence: 0.99,
        rows: runs(evidence),
    })
}

pub(super) fn loss_steps(op: &Operating, answers: &Answers) -> Vec<Finding> {
    answers
        .loss_model
        .steps
        .iter()
        .filter_map(|step| {
            let (power, at) = (step.power.value?, step.i_out.value?);
            let direction = if power > 0.0 { "up" } else { "down" };
            let u = step.power.u;
            let jump = said(power.abs(), u, "W");
            let z = if step.u_random > 0.0 { power / step.u_random } else { 10.0 };
            let near = |k: &usize| op.i_out[*k] > at / 1.12 && op.i_out[*k] < at * 1.12;
            Some(Finding {
                code: "loss_step",
                text: format!(
                    "Loss steps {direction} {jump} where the output current rises through {}: a \
                     change of mode.",
                    said(at, step.i_out.u, "A")
                ),
                numbers: numbers(&[("power", step.power.clone()), ("i_out", step.i_out.clone())]),
                confidence: surely(z).min(1.0 - libm::exp(-0.5 * step.gain.max(0.0))).min(0.999),
                rows: runs((0..op.len()).filter(near).map(|k| op.row[k])),
            })
        })
        .collect()
}

pub(super) fn quiescent(answers: &Answers) -> Option<Finding> {
    let found = &answers.quiescent;
    let v_in = found.v_in?;
    let (quantity, how) = match (found.power.value, found.fitted.value) {
        (Some(_), _) => (&found.power, "measured"),
        (None, Some(_)) => (&found.fitted, "from the fit of the loss towards no load"),
        (None, None) => return None,
    };
    let value = quantity.value?;
    let drawn = match quantity.u {
        Some(u) if value < COVERAGE * u => format!("less than {}", said(COVERAGE * u, Some(0.0), "W")),
        u => said(value, u, "W"),
    };
    Some(Finding {
        code: "quiescent",
        text: format!("Without load it draws {drawn} at {}, {how}.", place(v_in, "V")),
        numbers: numbers(&[
            ("power", found.power.clone()),
            ("fitted", found.fitted.clone()),
            ("v_in", Quantity::without_u(v_in)),
        ]),
        confidence: if found.power.value.is_some() { 0.99 } else { 0.9 },
        rows: Vec::new(),
    })
}

pub(super) fn supply_limit(answers: &Answers) -> Option<Finding> {
    let source = &answers.source;
    let limit = source.current_limit.value?;
    Some(Finding {
        code: "supply_limit",
        text: format!(
            "The supply limits at {}: the input voltage falls by {} while the current stays. What \
             lies beyond is the supply, not the converter.",
            said(limit, source.current_limit.u, "A"),
            said(source.limit_fall, Some(0.0), "V"),
        ),
        numbers: numbers(&[
            ("current", source.current_limit.clone()),
            ("fall", Quantity::without_u(source.limit_fall)),
        ]),
        confidence: 0.98,
        rows: source.limit_rows.clone(),
    })
}

pub(super) fn source(answers: &Answers) -> Option<Finding> {
    let source = &answers.source;
    let resistance = source.resistance.value?;
    let seen =
        source.timescale.map_or_else(String::new, |seconds| format!(", seen over {} s", plain(seconds)));
    let u = source.resistance.u?;
    Some(Finding {
        code: "source_resistance",
        text: format!(
            "The source and its leads have {} up to the input sense node{seen}.",
            said(resistance, Some(u), "ohm")
        ),
        numbers: numbers(&[
            ("resistance", source.resistance.clone()),
            ("open_circuit", source.open_circuit.clone()),
        ]),
        confidence: surely(resistance / u),
        rows: Vec::new(),
    })
}

pub(super) fn cut_off(answers: &Answers) -> Option<Finding> {
    let cut = &answers.cut_off;
    let voltage = cut.voltage.value?;
    let restart = match cut.restart_voltage.value {
        Some(restart) => {
            format!(", and it starts again at {}", said(restart, cut.restart_voltage.u, "V"))
        }
        None => String::new(),
    };
    let open = match cut.open_circuit.value {
        Some(open) => format!(" ({} with the source's sag added back)", place(open, "V")),
        None => String::new(),
    };
    let times = if cut.times == 1 { "once".to_owned() } else { format!("{} times", cut.times) };
    Some(Finding {
        code: "cut_off",
        text: format!(
            "The output stops when the input falls to {}{open}{restart}; seen {times}.",
            said(voltage, cut.voltage.u, "V")
        ),
        numbers: numbers(&[
            ("voltage", cut.voltage.clone()),
            ("restart_voltage", cut.restart_voltage.clone()),
            ("open_circuit", cut.open_circuit.clone()),
        ]),
        confidence: if cut.times > 1 || cut.restart_voltage.value.is_some() { 0.98 } else { 0.8 },
        rows: cut.rows.clone(),
    })
}

pub(super) fn levels(op: &Operating, answers: &Answers) -> Option<Finding> {
    let levels = &answers.levels;
    if levels.count < 2 {
        return None;
    }
    let list: Vec<String> = levels
        .table
        .iter()
        .zip(&levels.currents)
        .map(|(line, current)| match line.efficiency.value {
            Some(value) => format!("{} ({:.1} %)", place(*current, "A"), 100.0 * value),
            None => place(*current, "A"),
        })
        .collect();
    let (last, first) = list.split_last()?;
    Some(Finding {
        code: "levels",
        text: format!("The output comes in {} levels: {} and {last}.", levels.count, first.join(", ")),
        numbers: numbers(&[
            ("lowest", levels.table.first()?.i_out.clone()),
            ("highest", levels.table.last()?.i_out.clone()),
        ]),
        confidence: 0.98,
        rows: runs((0..op.len()).filter(|&k| levels.nearest(op.i_out[k]).is_some()).map(|k| op.row[k])),
    })
}

pub(super) fn drop_outs(op: &Operating, answers: &Answers) -> Vec<Finding> {
    let levels = &answers.levels;
    levels
        .table
        .iter()
        .zip(&levels.currents)
        .filter_map(|(line, &current)| {
            let above = line.regulates_above.value?;
            let below = |k: &usize| {
                op.v_in[*k] < above
                    && op.i_out[*k] < 0.95 * current
                    && op.i_out[*k] > 0.3 * current
                    && levels.nearest(op.i_out[*k]).is_none()
            };
            Some(Finding {
                code: "drop_out",
                text: format!(
                    "The {} level falls out of regulation below {}.",
                    place(current, "A"),
                    said(above, line.regulates_above.u, "V")
                ),
                numbers: numbers(&[
                    ("regulates_above", line.regulates_above.clone()),
                    ("i_out", line.i_out.clone()),
                ]),
                confidence: 0.95,
                rows: runs((0..op.len()).filter(below).map(|k| op.row[k])),
            })
        })
        .collect()
}

pub(super) fn grade(op: &Operating, answers: &Answers) -> Finding {
    let mut scatter: Vec<f64> =
        answers.map.efficiency.iter().filter(|cell| !cell.thin).filter_map(|cell| cell.u_random).collect();
    let typical = median(&mut scatter);
    let repeats =
        if typical.is_finite() { Quantity::without_u(typical) } else { Quantity::unknown("no_rows") };
    let points = |u: f64| size(100.0 * COVERAGE * u);
    let text = if is(op, Grade::AsLogged) {
        if typical.is_finite() {
            format!(
                "The cells repeat to \u{b1}{} points; accuracy is not known: give a \
                 straight-through run or the channels' accuracy.",
                points(typical)
            )
        } else {
            "Accuracy is not known: give a straight-through run or the channels' accuracy.".to_owned()
        }
    } else if is(op, Grade::SplitAssumed) {
        let cost = split_costs(op, answers);
        let worst =
            cost.iter().copied().fold([0.0; 3], |a: [f64; 3], b: [f64; 3]| if b[2] > a[2] { b } else { a });
        format!(
            "How the fixture's resistance divides between input and output side is assumed: this \
             alone is \u{b1}{} points at {}, {}. A run with the input or the output shorted settles \
             it.",
            points(worst[2]),
            place(worst[0], "V"),
            place(worst[1], "A")
        )
    } else {
        let mut total: Vec<f64> = answers
            .map
            .efficiency
            .iter()
            .filter(|cell| !cell.thin)
            .filter_map(|cell| cell.u_systematic)
            .collect();
        let systematic = median(&mut total);
        if systematic.is_finite() && typical.is_finite() {
            format!(
                "Settled: the fixture leaves \u{b1}{} points on a typical cell, scatter \
                 \u{b1}{} points.",
                points(systematic),
                points(typical)
            )
        } else {
            "Settled: gains and series resistances are measured.".to_owned()
        }
    };
    Finding {
        code: "grade",
        text,
        numbers: numbers(&[("repeats", repeats)]),
        confidence: 0.99,
        rows: Vec::new(),
    }
}

/// What the assumed division costs, as `[v_in, i_out, u]`: at the asked points, else at the peak,
/// else over the cells.
fn split_costs(op: &Operating, answers: &Answers) -> Vec<[f64; 3]> {
    let mut places: Vec<State> = answers
        .at
        .iter()
        .filter_map(|point| {
            let (p_in, p_out) = (point.p_in.value?, point.p_out.value?);
            Some(State {
                v_in: point.v_in,
                i_in: p_in / point.v_in,
                v_out: p_out / point.i_out,
                i_out: point.i_out,
            })
        })
        .collect();
    if places.is_empty() && !op.is_empty() {
        let mut order: Vec<usize> = (0..op.len()).collect();
        let middle = order.len() - 1 - order.len() / 20;
        order.select_nth_unstable_by(middle, |&a, &b| op.i_out[a].total_cmp(&op.i_out[b]).then(a.cmp(&b)));
        let k = order[middle];
        places.push(State { v_in: op.v_in[k], i_in: op.i_in[k], v_out: op.v_out[k], i_out: op.i_out[k] });
    }
    places.into_iter().map(|s| [s.v_in, s.i_out, split_cost(op, op.reading_of(s, 0.0))]).collect()
}
