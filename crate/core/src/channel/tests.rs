//! Roles, units, clocks and kinds of run on small logs.

use super::*;
use crate::log::{self, read};

fn convert(text: &str, settings: &Settings) -> (Guess, Conversion) {
    let log = read(text.as_bytes(), &log::Settings::default());
    let guess = guess(&log, settings);
    let conversion = to_readings(log, &guess, settings);
    (guess, conversion)
}

const CLEAN: &str = "t [s],V in (V),I_in [mA],vout_mV,Iout (A)\n0.00,12.5,500,5000,1.1\n0.02,12.4,510,4990,1.2\n0.04,12.3,520.5,4980,1.3\n";

#[test]
fn gives_si_units() {
    let (guess, conversion) = convert(CLEAN, &Settings::default());
    assert!(guess.asks.is_empty() && conversion.asks.is_empty(), "{:?}", guess.asks);
    let readings = &conversion.readings;
    assert_eq!(readings.time, [0.0, 0.02, 0.04]);
    assert_eq!(readings.column(Channel::VIn), [12.5, 12.4, 12.3]);
    assert_eq!(readings.column(Channel::IIn), [0.5, 0.51, 0.5205]);
    assert_eq!(readings.column(Channel::VOutHigh), [5.0, 4.99, 4.98]);
    assert!(!readings.has(Channel::VOutLow));
    assert_eq!(readings.column(Channel::IOut), [1.1, 1.2, 1.3]);
    assert_eq!(readings.row_period, 0.02);
    assert_eq!(readings.resolution, [0.1, 0.01, 0.0, 0.01, 0.1]);
    assert_eq!(readings.lines, [2, 3, 4]);
    assert_eq!(conversion.rows_usable, 3);
    assert_eq!(conversion.sums.v_out_low, None);
    assert_eq!(conversion.duration, 0.04);
    assert_eq!(conversion.time, TimeUnderstood { form: "seconds", wraps: 0 });
}

/// Renamed and shuffled columns in other units are the same readings, bit for bit.
#[test]
fn names_order_and_units_change_nothing() {
    let other = "Strom Aus (mA);Spannung_Aus_V;Zeit_ms;I ein / A;U ein (mV)\n1100;5;0;0,5;12500\n1200;4,99;20;0,51;12400\n1300;4,98;40;0,5205;12300\n";
    let (_, first) = convert(CLEAN, &Settings::default());
    let (guess, second) = convert(other, &Settings::default());
    assert!(guess.asks.is_empty(), "{:?}", guess.asks);
    assert_eq!(
        Readings { lines: Vec::new(), ..first.readings },
        Readings { lines: Vec::new(), ..second.readings }
    );
}

#[test]
fn obeys_settings() {
    let settings = Settings {
        columns: vec![
            ColumnRole { column: ColumnRef::Number(2), role: Role::IOut },
            ColumnRole { column: ColumnRef::Header("b".into()), role: Role::VIn },
            ColumnRole { column: ColumnRef::Number(4), role: Role::VOut },
            ColumnRole { column: ColumnRef::Number(3), role: Role::IIn },
        ],
        units: vec![RoleUnit { role: Role::VIn, unit: "mV".into() }],
        scales: vec![RoleScale { role: Role::IIn, scale: 0.5 }],
        reverse: vec![Role::IOut],
        row_period: Some(0.5),
        ..Settings::default()
    };
    let (guess, conversion) = convert("b,x,y,z\n1000,-1,2,5\n2000,-2,4,6\n", &settings);
    assert!(conversion.asks.is_empty(), "{:?}", guess.asks);
    assert_eq!(conversion.readings.column(Channel::VIn), [1.0, 2.0]);
    assert_eq!(conversion.readings.column(Channel::IOut), [1.0, 2.0]);
    assert_eq!(conversion.readings.column(Channel::IIn), [1.0, 2.0]);
    assert_eq!(conversion.readings.time, [0.0, 0.5]);
    assert_eq!(conversion.readings.row_period, 0.5);
}

