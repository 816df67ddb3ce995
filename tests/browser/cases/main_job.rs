//! From dropped logs to a map that can be re-tuned, by pointer and by keyboard.

use serde_json::{Value, json};
use thirtyfour::Key;
use wattsieve_browser_tests::{Browser, Outcome, View};

use crate::bench::{SETTLED, counts, main_logs};
use crate::reading::opened;

/// Opens the empty page and drops the main demo logs on it.
pub(crate) async fn with_demo_dropped() -> Outcome<Browser> {
    let browser = opened().await?;
    browser.drop_files("#app", &main_logs()).await?;
    browser.wait_until("the dropped logs", SETTLED).await?;
    browser.wait_until("the runs' names", "document.querySelectorAll('.run').length > 1").await?;
    Ok(browser)
}

/// Opens a card of the chain.
pub(crate) async fn open_card(browser: &Browser, name: &str) -> Outcome<()> {
    browser.press(".stage .head", name).await?;
    browser.wait_until("the open card", "document.querySelector('.stage.open .inside input')").await
}

/// The id of a slider by its label.
pub(crate) async fn slider(browser: &Browser, label: &str) -> Outcome<String> {
    // The two sliders stand behind the one plain control.
    let open = "const fold = document.querySelector('#fold-sieve-fine'); if (fold && !fold.open) fold.querySelector('summary').click();";
    browser.run(open, vec![]).await?;
    browser.wait_until("the sliders", "document.querySelectorAll('.ruler').length > 1").await?;
    let script = "const found = [...document.querySelectorAll('.ruler')].find((e) => e.innerText.includes(arguments[0]));
        return '#' + found.querySelector('input[type=range]').id;";
    let id = browser.run(script, vec![json!(label)]).await?;
    Ok(id.as_str().ok_or("no slider")?.to_owned())
}

/// The settings the page holds, and what the chain says.
async fn shown(browser: &Browser) -> Outcome<(Value, String)> {
    let answer = browser
        .run("return [wattsieve.state().settings.sieve, document.querySelector('.chain').innerText]", vec![])
        .await?;
    Ok((answer[0].clone(), answer[1].as_str().unwrap_or_default().to_owned()))
}

#[tokio::test(flavor = "multi_thread")]
async fn dropped_logs_fill_the_chain_and_every_view() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    let (_, chain) = shown(&browser).await?;
    assert!(chain.matches(" rows").count() >= 4, "the chain counts no rows: {chain}");
    assert!(chain.contains('×'), "nothing fell out of a log that holds repeated steps: {chain}");
    for tab in ["map", "curves", "compare", "fixture"] {
        browser.click(&format!("#tab-{tab}")).await?;
        browser.wait_until("the view", "document.querySelector('#view').innerText.length > 10").await?;
        browser.rest().await?;
        browser.shot(&format!("{tab}-wide")).await?;
        browser.expect_quiet().await?;
    }
    browser.click("#tab-map").await?;
    for (view, name) in [(View::DARK, "map-dark"), (View::PHONE, "map-phone")] {
        browser.look(view).await?;
        browser.rest().await?;
        let wider = "return document.documentElement.scrollWidth - innerWidth";
        assert!(browser.run(wider, vec![]).await?.as_f64() <= Some(0.0), "{name} scrolls sideways");
        browser.shot(name).await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn both_sieve_sliders_move_by_keyboard_and_by_pointer() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    open_card(&browser, "Sieve").await?;
    for label in ["Least rows", "Cells per channel"] {
        let id = slider(&browser, label).await?;
        let (settings, chain) = shown(&browser).await?;
        for _ in 0..4 {
            browser.keys(&id, Key::Right).await?;
            browser.wait_until("the move by key", SETTLED).await?;
        }
        let (by_key, chain_by_key) = shown(&browser).await?;
        assert_ne!(settings, by_key, "{label}: no setting moved by key");
        assert_ne!(chain, chain_by_key, "{label}: no count moved by key");
        let place = "const e = document.querySelector(arguments[0]); e.scrollIntoView({ block: 'center' });
            const b = e.getBoundingClientRect(); return [b.x, b.y + b.height / 2, b.width];";
        let place = browser.run(place, vec![json!(id)]).await?;
        let [x, y, width] = [0, 1, 2].map(|i| place[i].as_f64().unwrap_or(0.0));
        browser.drag((x + width * 0.3, y), (x + width * 0.8, y)).await?;
        browser.wait_until("the move by pointer", SETTLED).await?;
        let (by_pointer, chain_by_pointer) = shown(&browser).await?;
        assert_ne!(by_key, by_pointer, "{label}: no setting moved by pointer");
        assert_ne!(chain_by_key, chain_by_pointer, "{label}: no count moved by pointer");
    }
    // Undo goes back to the start.
    browser.shot("sieve-moved").await?;
    let undo = "const b = document.querySelector('button[title^=\"Undo\"]'); if (b.disabled) return false; b.click(); return true;";
    for _ in 0..60 {
        if browser.run(undo, vec![]).await? == false {
            break;
        }
        browser.wait_until("undo", SETTLED).await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn moving_least_rows_only_judges_again() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    open_card(&browser, "Sieve").await?;
    let id = slider(&browser, "Least rows").await?;
    for _ in 0..20 {
        browser.keys(&id, Key::Right).await?;
        browser.wait_until("a move", SETTLED).await?;
    }
    let counts = counts(&browser).await?;
    let runs = counts["runs"].as_array().ok_or("no counts of runs")?;
    assert!(runs.len() > 1);
    for run in runs {
        let of = |stage: &str| run[stage].as_u64();
        assert_eq!(
            (of("log"), of("alignment"), of("count"), of("judge")),
            (Some(1), Some(1), Some(1), Some(20)),
            "{run}"
        );
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_map_is_read_by_keyboard() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    let row = "return wattsieve.state().reading?.row ?? null";
    browser.wait_until("the figure", "document.querySelector('.stage-front')").await?;
    browser.keys(".stage-front", Key::Home).await?;
    browser.wait_until("the first row", "wattsieve.state().reading").await?;
    let first = browser.run(row, vec![]).await?.as_u64().ok_or("no row")?;
    browser.keys(".stage-front", Key::Right).await?;
    browser.wait_until("the next row", &format!("wattsieve.state().reading.row > {first}")).await?;
    let words = browser
        .run("return document.querySelector('.right')?.innerText ?? document.body.innerText", vec![])
        .await?;
    let words = words.as_str().unwrap_or_default();
    assert!(words.contains('±') && words.contains('%'), "the reading has no interval: {words}");
    browser.keys(".stage-front", Key::Escape).await?;
    browser.wait_until("Escape", "wattsieve.state().reading === null").await?;
    browser.close().await
}
