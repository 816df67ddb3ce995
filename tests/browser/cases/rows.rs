//! Rows that can be defended: one plain control, rows by hand in every figure, counts, trust, settled points.

use serde_json::{Value, json};
use thirtyfour::Key;
use wattsieve_browser_tests::{Browser, Folder, Outcome, View, step_up_log};

use crate::bench::SETTLED;
use crate::main_job::{open_card, with_demo_dropped};
use crate::reading::opened;

/// Opens a part of a card that folds.
pub(crate) async fn unfold(browser: &Browser, id: &str) -> Outcome<()> {
    let script = "const fold = document.querySelector('#fold-' + arguments[0]);
        if (fold && !fold.open) fold.querySelector('summary').click(); return fold !== null;";
    assert_eq!(browser.run(script, vec![json!(id)]).await?, json!(true), "there is no part {id}");
    browser.wait_until("the part", &format!("document.querySelector('#fold-{id} .inside')")).await
}

/// Rows read, kept, and by hand, as results have them.
async fn rows(browser: &Browser) -> Outcome<Value> {
    let script = "const r = (await wattsieve.ask('rows', { run: wattsieve.state().run }));
        const of = (code) => r.by_reason.find((one) => one.code === code)?.any_reason ?? 0;
        return { read: r.read, kept: r.kept, out: of('by_hand'), saved: of('kept_by_hand') };";
    browser.run_async(script, vec![]).await
}

