//! The empty page.

use wattsieve_browser_tests::{Browser, Outcome, View};

#[tokio::test(flavor = "multi_thread")]
async fn the_empty_page_opens_without_a_complaint() -> Outcome<()> {
    let browser = Browser::open_empty_page().await?;
    browser.wait_until("the empty bench", "document.body.innerText.trim().length > 20").await?;
    browser.shot("empty-wide").await?;
    for (view, name) in [(View::DARK, "empty-dark"), (View::PHONE, "empty-phone")] {
        browser.look(view).await?;
        let wider = "return document.documentElement.scrollWidth - innerWidth";
        assert!(browser.run(wider, vec![]).await?.as_f64() <= Some(0.0), "{name} scrolls sideways");
        browser.shot(name).await?;
    }
    browser.close().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_module_runs_on_the_page_and_in_a_worker() -> Outcome<()> {
    let browser = Browser::open_empty_page().await?;
    let script = "
        const block = document.getElementById('code-wasm');
        const packed = Uint8Array.from(atob(block.textContent.trim()), (c) => c.charCodeAt(0));
        const unpacked = new Blob([packed]).stream().pipeThrough(new DecompressionStream('deflate-raw'));
        const bytes = await new Response(unpacked).arrayBuffer();
        const module = await WebAssembly.compile(bytes);
        wasm_bindgen.initSync({ module });
        const text = document.getElementById('code-glue').textContent +
          '\\nonmessage = (event) => { wasm_bindgen.initSync({ module: event.data }); postMessage(\"ready\"); };';
        const worker = new Worker(URL.createObjectURL(new Blob([text])));
        const answer = new Promise((resolve) => { worker.onmessage = (event) => resolve(event.data); });
        worker.postMessage(module);
        return [await answer, bytes.byteLength, Number(block.dataset.bytes)];";
    let answer = browser.run_async(script, vec![]).await?;
    assert_eq!(answer[0], "ready");
    assert_eq!(answer[1], answer[2]);
    browser.close().await
}
