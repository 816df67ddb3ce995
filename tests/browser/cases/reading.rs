//! One card per log: every guess can be changed and taken back, by pointer and by keys alone.

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome, step_up_log};

use crate::bench::{SETTLED, results};

/// The empty page with its core.
pub(crate) async fn opened() -> Outcome<Browser> {
    let browser = Browser::open_empty_page().await?;
    browser.wait_until("the core", "globalThis.wattsieve?.state().core === 'ready'").await?;
    Ok(browser)
}

/// Opens the Log stage and the card of the log with this name.
pub(crate) async fn open_log_card(browser: &Browser, name: &str) -> Outcome<()> {
    let closed = "return document.querySelector('.bench').classList.contains('reading') === false";
    if browser.run(closed, vec![]).await? == true {
        browser.press(".stage .head", "Log").await?;
        browser.wait_until("the Log stage", "document.querySelector('.files')").await?;
    }
    let open = "const head = [...document.querySelectorAll('.filehead')].find((e) => e.innerText.includes(arguments[0]));
        if (head.getAttribute('aria-expanded') === 'false') head.click(); return true;";
    browser.run(open, vec![json!(name)]).await?;
    browser.wait_until("the open card", "document.querySelector('.filein:not([hidden]) .row')").await
}

/// Chooses in the select whose label holds this text.
pub(crate) async fn choose(browser: &Browser, label: &str, value: &str) -> Outcome<()> {
    let script = "const select = [...document.querySelectorAll('.filein select')].find((e) => e.getAttribute('aria-label').includes(arguments[0]));
        if (![...select.options].some((one) => one.value === arguments[1])) return 'no such choice';
        select.focus(); select.value = arguments[1]; select.dispatchEvent(new Event('change', { bubbles: true })); return 'chosen';";
    let said = browser.run(script, vec![json!(label), json!(value)]).await?;
    if said != "chosen" {
        return Err(format!("{label}: {said}").into());
    }
    browser.rest().await
}

