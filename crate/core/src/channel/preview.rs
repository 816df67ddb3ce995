//! The first and the worst records of a log as text, for a table.

use serde::Serialize;

use crate::log::{Log, RecordText, Shape};

use super::guess::Guess;

/// One record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PreviewRow {
    /// Line of the file, from 1.
    pub line: u32,
    /// Data row, from 0.
    pub row: u32,
    /// Its fields as they stand, as many as there are columns or as the record has.
    pub fields: Vec<String>,
    /// Whether something of it was lost.
    pub lost: bool,
    /// Columns, from 1, whose cell could not be read or says over-range.
    pub marked: Vec<u32>,
}

/// A table of some records with what their columns are taken for.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Preview {
    /// Header texts.
    pub headers: Vec<String>,
    /// Roles by name, beside the headers.
    pub roles: Vec<&'static str>,
    /// Units, beside the headers.
    pub units: Vec<String>,
    /// The first records, then those in which something was lost; ascending by row, none twice.
    pub rows: Vec<PreviewRow>,
}

/// The first `first` records and up to `worst` in which something was lost. The log keeps some
/// twenty of each. Take it before the log is turned into readings.
#[must_use]
pub fn preview(log: &Log, guess: &Guess, first: usize, worst: usize) -> Preview {
    let named = log.understood.shape != Shape::Delimited;
    let value = |record: &RecordText| -> Vec<String> {
        if !named {
            return record.fields.clone();
        }
        // Named values come in any order; show the readings by column instead.
        let cell = |column: &crate::log::Column| match column.values.get(record.row as usize) {
            Some(value) if !value.is_nan() => value.to_string(),
            _ => String::new(),
        };
        log.columns.iter().map(cell).collect()
    };
    let row = |record: &RecordText, lost| PreviewRow {
        line: record.line,
        row: record.row,
        fields: value(record),
        lost,
        marked: log
            .marks
            .iter()
            .skip(log.marks.partition_point(|mark| mark.row < record.row))
            .take_while(|mark| mark.row == record.row)
            .filter_map(|mark| mark.column.map(|column| column + 1))
            .collect(),
    };
    let mut rows: Vec<PreviewRow> =
        log.first_records.iter().take(first).map(|record| row(record, false)).collect();
    rows.extend(log.worst_records.iter().take(worst).map(|record| row(record, true)));
    rows.sort_by_key(|row| row.row);
    Preview {
        headers: log.columns.iter().map(|column| column.header.clone()).collect(),
        roles: guess.columns.iter().map(|column| super::role_name(column.role)).collect(),
        units: guess.columns.iter().map(|column| column.unit.clone()).collect(),
        rows,
    }
}
