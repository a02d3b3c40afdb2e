//! A small client for a real browser, headless: the W3C WebDriver protocol over a plain socket, and a served plate to look at.
//! `./test.sh` brings chromium and its driver; screenshots go to the folder that SCREENSHOTS names.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]
#![expect(clippy::allow_attributes, reason = "a file of tests that uses all of it has no dead code to expect")]
#![allow(dead_code, reason = "each file of tests uses some of it")]

use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// The key of an element's reference (W3C WebDriver, section 11).
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

/// A browser with a session of its own; ended when dropped.
pub(crate) struct Browser {
    driver: Child,
    port: u16,
    session: String,
    profile: TempDir,
}

/// A served folder; ended when dropped.
pub(crate) struct Served {
    child: Child,
    /// What lets the browser in.
    pub(crate) address: String,
    /// What it said when it was ready.
    pub(crate) said: Value,
    /// What it says afterwards.
    pub(crate) out: BufReader<ChildStdout>,
    pub(crate) folder: TempDir,
}

impl Served {
    /// The demo's plate in a folder of its own.
    pub(crate) fn demo() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("plate.toml"), include_str!("../../demo/plate.toml")).unwrap();
        fs::write(at("door-plate.svg"), include_str!("../../demo/door-plate.svg")).unwrap();
        fs::write(at("shop.toml"), intake::STARTER_SHOP).unwrap();
        Self::of(folder, &["page", "plate.toml"])
    }

    /// The small plate that a new folder starts with: proven soon.
    pub(crate) fn small() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("plate.toml"), include_str!("../../demo/new/plate.toml")).unwrap();
        fs::write(at("drawing.svg"), include_str!("../../demo/new/drawing.svg")).unwrap();
        fs::write(at("shop.toml"), intake::STARTER_SHOP).unwrap();
        Self::of(folder, &["page", "plate.toml"])
    }

    /// A folder, served by the words of a command; none for what the program does by itself.
    pub(crate) fn of(folder: TempDir, words: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .args(words)
            .args(["--no-browser", "--json"])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut text = String::new();
        while !text.ends_with("}\n") {
            assert!(out.read_line(&mut text).unwrap() > 0, "{text}");
        }
        let said: Value = serde_json::from_str(&text).unwrap();
        Self { child, address: said["address"].as_str().unwrap().to_owned(), said, out, folder }
    }

    /// Killed, and served again by other words or the same.
    pub(crate) fn again(mut self, words: &[&str]) -> Self {
        self.end();
        let folder = std::mem::replace(&mut self.folder, tempfile::tempdir().unwrap());
        Self::of(folder, words)
    }

    /// The folder, and the server ended.
    pub(crate) fn into_folder(mut self) -> TempDir {
        self.end();
        std::mem::replace(&mut self.folder, tempfile::tempdir().unwrap())
    }

    fn end(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }

    /// The number of its process.
    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// The plate file.
    pub(crate) fn plate(&self) -> PathBuf {
        self.folder.path().join("plate.toml")
    }

    /// What every address of it begins with.
    pub(crate) fn own(&self) -> &str {
        self.address.split("/?").next().unwrap()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.end();
    }
}

