//! Every view with few rows, many rows, none kept and all kept, wide and on a phone, in light and dark: nothing
//! is cut, overlaps, scrolls sideways or stands empty without a word. The pictures are for eyes.

use serde_json::{Value, json};
use thirtyfour::Key;
use wattsieve_browser_tests::{
    Browser, Folder, Outcome, View, hand_table, output_shorted_log, restless_log, step_up_log,
};

use crate::bench::{SETTLED, demo};
use crate::fixture::{OPEN, SETTLING};
use crate::reading::opened;
use crate::rows::{unfold, with_bursts};

/// What is wrong with what the page shows now, one line per fault.
const FAULTS: &str = r#"
    const faults = [];
    const shown = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length && !e.closest('.away, .skip');
    const wide = innerWidth;
    if (document.documentElement.scrollWidth > wide) faults.push(`the page is ${document.documentElement.scrollWidth} wide in ${wide}`);
    const scrolls = (e) => { for (let at = e.parentElement; at; at = at.parentElement) if (/auto|scroll/.test(getComputedStyle(at).overflowX) && at.scrollWidth > at.clientWidth) return true; return false; };
    const name = (e) => `${e.tagName.toLowerCase()}.${e.getAttribute('class') ?? ''} "${(e.textContent || e.getAttribute('aria-label') || '').trim().slice(0, 60)}"`;
    for (const e of document.body.querySelectorAll('*')) {
      const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim());
      if (!own || !shown(e) || e.closest('svg')) continue;
      const style = getComputedStyle(e);
      if (/hidden|clip/.test(style.overflowX) && e.scrollWidth > e.clientWidth + 1 && style.textOverflow !== 'ellipsis') faults.push(`cut: ${name(e)}`);
      if (parseFloat(style.fontSize) < 10.5) faults.push(`small: ${name(e)} ${style.fontSize}`);
      const range = document.createRange();
      range.selectNodeContents(e);
      const box = range.getBoundingClientRect();
      if (box.width && (box.right > wide + 1 || box.left < -1) && !scrolls(e)) faults.push(`outside: ${name(e)} ${Math.round(box.left)} to ${Math.round(box.right)}`);
    }
    for (const e of document.body.querySelectorAll('svg text')) {
      if (!shown(e)) continue;
      const [box, frame] = [e.getBoundingClientRect(), e.ownerSVGElement.getBoundingClientRect()];
      // A drawing may show one side of a whole: what lies outside altogether is meant to.
      if (box.right < frame.left + 1 || box.left > frame.right - 1) continue;
      if (box.left < frame.left - 2 || box.right > frame.right + 2 || box.top < frame.top - 2 || box.bottom > frame.bottom + 2) faults.push(`cut in its drawing: ${name(e)}`);
    }
    const acts = [...document.querySelectorAll('#middle button, #middle select, #middle input:not([type=radio]):not([type=checkbox]):not([type=range]):not([type=file])')].filter((e) => shown(e) && !e.matches('.ringmark'));
    const boxes = acts.map((e) => e.getBoundingClientRect());
    acts.forEach((a, i) => { for (let k = i + 1; k < acts.length; k += 1) {
      const across = Math.min(boxes[i].right, boxes[k].right) - Math.max(boxes[i].left, boxes[k].left);
      const down = Math.min(boxes[i].bottom, boxes[k].bottom) - Math.max(boxes[i].top, boxes[k].top);
      if (across > 1 && down > 1 && !a.contains(acts[k]) && !acts[k].contains(a)) faults.push(`over each other: ${name(a)} and ${name(acts[k])}`);
    } });
    for (const e of document.querySelectorAll('#view .updating')) if (shown(e) && !/saved/.test(e.innerText)) faults.push(`still at it: ${e.innerText}`);
    if (/Working it out|Counting\.$/m.test(document.querySelector('#view')?.innerText ?? '')) faults.push('still working');
    if (/undefined|NaN |\[object|Infinity/.test(document.body.innerText)) faults.push(`not a word: ${document.body.innerText.match(/.{0,40}(undefined|NaN |\[object|Infinity).{0,40}/)[0]}`);
    if (![...document.querySelectorAll('#view .nothing')].some(shown)) for (const canvas of document.querySelectorAll('#view .small canvas, #view canvas.axes')) {
      if (!shown(canvas) || !canvas.width) continue;
      const copy = new OffscreenCanvas(canvas.width, canvas.height).getContext('2d', { willReadFrequently: true });
      copy.drawImage(canvas, 0, 0);
      const pixels = new Uint32Array(copy.getImageData(0, 0, canvas.width, canvas.height).data.buffer);
      if (pixels.every((one) => one === 0)) faults.push(`an empty figure: ${canvas.getAttribute('aria-label') ?? canvas.className}`);
    }
    return [...new Set(faults)];"#;

const DARK_PHONE: View = View { scheme: View::DARK.scheme, ..View::PHONE };

/// Looks at every view there is; gives the faults found, with the view and the size they were found in.
async fn faults_of(browser: &Browser, name: &str) -> Outcome<Vec<String>> {
    let mut found = Vec::new();
    let tabs = "return [...document.querySelectorAll('.tabs [role=tab]')].map((e) => e.id.slice(4))";
    let tabs = browser.run(tabs, vec![]).await?;
    for tab in tabs.as_array().into_iter().flatten().filter_map(Value::as_str) {
        for (view, size) in
            [(View::WIDE, "wide"), (View::DARK, "dark"), (View::PHONE, "phone"), (DARK_PHONE, "phone-dark")]
        {
            browser.look(view).await?;
            browser
                .run("document.getElementById(arguments[0]).click()", vec![json!(format!("tab-{tab}"))])
                .await?;
            browser.wait_until("rest", SETTLED).await?;
            tokio::time::sleep(std::time::Duration::from_millis(500)).await;
            let mut faults = browser.run(FAULTS, vec![]).await?;
            // A long log's counts may still be on their way.
            for _ in 0..12 {
                if faults.as_array().is_some_and(Vec::is_empty) {
                    break;
                }
                tokio::time::sleep(std::time::Duration::from_millis(800)).await;
                faults = browser.run(FAULTS, vec![]).await?;
            }
            let faults = faults.as_array().into_iter().flatten().filter_map(Value::as_str);
            found.extend(faults.map(|fault| format!("{name}, {tab}, {size}: {fault}")));
            // The whole of a long view in one picture.
            let tall = "const m = document.querySelector('#middle'); return Math.max(innerWidth < 720 ? document.documentElement.scrollHeight : m.scrollHeight - m.clientHeight + innerHeight, innerHeight)";
            let height = browser.run(tall, vec![]).await?.as_u64().unwrap_or(900).min(4000) as u32;
            if height > view.height {
                browser.look(View { height, ..view }).await?;
                tokio::time::sleep(std::time::Duration::from_millis(300)).await;
            }
            browser.shot(&format!("look-{name}-{tab}-{size}")).await?;
        }
    }
    browser.look(View::WIDE).await?;
    Ok(found)
}

async fn expect_sound(name: &str, logs: &[(&str, String)], all_out: bool) -> Outcome<()> {
    let folder = Folder::new()?;
    let files: Vec<_> =
        logs.iter().map(|(name, text)| folder.write(name, text.as_bytes())).collect::<Result<_, _>>()?;
    let browser = opened().await?;
    browser.choose("#files", &files).await?;
    browser.wait_until("the logs", SETTLED).await?;
    if all_out {
        let strip = ".strip .front";
        browser.keys(strip, Key::Home).await?;
        browser.wait_until("the first row", "wattsieve.state().reading").await?;
        browser.keys(strip, Key::Enter).await?;
        browser.wait_until("the begun stretch", "wattsieve.state().picked?.count === 1").await?;
        browser.keys(strip, Key::End).await?;
        browser.wait_until("the last row", "wattsieve.state().reading.row > 1000").await?;
        browser.keys(strip, Key::Enter).await?;
        browser.wait_until("all rows", "wattsieve.state().picked?.count > 1000").await?;
        browser.keys(strip, Key::Delete).await?;
        browser.wait_until("the act", SETTLED).await?;
    }
    let found = faults_of(&browser, name).await?;
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn forty_two_rows_all_kept_are_shown_well() -> Outcome<()> {
    expect_sound("42", &[("hand.csv", hand_table(1.0)), ("hand-2.csv", hand_table(0.8))], false).await
}

#[tokio::test(flavor = "multi_thread")]
async fn twenty_thousand_rows_are_shown_well() -> Outcome<()> {
    let logs = [("step-up.csv", with_bursts(&step_up_log(20_000))), ("plain.csv", step_up_log(12_000))];
    expect_sound("20000", &logs, false).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_in_which_every_row_lies_alone_is_shown_well() -> Outcome<()> {
    let logs = [("restless.csv", restless_log(20_000)), ("restless-2.csv", restless_log(15_000))];
    expect_sound("restless", &logs, false).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_of_which_nothing_is_kept_is_shown_well() -> Outcome<()> {
    let logs = [("step-up.csv", with_bursts(&step_up_log(20_000))), ("plain.csv", step_up_log(12_000))];
    expect_sound("none", &logs, true).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_million_rows_are_shown_well() -> Outcome<()> {
    let logs = [("long.csv", with_bursts(&step_up_log(1_000_000))), ("plain.csv", step_up_log(5_000))];
    expect_sound("million", &logs, false).await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_wiring_is_drawn_well_in_every_run() -> Outcome<()> {
    let browser = opened().await?;
    let mut logs = OPEN.to_vec();
    logs.extend([SETTLING, "lamp-diode.csv"]);
    let mut files = demo(&logs);
    files.push(browser.folder().write("fixture-output-shorted.csv", output_shorted_log().as_bytes())?);
    browser.choose("#files", &files).await?;
    browser.wait_until("the logs", SETTLED).await?;
    browser.click("#tab-fixture").await?;
    browser.wait_until("the schematic", "document.querySelector('.bigframe svg rect')").await?;
    let unknown = "return document.querySelectorAll('.bigframe svg rect.known').length";
    let before = browser.run(unknown, vec![]).await?.as_u64();
    // A meter across one contact settles what runs see only in sums.
    for fold in ["how", "meter"] {
        unfold(&browser, fold).await?;
    }
    browser.press("#fold-meter button", "Add a reading").await?;
    browser.wait_until("the reading", "wattsieve.state().settings.fixture.meter.length === 1").await?;
    browser.wait_until("the answers", SETTLED).await?;
    browser.rest().await?;
    let after = browser.run(unknown, vec![]).await?.as_u64();
    assert!(after > before, "the meter's contact is not lit: {before:?} pieces, then {after:?}");
    for fold in ["wires", "runs"] {
        unfold(&browser, fold).await?;
    }
    let mut found = Vec::new();
    for (name, group, choice) in [
        ("four-leads", "", ""),
        ("near-in", "Input sense nodes", "Near"),
        ("near-out", "Output sense nodes", "Near"),
        ("low-side-in", "Input shunt", "Inside, minus"),
        ("outside-out", "Output shunt", "Outside, minus"),
        ("shared-ground", "How the converter", "One shared ground"),
        ("common-plus", "How the converter", "Common plus"),
    ] {
        browser.look(View::WIDE).await?;
        if !choice.is_empty() {
            let pick = "const group = [...document.querySelectorAll('[role=radiogroup]')].find((e) => e.getAttribute('aria-label').startsWith(arguments[0]));
                [...group.querySelectorAll('.pick')].find((e) => e.innerText.includes(arguments[1])).querySelector('input').click(); return 1;";
            browser.run(pick, vec![json!(group), json!(choice)]).await?;
            browser.wait_until("the wiring", SETTLED).await?;
        }
        // Each way to make a run that is not at hand, opened.
        let open =
            "for (const e of document.querySelectorAll('#fold-runs details')) e.open = true; return 1;";
        browser.run(open, vec![]).await?;
        for (view, size) in [(View::WIDE, "wide"), (DARK_PHONE, "phone-dark")] {
            browser.look(view).await?;
            browser.rest().await?;
            let faults = browser.run(FAULTS, vec![]).await?;
            let faults = faults.as_array().into_iter().flatten().filter_map(Value::as_str);
            found.extend(faults.map(|fault| format!("{name}, {size}: {fault}")));
            browser.look(View { height: 4000, ..view }).await?;
            browser.rest().await?;
            browser.shot(&format!("wiring-{name}-{size}")).await?;
        }
        // A run lights what it shows, in every wiring.
        let lit = "return [...document.querySelectorAll('.calrun')].map((e) => [e.querySelector('select').value, e.querySelectorAll('svg rect.known, svg rect.sum').length])";
        let lit = browser.run(lit, vec![]).await?;
        for run in lit.as_array().into_iter().flatten() {
            let any = run[1].as_u64() > Some(0);
            let kind = run[0].as_str().unwrap_or_default();
            assert_eq!(
                any,
                matches!(kind, "straight_through" | "input_shorted" | "output_shorted"),
                "{name}: {lit}"
            );
        }
        let kinds: Vec<_> = lit.as_array().into_iter().flatten().filter_map(|run| run[0].as_str()).collect();
        assert!(kinds.contains(&"output_shorted"), "{name}: {lit}");
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
    browser.close().await
}
