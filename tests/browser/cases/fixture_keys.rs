//! The calibration by keyboard alone, from the empty page to the settled split.

use serde_json::{Value, json};
use thirtyfour::Key;
use wattsieve_browser_tests::{Browser, Outcome};

use crate::bench::{SETTLED, demo};
use crate::fixture::{OPEN, SETTLING, chosen_and_settled, fixture, set, words};
use crate::reading::opened;

/// Walks along the tabs to the Fixture view.
async fn to_the_fixture(browser: &Browser) -> Outcome<()> {
    browser.tab_to("#middle [role=tab]", "").await?;
    for _ in 0..12 {
        if browser.run("return document.activeElement.id === 'tab-fixture'", vec![]).await? == true {
            break;
        }
        browser.key(Key::Right).await?;
    }
    browser.wait_until("the view", "document.querySelector('.result')").await
}

/// Presses Enter where the focus is and expects the page to ask for files; they are then handed over as the
/// system's own dialog would.
async fn enter_and_choose(browser: &Browser, names: &[&str]) -> Outcome<()> {
    let watch = "globalThis.asked ??= (document.querySelector('#files').addEventListener('click',
        (event) => { globalThis.asked += 1; event.preventDefault(); }), 0); return globalThis.asked";
    let before = browser.run(watch, vec![]).await?.as_u64();
    browser.key(Key::Enter).await?;
    let asked = browser.run("return globalThis.asked", vec![]).await?.as_u64();
    assert!(asked > before, "Enter asked for no file");
    browser.choose("#files", &demo(names)).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_new_user_calibrates_and_settles_the_split_by_keyboard_alone() -> Outcome<()> {
    let browser = opened().await?;
    browser.tab_to("button", "Choose files").await?;
    let mut logs = OPEN.to_vec();
    logs.push("lamp-diode.csv");
    enter_and_choose(&browser, &logs).await?;
    browser.wait_until("the chosen logs", SETTLED).await?;
    to_the_fixture(&browser).await?;
    assert!(words(&browser, ".result").await?.contains("Split assumed"));
    let before = fixture(&browser).await?["correction_in"]["u"].as_f64();

    // The schematic can be reached and says in words what it shows.
    browser.tab_to(".bigframe", "").await?;
    let said = "return document.activeElement.querySelector('svg').getAttribute('aria-label')";
    let said = browser.run(said, vec![]).await?;
    assert!(said.as_str().is_some_and(|text| text.contains("Between input sense nodes")), "{said}");

    // The split question is answered by the run it names.
    browser.tab_to(".settle button", "Add this run").await?;
    enter_and_choose(&browser, &[SETTLING]).await?;
    browser.wait_until("the shorted run", "document.querySelectorAll('.settle').length === 0").await?;
    browser.wait_until("the answers", SETTLED).await?;
    let split = words(&browser, "#split-sentence").await?;
    assert!(split.starts_with("Settled") && split.contains(SETTLING), "{split}");
    let after = fixture(&browser).await?["correction_in"]["u"].as_f64();
    assert!(after < before.map(|u| u / 5.0), "{before:?} {after:?}");

    // Undo and redo by key take the run back and bring it again.
    browser.tab_to("header button[title^=Undo]", "").await?;
    browser.key(Key::Enter).await?;
    browser.wait_until("undo", "document.querySelectorAll('.settle').length === 1").await?;
    browser.wait_until("rest", SETTLED).await?;
    browser.tab_to("header button[title^=Redo]", "").await?;
    browser.key(Key::Enter).await?;
    browser.wait_until("redo", "document.querySelectorAll('.settle').length === 0").await?;
    browser.wait_until("rest", SETTLED).await?;
    assert_eq!(fixture(&browser).await?["correction_in"]["u"].as_f64(), after);
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn before_any_run_each_wiring_says_and_lights_what_it_would_tell() -> Outcome<()> {
    let browser = opened().await?;
    browser.choose("#files", &demo(&["lamp-diode.csv"])).await?;
    browser.wait_until("the run", SETTLED).await?;
    to_the_fixture(&browser).await?;
    assert_eq!(fixture(&browser).await?, Value::Null);
    let runs = "return [...document.querySelectorAll('#fold-runs details')].map((e) => { e.open = true;
        const count = (kind) => e.querySelectorAll('.howto svg rect.' + kind).length;
        return [e.innerText, count('known'), count('sum')]; })";
    let shown = browser.run(runs, vec![]).await?;
    let of = |name: &str| -> (String, Value, Value) {
        let all = shown.as_array().map(Vec::as_slice).unwrap_or_default();
        let one = all.iter().find(|one| one[0].as_str().is_some_and(|text| text.starts_with(name)));
        one.map_or_else(Default::default, |one| {
            (one[0].as_str().unwrap_or_default().to_owned(), one[1].clone(), one[2].clone())
        })
    };
    // Four leads: a straight-through run lights all four pieces in sums, a shorted side its own two.
    let (text, known, sums) = of("Straight-through");
    assert!(text.contains("Determines amperes ratio, R in + R out"), "{text}");
    assert_eq!((known, sums), (json!(0), json!(4)));
    let (text, known, sums) = of("Input shorted");
    assert!(text.contains("Determines R in."), "{text}");
    assert_eq!((known, sums), (json!(0), json!(2)));
    assert!(of("Everything off").0.contains("Determines offsets."), "{}", of("Everything off").0);
    assert!(of("Open sweep").0.contains("Determines volts ratio."), "{}", of("Open sweep").0);

    // One ground lead: a short no longer shows the input side alone.
    browser.tab_to("input[type=radio]", "Four leads").await?;
    browser.key(Key::Right).await?;
    browser.wait_until("one ground lead", SETTLED).await?;
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    let shown = browser.run(runs, vec![]).await?;
    let all = shown.as_array().map(Vec::as_slice).unwrap_or_default();
    let short = all.iter().find(|one| one[0].as_str().is_some_and(|text| text.starts_with("Input shorted")));
    let short = short.and_then(|one| one[0].as_str()).unwrap_or_default();
    assert!(!short.contains("Determines R in."), "{short}");
    browser.shot("fixture-before-any-run").await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_panel_opens_and_closes_by_keyboard_alone() -> Outcome<()> {
    let browser = chosen_and_settled().await?;
    to_the_fixture(&browser).await?;

    // First question: by picture, with the arrow keys.
    browser.tab_to("#fold-wires > summary", "").await?;
    browser.key(Key::Enter).await?;
    browser.wait_until("the pictures", "document.querySelectorAll('#fold-wires .pick').length > 8").await?;
    browser.tab_to("input[type=radio]", "Four leads").await?;
    browser.key(Key::Right).await?;
    browser.wait_until("one ground lead", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.shared_ground").await?, json!(true));
    browser.key(Key::Right).await?;
    browser.wait_until("common plus", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.common_positive").await?, json!(true));
    browser.key(Key::Left).await?;
    browser.key(Key::Left).await?;
    browser.wait_until("four leads", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.shared_ground").await?, json!(false));
    browser.tab_to("input[type=radio]", "Far side").await?;
    browser.key(Key::Right).await?;
    browser.wait_until("near", SETTLED).await?;
    assert_eq!(set(&browser, "fixture.input_sense").await?, json!("near"));

    // Second: a run's kind. Third: the resistor's value with its interval.
    browser.tab_to("#fold-runs > summary", "").await?;
    browser.key(Key::Enter).await?;
    browser.tab_to("#fold-runs select", "What fixture-all-off.csv is").await?;
    browser.tab_to("#fold-resistor > summary", "").await?;
    browser.key(Key::Enter).await?;
    browser.tab_to("#fold-resistor input[type=radio]", "Not known").await?;
    browser.key(Key::Right).await?;
    browser.tab_to("#fold-resistor input[type=text]", "in ohms, cold").await?;
    browser.key("0.68").await?;
    browser.key(Key::Enter).await?;
    browser.wait_until("the resistor", SETTLED).await?;
    browser.tab_to("#fold-resistor input[type=text]", "95 % interval in ohms").await?;
    browser.key("0.01").await?;
    browser.key(Key::Enter).await?;
    browser.wait_until("its interval", SETTLED).await?;
    let stated = set(&browser, "inputs.2.resistor").await?;
    assert_eq!(stated["value"], json!(0.68));
    assert!(stated["u"].as_f64().is_some_and(|u| (u * 1.96 - 0.01).abs() < 1e-9), "{stated}");

    // Behind the answer: every part opens and closes where it is.
    browser.tab_to("#fold-how > summary", "").await?;
    browser.key(Key::Enter).await?;
    for part in [
        "matrix",
        "residuals",
        "acceptance",
        "improve",
        "accuracy",
        "meter",
        "checks",
        "covariance",
        "record",
    ] {
        browser.tab_to(&format!("#fold-{part} > summary"), "").await?;
        browser.key(Key::Enter).await?;
        let inside = format!("document.querySelector('#fold-{part} > .inside')?.innerText.length > 20");
        browser.wait_until(part, &inside).await?;
        browser.rest().await?;
        let middle = "document.activeElement.scrollIntoView({ block: 'start' }); return 1";
        browser.run(middle, vec![]).await?;
        browser.shot(&format!("fixture-how-{part}")).await?;
        browser.expect_quiet().await?;
        browser.key(Key::Enter).await?;
        browser.wait_until(part, &format!("!document.querySelector('#fold-{part}').open")).await?;
    }
    browser.close().await
}
