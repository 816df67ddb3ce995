//! The cards of logs of every shape: what they say, and that all of it fits, on a desk and on a phone.

use std::path::PathBuf;

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome, Scheme, View, step_up_log, workspace};

use crate::bench::SETTLED;
use crate::reading::{open_log_card, opened};

/// Logs opened at once: so few that comparing their runs keeps nobody waiting.
const TOGETHER: usize = 12;

/// One way to look at the cards.
struct Look {
    name: &'static str,
    view: View,
    /// A picture is taken.
    picture: bool,
}

/// Every card is laid out wide and narrow. A picture is taken of one look, of all four where
/// `WATTSIEVE_PICTURES` is `all`; a whole card stands in it.
fn looks() -> Vec<Look> {
    let all = std::env::var("WATTSIEVE_PICTURES").is_ok_and(|word| word == "all");
    let mut looks = Vec::new();
    for (view, height, names) in
        [(View::WIDE, 1500, ["wide", "wide-dark"]), (View::PHONE, 2400, ["phone", "phone-dark"])]
    {
        for (name, scheme) in names.into_iter().zip([Scheme::Light, Scheme::Dark]) {
            let picture = all || name == "wide";
            let height = if picture { height } else { view.height };
            if picture || scheme == Scheme::Light {
                looks.push(Look { name, view: View { height, scheme, ..view }, picture });
            }
        }
    }
    looks
}

/// Shows the left side where the view is narrow.
const SHOW_LEFT: &str = "const shown = document.querySelector('.left').classList.contains('shown');
    if (innerWidth < 720 && !shown) document.querySelector('.chainline')?.click(); return true;";

/// What of the page or of the open card does not fit: sideways scrolling, and words cut off where
/// nothing tells the whole of them.
const MISFITS: &str = "
    const found = [];
    const pen = document.createElement('canvas').getContext('2d');
    const wider = document.documentElement.scrollWidth - innerWidth;
    if (wider > 0) found.push('the page scrolls sideways by ' + wider);
    const card = document.querySelector('.file.open');
    if (!card) return found;
    const edge = card.getBoundingClientRect().right;
    for (const e of card.querySelectorAll('*')) {
      if (e.closest('.scroll, .rawlines, .away, option') || !e.getClientRects().length) continue;
      const words = e.innerText ?? '';
      if (e.getBoundingClientRect().right > edge + 1) found.push('beyond the card: ' + words.slice(0, 60));
      const cut = e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX !== 'visible' && e.tagName !== 'INPUT';
      if (cut && words.trim() && !e.title) found.push('cut off: ' + words.slice(0, 60));
      if (e.tagName !== 'SELECT' || e.selectedIndex < 0) continue;
      const style = getComputedStyle(e);
      pen.font = style.font;
      const chosen = e.options[e.selectedIndex].text;
      const room = e.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - 16;
      if (pen.measureText(chosen).width > room) found.push('cut off in its choice: ' + chosen);
      if (!chosen.trim()) found.push('nothing chosen: ' + e.getAttribute('aria-label'));
    }
    return found;";

/// What was wrong, log by log: one look names all of it.
type Wrong = Vec<String>;

/// Opens the card of a log and waits for its rows.
async fn card(browser: &Browser, name: &str) -> Outcome<()> {
    let open =
        "const head = [...document.querySelectorAll('.filehead')].find((e) => e.querySelector('.name').innerText === arguments[0]);
        if (head?.getAttribute('aria-expanded') === 'false') head.click();
        return head !== undefined;";
    assert_eq!(browser.run(open, vec![json!(name)]).await?, true, "{name} has no card");
    browser.rest().await
}

