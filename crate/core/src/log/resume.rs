//! Where reading a log stopped, to go on when the log has grown.

use super::fingerprint::Fingerprint;
use super::reader::{Reader, Scan, State};
use super::result::{Form, Log};
use super::settings::Settings;

/// The reader at the end of a log, without the columns: the dialect, what was not read so far, and
/// the start of a record that had not ended yet.
#[derive(Clone, Debug)]
pub struct Checkpoint {
    settings: Settings,
    sum: Fingerprint,
    scan: Box<Scan>,
    rows: usize,
}

impl Reader {
    /// Ends the log as [`Reader::finish`] does and keeps where it stood, so that more bytes can
    /// follow. `None` where the whole log was needed to understand it: then a grown one is read anew.
    #[must_use]
    pub fn finish_resumable(mut self) -> (Log, Option<Checkpoint>) {
        let kept = if let State::Scanning(scan) = &mut self.state {
            let values = core::mem::take(&mut scan.sink.values);
            let lines = core::mem::take(&mut scan.sink.lines);
            let kept = Checkpoint {
                settings: self.settings.clone(),
                sum: self.sum.clone(),
                scan: scan.clone(),
                rows: lines.len(),
            };
            (scan.sink.values, scan.sink.lines) = (values, lines);
            Some(kept)
        } else {
            None
        };
        let log = self.finish();
        let kept = kept.filter(|_| log.refusal().is_none());
        (log, kept)
    }
}

impl Reader {
    /// The columns and lines read so far; of records that ended.
    #[must_use]
    pub fn into_columns(self) -> (Vec<Vec<f64>>, Vec<u32>) {
        match self.state {
            State::Scanning(scan) => (scan.sink.values, scan.sink.lines),
            _ => (Vec::new(), Vec::new()),
        }
    }
}

impl Checkpoint {
    /// Bytes after which it stands.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.sum.bytes()
    }

    /// Sum of those bytes.
    #[must_use]
    pub fn sum(&self) -> (u64, u64) {
        self.sum.value()
    }

    /// A reader that goes on after those bytes: `columns` and `lines` are those of the log that ended
    /// here. What follows reads as if the log had been longer from the start.
    ///
    /// **Shape** one column per column of the log, empty for text; more rows than it had are dropped.
    /// `None` where columns are missing or too short.
    #[must_use]
    pub fn resume(&self, mut columns: Vec<Vec<f64>>, mut lines: Vec<u32>) -> Option<Reader> {
        let mut scan = self.scan.clone();
        if columns.len() != scan.sink.forms.len() || lines.len() < self.rows {
            return None;
        }
        lines.truncate(self.rows);
        for (column, form) in columns.iter_mut().zip(&scan.sink.forms) {
            let rows = if *form == Form::Text { 0 } else { self.rows };
            if column.len() < rows {
                return None;
            }
            column.truncate(rows);
        }
        (scan.sink.values, scan.sink.lines) = (columns, lines);
        Some(Reader::at(self.settings.clone(), self.sum.clone(), scan))
    }
}
