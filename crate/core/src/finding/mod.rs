//! What a run shows: all answers of one run, and the findings as ranked sentences.

mod answering;
mod impossible;
mod region;
mod rejects;
mod sentences;
mod watch;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

pub use answering::{Answering, Given};
pub use watch::{Currents, LowNode, Watch};

use crate::fixture::Grade;
use crate::loss::{LossModel, Off, Peak, Quiescent};
use crate::map::{CutOff, Energy, Index, Levels, Map, Operating, Point, Settings as MapSettings, Source};
use crate::point::Rows;
use crate::quantity::Quantity;

/// What is asked of a run.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Points `[v_in, i_out]` to answer at, V and A at the converter's terminals. Default none.
    pub points: Vec<[f64; 2]>,
    /// Input voltage to state the power without load at, V. Default: the median of the rows
    /// without load.
    pub quiescent_at: Option<f64>,
    /// The map.
    pub map: MapSettings,
}

/// One sentence about a run, with its numbers and evidence.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// Short machine-readable name.
    pub code: &'static str,
    /// The sentence; every ± in it is a 95 % interval.
    pub text: String,
    /// Its numbers, SI units and fractions, with standard uncertainties.
    pub numbers: BTreeMap<&'static str, Quantity>,
    /// How sure it is that this is there at all, 0 to 1.
    pub confidence: f64,
    /// Rows that show it, as inclusive runs.
    pub rows: Vec<[usize; 2]>,
}

/// All answers of one run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answers {
    /// Cells.
    pub map: Map,
    /// Asked points in order.
    pub at: Vec<Point>,
    /// Best efficiency.
    pub peak: Peak,
    /// Without load.
    pub quiescent: Quiescent,
    /// While off.
    pub off: Off,
    /// Under-voltage behaviour.
    pub cut_off: CutOff,
    /// What feeds it.
    pub source: Source,
    /// Output levels.
    pub levels: Levels,
    /// Parts of the loss.
    pub loss_model: LossModel,
    /// Energy over the run.
    pub energy: Energy,
    /// What the run says of the fixture.
    #[serde(skip)]
    pub watch: Watch,
    /// Findings, most telling first.
    pub findings: Vec<Finding>,
    /// Grade of certainty: `as_logged`, `split_assumed` or `settled`.
    pub grade: &'static str,
}

/// Works out everything that is said of one run.
#[must_use]
pub fn answer(rows: &dyn Rows, settings: &Settings) -> Answers {
    let op = Operating::collect(rows);
    let index = Index::of(&op);
    let source = Source::find(rows);
    let cut_off = CutOff::find(rows, source.resistance.value);
    let given = Given { rows, op: &op, index: &index, source: &source, cut_off: &cut_off };
    let mut answering = Answering::default();
    loop {
        if let Some(answers) = answering.step(given, settings) {
            return answers;
        }
    }
}

/// Smallest output current that can be told from zero, A: three standard deviations of one row's
/// noise and of the offset together.
fn smallest_current(op: &Operating) -> f64 {
    let offset = op.correction.covariance[9][9].max(0.0).sqrt();
    3.0 * libm::hypot(op.axis_noise().1, offset)
}

fn findings(rows: &dyn Rows, op: &Operating, answers: &Answers) -> Vec<Finding> {
    let mut out: Vec<(u32, Finding)> = Vec::new();
    let mut add = |weight: u32, finding: Option<Finding>| {
        if let Some(finding) = finding {
            out.push((weight, finding));
        }
    };
    add(100, sentences::best_efficiency(op, answers));
    add(95, sentences::supply_limit(answers));
    for step in sentences::loss_steps(op, answers) {
        add(90, Some(step));
    }
    add(85, sentences::cut_off(answers));
    add(80, sentences::levels(op, answers));
    for drop_out in sentences::drop_outs(op, answers) {
        add(78, Some(drop_out));
    }
    add(75, impossible::above_one(rows, op));
    add(70, sentences::quiescent(answers));
    add(65, rejects::clustered(rows));
    add(60, sentences::source(answers));
    add(50, region::not_logged(answers));
    add(40, Some(sentences::grade(op, answers)));
    // Weighed by how telling and how sure; the order of adding settles ties.
    out.sort_by(|a, b| {
        let rank = |x: &(u32, Finding)| f64::from(x.0) * x.1.confidence;
        rank(b).total_cmp(&rank(a))
    });
    out.into_iter().map(|(_, finding)| finding).collect()
}

/// Inclusive runs of row numbers; gaps of up to three rows are closed.
fn runs(rows: impl Iterator<Item = u32>) -> Vec<[usize; 2]> {
    let mut out: Vec<[usize; 2]> = Vec::new();
    for row in rows {
        let row = row as usize;
        match out.last_mut() {
            Some(last) if row - last[1] <= 4 => last[1] = row,
            _ => out.push([row, row]),
        }
    }
    out
}

/// Probability that a normal deviation of this z is not chance.
fn surely(z: f64) -> f64 {
    (1.0 - crate::math::small::tail(z)).clamp(0.0, 0.999)
}

/// What an assumed division of the fixture's resistance costs at a point: standard uncertainty of
/// the efficiency that would go if the division were measured.
///
/// **Formula** `|d eta/d R_O - d eta/d R_I| u((R_O - R_I)/2)`.
#[must_use]
pub fn split_cost(op: &Operating, reading: [f64; 5]) -> f64 {
    use crate::fixture::Parameter::{InputResistance, OutputResistance};
    let (i, o) = (InputResistance as usize, OutputResistance as usize);
    let sensitivity = op.correction.sensitivity(reading);
    let efficiency = op.correction.apply(reading).efficiency();
    let c = &op.correction.covariance;
    let half = 0.25 * (c[i][i] + c[o][o] - 2.0 * c[i][o]).max(0.0);
    (sensitivity[o] - sensitivity[i]).abs() * half.sqrt() * efficiency
}

/// Whether the run is of this grade.
fn is(op: &Operating, grade: Grade) -> bool {
    op.correction.grade == grade
}