/// Looks at the cards of these logs in every way; what a picture is called begins with `kind`.
async fn looked_at(browser: &Browser, kind: &str, names: &[String], wrong: &mut Wrong) -> Outcome<()> {
    for look in looks() {
        browser.look(look.view).await?;
        browser.run(SHOW_LEFT, vec![]).await?;
        for name in names {
            card(browser, name).await?;
            if look.picture {
                let picture = format!("shape-{kind}-{}-{}", name.replace('.', "-"), look.name);
                browser.shot_of(".file.open", &picture.chars().take(120).collect::<String>()).await?;
            }
            let misfits = browser.run(MISFITS, vec![]).await?;
            let misfits = misfits.as_array().into_iter().flatten();
            wrong.extend(misfits.map(|misfit| format!("{name} {}: {misfit}", look.name)));
        }
    }
    browser.look(View::WIDE).await
}

/// What the page holds of a log against what stands beside it in `tests/logs/shapes`.
fn as_stated(name: &str, input: &Value, stated: &Value, wrong: &mut Wrong) {
    if stated["outcome"] == "refused" {
        if input["outcome"] != "refused" || input["refusal_code"] != stated["code"] {
            wrong.push(format!("{name}: {} {}, stated {stated}", input["outcome"], input["refusal_code"]));
        }
        return;
    }
    let understood = &input["understood"];
    let found = json!({
        "rows": input["rows_found"], "usable": input["rows_usable"],
        "encoding": understood["encoding"], "separator": understood["separator"], "decimal_mark": understood["decimal_mark"],
        "columns": understood["columns"].as_array().into_iter().flatten()
            .map(|column| json!([column["header"], column["role"], column["unit"]])).collect::<Vec<_>>(),
        "asks": input["asks"].as_array().into_iter().flatten().map(|ask| ask["code"].clone()).collect::<Vec<_>>(),
    });
    for (key, value) in found.as_object().into_iter().flatten() {
        // What the log itself leaves open; a few rows without a time the bench takes as a table of settled points.
        let taken_as_table = key == "asks" && UNTIMED.contains(&name);
        let expected = if taken_as_table { &json!([]) } else { &stated[key] };
        if value != expected {
            wrong.push(format!("{name}: {key} is {value}, stated {expected}"));
        }
    }
}

/// Logs of a few rows without a time.
const UNTIMED: [&str; 2] = ["damaged_time.csv", "no_time.csv"];

/// Opens some logs at once and looks at the card of each; those left out have their sentence.
async fn together(browser: &Browser, folder: &str, files: &[PathBuf], wrong: &mut Wrong) -> Outcome<()> {
    browser.choose("#files", files).await?;
    let answered = "(() => { const s = wattsieve.state(); return !s.busy && (s.phase === 'bench' || s.notices.length); })()";
    browser.wait_until("an answer", answered).await?;
    browser.rest().await?;
    let seen = browser
        .run_async(
            "return { inputs: (await wattsieve.ask('view')).inputs, notices: wattsieve.state().notices }",
            vec![],
        )
        .await?;
    let none = vec![];
    let inputs = seen["inputs"].as_array().unwrap_or(&none);
    let closed = "return document.querySelector('.files') === null";
    if browser.run(closed, vec![]).await? == true {
        browser.press(".stage .head", "Log").await?;
        browser.wait_until("the Log stage", "document.querySelector('.files')").await?;
    }
    // A view without a large figure: only the cards are looked at.
    browser.click("#tab-fixture").await?;
    let mut cards = Vec::new();
    for file in files {
        let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let beside = std::fs::read(file.with_file_name(format!("{name}.json"))).ok();
        let stated: Option<Value> = beside.map(|text| serde_json::from_slice(&text)).transpose()?;
        let Some(input) = inputs.iter().find(|input| input["name"] == name.as_str()) else {
            let notices = seen["notices"].to_string();
            assert!(notices.contains(&name), "{name} has neither card nor sentence: {notices}");
            assert_eq!(stated.map(|it| it["outcome"].clone()), Some(json!("refused")), "{name}");
            continue;
        };
        if let Some(stated) = &stated {
            as_stated(&name, input, stated, wrong);
        }
        card(browser, &name).await?;
        let words = "return document.querySelector('.filein:not([hidden])').innerText";
        let words = browser.run(words, vec![]).await?;
        let words = words.as_str().unwrap_or_default();
        assert!(
            !words.is_empty()
                && !words.contains("undefined")
                && !words.contains("NaN ")
                && !words.contains("[object"),
            "{name}: {words}"
        );
        cards.push(name);
    }
    looked_at(browser, folder, &cards, wrong).await?;
    browser.expect_quiet().await
}

