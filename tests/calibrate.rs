//! `calibrate` through the real binary: the demo's programs timed on machines whose figures are known.
#![expect(clippy::unwrap_used, reason = "a test may stop at what must hold")]

#[path = "pace/steps.rs"]
mod steps;

use plate::Machine;
use proof::Settings;
use quantity::Length;
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;
use tempfile::TempDir;

/// The demo's plate, shop and programs in a folder, and the shop's machine.
fn workshop() -> &'static (TempDir, Machine, Vec<String>) {
    static WORKSHOP: OnceLock<(TempDir, Machine, Vec<String>)> = OnceLock::new();
    WORKSHOP.get_or_init(|| {
        let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
        let dir = TempDir::new().unwrap();
        for file in ["plate.toml", "door-plate.svg"] {
            fs::copy(demo.join(file), dir.path().join(file)).unwrap();
        }
        fs::write(dir.path().join("shop.toml"), intake::STARTER_SHOP).unwrap();
        let settings = Settings { pitch: 0.1, picture_pitch: 2.0 };
        let mut outcome = packet::Outcome::default();
        let (computed, _) = packet::compute(&dir.path().join("plate.toml"), &settings, &(), &mut outcome).unwrap();
        for (file, text) in &computed.programs {
            fs::write(dir.path().join(file), text).unwrap();
        }
        let files = computed.programs.into_iter().map(|p| p.0).filter(|f| !f.starts_with('0')).collect();
        (dir, computed.job.shop.machine, files)
    })
}

fn run(folder: &Path, words: &[String], status: i32) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_platewright"))
        .current_dir(folder)
        .arg("calibrate")
        .args(words)
        .output()
        .unwrap();
    let printed = format!("{}{}", String::from_utf8_lossy(&output.stdout), String::from_utf8_lossy(&output.stderr));
    assert_eq!(output.status.code(), Some(status), "{words:?}: {printed}");
    printed
}

fn json(folder: &Path, words: &[String], status: i32) -> Value {
    let mut words = words.to_vec();
    words.push("--json".into());
    serde_json::from_str(&run(folder, &words, status)).unwrap()
}

/// `PROGRAM=TIME` for each program, timed by `seconds`.
fn timed(seconds: &dyn Fn(&read::Program) -> f64) -> Vec<String> {
    let (dir, _, files) = workshop();
    let say = |file: &String| {
        let program = read::read(file, &fs::read(dir.path().join(file)).unwrap());
        let took = (seconds(&program) * 100.0).round();
        format!("{file}={}:{:05.2}", (took / 6000.0).floor(), took % 6000.0 / 100.0)
    };
    files.iter().map(say).collect()
}

fn with(first: &[&str], then: &[String]) -> Vec<String> {
    first.iter().map(|w| (*w).to_owned()).chain(then.iter().cloned()).collect()
}

fn near(value: &Value, expected: f64, share: f64) {
    let value = value.as_f64().unwrap();
    assert!((value - expected).abs() <= share * expected, "{value} is not {expected}");
}

