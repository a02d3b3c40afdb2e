//! Requests that must not get in, by plain sockets, and the server still up after each.

use crate::common::{Served, read_reply, served};
use serde_json::json;
use std::io::Write;
use std::net::TcpStream;
use std::time::{Duration, Instant};

fn still_up(served: &Served) {
    let page = served.get("/plate/1/");
    assert_eq!(page.status, 200);
    assert!(String::from_utf8_lossy(&page.body).contains("<!doctype html>"));
}

#[test]
fn only_its_own_host_is_answered() {
    let served = served();
    let own = served.host();
    for host in ["evil.example", "localhost", "127.0.0.1", "127.0.0.1:1", "", "127.0.0.1.evil.example", "[::1]"] {
        let reply = served.raw(format!(
            "GET /plate/1/state HTTP/1.1\r\nHost: {host}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            served.cookie
        ));
        assert!([421, 400].contains(&reply.status), "{host}: {}", reply.head);
        assert!(!String::from_utf8_lossy(&reply.body).contains("verdict"));
    }
    let twice = format!(
        "GET /plate/1/state HTTP/1.1\r\nHost: {own}\r\nHost: evil.example\r\nCookie: {}\r\nConnection: close\r\n\r\n",
        served.cookie
    );
    assert!([421, 400].contains(&served.raw(twice).status));
    let none = format!("GET /plate/1/state HTTP/1.0\r\nCookie: {}\r\n\r\n", served.cookie);
    assert_eq!(served.raw(none).status, 421);
    // A proxy's form of request is none of ours, whatever it names.
    for target in ["http://evil.example/state".to_owned(), format!("http://{own}/state")] {
        let reply = served.get(&target);
        assert!([400, 421].contains(&reply.status), "{}", reply.head);
    }
    still_up(&served);
}

#[test]
fn other_pages_get_nothing() {
    let served = served();
    let own = format!("http://{}", served.host());
    for origin in
        ["http://evil.example", "null", "http://127.0.0.1:1", "https://127.0.0.1", &format!("{own}.evil.example")]
    {
        assert_eq!(served.get_with("/plate/1/state", &format!("Origin: {origin}\r\n")).status, 403, "{origin}");
    }
    for site in ["cross-site", "same-site", "whatever"] {
        assert_eq!(served.get_with("/plate/1/state", &format!("Sec-Fetch-Site: {site}\r\n")).status, 403, "{site}");
    }
    assert_eq!(
        served.get_with("/plate/1/state", &format!("Origin: {own}\r\nSec-Fetch-Site: same-origin\r\n")).status,
        200
    );
    // Writes need an origin and a type that no form can send.
    let before = served.plate();
    let body = json!({ "hash": served.get("/plate/1/state").json()["hash"], "area": 0, "form": "below_face", "amount": "0.4" })
        .to_string();
    let write = |origin: &str, kind: &str, cookie: &str| {
        served
            .raw(format!(
                "POST /plate/1/floor HTTP/1.1\r\nHost: {}\r\n{origin}{cookie}Content-Type: {kind}\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
                served.host(),
                body.len()
            ))
            .status
    };
    let (origin, cookie) = (format!("Origin: {own}\r\n"), format!("Cookie: {}\r\n", served.cookie));
    assert_eq!(write("", "application/json", &cookie), 403);
    assert_eq!(write("Origin: http://evil.example\r\n", "application/json", &cookie), 403);
    assert_eq!(write(&origin, "text/plain", &cookie), 403);
    assert_eq!(write(&origin, "application/x-www-form-urlencoded", &cookie), 403);
    assert_eq!(write(&origin, "application/json", ""), 403);
    assert_eq!(served.plate(), before);
    assert_eq!(
        write(&origin, "application/json", &cookie),
        200,
        "the check can fail: the same write with all of it goes through"
    );
    assert_ne!(served.plate(), before);
}

