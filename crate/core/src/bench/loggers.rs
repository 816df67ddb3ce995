//! Runs of several files: further loggers beside a part, and parts one after another.

use super::input::Input;
use super::run::{self, Logger, Run};
use super::{InputSettings, Part};
use crate::align::clocks::{self, From, Stated, Why};
use crate::channel::{Ask, Readings};

/// Inputs that hold further channels of a part: those that follow it in the list.
fn beside(run: &Run, part: usize) -> impl Iterator<Item = usize> + '_ {
    let next = run.parts.iter().map(|part| part.input).filter(move |&input| input > part).min();
    run.beside.iter().copied().filter(move |&input| input > part && next.is_none_or(|next| input < next))
}

fn stated(settings: &[InputSettings], input: usize) -> Stated {
    settings.get(input).and_then(|settings| settings.clock).unwrap_or_default()
}

/// Whether a run was joined with the clocks that the settings state.
pub(super) fn as_stated(run: &Run, settings: &[InputSettings]) -> bool {
    run.loggers.iter().all(|logger| logger.stated == stated(settings, logger.input))
}

/// Joins the files of a run where there is more than one.
pub(super) fn join(run: &mut Run, inputs: &[Input], settings: &[InputSettings]) {
    run.loggers.clear();
    run.placed.clear();
    run.joined = None;
    let mut parts: Vec<std::borrow::Cow<'_, Readings>> = Vec::new();
    for part in &run.parts {
        let Some(own) = inputs.get(part.input).and_then(|input| input.readings.as_ref()) else { continue };
        let mut own = std::borrow::Cow::Borrowed(own);
        for input in beside(run, part.input).collect::<Vec<_>>() {
            let Some(other) = inputs.get(input).and_then(|input| input.readings.as_ref()) else { continue };
            let stated = stated(settings, input);
            let clocks = clocks::find(&own, other, &stated);
            let channels = clocks::added(&own, other);
            if clocks.usable() {
                own = std::borrow::Cow::Owned(clocks::merge(&own, other, &clocks));
            }
            run.loggers.push(Logger { input, channels, clocks, stated });
        }
        let first_row = run.placed.last().map_or(0, |before: &Part| before.first_row + before.rows);
        run.placed.push(Part { input: part.input, first_row, rows: own.rows() });
        parts.push(own);
    }
    if parts.len() > 1 {
        run.joined = Some(run::join(&parts.iter().map(AsRef::as_ref).collect::<Vec<_>>()));
    } else if !run.loggers.is_empty() {
        run.joined = parts.pop().map(std::borrow::Cow::into_owned);
    }
}

/// What an input asks whose clock cannot be told.
pub(super) fn ask(runs: &[Run], input: usize, name: Option<&str>) -> Option<Ask> {
    let logger = runs.iter().flat_map(|run| &run.loggers).find(|logger| logger.input == input)?;
    (logger.clocks.why == Some(Why::NoCommonTime) && logger.clocks.from == From::None).then(|| Ask {
        code: "clock_unknown",
        message:
            "nothing moves in this log and in the one that it belongs to together, so their clocks cannot be \
                  compared; state the first log's time at this log's time 0"
                .to_owned(),
        role: None,
        option: format!("--clock {}:offset=SECONDS", name.unwrap_or("NAME")),
    })
}