async fn one_run(text: &str) -> Outcome<Browser> {
    let folder = Folder::new()?;
    let file = folder.write("bench.csv", text.as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser.wait_until("the log", SETTLED).await?;
    Ok(browser)
}

/// The same log with stretches of three to eight rows whose input current reads 0.35 A too much: no
/// gate for lone rows sees their middle, and how many alike are too few is what the control decides.
pub(crate) fn with_bursts(log: &str) -> String {
    let mut text = String::with_capacity(log.len());
    for (row, line) in log.lines().enumerate() {
        let burst = row / 400;
        if row > 0 && row % 400 < 3 + burst % 6 {
            let mut fields: Vec<String> = line.split(',').map(str::to_owned).collect();
            let wrong = fields[2].parse::<f64>().unwrap_or_default() + 0.35;
            fields[2] = format!("{wrong:.4}");
            text.push_str(&fields.join(","));
        } else {
            text.push_str(line);
        }
        text.push('\n');
    }
    text
}

const CHOSEN: &str = "document.querySelector('.pickedbar:not(.none)') && wattsieve.state().picked?.count > 0";

#[tokio::test(flavor = "multi_thread")]
async fn one_plain_control_moves_twenty_times_by_keyboard_and_only_counts_again() -> Outcome<()> {
    let browser = one_run(&with_bursts(&step_up_log(6000))).await?;
    open_card(&browser, "Sieve").await?;
    let id = browser.run("return '#' + document.querySelector('.strictness input').id", vec![]).await?;
    let id = id.as_str().ok_or("no plain control")?.to_owned();
    browser.keys(&id, Key::Home).await?;
    browser.wait_until("the gentlest", SETTLED).await?;
    let mut kept = Vec::new();
    for _ in 0..20 {
        browser.keys(&id, Key::Right).await?;
        browser.wait_until("a move", SETTLED).await?;
        kept.push(rows(&browser).await?["kept"].as_u64().ok_or("no rows")?);
    }
    assert!(kept.windows(2).all(|pair| pair[1] <= pair[0]), "stricter kept more: {kept:?}");
    assert!(kept.last() < kept.first(), "nothing changed from gentle to strict: {kept:?}");
    let words = browser
        .run("return document.querySelector('.strictness input').getAttribute('aria-valuetext')", vec![])
        .await?;
    assert!(words.as_str().unwrap_or_default().contains("stricter"), "{words}");
    let runs = crate::bench::counts(&browser).await?;
    let of = |stage: &str| runs["runs"][0][stage].as_u64();
    assert_eq!((of("log"), of("alignment")), (Some(1), Some(1)), "{runs}");

    // Behind it the two sliders; moving one hands over, and the reset goes back.
    unfold(&browser, "sieve-fine").await?;
    let least = crate::main_job::slider(&browser, "Least rows").await?;
    browser.keys(&least, Key::Right).await?;
    browser.wait_until("the slider", SETTLED).await?;
    let sieve = browser.run("return wattsieve.state().settings.sieve", vec![]).await?;
    assert_eq!(sieve["strictness"], Value::Null, "{sieve}");
    browser.shot("sieve-fine").await?;
    browser.press(".stage.open .btn", "Reset to automatic").await?;
    browser.wait_until("the reset", SETTLED).await?;
    let sieve = browser.run("return wattsieve.state().settings.sieve", vec![]).await?;
    assert_eq!(
        (&sieve["cells"], &sieve["least_rows"], &sieve["widths"]),
        (&Value::Null, &json!(3), &json!({})),
        "{sieve}"
    );

    // One channel's width in its unit.
    let width = "const field = [...document.querySelectorAll('.widths input')].find((e) => e.getAttribute('aria-label').startsWith('Width of a cell of V in'));
        field.focus(); field.value = '0,5'; field.blur(); return true;";
    browser.run(width, vec![]).await?;
    browser.wait_until("the width", SETTLED).await?;
    let width = "return wattsieve.state().settings.sieve.widths.v_in";
    assert_eq!(browser.run(width, vec![]).await?.as_f64(), Some(0.5));
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn rows_go_and_come_back_by_keyboard_alone() -> Outcome<()> {
    let browser = one_run(&step_up_log(4000)).await?;
    browser.wait_until("the figure", "document.querySelector('.stage-front')").await?;
    let before = rows(&browser).await?;
    // In the time strip: from the tenth row to a hundred rows on.
    let strip = ".strip .front";
    browser.keys(strip, Key::Home).await?;
    browser.wait_until("the first row", "wattsieve.state().reading").await?;
    browser.keys(strip, Key::Enter).await?;
    browser.wait_until("the begun stretch", CHOSEN).await?;
    browser.keys(strip, Key::Shift + Key::Right).await?;
    browser.wait_until("the walk", "wattsieve.state().reading.row > 50").await?;
    browser.keys(strip, Key::Enter).await?;
    browser.wait_until("the stretch", "wattsieve.state().picked?.count > 50").await?;
    let count = browser.run("return wattsieve.state().picked.count", vec![]).await?.as_u64();
    browser.keys(strip, Key::Delete).await?;
    browser.wait_until("the act", SETTLED).await?;
    let out = rows(&browser).await?;
    assert_eq!(out["out"].as_u64(), count, "{before} {out}");
    assert!(out["kept"].as_u64() < before["kept"].as_u64());
    let words = browser.run("return document.body.innerText", vec![]).await?;
    assert!(words.as_str().unwrap_or_default().contains("By hand:"), "the page does not say so");
    // Kept instead, then undone by hand, then undo of that.
    browser.keys(strip, "k").await?;
    browser.wait_until("the act", SETTLED).await?;
    let kept = rows(&browser).await?;
    assert_eq!((kept["out"].as_u64(), kept["saved"].as_u64()), (Some(0), count), "{kept}");
    browser.keys(strip, "u").await?;
    browser.wait_until("the act", SETTLED).await?;
    assert_eq!(rows(&browser).await?, before);
    browser.keys(strip, Key::Control + "z").await?;
    browser.wait_until("undo", SETTLED).await?;
    assert_eq!(rows(&browser).await?, kept);
    browser.close().await
}

/// Middle and size of an element in the view.
async fn place(browser: &Browser, selector: &str) -> Outcome<[f64; 4]> {
    let script = "const e = document.querySelector(arguments[0]); e.scrollIntoView({ block: 'center', behavior: 'instant' });
        const b = e.getBoundingClientRect(); return [b.x, b.y, b.width, b.height];";
    let found = browser.run(script, vec![json!(selector)]).await?;
    Ok([0, 1, 2, 3].map(|k| found[k].as_f64().unwrap_or(0.0)))
}

#[tokio::test(flavor = "multi_thread")]
async fn rows_are_chosen_by_drag_in_map_strip_curves_and_counts() -> Outcome<()> {
    let browser = one_run(&step_up_log(4000)).await?;
    let before = rows(&browser).await?;
    for (tab, figure) in [
        ("map", ".layers canvas.raster"),
        ("map", ".strip .front"),
        ("curves", ".chooser"),
        ("counts", ".pairfigure .chooser"),
        ("counts", ".single .chooser"),
    ] {
        browser.click(&format!("#tab-{tab}")).await?;
        browser.wait_until("the figure", &format!("document.querySelector('{figure}')?.clientWidth")).await?;
        if figure.contains("chooser") {
            browser.wait_until("its layer", "document.querySelector('svg.chosen')").await?;
        }
        tokio::time::sleep(std::time::Duration::from_millis(500)).await;
        if figure.contains("raster") {
            browser.press(".tools .btn", "Choose rows").await?;
        }
        let [x, y, width, height] = place(&browser, figure).await?;
        browser.drag((x + width * 0.3, y + height * 0.08), (x + width * 0.8, y + height * 0.8)).await?;
        browser.wait_until(&format!("a choice in {tab} {figure}"), CHOSEN).await?;
        let chosen = browser.run("return wattsieve.state().picked.count", vec![]).await?.as_u64();
        browser.press(".pickedbar .btn", "Take out").await?;
        browser.wait_until("the act", SETTLED).await?;
        let after = rows(&browser).await?;
        assert_eq!(after["out"].as_u64(), chosen, "{tab} {figure}");
        browser.shot(&format!("by-hand-{}", figure.replace(['.', ' '], ""))).await?;
        browser.press(".byhand .btn", "Undo all by hand").await?;
        browser.wait_until("the undo", SETTLED).await?;
        assert_eq!(rows(&browser).await?, before, "{tab} {figure}");
        browser.press(".pickedbar .btn", "Let go").await?;
        if figure.contains("raster") {
            browser.press(".tools .btn", "Choose rows").await?;
        }
        browser.expect_quiet().await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn rows_are_chosen_taken_out_kept_and_undone_by_keyboard_in_every_figure() -> Outcome<()> {
    let browser = one_run(&with_bursts(&step_up_log(4000))).await?;
    let before = rows(&browser).await?;
    let up = || Key::Shift + Key::Up;
    for (tab, figure) in [
        ("map", ".stage-front"),
        ("curves", ".chooser"),
        ("counts", ".pairfigure .chooser"),
        ("counts", ".single .chooser"),
    ] {
        let place = format!("{tab} {figure}");
        browser.click(&format!("#tab-{tab}")).await?;
        browser.wait_until(&place, &format!("document.querySelector('{figure}')?.clientWidth")).await?;
        if figure == ".stage-front" {
            browser.keys(figure, Key::Home).await?;
            browser.wait_until("the first row", "wattsieve.state().reading").await?;
            browser.keys(figure, Key::Enter).await?;
            browser.wait_until("the corner", "wattsieve.state().picked?.count === 1").await?;
            browser.keys(figure, Key::PageUp).await?;
            browser.wait_until("the walk", "wattsieve.state().reading.row > 100").await?;
        } else {
            browser.wait_until("its layer", "document.querySelector('svg.chosen')").await?;
            // From the lower left to the upper right, the last tenth of the way along left out.
            browser.keys(figure, Key::Home).await?;
            for _ in 0..6 {
                browser.keys(figure, Key::Shift + Key::Down).await?;
            }
            browser.keys(figure, Key::Enter).await?;
            browser.keys(figure, Key::End).await?;
            browser.keys(figure, Key::Shift + Key::Left).await?;
            for _ in 0..10 {
                browser.keys(figure, up()).await?;
            }
        }
        browser.keys(figure, Key::Enter).await?;
        browser.wait_until(&format!("a box in {place}"), "wattsieve.state().picked?.count > 20").await?;
        let drawn = "const r = document.querySelector('svg.chosen rect')?.getBoundingClientRect(); return r && [r.width, r.height]";
        let drawn = browser.run(drawn, vec![]).await?;
        assert!(drawn[0].as_f64() > Some(5.0) && drawn[1].as_f64() > Some(5.0), "{place}: no box {drawn}");
        let chosen = browser.run("return wattsieve.state().picked.count", vec![]).await?.as_u64();
        let mut seen = vec![before.clone()];
        for (key, out, saved) in [
            (Key::Delete + "", chosen, Some(0)),
            ("k".into(), Some(0), chosen),
            ("u".into(), Some(0), Some(0)),
        ] {
            browser.keys(figure, key).await?;
            browser.wait_until("the act", SETTLED).await?;
            let now = rows(&browser).await?;
            assert_eq!((now["out"].as_u64(), now["saved"].as_u64()), (out, saved), "{place}: {now}");
            seen.push(now);
        }
        assert_eq!(seen.pop(), Some(before.clone()), "{place}: undone by hand");
        // The steps are taken back one by one, and made again.
        while let Some(expected) = seen.pop() {
            browser.keys(figure, Key::Control + "z").await?;
            browser.wait_until("undo", SETTLED).await?;
            assert_eq!(rows(&browser).await?, expected, "{place}: undo");
        }
        browser.keys(figure, Key::Control + Key::Shift + "z").await?;
        browser.wait_until("redo", SETTLED).await?;
        assert_eq!(rows(&browser).await?["out"].as_u64(), chosen, "{place}: redo");
        browser.keys(figure, Key::Control + "z").await?;
        browser.wait_until("undo", SETTLED).await?;
        browser.keys(figure, Key::Escape).await?;
        browser.wait_until("nothing chosen", "wattsieve.state().picked === null").await?;
        browser.expect_quiet().await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn counts_and_trust_show_the_demo_in_every_size() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    for tab in ["counts", "trust"] {
        browser.look(View::WIDE).await?;
        browser.click(&format!("#tab-{tab}")).await?;
        browser.wait_until("the view", "document.querySelectorAll('#view .small canvas').length > 1").await?;
        for (view, name) in [(View::WIDE, "wide"), (View::DARK, "dark"), (View::PHONE, "phone")] {
            browser.look(view).await?;
            browser.rest().await?;
            let wider = "return document.documentElement.scrollWidth - innerWidth";
            assert!(browser.run(wider, vec![]).await?.as_f64() <= Some(0.0), "{tab} {name} scrolls sideways");
            browser.shot(&format!("{tab}-{name}")).await?;
        }
        browser.expect_quiet().await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_gate_is_switched_with_its_counts_beside_it() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    open_card(&browser, "Sieve").await?;
    unfold(&browser, "sieve-gates").await?;
    let count = "return document.querySelectorAll('#fold-sieve-gates input[type=checkbox]').length";
    assert_eq!(browser.run(count, vec![]).await?.as_u64(), Some(11));
    let before = rows(&browser).await?;
    for gate in ["Steps", "The sieve"] {
        let press = "const s = [...document.querySelectorAll('#fold-sieve-gates .switch')].find((e) => e.innerText.startsWith(arguments[0]));
            s.querySelector('input').click(); return s.innerText;";
        let words = browser.run(press, vec![json!(gate)]).await?;
        assert!(words.as_str().unwrap_or_default().contains("first"), "{words}");
        browser.wait_until("the gate", SETTLED).await?;
    }
    let after = rows(&browser).await?;
    assert!(after["kept"].as_u64() > before["kept"].as_u64(), "{before} {after}");
    browser.shot("gates").await?;
    browser.close().await
}
