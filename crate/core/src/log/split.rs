//! A record to its fields.

use std::ops::Range;

/// How fields are told apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Separator {
    /// The byte; a space stands for runs of spaces and tabs.
    pub(super) byte: u8,
}

impl Separator {
    pub(super) const fn runs(self) -> bool {
        self.byte == b' '
    }

    /// Whether a byte ends a field.
    pub(super) const fn ends_field(self, byte: u8) -> bool {
        byte == self.byte || (self.runs() && byte == b'\t')
    }

    /// Whether a line that starts so is a comment. A semicolon is none where it separates.
    pub(super) fn comments(self, line: &[u8]) -> bool {
        match line.trim_ascii_start() {
            [b'#' | b'%', ..] | [b'/', b'/', ..] => true,
            [b';', ..] => self.byte != b';',
            _ => false,
        }
    }
}

/// The fields of one record; reused from record to record.
#[derive(Debug, Default)]
pub(super) struct Fields {
    unquoted: Vec<u8>,
    ends: Vec<usize>,
    ranges: Vec<Range<usize>>,
    in_unquoted: bool,
    /// Making one is dear; kept with its separator.
    reader: Option<(u8, Box<csv_core::Reader>)>,
}

impl Clone for Fields {
    /// Nothing but room is held between records. A clone of a csv-core reader loses its classes of bytes
    /// and finds no field, so the clone makes its own.
    fn clone(&self) -> Self {
        Self::default()
    }
}

impl Fields {
    /// Number of fields.
    pub(super) fn len(&self) -> usize {
        self.ranges.len()
    }

    /// One field without white space around it. `record` is what was split.
    pub(super) fn get<'a>(&'a self, record: &'a [u8], place: usize) -> &'a [u8] {
        self.raw(record, place).trim_ascii()
    }

    /// One field as it stands.
    pub(super) fn raw<'a>(&'a self, record: &'a [u8], place: usize) -> &'a [u8] {
        let from: &[u8] = if self.in_unquoted { &self.unquoted } else { record };
        self.ranges.get(place).and_then(|range| from.get(range.clone())).unwrap_or_default()
    }

    /// Takes empty fields at the end away until there are at most `count`.
    pub(super) fn drop_empty_tail(&mut self, record: &[u8], count: usize) {
        while self.ranges.len() > count && self.get(record, self.ranges.len() - 1).is_empty() {
            self.ranges.pop();
        }
    }

    /// Splits a record that has no line end outside quotes.
    pub(super) fn split(&mut self, record: &[u8], separator: Separator, quotes: bool) {
        self.ranges.clear();
        self.in_unquoted = quotes && record.contains(&b'"');
        if self.in_unquoted {
            self.split_quoted(record, separator);
            return;
        }
        let mut start = 0;
        for (at, &byte) in record.iter().enumerate() {
            if separator.ends_field(byte) {
                if !separator.runs() || at > start {
                    self.ranges.push(start..at);
                }
                start = at + 1;
            }
        }
        if !separator.runs() || record.len() > start {
            self.ranges.push(start..record.len());
        }
    }

    fn split_quoted(&mut self, record: &[u8], separator: Separator) {
        let made = self.reader.take().filter(|(byte, _)| *byte == separator.byte);
        let (_, mut reader) = made.unwrap_or_else(|| {
            (separator.byte, Box::new(csv_core::ReaderBuilder::new().delimiter(separator.byte).build()))
        });
        reader.reset();
        self.unquoted.resize(record.len() + 1, 0);
        self.ends.resize(record.len() + 2, 0);
        let (mut taken, mut written, mut ended) = (0, 0, 0);
        while let (Some(input), Some(output), Some(ends)) =
            (record.get(taken..), self.unquoted.get_mut(written..), self.ends.get_mut(ended..))
        {
            let (result, more_taken, more_written, more_ended) = reader.read_record(input, output, ends);
            taken += more_taken;
            written += more_written;
            ended += more_ended;
            if !matches!(result, csv_core::ReadRecordResult::InputEmpty) {
                break;
            }
        }
        self.reader = Some((separator.byte, reader));
        let mut start = 0;
        for &end in self.ends.iter().take(ended) {
            if !separator.runs() || end > start {
                self.ranges.push(start..end);
            }
            start = end;
        }
    }
}
