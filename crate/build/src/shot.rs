//! A picture of a page in headless Chromium, for looking at one's work.

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::Duration;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};

struct Options {
    page: PathBuf,
    picture: PathBuf,
    size: (u32, u32),
    dark: bool,
    wait: Duration,
    /// What is done before the picture, in order: a file to choose, or an element to click.
    acts: Vec<Act>,
}

enum Act {
    Choose(Vec<PathBuf>),
    Click(String),
    Run(String),
}

const USAGE: &str = "\
shot FILE.html OUT.png [--size 1440x900] [--dark] [--wait MS] [--choose LOG,LOG] [--click SELECTOR] [--run SCRIPT]";

/// Opens the page, does what is asked, writes the picture and prints what the console said.
///
/// **Errors** a sentence.
pub(crate) fn run(words: &[&str]) -> Result<(), String> {
    let options = options(words)?;
    let driver = Driver::start()?;
    let session = Session::open(driver, &options)?;
    session.take(&options)
}

fn options(words: &[&str]) -> Result<Options, String> {
    let mut paths = Vec::new();
    let (mut size, mut dark, mut wait, mut acts) = ((1440, 900), false, 1500, Vec::new());
    let absolute = |path: &str| std::path::absolute(path).map_err(|error| format!("{path}: {error}."));
    let mut words = words.iter();
    while let Some(&word) = words.next() {
        let mut value = || words.next().copied().ok_or_else(|| format!("{word} wants a value.\n{USAGE}"));
        match word {
            "--dark" => dark = true,
            "--size" => {
                let (width, height) = value()?.split_once('x').ok_or(USAGE)?;
                size = (width.parse().map_err(|_| USAGE)?, height.parse().map_err(|_| USAGE)?);
            }
            "--wait" => wait = value()?.parse().map_err(|_| USAGE)?,
            "--choose" => {
                acts.push(Act::Choose(value()?.split(',').map(absolute).collect::<Result<_, _>>()?));
            }
            "--click" => acts.push(Act::Click(value()?.to_owned())),
            "--run" => acts.push(Act::Run(value()?.to_owned())),
            path => paths.push(absolute(path)?),
        }
    }
    match <[PathBuf; 2]>::try_from(paths) {
        Ok([page, picture]) => {
            Ok(Options { page, picture, size, dark, wait: Duration::from_millis(wait), acts })
        }
        Err(_) => Err(USAGE.to_owned()),
    }
}

/// A chromedriver in its own process group, so that the browser goes with it.
struct Driver {
    child: Child,
    port: u16,
    _output: BufReader<ChildStdout>,
}

impl Driver {
    fn start() -> Result<Driver, String> {
        let mut command = Command::new("chromedriver");
        command.arg("--port=0").stdout(Stdio::piped()).stderr(Stdio::null()).process_group(0);
        let mut child = command.spawn().map_err(|error| {
            format!("chromedriver could not be started ({error}). Type:\n  apt-get install -y chromium chromium-driver")
        })?;
        let mut output = BufReader::new(child.stdout.take().ok_or("chromedriver has no output.")?);
        let mut line = String::new();
        while output.read_line(&mut line).map_err(|error| error.to_string())? > 0 {
            if let Some(port) =
                line.split("on port ").nth(1).and_then(|rest| rest.trim_end().strip_suffix('.'))
            {
                let port = port.parse().map_err(|_| format!("chromedriver said: {line}"))?;
                return Ok(Driver { child, port, _output: output });
            }
            line.clear();
        }
        Err("chromedriver ended before it listened.".to_owned())
    }

    /// One WebDriver request; gives its `value`.
    fn ask(&self, method: &str, path: &str, body: &Value) -> Result<Value, String> {
        let text = if body.is_null() { String::new() } else { body.to_string() };
        let exchange = || -> std::io::Result<Vec<u8>> {
            let mut stream = TcpStream::connect(("127.0.0.1", self.port))?;
            write!(
                stream,
                "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\
                 Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{text}",
                text.len()
            )?;
            let mut reader = BufReader::new(stream);
            let (mut line, mut length) = (String::new(), 0);
            while reader.read_line(&mut line)? > 2 {
                if let Some(value) = line.to_ascii_lowercase().strip_prefix("content-length:") {
                    length = value.trim().parse().unwrap_or(0);
                }
                line.clear();
            }
            let mut answer = vec![0; length];
            reader.read_exact(&mut answer)?;
            Ok(answer)
        };
        let answer = exchange().map_err(|error| format!("chromedriver does not answer: {error}."))?;
        let answer: Value = serde_json::from_slice(&answer).map_err(|error| error.to_string())?;
        let value = answer["value"].clone();
        match value.get("error") {
            Some(error) => Err(format!("The browser says {error}: {}", value["message"])),
            None => Ok(value),
        }
    }
}

