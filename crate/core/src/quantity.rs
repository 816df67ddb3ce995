//! A measured number: value, standard uncertainty, or the reason why there is none.

use serde::{Deserialize, Deserializer, Serialize};

/// A value with its standard uncertainty (k = 1), both in the unit of its place.
///
/// **Missing data** `value` is `None` with a short machine-readable `why` when the quantity is not
/// known; `u` is `None` when the value is known and its uncertainty is not.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Quantity {
    /// Best estimate, in the unit of its place.
    pub value: Option<f64>,
    /// Standard uncertainty, same unit.
    pub u: Option<f64>,
    /// Why there is no value; present only then.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<&'static str>,
}

impl Quantity {
    /// A value with a standard uncertainty.
    #[must_use]
    pub fn new(value: f64, u: f64) -> Self {
        Self { value: Some(value), u: Some(u), why: None }
    }

    /// A value whose uncertainty is not known.
    #[must_use]
    pub fn without_u(value: f64) -> Self {
        Self { value: Some(value), u: None, why: None }
    }

    /// No value, for the reason given as a short code.
    #[must_use]
    pub fn unknown(why: &'static str) -> Self {
        Self { value: None, u: None, why: Some(why) }
    }
}

/// Codes of `why` that a saved file may bring back.
const WHY: [&str; 8] = [
    "not_measured",
    "only_in_a_sum",
    "not_logged",
    "not_stated",
    "not_estimated",
    "no_calibration",
    "too_few_rows",
    "not_determined",
];

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        #[derive(Deserialize)]
        struct Saved {
            value: Option<f64>,
            u: Option<f64>,
            #[serde(default)]
            why: Option<String>,
        }
        let saved = Saved::deserialize(deserializer)?;
        let why =
            saved.why.map(|text| WHY.into_iter().find(|code| *code == text).unwrap_or("not_determined"));
        Ok(Self { value: saved.value, u: saved.u, why })
    }
}
