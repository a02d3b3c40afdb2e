//! What is asked for to see a plate closely and its cutting over time, by plain sockets.

use crate::common::{Reply, Served, served};
use serde_json::Value;

/// Head and columns of what is sent as columns.
fn columns(reply: &Reply) -> (Value, Vec<u8>) {
    assert_eq!(reply.status, 200, "{}", String::from_utf8_lossy(&reply.body));
    assert_eq!(reply.header("content-type"), Some("application/octet-stream"));
    let length = u32::from_le_bytes(reply.body[..4].try_into().unwrap()) as usize;
    assert_eq!(length % 4, 0);
    (serde_json::from_slice(&reply.body[4..4 + length]).unwrap(), reply.body[4 + length..].to_vec())
}

fn floats(bytes: &[u8]) -> Vec<f32> {
    bytes.chunks_exact(4).map(|b| f32::from_le_bytes(b.try_into().unwrap())).collect()
}

fn ask(served: &Served, run: &Value, what: &str) -> Reply {
    let (path, query) = what.split_once('?').unwrap_or((what, ""));
    served.get(&format!("/plate/1/{path}?run={run}&{query}"))
}

#[test]
fn a_program_over_time() {
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    let times = ask(&served, run, "times").json();
    let stages = times["stages"].as_array().unwrap();
    // The frame run comes before the stages that cut.
    assert_eq!(stages.len(), state["stages"].as_array().unwrap().len() + 1);
    for (stage, told) in stages.iter().skip(1).zip(state["stages"].as_array().unwrap()) {
        let minutes = told["minutes"].as_f64().unwrap();
        assert!((stage["seconds"].as_f64().unwrap() - 60.0 * minutes).abs() < 1e-6, "{stage}");
    }
    let whole: f64 = stages.iter().map(|s| s["seconds"].as_f64().unwrap()).sum();
    assert!((times["seconds"].as_f64().unwrap() - whole).abs() < 1e-6);
    for graph in ["feed", "engagement", "force"] {
        let values = times[graph].as_array().unwrap();
        assert!(values.len() > 500 && values.iter().any(|v| v.as_f64().unwrap() > 0.0), "{graph}");
    }

    // Each way: time never goes back, every place is on a line of the text, and the loads are there where it cuts.
    for (index, stage) in stages.iter().enumerate() {
        let (head, body) = columns(&ask(&served, run, &format!("way?program={index}")));
        let count = head["count"].as_u64().unwrap() as usize;
        let text = head["text"].as_u64().unwrap() as usize;
        assert_eq!(body.len(), count * 33 + text);
        let column = |k: usize| floats(&body[4 * count * k..4 * count * (k + 1)]);
        let (time, engagement, force) = (column(3), column(5), column(6));
        assert!(time.windows(2).all(|w| w[0] <= w[1]));
        assert!((f64::from(*time.last().unwrap()) - stage["seconds"].as_f64().unwrap()).abs() < 0.05);
        let program = String::from_utf8(body[33 * count..].to_vec()).unwrap();
        let lines = program.lines().count() as u32;
        let line: Vec<u32> =
            body[28 * count..32 * count].chunks_exact(4).map(|b| u32::from_le_bytes(b.try_into().unwrap())).collect();
        assert!(line.iter().all(|l| (1..=lines).contains(l)));
        let running = &body[32 * count..33 * count];
        let cuts = running.iter().filter(|r| **r == 3).count();
        assert_eq!(cuts > 0, index > 0, "the frame run cuts nothing, the others do");
        for i in 0..count {
            assert_eq!(running[i] == 3, engagement[i] > 0.0 || (running[i] == 3 && force[i] >= 0.0), "place {i}");
            assert!(running[i] == 3 || force[i] == 0.0);
        }
        if index > 0 {
            assert!(force.iter().any(|f| *f > 0.0));
            // The greatest engagement of the graph is one of the ways'.
            assert!(engagement.iter().all(|e| (0.0..=180.01).contains(e)));
        }
    }
}

#[test]
fn heights_and_their_colours() {
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    let stages = state["stages"].as_array().unwrap().len();
    let (whole, untouched) = columns(&ask(&served, run, "heights?after=0&cells=100000"));
    let cells = (whole["columns"].as_u64().unwrap() * whole["rows"].as_u64().unwrap()) as usize;
    assert!(cells <= 100_000 && cells > 20_000);
    let levels = |body: &[u8]| -> Vec<u16> {
        body[..2 * cells].chunks_exact(2).map(|b| u16::from_le_bytes(b.try_into().unwrap())).collect()
    };
    assert!(levels(&untouched).iter().all(|l| *l == 65535), "before all programs the blank is whole");
    let mut before = levels(&untouched);
    for after in 1..=stages {
        let (head, body) = columns(&ask(&served, run, &format!("heights?after={after}&cells=100000")));
        assert_eq!(head, whole);
        let now = levels(&body);
        assert!(now.iter().zip(&before).all(|(n, b)| n <= b), "nothing grows");
        assert!(now.iter().zip(&before).any(|(n, b)| n < b), "stage {after} cuts something");
        assert_eq!(body.len(), 2 * cells + 3 * head["colours"].as_u64().unwrap() as usize);
        // At the face the uppermost sheet's own colour lies open, true to a step.
        let face = &body[body.len() - 3..];
        let sheet: Vec<u8> =
            head["layers"][0]["colour"].as_array().unwrap().iter().map(|c| c.as_u64().unwrap() as u8).collect();
        assert!(face.iter().zip(&sheet).all(|(a, b)| a.abs_diff(*b) <= 1), "{face:?} {sheet:?}");
        before = now;
    }
}

