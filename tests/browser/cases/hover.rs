//! The row under the pointer is the nearest one.

use serde_json::json;
use wattsieve_browser_tests::{Browser, Outcome};

use crate::main_job::with_demo_dropped;

/// How near a row must be, CSS pixels, and what two equally near rows may differ by.
const REACH: f64 = 14.0;
const TIE: f64 = 0.01;

/// A kept row and its place in the view, CSS pixels.
struct Place {
    row: u64,
    x: f64,
    y: f64,
}

/// Saves the kept rows through the page and gives `(row, v_in, i_out)`.
async fn kept_rows(browser: &Browser) -> Outcome<Vec<(u64, f64, f64)>> {
    browser.press("header button", "Save to a file").await?;
    browser.press("dialog button", "Save: Kept rows").await?;
    let text = std::fs::read_to_string(browser.downloaded().await?)?;
    browser.press("dialog button", "Close").await?;
    let mut lines = text.lines();
    let header: Vec<&str> = lines.next().ok_or("an empty table")?.split(',').collect();
    let column = |name: &str| header.iter().position(|one| *one == name).ok_or(format!("no column {name}"));
    let (row, v_in, i_out) = (column("row")?, column("v_in_V")?, column("i_out_A")?);
    let mut rows = Vec::new();
    for line in lines {
        let fields: Vec<&str> = line.split(',').collect();
        rows.push((fields[row].parse()?, fields[v_in].parse()?, fields[i_out].parse()?));
    }
    Ok(rows)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hundred_places_give_the_nearest_row() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    let rows = kept_rows(&browser).await?;
    // Without the crosses, and zoomed once, so that the page states its axes.
    browser.press(".tools button", "× shown").await?;
    browser.press(".tools button", "Zoom in").await?;
    browser.wait_until("the zoom", "wattsieve.state().frame").await?;
    tokio::time::sleep(std::time::Duration::from_secs(2)).await;
    let axes = browser
        .run(
            "const b = document.querySelector('canvas.raster').getBoundingClientRect(); const f = wattsieve.state().frame;
             return [b.x, b.y, b.width, b.height, f.x[0], f.x[1], f.y[0], f.y[1],
               [...document.querySelectorAll('.tools button')].some((e) => e.innerText === 'log A') ? 1 : 0];",
            vec![],
        )
        .await?;
    let value = |i: usize| axes[i].as_f64().unwrap_or(f64::NAN);
    let (left, top, width, height) = (value(0), value(1), value(2), value(3));
    let share = |v: f64, lo: f64, hi: f64, log: bool| {
        if log { libm::log(v / lo) / libm::log(hi / lo) } else { (v - lo) / (hi - lo) }
    };
    let places: Vec<Place> = rows
        .iter()
        .filter(|row| row.2 > 0.0 || value(8) == 0.0)
        .map(|&(row, v_in, i_out)| Place {
            row,
            x: left + width * share(v_in, value(4), value(5), false),
            y: top + height * (1.0 - share(i_out, value(6), value(7), value(8) == 1.0)),
        })
        .collect();
    let inside: Vec<&Place> = places
        .iter()
        .filter(|place| place.x > left && place.x < left + width && place.y > top && place.y < top + height)
        .collect();
    assert!(inside.len() > 1000, "only {} rows are in the figure", inside.len());
    let distance = |place: &Place, x: f64, y: f64| libm::hypot(place.x - x, place.y - y);
    let mut tried = 0;
    let mut step = 0;
    while tried < 100 {
        // Half of the places lie on rows, where the figure is densest; half anywhere near rows.
        step += 1;
        let near = inside[(step * 7919) % inside.len()];
        let off = if step % 2 == 0 { 0.0 } else { ((step * 37) % 23) as f64 - 11.0 };
        let (x, y) = ((near.x + off).round(), (near.y - off * 0.7).round());
        let Some(nearest) = inside.iter().map(|place| distance(place, x, y)).min_by(f64::total_cmp) else {
            break;
        };
        let in_figure = x > left + 1.0 && x < left + width - 1.0 && y > top + 1.0 && y < top + height - 1.0;
        if nearest > REACH - 1.0 || !in_figure {
            continue;
        }
        let good: Vec<u64> = inside
            .iter()
            .filter(|place| distance(place, x, y) <= nearest + TIE)
            .map(|place| place.row)
            .collect();
        browser.point_at(x, y).await?;
        let expected = format!("{}.includes(wattsieve.state().reading?.row)", json!(good));
        browser
            .wait_until(&format!("the row at {x}, {y}: one of {good:?}, {nearest} away"), &expected)
            .await?;
        tried += 1;
    }
    browser.close().await
}
