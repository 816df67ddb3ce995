//! What counting and widths need to know of a table beside its rows.

/// What a table's columns are like, where the rows alone do not tell it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Kind {
    /// Column names, for the widths in the settings.
    pub names: Vec<String>,
    /// Resolution per column, in its unit; 0 or missing where unknown.
    pub resolution: Vec<f64>,
}
