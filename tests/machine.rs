//! The work at the machine through the real binary: killed at any moment of a write, nothing is lost.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod browser_kit;

use browser_kit::Served;
use serde_json::{Value, json};
use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::process::Command;
use std::time::{Duration, Instant};

const PAGE: [&str; 2] = ["page", "plate.toml"];

struct Client {
    host: String,
    cookie: String,
}

impl Client {
    fn of(served: &Served) -> Self {
        let (host, path) = served.address.strip_prefix("http://").unwrap().split_once('/').unwrap();
        let (head, _) =
            ask(host, &format!("GET /{path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")).unwrap();
        let set = head.lines().find_map(|l| l.strip_prefix("set-cookie: ")).unwrap();
        Self { host: host.to_owned(), cookie: set.split(';').next().unwrap().to_owned() }
    }

    fn state(&self) -> Option<Value> {
        let request = format!(
            "GET /plate/1/machine/state HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            self.host, self.cookie
        );
        serde_json::from_slice(&ask(&self.host, &request)?.1).ok()
    }

    fn ready(&self) -> Value {
        let began = Instant::now();
        loop {
            let state = self.state().unwrap();
            if state["good"] == true {
                return state;
            }
            assert!(began.elapsed() < Duration::from_secs(240), "{state:#}");
            std::thread::sleep(Duration::from_millis(40));
        }
    }

    fn post(&self, path: &str, body: &Value) -> Option<Value> {
        let body = body.to_string();
        let request = format!(
            "POST /plate/1/machine/{path} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\n\
             Content-Type: application/json\r\nContent-Length: {2}\r\nConnection: close\r\n\r\n{body}",
            self.host,
            self.cookie,
            body.len()
        );
        serde_json::from_slice(&ask(&self.host, &request)?.1).ok()
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

/// Kills it after a while.
fn killer(served: &Served, after: Duration) -> std::thread::JoinHandle<()> {
    let id = served.id().to_string();
    std::thread::spawn(move || {
        std::thread::sleep(after);
        Command::new("kill").args(["-KILL", &id]).status().unwrap();
    })
}

fn ticked(state: &Value) -> Vec<bool> {
    state["steps"].as_array().unwrap().iter().map(|s| s["ticked"] == true).collect()
}

/// Ticks are set one after the other and the server is killed among them: what was answered is there, and at most the one that
/// was on its way beside it.
#[test]
fn a_kill_loses_no_tick_that_was_answered() {
    let mut served = Served::small();
    let mut made = 0;
    for round in 0..12u64 {
        let client = Client::of(&served);
        let state = client.ready();
        client.post("anew", &json!({})).unwrap();
        let steps = state["steps"].as_array().unwrap().clone();
        let kill = killer(&served, Duration::from_millis(5 + 15 * round));
        let mut answered = 0;
        for step in steps.iter().cycle().take(4 * steps.len()) {
            // The first time round they are set; later the same are set again.
            let body = json!({ "step": step["id"], "mark": step["mark"], "ticked": true });
            let Some(reply) = client.post("tick", &body) else { break };
            assert!(reply["says"].is_null(), "{}", reply["says"]);
            answered += 1;
        }
        made += answered;
        kill.join().unwrap();
        served = served.again(&PAGE);
        let now = ticked(&Client::of(&served).ready());
        let count = now.iter().filter(|t| **t).count();
        let answered = answered.min(steps.len());
        assert!(now[..answered].iter().all(|t| *t), "round {round}: {answered} were answered: {now:?}");
        assert!(count <= answered + 1, "round {round}: {answered} were answered: {now:?}");
    }
    assert!(made > 25, "{made} ticks were made before the kills");
}

/// Readings are written as fast as they go and the server is killed among them: both files are always one of the texts that were
/// sent, and the last one that was answered or the one after it.
#[test]
fn a_kill_leaves_both_files_whole() {
    let mut served = Served::small();
    let (plate, shop) = (served.plate(), served.folder.path().join("shop.toml"));
    let (plate_was, shop_was) = (fs::read_to_string(&plate).unwrap(), fs::read_to_string(&shop).unwrap());
    let sheet = |i: usize| format!("2.9{}", i % 7);
    let cutter = |i: usize| format!("3.1{}", i % 7);
    let plates: Vec<String> =
        (0..7).map(|i| plate_was.replace("[2.94, 2.96, 2.95]", &format!("[{}]", sheet(i)))).collect();
    let shops: Vec<String> =
        (0..7).map(|i| shop_was.replacen("diameter = \"1/8 in\"", &format!("diameter = {}", cutter(i)), 1)).collect();
    let mut written = 0;
    for round in 0..20u64 {
        let client = Client::of(&served);
        let state = client.state().unwrap();
        let (mut plate_hash, mut shop_hash) = (state["hash"].clone(), state["shop"]["hash"].clone());
        let kill = killer(&served, Duration::from_millis(3 + 9 * round));
        for i in 0.. {
            let body = json!({ "hash": plate_hash, "layer": 0, "readings": sheet(i) });
            let Some(reply) = client.post("thickness", &body) else { break };
            assert!(reply["says"].is_null(), "{}", reply["says"]);
            plate_hash = reply["state"]["hash"].clone();
            let body = json!({ "hash": shop_hash, "cutter": 1, "diameter": cutter(i) });
            let Some(reply) = client.post("diameter", &body) else { break };
            assert!(reply["says"].is_null(), "{}", reply["says"]);
            shop_hash = reply["state"]["shop"]["hash"].clone();
            written += 1;
        }
        kill.join().unwrap();
        let (now, shop_now) = (fs::read_to_string(&plate).unwrap(), fs::read_to_string(&shop).unwrap());
        assert!(now == plate_was || plates.contains(&now), "round {round}: {now}");
        assert!(shop_now == shop_was || shops.contains(&shop_now), "round {round}");
        served = served.again(&PAGE);
    }
    assert!(written > 10, "{written} readings were written before the kills");
}

/// What can't be listened on is refused, with a way out; nothing is served then.
#[test]
fn a_network_that_cannot_be_had_is_said() {
    let folder = Served::small().into_folder();
    let run = |words: &[&str]| {
        let output =
            Command::new(env!("CARGO_BIN_EXE_platewright")).args(words).current_dir(folder.path()).output().unwrap();
        let said = [output.stdout, output.stderr].map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).concat();
        (output.status.code(), said)
    };
    let (status, said) = run(&["page", ".", "--no-browser", "--lan=127.0.0.2"]);
    assert!(status == Some(2) && said.contains("name the plate file"), "{said}");
    // An address that is kept for documents (RFC 5737) is none of this computer's.
    let (status, said) = run(&["page", "plate.toml", "--no-browser", "--lan=192.0.2.7"]);
    assert!(status == Some(2) && said.contains("192.0.2.7 can't be listened on"), "{said}");
    for every in ["0.0.0.0", "::", "224.0.0.1", "evil.example", ""] {
        let (status, said) = run(&["page", "plate.toml", "--no-browser", &format!("--lan={every}")]);
        assert!(status == Some(2) && said.contains("an address of this computer"), "{every}: {said}");
    }
}
