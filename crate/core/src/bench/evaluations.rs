//! How often each stage ran: what a moved control costs.

use serde::Serialize;

/// Evaluations of each stage since the bench was made, over all inputs and runs of one name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Evaluations {
    /// Texts read to their end.
    pub log: u64,
    /// Delays found.
    pub alignment: u64,
    /// Gates applied.
    pub gates: u64,
    /// Rows counted; the first verdicts are part of it.
    pub count: u64,
    /// Verdicts renewed from counts that were already there.
    pub judge: u64,
    /// Labels that need the correction.
    pub label: u64,
    /// Maps, losses and findings made.
    pub answer: u64,
}

/// Evaluations of the whole bench.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct AllEvaluations {
    /// Fits of the fixture.
    pub fixture: u64,
    /// Comparisons made.
    pub comparison: u64,
    /// Circuits worked out before anything was known of the fixture.
    pub wiring: u64,
    /// Budgets of the fixture's uncertainty made, with their draws.
    pub budget: u64,
    /// Per run, in order.
    pub runs: Vec<RunEvaluations>,
}

/// Evaluations of one run.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RunEvaluations {
    /// Name of the run.
    pub name: String,
    /// How often each stage ran.
    #[serde(flatten)]
    pub stages: Evaluations,
}
