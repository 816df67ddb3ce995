//! One line per oddity of a dialect; and any split of the bytes gives the same log.

use super::*;

fn log(text: &str) -> Log {
    read(text.as_bytes(), &Settings::default())
}

/// Headers, columns (`NaN` compares equal), problem codes with counts.
fn check(text: &str, headers: &[&str], columns: &[&[f64]], problems: &[(&str, u64)]) {
    let log = log(text);
    assert_eq!(log.refusal(), None, "{text:?}");
    let found: Vec<&str> = log.columns.iter().map(|column| column.header.as_str()).collect();
    assert_eq!(found, headers, "{text:?}");
    for (column, expected) in log.columns.iter().zip(columns) {
        let same = column.values.len() == expected.len()
            && column
                .values
                .iter()
                .zip(*expected)
                .all(|(a, b)| a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan()));
        assert!(same, "{text:?}: {} {:?} {expected:?}", column.header, column.values);
    }
    let codes: Vec<(&str, u64)> =
        log.problems.iter().map(|problem| (problem.code.code(), problem.count)).collect();
    assert_eq!(codes, problems, "{text:?}");
}

const N: f64 = f64::NAN;

macro_rules! oddities {
    ($($name:ident: $text:expr => $headers:expr, $columns:expr, $problems:expr;)*) => {
        $(#[test] fn $name() { check($text, &$headers, &$columns, &$problems); })*
    };
}

oddities! {
    reads_line_feeds: "t,v\n0,1.5\n1,2.5\n2,-3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, -3.0]], [];
    reads_crlf: "t,v\r\n0,1.5\r\n1,2.5\r\n2,3\r\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_lone_cr: "t,v\r0,1.5\r1,2.5\r2,3" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_mixed_line_ends: "t,v\r\n0,1\n1,2\r2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    drops_byte_order_mark: "\u{feff}t,v\n0,1\n1,2\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_without_final_line_end: "t,v\n0,1\n1,2\n2,3" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    passes_over_comments: "# one\n// two\nt,v\n0,1\n% three\n1,2\n; four\n2,3\n"
        => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    passes_over_blank_lines: "\n\nt,v\n\n0,1\n\n1,2\n2,3\n\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_semicolons: "t;v\n0;1.5\n1;2.5\n2;3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_decimal_comma: "t;v\n0;1,5\n1;2,5\n2;3,25\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.25]], [];
    reads_tabs: "t\tv\n0\t1.5\n1\t2.5\n2\t3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_tabs_decimal_comma: "t\tv\n0,5\t1,5\n1\t2,5\n2\t3\n" => ["t", "v"], [&[0.5, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_pipes: "t|v\n0|1.5\n1|2.5\n2|3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_runs_of_spaces: "  t    v\n  0   1.5\n 10   2.5\n100     3\n" => ["t", "v"], [&[0.0, 10.0, 100.0], &[1.5, 2.5, 3.0]], [];
    reads_declared_separator: "sep=;\nt;v\n0;1\n1;2\n2;3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_spaces_after_commas: "t, v\n0, 1.5\n1, 2.5\n2, 3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_quoted_numbers: "\"t\",\"v\"\n\"0\",\"1.5\"\n\"1\",\"2.5\"\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 2.5, 3.0]], [];
    reads_quoted_separator: "\"t, s\",v\n0,1\n1,2\n2,3\n" => ["t, s", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_trailing_separators: "t,v,\n0,1,\n1,2,\n2,3,\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_trailing_separators_of_data_only: "t,v\n0,1,\n1,2,\n2,3,\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    reads_exponents_and_plus: "t,v\n0,1e3\n+1,2.5E-2\n2,-3.0e+0\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1000.0, 0.025, -3.0]], [];
    reads_grouped_thousands: "t;v\n0;1 234,5\n1;12.345,5\n2;1'000'000,5\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1234.5, 12345.5, 1_000_000.5]], [];
    reads_units_in_cells: "t;v\n0;1.5 V\n1;250mV\n2;3V\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.5, 0.25, 3.0]], [];
    reads_words_for_no_value: "t,v,i\n0,NaN,1\n1,--,2\n2,,3\n3,n/a,4\n"
        => ["t", "v", "i"], [&[0.0, 1.0, 2.0, 3.0], &[N, N, N, N], &[1.0, 2.0, 3.0, 4.0]], [("empty_cell", 4)];
    marks_over_range: "t,v,i\n0,OL,1\n1,9.9E37,2\n2,5,3\n3,-inf,4\n"
        => ["t", "v", "i"], [&[0.0, 1.0, 2.0, 3.0], &[N, N, 5.0, N], &[1.0, 2.0, 3.0, 4.0]], [("over_range", 3)];
    takes_not_a_number_of_instruments: "t,v\n0,1\n1,9.91E37\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, N, 3.0]], [("empty_cell", 1)];
    keeps_rows_beside_an_unreadable_cell: "t,v\n0,1\n1,2.x\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, N, 3.0]], [("unreadable_cell", 1)];
    rejects_ragged_records: "t,v,i\n0,1,2\n1,2\n2,3,4\n3,4,5,6\n" => ["t", "v", "i"],
        [&[0.0, N, 2.0, N], &[1.0, N, 3.0, N], &[2.0, N, 4.0, N]], [("field_count", 2)];
    rejects_a_cut_last_record: "t,v,i\n0,1,2\n1,2,3\n2,3,4\n3,4" => ["t", "v", "i"],
        [&[0.0, 1.0, 2.0, N], &[1.0, 2.0, 3.0, N], &[2.0, 3.0, 4.0, N]], [("cut_last_line", 1)];
    rejects_a_cut_last_number: "t,v\n0,1\n1,2\n2,3\n3,4." => ["t", "v"], [&[0.0, 1.0, 2.0, N], &[1.0, 2.0, 3.0, N]], [("cut_last_line", 1)];
    passes_over_chatter: "t,v\n0,1\nWARN bus timeout\n1,2\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [("chatter", 1)];
    notes_a_repeated_header: "t,v\n0,1\n1,2\nt,v\n0,3\n1,4\n" => ["t", "v"],
        [&[0.0, 1.0, 0.0, 1.0], &[1.0, 2.0, 3.0, 4.0]], [("repeated_header", 1)];
    takes_out_zero_bytes: "\0\0boot\nt,v\n0,1\n1,\x002\n2,3\n" => ["t", "v"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [("zero_bytes", 1)];
    numbers_columns_without_header: "0,1\n1,2\n2,3\n" => ["column 1", "column 2"], [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0]], [];
    finds_header_in_comment: "# boot\n# columns: ms vin\n0 1.5\n10 2.5\n20 3.5\n" => ["ms", "vin"], [&[0.0, 10.0, 20.0], &[1.5, 2.5, 3.5]], [];
    finds_bare_header_in_comment: "#ms,vin\n0,1.5\n10,2.5\n20,3.5\n" => ["ms", "vin"], [&[0.0, 10.0, 20.0], &[1.5, 2.5, 3.5]], [];
    skips_preamble: "Export;;\nStart;12:30 today;\n\nt;v;i\n0;1;2\n1;2;3\n2;3;4\n" => ["t", "v", "i"],
        [&[0.0, 1.0, 2.0], &[1.0, 2.0, 3.0], &[2.0, 3.0, 4.0]], [];
    keeps_text_columns_aside: "t,state,v\n0,on,1\n1,off,2\n2,on,3\n" => ["t", "state", "v"], [&[0.0, 1.0, 2.0], &[], &[1.0, 2.0, 3.0]], [];
    reads_name_and_value: "vin:13.5,iin:0.5\nvin:13.25,iin:0.75\niin:1,vin:13\n" => ["vin", "iin"], [&[13.5, 13.25, 13.0], &[0.5, 0.75, 1.0]], [];
    reads_name_equals_value: "vin=13.5 iin=0.5\nvin=13.25 iin=OL\nvin=13 iin=1\n" => ["vin", "iin"], [&[13.5, 13.25, 13.0], &[0.5, N, 1.0]], [("over_range", 1)];
    reads_json_lines: "{\"ms\": 0, \"vin\": 13.5}\n{\"ms\": 10, \"vin\": null}\n{\"ms\": 20, \"vin\": 13}\n" => ["ms", "vin"], [&[0.0, 10.0, 20.0], &[13.5, N, 13.0]], [];
    reads_dates: "time,v\n2024-03-31T23:59:59.5,1\n2024-04-01 00:00:00.5,2\n2024-04-01T00:00:01.5Z,3\n" => ["time", "v"],
        [&[86_399.5, 86_400.5, 86_401.5], &[1.0, 2.0, 3.0]], [];
    takes_open_quote_as_letter: "t,v\n0,1\n\"1,2\n2,3\n3,4\n" => ["t", "v"], [&[0.0, N, 2.0, 3.0], &[1.0, 2.0, 3.0, 4.0]],
        [("unreadable_cell", 1), ("open_quote", 1)];
}

#[test]
fn finds_units_under_the_names() {
    let log = log("t,vin,iin\ns,mV,[mA]\n0,1,2\n1,2,3\n2,3,4\n");
    let under: Vec<&str> = log.columns.iter().map(|column| column.under_header.as_str()).collect();
    assert_eq!(under, ["s", "mV", "[mA]"]);
    assert_eq!(log.header_lines.iter().map(|line| line.line).collect::<Vec<_>>(), [1, 2]);
    assert_eq!(log.lines, [3, 4, 5]);
}

#[test]
fn says_where_and_what_to_do() {
    let log = log("t;v;i\n0;1.5;2\n1;2.5;3\n2;2,41;4\n3;4.5;4\n");
    let example = &log.problems[0].examples[0];
    assert_eq!(
        example.to_string(),
        "line 4, column 2 `v`: found `2,41`, expected a number\n  hint: it is a number with a decimal comma; set the decimal mark to comma if most cells are"
    );
    assert_eq!(log.outcome, Outcome::ReadWithWarning);
    assert_eq!(log.problems[0].rows.as_slice(), [[2, 2]]);
}

#[test]
fn refuses_with_a_reason() {
    let cases: [(&[u8], &str); 9] = [
        (b"", "empty"),
        (b"\n\n  \n", "empty"),
        (b"t,v,i\n", "header_only"),
        (b"# shunt\nt [s];v in (V)\n", "header_only"),
        (b"t,v\na,b\nc,d\ne,f\n", "no_numbers"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01", "picture"),
        (b"\xff\xd8\xff\xe0\0\x10JFIF", "picture"),
        (b"\x1f\x8b\x08\0\0\0", "archive"),
        (b"PK\x03\x04\x14\0", "archive"),
    ];
    for (bytes, code) in cases {
        assert_eq!(
            read(bytes, &Settings::default()).refusal().map(|refusal| refusal.code),
            Some(code),
            "{bytes:?}"
        );
    }
}

#[test]
fn reads_one_row() {
    check("t,v\n0,1\n", &["t", "v"], &[&[0.0], &[1.0]], &[("one_row", 1)]);
}

#[test]
fn reads_utf16_and_windows_1252() {
    let text = "t;T case (°C)\r\n0;25,5\r\n1;26,5\r\n2;27\r\n";
    let expected = log(text);
    let units: Vec<u16> = text.encode_utf16().collect();
    let little: Vec<u8> = units.iter().flat_map(|unit| unit.to_le_bytes()).collect();
    let big: Vec<u8> = units.iter().flat_map(|unit| unit.to_be_bytes()).collect();
    let with_mark: Vec<u8> = [&[0xff, 0xfe][..], &little].concat();
    let latin: Vec<u8> = text.chars().map(|letter| letter as u32 as u8).collect();
    for (bytes, name) in
        [(little, "UTF-16LE"), (big, "UTF-16BE"), (with_mark, "UTF-16LE"), (latin, "windows-1252")]
    {
        let found = read(&bytes, &Settings::default());
        assert_eq!(found.columns, expected.columns, "{name}");
        assert_eq!(found.understood.encoding, name);
        assert_eq!(in_pieces(&bytes, 1).columns, expected.columns, "{name}");
    }
}

#[test]
fn obeys_settings() {
    let text = b"1;2;3\n4;5;6\n7,5;8;x\n";
    let settings = Settings {
        separator: Some(';'),
        decimal_mark: Some(','),
        header_row: HeaderRow::Line(1),
        ignored_columns: vec![3],
        ..Settings::default()
    };
    let log = read(text, &settings);
    assert_eq!(log.columns[0].header, "1");
    assert_eq!(log.columns[0].values, [4.0, 7.5]);
    assert_eq!(log.columns[2].form, Form::Text);
    assert!(log.problems.is_empty());
    let none = read(text, &Settings { header_row: HeaderRow::None, ..settings });
    assert_eq!(none.columns[0].values, [1.0, 4.0, 7.5]);
}

fn in_pieces(bytes: &[u8], size: usize) -> Log {
    let mut reader = Reader::new(&Settings::default(), None);
    bytes.chunks(size).for_each(|piece| reader.push(piece));
    reader.finish()
}

/// A small seeded generator (xorshift64*, Marsaglia 2003 with Vigna's multiplier; from memory).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_f491_4f6c_dd1d)
    }

    fn below(&mut self, end: usize) -> usize {
        (self.next() >> 33) as usize % end
    }
}

/// Rows of all sorts, oddities among them.
fn messy(random: &mut Random, rows: usize, line_end: &str) -> Vec<u8> {
    let mut text = format!("# made{line_end}t,vin,iin,state{line_end}");
    for row in 0..rows {
        let odd = random.below(40);
        let (v, i) = (random.below(20_000_000), random.below(9_000));
        match odd {
            0 => text.push_str("# note, \"quoted\""),
            1 => text.push_str("t,vin,iin,state"),
            2 => text.push_str("WARN timeout"),
            3 => text.push_str(&format!("{row},\"{}\",{i},\"on,\r\nnot\"", v as f64 / 1e4)),
            4 => text.push_str(&format!("{row},OL,,on")),
            5 => text.push_str(&format!("{row},{v}")),
            6 => text.push_str(&format!("{row},-{v}e-4,{i}.000000000000001234567,on")),
            7 => text.push_str(&format!("{row},1\0{v},{i},off")),
            8 => text.push_str(&format!("{row},\"{v},{i},open")),
            9 => {}
            _ => text.push_str(&format!("{}.{:03},{:.4},-0.{i},on", row / 50, row % 50 * 20, v as f64 / 1e4)),
        }
        text.push_str(line_end);
    }
    text.push_str("77,1.5,");
    text.into_bytes()
}

#[test]
fn any_split_gives_the_same_log() {
    let mut random = Random(0x5eed_0001);
    for line_end in ["\n", "\r\n", "\r"] {
        for rows in [0, 3, 25, 400, 6000] {
            let text = messy(&mut random, rows, line_end);
            let whole = read(&text, &Settings::default());
            for size in [1, 7, 4096, 65_536, 2_097_152] {
                assert_logs_equal(&in_pieces(&text, size), &whole, size);
            }
            let mut reader = Reader::new(&Settings::default(), Some(text.len() as u64));
            let mut rest = text.as_slice();
            while !rest.is_empty() {
                let (piece, after) = rest.split_at(1 + random.below(rest.len().min(5000)));
                reader.push(piece);
                rest = after;
            }
            assert_logs_equal(&reader.finish(), &whole, 0);
        }
    }
}

fn assert_logs_equal(found: &Log, expected: &Log, size: usize) {
    let bits = |log: &Log| -> Vec<Vec<u64>> {
        log.columns.iter().map(|column| column.values.iter().map(|value| value.to_bits()).collect()).collect()
    };
    assert_eq!(bits(found), bits(expected), "pieces of {size}");
    let rest = |log: &Log| {
        let mut log = log.clone();
        log.columns.iter_mut().for_each(|column| column.values.clear());
        log
    };
    assert_eq!(rest(found), rest(expected), "pieces of {size}");
}

#[test]
fn changed_bytes_never_stop_it() {
    let mut random = Random(0x5eed_0002);
    let clean = messy(&mut random, 300, "\n");
    for round in 0..1500 {
        let mut text = clean.clone();
        for _ in 0..1 + random.below(30) {
            if text.len() < 2 {
                break;
            }
            let place = random.below(text.len());
            match random.below(4) {
                0 => text[place] = random.next() as u8,
                1 => {
                    text.remove(place);
                }
                2 => text.insert(place, b"\",;\t\n\r\0#{}:=eE+-.0"[random.below(18)]),
                _ => text.truncate(place.max(1)),
            }
        }
        let log = read(&text, &Settings::default());
        for column in &log.columns {
            assert!(column.form == Form::Text || column.values.len() == log.rows(), "round {round}");
        }
        if round % 10 == 0 {
            assert_logs_equal(&in_pieces(&text, 13), &log, 13);
        }
    }
}

/// The fast scanner against the record reader, which is the slow and obvious one.
#[test]
fn fast_and_slow_give_the_same_numbers() {
    let mut random = Random(0x5eed_0003);
    let mut text = String::from("a,b\n");
    let mut expected: Vec<f64> = Vec::new();
    for _ in 0..20_000 {
        let digits = 1 + random.below(17);
        let mut number = if random.below(3) == 0 { String::from("-") } else { String::new() };
        let mark = random.below(digits + 2);
        for place in 0..digits {
            if place == mark {
                number.push('.');
            }
            number.push(char::from(b'0' + random.below(10) as u8));
        }
        if random.below(5) == 0 {
            number.push_str(&format!("e{}", random.below(40) as i32 - 20));
        }
        expected.push(number.parse().unwrap());
        text.push_str(&format!("1,{number}\n"));
    }
    let log = log(&text);
    assert_eq!(log.rows(), expected.len());
    for (row, (found, expected)) in log.columns[1].values.iter().zip(&expected).enumerate() {
        assert_eq!(found.to_bits(), expected.to_bits(), "row {row}");
    }
}

/// Plain records in one piece are read many at once; a piece that is one record is read by itself.
#[test]
fn records_together_read_as_one_by_one() {
    let mut random = Random(0x5eed_0004);
    for (line_end, quote) in [("\n", ""), ("\r\n", ""), ("\n", "\"")] {
        let mut lines = vec![["t", "a", "b", "c", "d"].join(",") + line_end];
        let (mut expected, mut digits) = (Vec::new(), [2, 5, 0, 3]);
        for row in 0..4000 {
            // The writing of a column lasts for some rows; now and then one cell is written in another way.
            if random.below(150) == 0 {
                digits[random.below(4)] = random.below(8);
            }
            let mut cells = vec![row.to_string()];
            for (place, digits) in digits.into_iter().enumerate() {
                let value = random.below(2_000_000) as f64 / 1e5 - if place == 3 { 10.0 } else { 0.0 };
                cells.push(match random.below(200) {
                    0 => format!("{value:e}"),
                    1 => format!("{:.12}", value / 7.0),
                    _ => format!("{value:.digits$}"),
                });
            }
            expected.extend(cells.iter().map(|cell| cell.parse::<f64>().unwrap().to_bits()));
            let cells: Vec<String> = cells.iter().map(|cell| format!("{quote}{cell}{quote}")).collect();
            lines.push(cells.join(",") + line_end);
        }
        let [mut all, mut one] = [(); 2].map(|()| Reader::new(&Settings::default(), None).sampling(2000));
        all.push(lines.concat().as_bytes());
        lines.iter().for_each(|line| one.push(line.as_bytes()));
        let log = all.finish();
        assert_logs_equal(&log, &one.finish(), 1);
        let found = (0..4000).flat_map(|row| log.columns.iter().map(move |one| one.values[row].to_bits()));
        assert!(found.eq(expected), "{line_end:?} {quote:?}");
    }
}

#[test]
fn a_stated_encoding_is_held() {
    // A status column in Windows-1252 far down, one bad byte in a number, one in the header.
    let mut text = b"t_s,T \xb0C,note\n".to_vec();
    for row in 0..400 {
        let note: &[u8] = if row == 300 { b"42 \xb5A, \"\xb0\"" } else { b"ok" };
        let heat: &[u8] = if row == 310 { b"2\xb55" } else { b"25.5" };
        text.extend_from_slice(format!("{row},").as_bytes());
        text.extend_from_slice(heat);
        text.extend_from_slice(b",\"");
        text.extend_from_slice(
            &note.iter().map(|byte| if *byte == b'"' { b'_' } else { *byte }).collect::<Vec<_>>(),
        );
        text.extend_from_slice(b"\"\n");
    }
    let settings = Settings { encoding: Some(StatedEncoding::Utf8), ..Settings::default() };
    let log = read(&text, &settings);
    assert_eq!(log.understood.encoding, "UTF-8");
    assert_eq!(log.columns[1].header, "T \u{fffd}C");
    let bad = log.problems.iter().find(|problem| problem.code == ProblemCode::BadLetter).unwrap();
    let places: Vec<_> = bad.examples.iter().map(|at| (at.line, at.column, at.found.as_str())).collect();
    assert_eq!(
        places,
        [
            (Some(1), Some(2), "T \u{fffd}C"),
            (Some(302), Some(3), "42 \u{fffd}A, _\u{fffd}_"),
            (Some(312), Some(2), "2\u{fffd}5")
        ]
    );
    assert_eq!(log.columns[0].values, (0..400).map(f64::from).collect::<Vec<_>>());
    assert!(log.columns[1].values[310].is_nan() && log.columns[1].values[300] == 25.5);
    for size in [1, 2, 1000, 70_000] {
        let mut reader = Reader::new(&settings, None);
        text.chunks(size).for_each(|piece| reader.push(piece));
        let pieces = reader.finish();
        assert_eq!(
            (&pieces.problems, &pieces.lines, &pieces.marks),
            (&log.problems, &log.lines, &log.marks),
            "{size}"
        );
    }
    // Not stated, the same bytes are Windows-1252, as before.
    let found = read(&text, &Settings::default());
    assert_eq!((found.understood.encoding, found.columns[1].header.as_str()), ("windows-1252", "T °C"));
    assert!(found.problems.iter().all(|problem| problem.code != ProblemCode::BadLetter));
}