/// Looks at every third stretch of all logs, from this one on.
async fn third(from: usize) -> Outcome<()> {
    let browser = opened().await?;
    let mut wrong = Wrong::new();
    let mut all = Vec::new();
    for folder in ["shapes", "bench"] {
        let mut files: Vec<_> = std::fs::read_dir(workspace().join("tests/logs").join(folder))?
            .flatten()
            .map(|entry| entry.path())
            .filter(|path| path.extension().is_some_and(|ending| ending != "json" && ending != "md"))
            .collect();
        files.sort();
        all.extend(files.chunks(TOGETHER).map(|some| (folder, some.to_vec())));
    }
    assert!(all.len() > THIRDS, "{} stretches of logs", all.len());
    for (folder, some) in all.iter().skip(from).step_by(THIRDS) {
        together(&browser, folder, some, &mut wrong).await?;
        browser.reopen().await?;
        browser.wait_until("the core", "globalThis.wattsieve?.state().core === 'ready'").await?;
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await
}

/// Tests that share the logs, so that they run side by side.
const THIRDS: usize = 3;

#[tokio::test(flavor = "multi_thread")]
async fn logs_of_every_shape_have_a_card_first_third() -> Outcome<()> {
    third(0).await
}

#[tokio::test(flavor = "multi_thread")]
async fn logs_of_every_shape_have_a_card_second_third() -> Outcome<()> {
    third(1).await
}

#[tokio::test(flavor = "multi_thread")]
async fn logs_of_every_shape_have_a_card_last_third() -> Outcome<()> {
    third(2).await
}

#[tokio::test(flavor = "multi_thread")]
async fn three_hundred_columns_a_long_name_and_eight_files_stay_usable() -> Outcome<()> {
    let folder = Folder::new()?;
    let mut files = Vec::new();
    let mut wide = String::new();
    for (row, line) in step_up_log(200).lines().enumerate() {
        wide.push_str(line);
        for column in 6..=300 {
            if row == 0 {
                wide.push_str(&format!(",probe {column}"))
            } else {
                wide.push_str(&format!(",{}.{column}", row % 7))
            }
        }
        wide.push('\n');
    }
    files.push(folder.write("wide.csv", wide.as_bytes())?);
    let long =
        format!("{}.csv", "a-very-long-name-of-a-log-".repeat(8).chars().take(196).collect::<String>());
    files.push(folder.write(&long, step_up_log(500).as_bytes())?);
    for number in 3..=8 {
        files.push(folder.write(&format!("log-{number}.csv"), step_up_log(300 + number).as_bytes())?);
    }
    let browser = opened().await?;
    browser.choose("#files", &files).await?;
    browser.wait_until("eight runs", SETTLED).await?;
    open_log_card(&browser, "wide.csv").await?;
    let rows = "return document.querySelectorAll('.columns tbody tr:not(.under)').length";
    assert_eq!(browser.run("return document.querySelectorAll('.file').length", vec![]).await?, 8);
    assert!(browser.run(rows, vec![]).await?.as_u64() <= Some(30), "too many columns at once");
    browser.keys(".filein input[type=search]", "probe 217").await?;
    browser
        .wait_until(
            "the found column",
            "document.querySelectorAll('.columns tbody tr:not(.under)').length === 1",
        )
        .await?;
    let found = browser.run("return document.querySelector('.columns tbody th').innerText", vec![]).await?;
    assert!(found.as_str().unwrap_or_default().contains("probe 217"), "{found}");
    let mut wrong = Wrong::new();
    looked_at(&browser, "many", &["wide.csv".to_owned(), long], &mut wrong).await?;
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    browser.close().await
}
