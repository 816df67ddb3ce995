//! What is said of a log's columns in its card: ranges, raw counts, signs, sides, a second logger. One
//! act each, and one undo takes it back.

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Folder, Outcome, workspace};

use crate::bench::{SETTLED, results};
use crate::reading::{choose, open_log_card, opened};

/// The page with logs of `tests/logs`, the card of the last one open.
async fn with_logs(names: &[&str]) -> Outcome<Browser> {
    let browser = opened().await?;
    let files: Vec<_> = names.iter().map(|name| workspace().join("tests/logs").join(name)).collect();
    browser.choose("#files", &files).await?;
    browser.wait_until("the logs", SETTLED).await?;
    let last = names.last().and_then(|name| name.rsplit('/').next()).unwrap_or_default();
    open_log_card(&browser, last).await?;
    browser.rest().await?;
    Ok(browser)
}

/// Opens what stands behind a column, and a fold in it.
async fn open_column(browser: &Browser, number: u32, fold: &str) -> Outcome<()> {
    let open = "const more = [...document.querySelectorAll('.columns .btn.icon')].find((e) => e.getAttribute('aria-label').startsWith('More about column ' + arguments[0] + ','));
        if (more.getAttribute('aria-expanded') === 'false') more.click(); return true;";
    browser.run(open, vec![json!(number)]).await?;
    browser.rest().await?;
    let unfold = "const fold = [...document.querySelectorAll('.detail details')].find((e) => e.querySelector('summary').innerText.includes(arguments[0]));
        if (!fold.open) fold.querySelector('summary').click(); return true;";
    browser.run(unfold, vec![json!(fold)]).await?;
    browser.rest().await
}

/// Types into the field whose label begins with this text, and leaves it.
async fn fill(browser: &Browser, label: &str, text: &str) -> Outcome<()> {
    let script = "const label = [...document.querySelectorAll('.filein label')].find((e) => e.getClientRects().length && e.innerText.startsWith(arguments[0]));
        if (!label) return 'no such field: ' + [...document.querySelectorAll('.filein label')].map((e) => e.innerText).join(', ');
        const field = document.getElementById(label.htmlFor);
        field.focus(); field.value = arguments[1]; field.dispatchEvent(new Event('input', { bubbles: true })); field.blur();
        return field.getAttribute('aria-invalid') ?? 'taken';";
    let said = browser.run(script, vec![json!(label), json!(text)]).await?;
    if said != "taken" {
        return Err(format!("{label}: {said}").into());
    }
    browser.rest().await
}

async fn read(browser: &Browser) -> Outcome<Value> {
    Ok(serde_json::from_str(&results(browser).await?)?)
}

async fn undone(browser: &Browser, before: &str) -> Outcome<()> {
    browser.press("header button", "Undo").await?;
    browser.rest().await?;
    assert_eq!(results(browser).await?, before, "one undo does not take it back");
    Ok(())
}

