//! The calibration as a new user does it: by pointer and from a record.

use serde_json::{Value, json};
use thirtyfour::Key;
use wattsieve_browser_tests::{Browser, Outcome, View};

use crate::bench::{SETTLED, demo};
use crate::reading::opened;

/// Calibration runs that leave the division open.
pub(crate) const OPEN: [&str; 4] =
    ["fixture-all-off.csv", "fixture-open-sweep.csv", "fixture-through-0r68.csv", "fixture-through-2r2.csv"];
/// The run that fixes it.
pub(crate) const SETTLING: &str = "fixture-input-shorted.csv";

/// Opens the empty page with some demo logs, and the Fixture view in front.
async fn with_logs(names: &[&str]) -> Outcome<Browser> {
    let browser = opened().await?;
    browser.drop_files("#app", &demo(names)).await?;
    browser.wait_until("the dropped logs", SETTLED).await?;
    browser.click("#tab-fixture").await?;
    browser.wait_until("the view", "document.querySelector('.result')").await?;
    Ok(browser)
}

/// Chooses, on the empty page, the demo's runs that settle the split and a converter's.
pub(crate) async fn chosen_and_settled() -> Outcome<Browser> {
    let browser = opened().await?;
    let mut logs = OPEN.to_vec();
    logs.extend([SETTLING, "lamp-diode.csv"]);
    browser.choose("#files", &demo(&logs)).await?;
    browser.wait_until("the chosen logs", SETTLED).await?;
    Ok(browser)
}

/// What the results say of the fixture.
pub(crate) async fn fixture(browser: &Browser) -> Outcome<Value> {
    browser.run_async("return (await wattsieve.ask('view')).fixture", vec![]).await
}

/// Words of an element.
pub(crate) async fn words(browser: &Browser, selector: &str) -> Outcome<String> {
    let text =
        browser.run("return document.querySelector(arguments[0])?.innerText ?? ''", vec![json!(selector)]);
    Ok(text.await?.as_str().unwrap_or_default().to_owned())
}

/// Settings of the fixture that the page holds.
pub(crate) async fn set(browser: &Browser, path: &str) -> Outcome<Value> {
    let script =
        "return arguments[0].split('.').reduce((at, part) => at?.[part], wattsieve.state().settings) ?? null";
    browser.run(script, vec![json!(path)]).await
}

