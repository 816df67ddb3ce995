//! What must hold for any bytes that are read as a log. Used by the fuzz target and by the test that
//! reads the kept corpus.

use wattsieve_core::log::{HeaderRow, Log, Outcome, Reader, Settings, StatedEncoding};

/// Bytes looked at before the first record is read: the reader's own, and few, so that short inputs
/// are read in pieces too.
const SAMPLES: [usize; 6] = [64 * 1024, 1, 16, 64, 256, 1024];

/// The first four bytes say how to read, the others are the log.
pub(crate) fn check(data: &[u8]) {
    let Some((&[how, header, sample, seed], log)) = data.split_first_chunk::<4>() else { return };
    let settings = settings(how, header, sample >> 4);
    let twice = [log, log].concat();
    let log = if how & 0x80 == 0 { log } else { &twice };
    let sample = SAMPLES[usize::from(sample & 15) % SAMPLES.len()];
    let length = log.len() as u64;
    let start = |expected| Reader::new(&settings, expected).sampling(sample);

    let mut reader = start(Some(length));
    reader.push(log);
    let whole = reader.finish();
    agrees_with_itself(&whole, length);

    let mut reader = start(None);
    log.chunks(1).for_each(|byte| reader.push(byte));
    same(&whole, &reader.finish(), "one byte at a time");

    let mut reader = start(Some(u64::from(seed)));
    let mut state = u32::from(seed) * 2 + 1;
    let mut rest = log;
    while !rest.is_empty() {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let (piece, later) = rest.split_at((state >> 24) as usize % 90 % (rest.len() + 1));
        reader.push(piece);
        rest = later;
    }
    same(&whole, &reader.finish(), "in pieces of up to 89 bytes");
}

fn settings(how: u8, header: u8, encoding: u8) -> Settings {
    Settings {
        separator: [None, None, Some(','), Some(';'), Some('\t'), Some('|'), Some(' '), None]
            [usize::from(how & 7)],
        encoding: match encoding {
            8 => Some(StatedEncoding::Utf8),
            9 => Some(StatedEncoding::Utf16Le),
            10 => Some(StatedEncoding::Utf16Be),
            11 => Some(StatedEncoding::Windows1252),
            _ => None,
        },
        skip_lines: u32::from(how >> 5 & 3),
        decimal_mark: [None, Some('.'), Some(','), None][usize::from(how >> 3 & 3)],
        header_row: match header & 7 {
            5 => HeaderRow::None,
            6 => HeaderRow::Line(1),
            7 => HeaderRow::Line(u32::from(header >> 5)),
            _ => HeaderRow::Auto,
        },
        ignored_columns: if header & 8 == 0 { Vec::new() } else { vec![u32::from(header >> 4)] },
        ..Settings::default()
    }
}

/// Row counts agree, and a refusal has no rows.
fn agrees_with_itself(log: &Log, length: u64) {
    assert_eq!(log.bytes, length);
    let rows = log.rows();
    if matches!(log.outcome, Outcome::Refused(_)) {
        assert_eq!(rows, 0);
    } else {
        assert!(rows > 0);
    }
    for column in &log.columns {
        let values = column.values.len();
        assert!(values == rows || values == 0, "{values} values of {rows} rows");
    }
    assert!(log.lines.is_sorted_by(|one, next| one < next), "lines in order");
    assert!(log.marks.is_sorted_by(|one, next| one < next), "marks in order");
    assert!(log.marks.iter().all(|mark| (mark.row as usize) < rows));
    for problem in &log.problems {
        assert!(problem.count > 0 && !problem.examples.is_empty());
        assert!(problem.rows.as_slice().iter().all(|[first, last]| first <= last));
    }
}

/// Everything that was read is the same, bit for bit.
fn same(one: &Log, other: &Log, how: &str) {
    assert_eq!(one.lines, other.lines, "{how}");
    assert_eq!(one.columns.len(), other.columns.len(), "{how}");
    for (one, other) in one.columns.iter().zip(&other.columns) {
        let bits = |values: &[f64]| values.iter().map(|value| value.to_bits()).collect::<Vec<_>>();
        assert_eq!(bits(&one.values), bits(&other.values), "{how}");
        assert_eq!(
            (&one.header, &one.under_header, &one.cell_unit, &one.words, one.form, one.epoch_secs),
            (
                &other.header,
                &other.under_header,
                &other.cell_unit,
                &other.words,
                other.form,
                other.epoch_secs
            ),
            "{how}"
        );
    }
    assert_eq!(one.problems, other.problems, "{how}");
    assert_eq!(one.marks, other.marks, "{how}");
    assert_eq!(one.comments, other.comments, "{how}");
    assert_eq!(one.first_records, other.first_records, "{how}");
    assert_eq!(one.worst_records, other.worst_records, "{how}");
    assert_eq!(one.repeated_headers, other.repeated_headers, "{how}");
    assert_eq!(one.understood, other.understood, "{how}");
    assert_eq!(one.outcome, other.outcome, "{how}");
    assert_eq!(
        (one.comment_count, one.preamble_lines, &one.header_lines),
        (other.comment_count, other.preamble_lines, &other.header_lines),
        "{how}"
    );
}