async fn card_words(browser: &Browser) -> Outcome<String> {
    let words =
        browser.run("return document.querySelector('.filein:not([hidden])').innerText", vec![]).await?;
    Ok(words.as_str().unwrap_or_default().to_owned())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_range_is_given_its_offset_and_gain_and_the_seam_closes() -> Outcome<()> {
    let browser = with_logs(&["shapes/range_column.csv"]).await?;
    let before = results(&browser).await?;
    let words = card_words(&browser).await?;
    assert!(words.contains("switches its range: LO, HI; they do not meet"), "{words}");
    assert!(words.contains("names the range of I out"), "{words}");
    open_column(&browser, 5, "Ranges").await?;
    let words = card_words(&browser).await?;
    assert!(words.contains("The ranges do not meet: over 6 changes HI reads 0.021"), "{words}");
    browser.shot_of(".file.open", "ranges-apart").await?;
    fill(&browser, "Offset of HI", "0.02").await?;
    let words = card_words(&browser).await?;
    assert!(words.contains("The ranges meet: over 6 changes"), "{words}");
    browser.shot_of(".file.open", "ranges-meet").await?;
    fill(&browser, "Gain of LO", "1.25").await?;
    let after = read(&browser).await?;
    // By hand from the file: (reading - offset) / gain, in the rows of each range.
    let text = std::fs::read_to_string(workspace().join("tests/logs/shapes/range_column.csv"))?;
    let mut sum = 0.0;
    for line in text.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let reading: f64 = cells[4].parse()?;
        sum += if cells[5] == "HI" { reading - 0.02 } else { reading / 1.25 };
    }
    let found = after["inputs"][0]["sums"]["i_out"].as_f64().unwrap_or(0.0);
    assert!((found - sum).abs() < 1e-9 * sum, "{found} for {sum}");
    let stated = browser.run("return wattsieve.state().settings.inputs[0].columns.ranges", vec![]).await?;
    assert_eq!(stated[0]["column"], 6, "{stated}");
    browser.press("header button", "Undo").await?;
    browser.rest().await?;
    undone(&browser, &before).await?;
    // Told by the size of the steps, this short log shows none; forgetting finds them again.
    choose(&browser, "What tells the range of column 5", "steps").await?;
    assert!(card_words(&browser).await?.contains("No ranges were found so."));
    browser.press(".filein button", "Forget the ranges").await?;
    browser.rest().await?;
    assert_eq!(results(&browser).await?, before);
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn raw_counts_become_amperes_from_the_figures_of_the_converter() -> Outcome<()> {
    let mut log = String::from("t_s,vin_V,iin_counts,vout_V,iout_A\n");
    let mut counts = 0_u32;
    for row in 0..40_u32 {
        let count = 200 + 37 * (row % 11);
        counts += count;
        log.push_str(&format!(
            "{:.2},12.0{},{count},5.000,0.{}\n",
            f64::from(row) / 50.0,
            row % 7,
            30 + row % 11
        ));
    }
    let folder = Folder::new()?;
    let file = folder.write("adc.csv", log.as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", &[file]).await?;
    browser.wait_until("the log", SETTLED).await?;
    open_log_card(&browser, "adc.csv").await?;
    browser.rest().await?;
    let before = results(&browser).await?;
    open_column(&browser, 3, "Raw counts").await?;
    fill(&browser, "Bits", "12").await?;
    assert!(card_words(&browser).await?.contains("Still needed: reference, shunt."));
    fill(&browser, "Reference", "3,3").await?;
    fill(&browser, "Amplifier gain", "50").await?;
    assert_eq!(results(&browser).await?, before, "half of the figures already count");
    fill(&browser, "Shunt", "0.01").await?;
    browser.shot_of(".file.open", "raw-counts").await?;
    // One count: reference / 2^bits / gain / shunt (common practice, no source).
    let one = 3.3 / 4096.0 / 50.0 / 0.01;
    let after = read(&browser).await?;
    let sum = after["inputs"][0]["sums"]["i_in"].as_f64().unwrap_or(0.0);
    assert!((sum - f64::from(counts) * one).abs() < 1e-9 * sum, "{sum}");
    let step = after["inputs"][0]["understood"]["resolution"]["i_in"].as_f64().unwrap_or(0.0);
    assert!((step - one).abs() < 1e-9 * one, "one count is {one}, the resolution {step}");
    undone(&browser, &before).await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_offered_takes_one_click_and_one_undo() -> Outcome<()> {
    let browser = with_logs(&["shapes/backwards.csv"]).await?;
    let before = results(&browser).await?;
    let sums = read(&browser).await?["inputs"][0]["sums"].clone();
    assert!(sums["i_in"].as_f64() < Some(0.0), "the offer alone must change nothing: {sums}");
    browser.press(".offer button", "Turn the sign of I in").await?;
    browser.rest().await?;
    let turned = read(&browser).await?;
    let [old, new] = [&sums, &turned["inputs"][0]["sums"]].map(|sums| sums["i_in"].as_f64().unwrap_or(0.0));
    assert!((old + new).abs() < 1e-12, "{old} became {new}");
    assert_eq!(browser.run("return document.querySelectorAll('.offer').length", vec![]).await?, 0);
    undone(&browser, &before).await?;
    browser.close().await?;

    let browser = with_logs(&["shapes/exchanged.csv"]).await?;
    let before = results(&browser).await?;
    let sums = read(&browser).await?["inputs"][0]["sums"].clone();
    browser.press(".offer button", "Exchange input and output").await?;
    browser.rest().await?;
    let other = read(&browser).await?["inputs"][0]["sums"].clone();
    assert_eq!((&other["i_in"], &other["i_out"]), (&sums["i_out"], &sums["i_in"]));
    assert_eq!((&other["v_in"], &other["v_out"]), (&sums["v_out"], &sums["v_in"]));
    undone(&browser, &before).await?;
    browser.close().await?;

    let browser = with_logs(&["shapes/no_header.csv"]).await?;
    let before = results(&browser).await?;
    browser.press(".offer button", "Use the best guess").await?;
    browser.rest().await?;
    let named = read(&browser).await?;
    let roles: Vec<&Value> = named["inputs"][0]["understood"]["columns"]
        .as_array()
        .into_iter()
        .flatten()
        .map(|column| &column["role"])
        .collect();
    assert_eq!(roles, ["time", "v_in", "i_in", "v_out_high", "v_out_low", "i_out"]);
    assert_eq!(named["runs"].as_array().map(Vec::len), Some(1));
    undone(&browser, &before).await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_second_loggers_log_joins_the_run_before_it() -> Outcome<()> {
    let browser = with_logs(&["bench/10a_input.csv", "bench/10b_output.csv"]).await?;
    let before = results(&browser).await?;
    let words = card_words(&browser).await?;
    assert!(
        words.contains("No column was recognised as the input voltage, and none as the input current."),
        "{words}"
    );
    assert!(words.contains("another logger"), "{words}");
    let unfold = "document.querySelector('.filein:not([hidden]) details summary').click(); return true;";
    browser.run(unfold, vec![]).await?;
    browser.rest().await?;
    choose(&browser, "How this log hangs together", "beside").await?;
    browser.wait_until("the run", "document.querySelectorAll('.run').length === 1").await?;
    browser.rest().await?;
    let joined = read(&browser).await?;
    let loggers = &joined["runs"][0]["alignment"]["loggers"];
    assert!(loggers.is_object() || loggers.as_array().is_some_and(|all| !all.is_empty()), "{loggers}");
    let front = browser.run("return document.querySelector('.file.open .name').innerText", vec![]).await?;
    assert_eq!(front, "10b_output.csv", "the card that was worked in is no longer in front");
    assert!(!card_words(&browser).await?.contains("No column was recognised"), "it still asks");
    browser.shot_of(".file.open", "second-logger").await?;
    undone(&browser, &before).await?;
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_number_field_lets_go_by_escape_and_takes_by_enter() -> Outcome<()> {
    let browser = with_logs(&["shapes/range_column.csv"]).await?;
    let before = results(&browser).await?;
    open_column(&browser, 5, "Ranges").await?;
    let fields = "const label = [...document.querySelectorAll('.filein label')].find((e) => e.innerText.startsWith('Offset of HI'));
        const field = document.getElementById(label.htmlFor);
        if (arguments[0]) { field.focus(); field.select(); }
        return [field.value, field === document.activeElement, field.getAttribute('aria-invalid'), field.title];";
    let look = async |enter: bool| browser.run(fields, vec![json!(enter)]).await;
    let stood = look(false).await?[0].clone();
    let left_as_it_stood = json!([stood, false, null, ""]);

    // A number, and what is none; left by a key each time.
    for typed in ["0.02", "0,0,2"] {
        look(true).await?;
        browser.key(typed).await?;
        assert_eq!(look(false).await?[0], typed);
        browser.strike(&["Escape"]).await?;
        assert_eq!(look(false).await?, left_as_it_stood, "after {typed} and Escape");
        browser.rest().await?;
        assert_eq!(results(&browser).await?, before, "Escape took {typed}");
    }
    // What was refused when the field was left is let go as well.
    look(true).await?;
    browser.key("two").await?;
    browser.strike(&["Enter"]).await?;
    let refused = look(true).await?;
    assert_eq!((&refused[0], &refused[2]), (&json!("two"), &json!("true")), "{refused}");
    browser.strike(&["Escape"]).await?;
    assert_eq!(look(false).await?, left_as_it_stood);

    look(true).await?;
    browser.key("0.02").await?;
    browser.strike(&["Enter"]).await?;
    browser.rest().await?;
    assert_eq!(look(false).await?, json!(["0.02", false, null, ""]));
    assert_ne!(results(&browser).await?, before, "Enter did not take it");
    // What was taken is what Escape puts back from now on.
    look(true).await?;
    browser.key("7").await?;
    browser.strike(&["Escape"]).await?;
    assert_eq!(look(false).await?, json!(["0.02", false, null, ""]));
    browser.rest().await?;
    undone(&browser, &before).await?;
    browser.close().await
}
