//! The cards of logs of every shape: looked at wide and light, and on a phone in the dark.

use wattsieve_browser_tests::{Browser, Folder, Outcome, View, step_up_log, workspace};

use crate::bench::SETTLED;
use crate::reading::{open_log_card, opened};

async fn looked_at(browser: &Browser, name: &str) -> Outcome<()> {
    let dark_phone = View { scheme: View::DARK.scheme, ..View::PHONE };
    for (view, kind) in [(View::WIDE, "wide"), (dark_phone, "phone-dark")] {
        browser.look(view).await?;
        let show = "const shown = document.querySelector('.left').classList.contains('shown');
            if (innerWidth < 720 && !shown) document.querySelector('.chainline')?.click();
            document.querySelector('.file.open')?.scrollIntoView({ block: 'start' }); return true;";
        browser.run(show, vec![]).await?;
        tokio::time::sleep(std::time::Duration::from_millis(150)).await;
        let wider = "return document.documentElement.scrollWidth - innerWidth";
        let wider = browser.run(wider, vec![]).await?.as_f64();
        assert!(wider <= Some(0.0), "{name} {kind} scrolls sideways by {wider:?}");
        browser.shot(&format!("shape-{name}-{kind}")).await?;
    }
    browser.look(View::WIDE).await
}

#[tokio::test(flavor = "multi_thread")]
async fn logs_of_every_shape_have_a_card() -> Outcome<()> {
    for folder in ["shapes", "bench"] {
        let mut files: Vec<_> = std::fs::read_dir(workspace().join("tests/logs").join(folder))?
            .flatten()
            .map(|entry| entry.path())
            .filter(|path| path.extension().is_some_and(|ending| ending != "json" && ending != "md"))
            .collect();
        files.sort();
        for file in files {
            let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
            let browser = opened().await?;
            browser.choose("#files", &[file]).await?;
            browser.wait_until("an answer", "(() => { const s = wattsieve.state(); return !s.busy && (s.phase === 'bench' || s.notices.length); })()").await?;
            if browser.run("return wattsieve.state().phase === 'bench'", vec![]).await? == true {
                open_log_card(&browser, &name).await?;
                browser.wait_until("rest", SETTLED).await?;
                let words = browser
                    .run("return document.querySelector('.filein:not([hidden])').innerText", vec![])
                    .await?;
                let words = words.as_str().unwrap_or_default();
                assert!(
                    !words.contains("undefined") && !words.contains("NaN ") && !words.contains("[object"),
                    "{name}: {words}"
                );
            }
            looked_at(&browser, &format!("{folder}-{}", name.replace('.', "-"))).await?;
            browser.close().await?;
        }
    }
    Ok(())
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
    looked_at(&browser, "columns-300").await?;
    open_log_card(&browser, "a-very-long-name").await?;
    looked_at(&browser, "long-name").await?;
    browser.close().await
}
