//! Sentences about how a run's rows were brought together.

use std::collections::BTreeMap;

use super::run::Run;
use crate::align::{Summary, clocks::From};
use crate::finding::Finding;
use crate::quantity::Quantity;

/// What is to be said of a run's rows before its answers, most telling first.
pub(super) fn told(run: &Run, alignment: &Summary) -> Vec<Finding> {
    let mut out = Vec::new();
    let mut say = |code: &'static str, text: String, numbers: BTreeMap<&'static str, Quantity>| {
        out.push(Finding { code, text, numbers, confidence: 0.99, rows: Vec::new() });
    };
    let pulsed = &run.pulsed;
    if pulsed.recognised {
        let text = match &pulsed.refused {
            Some(refused) => refused.clone(),
            None => format!(
                "{} Its output power over the run is {:.3} W; the product of the averages would be {:.3} W.",
                pulsed.evidence,
                pulsed.power.value.unwrap_or(f64::NAN),
                pulsed.product_of_averages.value.unwrap_or(f64::NAN)
            ),
        };
        let numbers = BTreeMap::from([
            ("power", pulsed.power.clone()),
            ("product_of_averages", pulsed.product_of_averages.clone()),
        ]);
        say("pulsed_output", text, numbers);
    }
    if let Some(plateaus) = run.plateaus.as_ref().filter(|_| run.averaged.is_some()) {
        let text = format!(
            "The run stands still at {} settings; what settles in the first {:.2} s of each is dropped and the rest averaged.",
            plateaus.list.len(),
            plateaus.settle
        );
        let numbers = BTreeMap::from([
            ("points", Quantity::without_u(plateaus.list.len() as f64)),
            ("settle", Quantity::without_u(plateaus.settle)),
        ]);
        say("settled_points", text, numbers);
    }
    for logger in &run.loggers {
        let clocks = &logger.clocks;
        if clocks.from == From::None {
            continue;
        }
        let within = clocks.row_u.map_or_else(String::new, |u| format!(" to \u{b1}{:.2} ms", 1.96e3 * u));
        let numbers = BTreeMap::from([
            ("offset", Quantity { value: Some(clocks.offset), u: clocks.offset_u, why: None }),
            ("ratio", Quantity { value: Some(clocks.ratio), u: clocks.ratio_u, why: None }),
        ]);
        let others = if clocks.others.is_empty() {
            ""
        } else {
            " The run repeats itself: other offsets fit as well, and the longest common time was taken."
        };
        let text = format!(
            "The second logger started {:.4} s {} the first and its clock runs {:.0} ppm {}; both are brought \
             together{within}.{others}",
            clocks.offset.abs(),
            if clocks.offset < 0.0 { "before" } else { "after" },
            (clocks.ratio - 1.0).abs() * 1e6,
            if clocks.ratio < 1.0 { "fast" } else { "slow" }
        );
        say("loggers", text, numbers);
    }
    if let (Some(before), Some(after)) = (alignment.gap_before, alignment.gap_after)
        && alignment.why.is_none()
        && before > 1.5 * after
    {
        let text = format!(
            "The channels of a row are not read at one instant: brought together, rising and falling rows differ by {:.2} points of \
             efficiency instead of {:.2}.",
            100.0 * after,
            100.0 * before
        );
        let numbers = BTreeMap::from([
            ("gap_before", Quantity::without_u(before)),
            ("gap_after", Quantity::without_u(after)),
        ]);
        say("alignment", text, numbers);
    }
    out
}