impl Browser {
    /// A session of which the page is so large, in a light room or a dark one.
    pub(crate) fn new(width: u32, height: u32, dark: bool) -> Self {
        let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let driver = Command::new("chromedriver")
            .arg(format!("--port={port}"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let profile = tempfile::tempdir().unwrap();
        let mut browser = Self { driver, port, session: String::new(), profile };
        let began = Instant::now();
        while TcpStream::connect(("127.0.0.1", port)).is_err() {
            assert!(began.elapsed() < Duration::from_secs(30), "the driver does not start");
            std::thread::sleep(Duration::from_millis(50));
        }
        let mut args = vec![
            "--headless=new".to_owned(),
            "--no-sandbox".into(),
            "--disable-gpu".into(),
            "--disable-dev-shm-usage".into(),
            "--hide-scrollbars".into(),
            "--disable-background-networking".into(),
            "--disable-component-update".into(),
            "--disable-sync".into(),
            "--no-first-run".into(),
            format!("--user-data-dir={}", browser.profile.path().display()),
        ];
        if dark {
            args.push("--blink-settings=preferredColorScheme=0".into());
        }
        let wanted = json!({ "capabilities": { "alwaysMatch": {
            "goog:chromeOptions": { "args": args },
            "goog:loggingPrefs": { "browser": "ALL", "performance": "ALL" },
        } } });
        let made = browser.ask("POST", "/session", Some(&wanted));
        browser.session = format!("/session/{}", made["sessionId"].as_str().unwrap());
        browser.size(width, height);
        browser
    }

    fn ask(&self, method: &str, path: &str, body: Option<&Value>) -> Value {
        let body = body.map(Value::to_string).unwrap_or_default();
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        write!(
            stream,
            "{method} {path} HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nContent-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            self.port,
            body.len()
        )
        .unwrap();
        // The driver keeps the connection open whatever it is asked, so the length tells where the answer ends.
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let mut reader = BufReader::new(stream);
        let mut length = 0;
        loop {
            let mut line = String::new();
            assert!(reader.read_line(&mut line).unwrap() > 0, "the driver closed without an answer to {path}");
            if line.trim().is_empty() {
                break;
            }
            if let Some((name, value)) = line.split_once(':')
                && name.eq_ignore_ascii_case("content-length")
            {
                length = value.trim().parse().unwrap();
            }
        }
        let mut bytes = vec![0; length];
        reader.read_exact(&mut bytes).unwrap();
        let reply: Value = serde_json::from_slice(&bytes).unwrap();
        assert!(reply["value"]["error"].is_null(), "{path}: {}", reply["value"]);
        reply["value"].clone()
    }

    pub(crate) fn to(&self, path: &str, body: &Value) -> Value {
        self.ask("POST", &format!("{}{path}", self.session), Some(body))
    }

    /// The size of what is seen of the page, pixels.
    pub(crate) fn size(&self, width: u32, height: u32) {
        let metrics = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.to("/goog/cdp/execute", &json!({ "cmd": "Emulation.setDeviceMetricsOverride", "params": metrics }));
    }

    /// Goes to an address.
    pub(crate) fn open(&self, address: &str) {
        self.to("/url", &json!({ "url": address }));
    }

    /// What a script comes to on the page.
    pub(crate) fn run(&self, script: &str) -> Value {
        self.to("/execute/sync", &json!({ "script": script, "args": [] }))
    }

    /// The text of the first element that a selector finds.
    pub(crate) fn text(&self, selector: &str) -> String {
        let script = format!("return document.querySelector({selector:?})?.textContent ?? ''");
        self.run(&script).as_str().unwrap_or_default().to_owned()
    }

    /// A click on it.
    pub(crate) fn click(&self, selector: &str) {
        let found = self.to("/element", &json!({ "using": "css selector", "value": selector }));
        self.to(&format!("/element/{}/click", found[ELEMENT].as_str().unwrap()), &json!({}));
    }

    /// Types into whatever has the keyboard, as a maker would.
    pub(crate) fn keys(&self, keys: &[&str]) {
        let press = keys
            .iter()
            .flat_map(|k| [json!({ "type": "keyDown", "value": k }), json!({ "type": "keyUp", "value": k })]);
        let actions = json!({ "actions": [{ "type": "key", "id": "keys", "actions": press.collect::<Vec<_>>() }] });
        self.to("/actions", &actions);
    }

    /// Types a text.
    pub(crate) fn write(&self, words: &str) {
        let each: Vec<String> = words.chars().map(String::from).collect();
        self.keys(&each.iter().map(String::as_str).collect::<Vec<_>>());
    }

    /// Waits until a script comes to true.
    pub(crate) fn until(&self, what: &str, script: &str) {
        let began = Instant::now();
        while self.run(script) != json!(true) {
            assert!(began.elapsed() < Duration::from_secs(120), "{what}: {}", self.text("main"));
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Waits for a verdict with its picture.
    pub(crate) fn proven(&self, verdict: &str) {
        self.until(verdict, &format!("return document.querySelector('#verdict').textContent === {verdict:?} && !document.querySelector('#plate').classList.contains('stale')"));
    }

    /// The whole page as PNG in the folder for screenshots, if one is named.
    pub(crate) fn picture(&self, name: &str) {
        let Some(folder) = std::env::var_os("SCREENSHOTS") else { return };
        std::thread::sleep(Duration::from_millis(700));
        let params =
            json!({ "cmd": "Page.captureScreenshot", "params": { "captureBeyondViewport": true, "format": "png" } });
        let taken = self.to("/goog/cdp/execute", &params);
        fs::create_dir_all(&folder).unwrap();
        fs::write(Path::new(&folder).join(format!("{name}.png")), decoded(taken["data"].as_str().unwrap())).unwrap();
    }

    /// No error in the console, and no request to anywhere but the page's own address.
    ///
    /// What is turned down the browser logs as a failed request; `turned_down` names the paths of which that was wanted.
    pub(crate) fn kept_to_itself(&self, own: &str, turned_down: &[&str]) {
        let log = |kind: &str| self.to("/se/log", &json!({ "type": kind })).as_array().cloned().unwrap();
        let wanted = |e: &Value| {
            let says = e["message"].as_str().unwrap_or_default();
            turned_down.iter().any(|path| says.contains(path))
                && ["401", "409", "422"].iter().any(|status| says.contains(status))
        };
        let errors: Vec<Value> = log("browser").into_iter().filter(|e| e["level"] == "SEVERE" && !wanted(e)).collect();
        assert!(errors.is_empty(), "{errors:#?}");
        let mut asked = 0;
        for entry in log("performance") {
            let message: Value = serde_json::from_str(entry["message"].as_str().unwrap()).unwrap();
            if message["message"]["method"] == "Network.requestWillBeSent" {
                let url = message["message"]["params"]["request"]["url"].as_str().unwrap();
                // The browser's own empty page, before the first address was opened, is no request to anywhere.
                if url.starts_with("chrome://") {
                    continue;
                }
                assert!(url.starts_with(own) || url.starts_with("data:"), "{url}");
                asked += 1;
            }
        }
        assert!(asked > 5, "the log of requests is not kept");
    }

    /// What the accessibility checker finds on the page as it stands there, as its rules and places: serious and critical findings
    /// only. `npm ci` in tests/web brings the checker.
    pub(crate) fn found_inaccessible(&self) -> Vec<String> {
        let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/web/node_modules/axe-core/axe.min.js");
        let source =
            fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}; `npm ci` in tests/web", file.display()));
        self.run(&format!("{source}; return true"));
        let script = "const done = arguments[arguments.length - 1];
            axe.run(document, { resultTypes: ['violations'] }).then((r) => done({ checked: r.passes.length, found: r.violations
                .filter((v) => v.impact === 'serious' || v.impact === 'critical')
                .flatMap((v) => v.nodes.map((n) => v.id + ' at ' + n.target.join(' ') + ': ' + (n.failureSummary ?? ''))) }),
                (e) => done({ checked: 0, found: [String(e)] }))";
        let made = self.to("/execute/async", &json!({ "script": script, "args": [] }));
        assert!(made["checked"].as_u64().is_some_and(|n| n > 10), "the checker checked nothing: {made}");
        made["found"].as_array().unwrap().iter().map(|f| f.as_str().unwrap().to_owned()).collect()
    }

    /// Nothing serious is found by the accessibility checker.
    pub(crate) fn accessible(&self, what: &str) {
        let found = self.found_inaccessible();
        assert!(found.is_empty(), "{what}: {found:#?}");
    }

    /// Nothing stands out beyond the page's width.
    pub(crate) fn no_sideways(&self) {
        let wide = "const w = document.documentElement.clientWidth; return [...document.querySelectorAll('main *:not(svg *)')]\
                    .filter(e => { const b = e.getBoundingClientRect(); return b.width > 0 && (b.right > w + 1 || b.left < -1) })\
                    .map(e => e.tagName + '#' + e.id + ' ' + e.textContent.slice(0, 40))";
        assert_eq!(self.run(wide), json!([]));
        assert_eq!(self.run("return document.documentElement.scrollWidth <= innerWidth"), json!(true));
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        if !self.session.is_empty()
            && let Ok(mut stream) = TcpStream::connect(("127.0.0.1", self.port))
        {
            let _ = write!(stream, "DELETE {} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n", self.session);
            let _ = stream.set_read_timeout(Some(Duration::from_secs(5)));
            let _ = stream.read(&mut [0; 256]);
        }
        let _ = self.driver.kill();
        let _ = self.driver.wait();
    }
}

/// Base64 (RFC 4648, section 4).
fn decoded(text: &str) -> Vec<u8> {
    let six = |c: u8| -> Option<u32> {
        let alphabet = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
        alphabet.iter().position(|&a| a == c).map(|p| p as u32)
    };
    let (mut bytes, mut held, mut bits) = (Vec::new(), 0u32, 0);
    for value in text.bytes().filter_map(six) {
        held = (held << 6) | value;
        bits += 6;
        if bits >= 8 {
            bits -= 8;
            bytes.push((held >> bits) as u8);
            held &= (1 << bits) - 1;
        }
    }
    bytes
}

pub(crate) const TAB: &str = "\u{e004}";
pub(crate) const ENTER: &str = "\u{e007}";
pub(crate) const ESCAPE: &str = "\u{e00c}";
pub(crate) const RIGHT: &str = "\u{e014}";
