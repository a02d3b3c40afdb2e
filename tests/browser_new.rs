//! A plate from nothing, in a real browser: a drawing dropped on the page, everything said there, the packet written, and no
//! file touched by hand.
#![cfg(unix)]

mod browser_kit;

use browser_kit::{Browser, ENTER, Served};
use serde_json::json;
use std::fs;
use std::time::Instant;

/// Presses the first thing that can be done of these words.
fn act(browser: &Browser, words: &str) {
    let there = format!("[...document.querySelectorAll('button.act')].find(b => b.textContent === {words:?})");
    browser.until(words, &format!("return {there} !== undefined"));
    browser.run(&format!("{there}.click(); return true"));
}

/// Sets what a form's field holds, as choosing there does.
fn choose(browser: &Browser, selector: &str, value: &str) {
    browser.until(selector, &format!("return document.querySelector({selector:?}) !== null"));
    browser.run(&format!(
        "const f = document.querySelector({selector:?}); f.value = {value:?}; f.dispatchEvent(new Event('change', {{ bubbles: true }})); return true"
    ));
}

fn take(browser: &Browser) {
    browser.click("form.edit button[type=submit]");
    browser.until("taken", "return document.querySelector('form.edit') === null");
}

/// At four widths nothing stands out of the page.
fn at_all_widths(browser: &Browser, name: &str) {
    for (width, height) in [(360, 740), (900, 1000), (1920, 1080), (3840, 2160)] {
        browser.size(width, height);
        browser.until("laid out", &format!("return innerWidth === {width}"));
        browser.no_sideways();
        browser.picture(&format!("{name}-{width}"));
    }
    browser.size(1280, 900);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn a_plate_from_a_dropped_drawing_to_its_packet() {
    let served = Served::of(tempfile::tempdir().unwrap(), &["page"]);
    let browser = Browser::new(1280, 900, false);
    browser.open(&served.address);
    browser.until("the start page", "return document.querySelector('#plates li') !== null");
    browser.no_sideways();
    browser.picture("start");
    browser.accessible("start");

    // Begun without a drawing it says so; then one is dropped.
    browser.click("#new button");
    assert_eq!(browser.text("#says"), "Choose its drawing first.");
    let drawing = include_str!("../demo/new/drawing.svg");
    browser.run(&format!(
        "const d = new DataTransfer(); d.items.add(new File([{drawing:?}], 'hut-badge.svg')); \
         dispatchEvent(new DragEvent('drop', {{ dataTransfer: d, cancelable: true }})); return true"
    ));
    browser.until("a name from the file", "return document.querySelector('#called').value === 'hut badge'");
    browser.click("#new button");
    browser.until("the drawing in ink", "return document.querySelector('#over .drawn path') !== null");
    browser.until("refused until it is whole", "return document.querySelector('#verdict').textContent === 'Refused'");
    browser.picture("new-drawn");
    browser.accessible("new-drawn");
    assert_eq!(browser.text("#title"), "hut badge");

    // A font that the maker has lies beside the drawing.
    let font = include_bytes!("../crates/sheet/fonts/GenBkBasB.ttf");
    fs::write(served.folder.path().join("hut-badge/Bold.ttf"), font).unwrap();

    // The sheets, measured; what lies under.
    for (n, sheet) in ["night black 3", "ruby clear 3"].iter().enumerate() {
        act(&browser, if n == 0 { "add its top layer" } else { "add a layer underneath" });
        choose(&browser, "form.edit select", sheet);
        take(&browser);
    }
    for reading in ["2.96 mm", "3.04 mm"] {
        // The layer that has no reading yet.
        let without = "[...document.querySelectorAll('#about li')].find(l => l.textContent.includes('not measured'))";
        browser.until("a layer without a reading", &format!("return {without} !== undefined"));
        browser.run(&format!("{without}.querySelector('button.act').click(); return true"));
        browser.write(reading);
        take(&browser);
    }
    act(&browser, "say what lies under it");
    browser.until("tape", "return document.querySelector('#about').textContent.includes('carpet tape')");

    // An area by pressing its contour on the plate, another by its name.
    act(&browser, "a new area");
    browser.run("document.querySelector('#over').scrollIntoView({ block: 'center' }); return true");
    browser.click("#over");
    browser.until(
        "chosen",
        "return [...document.querySelectorAll('form.edit input:checked')].map(b => b.value).join() === 'field'",
    );
    browser.picture("new-choosing");
    browser.accessible("new-choosing");
    take(&browser);
    act(&browser, "a new area");
    browser.run("document.querySelector('form.edit input[value=holes]').click(); return true");
    choose(&browser, "form.edit select", "through");
    take(&browser);
    act(&browser, "cut it out");
    browser.run("document.querySelector('form.edit input[value=outline]').click(); return true");
    take(&browser);
    act(&browser, "put a hold on the blank");
    browser.proven("Proven");

    // Lettering in the middle of the field, thinner than it; then a letter more, and smaller.
    act(&browser, "new lettering");
    browser.write("HUT");
    choose(&browser, "form.edit select[aria-label^=contours]", "field");
    choose(&browser, "form.edit select[aria-label^=where]", "above_table");
    browser.run("document.querySelector('form.edit input[aria-label^=depth]').value = '1.4 mm'; return true");
    browser.picture("new-lettering");
    browser.accessible("new-lettering");
    take(&browser);
    browser.until("it says so", "return document.querySelector('#sentences').textContent.includes('It says HUT in Bold.ttf, its capitals 10 mm high, in the middle of field')");
    browser.proven("Proven");
    for (key, value) in [("text", "HUTS"), ("height", "8 mm")] {
        browser.click(&format!("button[data-path='area 2 lettering {key}']"));
        browser.write(value);
        take(&browser);
        browser.until(value, &format!("return document.querySelector(\"button[data-path='area 2 lettering {key}']\")?.textContent === {value:?}"));
    }
    browser.proven("Proven");
    browser.no_sideways();
    browser.picture("new-proven");
    browser.accessible("new-proven");

    // The hold is dragged to another corner.
    let drag = "const h = document.querySelector('[data-hold]'); h.scrollIntoView({ block: 'center' }); const o = document.querySelector('#over'); \
                o.setPointerCapture = () => {}; const b = h.getBoundingClientRect(); const mm = o.getBoundingClientRect().width / o.viewBox.baseVal.width; \
                const e = (t, x, y) => (t === 'pointerdown' ? h : o).dispatchEvent(new PointerEvent(t, { bubbles: true, pointerId: 1, clientX: x, clientY: y })); \
                const x = b.left + b.width / 2, y = b.top + b.height / 2; \
                e('pointerdown', x, y); e('pointermove', x + 50 * mm, y - 20 * mm); e('pointermove', x + 100 * mm, y - 60 * mm); e('pointerup', x + 100 * mm, y - 60 * mm); return true";
    browser.run(drag);
    let file = served.folder.path().join("hut-badge/plate.toml");
    browser.until("moved", "return document.querySelector('#holds-said').textContent.includes('x 110 mm, y 70 mm')");
    browser.proven("Proven");
    browser.click("#undo");
    browser.until("back", "return document.querySelector('#holds-said').textContent.includes('x 10 mm, y 10 mm')");
    browser.proven("Proven");

    // The shop: a cutter's width by test cut.
    browser.run("document.querySelector('#ways a[href=workshop]').click(); return true");
    browser.until("the shop", "return document.querySelector('#sections section') !== null");
    browser.no_sideways();
    browser.picture("shop");
    browser.run("for (const d of document.querySelectorAll('#sections section:first-child details')) d.open = true; return true");
    browser.picture("shop-cutter");
    browser.accessible("shop-cutter");
    browser.click("button[data-path='cutter 0 cutting_width']");
    browser.write("3.19 mm");
    browser.keys(&[ENTER]);
    browser.until(
        "the shop says it",
        "return document.querySelector(\"button[data-path='cutter 0 cutting_width']\")?.textContent === '3.19 mm'",
    );
    let shop = fs::read_to_string(served.folder.path().join("shop.toml")).unwrap();
    assert!(shop.contains("cutting_width = 3.19"));
    at_all_widths(&browser, "shop");
    browser.run("document.querySelector('nav a').click(); return true");
    browser.proven("Proven");
    at_all_widths(&browser, "new");

    // The packet has the bytes that the command writes.
    browser.click("#packet button");
    browser.until("the packet", "return document.querySelectorAll('#packet li').length > 8");
    let text = fs::read_to_string(&file).unwrap();
    assert!(
        text.contains("measured = [2.96]")
            && text.contains("[[area]]\non = \"field\"\nfloor = { shows = \"ruby clear 3\" }")
            && text.contains(
                "lettering = { text = \"HUTS\", font = \"Bold.ttf\", height = 8, on = \"field\" }\nfloor = { above_table = 1.4 }"
            ),
        "{text}"
    );
    let command = served.folder.path().join("by-command");
    let done = std::process::Command::new(env!("CARGO_BIN_EXE_platewright"))
        .args(["packet", "hut-badge/plate.toml", "--out"])
        .arg(&command)
        .current_dir(served.folder.path())
        .output()
        .unwrap();
    assert!(done.status.success());
    let programs: Vec<_> = fs::read_dir(&command).unwrap().map(|e| e.unwrap().file_name()).collect();
    for name in programs.iter().filter(|n| n.to_string_lossy().ends_with(".nc")) {
        assert_eq!(
            fs::read(command.join(name)).unwrap(),
            fs::read(served.folder.path().join("hut-badge/packet").join(name)).unwrap(),
            "{}",
            name.display()
        );
    }
    browser.kept_to_itself(served.own(), &[]);
}

#[test]
#[ignore = "needs chromium and its driver; ./test.sh runs it"]
fn a_way_out_is_pressed() {
    let served = Served::small();
    let wrong = fs::read_to_string(served.plate()).unwrap().replacen("kind = \"screw 4\"", "kind = \"scew 4\"", 1);
    fs::write(served.plate(), wrong).unwrap();
    let browser = Browser::new(900, 900, false);
    browser.open(&served.address);
    browser.until("refused", "return document.querySelector('#verdict').textContent === 'Refused'");
    assert_eq!(browser.text("button.way"), "say screw 4");
    browser.picture("900-way-out");
    browser.accessible("900-way-out");
    browser.click("button.way");
    browser.proven("Proven");
    // A picture asked for just before its run was replaced comes to nothing, and is no error.
    browser.run(
        "const late = new Image(); late.onload = late.onerror = (e) => (window.late = e.type); \
         late.src = 'picture?run=999999&width=400&night=0'; return true",
    );
    browser.until("an old picture", "return window.late === 'error'");
    browser.kept_to_itself(served.own(), &[]);
}

/// Prints how long an edit takes to its first picture and to its first answer, for the floor that everything lies in and for a
/// small one; `--release` is what a maker has. The figures are for the maker of the program: nothing is asserted of them, since
/// what else the machine does counts as well.
#[test]
#[ignore = "a measurement"]
fn how_long_an_edit_takes() {
    let served = Served::demo();
    let browser = Browser::new(1280, 900, false);
    browser.open(&served.address);
    let confirmed = || {
        browser.proven("Proven");
        browser.until("confirmed", "return document.querySelector('#first').textContent === ''");
    };
    confirmed();
    let (mut pictures, mut verdicts) = (Vec::new(), Vec::new());
    for n in 0..22 {
        let (index, floor) = if n % 2 == 0 { (0, 0.8) } else { (3, 1.4) };
        let value = format!("{:.2} mm", floor + 0.02 * f64::from(n / 2 + 1));
        browser.click(&format!("#sentences li[data-index='{index}'] > button.said"));
        browser.write(&value);
        // From the press of Enter until the browser has the new picture, and until the verdict stands there.
        browser.run(
            "const f = document.querySelector('#face'), was = f.src, began = performance.now(); window.watching?.forEach(w => w.disconnect()); window.watching = []; window.took = {}; const watch = (e, does, how) => { const w = new MutationObserver(does); w.observe(e, how); window.watching.push(w); }; \
             watch(f, () => { if (f.src !== was && !window.took.picture) requestAnimationFrame(() => window.took.picture ??= performance.now() - began); }, { attributes: true }); \
             const v = document.querySelector('#verdict'); let off = false; \
             watch(v, () => { if (v.textContent === 'Not yet proven') off = true; else if (off && !window.took.verdict) window.took.verdict = performance.now() - began; }, { childList: true, subtree: true }); \
             document.querySelector('form.edit').requestSubmit(); return true",
        );
        let began = Instant::now();
        browser.until("both", "return Boolean(window.took.picture && window.took.verdict)");
        assert!(began.elapsed().as_secs() < 60);
        let took = browser.run("return window.took");
        pictures.push((index, took["picture"].as_f64().unwrap()));
        verdicts.push((index, took["verdict"].as_f64().unwrap()));
        confirmed();
    }
    for (what, all) in [("first picture", pictures), ("first answer", verdicts)] {
        for (of, index) in [("the field", Some(0)), ("the moon", Some(3)), ("both", None)] {
            let mut list: Vec<f64> = all.iter().filter(|a| index.is_none_or(|i| a.0 == i)).map(|a| a.1).collect();
            list.sort_by(f64::total_cmp);
            let (median, least, worst) = (list[list.len() / 2], list[0], list[list.len() - 1]);
            println!("{what}, {of}: median {median:.0} ms, least {least:.0}, worst {worst:.0}");
        }
    }
    assert_eq!(browser.run("return document.querySelectorAll('#sentences li').length > 3"), json!(true));
}
