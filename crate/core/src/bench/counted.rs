//! Counts of a run's rows along its channels, for a view.

use serde::Deserialize;

use super::Bench;
use crate::align::Aligned;
use crate::sieve::{self, Bins, Picked, Wanted};

/// What is to be counted.
#[derive(Clone, Debug, Deserialize)]
pub struct CountsWanted {
    /// Name of a channel or of a further column.
    pub x: String,
    /// A second one, for a pair.
    #[serde(default)]
    pub y: Option<String>,
    /// Bins along the first; default 120.
    #[serde(default)]
    pub across: Option<usize>,
    /// Bins along the second; default 80.
    #[serde(default)]
    pub down: Option<usize>,
    /// Bins as wide as the sieve's cells instead; default false.
    #[serde(default)]
    pub cells: bool,
}

impl Bench {
    /// Counts the rows of a run; `None` where the run or a channel is not there or nothing was counted yet.
    #[must_use]
    pub fn bins(&self, index: usize, wanted: &CountsWanted) -> Option<Bins> {
        let run = self.runs.get(index)?;
        let readings = self.readings_of(index)?;
        let delays = run.delays.as_ref()?;
        let aligned = Aligned::new(readings, &run.steps, delays);
        let sieve = &self.settings.sieve;
        let sieved = Picked::new(&aligned, sieve);
        let names: Vec<String> = [Some(wanted.x.clone()), wanted.y.clone()].into_iter().flatten().collect();
        let asked = sieve::Settings { channels: names.clone(), ..sieve::Settings::default() };
        let table = Picked::new(&aligned, &asked);
        if !table.unknown().is_empty() || table.names().len() != names.len() {
            return None;
        }
        let width = |name: &str| {
            let at = sieved.names().iter().position(|known| known == name)?;
            run.counts.as_ref()?.widths.get(at).copied()
        };
        let number = [wanted.across.unwrap_or(120), wanted.down.unwrap_or(80)];
        let widths: Vec<Wanted> = names
            .iter()
            .zip(number)
            .map(|(name, number)| match width(name).filter(|_| wanted.cells) {
                Some(width) => Wanted::Width(width),
                None => Wanted::Number(number),
            })
            .collect();
        let masks = run.masks.as_deref().unwrap_or_default();
        sieve::bins(&table, table.names(), masks, &widths, sieve.least_rows_in_use())
    }
}
