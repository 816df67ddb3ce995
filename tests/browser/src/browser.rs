//! One page in one browser.

use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use futures_util::StreamExt as _;
use serde_json::{Value, json};
use thirtyfour::bidi::events::LogEntryAdded;
use thirtyfour::common::capabilities::chromium::ChromiumLikeCapabilities as _;
use thirtyfour::prelude::*;
use thirtyfour::{ChromeCapabilities, LoggingPrefsLogLevel};

use crate::Outcome;
use crate::driver::Driver;
use crate::folder::{Folder, scratch, workspace};
use crate::looking::View;

/// How long a wait may take before the test fails. A limit, not an expectation.
const PATIENCE: Duration = Duration::from_secs(90);

/// How long rest must last to be one.
const SETTLES: Duration = Duration::from_millis(250);

/// How long an element that is to be pressed may take to come. A limit, not an expectation.
const COMES: Duration = Duration::from_secs(15);

/// A page, opened from disk in its own browser with a fresh profile.
#[derive(Debug)]
pub struct Browser {
    pub(crate) driver: WebDriver,
    _process: Driver,
    folder: Folder,
    downloads: Folder,
    said: Arc<Mutex<Vec<String>>>,
    page: PathBuf,
}

impl Browser {
    /// Opens `dist/wattsieve.html`, copied alone into an empty folder.
    ///
    /// **Errors** where the page was not built or the browser does not start.
    pub async fn open_empty_page() -> Outcome<Browser> {
        let page = workspace().join("dist/wattsieve.html");
        let text =
            std::fs::read(&page).map_err(|error| format!("{}: {error}; run cargo page", page.display()))?;
        Browser::open(&text).await
    }

    /// Opens a page with this text, alone in an empty folder.
    ///
    /// **Errors** where the browser does not start.
    pub async fn open(text: &[u8]) -> Outcome<Browser> {
        let (folder, downloads) = (Folder::new()?, Folder::new()?);
        let page = folder.write("page.html", text)?;
        let process = Driver::start(&scratch())?;
        let mut capabilities = ChromeCapabilities::new();
        for word in [
            "--headless=new",
            "--no-sandbox",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
            "--disable-dev-shm-usage",
            "--window-size=1440,900",
        ] {
            capabilities.add_arg(word)?;
        }
        let saving = json!({"download.default_directory": downloads.path(), "download.prompt_for_download": false,
            "profile.default_content_setting_values.automatic_downloads": 1});
        capabilities.add_experimental_option("prefs", saving)?;
        capabilities.set_browser_log_level(LoggingPrefsLogLevel::All)?;
        capabilities.enable_bidi()?;
        let driver = WebDriver::new(process.address(), capabilities).await?;
        driver.set_script_timeout(PATIENCE).await?;
        let said = Arc::new(Mutex::new(Vec::new()));
        let browser = Browser { driver, _process: process, folder, downloads, said, page };
        browser.listen().await?;
        browser.look(View::WIDE).await?;
        browser.driver.goto(format!("file://{}", browser.page.display())).await?;
        Ok(browser)
    }

    /// Console errors and warnings of page and worker, and refusals by the policy.
    async fn listen(&self) -> Outcome<()> {
        let bidi = self.driver.bidi().await?;
        let mut entries = bidi.subscribe::<LogEntryAdded>().await?;
        let said = Arc::clone(&self.said);
        tokio::spawn(async move {
            // Held here: the subscription ends with the handle.
            let _bidi = bidi;
            while let Some(entry) = entries.next().await {
                let level = format!("{:?}", entry.level).to_ascii_lowercase();
                if level.contains("error") || level.contains("warn") {
                    let line = format!("{level}: {}", entry.text.unwrap_or_default());
                    said.lock().unwrap_or_else(std::sync::PoisonError::into_inner).push(line);
                }
            }
        });
        let script = "globalThis.refusals = []; addEventListener('securitypolicyviolation', \
                      (event) => refusals.push(event.violatedDirective + ' ' + event.blockedURI));";
        self.cdp("Page.addScriptToEvaluateOnNewDocument", json!({"source": script})).await?;
        Ok(())
    }

