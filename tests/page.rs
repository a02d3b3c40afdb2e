//! The bench page through the real binary: the packet's bytes, a clean end, and a kill at any moment of a write.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};
use tempfile::TempDir;

struct Page {
    child: Child,
    host: String,
    cookie: String,
}

impl Page {
    fn of(folder: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_platewright"))
            .args(["page", "plate.toml", "--no-browser", "--json"])
            .current_dir(folder)
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
        let address = said["address"].as_str().unwrap().strip_prefix("http://").unwrap().to_owned();
        let (host, path) = address.split_once('/').unwrap();
        let (head, _) =
            ask(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")).unwrap();
        let cookie = head.lines().find_map(|l| l.strip_prefix("set-cookie: ")).unwrap();
        let cookie = cookie.split(';').next().unwrap().to_owned();
        Self { child, host: host.to_owned(), cookie }
    }

    fn state(&self) -> Value {
        let request = format!(
            "GET /plate/1/state HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            self.host, self.cookie
        );
        serde_json::from_slice(&ask(&self.host, &request).unwrap().1).unwrap()
    }

    fn post(&self, path: &str, body: &Value) -> Option<Value> {
        let body = body.to_string();
        let request = format!(
            "POST {path} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\nContent-Type: application/json\r\n\
             Content-Length: {2}\r\nConnection: close\r\n\r\n{body}",
            self.host,
            self.cookie,
            body.len()
        );
        serde_json::from_slice(&ask(&self.host, &request)?.1).ok()
    }

    fn until(&self, is: impl Fn(&Value) -> bool) -> Value {
        let began = Instant::now();
        loop {
            let state = self.state();
            if is(&state) {
                return state;
            }
            assert!(began.elapsed() < Duration::from_secs(300), "{state:#}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Ctrl-C, as a terminal sends it; the exit status.
    fn interrupt(mut self) -> Option<i32> {
        let sent = Command::new("kill").args(["-INT", &self.child.id().to_string()]).status().unwrap();
        assert!(sent.success());
        let began = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            assert!(began.elapsed() < Duration::from_secs(20), "it does not end");
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn ask(host: &str, request: &str) -> Option<(String, Vec<u8>)> {
    let mut stream = TcpStream::connect(host).ok()?;
    stream.write_all(request.as_bytes()).ok()?;
    let mut bytes = Vec::new();
    let _ = stream.read_to_end(&mut bytes);
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n")?;
    Some((String::from_utf8_lossy(&bytes[..end]).into_owned(), bytes[end + 4..].to_vec()))
}

fn new_plate() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("plate.toml"), include_str!("../demo/new/plate.toml")).unwrap();
    fs::write(at("drawing.svg"), include_str!("../demo/new/drawing.svg")).unwrap();
    fs::write(at("shop.toml"), intake::STARTER_SHOP).unwrap();
    folder
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(at) = open.pop() {
        for path in fs::read_dir(at).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                open.push(path);
            } else {
                found.insert(path.strip_prefix(folder).unwrap().display().to_string(), fs::read(&path).unwrap());
            }
        }
    }
    found
}

/// A packet's files without the manifest's one date line.
fn undated(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = files(folder);
    let manifest = files.get_mut("manifest.json").unwrap();
    let text = String::from_utf8(manifest.clone()).unwrap();
    let dated = |l: &&str| l.trim_start().starts_with("\"date\"");
    assert_eq!(text.lines().filter(dated).count(), 1, "{text}");
    *manifest = text.lines().filter(|l| !dated(l)).collect::<Vec<_>>().join("\n").into_bytes();
    files
}

#[test]
fn the_packet_has_the_bytes_of_the_command_and_ctrl_c_ends_cleanly() {
    let folder = new_plate();
    let page = Page::of(folder.path());
    let state = page.until(|s| s["working"] == false);
    // An edit first, so that what is packed is what was edited here.
    page.post("/plate/1/floor", &json!({ "hash": state["hash"], "area": 0, "form": "below_face", "amount": "1.1 mm" }))
        .unwrap();
    let state = page.until(|s| s["working"] == false);
    assert_eq!(state["verdict"], "proven");
    page.post("/plate/1/packet", &json!({ "hash": state["hash"] })).unwrap();
    let state = page.until(|s| s["packet"]["making"].is_null());
    assert!(state["packet"]["files"].as_array().is_some_and(|f| f.len() > 5), "{}", state["packet"]);
    assert_eq!(page.interrupt(), Some(0));
    let command = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(["packet", "plate.toml", "--out", "by-command"])
        .current_dir(folder.path())
        .output()
        .unwrap();
    assert_eq!(command.status.code(), Some(0));
    let (here, there) = (undated(&folder.path().join("packet")), undated(&folder.path().join("by-command")));
    assert_eq!(here.keys().collect::<Vec<_>>(), there.keys().collect::<Vec<_>>());
    for (name, bytes) in &here {
        assert!(there[name] == *bytes, "{name} differs");
    }
}

/// Killed thirty times while edits are written as fast as they go: the plate file is always one of the texts that were sent.
#[test]
fn a_kill_leaves_the_plate_file_whole() {
    let folder = new_plate();
    let file = folder.path().join("plate.toml");
    let start = fs::read_to_string(&file).unwrap();
    let mut written = 0;
    for round in 0..30u64 {
        let page = Page::of(folder.path());
        let mut hash = page.state()["hash"].clone();
        let id = page.child.id();
        let killer = std::thread::spawn(move || {
            std::thread::sleep(Duration::from_millis(3 + 2 * round));
            Command::new("kill").args(["-KILL", &id.to_string()]).status().unwrap()
        });
        for i in 0.. {
            let amount = format!("0.{}", 3 + i % 5);
            let body = json!({ "hash": hash, "area": 0, "form": "below_face", "amount": amount });
            let Some(reply) = page.post("/plate/1/floor", &body) else { break };
            hash = reply["state"]["hash"].clone();
            written += 1;
        }
        killer.join().unwrap();
        drop(page);
        let now = fs::read_to_string(&file).unwrap();
        let possible =
            (3..8).map(|t| start.replace("{ shows = \"ruby clear 3\" }", &format!("{{ below_face = 0.{t} }}")));
        assert!(now == start || possible.into_iter().any(|p| p == now), "round {round}: {now}");
    }
    assert!(written > 30, "{written} edits were made before the kills");
}

#[test]
fn what_cannot_be_served_is_said() {
    let folder = new_plate();
    let run = |words: &[&str]| {
        let output =
            Command::new(env!("CARGO_BIN_EXE_platewright")).args(words).current_dir(folder.path()).output().unwrap();
        (output.status.code(), String::from_utf8_lossy(&output.stdout).into_owned())
    };
    let (status, said) = run(&["page", "nowhere.toml", "--no-browser"]);
    assert!(status == Some(2) && said.contains("`nowhere.toml` can't be read"), "{said}");
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let (status, said) = run(&["page", "plate.toml", "--no-browser", "--port", &port]);
    assert!(status == Some(2) && said.contains(&format!("port {port} on 127.0.0.1")), "{said}");
}