#[test]
fn nothing_without_the_secret() {
    let served = served();
    let name = served.cookie.split('=').next().unwrap().to_owned();
    let wrong = [
        String::new(),
        format!("Cookie: {name}=\r\n"),
        format!("Cookie: {name}={}\r\n", "0".repeat(64)),
        format!("Cookie: {name}={}\r\n", served.key),
        format!("Cookie: other={}\r\n", served.cookie.split('=').nth(1).unwrap()),
        format!("Cookie: {}\r\n", &served.cookie[..served.cookie.len() - 1]),
        format!("Cookie: {}0\r\n", served.cookie),
    ];
    let targets = [
        "/",
        "/plate/1/state",
        "/style.css",
        "/page.js",
        "/regular.ttf",
        "/plate/1/picture?run=1&width=100",
        "/nowhere",
        "/?key=",
        "/?key=0",
    ];
    for cookie in &wrong {
        for target in targets {
            let reply = served
                .raw(format!("GET {target} HTTP/1.1\r\nHost: {}\r\n{cookie}Connection: close\r\n\r\n", served.host()));
            assert_eq!(reply.status, 403, "{target} with {cookie}");
            assert!(reply.header("set-cookie").is_none());
        }
    }
    // The printed address lets in again, the other one once.
    let visit = |key: &str| {
        served.raw(format!("GET /?key={key} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", served.host())).status
    };
    assert_eq!([visit(&served.key), visit(&served.key)], [303, 303]);
    assert_eq!([visit(&served.once), visit(&served.once)], [303, 403]);
    // Nor does a write by the secret in the address.
    let post = format!(
        "POST /?key={} HTTP/1.1\r\nHost: {}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n",
        served.key,
        served.host()
    );
    assert_eq!(served.raw(post).status, 403);
    still_up(&served);
}

