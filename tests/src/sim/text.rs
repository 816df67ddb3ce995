//! How a log is written.

use serde::Serialize;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Field {
    /// Time of the row.
    Time,
    /// Channel by its place: V_P, V_Q, V_N, I_i, I_o.
    Channel(usize),
    /// Case temperature, degrees Celsius.
    Temperature,
}

/// One column.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Column {
    /// What it holds.
    pub field: Field,
    /// Header text.
    pub name: String,
    /// Written number per SI unit: 1, or 1000 for mV, mA and ms.
    pub scale: f64,
    /// Digits after the point.
    pub decimals: usize,
}

/// How a log is written.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Dialect {
    /// Between fields.
    pub separator: char,
    /// Line end with carriage return.
    pub carriage_return: bool,
    /// Byte order mark in front.
    pub byte_order_mark: bool,
    /// Comment lines in front, without their mark.
    pub comments: Vec<String>,
    /// Columns in order; the temperature is left out where a log has none.
    pub columns: Vec<Column>,
}

impl Dialect {
    /// The columns of one log.
    pub fn columns(&self, temperature: bool) -> impl Iterator<Item = &Column> {
        self.columns.iter().filter(move |c| temperature || c.field != Field::Temperature)
    }

    /// Ends a line.
    pub(crate) fn end(&self, out: &mut String) {
        out.push_str(if self.carriage_return { "\r\n" } else { "\n" });
    }

    /// Writes byte order mark and comments.
    pub(crate) fn open(&self, out: &mut String) {
        if self.byte_order_mark {
            out.push('\u{feff}');
        }
        for comment in &self.comments {
            out.push_str("# ");
            out.push_str(comment);
            self.end(out);
        }
    }

    /// Writes the header line.
    pub(crate) fn header(&self, out: &mut String, temperature: bool) {
        let names: Vec<&str> = self.columns(temperature).map(|c| c.name.as_str()).collect();
        out.push_str(&names.join(&self.separator.to_string()));
        self.end(out);
    }
}
