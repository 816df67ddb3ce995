//! Everything by keys, and every control with a name.

use wattsieve_browser_tests::{Browser, Outcome, View};

use crate::main_job::with_demo_dropped;
use crate::reading::opened;

/// Opens every fold in sight; folds may hold folds.
async fn unfold(browser: &Browser) -> Outcome<()> {
    let open = "const shut = [...document.querySelectorAll('details:not([open])')].filter((e) => e.getClientRects().length);
        for (const one of shut) one.open = true; return shut.length;";
    for _ in 0..4 {
        if browser.run(open, vec![]).await? == 0 {
            break;
        }
        browser.rest().await?;
    }
    Ok(())
}

/// Notes the controls without a name at one place of the page, and a chain that scrolls sideways with all its folds open.
async fn note(browser: &Browser, place: &str, wrong: &mut Vec<String>) -> Outcome<usize> {
    unfold(browser).await?;
    let (controls, nameless) = browser.named_controls().await?;
    assert!(controls > 3, "{place} shows {controls} controls");
    wrong.extend(nameless.into_iter().map(|one| format!("{place}: {one}")));
    let wider =
        "const left = document.querySelector('.left'); return left ? left.scrollWidth - left.clientWidth : 0";
    let wider = browser.run(wider, vec![]).await?;
    if wider.as_f64() > Some(0.0) {
        wrong.push(format!("{place}: the chain scrolls sideways by {wider}"));
    }
    Ok(controls)
}

#[tokio::test(flavor = "multi_thread")]
async fn every_control_has_an_accessible_name() -> Outcome<()> {
    let mut wrong = Vec::new();
    let empty = opened().await?;
    note(&empty, "empty page", &mut wrong).await?;
    // One without a name is noticed.
    empty.run("document.body.append(document.createElement('button'))", vec![]).await?;
    assert_eq!(empty.named_controls().await?.1.len(), 1 + wrong.len());
    empty.run("document.body.lastElementChild.remove()", vec![]).await?;
    empty.press("button", "Paste a table").await?;
    note(&empty, "pasting", &mut wrong).await?;
    empty.close().await?;

    let browser = with_demo_dropped().await?;
    for tab in ["map", "curves", "counts", "trust", "settled", "compare", "fixture"] {
        let there = format!("return document.querySelector('#tab-{tab}') !== null");
        if browser.run(&there, vec![]).await? == true {
            browser.click(&format!("#tab-{tab}")).await?;
            browser.rest().await?;
            note(&browser, tab, &mut wrong).await?;
        }
    }
    for stage in ["Log", "Channels", "Alignment", "Sieve", "Fixture", "Operating points"] {
        browser.press(".stage .head", stage).await?;
        browser.rest().await?;
        let all =
            "for (const more of document.querySelectorAll('.columns .btn.icon')) more.click(); return true;";
        browser.run(all, vec![]).await?;
        browser.rest().await?;
        note(&browser, &format!("card {stage}"), &mut wrong).await?;
    }
    browser.look(View::PHONE).await?;
    browser.rest().await?;
    note(&browser, "phone", &mut wrong).await?;
    wrong.sort();
    wrong.dedup();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await
}

/// What has the focus: whether its ring is to be seen, and whether it lies in the view.
const FOCUS: &str = "
    const e = document.activeElement;
    if (!e || e === document.body) return { body: true };
    const shown = e.matches('input[type=radio], .switch input') ? e.nextElementSibling ?? e.parentElement : e;
    const ring = (one) => { const s = getComputedStyle(one); return s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) > 0; };
    const box = shown.getBoundingClientRect();
    return { words: ((e.getAttribute('aria-label') ?? '') + ' ' + (e.innerText ?? '')).trim().slice(0, 60), tag: e.outerHTML.slice(0, 120),
      ring: ring(e) || ring(shown), inside: box.bottom > 0 && box.top < innerHeight && box.right > 0 && box.left < innerWidth };";

#[tokio::test(flavor = "multi_thread")]
async fn tab_walks_through_every_card_with_its_focus_in_sight() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    let mut wrong: Vec<String> = Vec::new();
    for stage in ["Log", "Channels", "Alignment", "Sieve", "Fixture", "Operating points"] {
        // By keys alone: to the head of the stage, Enter or Space opens it, Tab walks through what it holds.
        browser.tab_to(".stage .head", stage).await?;
        let open = "return document.activeElement.getAttribute('aria-expanded')";
        if browser.run(open, vec![]).await? != "true" {
            browser.strike(&[if stage == "Sieve" { " " } else { "Enter" }]).await?;
        }
        browser.rest().await?;
        assert_eq!(browser.run(open, vec![]).await?, "true", "{stage} does not open by keys");
        let mut steps = 0;
        loop {
            browser.strike(&["Tab"]).await?;
            let focus = browser.run(FOCUS, vec![]).await?;
            steps += 1;
            if focus["ring"] != true || focus["inside"] != true {
                wrong.push(format!("{stage}: {focus}"));
            }
            let left = "const e = document.activeElement; return e === document.body || e.matches('.stage .head') || !e.closest('.stage')";
            if steps > 150 || browser.run(left, vec![]).await? == true {
                break;
            }
        }
        assert!(steps <= 150, "Tab does not leave {stage}");
    }
    wrong.dedup();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await
}