impl Drop for Driver {
    fn drop(&mut self) {
        // The group holds only this driver and the browser it started.
        let _ = Command::new("kill").args(["-KILL", "--", &format!("-{}", self.child.id())]).status();
        let _ = self.child.wait();
    }
}

struct Session {
    driver: Driver,
    path: String,
}

impl Session {
    fn open(driver: Driver, options: &Options) -> Result<Session, String> {
        let (width, height) = options.size;
        let capabilities = json!({"capabilities": {"alwaysMatch": {
            "browserName": "chrome",
            "goog:loggingPrefs": {"browser": "ALL"},
            "goog:chromeOptions": {"args": [
                "--headless=new", "--no-sandbox", "--disable-background-networking", "--disable-component-update",
                "--disable-sync", "--no-first-run", format!("--window-size={},{height}", width.max(500)),
            ]},
        }}});
        let opened = driver.ask("POST", "/session", &capabilities)?;
        let id = opened["sessionId"].as_str().ok_or("The browser gave no session.")?;
        Ok(Session { path: format!("/session/{id}"), driver })
    }

    fn post(&self, path: &str, body: &Value) -> Result<Value, String> {
        self.driver.ask("POST", &format!("{}/{path}", self.path), body)
    }

    fn take(&self, options: &Options) -> Result<(), String> {
        let (width, height) = options.size;
        let cdp = |command: &str, words: Value| {
            self.post("goog/cdp/execute", &json!({"cmd": command, "params": words}))
        };
        let metrics =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600});
        cdp("Emulation.setDeviceMetricsOverride", metrics)?;
        let scheme = if options.dark { "dark" } else { "light" };
        cdp(
            "Emulation.setEmulatedMedia",
            json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]}),
        )?;
        self.post("url", &json!({"url": format!("file://{}", options.page.display())}))?;
        std::thread::sleep(options.wait);
        for act in &options.acts {
            match act {
                Act::Choose(files) => {
                    let input = self.element("input[type=file]")?;
                    let names: Vec<String> = files.iter().map(|file| file.display().to_string()).collect();
                    self.post(&format!("element/{input}/value"), &json!({"text": names.join("\n")}))?;
                }
                Act::Click(selector) => {
                    let element = self.element(selector)?;
                    self.post(&format!("element/{element}/click"), &json!({}))?;
                }
                Act::Run(script) => {
                    let answer = self.post("execute/sync", &json!({"script": script, "args": []}))?;
                    println!("{answer}");
                }
            }
            std::thread::sleep(options.wait);
        }
        let picture = self.driver.ask("GET", &format!("{}/screenshot", self.path), &Value::Null)?;
        let picture =
            STANDARD.decode(picture.as_str().unwrap_or_default()).map_err(|error| error.to_string())?;
        write(&options.picture, &picture)?;
        let log = self.post("se/log", &json!({"type": "browser"}))?;
        for entry in log.as_array().into_iter().flatten() {
            println!(
                "console {}: {}",
                entry["level"].as_str().unwrap_or("?"),
                entry["message"].as_str().unwrap_or("?")
            );
        }
        self.driver.ask("DELETE", &self.path, &Value::Null).map(|_| ())
    }

    fn element(&self, selector: &str) -> Result<String, String> {
        let found = self.post("element", &json!({"using": "css selector", "value": selector}))?;
        let id = found.as_object().and_then(|object| object.values().next()).and_then(Value::as_str);
        id.map(str::to_owned).ok_or_else(|| format!("No element {selector}."))
    }
}

fn write(path: &Path, bytes: &[u8]) -> Result<(), String> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|error| format!("{}: {error}.", folder.display()))?;
    }
    std::fs::write(path, bytes).map_err(|error| format!("{}: {error}.", path.display()))
}