async fn settings(browser: &Browser) -> Outcome<Value> {
    browser.run("return wattsieve.state().settings.inputs", vec![]).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_changed_role_reads_again_and_undo_gives_the_same_bytes() -> Outcome<()> {
    let folder = Folder::new()?;
    let file = folder.write("step-up.csv", step_up_log(4000).as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", &[file]).await?;
    browser.wait_until("the log", SETTLED).await?;
    let before = results(&browser).await?;
    open_log_card(&browser, "step-up.csv").await?;
    browser
        .wait_until(
            "rows as they stand",
            "document.querySelector('.scroll.text tbody tr td')?.innerText === '0.00'",
        )
        .await?;
    browser
        .wait_until(
            "what the columns span",
            "/5\\.\\d+ V/.test(document.querySelector('.columns').innerText)",
        )
        .await?;
    browser.shot("card-wide").await?;
    // The output current is left out: the log must ask, and the run is gone.
    choose(&browser, "Column 5", "ignore").await?;
    browser.wait_until("the question", "document.querySelector('.filein .bad')").await?;
    assert_eq!(browser.run("return document.querySelectorAll('.run').length", vec![]).await?, 0);
    browser.press("header button", "Undo").await?;
    browser.wait_until("the run again", "document.querySelectorAll('.run').length === 1").await?;
    browser.wait_until("rest", SETTLED).await?;
    assert_eq!(results(&browser).await?, before, "undo did not give the same results");
    // Volts said to be millivolts: a thousandth of the power.
    choose(&browser, "Column 2, Vin (V): unit", "mV").await?;
    let scaled = results(&browser).await?;
    assert_ne!(scaled, before);
    let read: Value = serde_json::from_str(&scaled)?;
    assert_eq!(read["inputs"][0]["understood"]["columns"][1]["unit"], "mV");
    browser.press("header button", "Undo").await?;
    browser.wait_until("undo", SETTLED).await?;
    browser.press("header button", "Redo").await?;
    browser.wait_until("redo", SETTLED).await?;
    assert_eq!(results(&browser).await?, scaled);
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_taken_out_comes_back_in_its_place_with_its_settings() -> Outcome<()> {
    let folder = Folder::new()?;
    let first = folder.write("first.csv", step_up_log(3000).as_bytes())?;
    let second = folder.write("second.csv", step_up_log(3500).as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", &[first, second]).await?;
    browser.wait_until("the logs", SETTLED).await?;
    open_log_card(&browser, "first.csv").await?;
    choose(&browser, "What this log is", "table").await?;
    let before = results(&browser).await?;
    browser.press(".filein button", "Take this log out").await?;
    browser.wait_until("one log", "document.querySelectorAll('.file').length === 1").await?;
    browser.wait_until("rest", SETTLED).await?;
    assert_eq!(settings(&browser).await?.as_array().map(Vec::len), Some(1));
    browser.press(".notice button", "Put it back").await?;
    browser.wait_until("two logs", "document.querySelectorAll('.file').length === 2").await?;
    browser.wait_until("rest", SETTLED).await?;
    assert_eq!(results(&browser).await?, before, "it did not come back as it was");
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_table_pasted_from_a_spreadsheet_becomes_a_run() -> Outcome<()> {
    let browser = opened().await?;
    // Decimal commas and tabs, as a sheet in many countries gives its cells.
    let mut table = String::from("V in (V)\tI in (A)\tV out (V)\tI out (A)\n");
    for row in 0..24 {
        let i_out = 0.2 + 0.1 * f64::from(row);
        let i_in = (5.0 * i_out + 0.1 + 0.05 * i_out * i_out) / 12.0;
        table.push_str(&format!("12,00\t{i_in:.4}\t5,000\t{i_out:.3}\n").replace('.', ","));
    }
    let paste = "const data = new DataTransfer(); data.setData('text/plain', arguments[0]);
        document.body.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));";
    browser.run(paste, vec![json!(table)]).await?;
    browser.wait_until("its card", "document.querySelector('.filein:not([hidden])')").await?;
    let name = browser.run("return document.querySelector('.filehead .name').innerText", vec![]).await?;
    assert_eq!(name, "pasted table 1");
    browser.shot("pasted-asks").await?;
    // It has no time: the card asks for the row period, and the answer makes it a run.
    let period = "const field = [...document.querySelectorAll('.filein input')].find((e) => e.getAttribute('aria-label') === 'Time from row to row');
        field.focus(); field.value = '2'; field.dispatchEvent(new Event('input', { bubbles: true })); field.blur(); return true;";
    browser.run(period, vec![]).await?;
    browser.wait_until("the run", "document.querySelectorAll('.run').length === 1").await?;
    browser.wait_until("rest", SETTLED).await?;
    let read: Value = serde_json::from_str(&results(&browser).await?)?;
    let input = &read["inputs"][0];
    assert_eq!(
        (&input["rows_usable"], &input["understood"]["decimal_mark"]),
        (&json!(24), &json!(",")),
        "{input}"
    );
    // Watts by hand at the first row: 12 V in, 1.102 W in for 1 W out.
    let sum = input["sums"]["i_out"].as_f64().unwrap_or(0.0);
    assert!((sum - (24.0 * 0.2 + 0.1 * 276.0)).abs() < 1e-9, "sum of the output current {sum}");
    browser.run(paste, vec![json!(table)]).await?;
    browser.wait_until("the second", "document.querySelectorAll('.file').length === 2").await?;
    let names = browser
        .run("return [...document.querySelectorAll('.filehead .name')].map((e) => e.innerText)", vec![])
        .await?;
    assert_eq!(names, json!(["pasted table 1", "pasted table 2"]));
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_that_grew_says_how_many_rows_are_new_and_keeps_its_settings() -> Outcome<()> {
    let folder = Folder::new()?;
    let file = folder.write("growing.csv", step_up_log(2000).as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser.wait_until("the log", SETTLED).await?;
    open_log_card(&browser, "growing.csv").await?;
    choose(&browser, "Column 1, t (s): unit", "ms").await?;
    let said = settings(&browser).await?;
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    std::fs::write(&file, step_up_log(2600))?;
    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser
        .wait_until(
            "what is new",
            "document.querySelector('.notice.good')?.innerText.includes('600 new rows')",
        )
        .await?;
    browser.wait_until("rest", SETTLED).await?;
    browser.shot("grown").await?;
    assert_eq!(settings(&browser).await?, said, "its settings did not stay");
    let grown: Value = serde_json::from_str(&results(&browser).await?)?;
    assert_eq!(grown["inputs"].as_array().map(Vec::len), Some(1));
    let fresh = opened().await?;
    fresh.choose("#files", &[file]).await?;
    fresh.wait_until("the whole log", SETTLED).await?;
    open_log_card(&fresh, "growing.csv").await?;
    choose(&fresh, "Column 1, t (s): unit", "ms").await?;
    let whole: Value = serde_json::from_str(&results(&fresh).await?)?;
    assert_eq!(grown["runs"], whole["runs"], "reading on differs from reading all of it");
    fresh.close().await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn kept_rows_without_an_operating_point_are_explained_in_the_map() -> Outcome<()> {
    // A step-up converter that is never switched on: volts at both sides, no current to speak of.
    let mut log = String::from("t (s),Vin (V),Iin (A),Vout (V),Iout (A)\n");
    for row in 0..2000 {
        let wave = f64::from(row % 13) - 6.0;
        let v_in = 5.0 + 0.0003 * f64::from(row % 700);
        log.push_str(&format!(
            "{:.2},{v_in:.4},{:.5},{:.4},{:.5}\n",
            f64::from(row) / 50.0,
            1e-5 * wave,
            v_in - 0.3,
            1e-5 * -wave
        ));
    }
    let folder = Folder::new()?;
    let file = folder.write("asleep.csv", log.as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", &[file]).await?;
    browser.wait_until("the log", SETTLED).await?;
    open_log_card(&browser, "asleep.csv").await?;
    if browser.run("return document.querySelectorAll('.run').length", vec![]).await? == 0 {
        choose(&browser, "What this log is", "run").await?;
    }
    browser.wait_until("the reason", "document.querySelector('.nothing')").await?;
    let said = browser.run("return document.querySelector('.nothing').innerText", vec![]).await?;
    let said = said.as_str().unwrap_or_default();
    assert!(
        said.contains("kept, but none is an operating point: in") && said.contains("output is off"),
        "{said}"
    );
    browser.shot("nothing-operating").await?;
    browser.close().await
}

/// What has the focus, in words.
async fn focus(browser: &Browser) -> Outcome<String> {
    let script = "const e = document.activeElement; return (e.getAttribute('aria-label') ?? '') + ' | ' + (e.innerText ?? '').slice(0, 80);";
    Ok(browser.run(script, vec![]).await?.as_str().unwrap_or_default().to_owned())
}

/// Presses Tab until what has the focus holds this text.
async fn tab_to(browser: &Browser, text: &str) -> Outcome<()> {
    for _ in 0..120 {
        browser.strike(&["Tab"]).await?;
        if focus(browser).await?.contains(text) {
            return Ok(());
        }
    }
    Err(format!("no Tab leads to {text:?}").into())
}

#[tokio::test(flavor = "multi_thread")]
async fn reading_is_walked_with_keys_alone() -> Outcome<()> {
    let browser = crate::main_job::with_demo_dropped().await?;
    let before = settings(&browser).await?;
    tab_to(&browser, "Log\n").await?;
    browser.strike(&["Enter"]).await?;
    browser.wait_until("the Log stage", "document.querySelector('.files')").await?;
    if browser.run("return document.querySelector('.filein:not([hidden])') === null", vec![]).await? == true {
        tab_to(&browser, "rows\n").await?;
        browser.strike(&["Enter"]).await?;
    }
    browser
        .wait_until("the columns", "document.querySelector('.filein:not([hidden]) .columns select')")
        .await?;
    tab_to(&browser, ": what it is").await?;
    tab_to(&browser, ": what it is").await?;
    browser.shot("keys-role").await?;
    let label = focus(&browser).await?;
    browser.strike(&["ArrowDown"]).await?;
    browser.wait_until("the changed role", SETTLED).await?;
    let after = settings(&browser).await?;
    assert_ne!(before, after, "the keys changed no role at {label}");
    assert!(focus(&browser).await?.contains("what it is"), "the focus was lost: {}", focus(&browser).await?);
    browser.strike(&["Control+z"]).await?;
    browser.wait_until("undo", SETTLED).await?;
    assert_eq!(settings(&browser).await?, before, "the keys did not undo");
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn saved_settings_and_calibrations_say_what_they_did() -> Outcome<()> {
    let browser = crate::main_job::with_demo_dropped().await?;
    let export = |what: &str| format!("return (await wattsieve.ask('export', {{ what: '{what}' }})).text");
    let calibration = browser.run_async(&export("calibration"), vec![]).await?;
    let bench = browser.run_async(&export("bench"), vec![]).await?;
    let before = results(&browser).await?;
    let folder = Folder::new()?;
    let mut changed: Value = serde_json::from_str(bench.as_str().unwrap_or_default())?;
    changed["settings"]["sieve"]["least_rows"] = json!(9);
    let bench = folder.write("bench.json", changed.to_string().as_bytes())?;
    let calibration =
        folder.write("calibration.json", calibration.as_str().unwrap_or_default().as_bytes())?;
    browser.choose("#files", &[bench]).await?;
    browser.wait_until("the settings", "wattsieve.state().settings.sieve.least_rows === 9").await?;
    browser
        .wait_until(
            "what was done",
            "document.querySelector('.notice.good')?.innerText.includes('bench.json')",
        )
        .await?;
    browser.wait_until("rest", SETTLED).await?;
    browser.press("header button", "Undo").await?;
    browser.wait_until("undo", SETTLED).await?;
    assert_eq!(results(&browser).await?, before);
    browser.choose("#files", &[calibration]).await?;
    browser
        .wait_until(
            "what was done",
            "wattsieve.state().notices.some((text) => text.includes('calibration.json'))",
        )
        .await?;
    browser.wait_until("rest", SETTLED).await?;
    browser.close().await
}
