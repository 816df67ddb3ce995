//! A million rows: progress, a cancel that works, and a page that stays awake.

use serde_json::Value;
use wattsieve_browser_tests::{Folder, Outcome, step_up_log};

use crate::bench::SETTLED;
use crate::reading::opened;

/// The longest task of the page's thread, as a share of the whole load. Work done in the wrong place
/// would be most of it; a machine that runs other checks beside it slows both alike.
const LONGEST: f64 = 0.25;

#[tokio::test(flavor = "multi_thread")]
async fn a_million_rows_load_while_the_page_stays_awake() -> Outcome<()> {
    let folder = Folder::new()?;
    let file = folder.write("long.csv", step_up_log(1_000_000).as_bytes())?;
    let browser = opened().await?;
    let watch = "globalThis.longest = []; globalThis.beats = 0; setInterval(() => { beats += 1; }, 20);
        new PerformanceObserver((list) => { for (const one of list.getEntries()) longest.push(one.duration); })
          .observe({ type: 'longtask' });";
    browser.run(watch, vec![]).await?;

    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser.wait_until("progress", "document.querySelector('.busy')?.innerText.includes(' of ')").await?;
    browser.shot("million-busy").await?;
    browser.press(".busy button", "Cancel").await?;
    browser
        .wait_until(
            "the empty bench again",
            "(() => { const s = wattsieve.state(); return s.phase === 'empty' && !s.busy; })()",
        )
        .await?;

    let beats = browser
        .run("longest.length = 0; globalThis.began = performance.now(); return beats", vec![])
        .await?
        .as_u64();
    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser.wait_until("a million rows", SETTLED).await?;
    browser.wait_until("the chain", "document.querySelector('.chain:not(.plan) .between')").await?;
    let read = browser.run("return document.querySelector('.chain').innerText", vec![]).await?;
    assert!(
        read.as_str()
            .unwrap_or_default()
            .replace(['\u{202f}', '\u{a0}', '\u{2009}', ' ', ','], "")
            .contains("1000000"),
        "{read}"
    );
    browser.rest().await?;
    browser.shot("million").await?;
    assert!(browser.run("return beats", vec![]).await?.as_u64() > beats);
    let whole = browser.run("return performance.now() - began", vec![]).await?.as_f64().unwrap_or(0.0);
    let tasks = browser.run("return longest", vec![]).await?;
    let longest = tasks.as_array().into_iter().flatten().filter_map(Value::as_f64).fold(0.0, f64::max);
    eprintln!("longest task of the page's thread: {longest:.0} of {whole:.0} ms; all over 50 ms: {tasks}");
    assert!(
        longest < LONGEST * whole,
        "the page's thread was blocked for {longest:.0} of {whole:.0} ms: {tasks}"
    );
    browser.close().await
}
