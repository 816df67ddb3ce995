//! A log that grew, given again, gives the results of a fresh load byte for byte.

use wattsieve_core::bench::{Bench, Detail, InputSettings, Settings};
use wattsieve_core::channel::{ColumnRef, ColumnRole, Role};
use wattsieve_core::log::Fingerprint;

use crate::support::Random;

/// What the log of one case is like.
struct Case {
    bytes: Vec<u8>,
    settings: InputSettings,
    words: String,
}

fn draw(random: &mut Random) -> Case {
    let separator = [",", ";", "\t", "|", "  "][random.below(5)];
    let comma = random.below(3) == 0 && separator != ",";
    let line_end = ["\n", "\r\n", "\r"][random.below(3)];
    let quoted = random.below(6) == 0 && separator != "  ";
    let time = random.below(5);
    let header = random.below(7);
    let utf16 = random.below(5) == 0;
    let faults = random.below(2) == 0;
    let rows = 1500 + random.below(3000);
    let names: &[&str] = match header {
        0 => &["t_s", "vin_V", "iin_A", "vout_V", "iout_A", "case [K]", "status"],
        1 => &["t_ms", "vin_mV", "iin_mA", "vout_mV", "iout_mA", "case [°C]", "status"],
        2 => &["time", "vin", "iin", "vout", "iout", "aux", "status"],
        3 => &["time", "vin", "iin", "vop", "von", "iout", "status"],
        4 => &["t [s]", "V in (V)", "I in (A)", "V out (V)", "I out (mA)", "light (lx)", "status"],
        _ => &[],
    };
    // Sizes that leave units without a name in doubt.
    let size = if header == 2 && random.below(2) == 0 { 1000.0 } else { 1.0 };
    let milli = if header == 1 { 1000.0 } else { size };
    let mut text = String::new();
    if random.below(3) == 0 {
        text.push_str(&format!("# rig 7{line_end}"));
    }
    let mut lines = Vec::new();
    let head = names.join(separator);
    if !names.is_empty() {
        lines.push(head.clone());
    }
    let mut clock = random.below(60_000);
    for row in 0..rows {
        let phase = (row % 400) as f64 / 400.0;
        let current = 3.0 * (1.0 - (2.0 * phase - 1.0).abs()) + 0.002 * random.normal();
        let v_in = 12.0 + 0.004 * random.normal();
        let low = if header == 3 { 0.02 * current } else { 25.0 + phase };
        let values = [v_in, (5.0 * current / 12.0 / 0.93), 5.0 - 0.01 * current, current];
        clock += 20;
        let stamp = match time {
            0 => format!("{:.3}", row as f64 / 50.0 + 1e3),
            1 => format!("{}", clock % 65_536),
            2 => format!("{clock}"),
            3 => format!(
                "2031-05-06T{:02}:{:02}:{:02}.{:03}",
                20 + row / 3600 % 4,
                row / 60 % 60,
                row % 60,
                random.below(1000)
            ),
            _ => format!("{}", row * 20_000 % 40_000_000),
        };
        let mut fields = vec![stamp];
        for (place, value) in values.iter().enumerate() {
            fields.push(format!("{:.4}", value * milli));
            if header == 3 && place == 2 {
                fields.push(format!("{low:.4}"));
            }
        }
        if header != 3 {
            fields.push(format!("{low:.2}"));
        }
        fields.push(["ok", "warm", "ok"][random.below(3)].to_owned());
        if comma {
            fields.iter_mut().skip(1).for_each(|field| *field = field.replace('.', ","));
        }
        if faults {
            match random.below(300) {
                0 => fields[2] = "OL".to_owned(),
                1 => fields[3] = "#?".to_owned(),
                2 => fields[1].clear(),
                3 => fields.truncate(3),
                4 => fields.extend(fields.clone()),
                5 => lines.push("boot v3 ready".to_owned()),
                6 if !names.is_empty() => lines.push(head.clone()),
                7 => lines.push("# a note".to_owned()),
                _ => {}
            }
        }
        if quoted {
            fields.iter_mut().for_each(|field| *field = format!("\"{field}\""));
        }
        lines.push(fields.join(separator));
    }
    lines.push(String::new());
    text.push_str(&lines.join(line_end));
    let mut settings = InputSettings::default();
    if names.is_empty() {
        let roles = [Role::Time, Role::VIn, Role::IIn, Role::VOut, Role::IOut];
        let role = |(place, role)| ColumnRole { column: ColumnRef::Number(place as u32 + 1), role };
        settings.columns.columns = roles.into_iter().enumerate().map(role).collect();
    }
    if random.below(4) == 0 {
        settings.columns.reverse.push(Role::IIn);
    }
    let bytes = if utf16 {
        [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect()
    } else {
        text.into_bytes()
    };
    let words = format!(
        "separator {separator:?}, comma {comma}, end {line_end:?}, quoted {quoted}, time {time}, header {header}, utf16 {utf16}, faults {faults}, size {size}, rows {rows}"
    );
    Case { bytes, settings, words }
}

fn load(case: &Case, bytes: &[u8]) -> Bench {
    let settings = Settings { inputs: vec![case.settings.clone()], ..Settings::default() };
    let mut bench = Bench::new(settings);
    bench.follow(true);
    let input = bench.begin("rig.csv", Some(bytes.len() as u64));
    bytes.chunks(50_000).for_each(|piece| bench.push(input, piece));
    bench.finish(input);
    bench
}

/// Gives the bench the log as it has become; gives whether only new bytes were wanted.
fn grow(bench: &mut Bench, bytes: &[u8]) -> bool {
    let (input, known) = bench.may_have_grown("rig.csv", bytes.len() as u64).unwrap();
    let mut beginning = Fingerprint::new();
    beginning.push(&bytes[..known as usize]);
    let from = bench.grow(input, &beginning, Some(bytes.len() as u64)).unwrap();
    bytes[from as usize..].chunks(30_000).for_each(|piece| bench.push(input, piece));
    bench.finish(input);
    from > 0
}

fn results(bench: &mut Bench, bytes: &[u8]) -> String {
    while !bench.advance(1 << 20).done {}
    for input in bench.unhashed() {
        bench.hash(input, bytes);
        bench.finish_hash(input);
    }
    let results = bench.results(Detail::Full);
    format!("{}{}", bench.json(&results), bench.kept_rows_csv(0, true))
}

/// Where two texts part, with what stands around.
fn first_difference(one: &str, other: &str) -> Option<(String, String)> {
    let at = one.bytes().zip(other.bytes()).position(|(a, b)| a != b);
    let at = at.or_else(|| (one.len() != other.len()).then(|| one.len().min(other.len())))?;
    let around = |text: &str| {
        let bytes = &text.as_bytes()[at.saturating_sub(120).min(text.len())..(at + 80).min(text.len())];
        String::from_utf8_lossy(bytes).into_owned()
    };
    Some((around(one), around(other)))
}

#[test]
fn a_grown_log_gives_the_results_of_a_fresh_load() {
    let mut random = Random(0x6507_0001);
    let (mut short, mut steps) = (0, 0);
    for _ in 0..40 {
        let case = draw(&mut random);
        let mut cuts: Vec<usize> =
            (0..1 + random.below(3)).map(|_| 1 + random.below(case.bytes.len())).collect();
        cuts.sort_unstable();
        let mut bench = load(&case, &case.bytes[..cuts[0]]);
        // Sometimes the answers stand before it grows, sometimes not.
        if random.below(2) == 0 {
            results(&mut bench, &case.bytes[..cuts[0]]);
        }
        for cut in cuts[1..].iter().copied().chain([case.bytes.len()]) {
            short += usize::from(grow(&mut bench, &case.bytes[..cut]));
            steps += 1;
        }
        let fresh = results(&mut load(&case, &case.bytes), &case.bytes);
        let grown = results(&mut bench, &case.bytes);
        assert_eq!(first_difference(&fresh, &grown), None, "{}, cut at {cuts:?}", case.words);
    }
    // A log that stood below the first look at it is read anew; most are not.
    assert!(short * 3 > steps, "{short} of {steps}");
}

#[test]
fn another_log_of_the_same_name_is_not_taken_for_a_longer_one() {
    let case = draw(&mut Random(0x6507_0002));
    let bench = &mut load(&case, &case.bytes[..case.bytes.len() / 2]);
    let mut other = case.bytes.clone();
    other[1000] ^= 1;
    let (input, known) = bench.may_have_grown("rig.csv", other.len() as u64).unwrap();
    let mut beginning = Fingerprint::new();
    beginning.push(&other[..known as usize]);
    assert_eq!(bench.grow(input, &beginning, None), None);
    assert_eq!(bench.may_have_grown("rig.csv", known - 1), None);
    assert_eq!(bench.may_have_grown("other.csv", other.len() as u64), None);
}

#[test]
fn what_could_not_be_read_to_its_end_leaves_the_log_as_it_was() {
    let mut random = Random(0x6507_0003);
    for _ in 0..8 {
        let case = draw(&mut random);
        let part = &case.bytes[..case.bytes.len() * 3 / 4];
        let mut bench = load(&case, part);
        let before = results(&mut bench, part);
        let mut beginning = Fingerprint::new();
        beginning.push(part);
        let from = bench.grow(0, &beginning, None).unwrap() as usize;
        bench.push(0, &case.bytes[from..from + 2000]);
        bench.abandon(0);
        assert_eq!(first_difference(&before, &results(&mut bench, part)), None, "{}", case.words);
        grow(&mut bench, &case.bytes);
        let fresh = results(&mut load(&case, &case.bytes), &case.bytes);
        assert_eq!(first_difference(&fresh, &results(&mut bench, &case.bytes)), None, "{}", case.words);
    }
}
