//! Figures drawn as SVG and read again.

use super::*;
use crate::colour::{Ramp, Theme};
use crate::scale::Kind;
use crate::svg::Svg;
use plotters::coord::Shift;
use plotters::drawing::{DrawingArea, IntoDrawingArea};

fn drawn(paper: Paper, draw: impl FnOnce(&DrawingArea<Svg<'_>, Shift>) -> Frame) -> (String, Frame) {
    let mut text = String::new();
    let scale = paper.scale();
    let size = ((paper.width * scale) as u32, (paper.height * scale) as u32);
    let area = Svg::new(&mut text, size, scale).into_drawing_area();
    let frame = draw(&area);
    area.present().unwrap();
    drop(area);
    // For a person to look at.
    if let Some(folder) = std::env::var_os("WATTSIEVE_FIGURES") {
        let name = std::thread::current().name().unwrap_or("figure").replace("::", "-");
        std::fs::write(std::path::Path::new(&folder).join(format!("{name}.svg")), &text).unwrap();
    }
    (text, frame)
}

fn axis(kind: Kind, lo: f64, hi: f64, title: &str) -> AxisSpec {
    AxisSpec { kind, range: [lo, hi], title: title.into(), ..AxisSpec::default() }
}

fn paper(width: f64, height: f64) -> Paper {
    Paper { width, height, ..Paper::default() }
}

fn map() -> AxesSpec {
    AxesSpec {
        paper: paper(760.0, 560.0),
        x: axis(Kind::Linear, 9.8, 14.6, "input voltage / V"),
        y: axis(Kind::Log, 0.025, 2.6, "output current / A"),
        bar: Some(BarSpec {
            range: [0.8, 0.96],
            factor: 100.0,
            title: "efficiency / %".into(),
            histogram: (0..64).map(|k| f64::from(k * k % 97)).collect(),
            below: 0.043,
            mark: Some(0.947),
            ..BarSpec::default()
        }),
        notes: vec![
            Note { x: 14.2, y: 0.06, text: "not\nlogged".into(), ..Note::default() },
            Note { x: 10.2, y: 1.0, text: "1".into(), ring: true, ..Note::default() },
            Note { x: 14.4, y: 0.28, text: "2".into(), ring: true, chosen: true },
        ],
        lines: vec![
            InkLine {
                points: vec![
                    [10.1, 0.03],
                    [13.9, 0.03],
                    [13.9, 0.12],
                    [14.3, 0.12],
                    [14.1, 2.5],
                    [10.1, 2.4],
                    [10.1, 0.03],
                ],
                weight: 0.9,
                ..InkLine::default()
            },
            InkLine {
                points: (0..20)
                    .map(|k| [10.2 + 0.2 * f64::from(k), 0.3 + 0.001 * f64::from(k * k)])
                    .collect(),
                label: "93".into(),
                weight: 1.15,
            },
        ],
        ground: true,
        ..AxesSpec::default()
    }
}

#[test]
fn axes_name_quantities_units_and_ticks() {
    let (text, frame) = drawn(map().paper, |area| axes(area, &map()).unwrap());
    for label in [
        "input voltage / V",
        "output current / A",
        "efficiency / %",
        ">12<",
        ">0.5<",
        ">94<",
        "4.3 % of rows below",
    ] {
        assert!(text.contains(label), "{label}");
    }
    assert!(text.ends_with("</svg>\n"));
    // The frame leaves the room that the bar needs, and lies on whole pixels.
    assert_eq!(frame.right(), 760.0 - 132.0);
    assert_eq!(frame.left, libm::round(frame.left));
    assert_eq!(frame.x.place(9.8), frame.left);
}

#[test]
fn axes_in_the_dark_with_the_bar_above() {
    let mut spec = map();
    spec.paper = Paper { theme: Theme::Dark, width: 390.0, height: 420.0, ratio: 2.0 };
    spec.bar_above = true;
    let (text, frame) = drawn(spec.paper, |area| axes(area, &spec).unwrap());
    assert!(text.contains("#1a1d22") && frame.right() > 370.0);
}

#[test]
fn curves_with_bands_gaps_and_labels() {
    let x: Vec<f64> = (1..60).map(|k| 0.04 * f64::from(k)).collect();
    let eta = |i: &f64, a: f64| 1.0 - a / i / 10.0 - 0.02 * i - 0.01;
    let series = |a: f64, ink, stroke, label: &str| Series {
        y: x.iter().map(|i| (*i < 1.0 || *i > 1.2).then(|| eta(i, a))).collect(),
        low: x.iter().map(|i| Some(eta(i, a) - 0.01 / (1.0 + i))).collect(),
        high: x.iter().map(|i| Some(eta(i, a) + 0.01 / (1.0 + i))).collect(),
        x: x.clone(),
        ink,
        stroke,
        label: label.into(),
        ..Series::default()
    };
    let spec = CurvesSpec {
        paper: paper(520.0, 300.0),
        x: axis(Kind::Log, 0.04, 2.4, "output current / A"),
        y: AxisSpec { factor: 100.0, ..axis(Kind::Linear, 0.8, 0.98, "efficiency / %") },
        hairlines: true,
        series: vec![
            series(0.06, Ink::Copper, Stroke::Line, "first, 10.5 V"),
            series(0.07, Ink::Copper, Stroke::Line, "first, 13.2 V"),
            series(0.12, Ink::Slate, Stroke::Dashed, "second, 13.2 V"),
        ],
        ..CurvesSpec::default()
    };
    let (text, frame) = drawn(spec.paper, |area| curves(area, &spec).unwrap());
    assert!(text.contains("<polygon") && text.contains("second, 13.2 V"));
    // Nothing of a line lies outside the frame.
    let scale = spec.paper.scale();
    for line in
        text.lines().filter(|line| line.starts_with("<polyline") && line.contains("stroke-width=\"12\""))
    {
        let points = line.split('"').nth(1).unwrap();
        for point in points.split_whitespace() {
            let (x, y) = point.split_once(',').unwrap();
            let (x, y): (f64, f64) = (x.parse().unwrap(), y.parse().unwrap());
            assert!(frame.holds((x / scale, y / scale)), "{point} of {frame:?}");
        }
    }
    // Labels at line ends do not touch.
    let mut heights: Vec<f64> = text
        .lines()
        .filter(|line| line.contains(", 1") && line.starts_with("<text"))
        .map(|line| line.split("y=\"").nth(1).unwrap().split('"').next().unwrap().parse().unwrap())
        .collect();
    heights.sort_by(f64::total_cmp);
    assert_eq!(heights.len(), 3);
    assert!(heights.windows(2).all(|pair| pair[1] - pair[0] >= 13.9 * scale), "{heights:?}");
}

#[test]
fn share_out_with_its_plateau() {
    let spec = CurvesSpec {
        paper: paper(236.0, 110.0),
        x: axis(Kind::Linear, 0.0, 12.0, ""),
        y: AxisSpec { factor: 100.0, most: Some(3), ..axis(Kind::Linear, 0.0, 0.06, "") },
        shade: vec![[2.0, 5.0]],
        uprights: vec![Upright { x: 3.0, dot: Some(0.001), ink: Ink::Copper }],
        series: vec![Series {
            x: (0..=12).map(f64::from).collect(),
            y: (0..=12).map(|k| Some(0.05 * f64::from(k * k * k) / 1728.0)).collect(),
            ..Series::default()
        }],
        ..CurvesSpec::default()
    };
    let (text, _) = drawn(spec.paper, |area| curves(area, &spec).unwrap());
    assert!(text.contains("<circle") && text.contains("#f3e5d8"));
}

#[test]
fn bars_by_current_band() {
    let item = |name: &str, value: Option<f64>, half: f64| BarsItem {
        name: name.into(),
        value,
        low: value.map(|v| v - half),
        high: value.map(|v| v + half),
        ink: Ink::Copper,
    };
    let spec = BarsSpec {
        paper: paper(360.0, 200.0),
        title: "current band / A; bars are 95 %".into(),
        y: AxisSpec { factor: 100.0, ..axis(Kind::Linear, 0.996, 1.002, "efficiency / %") },
        level: Some(1.0),
        items: vec![
            item("0.06–0.2", Some(0.9995), 0.0013),
            item("0.2–0.5", Some(0.9999), 0.0004),
            item("0.5–1.0", None, 0.0),
            item("1.0–1.8", Some(1.0), 0.0001),
            item("1.8–2.8", Some(1.01), 0.0001),
        ],
        ..BarsSpec::default()
    };
    let (text, _) = drawn(spec.paper, |area| bars(area, &spec).unwrap());
    assert_eq!(text.matches("<circle").count(), 3);
    assert!(text.contains("no rows") && text.contains("<polygon"));
}

#[test]
fn cells_with_numbers_hatch_and_a_chosen_one() {
    let mut list = Vec::new();
    for column in 0..12 {
        for row in 0..3 {
            let value = f64::from(column) * -0.006 + f64::from(row) * 0.02;
            let (x, y) = (10.0 + 0.4 * f64::from(column), f64::from(row));
            let shown = value.abs() > 0.004;
            list.push(CellSpec {
                x: [x, x + 0.4],
                y: [y, y + 1.0],
                value: shown.then_some(value),
                text: if shown { format!("{:.1}", value * 100.0) } else { String::new() },
                hatch: !shown,
            });
        }
    }
    list.push(CellSpec { x: [9.6, 10.0], y: [0.0, 1.0], text: "a".into(), ..CellSpec::default() });
    let spec = CellsSpec {
        paper: paper(700.0, 320.0),
        x: axis(Kind::Linear, 9.6, 15.0, "input voltage / V"),
        y: AxisSpec {
            names: vec!["0.15".into(), "0.60".into(), "2.00".into()],
            ..axis(Kind::Linear, 0.0, 1.0, "output current / A")
        },
        bar: BarSpec {
            ramp: Ramp::Difference,
            range: [-0.07, 0.04],
            factor: 100.0,
            title: "first minus second / points".into(),
            ..BarSpec::default()
        },
        cells: list,
        chosen: Some(16),
        ..CellsSpec::default()
    };
    let (text, _) = drawn(spec.paper, |area| cells(area, &spec).unwrap());
    assert!(text.contains(">a<") && text.contains(">−6<") || text.contains(">-6.6<"));
}

/// A share has no side below zero: its scale runs from nothing to all.
#[test]
fn a_share_runs_from_zero_to_a_hundred() {
    let spec = CellsSpec {
        paper: paper(700.0, 320.0),
        x: axis(Kind::Linear, 10.0, 12.0, "input voltage / V"),
        y: axis(Kind::Linear, 0.0, 2.0, "output current / A"),
        bar: BarSpec {
            ramp: Ramp::Share,
            range: [0.0, 1.0],
            factor: 100.0,
            title: "rows out / %".into(),
            ..BarSpec::default()
        },
        cells: vec![CellSpec { x: [10.0, 11.0], y: [0.0, 1.0], value: Some(0.0), ..CellSpec::default() }],
        ..CellsSpec::default()
    };
    let (text, _) = drawn(spec.paper, |area| cells(area, &spec).unwrap());
    assert!(text.contains(">100<") && text.contains(">0<"), "{text}");
    assert!(!text.contains(">-") && !text.contains(">\u{2212}"), "{text}");
}

#[test]
fn words_from_strangers_stay_words() {
    let mut spec = map();
    spec.x.title = "</text><script>alert(1)</script>".into();
    let (text, _) = drawn(spec.paper, |area| axes(area, &spec).unwrap());
    assert!(!text.contains("<script") && text.contains("&lt;script&gt;"));
}

#[test]
fn nothing_absurd_stops_a_figure() {
    let mut spec = map();
    spec.x.range = [f64::NAN, 1.0];
    spec.y.range = [-5.0, -5.0];
    spec.paper = Paper { width: 0.0, height: -3.0, ratio: f64::NAN, ..spec.paper };
    let mut text = String::new();
    let area = Svg::new(&mut text, (8, 8), 8.0).into_drawing_area();
    axes(&area, &spec).unwrap();
    curves(&area, &CurvesSpec::default()).unwrap();
    bars(&area, &BarsSpec::default()).unwrap();
    cells(&area, &CellsSpec::default()).unwrap();
}

#[test]
fn counts_are_filled_hollow_or_crossed() {
    let spec = TallySpec {
        paper: paper(420.0, 300.0),
        x: axis(Kind::Linear, 0.0, 3.0, "input voltage / V"),
        y: axis(Kind::Linear, 0.0, 2.0, "output current / A"),
        pair: true,
        columns: 3,
        from: [0.0, 0.0],
        step: [1.0, 1.0],
        kept: vec![40, 2, 0, 400, 0, 7],
        out: vec![0, 0, 1, 0, 0, 3],
        thin: vec![false, true, true, false, false, false],
        ..TallySpec::default()
    };
    let (pair, frame) = drawn(spec.paper, |area| tally(area, &spec).unwrap());
    assert!((frame.x.place(3.0) - frame.right()).abs() < 1e-6);
    let (empty, _) = drawn(spec.paper, |area| {
        tally(area, &TallySpec { kept: vec![], out: vec![], thin: vec![], ..spec.clone() }).unwrap()
    });
    // Three filled boxes, and two strokes twice for each bin with rows out.
    let count = |text: &str, what: &str| text.matches(what).count();
    assert_eq!(count(&pair, "<rect") - count(&empty, "<rect"), 3);
    let single = TallySpec {
        pair: false,
        columns: 6,
        y: axis(Kind::Log, 0.5, 500.0, "rows"),
        step: [0.5, 0.0],
        level: Some(3.0),
        ..spec
    };
    let (bars, _) = drawn(single.paper, |area| tally(area, &single).unwrap());
    assert!(count(&bars, "<rect") > count(&empty, "<rect"));
}
