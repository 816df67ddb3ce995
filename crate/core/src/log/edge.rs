//! Where a record ends, found piece by piece.

use super::split::Separator;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum State {
    /// White space at the start of the record.
    #[default]
    Lead,
    /// The same after a first blank: a quote opens nothing here any more.
    Indent,
    /// One slash at the start.
    Slash,
    FieldStart,
    Plain,
    Quoted,
    /// A quote inside a quoted field: its end, or the first of two.
    Quote,
    Comment,
}

/// Looks for the end of one record. Keeps its place between pieces.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Edge {
    state: State,
}

impl Edge {
    /// Index of the line end that ends the record, if it is among these bytes.
    pub(super) fn find(&mut self, bytes: &[u8], separator: Separator, quotes: bool) -> Option<usize> {
        // Outside quotes a line end is one whatever stands before it.
        if !matches!(self.state, State::Quoted | State::Quote) {
            let end = bytes.iter().position(|byte| matches!(byte, b'\n' | b'\r'));
            if let Some(line) = end.and_then(|end| bytes.get(..end))
                && !line.contains(&b'"')
            {
                return end;
            }
        }
        for (at, &byte) in bytes.iter().enumerate() {
            if matches!(byte, b'\n' | b'\r') && self.state != State::Quoted {
                return Some(at);
            }
            self.state = self.next(byte, separator, quotes);
        }
        None
    }

    /// The same for bytes in which no quoted field can begin any more.
    pub(super) fn find_unquoted(&mut self, bytes: &[u8], separator: Separator) -> Option<usize> {
        if self.state == State::Quote {
            self.state = State::Plain;
        }
        self.find(bytes, separator, false)
    }

    /// Whether the bytes so far end inside quotes.
    pub(super) fn in_quotes(self) -> bool {
        self.state == State::Quoted
    }

    fn next(self, byte: u8, separator: Separator, quotes: bool) -> State {
        match self.state {
            State::Comment => State::Comment,
            State::Quoted => {
                if byte == b'"' {
                    State::Quote
                } else {
                    State::Quoted
                }
            }
            State::Quote if byte == b'"' => State::Quoted,
            State::Slash if byte == b'/' => State::Comment,
            State::Lead | State::Indent if separator.comments(&[byte]) => State::Comment,
            State::Lead | State::Indent if byte == b'/' => State::Slash,
            State::Lead | State::FieldStart if byte == b'"' && quotes => State::Quoted,
            State::Lead if separator.runs() && separator.ends_field(byte) => State::Lead,
            State::Lead | State::Indent if byte.is_ascii_whitespace() && !separator.ends_field(byte) => {
                State::Indent
            }
            _ if separator.ends_field(byte) => State::FieldStart,
            _ => State::Plain,
        }
    }
}
