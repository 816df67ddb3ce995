//! The readable table: what was read, the fixture, each run, the comparison.

use std::fmt::Write as _;

use serde_json::Value;
use wattsieve_core::bench::Results;

use crate::arguments::Verb;

/// Half-width of a 95 % interval in standard uncertainties. JCGM 100:2008, G.6.6.
const COVERAGE: f64 = 1.96;

/// Text for a terminal.
pub(crate) fn table(verb: Verb, results: &Results) -> String {
    let all = serde_json::to_value(results).unwrap_or_default();
    let mut out = String::new();
    for input in list(&all["inputs"]) {
        read(&mut out, input, verb == Verb::Read);
    }
    if verb == Verb::Read {
        return out;
    }
    if all["fixture"].is_object() {
        fixture(&mut out, &all["fixture"]);
    }
    for run in list(&all["runs"]) {
        one_run(&mut out, run);
    }
    for pair in list(&all["comparison"]["pairs"]) {
        line(&mut out, "");
        line(&mut out, &format!("{} against {}", text(&pair["first"]), text(&pair["second"])));
        line(&mut out, &format!("  {}", text(&pair["verdict"]["text"])));
        for crossing in list(&pair["crossovers"]) {
            let (value, u) = (crossing["value"].as_f64(), crossing["u"].as_f64());
            if let (Some(v_in), Some(value)) = (crossing["v_in"].as_f64(), value) {
                line(&mut out, &format!("  losses cross at {} at {v_in:.1} V", with_interval(value, u, "A")));
            }
        }
    }
    line(&mut out, "");
    line(&mut out, "± is a 95 % interval; for efficiency in points.");
    out
}

fn line(out: &mut String, text: &str) {
    let _ = writeln!(out, "{text}");
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or("")
}

fn read(out: &mut String, input: &Value, full: bool) {
    let role = text(&input["role"]).replace('_', " ");
    line(
        out,
        &format!(
            "{}: {role}, {} rows, {} usable, {}",
            text(&input["name"]),
            input["rows_found"],
            input["rows_usable"],
            text(&input["outcome"]).replace('_', " ")
        ),
    );
    if let Some(message) = input["refusal"].as_str() {
        line(out, &format!("  {message}"));
    }
    for problem in list(&input["problems"]) {
        line(out, &format!("  {} × {}", problem["count"], text(&problem["code"]).replace('_', " ")));
        for example in list(&problem["examples"]).iter().take(if full { 3 } else { 1 }) {
            let mut place = String::new();
            if let Some(number) = example["line"].as_u64() {
                let _ = write!(place, "line {number}");
            }
            if let Some(number) = example["column"].as_u64() {
                let _ = write!(place, ", column {number} `{}`", text(&example["header"]));
            }
            line(
                out,
                &format!(
                    "    {place}: found `{}`, expected {}",
                    text(&example["found"]),
                    text(&example["expected"])
                ),
            );
            if !text(&example["hint"]).is_empty() {
                line(out, &format!("    hint: {}", text(&example["hint"])));
            }
        }
    }
    if full {
        for column in list(&input["understood"]["columns"]) {
            line(
                out,
                &format!(
                    "  column {} `{}`: {} in {}",
                    column["number"],
                    text(&column["header"]),
                    column["role"].as_str().unwrap_or("not used"),
                    column["unit"].as_str().filter(|unit| !unit.is_empty()).unwrap_or("no unit")
                ),
            );
        }
    }
}