#[test]
fn asks_for_what_is_not_said() {
    let (_, conversion) = convert("a,b,c\n1,2,3\n2,3,4\n", &Settings::default());
    let codes: Vec<&str> = conversion.asks.iter().map(|ask| ask.code).collect();
    assert_eq!(codes, ["role_missing", "role_missing", "role_missing", "role_missing", "row_period_missing"]);
    assert_eq!(conversion.asks[4].option, "--row-period SECONDS");
    let (_, conversion) =
        convert("t_s,vin,iin,vout,iout,iout\n0,2,3,4,5,6\n1,3,4,5,6,7\n", &Settings::default());
    let codes: Vec<&str> = conversion.asks.iter().map(|ask| ask.code).collect();
    assert_eq!(codes, ["role_ambiguous"]);
    let (_, conversion) =
        convert("t_s,vin [furlong],iin,vout,iout\n0,2,3,4,5\n1,3,4,5,6\n", &Settings::default());
    assert_eq!(conversion.asks[0].code, "unit_unknown");
}

#[test]
fn one_output_voltage_beside_a_low_node_is_the_high_node() {
    let (guess, _) =
        convert("t_s,vin,iin,vout,vout_n,iout\n0,9,3,4,0,6\n1,9,4,5,0,7\n", &Settings::default());
    assert_eq!(guess.columns[3].role, Role::VOutHigh);
    assert_eq!(guess.columns[4].role, Role::VOutLow);
}

#[test]
fn takes_millivolts_from_the_size() {
    let (guess, conversion) =
        convert("ms,vin,iin,vout,iout\n0,13084,134,4997,300\n20,13083,145,4996,330\n", &Settings::default());
    assert_eq!(guess.columns[1].unit, "mV");
    assert_eq!(guess.columns[2].unit, "mA");
    assert_eq!(conversion.readings.column(Channel::IIn), [0.134, 0.145]);
}

/// Times, their name: time in seconds, wraps, starts of segments.
fn check_clock(name: &str, times: &[&str], expected: &[f64], wraps: u32, starts: &[(usize, SegmentStart)]) {
    let mut text = format!("{name},vin_V,iin_A,vout_V,iout_A\n");
    for time in times {
        if *time == "header" {
            text.push_str(&format!("{name},vin_V,iin_A,vout_V,iout_A\n"));
        } else {
            text.push_str(&format!("{time},12,1,5,2\n"));
        }
    }
    let (_, conversion) = convert(&text, &Settings::default());
    let found = &conversion.readings.time;
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() < 1e-9, "{name}: {found} {expected}");
    }
    assert_eq!(conversion.time.wraps, wraps, "{name}");
    let segments: Vec<(usize, SegmentStart)> =
        conversion.readings.segments.iter().map(|segment| (segment.first, segment.start)).collect();
    assert_eq!(segments, starts, "{name}");
}

#[test]
fn reads_clocks() {
    use SegmentStart::{ClockBack, Gap, Header, Start};
    check_clock(
        "us",
        &["4294947296", "4294957296", "0", "10000", "20000"],
        &[0.0, 0.01, 0.02, 0.03, 0.04],
        1,
        &[(0, Start)],
    );
    check_clock("ms", &["65516", "65526", "0", "10"], &[0.0, 0.01, 0.02, 0.03], 1, &[(0, Start)]);
    check_clock(
        "ms",
        &["500", "510", "520", "3", "13"],
        &[0.0, 0.01, 0.02, 0.03, 0.04],
        0,
        &[(0, Start), (3, ClockBack)],
    );
    check_clock(
        "ms",
        &["0", "10", "20", "header", "30", "40"],
        &[0.0, 0.01, 0.02, 0.03, 0.04],
        0,
        &[(0, Start), (3, Header)],
    );
    check_clock(
        "ms",
        &["0", "10", "20", "300", "310"],
        &[0.0, 0.01, 0.02, 0.3, 0.31],
        0,
        &[(0, Start), (3, Gap)],
    );
    check_clock("t", &["0.5", "0.6", "0.7"], &[0.0, 0.1, 0.2], 0, &[(0, Start)]);
    check_clock("time", &["1000", "1020", "1040"], &[0.0, 0.02, 0.04], 0, &[(0, Start)]);
    check_clock(
        "time",
        &["1711846790000", "1711846790020", "1711846790040"],
        &[0.0, 0.02, 0.04],
        0,
        &[(0, Start)],
    );
    check_clock("time", &["45382.5", "45382.75", "45383.0"], &[0.0, 0.25, 0.5], 0, &[(0, Start)]);
    check_clock(
        "date",
        &["45382.5", "45382.5000152587890625", "45382.500030517578125"],
        &[0.0, 1.318_359_375, 2.636_718_75],
        0,
        &[(0, Start)],
    );
    check_clock("clock", &["23:59:58.5", "23:59:59.5", "00:00:00.5"], &[0.0, 1.0, 2.0], 1, &[(0, Start)]);
    check_clock(
        "timestamp",
        &["2024-03-31T01:59:59+01:00", "2024-03-31T03:00:00+02:00", "2024-03-31T03:00:01+02:00"],
        &[0.0, 1.0, 2.0],
        0,
        &[(0, Start)],
    );
}

