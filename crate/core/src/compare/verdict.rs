//! What can be said of two runs, in fixed wordings.

use serde::Serialize;

use super::Settings;
use super::crossing::Crossover;
use super::difference::{Delta, Fixtures};
use crate::fixture::PARAMETERS;
use crate::map::{plus, times};
use crate::wording::{COVERAGE, place, plain, points, said, share};

/// What can be said of two runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Class {
    /// One draws less: the 95 % bound clears zero.
    Less,
    /// No difference larger than the stated one.
    NoLargerThan,
    /// Neither can be said.
    CannotTell,
    /// The runs have nothing in common.
    NotCovered,
}

/// The verdict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// Which of the four.
    pub class: Class,
    /// `less`: the smallest difference the 95 % interval allows, W; `no_larger_than`: the efficiency
    /// difference stated beforehand, as a fraction; else `None`.
    pub bound: Option<f64>,
    /// The answer in one short sentence, then what it rests on and its limits.
    pub text: String,
}

/// What the verdict rests on.
pub(crate) struct Evidence<'a> {
    pub(crate) names: [&'a str; 2],
    pub(crate) deltas: &'a [Delta],
    /// Which differences stand.
    pub(crate) standing: &'a [bool],
    pub(crate) common_share: [f64; 2],
    pub(crate) crossovers: &'a [Crossover],
    pub(crate) fixtures: &'a Fixtures<'a>,
}

/// Mean difference of efficiency (0) or loss (1, W) over the common cells, and its standard
/// uncertainty.
///
/// Systematic parts are shared by all cells: their sensitivities are averaged, not their variances.
fn mean(evidence: &Evidence<'_>, which: usize) -> (f64, Option<f64>) {
    let n = evidence.deltas.len() as f64;
    let mut value = 0.0;
    let mut random = 0.0;
    let mut a = [0.0; PARAMETERS];
    let mut b = [0.0; PARAMETERS];
    for delta in evidence.deltas {
        value += delta.value[which] / n;
        // Cells that share rows or a model hang together: at most as good as nine of them each.
        random += delta.random[which] / n;
        a = plus(&a, &times(&delta.first.sensitivity[which], 1.0 / n));
        b = plus(&b, &times(&delta.second.sensitivity[which], 1.0 / n));
    }
    let cells = (n / 9.0).max(1.0);
    let [first, second] = [0, 1].map(|run| mean_per_second(evidence, run, which));
    let variance = random / cells
        + evidence.fixtures.variance(&a, &b)
        + evidence.fixtures.replugged(&a, &b)
        + evidence.fixtures.delayed(&first, &second);
    (value, evidence.fixtures.known.then(|| variance.sqrt()))
}

/// Mean over all cells of one run's change for each second by which a channel is moved.
fn mean_per_second(evidence: &Evidence<'_>, run: usize, which: usize) -> [f64; 5] {
    let n = evidence.deltas.len() as f64;
    std::array::from_fn(|k| {
        let of = |delta: &Delta| if run == 0 { &delta.first } else { &delta.second }.per_second[which][k];
        evidence.deltas.iter().map(of).sum::<f64>() / n
    })
}

