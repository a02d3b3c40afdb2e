//! The plate near and tilted, and the cutting over time, in a real browser.
#![cfg(unix)]
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

mod browser_kit;

use browser_kit::{Browser, ENTER, ESCAPE, RIGHT, Served, TAB};
use serde_json::{Value, json};
use std::fs;

const END: &str = "\u{e010}";
const HOME: &str = "\u{e011}";
const PAGE_DOWN: &str = "\u{e00f}";
const PAGE_UP: &str = "\u{e00e}";
const LEFT: &str = "\u{e012}";
const SHIFT: &str = "\u{e008}";

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or(f64::NAN)
}

/// The page with its time line ready.
fn ready(browser: &Browser, served: &Served) {
    browser.open(&served.address);
    browser.proven("Proven");
    browser.run("document.querySelector('#time-line').scrollIntoView(); return true");
    browser
        .until("the time line", "return document.querySelector('#moment-says')?.textContent.includes(' of ') === true");
}

fn scale_says(browser: &Browser) -> String {
    browser.run("return document.querySelector('#scale').getAttribute('aria-label')").as_str().unwrap().to_owned()
}

/// Share of cells of the canvas whose colour is another one than the proof's own picture has there, both scaled to the canvas; cells
/// beside an edge of the picture are left out, since both round edges to their cells.
const COMPARE: &str = "
    const canvas = document.querySelector('#so-far'), [w, h] = [canvas.width, canvas.height];
    const p = new URL(arguments[0], location.href);
    const reply = await fetch(p); const bitmap = await createImageBitmap(await reply.blob());
    const other = new OffscreenCanvas(w, h).getContext('2d', { willReadFrequently: true });
    other.drawImage(bitmap, 0, 0, w, h);
    const a = canvas.getContext('2d').getImageData(0, 0, w, h).data, b = other.getImageData(0, 0, w, h).data;
    const away = (i, j, d, e) => Math.max(...[0, 1, 2].map((k) => Math.abs(d[i + k] - e[j + k])));
    let compared = 0, wrong = 0;
    for (let y = 8; y < h - 8; y++) for (let x = 8; x < w - 8; x++) {
      const i = 4 * (y * w + x);
      let plain = a[i + 3] === 255;
      for (const [dx, dy] of [[-4, 0], [4, 0], [0, -4], [0, 4], [-8, -8], [3, 3], [-3, 3], [3, -3], [-3, -3]]) plain &&= away(i, i + 4 * (dy * w + dx), b, b) < 6;
      if (!plain) continue;
      compared += 1;
      if (away(i, i, a, b) > 30) wrong += 1;
    }
    return { compared: compared / (w * h), wrong: wrong / Math.max(compared, 1) };";

