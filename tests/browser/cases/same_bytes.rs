//! The same log gives the same bytes of results from the command and from the page.

use base64::Engine as _;
use serde_json::{Value, json};
use sha2::{Digest as _, Sha256};
use wattsieve_browser_tests::{Browser, Folder, Outcome, results_of_command, step_up_log, workspace};

use crate::bench::{first_difference, probe_files, start_probe};

async fn compare(rows: usize, chunks: &[usize]) -> Outcome<()> {
    let folder = Folder::new()?;
    let file = folder.write("step-up.csv", step_up_log(rows).as_bytes())?;
    // As on the page, what the log is gets told from its content.
    let settings = folder.write("settings.json", b"{\"inputs\":[{}]}")?;
    let words = ["analyse", "--settings"].map(str::to_owned);
    let words = [words, [settings.display().to_string(), file.display().to_string()]].concat();
    let native = String::from_utf8(results_of_command(&words)?)?;
    assert!(native.contains("\"rows_usable\""), "{native}");
    let browser = Browser::open_empty_page().await?;
    start_probe(&browser).await?;
    for &chunk in chunks {
        let text = probe_files(&browser, std::slice::from_ref(&file), chunk).await?;
        if let Some(difference) = first_difference(&native, &text) {
            return Err(format!("chunks of {chunk}: command and page differ {difference}").into());
        }
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_short_log_fed_byte_by_byte() -> Outcome<()> {
    compare(3000, &[1, 7, 65_536, 2_097_152]).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_log_of_300_000_rows() -> Outcome<()> {
    compare(300_000, &[65_536, 2_097_152]).await
}

/// The text of the first block with this opening tag, up to its end tag.
fn block<'a>(page: &'a str, start: &str) -> Option<&'a str> {
    page.split_once(start)?.1.split_once('>')?.1.split_once("</script>").map(|(text, _)| text)
}

/// Value of an attribute in a tag.
fn attribute(tag: &str, name: &str) -> Option<String> {
    let value = tag.split_once(&format!("{name}=\""))?.1.split_once('"')?.0;
    Some(value.replace("&quot;", "\"").replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&"))
}

/// Hexadecimal SHA-256.
fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_demo() -> Outcome<()> {
    let native = std::fs::read_to_string(workspace().join("dist/demo-results.json"))?;
    let page = std::fs::read_to_string(workspace().join("dist/demo.html"))?;
    let bench: Value = serde_json::from_str(
        block(&page, "<script type=\"application/json\" id=\"bench\"").ok_or("no bench")?,
    )?;
    let mut logs = Vec::new();
    for tag in page.split("<script type=\"text/plain\" class=\"log\"").skip(1) {
        let (tag, rest) = tag.split_once('>').ok_or("no log")?;
        let base64 = rest.split_once("</script>").ok_or("no end of log")?.0;
        let bytes = attribute(tag, "data-bytes").ok_or("no size")?.parse::<usize>()?;
        let packed = base64::engine::general_purpose::STANDARD.decode(base64)?;
        let mut original = Vec::new();
        std::io::Read::read_to_end(&mut flate2::read::DeflateDecoder::new(packed.as_slice()), &mut original)?;
        assert_eq!(original.len(), bytes);
        // What travels inside the page is the log itself, and its hash says so.
        let name = attribute(tag, "data-name").ok_or("no name")?;
        assert_eq!(attribute(tag, "data-sha256"), Some(sha256(&original)), "{name}");
        logs.push(json!({"name": name, "bytes": bytes, "base64": base64}));
    }
    assert!(logs.len() > 2);
    let browser = Browser::open_empty_page().await?;
    start_probe(&browser).await?;
    for chunk in [65_536, 2_097_152] {
        let script = "
            await probe('openBench', { bench: arguments[0], logs: arguments[1], chunk: arguments[2] });
            return (await probe('export', { what: 'results' })).text;";
        let text = browser.run_async(script, vec![bench.clone(), json!(logs), json!(chunk)]).await?;
        let text = text.as_str().ok_or("no results")?;
        if let Some(difference) = first_difference(&native, text) {
            return Err(format!("chunks of {chunk}: command and page differ {difference}").into());
        }
    }
    browser.close().await
}

/// A stream that nothing but its own pending read refers to may be collected before it is read.
#[tokio::test(flavor = "multi_thread")]
async fn every_one_of_many_logs_is_read_to_its_end() -> Outcome<()> {
    let browser = Browser::open_empty_page().await?;
    start_probe(&browser).await?;
    let script = "
        let text = 't_s,vi_V,ii_A,vo_V,io_A\\n';
        for (let row = 0; row < 4000; row += 1) {
          text += `${row / 100},12.${row % 10},1.${row % 7},5.0${row % 3},2.${row % 9}\\n`;
        }
        for (let log = 0; log < 80; log += 1) {
          const read = probe('openText', { name: `log-${log}.csv`, text }).then(() => probe('remove', { input: 0 }));
          const late = new Promise((done) => setTimeout(() => done('late'), 15000));
          if (await Promise.race([read, late]) === 'late') return log;
        }
        return null;";
    let stuck = browser.run_async(script, vec![]).await?;
    assert!(stuck.is_null(), "log {stuck} was not read within 15 s");
    browser.close().await
}
