//! What an input is: a run of a converter, a calibration wiring, a table.

use serde::{Deserialize, Serialize};

use crate::channel;
use crate::fixture::RunKind;

/// What was recorded in one input.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A converter at work.
    #[default]
    Run,
    /// Everything off, leads on.
    AllOff,
    /// A wire in the converter's place, no load, source swept.
    OpenSweep,
    /// A wire in the converter's place and a resistor as load.
    StraightThrough,
    /// The converter's input plane shorted.
    InputShorted,
    /// The converter's output plane shorted.
    OutputShorted,
    /// Input plus bridged to output minus.
    CrossBridge,
    /// A converter at work, as a table of settled points.
    Table,
}

impl Kind {
    /// Whether a converter is at work in it.
    #[must_use]
    pub fn is_run(self) -> bool {
        matches!(self, Self::Run | Self::Table)
    }

    /// As told by content.
    pub(super) fn told(kind: channel::RunKind) -> Self {
        match kind {
            channel::RunKind::Run => Self::Run,
            channel::RunKind::AllOff => Self::AllOff,
            channel::RunKind::OpenSweep => Self::OpenSweep,
            channel::RunKind::StraightThrough => Self::StraightThrough,
            channel::RunKind::InputShorted => Self::InputShorted,
            channel::RunKind::OutputShorted => Self::OutputShorted,
            channel::RunKind::CrossBridge => Self::CrossBridge,
            channel::RunKind::Table => Self::Table,
        }
    }

    /// The calibration wiring, where it is one.
    #[must_use]
    pub fn calibration(self) -> Option<RunKind> {
        match self {
            Self::AllOff => Some(RunKind::AllOff),
            Self::OpenSweep => Some(RunKind::OpenSweep),
            Self::StraightThrough => Some(RunKind::StraightThrough),
            Self::InputShorted => Some(RunKind::InputShorted),
            Self::OutputShorted => Some(RunKind::OutputShorted),
            Self::CrossBridge => Some(RunKind::CrossBridge),
            Self::Run | Self::Table => None,
        }
    }
}
