//! Which separator, decimal mark and shape a log has, from its first lines, with the evidence.

use super::settings::Settings;
use super::split::{Fields, Separator};
use super::writing::{Dialect, Line, Shape, Tally, separator_name};

/// Lines with a digit that are looked at.
const LOOKED_AT: usize = 200;

/// Lines with numbers that must agree before a log is taken as understood, unless it ends.
const AGREEING: usize = 3;

struct Candidate {
    dialect: Dialect,
    score: f64,
    agreeing: usize,
    commas: bool,
}

/// Finds the dialect; `None` where no line has a number (or too few yet, and more may come).
pub(super) fn find(lines: &[Line<'_>], settings: &Settings, whole: bool) -> Option<(Dialect, Vec<String>)> {
    let declared = lines.first().and_then(|line| super::header::declared_separator(line.text));
    let stated = settings.separator.map(|separator| separator as u32 as u8).or(declared);
    let with_digits: Vec<&[u8]> = lines
        .iter()
        .map(|line| line.text)
        .filter(|text| text.iter().any(u8::is_ascii_digit))
        .filter(|text| !matches!(text.trim_ascii_start(), [b'#' | b'%', ..] | [b'/', b'/', ..]))
        .take(LOOKED_AT)
        .collect();
    match settings.shape {
        Some(Shape::Delimited) => {}
        None if settings.separator.is_some() => {}
        None => {
            if let Some(found) = super::header::find_named(&with_digits, settings) {
                return Some(found);
            }
        }
        // Stated, so that one such line is enough; without any there is nothing to read.
        Some(_) => return super::header::find_named(&with_digits, settings),
    }
    let mut best: Option<Candidate> = None;
    for separator in [b'\t', b';', b'|', b',', b' '] {
        if stated.is_some_and(|stated| stated != separator) {
            continue;
        }
        for mark in [b'.', b','] {
            let fixed = settings.decimal_mark.is_some_and(|stated| stated as u32 != u32::from(mark));
            if fixed || mark == separator {
                continue;
            }
            let candidate = judge(&with_digits, Separator { byte: separator }, mark);
            let better = best.as_ref().is_none_or(|best| {
                let more = candidate.score > best.score * 1.000_001;
                let equal = candidate.score >= best.score * 0.999_999;
                let same_separator = candidate.dialect.separator == best.dialect.separator;
                let splits = candidate.dialect.fields > 1 && best.dialect.fields == 1;
                more || (equal && (splits || (same_separator && mark == b',' && candidate.commas)))
            });
            if better {
                best = Some(candidate);
            }
        }
    }
    let best = best.filter(|best| best.agreeing > 0 && (whole || best.agreeing >= AGREEING))?;
    let name = separator_name(best.dialect.separator.byte);
    let mut evidence = vec![match (settings.separator.is_some(), declared.is_some()) {
        (true, _) => format!("separator {name}: as set; {} fields in most records", best.dialect.fields),
        (_, true) => format!("separator {name}: the first line says so"),
        _ => format!(
            "separator {name}: {} fields in {} of the first {} lines with digits",
            best.dialect.fields,
            best.agreeing,
            with_digits.len()
        ),
    }];
    let mark = char::from(best.dialect.decimal_mark);
    evidence.push(if settings.decimal_mark.is_some() {
        format!("decimal mark `{mark}`: as set")
    } else {
        format!("decimal mark `{mark}`: most fields are numbers with it")
    });
    Some((best.dialect, evidence))
}

fn judge(lines: &[&[u8]], separator: Separator, decimal_mark: u8) -> Candidate {
    let mut fields = Fields::default();
    // Field counts of lines with a number: count, how many lines, their summed shares of numbers.
    let mut counts: Vec<(usize, usize, f64)> = Vec::new();
    for line in lines {
        if separator.comments(line) {
            continue;
        }
        let tally = Tally::of(line, separator, decimal_mark, &mut fields);
        if tally.numbers == 0 {
            continue;
        }
        match counts.iter_mut().find(|(count, _, _)| *count == tally.fields) {
            Some((_, lines, share)) => {
                *lines += 1;
                *share += tally.share();
            }
            None => counts.push((tally.fields, 1, tally.share())),
        }
    }
    let mut best = (0, 0, 0.0);
    for count in counts {
        if count.2 > best.2 || (count.2 == best.2 && count.0 > best.0) {
            best = count;
        }
    }
    let commas = decimal_mark == b','
        && lines.iter().any(|line| {
            fields.split(line, separator, true);
            (0..fields.len()).any(|place| fields.get(line, place).contains(&b','))
        });
    Candidate {
        dialect: Dialect { separator, decimal_mark, shape: Shape::Delimited, fields: best.0 },
        score: best.2,
        agreeing: best.1,
        commas,
    }
}