/// Fails where the page is wider than the view.
async fn expect_no_sideways(browser: &Browser, what: &str) -> Outcome<()> {
    let wider = browser.run("return document.documentElement.scrollWidth - innerWidth", vec![]).await?;
    assert!(wider.as_f64() <= Some(0.0), "{what} scrolls sideways by {wider}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_user_calibrates_and_settles_the_split() -> Outcome<()> {
    let mut logs = OPEN.to_vec();
    logs.push("lamp-diode.csv");
    let browser = with_logs(&logs).await?;
    let before = fixture(&browser).await?;
    assert!(!before["known"]["alone"].as_array().is_some_and(|all| all.contains(&json!("correction_in"))));
    let result = words(&browser, ".result").await?;
    for needed in
        ["Split assumed", "R in", "R out", "Both sides, as measured", "mΩ", "±", "± is 95 %", "Take care"]
    {
        assert!(result.contains(needed), "the answer lacks {needed:?}: {result}");
    }
    // The split question, the run that settles it, how to make it.
    assert!(words(&browser, "#split-sentence").await?.len() > 40);
    let how = words(&browser, ".settle").await?;
    assert!(how.contains("Input shorted") && how.contains("current limit"), "{how}");
    browser.shot("fixture-open-split").await?;

    browser.drop_files("#app", &demo(&[SETTLING])).await?;
    browser.wait_until("the shorted run", "document.querySelectorAll('.settle').length === 0").await?;
    browser.wait_until("the answers", SETTLED).await?;
    let after = fixture(&browser).await?;
    assert!(after["correction_in"]["u"].as_f64() < before["correction_in"]["u"].as_f64().map(|u| u / 5.0));
    let said = words(&browser, "#split-sentence").await?;
    assert!(said.starts_with("Settled") && said.contains(SETTLING), "{said}");
    assert!(words(&browser, ".result").await?.contains("Settled."));
    browser.shot("fixture-settled").await?;

    // What each run is can be changed, and back.
    browser.click("#fold-runs > summary").await?;
    browser.wait_until("the runs", "document.querySelectorAll('.calrun').length === 5").await?;
    let kinds = words(&browser, "#fold-runs").await?;
    assert_eq!(kinds.matches("guessed").count(), 5, "{kinds}");
    browser.shot("fixture-runs").await?;
    // Undo takes a chosen wiring back.
    browser.click("#fold-wires > summary").await?;
    browser.wait_until("the pictures", "document.querySelectorAll('#fold-wires .pick').length > 8").await?;
    browser.press(".pick", "One shared ground lead").await?;
    browser.wait_until("the shared ground", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.shared_ground").await?, json!(true));
    browser.shot("fixture-shared-ground").await?;
    browser.press("header button", "Undo").await?;
    browser.wait_until("undo", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.shared_ground").await?, json!(false));
    for (view, name) in [(View::DARK, "fixture-dark"), (View::PHONE, "fixture-phone")] {
        browser.look(view).await?;
        browser.rest().await?;
        expect_no_sideways(&browser, name).await?;
        browser.shot(name).await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_record_is_saved_inherited_checked_and_a_damaged_one_refused() -> Outcome<()> {
    let mut logs = OPEN.to_vec();
    logs.extend([SETTLING, "lamp-diode.csv"]);
    let browser = with_logs(&logs).await?;
    let made = fixture(&browser).await?;
    browser.press(".viewtools button", "Save the calibration").await?;
    let record = browser.downloaded().await?;
    let text = std::fs::read_to_string(&record)?;
    browser.close().await?;

    // The next board: its own log and the record, no calibration run.
    let next = opened().await?;
    next.drop_files("#app", &demo(&["lamp-synchronous-better-inductor.csv"])).await?;
    next.wait_until("the next board", SETTLED).await?;
    let record = next.folder().write("board-one.json", text.as_bytes())?;
    next.drop_files("#app", &[record]).await?;
    next.wait_until("the record", "wattsieve.state().settings.calibration !== null").await?;
    next.wait_until("the answers", SETTLED).await?;
    let inherited = fixture(&next).await?;
    assert_eq!(inherited["basis"], json!("record"));
    assert_eq!(inherited["correction_in"], made["correction_in"]);
    assert_eq!(inherited["covariance"], made["covariance"]);
    next.click("#tab-fixture").await?;
    next.shot("fixture-inherited").await?;

    // A damaged record changes nothing and says what is wrong.
    let damaged = next.folder().write("damaged.json", &text.as_bytes()[..text.len() / 2])?;
    let later = next
        .folder()
        .write("later.json", text.replace("wattsieve-calibration/1", "wattsieve-calibration/9").as_bytes())?;
    for (file, word) in [(damaged, "damaged.json"), (later, "later.json")] {
        next.drop_files("#app", &[file]).await?;
        let said =
            format!("[...document.querySelectorAll('.notice')].some((e) => e.innerText.includes('{word}'))");
        next.wait_until("the refusal", &said).await?;
        next.wait_until("rest", SETTLED).await?;
        let now = fixture(&next).await?;
        assert_eq!(now["correction_in"], made["correction_in"], "a refused record changed something");
    }
    next.shot("fixture-record-refused").await?;

    // A later run checks it.
    next.drop_files("#app", &demo(&["fixture-through-2r2.csv"])).await?;
    next.wait_until("the check run", SETTLED).await?;
    next.click("#fold-how > summary").await?;
    next.wait_until("what stands behind", "document.querySelector('#fold-record')").await?;
    next.click("#fold-record > summary").await?;
    next.wait_until("the record's part", "document.querySelector('#fold-record .choice')").await?;
    next.press("#fold-record label", "check the record").await?;
    next.wait_until("the check", SETTLED).await?;
    assert_eq!(set(&next, "calibration_use").await?, json!("checked_by_runs"));
    next.wait_until("the verdict", "document.querySelector('#record-check')").await?;
    // The run is one that the record was made of.
    let said = fixture(&next).await?["checks"]["record"].clone();
    let verdict = words(&next, "#record-check").await?;
    assert_eq!(said["verdict"], "same", "{said}");
    assert!(verdict.contains("still the same") && verdict.contains("recorded"), "{verdict}");
    assert!(said["parameters"].as_array().is_some_and(|all| !all.is_empty()));
    next.run("document.querySelector('#fold-record').scrollIntoView(); return 1", vec![]).await?;
    next.shot("fixture-record-checked").await?;
    next.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn lines_of_a_reference_meter_and_meter_readings_are_taken_or_refused() -> Outcome<()> {
    let mut logs = OPEN.to_vec();
    logs.push("lamp-diode.csv");
    let browser = with_logs(&logs).await?;
    browser.click("#fold-how > summary").await?;
    browser.wait_until("what stands behind", "document.querySelector('#fold-accuracy')").await?;
    browser.click("#fold-accuracy > summary").await?;
    browser.wait_until("the field", "document.querySelector('#line-pairs')").await?;
    browser.keys("#line-pairs", "1.000; 1.0020\n5.000; 5.0110\nabc; 9\n").await?;
    browser.keys("#line-pairs", Key::Tab).await?;
    browser.wait_until("the refusal", "document.querySelector('#fold-accuracy .bad')").await?;
    let said = words(&browser, "#fold-accuracy .bad").await?;
    assert!(said.contains('3') && said.contains("abc"), "{said}");
    assert_eq!(set(&browser, "fixture.lines.v_in.pairs").await?, json!([]));
    let file = browser
        .folder()
        .write("pairs.csv", b"reference;reading\n1,000;1,0020\n5,000;5,0110\n12,00;12,0265\n")?;
    browser.choose("#line-file", &[file]).await?;
    browser
        .wait_until("the pairs", "wattsieve.state().settings.fixture.lines.v_in.pairs.length === 3")
        .await?;
    browser.wait_until("the answers", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.accuracy").await?, json!("calibrated"));
    assert_eq!(set(&browser, "fixture.lines.v_in.pairs").await?[2], json!([12, 12.0265]));
    browser.shot("fixture-lines").await?;

    // A meter across one contact.
    browser.click("#fold-meter > summary").await?;
    browser.wait_until("the meter's part", "document.querySelector('#fold-meter .btn')").await?;
    browser.press("#fold-meter button", "Add a reading").await?;
    browser.wait_until("the reading", "wattsieve.state().settings.fixture.meter.length === 1").await?;
    browser.wait_until("the answers", SETTLED).await?;
    browser.shot("fixture-meter").await?;
    browser.press("#fold-meter button", "Take reading 1 out").await?;
    browser.wait_until("it is out", "wattsieve.state().settings.fixture.meter.length === 0").await?;
    browser.wait_until("the answers", SETTLED).await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_figure_says_between_which_points_efficiency_is_quoted() -> Outcome<()> {
    let mut logs = OPEN.to_vec();
    logs.extend([SETTLING, "lamp-diode.csv", "lamp-synchronous-again.csv"]);
    let browser = with_logs(&logs).await?;
    for (plane, said) in
        [("converter", "converter’s terminals"), ("board", "at the board"), ("source_to_load", "")]
    {
        let choose = "const s = document.querySelector('.viewtools select'); s.value = arguments[0];
            s.dispatchEvent(new Event('change', { bubbles: true })); return 1;";
        browser.click("#tab-fixture").await?;
        browser.wait_until("the choice of plane", "document.querySelector('.viewtools select')").await?;
        browser.run(choose, vec![json!(plane)]).await?;
        browser.wait_until("the plane", SETTLED).await?;
        assert_eq!(set(&browser, "fixture.plane").await?, json!(plane));
        let answered = fixture(&browser).await?;
        let said = match (plane, answered["plane"].as_str()) {
            // Where the loads' leads are not known the plane asked for cannot be given, and that is said.
            ("source_to_load", Some("source_to_load")) => "from source to load",
            ("source_to_load", _) => {
                assert!(answered["plane_problem"].is_string());
                assert!(words(&browser, ".result .bad").await?.len() > 20);
                continue;
            }
            _ => said,
        };
        for tab in ["map", "curves", "compare"] {
            browser.click(&format!("#tab-{tab}")).await?;
            let there =
                format!("document.querySelector('#view[aria-labelledby=tab-{tab}]')?.innerText.length > 10");
            browser.wait_until(tab, &there).await?;
            let shown = words(&browser, "#view").await?;
            assert!(shown.contains(said), "{tab} does not say {said:?}: {shown}");
        }
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn runs_that_cannot_answer_say_which_run_would() -> Outcome<()> {
    // Nothing drives a current: no resistance can be known.
    let browser = with_logs(&["fixture-all-off.csv", "fixture-open-sweep.csv", "lamp-diode.csv"]).await?;
    let shown = words(&browser, ".result").await?;
    assert!(shown.to_lowercase().contains("straight-through"), "{shown}");
    browser.shot("fixture-cannot").await?;
    // A run given as what it is not: the reason stands in the view, and the readings stay as logged.
    browser.click("#fold-runs > summary").await?;
    browser.wait_until("the runs", "document.querySelectorAll('.calrun').length === 2").await?;
    let choose = "const s = document.querySelector('.calrun select[aria-label^=\"What fixture-open\"]'); s.value = 'input_shorted';
        s.dispatchEvent(new Event('change', { bubbles: true })); return 1;";
    browser.run(choose, vec![]).await?;
    browser.wait_until("the answers", SETTLED).await?;
    browser.rest().await?;
    let shown = words(&browser, ".result").await?;
    assert!(!shown.contains("NaN") && !shown.contains("undefined"), "{shown}");
    browser.shot("fixture-wrong-kind").await?;
    browser.close().await
}