fn fixture(out: &mut String, fixture: &Value) {
    line(out, "");
    line(out, "Fixture");
    for (name, key) in [("R in", "correction_in"), ("R out", "correction_out")] {
        line(out, &format!("  {name:<28}{}", quantity(&fixture[key], 1e3, "mΩ")));
    }
    line(out, &format!("  {:<28}{}", "both, as measured", quantity(&fixture["sums"]["path"], 1e3, "mΩ")));
    for (name, key) in [
        ("voltage channels, in by out", "voltage_gain_ratio"),
        ("current channels, in by out", "current_gain_ratio"),
    ] {
        line(out, &format!("  {name:<28}{}", quantity(&fixture[key], 1.0, "")));
    }
    line(
        out,
        &format!("  {:<28}{}", "division between the sides", text(&fixture["split"]["by"]).replace('_', " ")),
    );
    for band in list(&fixture["acceptance"]) {
        let (from, to) = (band["i_from"].as_f64().unwrap_or(0.0), band["i_to"].as_f64().unwrap_or(0.0));
        line(
            out,
            &format!(
                "  straight-through {from:>5.2} to {to:>5.2} A: {}",
                quantity(&band["efficiency"], 100.0, "%")
            ),
        );
    }
}

fn one_run(out: &mut String, run: &Value) {
    line(out, "");
    line(out, &format!("{} ({})", text(&run["name"]), text(&run["grade"]).replace('_', " ")));
    let rows = &run["rows"];
    line(out, &format!("  {} rows, {} kept", rows["read"], rows["kept"]));
    for reason in list(&rows["by_reason"]) {
        line(
            out,
            &format!(
                "    × {:<8} {}{}",
                reason["any_reason"].to_string(),
                text(&reason["code"]).replace('_', " "),
                if text(&reason["action"]) == "label" { " (label)" } else { "" }
            ),
        );
    }
    for finding in list(&run["findings"]) {
        line(out, &format!("  {}", text(&finding["text"])));
    }
    let asked = list(&run["at"]);
    if !asked.is_empty() {
        line(out, "     V in    A out   efficiency");
    }
    for point in asked {
        let (v_in, i_out) = (point["v_in"].as_f64().unwrap_or(0.0), point["i_out"].as_f64().unwrap_or(0.0));
        let found = match point["value"].as_f64() {
            Some(value) => {
                let u = point["u"].as_f64().map(|u| u * 100.0);
                with_interval(value * 100.0, u, "%") + &drawn_interval(&point["interval"])
            }
            None => format!("not known: {}", text(&point["why"]).replace('_', " ")),
        };
        line(out, &format!("  {v_in:>7.2}  {i_out:>7.3}   {found}"));
    }
}

/// The 95 % interval of an efficiency where ± does not describe it.
fn drawn_interval(interval: &Value) -> String {
    match (interval["by"].as_str(), interval["low"].as_f64(), interval["high"].as_f64()) {
        (Some("monte_carlo"), Some(low), Some(high)) => {
            format!("; uneven, 95 % lies from {:.2} to {:.2} % (draws)", low * 100.0, high * 100.0)
        }
        _ => String::new(),
    }
}

fn quantity(q: &Value, factor: f64, unit: &str) -> String {
    match q["value"].as_f64() {
        Some(value) => with_interval(value * factor, q["u"].as_f64().map(|u| u * factor), unit),
        None => format!("not known: {}", text(&q["why"]).replace('_', " ")),
    }
}

/// Value and 95 % interval, rounded to two significant digits of the interval (JCGM 100:2008, 7.2.6).
fn with_interval(value: f64, u: Option<f64>, unit: &str) -> String {
    let text = match u {
        Some(u) if u > 0.0 => {
            let half = COVERAGE * u;
            let digits = decimals(half);
            format!("{value:.digits$} ± {half:.digits$}")
        }
        _ => format!("{value:.4}"),
    };
    if unit.is_empty() { text } else { format!("{text} {unit}") }
}

fn decimals(half: f64) -> usize {
    let mut digits = 0;
    let mut scaled = half;
    while scaled < 9.95 && digits < 9 {
        scaled *= 10.0;
        digits += 1;
    }
    digits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounds_by_two_digits_of_the_interval() {
        assert_eq!(with_interval(94.123_456, Some(0.1), "%"), "94.12 ± 0.20 %");
        assert_eq!(with_interval(65.002, Some(0.158), "mΩ"), "65.00 ± 0.31 mΩ");
        assert_eq!(with_interval(120.0, Some(10.0), ""), "120 ± 20");
        assert_eq!(with_interval(0.5, None, "A"), "0.5000 A");
    }
}
