//! One page with everything inside.

use thirtyfour::Key;
use wattsieve_browser_tests::{Browser, Outcome, results_of_command};

use crate::bench::{SETTLED, first_difference, main_logs, results};
use crate::main_job::{open_card, slider, with_demo_dropped};

#[tokio::test(flavor = "multi_thread")]
async fn a_shared_page_opens_alone_with_the_same_numbers_and_can_be_retuned() -> Outcome<()> {
    let browser = with_demo_dropped().await?;
    let before = results(&browser).await?;
    browser.press("header button", "Share as a page").await?;
    let page = std::fs::read(browser.downloaded().await?)?;
    browser.close().await?;

    let alone = Browser::open(&page).await?;
    alone.wait_until("the bench inside", SETTLED).await?;
    let after = results(&alone).await?;
    if let Some(difference) = first_difference(&before, &after) {
        return Err(format!("the shared page's results differ {difference}").into());
    }
    alone.shot("shared").await?;
    // The new page shares again, and its copy is the same text.
    alone.press("header button", "Share as a page").await?;
    let again = std::fs::read(alone.downloaded().await?)?;
    assert!(
        page == again,
        "a copy of the shared page is not the same: {} and {} bytes",
        page.len(),
        again.len()
    );

    alone.click("#tab-map").await?;
    open_card(&alone, "Sieve").await?;
    let id = slider(&alone, "Least rows").await?;
    for _ in 0..3 {
        alone.keys(&id, Key::Right).await?;
        alone.wait_until("a move", SETTLED).await?;
    }
    let moved = results(&alone).await?;
    assert!(moved != after, "the results do not follow the slider");
    alone.press("header button", "Save to a file").await?;
    alone.press("dialog button", "Save: Bench settings").await?;
    let settings = alone.downloaded().await?;
    let mut words = vec!["analyse".to_owned(), "--settings".to_owned(), settings.display().to_string()];
    words.extend(main_logs().iter().map(|log| log.display().to_string()));
    let native = String::from_utf8(results_of_command(&words)?)?;
    if let Some(difference) = first_difference(&native, &moved) {
        return Err(format!("command and shared page differ {difference}").into());
    }
    alone.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo_page_opens_with_its_results() -> Outcome<()> {
    let page = std::fs::read(wattsieve_browser_tests::workspace().join("dist/demo.html"))?;
    let native =
        std::fs::read_to_string(wattsieve_browser_tests::workspace().join("dist/demo-results.json"))?;
    let browser = Browser::open(&page).await?;
    browser.wait_until("the demo", SETTLED).await?;
    let shown = results(&browser).await?;
    if let Some(difference) = first_difference(&native, &shown) {
        return Err(format!("command and demo page differ {difference}").into());
    }
    browser.shot("demo").await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_shared_page_shows_its_saved_results_before_anything_is_computed() -> Outcome<()> {
    let page = std::fs::read_to_string(wattsieve_browser_tests::workspace().join("dist/demo.html"))?;
    // Without its core the page has nothing to show but what was saved with it.
    let at = page.find("id=\"code-wasm\"").ok_or("no core in the page")?;
    let from = at + page[at..].find('>').ok_or("no end of the tag")? + 1;
    let to = from + page[from..].find("</script>").ok_or("no end of the block")?;
    let lame = [&page[..from], "AAAA", &page[to..]].concat();
    let browser = Browser::open(lame.as_bytes()).await?;
    browser.wait_until("the failed core", "globalThis.wattsieve?.state().core === 'broken'").await?;
    let shown = browser
        .run(
            "return [document.querySelectorAll('.run').length, document.querySelectorAll('.drop').length, \
             document.querySelector('.verdict')?.innerText ?? '', document.querySelector('.left').inert]",
            vec![],
        )
        .await?;
    assert_eq!(shown[0], 3, "runs shown: {shown}");
    assert_eq!(shown[1], 0, "the empty bench shows: {shown}");
    assert!(shown[2].as_str().is_some_and(|text| text.contains(" A, ")), "no verdict: {shown}");
    assert_eq!(shown[3], true, "settings can be moved without a core: {shown}");
    browser.close().await
}
