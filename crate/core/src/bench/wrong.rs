//! Which field of settings cannot be understood.

use serde_json::Value;

use super::Settings;

/// Path of the field on which settings fail, `inputs[0].read.separator`; `None` where they are fine, or
/// where more than one field is wrong.
///
/// Every field has a default, so the one without which the rest is understood is the wrong one.
#[must_use]
pub fn wrong_setting(settings: &Value) -> Option<String> {
    let fits = |value: &Value| serde_json::from_value::<Settings>(value.clone()).is_ok();
    if fits(settings) {
        return None;
    }
    let mut rest = settings.clone();
    let mut path = String::new();
    loop {
        let keys: Vec<Key> = keys_of(at(&mut rest, &path)?);
        // The deepest field that explains it: go in as long as one below does.
        let wrong = keys.into_iter().find(|key| {
            let mut without = rest.clone();
            let Some(place) = at(&mut without, &path) else { return false };
            key.remove(place);
            fits(&without)
        });
        match wrong {
            Some(key) => path = key.below(&path),
            None if path.is_empty() => return None,
            None => return Some(path),
        }
    }
}

enum Key {
    Name(String),
    Place(usize),
}

impl Key {
    fn remove(&self, value: &mut Value) {
        match (self, value) {
            (Self::Name(name), Value::Object(fields)) => {
                fields.remove(name);
            }
            (Self::Place(place), Value::Array(list)) if *place < list.len() => {
                list.remove(*place);
            }
            _ => {}
        }
    }

    fn below(&self, path: &str) -> String {
        match self {
            Self::Name(name) if path.is_empty() => name.clone(),
            Self::Name(name) => format!("{path}.{name}"),
            Self::Place(place) => format!("{path}[{place}]"),
        }
    }
}

fn keys_of(value: &Value) -> Vec<Key> {
    match value {
        Value::Object(fields) => fields.keys().map(|name| Key::Name(name.clone())).collect(),
        Value::Array(list) => (0..list.len()).map(Key::Place).collect(),
        _ => Vec::new(),
    }
}

/// The value at a path.
fn at<'a>(value: &'a mut Value, path: &str) -> Option<&'a mut Value> {
    path.split(['.', '[']).filter(|part| !part.is_empty()).try_fold(value, |value, part| {
        match part.strip_suffix(']') {
            Some(place) => value.get_mut(place.parse::<usize>().ok()?),
            None => value.get_mut(part),
        }
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "tests")]
    use super::*;

    #[test]
    fn names_the_field() {
        for (pointer, wrong, path) in [
            ("/inputs/1/read/separator", serde_json::json!(7), "inputs[1].read.separator"),
            ("/inputs/0/columns/row_period", serde_json::json!("fast"), "inputs[0].columns.row_period"),
            ("/sieve/least_rows", serde_json::json!(-3), "sieve.least_rows"),
        ] {
            let mut settings = Settings::default();
            settings.inputs.resize(2, super::super::InputSettings::default());
            let mut value = serde_json::to_value(&settings).unwrap();
            assert_eq!(wrong_setting(&value), None);
            *value.pointer_mut(pointer).unwrap() = wrong;
            assert_eq!(wrong_setting(&value).as_deref(), Some(path));
        }
    }
}