#[test]
fn joins_date_and_time_of_two_columns() {
    for header in ["Date;Time", "Time;Date"] {
        let stamp = |date: &str, time: &str| {
            if header == "Date;Time" { format!("{date};{time}") } else { format!("{time};{date}") }
        };
        let mut text = format!("{header};vin_V;iin_A;vout_V;iout_A\n");
        for (date, time) in
            [("31.12.2023", "23:59:59.5"), ("01.01.2024", "00:00:00.5"), ("01.01.2024", "00:00:01.5")]
        {
            text.push_str(&format!("{};12;1;5;2\n", stamp(date, time)));
        }
        let (_, conversion) = convert(&text, &Settings::default());
        assert!(conversion.asks.is_empty(), "{:?}", conversion.asks);
        assert_eq!(conversion.readings.time, [0.0, 1.0, 2.0], "{header}");
        assert_eq!(conversion.time, TimeUnderstood { form: "date_time", wraps: 0 });
        assert!(conversion.readings.extras.is_empty());
    }
}

#[test]
fn notices_damaged_time() {
    let mut text = String::from("micros,vin,iin,vout,iout\n");
    (0..200).for_each(|row| text.push_str(&format!("1.20E+09,12,{},5,2\n", 1.0 + f64::from(row) / 100.0)));
    let (_, conversion) = convert(&text, &Settings::default());
    let problem = conversion.problems.iter().find(|problem| problem.code.code() == "damaged_time").unwrap();
    assert_eq!(problem.examples[0].found, "1 distinct times in 200 rows");
    assert_eq!(conversion.asks[0].code, "row_period_missing");
}

#[test]
fn notices_turned_and_exchanged_columns() {
    let mut text = String::from("t_s,vin,iin,vout,iout\n");
    (0..40).for_each(|row| {
        text.push_str(&format!(
            "{row},5,{:.1},12,{:.1}\n",
            -1.0 - f64::from(row) / 10.0,
            1.0 + f64::from(row) / 10.0
        ))
    });
    let (_, conversion) = convert(&text, &Settings::default());
    assert!(conversion.problems.iter().any(|problem| problem.code.code() == "backwards"));
    let settings = Settings { reverse: vec![Role::IIn], ..Settings::default() };
    let (_, conversion) = convert(&text, &settings);
    assert!(conversion.problems.iter().any(|problem| problem.code.code() == "exchanged"));
    assert!(!conversion.problems.iter().any(|problem| problem.code.code() == "backwards"));
}

#[test]
fn marks_rows_of_needed_columns_only() {
    let text =
        "t_s,vin,iin,vout,iout,T case (degC)\n0,12,1,5,2,x1\n1,12,OL,5,2,20\n2,12,1,5,2.x,21\n3,12,1,5\n";
    let (_, conversion) = convert(text, &Settings::default());
    let marks: Vec<(u32, MarkKind)> =
        conversion.readings.marks.iter().map(|mark| (mark.row, mark.kind)).collect();
    assert_eq!(marks, [(1, MarkKind::OverRange), (2, MarkKind::Unreadable), (3, MarkKind::Unreadable)]);
    assert_eq!(conversion.rows_usable, 1);
    assert_eq!(conversion.readings.extras[0].role, Role::Temperature);
}

#[test]
fn previews_first_and_worst_rows() {
    let log = read(b"t_s,vin\n0,1\n1,2.x\n2,3\n", &log::Settings::default());
    let guess = guess(&log, &Settings::default());
    let preview = preview(&log, &guess, 1, 5);
    assert_eq!(preview.headers, ["t_s", "vin"]);
    assert_eq!(preview.roles, ["time", "v_in"]);
    let rows: Vec<(u32, bool)> = preview.rows.iter().map(|row| (row.line, row.lost)).collect();
    assert_eq!(rows, [(2, false), (3, true)]);
    assert_eq!(preview.rows[1].fields, ["1", "2.x"]);
}
