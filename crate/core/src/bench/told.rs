//! Sentences about how a run's rows were brought together.

use std::collections::BTreeMap;

use super::run::Run;
use crate::align::{Summary, clocks::From};
use crate::finding::Finding;
use crate::quantity::Quantity;
use crate::sieve::{self, Agreement, Mask, Settled};
use crate::wording::share;

/// What is to be said of a run's rows before its answers, most telling first.
///
/// `sieve` is `None` where it takes nothing.
pub(super) fn told(
    run: &Run,
    rows: usize,
    alignment: &Summary,
    settings: &sieve::Settings,
    sieve: Option<&sieve::Summary>,
) -> Vec<Finding> {
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
    if run.averaged.is_none()
        && let Some(why) = run.settled.and_then(table_because)
    {
        let text = format!(
            "Each row is taken as its own settled point: {why}. Alignment, the gates that look along time and the sieve do \
             not apply to it."
        );
        say("settled_points", text, BTreeMap::from([("points", Quantity::without_u(rows as f64))]));
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
    if let Some(text) = alignment_unknown(run.row_change, alignment, settings.slew_limit) {
        let numbers = BTreeMap::from([
            ("row_change", Quantity::without_u(run.row_change)),
            (
                "gap",
                alignment.gap_before.map_or_else(|| Quantity::unknown("nothing_moves"), Quantity::without_u),
            ),
        ]);
        say("alignment_unknown", text, numbers);
    }
    if let Some((text, now, next)) = sieve.and_then(no_plateau) {
        let numbers = BTreeMap::from([
            ("share_out", Quantity::without_u(now)),
            ("share_out_next", Quantity::without_u(next)),
        ]);
        say("sieve_no_plateau", text, numbers);
    }
    // Where the sieve applies, the gates along time do too.
    if sieve.is_some() && settings.gates.spike {
        out.extend(run.masks.as_deref().and_then(gates_disagree));
    }
    out
}

/// Why the rows of a log are settled points, as a part of a sentence; `None` where they are not, or are averages.
fn table_because(settled: Settled) -> Option<&'static str> {
    match settled {
        Settled::Said => Some("you said so"),
        Settled::Slow => Some("they are a second or more apart"),
        Settled::Untimed => Some("no time is logged"),
        Settled::Restless => Some("more than a fifth of the changes from row to row are steps"),
        Settled::No | Settled::Denied | Settled::Plateaus | Settled::Periods => None,
    }
}

/// What is said where the delays between channels are not known and would matter: rows that change by more than the
/// limit from one to the next, or a gap between rising and falling rows that no delay explains.
fn alignment_unknown(row_change: f64, alignment: &Summary, limit: f64) -> Option<String> {
    match (alignment.why?, alignment.gap_before) {
        ("nothing_moves", _) if row_change > limit => Some(format!(
            "How far apart the channels of a row are read is not known, and this run cannot tell: it does not rise and fall over \
             the same currents. Rows change by up to {} from one to the next, which a delay of a whole row would cost: state the delays, or give a \
             straight-through run that moves.",
            share(row_change)
        )),
        ("no_gap_to_close", Some(gap)) if gap > limit && row_change > limit => Some(format!(
            "How far apart the channels of a row are read is not known: rising and falling rows differ by {:.2} points of efficiency, and no \
             delay in the order of the columns explains it. Heat does that too: repeat the run at half the speed, or state the delays.",
            100.0 * gap
        )),
        _ => None,
    }
}

/// Share of the rows from which what the sieve takes is worth a warning.
const WORTH_SAYING: f64 = 0.005;

/// What is said where the share out has no plateau and the sieve takes rows: the text, the share now and one row further.
fn no_plateau(sieve: &sieve::Summary) -> Option<(String, f64, f64)> {
    let at =
        |least_rows: u32| sieve.share_out.iter().find(|point| point.0 == least_rows).map(|point| point.1);
    let now = at(sieve.least_rows)?;
    if sieve.plateau.is_some() || now < WORTH_SAYING {
        return None;
    }
    let next = at(sieve.least_rows + 1).unwrap_or(now);
    let text = format!(
        "The sieve takes {} of the rows, and more with every further row that it asks for ({} with one more): there is no setting at which only dirt goes, so \
         it takes real readings. Make it gentler, or switch it off.",
        share(now),
        share(next)
    );
    Some((text, now, next))
}

/// Share of the rows taken by the spike gate or the sieve above which it is said that the two disagree.
/// **Source** common practice, no source.
const DISAGREE: f64 = 0.2;

/// What is said where the spike gate and the sieve, which both look for stray readings, take different rows.
fn gates_disagree(masks: &[Mask]) -> Option<Finding> {
    let found = Agreement::of(masks);
    let of_all = found.apart() as f64 / masks.len().max(1) as f64;
    if found.share_apart() <= DISAGREE || of_all < WORTH_SAYING {
        return None;
    }
    let (gate, why, remedy) = if found.rare >= found.spike {
        (
            "the sieve",
            "few rows read like them, yet none stands out from its neighbours in time",
            "a gentler sieve keeps them",
        )
    } else {
        (
            "the spike gate",
            "they stand out from their neighbours in time, yet many rows read like them",
            "without the spike gate they stay",
        )
    };
    Some(Finding {
        code: "gates_disagree",
        text: format!(
            "The spike gate and the sieve disagree: of the {} rows that only they take out, {} are taken by one alone, mostly by \
             {gate}: {why}. Such rows may be real. Look at some: if they are, {remedy}.",
            found.both + found.apart(),
            share(found.share_apart())
        ),
        numbers: BTreeMap::from([
            ("both", Quantity::without_u(found.both as f64)),
            ("spike_alone", Quantity::without_u(found.spike as f64)),
            ("sieve_alone", Quantity::without_u(found.rare as f64)),
            ("share_apart", Quantity::without_u(found.share_apart())),
        ]),
        confidence: 0.99,
        rows: sieve::runs(masks, Agreement::parted),
    })
}
