//! Rows of a log as they stand in its text.
//!
//! The bench holds readings, not texts. So the text is run through once more, made UTF-8 where it is
//! not read as it stands, the lines of the header and of the wanted rows are picked out, and the
//! reader takes those apart again.

use crate::Handle;
use crate::failure::Failure;
use crate::value::to_js;
use serde::Serialize;
use wasm_bindgen::JsValue;
use wasm_bindgen::prelude::wasm_bindgen;
use wattsieve_core::log::{self, StatedEncoding, ToUtf8};

/// Most rows of one preview: as many as the reader keeps the text of.
const MOST: usize = 20;

/// Picks the lines of some rows out of a text that comes in pieces.
#[wasm_bindgen]
pub struct Preview {
    settings: log::Settings,
    /// Numbers of the wanted lines, from 1, ascending.
    wanted: Vec<u32>,
    /// All lines before this one are kept too: the header and what stands above it.
    head: u32,
    first: usize,
    line: u32,
    after_return: bool,
    kept: Vec<u8>,
    to_utf8: Option<ToUtf8>,
    decoded: Vec<u8>,
}

/// Rows as they stand in the text.
#[derive(Serialize)]
pub(crate) struct Shown {
    pub(crate) headers: Vec<String>,
    pub(crate) rows: Vec<ShownRow>,
}

/// One of them.
#[derive(Serialize)]
pub(crate) struct ShownRow {
    pub(crate) row: usize,
    pub(crate) line: u32,
    pub(crate) cells: Vec<String>,
    /// Whether something in it could not be read.
    pub(crate) problem: bool,
    /// Columns, from 1, whose cell could not be read or says over-range.
    pub(crate) marked: Vec<u32>,
}

#[wasm_bindgen]
impl Handle {
    /// Begins a preview of so many rows of an input from one on; at most 20.
    ///
    /// # Errors
    /// There is no such input.
    pub fn preview(&self, input: usize, first: usize, count: usize) -> Result<Preview, JsValue> {
        let settings = self.bench.settings().inputs.get(input).map(|settings| settings.read.clone());
        let (Some(settings), Some(lines)) = (settings, self.bench.input_lines(input)) else {
            return Err(Failure {
                code: "no_input",
                message: format!("There is no log number {}.", input + 1),
                hint: None,
                at: None,
            }
            .into());
        };
        let wanted = lines.iter().skip(first).take(count.min(MOST)).copied().collect();
        // Where no row was found, the first lines show what stands there instead.
        let head = lines.first().copied().unwrap_or(MOST as u32 + 1);
        let mut preview = Preview::new(settings, wanted, head, first);
        preview.decode(self.bench.input_encoding(input).unwrap_or_default());
        Ok(preview)
    }
}

impl Preview {
    fn new(settings: log::Settings, wanted: Vec<u32>, head: u32, first: usize) -> Self {
        Self {
            settings,
            wanted,
            head,
            first,
            line: 1,
            after_return: false,
            kept: Vec::new(),
            to_utf8: None,
            decoded: Vec::new(),
        }
    }

    /// Lines are cut in UTF-8: a text of two bytes per letter is made that first.
    fn decode(&mut self, encoding: &str) {
        let stated = match encoding {
            "UTF-16LE" => StatedEncoding::Utf16Le,
            "UTF-16BE" => StatedEncoding::Utf16Be,
            _ => return,
        };
        self.to_utf8 = Some(ToUtf8::new(stated));
        self.settings.encoding = Some(StatedEncoding::Utf8);
    }

    fn wants(&self) -> bool {
        self.line < self.head || self.wanted.binary_search(&self.line).is_ok()
    }

    fn done(&self) -> bool {
        self.line >= self.head && self.wanted.last().is_none_or(|last| self.line > *last)
    }

    fn shown(&self) -> Shown {
        let found = log::read(&self.kept, &self.settings);
        let headers = found.columns.iter().map(|column| column.header.clone()).collect();
        let good = found.first_records.iter().map(|record| (record, false));
        let mut records: Vec<_> =
            good.chain(found.worst_records.iter().map(|record| (record, true))).collect();
        records.sort_by_key(|(record, _)| record.row);
        let rows = records.into_iter().map(|(record, problem)| {
            let at = record.row as usize;
            ShownRow {
                row: self.first + at,
                line: self.wanted.get(at).copied().unwrap_or(record.line),
                cells: record.fields.clone(),
                problem,
                marked: Vec::new(),
            }
        });
        Shown { headers, rows: rows.collect() }
    }
}

