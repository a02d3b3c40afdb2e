//! What can be asked for. Every path is one of a fixed list; none of them, and no word of a query or body, ever becomes a
//! path of the disk.

use crate::answer::{self, Answer};
use crate::board::{Board, NotEdited};
use crate::run::Run;
use crate::view;
use hyper::body::Bytes;
use hyper::{Method, StatusCode, Uri};
use intake::FloorWords;
use plane::{Bounds, Point};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;
use std::time::Duration;

/// How long a question for news waits for some.
const NEWS: Duration = Duration::from_secs(20);
/// The paper in a dark room; the page's style says the same.
const NIGHT: [u8; 3] = [27, 25, 22];
/// The paper by day; the page's style says the same.
const DAY: [u8; 3] = [250, 247, 240];

const HTML: &str = "text/html; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const FONT: &str = "font/ttf";

/// The files of the page, all in the program.
const FILES: &[(&str, &str, &[u8])] = &[
    ("/", HTML, include_bytes!("../web/page.html")),
    ("/style.css", STYLE, include_bytes!("../web/style.css")),
    ("/page.js", SCRIPT, include_bytes!("../web/page.js")),
    ("/ask.js", SCRIPT, include_bytes!("../web/ask.js")),
    ("/make.js", SCRIPT, include_bytes!("../web/make.js")),
    ("/plate.js", SCRIPT, include_bytes!("../web/plate.js")),
    ("/sentences.js", SCRIPT, include_bytes!("../web/sentences.js")),
    ("/section.js", SCRIPT, include_bytes!("../web/section.js")),
    ("/mark.svg", "image/svg+xml", include_bytes!("../web/mark.svg")),
    ("/regular.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasR.ttf")),
    ("/italic.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasI.ttf")),
    ("/bold.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasB.ttf")),
];

/// Answers a request that was let in.
pub(crate) async fn respond(board: &Arc<Board>, method: &Method, target: &Uri, body: Bytes) -> Answer {
    let path = target.path();
    if *method == Method::POST {
        return match path {
            "/floor" => floor(board, &body),
            "/undo" => step(board, &body, true),
            "/redo" => step(board, &body, false),
            "/packet" => packet(board, &body),
            _ => nowhere(),
        };
    }
    if let Some((_, kind, bytes)) = FILES.iter().find(|f| f.0 == path) {
        return answer::of(StatusCode::OK, kind, Bytes::from_static(bytes));
    }
    let query = Query(target.query().unwrap_or_default());
    match path {
        "/state" => {
            if let Some(after) = query.number("after") {
                // Nothing new by then is news as well: the page asks again.
                let _ = tokio::time::timeout(NEWS, board.turned_from(after as u64)).await;
            }
            answer::json(StatusCode::OK, &view::state(board))
        }
        "/picture" => picture(board, &query).await,
        "/section" | "/here" | "/why" | "/shape" => of_run(board, path, &query),
        _ => nowhere(),
    }
}

fn nowhere() -> Answer {
    answer::words(StatusCode::NOT_FOUND, "there is nothing here")
}

/// A query of plain numbers: `run=3&x=12.5`.
struct Query<'q>(&'q str);

impl Query<'_> {
    fn number(&self, name: &str) -> Option<f64> {
        let said = self.0.split('&').find_map(|pair| pair.split_once('=').filter(|(n, _)| *n == name))?.1;
        said.parse::<f64>().ok().filter(|v| v.is_finite())
    }

    fn whole(&self, name: &str) -> Option<usize> {
        self.number(name).filter(|v| (0.0..1e9).contains(v) && v.fract() == 0.0).map(|v| v as usize)
    }
}

/// The run that is asked about, if it is still shown or the last.
fn run_of(board: &Board, query: &Query<'_>) -> Option<Arc<Run>> {
    let number = query.whole("run")? as u64;
    let now = board.now();
    [&now.shown, &now.last].into_iter().flatten().find(|r| r.number == number).cloned()
}

