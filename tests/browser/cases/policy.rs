//! Nothing leaves the machine.

use std::time::Duration;

use serde_json::json;
use wattsieve_browser_tests::{Browser, CountingServer, Outcome, workspace};

/// Tries every way out that a script in the page has. Each attempt fails quietly: the server counts.
const ATTEMPTS: &str = r#"
    const host = arguments[0];
    const at = (name) => "http://" + host + "/" + name;
    const attempt = (work) => { try { Promise.resolve(work()).catch(() => {}); } catch {} };
    const add = (name, values) => attempt(() => {
      const element = document.createElement(name);
      for (const key of Object.keys(values)) element[key] = values[key];
      document.body.append(element);
    });
    attempt(() => fetch(at("fetch")));
    attempt(() => fetch(at("no-cors"), { mode: "no-cors", method: "POST", body: "x", keepalive: true }));
    attempt(() => { const request = new XMLHttpRequest(); request.open("GET", at("xhr")); request.send(); });
    attempt(() => new WebSocket("ws://" + host + "/socket"));
    attempt(() => new EventSource(at("events")));
    attempt(() => navigator.sendBeacon(at("beacon"), "x"));
    attempt(() => { new Image().src = at("image"); });
    attempt(() => new Worker(at("worker")));
    attempt(() => new SharedWorker(at("shared-worker")));
    attempt(() => import(at("module.js")));
    add("img", { src: at("img") });
    add("iframe", { src: at("frame") });
    add("embed", { src: at("embed") });
    add("object", { data: at("object") });
    add("video", { src: at("video") });
    add("audio", { src: at("audio") });
    add("script", { src: at("script.js") });
    add("link", { rel: "stylesheet", href: at("style.css") });
    add("link", { rel: "prefetch", href: at("prefetch") });
    add("link", { rel: "preload", as: "image", href: at("preload") });
    add("link", { rel: "icon", href: at("icon") });
    add("link", { rel: "manifest", href: at("manifest") });
    attempt(() => document.fonts.add(new FontFace("x", "url(" + at("font") + ")")));
    attempt(() => new FontFace("y", "url(" + at("font-load") + ")").load());
    attempt(() => { document.body.style.backgroundImage = "url(" + at("background") + ")"; });
    attempt(() => {
      const form = document.createElement("form");
      const frame = document.createElement("iframe");
      frame.name = "target";
      document.body.append(frame, form);
      form.action = at("form");
      form.target = "target";
      form.submit();
    });
    attempt(() => {
      const text = 'fetch("' + at("from-worker") + '").catch(() => {}); new WebSocket("ws://' + host + '/w");';
      new Worker(URL.createObjectURL(new Blob([text])));
    });
    attempt(() => {
      const peer = new RTCPeerConnection({ iceServers: [{ urls: "turn:" + host + "?transport=tcp", username: "u", credential: "c" }] });
      peer.createDataChannel("x");
      return peer.createOffer().then((offer) => peer.setLocalDescription(offer));
    });
"#;

async fn calls_from(page: &str) -> Outcome<Vec<String>> {
    let server = CountingServer::start()?;
    let browser = Browser::open(page.as_bytes()).await?;
    // From a timer: what the driver runs by itself is partly freed from the policy.
    let later =
        format!("const given = arguments; setTimeout(function () {{ {ATTEMPTS} }}.bind(null, ...given), 0)");
    browser.run(&later, vec![json!(server.address())]).await?;
    tokio::time::sleep(Duration::from_secs(3)).await;
    Ok(server.calls())
}

/// The policy's element, cut out.
fn without_policy(page: &str) -> Option<String> {
    let (before, rest) = page.split_once("<meta http-equiv=\"Content-Security-Policy\"")?;
    let (_, after) = rest.split_once('>')?;
    Some(format!("{before}{after}"))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_script_inside_the_page_reaches_no_server() -> Outcome<()> {
    let page = std::fs::read_to_string(workspace().join("dist/wattsieve.html"))?;
    assert_eq!(calls_from(&page).await?, Vec::<String>::new());
    let control = calls_from(&without_policy(&page).ok_or("the page has no policy")?).await?;
    assert!(control.len() > 5, "without the policy the same script reached the server only by {control:?}");
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn what_no_policy_covers_is_removed_or_refused() -> Outcome<()> {
    let browser = Browser::open_empty_page().await?;
    let left = "return ['RTCPeerConnection', 'webkitRTCPeerConnection', 'mozRTCPeerConnection']\
                .filter((name) => name in globalThis)";
    assert_eq!(browser.run(left, vec![]).await?, json!([]));
    let links = "return [...document.querySelectorAll('a[href], link[href], form[action]')]\
                 .map((e) => e.getAttribute('href') ?? e.getAttribute('action'))\
                 .filter((address) => !/^(#|data:|blob:)/.test(address))";
    assert_eq!(browser.run(links, vec![]).await?, json!([]));
    browser.expect_quiet().await?;
    // Text as markup and text as code: each must throw or stay without effect.
    let script = "
        const tried = [];
        const attempt = (name, work) => { try { work(); } catch { tried.push(name); } };
        globalThis.ran = false;
        attempt('markup', () => { document.body.innerHTML = '<img src=x onerror=\"ran = true\">'; });
        attempt('eval', () => { (0, eval)('ran = true'); });
        attempt('function', () => { new Function('ran = true')(); });
        attempt('timer', () => { setTimeout('ran = true', 0); });
        const element = document.createElement('p');
        attempt('handler', () => { element.setAttribute('onclick', 'ran = true'); });
        element.click();
        return [ran, tried];";
    // From a timer: what the driver runs by itself may use eval.
    let later = format!(
        "return await new Promise((resolve) => setTimeout(() => resolve((() => {{ {script} }})()), 0));"
    );
    let answer = browser.run_async(&later, vec![]).await?;
    assert_eq!(answer[0], false);
    assert!(answer[1].as_array().is_some_and(|tried| tried.len() >= 3), "{answer}");
    tokio::time::sleep(Duration::from_millis(200)).await;
    assert_eq!(browser.run("return ran", vec![]).await?, false);
    Ok(())
}
