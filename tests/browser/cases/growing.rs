//! Logs given again longer, packed logs, and refused ones, as the worker answers for them.

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome, step_up_log, workspace};

use crate::bench::{first_difference, probe_files, start_probe};
use crate::reading::opened;

async fn with_probe() -> Outcome<Browser> {
    let browser = opened().await?;
    start_probe(&browser).await?;
    Ok(browser)
}

/// Opens what is chosen; what the worker replies, or its error.
const OPEN: &str = "
    const strip = (reply) => JSON.parse(JSON.stringify(reply));
    try { return { reply: strip(await probe('open', { files: [...document.getElementById('probe-files').files] })) }; }
    catch (error) { return { error: JSON.parse(error.message) }; }";

async fn open(browser: &Browser, names: &[&str]) -> Outcome<Value> {
    let files: Vec<_> = names.iter().map(|name| workspace().join("tests/logs").join(name)).collect();
    browser.run("document.getElementById('probe-files').value = ''", vec![]).await?;
    browser.choose("#probe-files", &files).await?;
    browser.run_async(OPEN, vec![]).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_that_grew_reads_on_and_ends_as_a_fresh_load() -> Outcome<()> {
    let browser = with_probe().await?;
    let text = step_up_log(6000);
    let folder = Folder::new()?;
    let file = folder.write("rig.csv", text.as_bytes())?;
    // Three states of the file, cut inside records; the settings are changed after the first.
    let script = "
        const [text] = arguments;
        const state = (end) => new File([text.slice(0, end)], 'rig.csv');
        const [a, b] = [Math.floor(text.length * 0.5) + 3, Math.floor(text.length * 0.8) + 11];
        await probe('openBench', { bench: null, logs: [] });
        const first = await probe('open', { files: [state(a)] });
        const settings = first.settings;
        settings.inputs[0].run = 'rig seven';
        await probe('settings', { settings });
        const second = await probe('open', { files: [state(b)] });
        const third = await probe('open', { files: [state(text.length)] });
        const same = await probe('open', { files: [state(text.length)] });
        const other = await probe('open', { files: [new File([text.slice(0, 900) + '!' + text.slice(901)], 'rig.csv')] });
        await probe('remove', { input: 1 });
        const seen = (view) => ({ inputs: view.inputs.length, run: view.runs[0].name, rows: view.inputs[0].rows_found, opened: view.opened.map((one) => ({ grown: one.grown, new_rows: one.new_rows })) });
        settings.inputs[0].run = null;
        await probe('settings', { settings: { ...settings, inputs: settings.inputs.slice(0, 1) } });
        return { first: first.inputs[0].rows_found, second: seen(second), third: seen(third), same: seen(same), other: other.inputs.length, results: (await probe('export', { what: 'results' })).text };";
    let seen = browser.run_async(script, vec![json!(text)]).await?;
    assert_eq!(seen["second"]["run"], "rig seven", "the settings stay");
    assert_eq!(seen["second"]["inputs"], 1);
    assert_eq!(seen["third"]["rows"], 6000);
    let rows = |state: &str| seen[state]["rows"].as_i64().unwrap_or_default();
    let new = |state: &str| seen[state]["opened"][0]["new_rows"].as_i64().unwrap_or(-1);
    assert_eq!(new("second"), rows("second") - seen["first"].as_i64().unwrap_or_default());
    assert_eq!(new("third"), 6000 - rows("second"));
    assert_eq!((new("same"), seen["same"]["inputs"].as_i64()), (0, Some(1)));
    assert_eq!(seen["other"], 2, "a file of the same name that begins otherwise is another log");
    let fresh = probe_files(&browser, &[file], 0).await?;
    let grown = seen["results"].as_str().unwrap_or_default();
    assert_eq!(first_difference(grown, &fresh), None);
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn packed_logs_open_as_the_logs_in_them() -> Outcome<()> {
    let browser = with_probe().await?;
    let seen = open(&browser, &["packed/one.csv.gz", "packed/parts.zip", "packed/stored.zip"]).await?;
    let inputs = seen["reply"]["inputs"].as_array().ok_or("no inputs")?;
    let found: Vec<(&str, u64)> = inputs
        .iter()
        .map(|input| (input["name"].as_str().unwrap_or(""), input["rows_found"].as_u64().unwrap_or(0)))
        .collect();
    // The stored one holds the same bytes under the same name: it is open already.
    assert_eq!(found, [("one.csv", 40), ("part 9.csv", 20), ("part 10.csv", 15)]);
    assert_eq!(seen["reply"]["opened"][1]["packed_in"], "parts.zip");
    let worst = browser.run_async("return await probe('worst', { input: 0 })", vec![]).await?;
    assert_eq!(worst["rows"], json!([]));
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn every_refused_file_has_its_sentence_and_changes_nothing() -> Outcome<()> {
    let browser = with_probe().await?;
    open(&browser, &["shapes/plain.csv"]).await?;
    let results = "return (await probe('export', { what: 'results' })).text";
    let before = browser.run_async(results, vec![]).await?;
    let table = std::fs::read(workspace().join("tests/logs/refused/cases.json"))?;
    let cases: Value = serde_json::from_slice(&table)?;
    // Results, benches and calibrations mean something to a page, which takes them otherwise.
    for case in cases.as_array().ok_or("no cases")?.iter().filter(|case| case["page"] == true) {
        let name = case["file"].as_str().unwrap_or_default();
        let seen = open(&browser, &[name]).await?;
        let (code, message) = if seen["error"].is_object() {
            (seen["error"]["code"].clone(), seen["error"]["message"].clone())
        } else {
            let input = seen["reply"]["inputs"][1].clone();
            assert_eq!(input["outcome"], "refused", "{name}: {seen}");
            browser.run_async("return (await probe('remove', { input: 1 })).inputs.length", vec![]).await?;
            (input["refusal_code"].clone(), input["refusal"].clone())
        };
        assert_eq!(code, case["code"], "{name}: {message}");
        for words in case["says"].as_array().into_iter().flatten() {
            let (message, words) = (message.as_str().unwrap_or(""), words.as_str().unwrap_or("?"));
            assert!(message.contains(words), "{name}: {message}");
        }
        let after = browser.run_async(results, vec![]).await?;
        assert!(after == before, "{name} changed the bench");
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_cut_while_it_is_read_is_named_and_changes_nothing() -> Outcome<()> {
    let browser = with_probe().await?;
    open(&browser, &["shapes/plain.csv"]).await?;
    let results = "return (await probe('export', { what: 'results' })).text";
    let before = browser.run_async(results, vec![]).await?;
    let folder = Folder::new()?;
    let text = step_up_log(400_000);
    let file = folder.write("short.csv", text.as_bytes())?;
    browser.run("document.getElementById('probe-files').value = ''", vec![]).await?;
    browser.choose("#probe-files", std::slice::from_ref(&file)).await?;
    // In small pieces, so that reading goes on for a while; then the file loses its end.
    let start = "globalThis.cut = probe('open', { files: [...document.getElementById('probe-files').files], chunk: 32 })
        .then(() => ({ read: true }), (error) => JSON.parse(error.message)); return true;";
    browser.run(start, vec![]).await?;
    tokio::time::sleep(std::time::Duration::from_millis(30)).await;
    std::fs::OpenOptions::new().write(true).open(&file)?.set_len(text.len() as u64 / 3)?;
    let said = browser.run_async("return await globalThis.cut", vec![]).await?;
    assert_eq!(said["code"], "file_unreadable", "{said}");
    assert!(said["message"].as_str().unwrap_or("").contains("short.csv"), "{said}");
    assert!(said["hint"].as_str().unwrap_or("").contains("Choose the log again"), "{said}");
    assert_eq!(browser.run_async(results, vec![]).await?, before, "what was open changed");
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_refused_log_is_read_once_its_separator_is_set() -> Outcome<()> {
    let browser = with_probe().await?;
    // One named value per line may as well be text; only its user knows.
    let script = "
        const rows = [...Array(30).keys()].map((k) => `v=12.${k % 9}`).join('\\n');
        const view = await probe('open', { files: [new File([rows], 'odd.csv')] });
        const refused = view.inputs[0];
        const settings = view.settings;
        settings.inputs[0].read.shape = 'name_value';
        const again = await probe('settings', { settings });
        settings.inputs[0].read.separator = 7;
        let named = null;
        try { await probe('settings', { settings }); } catch (error) { named = JSON.parse(error.message).message; }
        return { outcome: refused.outcome, correctable: refused.correctable, again: again.inputs[0].rows_found, named };";
    let seen = browser.run_async(script, vec![]).await?;
    assert_eq!((&seen["outcome"], &seen["correctable"]), (&json!("refused"), &json!(true)), "{seen}");
    assert_eq!(seen["again"], 30, "{seen}");
    assert!(seen["named"].as_str().unwrap_or("").contains("inputs[0].read.separator"), "{seen}");
    browser.close().await
}