fn compared(browser: &Browser, stage: usize) -> (f64, f64) {
    let script = format!(
        "const done = arguments[arguments.length - 1]; const blank = arguments[0];
         (async () => {{ const state = await (await fetch('state')).json(); const q = state.picture;
           const address = `near?run=${{q.run}}&x0=0&y0=0&x1=${{q.blank[0]}}&y1=${{q.blank[1]}}&width=900&stage={stage}`;
           return (async function () {{ {COMPARE} }})(address); }})().then(done, (e) => done(String(e)))"
    );
    let told = browser.to("/execute/async", &json!({ "script": script, "args": [] }));
    (number(&told["compared"]), number(&told["wrong"]))
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn the_cutting_is_scrubbed() {
    let served = Served::demo();
    let browser = Browser::new(1920, 1080, false);
    ready(&browser, &served);
    let stages = browser.run("return document.querySelectorAll('#story li').length").as_u64().unwrap();
    assert!(stages >= 2);

    // Each stage, chosen in the strip, takes the line to its end, where the plate cut here is the proof's.
    for stage in 0..stages as usize {
        browser.run(&format!("document.querySelectorAll('#story button')[{stage}].click(); return true"));
        let name = format!("Stage {} of {stages}", stage + 1);
        browser.until(&name, &format!("const s = document.querySelector('#moment-says').textContent; return s.includes({name:?}) && s.includes('End of the program')"));
        let (share, wrong) = compared(&browser, stage);
        println!("stage {}: {:.1} % compared, {:.3} % otherwise", stage + 1, 100.0 * share, 100.0 * wrong);
        assert!(share > 0.2 && wrong < 0.004, "stage {}: {wrong} of {share}", stage + 1);
    }
    // The comparison can tell: the finished plate is not the plate after the first stage.
    let (_, otherwise) = compared(&browser, 0);
    assert!(otherwise > 0.01, "{otherwise}");
    browser.picture("1920-story");

    // In the middle of a stage: less is cut than at its end, the cutter is there, its line is told.
    let middle = "const r = document.querySelector('#moment'); r.value = r.max * arguments[0]; r.dispatchEvent(new Event('input')); return true";
    browser.to("/execute/sync", &json!({ "script": middle, "args": [0.55] }));
    browser.until("mid-stage", "const s = document.querySelector('#moment-says').textContent; return s.includes('Line ') && !s.includes('End of the program')");
    assert_eq!(browser.run("return document.querySelectorAll('#so-far-over circle').length"), json!(2));
    browser.picture("1920-mid-stage");

    // From the hand's move to the painted moment, at many places of all programs.
    let timed = "const done = arguments[arguments.length - 1];
        (async () => {
          const range = document.querySelector('#moment'), all = [];
          let seed = 7;
          const next = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
          const shown = () => document.querySelector('#moment-says strong')?.textContent;
          const paint = () => new Promise((r) => requestAnimationFrame(() => { const c = new MessageChannel(); c.port1.onmessage = r; c.port2.postMessage(0); }));
          range.focus();
          const tries = [...Array(60)].map(next), slow = [...Array(60)].map((_, i) => 0.3 + i * 0.004);
          for (const [kind, shares] of [['first', tries.slice(0, 12)], ['jump', tries], ['drag', slow]]) {
            for (const share of shares) {
              range.value = range.max * share;
              const wanted = Math.floor(range.value / 60) + ':' + String(Math.floor(range.value % 60)).padStart(2, '0');
              const began = performance.now();
              range.dispatchEvent(new Event('input'));
              do await paint(); while (!shown()?.startsWith(wanted + ' of'));
              all.push([kind, performance.now() - began]);
            }
          }
          return all;
        })().then(done, (e) => done(String(e)))";
    let told = browser.to("/execute/async", &json!({ "script": timed, "args": [] }));
    for kind in ["first", "jump", "drag"] {
        let mut times: Vec<f64> =
            told.as_array().unwrap().iter().filter(|t| t[0] == kind).map(|t| number(&t[1])).collect();
        times.sort_by(f64::total_cmp);
        let (median, worst) = (times[times.len() / 2], times[times.len() - 1]);
        println!(
            "{kind}: {} moments, median {median:.1} ms, 95 % {:.1} ms, worst {worst:.1} ms",
            times.len(),
            times[times.len() * 19 / 20]
        );
        if kind != "first" {
            assert!(median < 100.0, "{kind}: {median}");
        }
    }
    browser.kept_to_itself(served.own(), &[]);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn near_to_microns_and_tilted() {
    let served = Served::demo();
    let browser = Browser::new(1920, 1080, false);
    browser.open(&served.address);
    browser.proven("Proven");
    assert!(scale_says(&browser).ends_with(" mm"));
    for press in 0..20 {
        if browser.run("return document.querySelector('#nearer').disabled") == json!(true) {
            break;
        }
        browser.click("#nearer");
        if press == 5 {
            browser.until("a sharp picture", "return !document.querySelector('#sharp').hidden && /µm apart, cut anew/.test(document.querySelector('#near-says').textContent)");
            browser.picture("1920-near");
        }
    }
    browser.until("microns", "return document.querySelector('#near-says').textContent.startsWith('0.4 mm across. Heights 0.') && !document.querySelector('#near-says').dataset.waits");
    assert!(scale_says(&browser).ends_with("µm"), "{}", scale_says(&browser));
    browser.picture("1920-microns");
    // By wheel farther, by hand to the side, and back to the whole plate.
    let wheel = "const o = document.querySelector('#over'), b = o.getBoundingClientRect();
        o.dispatchEvent(new WheelEvent('wheel', { deltaY: arguments[0], clientX: b.left + b.width / 3, clientY: b.top + b.height / 3, cancelable: true, bubbles: true })); return document.querySelector('#near-says').textContent";
    let said = browser.to("/execute/sync", &json!({ "script": wheel, "args": [200] }));
    assert!(!said.as_str().unwrap().starts_with("0.4 mm"), "{said}");
    let box_of = || browser.run("return document.querySelector('#over').getAttribute('viewBox')");
    let before = box_of();
    let drag = json!({ "actions": [{ "type": "pointer", "id": "mouse", "parameters": { "pointerType": "mouse" }, "actions": [
        { "type": "pointerMove", "x": 700, "y": 400 }, { "type": "pointerDown", "button": 0 },
        { "type": "pointerMove", "x": 600, "y": 430 }, { "type": "pointerUp", "button": 0 },
    ] }] });
    browser.to("/actions", &drag);
    assert_ne!(before, box_of());
    browser.click("#whole");
    assert_eq!(browser.text("#near-says"), "");
    assert!(scale_says(&browser).ends_with(" mm"));

    // Two fingers apart go nearer, together farther.
    let fingers = |from: i32, to: i32| {
        let finger = |id: &str, side: i32| {
            json!({ "type": "pointer", "id": id, "parameters": { "pointerType": "touch" }, "actions": [
                { "type": "pointerMove", "x": 800 + side * from, "y": 400 }, { "type": "pointerDown", "button": 0 },
                { "type": "pointerMove", "duration": 60, "x": 800 + side * (from + to) / 2, "y": 400 },
                { "type": "pointerMove", "duration": 60, "x": 800 + side * to, "y": 400 }, { "type": "pointerUp", "button": 0 },
            ] })
        };
        browser.to("/actions", &json!({ "actions": [finger("left", -1), finger("right", 1)] }));
    };
    let width_of = || number(&browser.run("return document.querySelector('#over').viewBox.baseVal.width"));
    let whole = width_of();
    fingers(60, 240);
    let near = width_of();
    assert!(near < 0.5 * whole, "{near} of {whole}");
    fingers(240, 120);
    assert!((1.5..2.5).contains(&(width_of() / near)), "{} from {near}", width_of());
    browser.click("#whole");

    browser.click("#tilt");
    browser.until("tilted", "return document.querySelector('#tilt-says').textContent.startsWith('From the maker')");
    let pixels = "const c = document.querySelector('#tilted'); const d = c.getContext('2d').getImageData(0, 0, c.width, c.height).data;
        let sum = 0, painted = 0; for (let i = 0; i < d.length; i += 4) if (d[i + 3]) { painted++; sum = (sum * 31 + d[i] + d[i + 1] * 7 + d[i + 2] * 13) % 1000003; } return [painted / (c.width * c.height), sum]";
    let first = browser.run(pixels);
    assert!(number(&first[0]) > 0.8, "{first}");
    browser.picture("1920-tilted");
    browser.run("document.querySelector('#tilted').focus(); return true");
    browser.keys(&[RIGHT, RIGHT, RIGHT, RIGHT]);
    browser.until(
        "the light moves",
        &format!(
            "{} ",
            pixels.replace("return [painted / (c.width * c.height), sum]", &format!("return sum !== {}", first[1]))
        ),
    );
    let timed = "const done = arguments[arguments.length - 1]; (async () => { const c = document.querySelector('#tilted'), b = c.getBoundingClientRect(), all = [];
        for (let i = 0; i < 25; i++) { const began = performance.now();
          c.dispatchEvent(new PointerEvent('pointermove', { clientX: b.left + (b.width * i) / 25, clientY: b.top + 40 }));
          await new Promise((r) => requestAnimationFrame(() => { const m = new MessageChannel(); m.port1.onmessage = r; m.port2.postMessage(0); }));
          all.push(performance.now() - began); }
        return all.sort((a, b) => a - b); })().then(done)";
    let times = browser.to("/execute/async", &json!({ "script": timed, "args": [] }));
    println!("light: median {:.1} ms, worst {:.1} ms", number(&times[12]), number(&times[24]));
    assert!(number(&times[12]) < 100.0);
    browser.keys(&[ESCAPE]);
    assert_eq!(
        browser.run("return document.querySelector('#tilted').hidden && !document.querySelector('#paper').hidden"),
        json!(true)
    );
    browser.kept_to_itself(served.own(), &[]);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn a_finding_is_a_mark_on_the_line() {
    let served = marked();
    let browser = Browser::new(1280, 900, true);
    browser.open(&served.address);
    browser.until("judged", "return ['Proven', 'Refused'].includes(document.querySelector('#verdict').textContent)");
    browser.run("document.querySelector('#time-line').scrollIntoView(); return true");
    browser.until("marks", "return document.querySelectorAll('#marks button').length > 0");
    let label = browser.run("return document.querySelector('#marks button').getAttribute('aria-label')");
    browser.run("document.querySelector('#marks button').click(); return true");
    browser.until("told", &format!("return {label}.startsWith(document.querySelector('#mark-says').textContent) && document.querySelector('#mark-says').textContent.length > 10"));
    // The moment that is shown is the finding's line.
    let line = browser.run("return Number(document.querySelector('#mark-says').textContent.match(/line (\\d+)/)[1])");
    browser.until(
        "its line",
        &format!(
            "return Number(document.querySelector('#moment-says').textContent.match(/Line (\\d+)/)?.[1]) >= {line}"
        ),
    );
    browser.picture("1280-finding-dark");
    browser.kept_to_itself(served.own(), &[]);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn by_keys_alone_and_at_every_width() {
    let served = Served::demo();
    let browser = Browser::new(900, 1200, false);
    ready(&browser, &served);
    let focus = || browser.run("const e = document.activeElement; return e.id || e.className || e.tagName");
    browser.run("document.querySelector('#over').focus(); return true");
    browser.keys(&["+", "+", "+"]);
    browser.until("nearer", "return document.querySelector('#near-says').textContent.includes(' mm across')");
    let near = browser.run("return document.querySelector('#over').getAttribute('viewBox')");
    let control = json!({ "actions": [{ "type": "key", "id": "keys", "actions": [
        { "type": "keyDown", "value": "\u{e009}" }, { "type": "keyDown", "value": RIGHT }, { "type": "keyUp", "value": RIGHT }, { "type": "keyUp", "value": "\u{e009}" },
    ] }] });
    browser.to("/actions", &control);
    assert_ne!(near, browser.run("return document.querySelector('#over').getAttribute('viewBox')"));
    browser.keys(&["0"]);
    assert_eq!(browser.text("#near-says"), "");
    let mut seen = Vec::new();
    for _ in 0..200 {
        browser.keys(&[TAB]);
        seen.push(focus());
        if focus() == json!("moment") {
            break;
        }
    }
    assert!(seen.contains(&json!("tilt")) && seen.contains(&json!("nearer")), "{seen:?}");
    assert_eq!(focus(), json!("moment"), "{seen:?}");
    let at = || browser.run("return document.querySelector('#moment').value").as_str().unwrap().parse::<f64>().unwrap();
    browser.keys(&[HOME]);
    assert_eq!(at(), 0.0);
    browser.keys(&[RIGHT, RIGHT, LEFT]);
    assert!((at() - 1.0).abs() < 1e-6);
    browser.keys(&[PAGE_UP, PAGE_UP]);
    browser.until(
        "a stage's end",
        "return document.querySelector('#moment-says').textContent.includes('End of the program')",
    );
    // At a stage's end the plate above is the plate after that stage.
    browser
        .until("agrees", "return document.querySelector('#which').textContent.startsWith('The plate after stage 1')");
    let before = at();
    let shifted = json!({ "actions": [{ "type": "key", "id": "keys", "actions": [
        { "type": "keyDown", "value": SHIFT }, { "type": "keyDown", "value": LEFT }, { "type": "keyUp", "value": LEFT }, { "type": "keyUp", "value": SHIFT },
    ] }] });
    browser.to("/actions", &shifted);
    browser.until("a line back", &format!("return Number(document.querySelector('#moment').value) < {before}"));
    browser.keys(&[PAGE_DOWN, END]);
    browser.until("the end", "return document.querySelector('#which').textContent.startsWith('The finished plate')");
    // The tilted view by keys.
    browser.run("document.querySelector('#tilt').focus(); return true");
    browser.keys(&[ENTER]);
    browser.until("tilted", "return document.querySelector('#tilt-says').textContent.startsWith('From the maker')");
    browser.keys(&[ENTER]);
    assert_eq!(browser.run("return document.querySelector('#tilted').hidden"), json!(true));
    browser.run("document.querySelector('#sets').scrollIntoView(); return true");
    browser.until("sets", "return document.querySelectorAll('#sets tbody tr').length > 1");
    assert_eq!(browser.run("return document.querySelectorAll('#sets tr.used').length"), json!(1));
    let middle = "const r = document.querySelector('#moment'); r.value = r.max * 0.5; r.dispatchEvent(new Event('input')); return true";
    browser.run(middle);
    for (width, height) in [(360, 780), (900, 1200), (1920, 1080), (3840, 2160)] {
        browser.size(width, height);
        std::thread::sleep(std::time::Duration::from_millis(600));
        browser.no_sideways();
        browser.picture(&format!("{width}-seen"));
    }
    browser.kept_to_itself(served.own(), &[]);
}

/// The small plate, cut on a machine that gains speed so slowly that its cutters rub: cautions that name a line.
fn marked() -> Served {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    fs::write(at("plate.toml"), include_str!("../demo/new/plate.toml")).unwrap();
    fs::write(at("drawing.svg"), include_str!("../demo/new/drawing.svg")).unwrap();
    let shop = intake::STARTER_SHOP.replace("acceleration = [200, 200, 150]", "acceleration = [5, 5, 5]");
    assert_ne!(shop, intake::STARTER_SHOP);
    fs::write(at("shop.toml"), shop).unwrap();
    Served::of(folder, &["page", "plate.toml"])
}
