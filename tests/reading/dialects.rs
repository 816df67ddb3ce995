//! A table written in any supported dialect reads back equal.

use wattsieve_core::log::{Settings, read};

use crate::support::Random;

struct Written {
    bytes: Vec<u8>,
    columns: Vec<Vec<f64>>,
    words: String,
}

fn write(random: &mut Random) -> Written {
    let separator = [",", ";", "\t", "|", "  ", ", "][random.below(6)];
    let comma = random.below(2) == 1 && !separator.starts_with(',');
    let line_end = ["\n", "\r\n", "\r"][random.below(3)];
    let quoted = random.below(4) == 0 && separator != "  " && separator != ", ";
    let trailing = random.below(4) == 0 && separator.trim() == separator;
    let encoding = random.below(4);
    let decimals = 1 + random.below(6);
    let rows = 4 + random.below(200);
    let names = ["t_s", "vin_V", "iin_mA", "vout_V", "iout_A"];
    let mut columns = vec![Vec::new(); names.len()];
    let mut text = String::new();
    if random.below(3) == 0 {
        text.push_str(&format!("# logger, \"A\"; 12 mΩ{line_end}"));
    }
    let mut record = |fields: Vec<String>| {
        let fields: Vec<String> =
            fields.into_iter().map(|field| if quoted { format!("\"{field}\"") } else { field }).collect();
        text.push_str(&fields.join(separator));
        text.push_str(if trailing { separator } else { "" });
        text.push_str(line_end);
    };
    record(names.iter().map(|name| (*name).to_owned()).collect());
    for row in 0..rows {
        let mut fields = Vec::new();
        for (place, column) in columns.iter_mut().enumerate() {
            let value = if place == 0 { row as f64 / 50.0 } else { 20.0 * random.unit() - 4.0 };
            let field = match random.below(12) {
                0 => format!("{value:.decimals$e}"),
                1 if value >= 0.0 => format!("+{value:.decimals$}"),
                _ => format!("{value:.decimals$}"),
            };
            column.push(field.parse().unwrap());
            fields.push(if comma { field.replace('.', ",") } else { field });
        }
        record(fields);
    }
    let bytes = match encoding {
        0 => [&[0xef, 0xbb, 0xbf][..], text.as_bytes()].concat(),
        1 => [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect(),
        2 => text.encode_utf16().flat_map(u16::to_be_bytes).collect(),
        _ => text.into_bytes(),
    };
    let words = format!(
        "separator {separator:?}, decimal comma {comma}, line end {line_end:?}, quoted {quoted}, trailing {trailing}, encoding {encoding}, {decimals} decimals"
    );
    Written { bytes, columns, words }
}

#[test]
fn any_dialect_reads_back_equal() {
    let mut random = Random(0xd1a1_ec75);
    for _ in 0..300 {
        let written = write(&mut random);
        let log = read(&written.bytes, &Settings::default());
        assert_eq!(log.refusal(), None, "{}", written.words);
        assert_eq!(log.columns.len(), written.columns.len(), "{} {:?}", written.words, log.understood);
        assert!(log.problems.is_empty(), "{} {:?}", written.words, log.problems);
        for (found, expected) in log.columns.iter().zip(&written.columns) {
            let same = found.values.len() == expected.len()
                && found.values.iter().zip(expected).all(|(a, b)| a.to_bits() == b.to_bits());
            assert!(same, "{}: {}", written.words, found.header);
        }
    }
}
