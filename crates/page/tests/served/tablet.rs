//! The tablet on the local network: what lets it in, and that nothing but the page at the machine is to be had from there.
//! Another loopback address stands for the network's.

use crate::common::{Reply, Served, read_reply, serve_with, served};
use serde_json::json;
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr, TcpStream};
use std::time::{Duration, Instant};

const NETWORK: [IpAddr; 1] = [IpAddr::V4(Ipv4Addr::new(127, 0, 0, 2))];

fn served_to_network() -> Served {
    let folder = served().into_folder();
    serve_with(folder, &NETWORK)
}

/// The code that the terminal shows last.
fn code(served: &Served) -> String {
    let began = Instant::now();
    loop {
        if let Some(page::Told::Code(code)) = served.told.lock().unwrap().last() {
            return code.clone();
        }
        assert!(began.elapsed() < Duration::from_secs(10), "no code is told");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn raw(host: &str, request: &[u8]) -> Option<Reply> {
    let mut stream = TcpStream::connect(host).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    let _ = stream.write_all(request);
    read_reply(&mut stream)
}

fn get(host: &str, target: &str, cookie: &str) -> Reply {
    raw(
        host,
        format!("GET {target} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n").as_bytes(),
    )
    .unwrap()
}

fn post(host: &str, target: &str, cookie: &str, body: &str) -> Reply {
    let request = format!(
        "POST {target} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\n\
         Content-Length: {}\r\nConnection: close\r\n\r\n{body}",
        body.len()
    );
    raw(host, request.as_bytes()).unwrap()
}

/// Types a code as often as it takes: tries are a second apart.
fn try_code(host: &str, code: &str) -> Reply {
    loop {
        let reply = post(host, "/code", "", &json!({ "code": code }).to_string());
        if reply.status != 429 {
            return reply;
        }
        std::thread::sleep(Duration::from_millis(200));
    }
}

/// Let in by the code; the cookie.
fn let_in(served: &Served) -> String {
    let reply = try_code(&served.lan[0], &code(served));
    assert_eq!(reply.status, 200, "{}", reply.head);
    let set = reply.header("set-cookie").unwrap();
    assert!(set.contains("HttpOnly") && set.contains("SameSite=Strict") && set.contains("Path=/"), "{set}");
    set.split(';').next().unwrap().to_owned()
}

#[test]
fn nothing_listens_there_unless_asked() {
    let served = served();
    assert!(served.lan.is_empty());
    assert!(TcpStream::connect(("127.0.0.2", served.port)).is_err());
}

#[test]
fn a_code_lets_in_to_the_page_at_the_machine_alone() {
    let served = served_to_network();
    let host = served.lan[0].clone();
    served.settled();
    // Without a code: the page that asks for it and what that is drawn with.
    let door = get(&host, "/", "");
    assert!(door.status == 200 && String::from_utf8_lossy(&door.body).contains("Type the code"));
    for target in ["/code.js", "/machine.css", "/style.css", "/mark.svg"] {
        assert_eq!(get(&host, target, "").status, 200, "{target}");
    }
    let shut = [
        "/plate/1/machine",
        "/plate/1/machine/state",
        "/plate/1/state",
        "/plates",
        "/page.js",
        "/machine.js",
        "/plate/1/",
    ];
    for target in shut {
        assert_eq!(get(&host, target, "").status, 403, "{target}");
    }
    assert_eq!(post(&host, "/plate/1/machine/tick", "", "{}").status, 403);

    let old = code(&served);
    assert_eq!(try_code(&host, "AAAAAA").status, 401);
    let cookie = let_in(&served);
    assert_eq!(try_code(&host, &old).status, 401, "a code is good once");
    let home = get(&host, "/", &cookie);
    assert_eq!((home.status, home.header("location")), (303, Some("/plate/1/machine")));
    for target in ["/plate/1/machine", "/machine.js", "/steps.js", "/italic.ttf"] {
        assert_eq!(get(&host, target, &cookie).status, 200, "{target}");
    }
    let state = get(&host, "/plate/1/machine/state", &cookie).json();
    let run = &state["picture"]["run"];
    let picture = get(&host, &format!("/plate/1/picture?run={run}&width=200"), &cookie);
    assert!(picture.body.starts_with(b"\x89PNG"));
    let step = &state["steps"][0];
    let body = json!({ "step": step["id"], "mark": step["mark"], "ticked": true }).to_string();
    assert_eq!(post(&host, "/plate/1/machine/tick", &cookie, &body).status, 200);
    let body = json!({ "hash": state["hash"], "layer": 0, "readings": "2.93" }).to_string();
    assert_eq!(post(&host, "/plate/1/machine/thickness", &cookie, &body).status, 200);
    assert!(served.plate().contains("measured = [2.93]"));

    // Nothing else, by either address.
    let before = served.plate();
    let hash = served.settled()["hash"].clone();
    for target in [
        "/plates",
        "/page.js",
        "/plate.js",
        "/sentences.js",
        "/start.js",
        "/plate/1/",
        "/plate/1/state",
        "/plate/1/here?run=1&x=1&y=1",
        "/plate/1/section?run=1&at=1",
        "/plate/1/why?run=1&n=0",
        "/plate/1/shape?run=1&area=0",
        "/plate/2/machine",
        "/plate/01/machine",
        "/plate/1/machine/../state",
        "/plate/1/machine/tick",
        "/plate.toml",
        "/plate.toml.ticks.json",
        "/../plate.toml",
        "/nowhere",
    ] {
        assert_eq!(get(&host, target, &cookie).status, 403, "{target}");
    }
    for (target, body) in [
        ("/plate/1/floor", json!({ "hash": hash, "area": 0, "form": "below_face", "amount": "0.4" })),
        ("/plate/1/undo", json!({ "hash": hash })),
        ("/plate/1/redo", json!({ "hash": hash })),
        ("/plate/1/packet", json!({ "hash": hash })),
        ("/plate/1/machine", json!({})),
        ("/plate/1/machine/state", json!({})),
        ("/plate/1/picture", json!({})),
    ] {
        assert_eq!(post(&host, target, &cookie, &body.to_string()).status, 403, "{target}");
    }
    let own = served.host();
    for target in ["/", "/plate/1/machine", "/plate/1/state", "/plate/1/machine/state"] {
        assert_eq!(get(&own, target, &cookie).status, 403, "{target} by the loopback address");
        let value = cookie.split_once('=').unwrap().1;
        assert_eq!(get(&own, target, &format!("platewright-{}={value}", served.port)).status, 403);
        // Nor does the maker's own cookie or address let in from the network.
        if target != "/" {
            assert_eq!(get(&host, target, &served.cookie).status, 403);
        }
    }
    assert_ne!(get(&host, &format!("/?key={}", served.key), "").status, 303);
    assert_eq!(post(&own, "/code", &served.cookie, &json!({ "code": code_or_any(&served) }).to_string()).status, 404);
    assert_eq!(served.plate(), before);
    assert!(!served.folder.path().join("packet").exists());
    let policy = get(&host, "/", "").header("content-security-policy").unwrap().to_owned();
    assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"));
}

fn code_or_any(served: &Served) -> String {
    match served.told.lock().unwrap().last() {
        Some(page::Told::Code(code)) => code.clone(),
        _ => "AAAAAA".into(),
    }
}

#[test]
fn wrong_codes_end_the_code() {
    let served = served_to_network();
    let host = &served.lan[0];
    let first = code(&served);
    let soon = |code: &str| post(host, "/code", "", &json!({ "code": code }).to_string()).status;
    assert_eq!(soon("BBBBBB"), 401);
    // Tries are a second apart, so that guessing takes long, and the right one isn't looked at either.
    assert_eq!(soon(&first), 429);
    for wrong in ["", "BBBBBB ", &first[1..], &format!("{first}B")] {
        assert_eq!(try_code(host, wrong).status, 401, "{wrong}");
    }
    // That was the fifth: the code is dead and another one is told.
    assert_eq!(try_code(host, &first).status, 401);
    let began = Instant::now();
    while code(&served) == first {
        assert!(began.elapsed() < Duration::from_secs(5), "no new code is told");
        std::thread::sleep(Duration::from_millis(20));
    }
    let_in(&served);
    for body in ["", "{", "[]", r#"{"code":1}"#, r#"{"code":"A","more":1}"#] {
        assert_eq!(post(host, "/code", "", body).status, 400, "{body}");
    }
}

#[test]
fn other_hosts_and_other_pages_are_turned_away() {
    let served = served_to_network();
    let host = served.lan[0].clone();
    let cookie = let_in(&served);
    let with = |method: &str, own: &str, more: &str| {
        let body = r#"{"step":"film","mark":"0","ticked":true}"#;
        let target = if method == "GET" { "/plate/1/machine/state" } else { "/plate/1/machine/tick" };
        let length = if method == "GET" { String::new() } else { format!("Content-Length: {}\r\n", body.len()) };
        let body = if method == "GET" { "" } else { body };
        let request = format!(
            "{method} {target} HTTP/1.1\r\nHost: {own}\r\nCookie: {cookie}\r\n{more}{length}Connection: close\r\n\r\n{body}"
        );
        raw(&host, request.as_bytes()).unwrap().status
    };
    assert_eq!(with("GET", &host, ""), 200);
    let port = host.split_once(':').unwrap().1;
    for other in [
        "evil.example",
        "127.0.0.2",
        "localhost",
        &format!("localhost:{port}"),
        &format!("127.0.0.1:{port}"),
        "tablet.local:80",
        "",
    ] {
        assert!([421, 400].contains(&with("GET", other, "")), "{other}");
    }
    let json = "Content-Type: application/json\r\n";
    assert_eq!(with("POST", &host, &format!("Origin: http://{host}\r\n{json}")), 409, "the request itself is sound");
    for (more, method) in [
        ("Origin: http://evil.example\r\n".to_owned(), "GET"),
        ("Origin: null\r\n".into(), "GET"),
        ("Sec-Fetch-Site: cross-site\r\n".into(), "GET"),
        (format!("Origin: http://evil.example\r\n{json}"), "POST"),
        (format!("Origin: http://127.0.0.1:{port}\r\n{json}"), "POST"),
        (format!("Origin: https://{host}\r\n{json}"), "POST"),
        (json.to_owned(), "POST"),
        (format!("Origin: http://{host}\r\nContent-Type: text/plain\r\n"), "POST"),
    ] {
        assert_eq!(with(method, &host, &more), 403, "{method} {more}");
    }
    let own = served.host();
    assert_eq!(get(&own, "/plate/1/state", &served.cookie).status, 200, "the maker's page is still there");
}

#[test]
fn crowds_and_slow_clients_on_the_network_leave_the_makers_page_alone() {
    let mut served = served_to_network();
    let host = served.lan[0].clone();
    let cookie = let_in(&served);
    let began = Instant::now();
    let request =
        format!("GET /plate/1/machine/state HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n");
    let streams: Vec<TcpStream> = (0..200)
        .map(|_| {
            let mut stream = TcpStream::connect(&host).unwrap();
            stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
            stream.write_all(request.as_bytes()).unwrap();
            stream
        })
        .collect();
    for mut stream in streams {
        assert_eq!(read_reply(&mut stream).unwrap().status, 200);
    }
    assert!(began.elapsed() < Duration::from_secs(25), "{:?}", began.elapsed());
    // More slow ones than may be connected: the loopback address has room of its own, and their time ends.
    let head = format!(
        "POST /code HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n"
    );
    let _slow: Vec<TcpStream> = (0..140)
        .map(|i| {
            let mut stream = TcpStream::connect(&host).unwrap();
            let some = ["", "GET / HTTP/1.1\r\nHost: ", head.as_str()][i % 3];
            stream.write_all(some.as_bytes()).unwrap();
            stream
        })
        .collect();
    let began = Instant::now();
    assert_eq!(served.get("/plate/1/state").status, 200);
    assert!(began.elapsed() < Duration::from_secs(3), "{:?}", began.elapsed());
    assert_eq!(get(&host, "/plate/1/machine", &cookie).status, 200);
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
    assert!(served.end() < Duration::from_secs(10));
}
