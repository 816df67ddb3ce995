//! Bad inputs: each its own sentence, and what was open stays as it was.

use std::path::PathBuf;

use serde_json::Value;
use wattsieve_browser_tests::{Browser, Folder, Outcome, View, step_up_log};

use crate::bench::{SETTLED, results};
use crate::reading::{open_log_card, opened};

/// The page with one good log.
async fn with_a_log(folder: &Folder) -> Outcome<(Browser, PathBuf)> {
    let file = folder.write("good.csv", step_up_log(3000).as_bytes())?;
    let browser = opened().await?;
    browser.choose("#files", std::slice::from_ref(&file)).await?;
    browser.wait_until("the log", SETTLED).await?;
    Ok((browser, file))
}

/// The runs and the fixture of the results: what a bad input must leave as it was.
async fn answers(browser: &Browser) -> Outcome<String> {
    let read: Value = serde_json::from_str(&results(browser).await?)?;
    Ok(format!("{} {}", read["runs"], read["fixture"]))
}

/// What the page says of an input, in notices and cards.
const SAID: &str =
    "[...document.querySelectorAll('.notice, .filein .bad')].map((e) => e.innerText).join('\\n')";

#[tokio::test(flavor = "multi_thread")]
async fn every_bad_input_has_its_own_sentence_and_changes_nothing() -> Outcome<()> {
    let folder = Folder::new()?;
    let (browser, _) = with_a_log(&folder).await?;
    let before = answers(&browser).await?;
    let picture = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x06\0\0\0\x1f\x15\xc4\x89".to_vec();
    let bad: [(&str, Vec<u8>, &str); 6] = [
        ("picture.csv", picture, "PNG picture"),
        ("empty.csv", Vec::new(), "empty"),
        ("header.csv", b"t (s),Vin (V),Iin (A),Vout (V),Iout (A)\n".to_vec(), "header"),
        (
            "words.csv",
            b"t (s),Vin (V),Iin (A)\nnone,high,low\nfew,high,low\nmany,low,low\n".to_vec(),
            "number",
        ),
        ("broken.zip", b"PK\x03\x04\x14\0\0\0\x08\0cut off in the middle".to_vec(), "zip"),
        ("broken.csv.gz", b"\x1f\x8b\x08\0\0\0\0\0\0\x03cut off".to_vec(), "gzip"),
    ];
    let mut sentences = Vec::new();
    for (name, bytes, word) in bad {
        let file = folder.write(name, &bytes)?;
        browser.choose("#files", &[file]).await?;
        browser.wait_until(&format!("a sentence about {name}"), &format!("{SAID}.includes('{name}') || document.querySelector('.file.open .name')?.innerText === '{name}'")).await?;
        browser.wait_until("rest", SETTLED).await?;
        let said = browser.run(&format!("return {SAID}"), vec![]).await?;
        let said = said.as_str().unwrap_or_default().to_owned();
        assert!(said.to_lowercase().contains(&word.to_lowercase()), "{name}: {said}");
        assert!(!said.contains("undefined") && !said.contains("null"), "{name}: {said}");
        sentences.push(
            said.lines()
                .find(|line| line.to_lowercase().contains(&word.to_lowercase()))
                .unwrap_or_default()
                .to_owned(),
        );
        assert_eq!(answers(&browser).await?, before, "{name} changed the answers");
        browser.shot(&format!("bad-{}", name.replace('.', "-"))).await?;
        // A card that stays is taken out, so that the next one stands alone.
        if browser.run("return document.querySelectorAll('.file').length", vec![]).await?.as_u64() > Some(1) {
            open_log_card(&browser, name).await?;
            browser.press(".filein button", "Take this log out").await?;
            browser.wait_until("one log", "document.querySelectorAll('.file').length === 1").await?;
            browser.wait_until("rest", SETTLED).await?;
        }
    }
    for (place, one) in sentences.iter().enumerate() {
        assert!(!sentences[..place].contains(one), "two bad inputs share a sentence: {one}");
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn one_row_and_a_folder_are_told_from_a_log() -> Outcome<()> {
    let folder = Folder::new()?;
    let (browser, _) = with_a_log(&folder).await?;
    let before = answers(&browser).await?;
    let inside = folder.path().join("bench logs");
    std::fs::create_dir_all(&inside)?;
    std::fs::write(inside.join("one.csv"), step_up_log(10))?;
    browser.drop_from_disk(&[inside]).await?;
    browser
        .wait_until("a sentence about the folder", &format!("{SAID}.includes('bench logs is a folder')"))
        .await?;
    assert_eq!(answers(&browser).await?, before, "the folder changed the answers");
    let one =
        folder.write("one-row.csv", b"t (s),Vin (V),Iin (A),Vout (V),Iout (A)\n0.0,5.0,1.0,9.0,0.5\n")?;
    browser.choose("#files", &[one]).await?;
    browser.wait_until("its run", "document.querySelectorAll('.run').length === 2").await?;
    browser.wait_until("rest", SETTLED).await?;
    open_log_card(&browser, "one-row.csv").await?;
    let said = browser.run("return document.querySelector('.file.open').innerText", vec![]).await?;
    assert!(said.as_str().unwrap_or_default().contains("1 row"), "{said}");
    let problems =
        browser.run("return document.querySelector('.file.open .problems').textContent", vec![]).await?;
    let problems = problems.as_str().unwrap_or_default();
    assert!(
        problems.contains("A single row") && problems.contains("check that the logger ran on"),
        "{problems}"
    );
    let read: Value = serde_json::from_str(&results(&browser).await?)?;
    let first = format!("{}", read["runs"][0]);
    assert!(before.contains(&first), "the run that was open changed");
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_file_cut_after_it_was_chosen_is_named_and_its_old_reading_stays() -> Outcome<()> {
    let folder = Folder::new()?;
    let (browser, file) = with_a_log(&folder).await?;
    open_log_card(&browser, "good.csv").await?;
    browser.wait_until("the columns", "document.querySelector('.columns select')").await?;
    let before = answers(&browser).await?;
    // Cut on the disk: the browser refuses to read on in a file that is no longer the one chosen.
    let text = std::fs::read(&file)?;
    tokio::time::sleep(std::time::Duration::from_millis(1100)).await;
    std::fs::write(&file, &text[..text.len() / 3])?;
    let unit = "const select = [...document.querySelectorAll('.filein select')].find((e) => e.getAttribute('aria-label').includes('Vin (V): unit'));
        select.value = 'mV'; select.dispatchEvent(new Event('change', { bubbles: true })); return true;";
    browser.run(unit, vec![]).await?;
    browser.wait_until("the sentence", &format!("/could not be read|changed/.test({SAID})")).await?;
    browser.wait_until("rest", SETTLED).await?;
    browser.shot("bad-cut-file").await?;
    let said = browser.run(&format!("return {SAID}"), vec![]).await?;
    assert!(said.as_str().unwrap_or_default().contains("good.csv"), "{said}");
    assert_eq!(
        browser.run("return wattsieve.state().settings.inputs[0].columns.units.length", vec![]).await?,
        0
    );
    assert_eq!(browser.run("return document.querySelectorAll('.run').length", vec![]).await?, 1);
    let shown = browser.run("return wattsieve.ask('view')", vec![]).await?;
    let runs = format!("{}", shown["runs"]);
    assert_eq!(runs.len() > 100, before.len() > 100, "the run is gone: {runs}");
    browser.close().await
}

/// What is chosen on a phone is answered where one looks: the reason stands above the place to drop logs.
#[tokio::test(flavor = "multi_thread")]
async fn on_a_phone_the_reason_of_a_refusal_is_in_sight() -> Outcome<()> {
    let folder = Folder::new()?;
    let file = folder.write("holiday.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\x04\0")?;
    let browser = opened().await?;
    browser.look(View::PHONE).await?;
    browser.choose("#files", &[file]).await?;
    browser
        .wait_until("the reason", "document.querySelector('.notices')?.innerText.includes('holiday.csv')")
        .await?;
    browser.rest().await?;
    let place = "const [reason, drop] = ['.notices', '.drop'].map((s) => document.querySelector(s).getBoundingClientRect());
        return [reason.top, reason.bottom, drop.top, innerHeight];";
    let place = browser.run(place, vec![]).await?;
    let [top, bottom, drop, height] = std::array::from_fn(|k| place[k].as_f64().unwrap_or(f64::NAN));
    assert!(top >= 0.0 && bottom <= height && bottom <= drop + 1.0, "{place}");
    browser.close().await
}
