//! A server in a thread, and requests by plain sockets.

use serde_json::Value;
use sha2::{Digest, Sha256};
use std::io::{Read, Write};
use std::net::{IpAddr, TcpStream};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, mpsc};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A served plate; ended when dropped.
pub(crate) struct Served {
    pub(crate) folder: TempDir,
    pub(crate) port: u16,
    pub(crate) key: String,
    pub(crate) once: String,
    pub(crate) cookie: String,
    /// Addresses and ports on the network.
    pub(crate) lan: Vec<String>,
    /// What the terminal was told of tablets.
    pub(crate) told: Arc<Mutex<Vec<page::Told>>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Reply {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: Vec<u8>,
}

impl Reply {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body).unwrap()
    }

    pub(crate) fn header(&self, name: &str) -> Option<&str> {
        let lines = self.head.lines().filter_map(|l| l.split_once(": "));
        lines.filter(|(n, _)| n.eq_ignore_ascii_case(name)).map(|(_, v)| v).next()
    }
}

pub(crate) fn date() -> String {
    "2000-01-01T00:00:00Z".into()
}

/// Serves the plate that `new` writes: small, so that it is proven soon.
pub(crate) fn served() -> Served {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("plate.toml"), include_str!("../../../../demo/new/plate.toml")).unwrap();
    std::fs::write(at("drawing.svg"), include_str!("../../../../demo/new/drawing.svg")).unwrap();
    std::fs::write(at("shop.toml"), intake::STARTER_SHOP).unwrap();
    serve_folder(folder)
}

/// Serves a folder without a plate in it.
pub(crate) fn served_folder() -> Served {
    serve(tempfile::tempdir().unwrap(), true, &[])
}

pub(crate) fn serve_folder(folder: TempDir) -> Served {
    serve(folder, false, &[])
}

/// Serves a folder's plate, on addresses of a network as well.
pub(crate) fn serve_with(folder: TempDir, network: &'static [IpAddr]) -> Served {
    serve(folder, false, network)
}

fn serve(folder: TempDir, many: bool, network: &'static [IpAddr]) -> Served {
    let told = Arc::new(Mutex::new(Vec::new()));
    let telling = Arc::clone(&told);
    let stop = Arc::new(AtomicBool::new(false));
    let (sender, receiver) = mpsc::channel();
    let place: PathBuf = if many { folder.path().to_owned() } else { folder.path().join("plate.toml") };
    let flag = Arc::clone(&stop);
    let thread = std::thread::spawn(move || {
        let tell = |told: &page::Told| telling.lock().unwrap().push(told.clone());
        let lan = (!network.is_empty()).then_some(page::Lan { addresses: network, tell: &tell });
        let what = if many { page::What::Folder(&place) } else { page::What::Plate(&place) };
        let wish = page::Wish { what, port: 0, date, lan };
        let mut ready = |a: &page::Addresses| sender.send(a.clone()).unwrap();
        page::serve(&wish, &mut ready, &|| flag.load(Ordering::SeqCst)).unwrap();
    });
    let addresses = receiver.recv_timeout(Duration::from_secs(20)).unwrap();
    let rest = addresses.printed.strip_prefix("http://127.0.0.1:").unwrap();
    let (port, key) = rest.split_once("/?key=").unwrap();
    let (port, key) = (port.parse().unwrap(), key.to_owned());
    let once = addresses.once.split_once("key=").unwrap().1.to_owned();
    let lan =
        addresses.lan.iter().map(|a| a.strip_prefix("http://").unwrap().trim_end_matches('/').to_owned()).collect();
    let mut served = Served { folder, port, key, once, lan, told, cookie: String::new(), stop, thread: Some(thread) };
    let first = served.raw(format!(
        "GET /?key={} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        served.key,
        served.host()
    ));
    assert_eq!(first.status, 303);
    served.cookie = first.header("set-cookie").unwrap().split(';').next().unwrap().to_owned();
    served
}

impl Served {
    pub(crate) fn host(&self) -> String {
        format!("127.0.0.1:{}", self.port)
    }

    /// Sends bytes as they are and reads until the server closes.
    pub(crate) fn raw(&self, request: impl AsRef<[u8]>) -> Reply {
        self.try_raw(request.as_ref()).unwrap()
    }

    /// `None` if the server closed without an answer.
    pub(crate) fn try_raw(&self, request: &[u8]) -> Option<Reply> {
        let mut stream = self.open();
        // The server may close before it has read all of what is too much.
        let _ = stream.write_all(request);
        read_reply(&mut stream)
    }

    pub(crate) fn open(&self) -> TcpStream {
        let stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
        stream.set_write_timeout(Some(Duration::from_secs(30))).unwrap();
        stream
    }

    pub(crate) fn get(&self, target: &str) -> Reply {
        self.get_with(target, "")
    }

    /// With the cookie and further header lines.
    pub(crate) fn get_with(&self, target: &str, more: &str) -> Reply {
        self.raw(format!(
            "GET {target} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n{more}Connection: close\r\n\r\n",
            self.host(),
            self.cookie
        ))
    }

    pub(crate) fn post(&self, target: &str, body: &Value) -> Reply {
        self.raw(self.post_bytes(target, body.to_string().as_bytes()))
    }

    pub(crate) fn post_bytes(&self, target: &str, body: &[u8]) -> Vec<u8> {
        let mut request = format!(
            "POST {target} HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\nContent-Type: application/json\r\n\
             Content-Length: {2}\r\nConnection: close\r\n\r\n",
            self.host(),
            self.cookie,
            body.len()
        )
        .into_bytes();
        request.extend(body);
        request
    }

    /// The state once nothing is being proven.
    pub(crate) fn settled(&self) -> Value {
        let began = Instant::now();
        loop {
            let state = self.get("/plate/1/state").json();
            if state["working"] == false {
                return state;
            }
            assert!(began.elapsed() < Duration::from_secs(240), "{state:#}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// The state once this text of the plate file has been proven or refused.
    pub(crate) fn settled_as(&self, text: &str) -> Value {
        let hash: String = Sha256::digest(text).iter().map(|b| format!("{b:02x}")).collect();
        let began = Instant::now();
        loop {
            let state = self.settled();
            if state["hash"] == hash.as_str() {
                return state;
            }
            assert!(began.elapsed() < Duration::from_secs(240), "{state:#}");
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    pub(crate) fn plate(&self) -> String {
        std::fs::read_to_string(self.folder.path().join("plate.toml")).unwrap()
    }

    /// The folder, and the server ended.
    pub(crate) fn into_folder(mut self) -> TempDir {
        self.end();
        std::mem::replace(&mut self.folder, tempfile::tempdir().unwrap())
    }

    /// Ends the server and says how long that took.
    pub(crate) fn end(&mut self) -> Duration {
        let began = Instant::now();
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
        began.elapsed()
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

pub(crate) fn read_reply(stream: &mut TcpStream) -> Option<Reply> {
    let mut bytes = Vec::new();
    // A reset after the answer keeps what came before it.
    let _ = stream.read_to_end(&mut bytes);
    let end = bytes.windows(4).position(|w| w == b"\r\n\r\n")?;
    let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
    let status = head.split(' ').nth(1)?.parse().ok()?;
    Some(Reply { status, head, body: bytes[end + 4..].to_vec() })
}