#[test]
fn a_window_is_cut_anew_down_to_microns() {
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    let at = state["picture"]["marks"][0]["at"].as_array().unwrap();
    let (x, y) = (at[0].as_f64().unwrap(), at[1].as_f64().unwrap());
    let window = |half: f64, width: u32| {
        format!("near?x0={}&y0={}&x1={}&y1={}&width={width}", x - half, y - half, x + half, y + half)
    };
    let pitch = |reply: &Reply| reply.header("x-pitch").unwrap().parse::<f64>().unwrap();
    let model = 1000.0 * state["picture"]["pitch"].as_f64().unwrap();
    for (half, width) in [(10.0, 400), (1.0, 400), (0.25, 500), (0.05, 400)] {
        let reply = ask(&served, run, &window(half, width));
        assert_eq!((reply.status, reply.header("content-type")), (200, Some("image/png")));
        let decoder = png::Decoder::new(std::io::Cursor::new(&reply.body));
        assert_eq!(decoder.read_info().unwrap().info().width, width);
        let pixel = 2000.0 * half / f64::from(width);
        assert!((pitch(&reply) - pixel).abs() < 0.02 * pixel, "{half}: {} of {pixel}", pitch(&reply));
    }
    // Where pixels are no finer than the model, the model itself is shown.
    assert!((pitch(&ask(&served, run, &window(40.0, 100))) - model).abs() < 1e-6);
    // After the first stage the same place is another one than at the end, or as deep at most.
    assert_eq!(ask(&served, run, &format!("{}&stage=0", window(1.0, 200))).status, 200);
}

#[test]
fn odd_questions_have_no_answer() {
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    for what in [
        "near",
        "near?x0=1&y0=1&x1=2&y1=2",
        "near?x0=1&y0=1&x1=2&y1=2&width=0",
        "near?x0=1&y0=1&x1=2&y1=2&width=1201",
        "near?x0=1&y0=1&x1=2&y1=2&width=4294967297",
        "near?x0=2&y0=1&x1=1&y1=2&width=100",
        "near?x0=1&y0=1&x1=1&y1=1&width=100",
        "near?x0=1&y0=1&x1=1.000001&y1=2&width=100",
        "near?x0=-1e300&y0=-1e300&x1=1e300&y1=1e300&width=100",
        "near?x0=1e9&y0=1e9&x1=1000000001&y1=1000000001&width=100",
        "near?x0=NaN&y0=1&x1=2&y1=2&width=100",
        "near?x0=1&y0=1&x1=2&y1=2&width=100&stage=99",
        "way",
        "way?program=99",
        "way?program=-1",
        "way?program=0.5",
        "heights",
        "heights?after=99&cells=1000",
        "heights?after=0&cells=0",
        "heights?after=0&cells=1500001",
        "heights?after=0&cells=1e300",
        "heights?after=0",
    ] {
        assert!([400, 404].contains(&ask(&served, run, what).status), "{what}");
    }
    // A window far longer than wide is no picture of any use, and must not take the server's memory.
    let long = ask(&served, run, "near?x0=0&y0=-100&x1=0.06&y1=100&width=1200");
    assert!([400, 404].contains(&long.status));
    for what in ["near?x0=1&y0=1&x1=2&y1=2&width=100", "times", "sets", "way?program=0", "heights?after=0&cells=1000"] {
        let (path, query) = what.split_once('?').unwrap_or((what, ""));
        assert_eq!(served.get(&format!("/plate/1/{path}?run=999&{query}")).status, 204, "{what}");
        assert_eq!(served.get(&format!("/plate/1/{path}?{query}")).status, 204, "{what}");
        assert_eq!(served.get(&format!("/plate/2/{path}?run={run}&{query}")).status, 404, "{what}");
        let out = format!(
            "GET /plate/1/{path}?run={run}&{query} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n",
            served.host()
        );
        assert_eq!(served.raw(out).status, 403, "{what} without a key");
    }
    assert_eq!(served.get("/plate/1/state").status, 200);
}

#[test]
fn sets_are_told_with_what_the_minutes_go_into() {
    let served = served();
    let state = served.settled();
    let told = ask(&served, &state["picture"]["run"], "sets").json();
    let sets = told["sets"].as_array().unwrap();
    let used: Vec<&Value> = sets.iter().filter(|s| s["used"] == true).collect();
    assert_eq!(used.len(), 1, "{told}");
    let (cutting, air) = (told["cutting"].as_f64().unwrap(), told["air"].as_f64().unwrap());
    // What is left of the minutes are starts and changes; the stages' own minutes are the rest.
    let stages: f64 = state["stages"].as_array().unwrap().iter().map(|s| s["minutes"].as_f64().unwrap()).sum();
    assert!((cutting + air - stages).abs() < 1e-6 * stages.max(1.0), "{cutting} {air} {stages}");
    assert!(used[0]["minutes"].as_f64().unwrap() >= cutting + air - 0.05, "{told}");
}

/// Whoever leaves stops the work: windows asked for and left at once leave the server ready.
#[test]
fn a_window_that_nobody_waits_for_is_left() {
    use std::io::Write;
    let served = served();
    let state = served.settled();
    let run = &state["picture"]["run"];
    for i in 0..20 {
        let mut stream = served.open();
        let target = format!("/plate/1/near?run={run}&x0={i}&y0=0&x1={}&y1=30&width=1200", i + 30);
        write!(stream, "GET {target} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\n\r\n", served.host(), served.cookie)
            .unwrap();
        drop(stream);
    }
    let began = std::time::Instant::now();
    assert_eq!(ask(&served, run, "near?x0=1&y0=1&x1=2&y1=2&width=100").status, 200);
    assert!(began.elapsed().as_secs() < 20, "{:?}", began.elapsed());
}
