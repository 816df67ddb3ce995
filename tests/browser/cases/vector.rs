//! Every figure as an SVG file: well-formed, with its axes, its units and the plane it is quoted at.

use wattsieve_browser_tests::{Browser, Outcome, View, words_of_svg};

use crate::bench::{SETTLED, demo};
use crate::main_job::open_card;
use crate::reading::opened;
use crate::rows::unfold;

/// Presses a figure's button and expects these words in its file, which holds no script and no address.
async fn expect_figure(browser: &Browser, button: &str, words: &[&str]) -> Outcome<String> {
    browser.press("button", button).await?;
    let file = browser.downloaded().await?;
    let svg = std::fs::read_to_string(&file)?;
    assert_eq!(file.extension().and_then(|ending| ending.to_str()), Some("svg"), "{file:?}");
    let said = words_of_svg(&svg).map_err(|error| format!("{button}: {error}"))?.join(" ");
    for word in words {
        assert!(said.contains(word), "{button} lacks {word:?}: {said}");
    }
    assert!(
        !said.contains("undefined") && !said.contains("NaN") && !svg.contains("<script"),
        "{button}: {said}"
    );
    // Nothing is fetched when it is opened.
    let addresses = svg.matches("http").count() - svg.matches("http://www.w3.org/").count();
    assert_eq!(addresses, 0, "{button} names an address");
    Ok(svg)
}

#[tokio::test(flavor = "multi_thread")]
async fn every_figure_is_saved_with_its_axes_units_and_plane() -> Outcome<()> {
    let browser = opened().await?;
    browser
        .choose(
            "#files",
            &demo(&[
                "fixture-all-off.csv",
                "fixture-open-sweep.csv",
                "fixture-through-0r68.csv",
                "lamp-diode.csv",
                "lamp-synchronous-again.csv",
            ]),
        )
        .await?;
    browser.wait_until("the logs", SETTLED).await?;
    let plane = "at the converter’s terminals";
    // In the dark too the file is for paper.
    browser.look(View::DARK).await?;
    let (volts, amperes) = ("input voltage / V", "output current / A");
    browser.click("#tab-map").await?;
    browser.wait_until("the rows", "document.querySelector('canvas.raster').width > 100").await?;
    tokio::time::sleep(std::time::Duration::from_millis(800)).await;
    let map = expect_figure(&browser, "Save as SVG", &[volts, amperes, "efficiency / %", plane, "± is 95 %"])
        .await?;
    assert!(map.contains("href=\"data:image/png;base64,") && map.contains("fill=\"#ffffff\""));
    browser.press(".choice label", "Cells").await?;
    browser.wait_until("rest", SETTLED).await?;
    tokio::time::sleep(std::time::Duration::from_millis(500)).await;
    let cells = expect_figure(&browser, "Save as SVG", &[volts, amperes, plane]).await?;
    assert!(!cells.contains("<image"), "cells need no picture");

    let strip = expect_figure(
        &browser,
        "Save as SVG: Input voltage, output current",
        &["V in", "I out", " V ", " A ", " %", "time / ", "rows out", plane],
    )
    .await?;
    assert!(strip.contains("fill=\"#1e2228\""), "the strip is not in the ink of paper");

    browser.click("#tab-compare").await?;
    browser.wait_until("the cells", "document.querySelectorAll('.diff td button').length > 20").await?;
    let (points, watts) = ("difference / points", "difference of loss / W");
    let button = "Save as SVG: Difference, lamp-diode minus";
    let difference =
        expect_figure(&browser, button, &[volts, amperes, points, plane, "no difference shown"]).await?;
    browser.press(".choice label", "Watts").await?;
    browser.rest().await?;
    let loss = expect_figure(&browser, button, &[volts, amperes, watts, plane, "loss in W"]).await?;
    assert_ne!(difference, loss);

    browser.click("#tab-curves").await?;
    browser.wait_until("the curves", "document.querySelector('.tofile')").await?;
    tokio::time::sleep(std::time::Duration::from_millis(400)).await;
    expect_figure(&browser, "Save as SVG: Efficiency", &[amperes, "efficiency / %", plane]).await?;
    browser.click("#tab-counts").await?;
    browser.wait_until("the counts", "document.querySelectorAll('.tofile').length > 4").await?;
    tokio::time::sleep(std::time::Duration::from_millis(600)).await;
    expect_figure(&browser, "Save as SVG: Rows counted: V in against", &["V in / V", "at the sense nodes"])
        .await?;
    browser.click("#tab-trust").await?;
    browser.wait_until("the trust", "document.querySelectorAll('.tofile').length > 1").await?;
    tokio::time::sleep(std::time::Duration::from_millis(400)).await;
    expect_figure(&browser, "Save as SVG: Share of rows", &[volts, amperes, plane, "rows out / %"]).await?;
    expect_figure(&browser, "Save as SVG: Rows kept and out", &["time / s", "rows"]).await?;

    browser.click("#tab-fixture").await?;
    browser.wait_until("the fixture", "document.querySelector('.result .tofile')").await?;
    let schematic = expect_figure(&browser, "Save as SVG: What lies between", &["R in", "Ω", plane]).await?;
    assert!(schematic.contains("stroke=\"rgb(30, 34, 40)\""), "the drawing is not in the ink of paper");
    expect_figure(&browser, "Save as SVG: Calibration resistor", &["resistance / Ω", "time / "]).await?;
    unfold(&browser, "how").await?;
    for (part, button, words) in [
        (
            "acceptance",
            "Save as SVG: Straight-through efficiency",
            ["efficiency / %", "current band / A", plane],
        ),
        (
            "residuals",
            "Save as SVG: Straight-through run",
            ["current / A", "corrected less 100 / points", plane],
        ),
    ] {
        unfold(&browser, part).await?;
        tokio::time::sleep(std::time::Duration::from_millis(400)).await;
        expect_figure(&browser, button, &words).await?;
    }
    open_card(&browser, "Sieve").await?;
    browser.wait_until("the share out", "document.querySelector('.stage .tofile')").await?;
    expect_figure(&browser, "Save as SVG: Rows out against", &["least rows"]).await?;
    browser.close().await
}