    /// Everything that went wrong so far: console errors and warnings, uncaught exceptions of page
    /// and worker, refusals by the policy. Each is given once, shortened.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn complaints(&self) -> Outcome<Vec<String>> {
        let mut found: Vec<String> =
            std::mem::take(&mut *self.said.lock().map_err(|error| error.to_string())?);
        for entry in self.driver.browser_log().await? {
            if entry.level == "SEVERE" || entry.level == "WARNING" {
                found.push(format!("{}: {}", entry.level, entry.message));
            }
        }
        let refusals = self.run("return globalThis.refusals ? refusals.splice(0) : []", vec![]).await?;
        found.extend(refusals.as_array().into_iter().flatten().map(|line| format!("refused: {line}")));
        for line in &mut found {
            *line = line.chars().take(400).collect();
        }
        // A fault in a figure says the same at every drawing.
        found.sort();
        found.dedup();
        Ok(found)
    }

    /// Fails where anything went wrong since the last call.
    ///
    /// **Errors** the complaints.
    pub async fn expect_quiet(&self) -> Outcome<()> {
        let complaints = self.complaints().await?;
        if complaints.is_empty() { Ok(()) } else { Err(complaints.join("\n").into()) }
    }

    /// Runs a function body in the page; `arguments` are its arguments.
    ///
    /// **Errors** where it throws.
    pub async fn run(&self, script: &str, arguments: Vec<Value>) -> Outcome<Value> {
        Ok(self.driver.execute(script, arguments).await?.json().clone())
    }

    /// Runs the body of an async function in the page and waits for it.
    ///
    /// **Errors** where it throws.
    pub async fn run_async(&self, script: &str, arguments: Vec<Value>) -> Outcome<Value> {
        let wrapped = format!(
            "const done = arguments[arguments.length - 1]; const given = [...arguments].slice(0, -1);\
             (async function () {{ {script} }}).apply(null, given)\
             .then((value) => done({{ value }}), (error) => done({{ error: String(error?.stack ?? error) }}));"
        );
        let answer = self.driver.execute_async(wrapped, arguments).await?.json().clone();
        match answer.get("error") {
            Some(error) => Err(format!("the page threw: {error}").into()),
            None => Ok(answer.get("value").cloned().unwrap_or(Value::Null)),
        }
    }

    /// Asks fifty times a second until the expression is true in the page. A timer in the page would
    /// stall in the background.
    ///
    /// **Errors** where it never is; the message shows what the page shows.
    pub async fn wait_until(&self, what: &str, expression: &str) -> Outcome<()> {
        let start = Instant::now();
        let script = format!("return Boolean({expression})");
        while start.elapsed() < PATIENCE {
            if self.run(&script, vec![]).await? == Value::Bool(true) {
                return Ok(());
            }
            tokio::time::sleep(Duration::from_millis(20)).await;
        }
        let shows = self.run("return document.body.innerText.slice(0, 1500)", vec![]).await?;
        let complaints = self.complaints().await?;
        Err(format!("waited in vain for {what}. The page shows {shows}; it said {complaints:?}").into())
    }

    /// Waits until the page has asked its core nothing more, has no work left and has drawn it: then
    /// a picture shows what it will go on showing.
    ///
    /// **Errors** where it never comes to rest.
    pub async fn rest(&self) -> Outcome<()> {
        const AT_REST: &str = "(() => { const s = globalThis.wattsieve?.state(); \
            return s && s.core === 'ready' && !s.busy && !s.stale && s.asking === 0; })()";
        loop {
            self.wait_until("rest", AT_REST).await?;
            // Files just chosen may not have reached the page yet.
            tokio::time::sleep(SETTLES).await;
            let frames =
                "await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));";
            let still = self.run_async(&format!("{frames} return Boolean({AT_REST});"), vec![]).await?;
            if still == true {
                return Ok(());
            }
        }
    }

    /// Opens the page anew, as its user would; what was said so far stays to be looked at.
    ///
    /// **Errors** where it cannot be opened.
    pub async fn reopen(&self) -> Outcome<()> {
        Ok(self.driver.goto(format!("file://{}", self.page.display())).await?)
    }

    /// The first element of a selector; waits some seconds for one.
    ///
    /// **Errors** where there is none.
    pub async fn element(&self, selector: &str) -> Outcome<WebElement> {
        let start = Instant::now();
        loop {
            match self.driver.find(By::Css(selector)).await {
                Ok(element) => return Ok(element),
                Err(error) if start.elapsed() > COMES => return Err(format!("{selector}: {error}").into()),
                Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
            }
        }
    }

    /// Clicks the first element of a selector.
    ///
    /// **Errors** where it cannot be clicked.
    pub async fn click(&self, selector: &str) -> Outcome<()> {
        Ok(self.element(selector).await?.click().await?)
    }

    /// Clicks, with the pointer, the first visible element of a selector whose words or label hold
    /// this text; waits some seconds for one.
    ///
    /// **Errors** where there is none.
    pub async fn press(&self, selector: &str, text: &str) -> Outcome<()> {
        let script = "
            const holds = (e) => (e.innerText + ' ' + (e.getAttribute('aria-label') ?? '')).includes(arguments[1]);
            const found = [...document.querySelectorAll(arguments[0])].find((e) => e.getClientRects().length && holds(e));
            if (!found) return null;
            found.scrollIntoView({ block: 'center', inline: 'center', behavior: 'instant' });
            const box = found.getBoundingClientRect();
            return [box.x + box.width / 2, box.y + box.height / 2];";
        let start = Instant::now();
        let (x, y) = loop {
            let place = self.run(script, vec![json!(selector), json!(text)]).await?;
            if let (Some(x), Some(y)) = (place[0].as_f64(), place[1].as_f64()) {
                break (x, y);
            }
            if start.elapsed() > COMES {
                return Err(format!("there is no {selector} with the words {text:?}").into());
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        };
        self.mouse("mouseMoved", x, y, 0).await?;
        self.mouse("mousePressed", x, y, 1).await?;
        self.mouse("mouseReleased", x, y, 0).await
    }

    /// Sends keys to the first element of a selector, as a keyboard would.
    ///
    /// **Errors** where it takes none.
    pub async fn keys(&self, selector: &str, keys: impl Into<TypingData>) -> Outcome<()> {
        Ok(self.element(selector).await?.send_keys(keys).await?)
    }

    /// Types keys wherever the focus is.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn key(&self, keys: impl Into<TypingData>) -> Outcome<()> {
        Ok(self.driver.action_chain().send_keys(keys).perform().await?)
    }

    /// Moves the focus with the Tab key until an element of this selector, whose words or label hold
    /// this text, has it; at most 400 times.
    ///
    /// **Errors** where the focus never gets there.
    pub async fn tab_to(&self, selector: &str, text: &str) -> Outcome<()> {
        let there = "const e = document.activeElement; return e.matches(arguments[0]) && (e.innerText + ' ' + \
            (e.getAttribute('aria-label') ?? '') + ' ' + (e.parentElement?.innerText ?? '')).includes(arguments[1]);";
        for _ in 0..400 {
            if self.run(there, vec![json!(selector), json!(text)]).await? == Value::Bool(true) {
                return Ok(());
            }
            self.key(Key::Tab).await?;
        }
        let at = self.run("return document.activeElement.outerHTML.slice(0, 200)", vec![]).await?;
        Err(format!("no Tab leads to {selector} with the words {text:?}; the focus is on {at}").into())
    }

    /// Moves the pointer to a place in the view, CSS pixels from its top left.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn point_at(&self, x: f64, y: f64) -> Outcome<()> {
        self.mouse("mouseMoved", x, y, 0).await
    }

    /// Presses at one place, moves to another in steps and lets go.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn drag(&self, from: (f64, f64), to: (f64, f64)) -> Outcome<()> {
        self.mouse("mouseMoved", from.0, from.1, 0).await?;
        self.mouse("mousePressed", from.0, from.1, 1).await?;
        for step in 1..=8 {
            let share = f64::from(step) / 8.0;
            let at = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            self.mouse("mouseMoved", at.0, at.1, 1).await?;
        }
        self.mouse("mouseReleased", to.0, to.1, 0).await
    }

    async fn mouse(&self, kind: &str, x: f64, y: f64, buttons: u32) -> Outcome<()> {
        let button = if kind == "mouseMoved" && buttons == 0 { "none" } else { "left" };
        let words =
            json!({"type": kind, "x": x, "y": y, "button": button, "buttons": buttons, "clickCount": 1});
        self.cdp("Input.dispatchMouseEvent", words).await.map(|_| ())
    }

    /// Chooses files through the page's file input, as its picker would.
    ///
    /// **Errors** where there is no such input.
    pub async fn choose(&self, selector: &str, files: &[PathBuf]) -> Outcome<()> {
        let names: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
        self.keys(selector, names.join("\n")).await
    }

    /// Drops files on the first element of a selector. Their bytes are handed to the page, which
    /// makes `File`s of them; for large ones use [`Browser::choose`].
    ///
    /// **Errors** where a file cannot be read.
    pub async fn drop_files(&self, selector: &str, files: &[PathBuf]) -> Outcome<()> {
        let mut given = Vec::new();
        for file in files {
            let name = file.file_name().unwrap_or_default().to_string_lossy().into_owned();
            given.push(json!({"name": name, "bytes": STANDARD.encode(std::fs::read(file)?)}));
        }
        let script = "const target = document.querySelector(arguments[0]); const dropped = new DataTransfer();
            for (const { name, bytes } of arguments[1])
              dropped.items.add(new File([Uint8Array.from(atob(bytes), (c) => c.charCodeAt(0))], name));
            const box = target.getBoundingClientRect();
            for (const type of ['dragenter', 'dragover', 'drop'])
              target.dispatchEvent(new DragEvent(type, { dataTransfer: dropped, bubbles: true, cancelable: true,
                clientX: box.x + box.width / 2, clientY: box.y + box.height / 2 }));";
        self.run(script, vec![json!(selector), json!(given)]).await.map(|_| ())
    }

    /// Drops files or folders from the disk in the middle of the view, as a hand would.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn drop_from_disk(&self, paths: &[PathBuf]) -> Outcome<()> {
        let files: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
        for kind in ["dragEnter", "dragOver", "drop"] {
            let words = json!({"type": kind, "x": 600, "y": 400,
                "data": {"items": [], "files": files, "dragOperationsMask": 1}});
            self.cdp("Input.dispatchDragEvent", words).await?;
        }
        Ok(())
    }

    /// Presses keys one after the other on whatever has the focus, as a keyboard would: `Tab`,
    /// `Enter`, `ArrowDown`, ` `, single letters.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn strike(&self, keys: &[&str]) -> Outcome<()> {
        for key in keys {
            let (control, key) = key.strip_prefix("Control+").map_or((0, *key), |rest| (2, rest));
            let (code, number, text) = match key {
                "Tab" => ("Tab".to_owned(), 9, ""),
                "Enter" => ("Enter".to_owned(), 13, "\r"),
                "Escape" => ("Escape".to_owned(), 27, ""),
                "ArrowDown" => ("ArrowDown".to_owned(), 40, ""),
                "ArrowUp" => ("ArrowUp".to_owned(), 38, ""),
                " " => ("Space".to_owned(), 32, " "),
                letter => {
                    let upper = letter.to_ascii_uppercase();
                    (format!("Key{upper}"), u32::from(upper.as_bytes()[0]), letter)
                }
            };
            let text = if control == 0 { text } else { "" };
            let mut words = json!({"type": if text.is_empty() { "rawKeyDown" } else { "keyDown" }, "key": key,
                "code": code, "windowsVirtualKeyCode": number, "modifiers": control});
            if !text.is_empty() {
                words["text"] = json!(text);
            }
            self.cdp("Input.dispatchKeyEvent", words.clone()).await?;
            words["type"] = json!("keyUp");
            self.cdp("Input.dispatchKeyEvent", words).await?;
        }
        Ok(())
    }

    /// Waits for the next finished download; gives its path.
    ///
    /// **Errors** where none comes.
    pub async fn downloaded(&self) -> Outcome<PathBuf> {
        let start = Instant::now();
        while start.elapsed() < PATIENCE {
            let entries = std::fs::read_dir(self.downloads.path())?;
            let files: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
            let partial = |path: &PathBuf| {
                let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
                name.ends_with(".crdownload") || name.starts_with('.')
            };
            if let [file] = files.as_slice()
                && !partial(file)
            {
                let kept = self.folder.path().join("downloaded");
                std::fs::create_dir_all(&kept)?;
                let to = kept.join(file.file_name().unwrap_or_default());
                std::fs::rename(file, &to)?;
                return Ok(to);
            }
            tokio::time::sleep(Duration::from_millis(50)).await;
        }
        let left = std::fs::read_dir(self.downloads.path())?.flatten().map(|entry| entry.file_name());
        let left: Vec<_> = left.collect();
        let shows = self.run("return document.body.innerText.slice(0, 800)", vec![]).await?;
        let complaints = self.complaints().await?;
        Err(format!("no download came, only {left:?}. The page shows {shows}; it said {complaints:?}").into())
    }

    /// Sends a command of the browser's debugging protocol.
    pub(crate) async fn cdp(&self, command: &str, words: Value) -> Outcome<Value> {
        Ok(self.driver.cdp().send_raw(command, words).await?)
    }

    /// The folder in which the page lies.
    pub fn folder(&self) -> &Folder {
        &self.folder
    }

    /// Ends the browser after a last look at its complaints.
    ///
    /// **Errors** the complaints.
    pub async fn close(self) -> Outcome<()> {
        self.expect_quiet().await?;
        self.driver.quit().await?;
        Ok(())
    }
}