fn of_run(board: &Board, path: &str, query: &Query<'_>) -> Answer {
    let Some(run) = run_of(board, query) else { return gone() };
    let place = || Some(Point::new(query.number("x")?, query.number("y")?));
    let found = match path {
        "/section" => query.number("at").and_then(|at| view::section(&run, query.whole("along_x") == Some(1), at)),
        "/here" => place().and_then(|p| view::here(&run, p)),
        "/why" => query.whole("n").and_then(|n| view::why(&run, n)),
        _ => query.whole("area").and_then(|a| view::shape(&run, a)),
    };
    found.map_or_else(nowhere, |value| answer::json(StatusCode::OK, &value))
}

fn gone() -> Answer {
    answer::words(StatusCode::GONE, "the plate has been proven anew since")
}

/// The plate as it is at the end or after a stage, at a size, whole or a window of it.
async fn picture(board: &Board, query: &Query<'_>) -> Answer {
    let Some(run) = run_of(board, query) else { return gone() };
    let Some(width) = query.whole("width").and_then(|w| u32::try_from(w).ok()) else { return nowhere() };
    let bare = if query.whole("night") == Some(1) { NIGHT } else { DAY };
    let stage = query.whole("stage");
    let corner = |x: &str, y: &str| Some(Point::new(query.number(x)?, query.number(y)?));
    let asked = corner("x0", "y0").zip(corner("x1", "y1")).map(|(min, max)| Bounds { min, max });
    let drawn = tokio::task::spawn_blocking(move || {
        let (computed, model) = (run.computed.as_ref()?, run.model(stage)?);
        let intent = &computed.job.intent;
        let window = asked.unwrap_or_else(|| sheet::window(intent));
        Some(sheet::bare_plate(&intent.blank, model, window, width, bare))
    });
    match drawn.await {
        Ok(Some(bytes)) => answer::png(bytes),
        _ => nowhere(),
    }
}

/// A floor put in from the page.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FloorAsked {
    hash: String,
    area: usize,
    form: String,
    amount: String,
}

/// A wish that only says which text the page showed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Asked {
    hash: String,
}

/// Longest words of a floor.
const WORDS: usize = 200;

fn floor(board: &Board, body: &[u8]) -> Answer {
    let Ok(asked) = serde_json::from_slice::<FloorAsked>(body) else { return unclear() };
    if asked.amount.len() > WORDS || asked.amount.chars().any(char::is_control) {
        return unclear();
    }
    let floor = match asked.form.as_str() {
        "shows" => FloorWords::Shows(asked.amount),
        "below_face" => FloorWords::BelowFace(asked.amount),
        "above_table" => FloorWords::AboveTable(asked.amount),
        _ => return unclear(),
    };
    edited(board, board.edit(&asked.hash, asked.area, &floor))
}

fn step(board: &Board, body: &[u8], back: bool) -> Answer {
    match serde_json::from_slice::<Asked>(body) {
        Ok(asked) => edited(board, board.step(&asked.hash, back)),
        Err(_) => unclear(),
    }
}

fn packet(board: &Arc<Board>, body: &[u8]) -> Answer {
    match serde_json::from_slice::<Asked>(body) {
        Ok(asked) => edited(board, board.write_packet(&asked.hash)),
        Err(_) => unclear(),
    }
}

fn unclear() -> Answer {
    answer::json(StatusCode::BAD_REQUEST, &json!({ "says": "that is not what is asked for here" }))
}

/// What came of an edit, and what stands there now.
fn edited(board: &Board, result: Result<(), NotEdited>) -> Answer {
    let (status, says): (StatusCode, Value) = match result {
        Ok(()) => (StatusCode::OK, Value::Null),
        Err(NotEdited::Changed) => (
            StatusCode::CONFLICT,
            json!("the plate file was changed elsewhere meanwhile; nothing of it was written over"),
        ),
        Err(NotEdited::NoLength(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::Nothing(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::System(why)) => {
            (StatusCode::INTERNAL_SERVER_ERROR, json!(format!("the plate file could not be written: {why}")))
        }
    };
    answer::json(status, &json!({ "says": says, "state": view::state(board) }))
}