#[test]
fn every_response_keeps_the_page_to_itself() {
    let served = served();
    let cookie = served.raw(format!(
        "GET /?key={} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
        served.key,
        served.host()
    ));
    let set = cookie.header("set-cookie").unwrap();
    assert!(set.contains("HttpOnly") && set.contains("SameSite=Strict") && set.contains("Path=/"), "{set}");
    assert_eq!(cookie.header("location"), Some("/"));
    let replies = ["/", "/plate/1/state", "/page.js", "/nowhere"].map(|t| served.get(t));
    let shut = served.raw(format!("GET / HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", served.host()));
    for reply in replies.iter().chain([&shut, &cookie]) {
        let policy = reply.header("content-security-policy").unwrap();
        assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"), "{policy}");
        assert!(!policy.contains("unsafe") && !policy.contains('*') && !policy.contains("http"), "{policy}");
        assert_eq!(reply.header("x-frame-options"), Some("DENY"));
        assert_eq!(reply.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(reply.header("referrer-policy"), Some("no-referrer"));
        assert_eq!(reply.header("cache-control"), Some("no-store"));
        assert!(reply.header("access-control-allow-origin").is_none());
    }
}

/// Nothing of the page is inline or from elsewhere: the policy would keep it from working.
#[test]
fn the_page_fetches_nothing_from_elsewhere() {
    let served = served();
    let page = String::from_utf8(served.get("/plate/1/").body).unwrap();
    assert!(!page.contains("<script>") && !page.contains("style=") && !page.contains(" onclick"), "{page}");
    for target in [
        "/plate/1/",
        "/style.css",
        "/start.js",
        "/page.js",
        "/ask.js",
        "/make.js",
        "/plate.js",
        "/sentences.js",
        "/section.js",
        "/plate/1/machine",
        "/machine.css",
        "/machine.js",
        "/steps.js",
        "/code.js",
        "/mark.svg",
    ] {
        let reply = served.get(target);
        assert_eq!(reply.status, 200, "{target}");
        let text = String::from_utf8(reply.body).unwrap();
        assert!(text.len() > 100, "{target}");
        let text = text.replace("http://www.w3.org/2000/svg", "");
        for wrong in ["http:", "https:", "//cdn", "innerHTML", "eval(", "insertAdjacentHTML", "document.write"] {
            assert!(!text.contains(wrong), "{target} has {wrong}");
        }
    }
    for font in ["/regular.ttf", "/italic.ttf", "/bold.ttf"] {
        assert_eq!(served.get(font).header("content-type"), Some("font/ttf"));
    }
}

#[test]
fn no_path_reaches_the_disk() {
    let served = served();
    std::fs::write(served.folder.path().join("secret.txt"), "the maker's own").unwrap();
    let folder = served.folder.path().display().to_string();
    let targets = [
        "/plate.toml".to_owned(),
        "/drawing.svg".into(),
        "/shop.toml".into(),
        "/secret.txt".into(),
        "/../secret.txt".into(),
        "/%2e%2e/secret.txt".into(),
        "/..%2fsecret.txt".into(),
        "/./plate.toml".into(),
        "//plate.toml".into(),
        "/style.css/../../plate.toml".into(),
        "/style.css%00".into(),
        "/web/style.css".into(),
        format!("{folder}/plate.toml"),
        format!("/plate/1/picture?run=1&width=10&stage={folder}"),
        "/etc/passwd".into(),
        "/\\plate.toml".into(),
        "/C:/plate.toml".into(),
        "/plate/1/packet".into(),
        "/plate/1/packet/manifest.txt".into(),
    ];
    for target in targets {
        let reply = served.get(&target);
        assert!(
            [204, 400, 404].contains(&reply.status) || reply.header("content-type") == Some("image/png"),
            "{target}: {}",
            reply.head
        );
        let text = String::from_utf8_lossy(&reply.body);
        for piece in ["maker's own", "[[area]]", "<svg", "root:", "[machine]"] {
            assert!(!text.contains(piece), "{target}");
        }
    }
    still_up(&served);
}

#[test]
fn too_much_and_broken_is_turned_away() {
    let served = served();
    let (host, cookie) = (served.host(), served.cookie.clone());
    let before = served.plate();
    let long = "a".repeat(200_000);
    let many: String = (0..500).map(|i| format!("X-{i}: 1\r\n")).collect();
    let requests: Vec<Vec<u8>> = vec![
        format!("GET /{long} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n").into_bytes(),
        format!("GET /{} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n", &long[..2000]).into_bytes(),
        format!("GET / HTTP/1.1\r\nHost: {host}\r\nX: {long}\r\nConnection: close\r\n\r\n").into_bytes(),
        format!("GET / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\n{many}Connection: close\r\n\r\n").into_bytes(),
        b"\0\0\0\0\r\n\r\n".to_vec(),
        b"GET\r\n\r\n".to_vec(),
        b"GET / HTTP/9.9\r\n\r\n".to_vec(),
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n".to_vec(),
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03".to_vec(),
        format!("DELETE / HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n").into_bytes(),
        format!("OPTIONS * HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n").into_bytes(),
        format!("CONNECT a:1 HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n").into_bytes(),
        // Two lengths, a length and chunks: ways to smuggle a second request.
        format!("POST /plate/1/floor HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\nContent-Length: 3\r\nContent-Length: 9\r\nConnection: close\r\n\r\n{{}}").into_bytes(),
        format!("POST /plate/1/floor HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\nConnection: close\r\n\r\nzz\r\n{{}}\r\n0\r\n\r\n").into_bytes(),
        format!("POST /plate/1/floor HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\nContent-Length: 99999999999999999999\r\nConnection: close\r\n\r\n").into_bytes(),
        served.post_bytes("/plate/1/floor", long.as_bytes()),
        served.post_bytes("/plate/1/floor", b"{"),
        served.post_bytes("/plate/1/floor", b"[1,2"),
        served.post_bytes("/plate/1/floor", "[".repeat(60_000).as_bytes()),
        served.post_bytes("/plate/1/floor", b"\xff\xfe"),
        served.post_bytes("/plate/1/floor", br#"{"hash":1,"area":-1,"form":"x","amount":[]}"#),
        served.post_bytes("/plate/1/floor", br#"{"hash":"","area":0,"form":"below_face","amount":"0.4"}"#),
        served.post_bytes("/plate/1/undo", b""),
        served.post_bytes("/plate/1/packet", b"{}"),
        served.post_bytes("/plate/1/state", b"{}"),
    ];
    for request in &requests {
        if let Some(reply) = served.try_raw(request) {
            assert!(
                (400..600).contains(&reply.status),
                "{} to {}",
                reply.head,
                String::from_utf8_lossy(&request[..request.len().min(80)])
            );
        }
    }
    // Chunks without an end are cut off at the limit.
    let mut stream = served.open();
    write!(stream, "POST /plate/1/floor HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nCookie: {cookie}\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n").unwrap();
    let chunk = format!("1000\r\n{}\r\n", "a".repeat(0x1000));
    let sent = (0..4000).take_while(|_| stream.write_all(chunk.as_bytes()).is_ok()).count();
    assert!(sent < 4000, "16 MB were taken");
    assert_eq!(served.plate(), before);
    still_up(&served);
}

#[test]
fn odd_numbers_are_no_panic() {
    let served = served();
    let run = served.settled()["picture"]["run"].clone();
    for query in [
        "width=0",
        "width=-1",
        "width=4097",
        "width=1e9",
        "width=NaN",
        "width=inf",
        "width=10&stage=99",
        "width=10&stage=-1",
        "width=10&x0=5&y0=5&x1=5&y1=5",
        "width=10&x0=9&y0=9&x1=1&y1=1",
        "width=4096&x0=0&y0=0&x1=1e-300&y1=1",
        "width=10&x0=1e300&y0=0&x1=1e308&y1=1",
        "width=4096&x0=0&y0=0&x1=1&y1=1e9",
        "",
        "width",
    ] {
        let reply = served.get(&format!("/plate/1/picture?run={run}&{query}"));
        assert!(reply.status == 200 || (400..500).contains(&reply.status), "{query}: {}", reply.head);
    }
    for path in [
        "here?x=1e308&y=-1e308",
        "here?x=NaN&y=1",
        "here?x=1",
        "section?along_x=1&at=1e308",
        "section?at=-5",
        "why?n=99999",
        "why?n=-1",
        "shape?area=12345678901234567890",
    ] {
        let reply = served.get(&format!("/{path}&run={run}"));
        assert!(reply.status == 200 || (400..500).contains(&reply.status), "{path}: {}", reply.head);
    }
    assert_eq!(served.get("/plate/1/picture?run=999&width=100").status, 204);
    still_up(&served);
}

#[test]
fn two_hundred_at_once() {
    let served = served();
    let began = Instant::now();
    let streams: Vec<TcpStream> = (0..200)
        .map(|_| {
            let mut stream = served.open();
            let (host, cookie) = (served.host(), &served.cookie);
            write!(
                stream,
                "GET /plate/1/state HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n"
            )
            .unwrap();
            stream
        })
        .collect();
    for mut stream in streams {
        assert_eq!(read_reply(&mut stream).unwrap().status, 200);
    }
    assert!(began.elapsed() < Duration::from_secs(20));
    still_up(&served);
}

/// More slow clients than connections are allowed, in three manners; the page is served again when their time is over.
#[test]
fn slow_clients_are_sent_away() {
    let mut served = served();
    let head = format!(
        "POST /plate/1/floor HTTP/1.1\r\nHost: {0}\r\nOrigin: http://{0}\r\nCookie: {1}\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n",
        served.host(),
        served.cookie
    );
    let mut streams = Vec::new();
    for i in 0..140 {
        let mut stream = served.open();
        let some = match i % 3 {
            0 => "",
            1 => "GET / HTTP/1.1\r\nHost: ",
            _ => head.as_str(),
        };
        stream.write_all(some.as_bytes()).unwrap();
        streams.push(stream);
    }
    let began = Instant::now();
    still_up(&served);
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
    for (i, stream) in streams.iter_mut().enumerate() {
        let reply = read_reply(stream);
        assert!(reply.as_ref().is_none_or(|r| r.status == 408), "{i}: {reply:?}");
    }
    // An end does not wait for anybody.
    let _waiting: Vec<TcpStream> = (0..20).map(|_| served.open()).collect();
    assert!(served.end() < Duration::from_secs(10));
}