/// Machines quicker and slower than the shop file has them: timed by the model their figures come back within 2 %; timed by the
/// simulation in small steps, which shares nothing with it and is half a second off here and there, and known as a watch tells
/// it, the acceleration does within 4 %, and where the deviation is told too, all lie where they are said to lie.
#[test]
fn known_figures_come_back_from_the_demos_programs() {
    let (dir, machine, _) = workshop();
    for (acceleration, deviation) in [([320.0, 320.0, 120.0], 0.05), ([110.0, 110.0, 90.0], 0.01)] {
        let truth = Machine { acceleration, corner_deviation: Length::mm(deviation), ..machine.clone() };
        let by_model = timed(&|p| reckon::pace::seconds(&truth, &proof::steps(p)));
        let value = json(dir.path(), &with(&["plate.toml", "--within", "0.2 s"], &by_model), 0);
        let figures = &value["figures"];
        (0..3).for_each(|i| near(&figures["acceleration"][i], acceleration[i], 0.02));
        near(&figures["corner_deviation"], deviation, 0.02);
        for row in value["programs"].as_array().unwrap() {
            let took = row["took"].as_f64().unwrap();
            near(&row["after"], took, 0.001);
            assert!((row["before"].as_f64().unwrap() / took - 1.0).abs() > 0.001, "{row}");
        }
        assert!(value["wrote"].is_null());
        let in_steps = timed(&|p| steps::seconds(&truth, p));
        let value = json(dir.path(), &with(&["plate.toml", "--within", "2 s"], &in_steps), 0);
        let figures = &value["figures"];
        (0..2).for_each(|i| near(&figures["acceleration"][i], acceleration[i], 0.04));
        let corner_told = figures["corner"]["told"].is_object();
        println!("{acceleration:?}, {deviation}: deviation told by a watch: {corner_told}");
        for (figure, truth) in [("level", acceleration[0]), ("upright", acceleration[2]), ("corner", deviation)] {
            let known = &figures[figure]["told"];
            let within = |end: &str| known[end].as_f64().unwrap();
            let lies = known.is_null() || (within("low") <= truth && truth <= within("high"));
            assert!(lies || !corner_told, "{figure}: {figures:#}");
        }
    }
    assert_eq!(fs::read_to_string(dir.path().join("shop.toml")).unwrap(), intake::STARTER_SHOP, "nothing was written");
}

