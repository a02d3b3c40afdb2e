//! The page at the machine in a real browser: led through the work, ticks that outlast the server, readings, the tablet's code; and
//! whether everyone can use each page.
#![cfg(unix)]

mod browser_kit;

use browser_kit::{Browser, ENTER, RIGHT, Served};
use serde_json::{Value, json};
use std::fs;
use std::io::BufRead;
use std::time::Duration;

const PAGE: [&str; 2] = ["page", "plate.toml"];
/// A tick or a reading that is turned down, which the browser logs.
const TURNED_DOWN: [&str; 2] = ["/plate/1/machine/thickness", "/plate/1/machine/diameter"];

/// Opens the page at the machine and waits until it can be worked from.
fn at_machine(browser: &Browser, served: &Served) {
    browser.open(&served.address);
    browser.open(&format!("{}/plate/1/machine", served.own()));
    browser.until("the steps", "return document.querySelector('#tick') !== null && document.querySelector('#tick').disabled === false && document.querySelector('#news').children.length === 0");
}

fn where_(browser: &Browser) -> String {
    browser.text("#where")
}

/// Whatever is to be pressed, read or seen is large enough, and nothing stands out.
fn large(browser: &Browser) {
    let small = "return [...document.querySelectorAll('main p, main button, main li, main label, main input, main dd, main dt, main h1')]\
                 .filter((e) => e.getClientRects().length > 0 && parseFloat(getComputedStyle(e).fontSize) < 28).map((e) => e.outerHTML.slice(0, 80))";
    assert_eq!(browser.run(small), json!([]));
    let low = "return [...document.querySelectorAll('#does button')].filter((b) => b.getBoundingClientRect().height < 80).length";
    assert_eq!(browser.run(low), json!(0));
    browser.no_sideways();
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn led_through_the_work_and_ticks_outlast_the_server() {
    let mut served = Served::demo();
    let browser = Browser::new(1280, 800, false);
    at_machine(&browser, &served);
    assert_eq!(where_(&browser), "Before you begin");
    assert!(browser.text("#says").contains("eye protection"));
    browser.picture("machine-1280-first");
    large(&browser);
    browser.click("#tick");
    let count = browser.run("return Number(document.querySelector('#where').textContent.match(/of (\\d+)/)[1])");
    let count = count.as_u64().unwrap();
    assert!(count > 12, "{count}");
    // Every step by its tick, each with a picture but where the spindle has no dial.
    for step in 1..=count {
        assert_eq!(where_(&browser), format!("Step {step} of {count}"));
        browser.until("a picture", "const i = document.querySelector('#sight img'); return document.querySelector('#sight svg') !== null || (i !== null && i.complete && i.naturalWidth > 0)");
        large(&browser);
        browser.picture(&format!("machine-1280-{step:02}"));
        browser.click("#tick");
        let next = if step == count { step } else { step + 1 };
        browser.until(
            "the next step",
            &format!("return document.querySelector('#where').textContent === 'Step {next} of {count}'"),
        );
    }
    browser.until("all done", "return document.querySelector('#tick').getAttribute('aria-pressed') === 'true'");
    // One is taken back, and the server started anew.
    for _ in 0..3 {
        browser.click("#back");
    }
    browser.click("#tick");
    browser.until("taken back", "return document.querySelector('#tick').getAttribute('aria-pressed') === 'false'");
    let open = where_(&browser);
    browser.kept_to_itself(served.own(), &[]);
    drop(browser);
    served = served.again(&PAGE);
    let browser = Browser::new(1280, 800, false);
    at_machine(&browser, &served);
    assert_eq!(where_(&browser), open, "it begins at the one that is not ticked");
    assert_eq!(browser.run("return document.querySelector('#tick').getAttribute('aria-pressed')"), json!("false"));
    browser.click("#back");
    assert_eq!(browser.run("return document.querySelector('#tick').getAttribute('aria-pressed')"), json!("true"));

    // The plate changes: ticks of what changed are told of.
    let text = fs::read_to_string(served.plate()).unwrap().replace("below_face = 0.8", "below_face = 0.9");
    fs::write(served.plate(), text).unwrap();
    browser.until("told", "return document.querySelector('#news').textContent.includes('not true any more')");
    browser.picture("machine-1280-changed");
    browser.kept_to_itself(served.own(), &[]);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn readings_by_keyboard_alone() {
    let served = Served::demo();
    let browser = Browser::new(820, 1180, false);
    at_machine(&browser, &served);
    browser.keys(&[RIGHT]);
    assert!(where_(&browser).starts_with("Step 1 "), "{}", where_(&browser));
    let focus = |id: &str| {
        browser.run(&format!(
            "document.getElementById({id:?}).focus(); document.getElementById({id:?}).select(); return true"
        ))
    };
    focus("sheet-0");
    browser.write("deep");
    browser.keys(&[ENTER]);
    browser.until("told", "return document.querySelector('#sheet-0-says').classList.contains('wrong')");
    browser.picture("machine-820-wrong");
    focus("sheet-0");
    browser.write("2.84, 2.86");
    browser.keys(&[ENTER]);
    browser.until("what changed", "return [...document.querySelectorAll('#changes dt')].some((e) => e.textContent.includes('face above the table'))");
    assert!(fs::read_to_string(served.plate()).unwrap().contains("measured = [2.84, 2.86] }"));
    assert!(browser.text("#changes").contains("→"), "{}", browser.text("#changes"));
    browser.picture("machine-820-reading");
    large(&browser);
    while browser.run("return document.querySelector('#more input[id^=cutter]') === null") == json!(true) {
        let before = where_(&browser);
        browser.keys(&[RIGHT]);
        assert_ne!(where_(&browser), before, "there is a step with a cutter");
    }
    browser.run("const i = document.querySelector('#more input'); i.focus(); i.select(); return true");
    browser.write("3.1 mm");
    browser.keys(&[ENTER]);
    browser.until(
        "taken",
        "return document.querySelector('#changes h2')?.textContent.includes('measures 3.1 mm') === true",
    );
    browser.until("proven", "return document.querySelectorAll('#changes dd').length > 0");
    assert!(fs::read_to_string(served.folder.path().join("shop.toml")).unwrap().contains("diameter = 3.1\n"));
    browser.picture("machine-820-cutter");
    browser.kept_to_itself(served.own(), &TURNED_DOWN);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn a_tablet_is_let_in_by_the_code() {
    let folder = Served::small().into_folder();
    let mut served = Served::of(folder, &["page", "plate.toml", "--lan=127.0.0.2"]);
    let network = served.said["network"].as_str().unwrap().to_owned();
    assert!(network.starts_with("http://127.0.0.2:"), "{network}");
    let mut text = String::new();
    while !text.ends_with("}\n") {
        assert!(served.out.read_line(&mut text).unwrap() > 0, "{text}");
    }
    let code: Value = serde_json::from_str(&text).unwrap();
    let code = code["code"].as_str().unwrap();
    let browser = Browser::new(900, 600, false);
    browser.open(&network);
    browser.until("the field", "return document.activeElement.id === 'code'");
    large(&browser);
    browser.accessible("the code");
    browser.write("bbbbbb");
    browser.keys(&[ENTER]);
    browser.until("wrong", "return document.querySelector('#wrong').textContent.includes('not the code')");
    browser.picture("machine-900-code");
    std::thread::sleep(Duration::from_millis(1100));
    browser.write(&code.to_lowercase());
    browser.keys(&[ENTER]);
    browser.until(
        "let in",
        "return location.pathname === '/plate/1/machine' && document.querySelector('#tick')?.disabled === false",
    );
    browser.click("#tick");
    browser.until("the first step", "return document.querySelector('#where').textContent.startsWith('Step 1 ')");
    browser.click("#tick");
    browser.until("ticked", "return document.querySelector('#where').textContent.startsWith('Step 2 ')");
    assert!(served.folder.path().join("plate.toml.ticks.json").exists());
    // The wrong code is logged by the browser as a failed request.
    browser.kept_to_itself(network.trim_end_matches('/'), &["/code"]);
}

/// Each page and state, light and dark, narrow and wide: no serious or critical finding.
#[test]
#[ignore = "needs chromium, its driver and npm; ./test.sh runs it"]
fn everyone_can_use_each_page() {
    let served = Served::small();
    for dark in [false, true] {
        let browser = Browser::new(1280, 900, dark);
        browser.open(&served.address);
        browser.proven("Proven");
        browser.accessible("the plate");
        browser.click("#sentences li[data-index='0'] button.said");
        browser.accessible("a floor being changed");
        browser.size(360, 740);
        browser.accessible("the plate, narrow");
        browser.size(1280, 900);
        at_machine(&browser, &served);
        for (width, height) in [(1280, 900), (360, 740), (740, 360)] {
            browser.size(width, height);
            browser.accessible(&format!("before the first step at {width}"));
        }
        browser.click("#tick");
        browser.until("step 1", "return document.querySelector('#where').textContent.startsWith('Step 1 ')");
        loop {
            let step = where_(&browser);
            browser.accessible(&format!("{step} in the dark: {dark}"));
            if browser.run("return document.querySelector('#on')?.disabled !== false") == json!(true) {
                break;
            }
            browser.click("#on");
        }
    }
    // Refused: the notes, and the page at the machine that says not to run anything.
    let good = fs::read_to_string(served.plate()).unwrap();
    fs::write(served.plate(), good.replace("shows = \"ruby clear 3\"", "below_face = 40")).unwrap();
    let browser = Browser::new(1280, 900, false);
    browser.open(&served.address);
    browser.until("refused", "return document.querySelector('#verdict').textContent === 'Refused'");
    browser.accessible("a refused plate");
    browser.open(&format!("{}/plate/1/machine", served.own()));
    browser
        .until("refused", "return document.querySelector('#news').textContent.includes('Do not run these programs')");
    browser.picture("machine-1280-refused");
    browser.accessible("refused at the machine");
    browser.size(360, 740);
    browser.picture("machine-360-refused");
    browser.no_sideways();
    fs::write(served.plate(), good).unwrap();
    // The start page.
    let served = served.again(&["page", "."]);
    let browser = Browser::new(1280, 900, true);
    browser.open(&served.address);
    browser.until("the plates", "return document.querySelectorAll('#plates a').length > 0");
    browser.accessible("the start page");
    browser.size(360, 740);
    browser.accessible("the start page, narrow");
}

/// Small and large, upright and lying, dark: everything is large enough and within the screen.
#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn every_screen_fits() {
    let served = Served::demo();
    let browser = Browser::new(360, 740, true);
    at_machine(&browser, &served);
    for (width, height) in [(360, 740), (740, 360), (900, 600), (1920, 1080), (3840, 2160)] {
        browser.size(width, height);
        browser.open(&format!("{}/plate/1/machine", served.own()));
        browser.until("the steps", "return document.querySelector('#tick')?.disabled === false");
        let mut step = 0;
        loop {
            std::thread::sleep(Duration::from_millis(60));
            large(&browser);
            browser.picture(&format!("fits-{width}-{step:02}"));
            if browser.run("return document.querySelector('#on')?.disabled !== false") == json!(true) {
                break;
            }
            browser.click("#on");
            step += 1;
        }
        assert!(step > 12);
        let reached = "const b = document.querySelector('#tick').getBoundingClientRect(); return b.width > 100 && b.left >= 0 && b.right <= innerWidth";
        assert_eq!(browser.run(reached), json!(true));
    }
    browser.kept_to_itself(served.own(), &[]);
}