/// The first sentence is short and stands alone; region and limits follow in sentences of their own.
pub(crate) fn verdict(evidence: &Evidence<'_>, settings: &Settings) -> Verdict {
    let [first, second] = evidence.names;
    if evidence.deltas.is_empty() {
        return Verdict {
            class: Class::NotCovered,
            bound: None,
            text: format!(
                "Not covered by this data. {first} and {second} have no common region of input \
                 voltage and output current."
            ),
        };
    }
    let [a, b] = evidence.common_share.map(share);
    let n = evidence.deltas.len();
    let region = format!(
        "On the region both runs cover ({n} common cells, {a} of the rows of {first}, {b} of those of {second})"
    );
    let contacts = if settings.replug > 0.0 {
        format!(
            "Contacts made again are counted with {} m\u{3a9} per port and run.",
            plain(1e3 * settings.replug)
        )
    } else {
        "Contacts are taken as untouched between the runs.".to_owned()
    };
    let close = format!("Beyond it nothing is claimed. One unit of each. {contacts}");
    let (mean_loss, u) = mean(evidence, 1);
    let Some(u) = u else {
        return Verdict {
            class: Class::CannotTell,
            bound: None,
            text: format!(
                "Cannot tell: without a calibration the accuracy is not known. {region}, as logged, \
                 {first} draws {} {} than {second} on average. {close}",
                said(mean_loss.abs(), Some(0.0), "W"),
                if mean_loss < 0.0 { "less" } else { "more" },
            ),
        };
    };
    let wins = |sign: f64| {
        evidence
            .deltas
            .iter()
            .zip(evidence.standing)
            .filter(|(delta, stands)| **stands && delta.value[0] * sign > 0.0)
            .count()
    };
    let (for_first, for_second) = (wins(1.0), wins(-1.0));
    // Of those that stand a small share is expected to be false: it does not make two winners.
    let few = settings.false_share * (for_first + for_second) as f64;
    let one_sided = for_first != for_second && for_first.min(for_second) as f64 <= few;
    let agrees = if for_first > for_second { mean_loss < -COVERAGE * u } else { mean_loss > COVERAGE * u };
    if one_sided && agrees {
        let (better, other, shown) =
            if for_first > for_second { (first, second, for_first) } else { (second, first, for_second) };
        return Verdict {
            class: Class::Less,
            bound: Some(mean_loss.abs() - COVERAGE * u),
            text: format!(
                "{better} draws {} less than {other}. {region}, at the same output, mean of the \
                 cells; shown in {shown} of them{}. {close}",
                said(mean_loss.abs(), Some(u), "W"),
                widest(evidence),
            ),
        };
    }
    let limit = settings.no_difference_below;
    let inside = |value: f64, u: Option<f64>| u.is_some_and(|u| value.abs() + COVERAGE * u <= limit);
    let sharp = evidence.deltas.iter().filter(|d| inside(d.value[0], d.u(0))).count();
    let beyond = evidence
        .deltas
        .iter()
        .zip(evidence.standing)
        .any(|(delta, stands)| *stands && delta.value[0].abs() > limit);
    let (mean_efficiency, u_efficiency) = mean(evidence, 0);
    if inside(mean_efficiency, u_efficiency) && !beyond && 4 * sharp >= n {
        let rest = if sharp < n {
            format!(", cell by cell in {sharp} of them; the others are less sharp")
        } else {
            String::new()
        };
        return Verdict {
            class: Class::NoLargerThan,
            bound: Some(limit),
            text: format!(
                "No difference larger than {} points was found. {region}, between {first} and \
                 {second}{rest}. {close}",
                plain(100.0 * limit)
            ),
        };
    }
    let text = if for_first as f64 > few && for_second as f64 > few {
        format!(
            "{} {region} {first} loses less in {for_first} cells, {second} in {for_second}. Which one \
             draws less depends on the use: a duty profile decides. {close}",
            crossing(evidence)
        )
    } else {
        format!(
            "Cannot tell which draws less. {region} the mean difference of the losses is {}, shown in \
             {} cells, and differences larger than {} points are not excluded. {close}",
            said(mean_loss.abs(), Some(u), "W"),
            for_first + for_second,
            plain(100.0 * settings.no_difference_below)
        )
    };
    Verdict { class: Class::CannotTell, bound: None, text }
}

/// The clearest difference among the standing ones.
fn widest(evidence: &Evidence<'_>) -> String {
    let clearest = evidence.deltas.iter().zip(evidence.standing).filter(|(_, stands)| **stands).max_by(
        |(a, _), (b, _)| {
            let size = |delta: &Delta| delta.z().unwrap_or(0.0).abs();
            size(a).total_cmp(&size(b))
        },
    );
    match clearest {
        Some((delta, _)) => format!(
            ", clearest {} at {}, {}",
            points(delta.value[0].abs(), delta.u(0)),
            place(delta.first.v_in, "V"),
            place(delta.first.i_out, "A")
        ),
        None => String::new(),
    }
}

/// Where the two cross, or that neither wins everywhere.
fn crossing(evidence: &Evidence<'_>) -> String {
    let [first, second] = evidence.names;
    let Some(found) = evidence.crossovers.get(evidence.crossovers.len() / 2) else {
        return "Neither draws less everywhere.".to_owned();
    };
    let (below, above) = if found.first_below { (first, second) } else { (second, first) };
    format!(
        "{below} loses less below {}, {above} above, at {}.",
        said(found.value, found.u, "A"),
        place(found.v_in, "V")
    )
}