/// With `--write` two figures of the shop file change and nothing else; a second time nothing does, and what is predicted then is
/// what was taken.
#[test]
fn the_shop_file_gets_the_figures_where_that_is_asked() {
    let (dir, machine, files) = workshop();
    let own = TempDir::new().unwrap();
    let commented =
        intake::STARTER_SHOP.replace("acceleration = [200, 200, 150]", "acceleration = [200, 200, 150] # a guess");
    fs::write(own.path().join("shop.toml"), &commented).unwrap();
    for file in files {
        fs::copy(dir.path().join(file), own.path().join(file)).unwrap();
    }
    let truth = Machine { acceleration: [320.0, 320.0, 120.0], corner_deviation: Length::mm(0.05), ..machine.clone() };
    let times = timed(&|p| reckon::pace::seconds(&truth, &proof::steps(p)));
    let words = with(&["--shop", "shop.toml", "--within", "0.2 s", "--write"], &times);
    let said = run(own.path(), &words, 0);
    assert!(said.contains("shop.toml has them now"), "{said}");
    let now = fs::read_to_string(own.path().join("shop.toml")).unwrap();
    let differing: Vec<(&str, &str)> = commented.lines().zip(now.lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(commented.lines().count(), now.lines().count());
    assert_eq!(differing.len(), 2, "{differing:?}");
    assert!(differing[0].1.starts_with("acceleration = [") && differing[0].1.ends_with("] # a guess"), "{differing:?}");
    for line in said.lines().filter(|l| l.starts_with("corner_deviation = ")) {
        assert!(now.lines().any(|l| l == line), "{line}");
    }
    let again = json(own.path(), &words, 0);
    assert_eq!(fs::read_to_string(own.path().join("shop.toml")).unwrap(), now);
    for row in again["programs"].as_array().unwrap() {
        near(&row["before"], row["took"].as_f64().unwrap(), 0.001);
    }
    assert_eq!(fs::read_dir(own.path()).unwrap().count(), files.len() + 1, "nothing is left beside it");
}

#[test]
fn one_program_tells_one_figure_and_says_so() {
    let (dir, machine, _) = workshop();
    let truth = Machine { acceleration: [300.0, 300.0, 225.0], ..machine.clone() };
    let times = timed(&|p| reckon::pace::seconds(&truth, &proof::steps(p)));
    let value = json(dir.path(), &with(&["plate.toml"], &times[1..2]), 0);
    near(&value["figures"]["acceleration"][0], 300.0, 0.02);
    assert_eq!(value["figures"]["corner"], "kept");
    assert_eq!(value["figures"]["upright"], "in_proportion");
    assert_eq!(value["figures"]["instead"].as_array().unwrap().len(), 2);
    let said = run(dir.path(), &with(&["plate.toml"], &times[1..2]), 0);
    assert!(
        said.contains("note[figures-not-told-apart]") && said.contains("would explain the times as well"),
        "{said}"
    );
}

#[test]
fn what_cannot_be_is_refused() {
    let (dir, machine, files) = workshop();
    let shop = |words: &[&str]| with(words, &[]);
    // Half of what the cuts alone take: the feed and the lines at which most of it goes are named.
    let program = read::read(&files[1], &fs::read(dir.path().join(&files[1])).unwrap());
    let least = reckon::calibrate::Least::of(machine, &proof::steps(&program));
    let half = format!("{}={:.1} s", files[1], 0.5 * least.cuts);
    let said = run(dir.path(), &shop(&["plate.toml", &half]), 1);
    assert!(
        said.contains("refused[time-too-short]") && said.contains("are cuts at") && said.contains("lines "),
        "{said}"
    );
    // A little more than the cuts and pauses take: then the rapids are what can't be.
    let rapids = "G21 G17 G90 G94\nM3 S9000\nG0 Z10\nG0 X0 Y0\nG0 X500\nG0 X0\nG0 X500\nG0 X0\nG1 X1 F600\nM30\n";
    fs::write(dir.path().join("far.nc"), rapids).unwrap();
    let said = run(dir.path(), &shop(&["plate.toml", "far.nc=20 s"]), 1);
    assert!(said.contains("are rapids at") && said.contains("`rapid`") && said.contains("far.nc, line 5"), "{said}");
    let nothing = json(dir.path(), &shop(&["plate.toml", "0-frame.nc=14 s", "--within", "30 s"]), 1);
    assert_eq!(nothing["doubts"].as_array().unwrap().last().unwrap()["id"], "times-tell-nothing");
    assert!(nothing["figures"].is_null() && nothing["lines"].as_array().unwrap().is_empty());
    let days = run(dir.path(), &shop(&["plate.toml", &format!("{}=99:00:00", files[0])]), 1);
    assert!(days.contains("refused[time-too-long]"), "{days}");
    // No feed, no time.
    fs::write(dir.path().join("bare.nc"), "G21 G17 G90 G94\nG0 Z10\nG0 X0 Y0\nG1 X9\nM30\n").unwrap();
    let bare = json(dir.path(), &shop(&["plate.toml", "bare.nc=1:00"]), 1);
    assert!(bare["programs"].as_array().unwrap().is_empty(), "{bare}");
    // Bad words and files.
    for words in [
        &["plate.toml"][..],
        &["plate.toml", "1-clear.nc"],
        &["plate.toml", "1-clear.nc=12"],
        &["plate.toml", "nowhere.nc=12:00"],
        &["plate.toml", "1-clear.nc=12:00", "--within", "soon"],
        &["nowhere.toml", "1-clear.nc=12:00"],
        &["--shop", "nowhere.toml", "1-clear.nc=12:00"],
    ] {
        run(dir.path(), &shop(words), 2);
    }
}

/// Without a shop file there is none to write to: the lines are printed all the same.
#[test]
fn the_starter_shop_is_never_written() {
    let (dir, machine, files) = workshop();
    let bare = TempDir::new().unwrap();
    fs::copy(dir.path().join("plate.toml"), bare.path().join("plate.toml")).unwrap();
    for file in files {
        fs::copy(dir.path().join(file), bare.path().join(file)).unwrap();
    }
    let truth = Machine { acceleration: [320.0, 320.0, 120.0], corner_deviation: Length::mm(0.05), ..machine.clone() };
    let times = timed(&|p| reckon::pace::seconds(&truth, &proof::steps(p)));
    let said = run(bare.path(), &with(&["plate.toml", "--within", "0.2 s", "--write"], &times), 1);
    assert!(said.contains("refused[shop-not-written]") && said.contains("\nacceleration = ["), "{said}");
    assert_eq!(fs::read_dir(bare.path()).unwrap().count(), files.len() + 1);
}
