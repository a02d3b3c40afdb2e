//! The bench page in a real browser, headless.
#![cfg(unix)]

mod browser_kit;

use browser_kit::{Browser, ENTER, ESCAPE, RIGHT, Served, TAB};
use serde_json::json;
use std::fs;
use std::time::Duration;

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

    // A full run confirms the first answer, and the picture that is looked at stays.
    let number = "Number(new URL(document.querySelector('#face').src).searchParams.get('run'))";
    browser.until("the first answer's picture", &format!("return {number} < 500000000"));
    let answered = browser.run("return document.querySelector('#face').src");
    browser.until("confirmed", "return document.querySelector('#first').textContent === ''");
    assert_eq!(browser.run("return document.querySelector('#face').src"), answered);

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
    browser.kept_to_itself(served.own(), &["/plate/1/floor"]);
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
    // After the ways to other pages comes the plate.
    browser.keys(&[TAB]);
    assert_eq!(focus(), json!("the shop"));
    browser.keys(&[TAB]);
    assert_eq!(focus(), json!("over"));
    browser.keys(&[RIGHT, RIGHT]);
    browser.until("what is here", "return document.querySelector('#here').textContent.startsWith('x 117 y 70')");
    let floor = "return document.activeElement.matches('#sentences li[data-index=\"0\"] > button.said')";
    let mut presses = 0;
    while browser.run(floor) != json!(true) {
        browser.keys(&[TAB]);
        presses += 1;
        assert!(presses < 60, "the first floor is not reached");
    }
    browser.keys(&[ENTER]);
    browser.write("0.9 mm");
    browser.keys(&[ENTER]);
    browser.until("taken", "return document.querySelector('form.edit') === null");
    browser.until("focus comes back", "return document.activeElement.textContent === '0.9 mm'");
    assert!(fs::read_to_string(served.plate()).unwrap().contains("below_face = 0.9"));
    browser.proven("Proven");
    let mut seen = Vec::new();
    for _ in 0..120 {
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
    browser.kept_to_itself(served.own(), &[]);
}
