//! What several cases need of the page: its small test surface, the demo logs, a bare worker.

use std::path::PathBuf;

use serde_json::{Value, json};
use wattsieve_browser_tests::{Browser, Outcome, workspace};

/// The page at rest with something open.
pub(crate) const SETTLED: &str = "(() => { const s = globalThis.wattsieve?.state(); \
    return s && s.phase === 'bench' && !s.busy && !s.stale; })()";

/// Paths of demo logs.
pub(crate) fn demo(names: &[&str]) -> Vec<PathBuf> {
    names.iter().map(|name| workspace().join("demo-data").join(name)).collect()
}

/// The calibration runs and one run of each driver.
pub(crate) fn main_logs() -> Vec<PathBuf> {
    demo(&[
        "fixture-all-off.csv",
        "fixture-open-sweep.csv",
        "fixture-through-0r68.csv",
        "fixture-through-2r2.csv",
        "fixture-input-shorted.csv",
        "lamp-synchronous.csv",
        "lamp-diode.csv",
    ])
}

/// The results as the page would save them.
pub(crate) async fn results(browser: &Browser) -> Outcome<String> {
    let text = browser.run_async("return await wattsieve.results()", vec![]).await?;
    Ok(text.as_str().ok_or("the page gave no results")?.to_owned())
}

/// How often each stage ran.
pub(crate) async fn counts(browser: &Browser) -> Outcome<Value> {
    browser.run_async("return await wattsieve.counts()", vec![]).await
}

/// Starts a worker from the page's own blocks that takes the page's own requests, as `probe(kind,
/// payload)`.
pub(crate) async fn start_probe(browser: &Browser) -> Outcome<()> {
    let script = "
        const text = (id) => document.getElementById(id).textContent;
        const packed = Uint8Array.from(atob(text('code-wasm').trim()), (c) => c.charCodeAt(0));
        const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
        const module = await WebAssembly.compile(await new Response(unpacked).arrayBuffer());
        const worker = new Worker(URL.createObjectURL(new Blob([text('code-glue'), '\\n', text('code-worker')])));
        const open = new Map();
        let number = 0;
        const ready = new Promise((resolve, reject) => {
          worker.onerror = (event) => reject(new Error(event.message));
          worker.onmessage = ({ data }) => {
            if (data.ready) resolve();
            else if (data.panic) for (const one of open.values()) one.reject(new Error(data.panic.message));
            else if (open.has(data.id)) {
              const one = open.get(data.id);
              open.delete(data.id);
              if (data.error) one.reject(new Error(JSON.stringify(data.error)));
              else one.resolve(data.reply);
            }
          };
        });
        worker.postMessage({ start: module });
        await ready;
        globalThis.probe = (kind, payload) => new Promise((resolve, reject) => {
          number += 1;
          open.set(number, { resolve, reject });
          worker.postMessage({ id: number, kind, payload, key: null });
        });
        const input = document.createElement('input');
        input.type = 'file';
        input.multiple = true;
        input.id = 'probe-files';
        document.body.append(input);";
    browser.run_async(script, vec![]).await.map(|_| ())
}

/// Results that a bare worker gives for these files, fed in chunks of so many bytes.
pub(crate) async fn probe_files(browser: &Browser, files: &[PathBuf], chunk: usize) -> Outcome<String> {
    browser.run("document.getElementById('probe-files').value = ''", vec![]).await?;
    browser.choose("#probe-files", files).await?;
    let script = "
        await probe('openBench', { bench: null, logs: [] });
        await probe('open', { files: [...document.getElementById('probe-files').files], chunk: arguments[0] });
        return (await probe('export', { what: 'results' })).text;";
    let text = browser.run_async(script, vec![json!(chunk)]).await?;
    Ok(text.as_str().ok_or("no results")?.to_owned())
}

/// Says where two texts part, or nothing where they are the same.
pub(crate) fn first_difference(one: &str, other: &str) -> Option<String> {
    let at = one.bytes().zip(other.bytes()).position(|(a, b)| a != b);
    let at = match at {
        Some(at) => at,
        None if one.len() == other.len() => return None,
        None => one.len().min(other.len()),
    };
    let around = |text: &str| {
        let bytes = text.as_bytes();
        let part = &bytes[at.saturating_sub(80)..(at + 80).min(bytes.len())];
        String::from_utf8_lossy(part).into_owned()
    };
    Some(format!(
        "at byte {at} of {} and {}:\n  {}\n  {}",
        one.len(),
        other.len(),
        around(one),
        around(other)
    ))
}
