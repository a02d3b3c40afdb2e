//! The bench page in a real browser, headless: driven by the W3C WebDriver protocol over a plain socket. `./test.sh` brings
//! chromium and its driver; screenshots go to the folder that SCREENSHOTS names.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use serde_json::{Value, json};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// The key of an element's reference (W3C WebDriver, section 11).
const ELEMENT: &str = "element-6066-11e4-a52e-4f735466cecf";

struct Browser {
    driver: Child,
    port: u16,
    session: String,
    profile: TempDir,
}

struct Served {
    child: Child,
    address: String,
    folder: TempDir,
}

impl Served {
    fn demo() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("plate.toml"), include_str!("../demo/plate.toml")).unwrap();
        fs::write(at("door-plate.svg"), include_str!("../demo/door-plate.svg")).unwrap();
        fs::write(at("shop.toml"), intake::STARTER_SHOP).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .args(["page", "plate.toml", "--no-browser", "--json"])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut said = String::new();
        while !said.ends_with("}\n") {
            assert!(out.read_line(&mut said).unwrap() > 0, "{said}");
        }
        let said: Value = serde_json::from_str(&said).unwrap();
        Self { child, address: said["address"].as_str().unwrap().to_owned(), folder }
    }

    fn plate(&self) -> PathBuf {
        self.folder.path().join("plate.toml")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl Browser {
    fn new(width: u32, height: u32, dark: bool) -> Self {
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

    fn to(&self, path: &str, body: &Value) -> Value {
        self.ask("POST", &format!("{}{path}", self.session), Some(body))
    }

    /// The size of what is seen of the page, pixels.
    fn size(&self, width: u32, height: u32) {
        let metrics = json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.to("/goog/cdp/execute", &json!({ "cmd": "Emulation.setDeviceMetricsOverride", "params": metrics }));
    }

    fn open(&self, address: &str) {
        self.to("/url", &json!({ "url": address }));
    }

    fn run(&self, script: &str) -> Value {
        self.to("/execute/sync", &json!({ "script": script, "args": [] }))
    }

    fn text(&self, selector: &str) -> String {
        let script = format!("return document.querySelector({selector:?})?.textContent ?? ''");
        self.run(&script).as_str().unwrap_or_default().to_owned()
    }

    fn click(&self, selector: &str) {
        let found = self.to("/element", &json!({ "using": "css selector", "value": selector }));
        self.to(&format!("/element/{}/click", found[ELEMENT].as_str().unwrap()), &json!({}));
    }

    /// Types into whatever has the keyboard, as a maker would.
    fn keys(&self, keys: &[&str]) {
        let press = keys
            .iter()
            .flat_map(|k| [json!({ "type": "keyDown", "value": k }), json!({ "type": "keyUp", "value": k })]);
        let actions = json!({ "actions": [{ "type": "key", "id": "keys", "actions": press.collect::<Vec<_>>() }] });
        self.to("/actions", &actions);
    }

    fn write(&self, words: &str) {
        let each: Vec<String> = words.chars().map(String::from).collect();
        self.keys(&each.iter().map(String::as_str).collect::<Vec<_>>());
    }

    fn until(&self, what: &str, script: &str) {
        let began = Instant::now();
        while self.run(script) != json!(true) {
            assert!(began.elapsed() < Duration::from_secs(120), "{what}: {}", self.text("main"));
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    fn proven(&self, verdict: &str) {
        self.until(verdict, &format!("return document.querySelector('#verdict').textContent === {verdict:?} && !document.querySelector('#plate').classList.contains('stale')"));
    }

    /// The whole page as PNG in the folder for screenshots, if one is named.
    fn picture(&self, name: &str) {
        let Some(folder) = std::env::var_os("SCREENSHOTS") else { return };
        std::thread::sleep(Duration::from_millis(700));
        let params =
            json!({ "cmd": "Page.captureScreenshot", "params": { "captureBeyondViewport": true, "format": "png" } });
        let taken = self.to("/goog/cdp/execute", &params);
        fs::create_dir_all(&folder).unwrap();
        fs::write(Path::new(&folder).join(format!("{name}.png")), decoded(taken["data"].as_str().unwrap())).unwrap();
    }

    /// No error in the console, and no request to anywhere but the page's own address.
    fn kept_to_itself(&self, own: &str) {
        let log = |kind: &str| self.to("/se/log", &json!({ "type": kind })).as_array().cloned().unwrap();
        // That a length was none, or a file changed elsewhere, the browser logs as a failed request: both were wanted here.
        let wanted = |e: &Value| {
            let says = e["message"].as_str().unwrap_or_default();
            says.contains("/plate/1/floor") && (says.contains("422") || says.contains("409"))
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

    /// Nothing stands out beyond the page's width.
    fn no_sideways(&self) {
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

const TAB: &str = "\u{e004}";
const ENTER: &str = "\u{e007}";
const ESCAPE: &str = "\u{e00c}";
const RIGHT: &str = "\u{e014}";

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn a_maker_changes_a_floor() {
    let served = Served::demo();
    let browser = Browser::new(1920, 1080, false);
    browser.open(&served.address);
    browser.proven("Proven");
    assert_eq!(browser.text("#title"), "Kestrel Hill Observatory door plate");
    browser.picture("1920-proven");
    browser.no_sideways();
    let first = browser.run("return document.querySelector('#face').src");

    // Another floor, by mouse and keys.
    browser.click("#sentences li[data-index='0'] button.said");
    browser.picture("1920-editing");
    browser.write("1.2 mm");
    browser.keys(&[ENTER]);
    browser.until("marked", "return document.querySelector('#verdict').textContent === 'Not yet proven' && document.querySelector('#which').textContent.startsWith('Not yet proven')");
    assert!(fs::read_to_string(served.plate()).unwrap().contains("floor = { below_face = 1.2 }"));
    browser.proven("Proven");
    assert!(browser.text("#sentences li[data-index='0']").contains("ends 1.2 mm below the face, at 5.04 mm"));
    browser.until("a new picture", &format!("return document.querySelector('#face').src !== {first}"));

    // A wrong value shows its doubt at the place; undo takes it back.
    browser.click("#sentences li[data-index='0'] button.said");
    browser.write("40 mm");
    browser.keys(&[ENTER]);
    browser.until("refused", "return document.querySelector('#verdict').textContent === 'Refused'");
    assert_eq!(browser.run("return document.querySelectorAll('.pin').length > 0"), json!(true));
    assert_eq!(browser.run("return document.querySelectorAll('#leaders path').length > 0"), json!(true));
    browser.picture("1920-refused");
    browser.click("#undo");
    browser.proven("Proven");

    // What is no length is told in the line; Escape leaves it.
    browser.click("#sentences li[data-index='3'] button.said");
    browser.write("deep");
    browser.keys(&[ENTER]);
    browser.until("told", "return document.querySelector('form.edit .wrong')?.textContent.length > 5");
    browser.keys(&[ESCAPE]);
    assert_eq!(browser.run("return document.querySelector('form.edit') === null"), json!(true));

    // The file is changed elsewhere while the field is open: nothing is lost, and the page asks.
    browser.click("#sentences li[data-index='3'] button.said");
    let theirs = fs::read_to_string(served.plate()).unwrap().replace("above_table = 1.4", "above_table = 1.6");
    fs::write(served.plate(), &theirs).unwrap();
    browser.write("1.8 mm");
    browser.keys(&[ENTER]);
    let asks = "return document.querySelector('form.edit .wrong')?.textContent.includes('changed elsewhere') === true";
    // The page may have seen the change before the edit came; then the edit goes in beside it by the new hash.
    browser.until("asked or taken", &format!("{} || document.querySelector('form.edit') === null", asks));
    if browser.run(asks) == json!(true) {
        assert_eq!(fs::read_to_string(served.plate()).unwrap(), theirs);
        browser.picture("1920-asked");
        browser.click("form.edit .wrong button");
        browser.until("taken", "return document.querySelector('form.edit') === null");
    }
    assert_eq!(fs::read_to_string(served.plate()).unwrap(), theirs.replace("above_table = 1.6", "above_table = 1.8"));
    browser.proven("Proven");

    // Places left for hand are ringed when asked for.
    assert_eq!(browser.run("return document.querySelectorAll('.hand circle').length"), json!(0));
    browser.click("#hand button");
    browser.until("rings", "return document.querySelectorAll('.hand circle').length > 10");
    browser.picture("1920-ringed");
    browser.click("#hand button");

    // Why, the stages, the knife, what is here, the packet.
    browser.click("#sentences li[data-index='1'] button:not(.said)");
    browser.until("why", "return document.querySelectorAll('.why-says tr').length > 2");
    browser.click("#story li:nth-child(1) button");
    browser.until("a stage", "return document.querySelector('#face').src.includes('stage=0')");
    browser.picture("1920-stage-1");
    browser.click("#story li:nth-child(1) button");
    let before = browser.text("#cut-says");
    browser.run("const r = document.querySelector('#knife input'); r.value = 30; r.dispatchEvent(new Event('input')); return true");
    browser.until("a section", &format!("return document.querySelector('#cut-says').textContent !== {before:?}"));
    browser.click("#packet button");
    browser.until("the packet", "return document.querySelectorAll('#packet li').length > 8");
    assert!(served.folder.path().join("packet/setup-sheet.pdf").exists());
    browser.picture("1920-packet");
    let own = served.address.split("/?").next().unwrap();
    browser.kept_to_itself(own);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn narrow_and_dark_and_by_keyboard_alone() {
    let served = Served::demo();
    let browser = Browser::new(360, 740, true);
    browser.open(&served.address);
    browser.proven("Proven");
    browser.until("the picture", "return document.querySelector('#face').naturalWidth > 0");
    browser.no_sideways();
    browser.picture("360-dark");
    // Tab by tab: the plate, the floors, the rest in the order in which they are read.
    let focus =
        || browser.run("const e = document.activeElement; return e.id || e.className || e.textContent || e.tagName");
    browser.keys(&[TAB]);
    assert_eq!(focus(), json!("over"));
    browser.keys(&[RIGHT, RIGHT]);
    browser.until("what is here", "return document.querySelector('#here').textContent.startsWith('x 117 y 70')");
    // What draws the plate nearer and tilts it comes before the sentences.
    browser.keys(&[TAB, TAB, TAB]);
    assert_eq!(focus(), json!("said"));
    browser.keys(&[ENTER]);
    browser.write("0.9 mm");
    browser.keys(&[ENTER]);
    browser.until("taken", "return document.querySelector('form.edit') === null");
    browser.until("focus comes back", "return document.activeElement.textContent === '0.9 mm'");
    assert!(fs::read_to_string(served.plate()).unwrap().contains("below_face = 0.9"));
    browser.proven("Proven");
    let mut seen = Vec::new();
    for _ in 0..60 {
        browser.keys(&[TAB]);
        let at = focus();
        if at == json!("over") || at == json!("BODY") {
            break;
        }
        seen.push(at);
    }
    for wanted in ["undo", "press"] {
        assert!(seen.iter().any(|s| s == wanted), "{wanted} is not reached: {seen:?}");
    }
    for (width, height, name) in [(768, 1024, "768-dark"), (3840, 2160, "3840-dark")] {
        browser.size(width, height);
        std::thread::sleep(Duration::from_millis(500));
        browser.no_sideways();
        browser.picture(name);
    }
    browser.kept_to_itself(served.address.split("/?").next().unwrap());
}
