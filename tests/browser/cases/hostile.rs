//! Text from files is never markup.

use wattsieve_browser_tests::{Browser, Folder, Outcome, step_up_log};

use crate::bench::SETTLED;
use crate::reading::opened;

#[tokio::test(flavor = "multi_thread")]
async fn hostile_names_do_nothing() -> Outcome<()> {
    let name = "<img src=x onerror=\"globalThis.hit=1\"><script>globalThis.hit=1<\u{2044}script>.csv";
    let column = "<svg onload='globalThis.hit=1'></script><script>globalThis.hit=1</script> (V)";
    let log = step_up_log(3000);
    let (_, rows) = log.split_once('\n').ok_or("an empty log")?;
    let mut text = format!("t (s),Vin (V),Iin (A),Vout (V),Iout (A),{column}\n");
    for (number, row) in rows.lines().enumerate() {
        let last = if number == 50 { "<b onclick=globalThis.hit=1>&lt;" } else { "1.0" };
        text.push_str(&format!("{row},{last}\n"));
    }
    let folder = Folder::new()?;
    let file = folder.write(name, text.as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", &[file]).await?;
    browser.wait_until("the log", SETTLED).await?;
    for card in ["Log", "Channels", "Sieve"] {
        browser.press(".stage .head", card).await?;
        browser.rest().await?;
    }
    browser.press(".stage .head", "Channels").await?;
    browser.press(".stage .head", "Channels").await?;
    browser.rest().await?;
    assert!(browser.run("return globalThis.hit === undefined", vec![]).await? == true);
    let made =
        "return document.querySelectorAll('#app img, #app script, #app svg[onload], #app b[onclick]').length";
    assert_eq!(browser.run(made, vec![]).await?, 0);
    let seen = "return document.documentElement.innerText.includes('<img src=x onerror=')";
    assert!(browser.run(seen, vec![]).await? == true, "the name is not shown as it is");
    // Shared, the page must still be one page.
    browser.press("header button", "Share as a page").await?;
    let page = std::fs::read(browser.downloaded().await?)?;
    browser.close().await?;
    let alone = Browser::open(&page).await?;
    alone.wait_until("the bench inside", SETTLED).await?;
    assert!(alone.run("return globalThis.hit === undefined", vec![]).await? == true);
    alone.close().await
}