#[wasm_bindgen]
impl Preview {
    /// Takes the next bytes; `true` once no more are needed.
    pub fn push(&mut self, bytes: &[u8]) -> bool {
        if let Some(to_utf8) = &mut self.to_utf8 {
            let mut decoded = std::mem::take(&mut self.decoded);
            decoded.clear();
            to_utf8.push(bytes, &mut decoded);
            let done = self.pick(&decoded);
            self.decoded = decoded;
            return done;
        }
        self.pick(bytes)
    }

    /// The rows: `{headers, rows: [{row, line, cells, problem}]}`.
    ///
    /// # Errors
    /// None but a mistake in the program.
    pub fn finish(self) -> Result<JsValue, JsValue> {
        to_js(&self.shown())
    }
}

impl Preview {
    fn pick(&mut self, bytes: &[u8]) -> bool {
        for &byte in bytes {
            // A line ends at LF, at CR LF, or at a CR alone.
            if self.after_return && byte != b'\n' {
                self.after_return = false;
                self.line += 1;
            }
            if self.done() {
                return true;
            }
            if self.wants() {
                self.kept.push(byte);
            }
            match byte {
                b'\r' => self.after_return = true,
                b'\n' => {
                    self.after_return = false;
                    self.line += 1;
                }
                _ => {}
            }
        }
        self.done()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn picked(text: &str, wanted: Vec<u32>, first: usize, piece: usize) -> Shown {
        let mut preview = Preview::new(log::Settings::default(), wanted, 3, first);
        for bytes in text.as_bytes().chunks(piece) {
            if preview.push(bytes) {
                break;
            }
        }
        preview.shown()
    }

    #[test]
    fn shows_text_of_two_bytes_per_letter() {
        let text = "t (s);V in (V);Ort\r\n0,0;12,0;ä\r\n0,1;12,1;中\r\n0,2;12,2;Ω\r\n0,3;12,3;o\r\n";
        let little: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        for (bytes, mark, name) in [(&little, [0xff, 0xfe], "UTF-16LE"), (&big, [0xfe, 0xff], "UTF-16BE")] {
            for piece in [1, 3, 1000] {
                let mut preview = Preview::new(log::Settings::default(), vec![3, 4], 2, 1);
                preview.decode(name);
                let marked = [&mark[..], bytes].concat();
                for bytes in marked.chunks(piece) {
                    if preview.push(bytes) {
                        break;
                    }
                }
                let shown = preview.shown();
                assert_eq!(shown.headers, ["t (s)", "V in (V)", "Ort"], "{name}");
                let cells: Vec<_> = shown.rows.iter().map(|row| (row.line, row.cells.join(" "))).collect();
                assert_eq!(
                    cells,
                    [(3, "0,1 12,1 中".to_owned()), (4, "0,2 12,2 Ω".to_owned())],
                    "{name} {piece}"
                );
            }
        }
    }

    #[test]
    fn shows_the_rows_asked_for_however_the_text_is_cut() {
        for end in ["\n", "\r\n", "\r"] {
            let lines =
                ["# a comment", "t (s),V in (V)", "0.0,12.0", "0.1,12.1", "0.2,oops", "0.3,12.3", "0.4,12.4"];
            let text: String = lines.iter().map(|line| format!("{line}{end}")).collect();
            for piece in [1, 3, 1000] {
                let shown = picked(&text, vec![4, 5, 6], 1, piece);
                assert_eq!(shown.headers, ["t (s)", "V in (V)"]);
                let cells: Vec<_> =
                    shown.rows.iter().map(|row| (row.row, row.line, row.cells[1].as_str())).collect();
                assert_eq!(cells, [(1, 4, "12.1"), (2, 5, "oops"), (3, 6, "12.3")], "{end:?} {piece}");
                assert!(shown.rows[1].problem && !shown.rows[0].problem);
            }
        }
    }
}
