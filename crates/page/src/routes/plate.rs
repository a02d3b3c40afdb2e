//! What can be asked for of one plate.

use super::{NEWS, Query, nowhere, unclear};
use crate::answer::{self, Answer};
use crate::board::{Board, NotEdited};
use crate::run::Run;
use crate::ways::Does;
use crate::{changes, view, words};
use hyper::body::Bytes;
use hyper::{Method, StatusCode};
use intake::FloorWords;
use plane::{Bounds, Point};
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::{Arc, OnceLock};

/// The paper in a dark room; the page's style says the same.
const NIGHT: [u8; 3] = [27, 25, 22];
/// The paper by day; the page's style says the same.
const DAY: [u8; 3] = [250, 247, 240];

/// Answers a request about a plate; `path` is what follows the plate's own.
pub(super) async fn respond(board: &Arc<Board>, method: &Method, path: &str, query: &Query<'_>, body: Bytes) -> Answer {
    if *method == Method::POST {
        return match path {
            "floor" => floor(board, &body),
            "change" => change(board, &body),
            "shop" => change_shop(board, &body),
            "way" => way(board, &body),
            "undo" => step(board, &body, true),
            "redo" => step(board, &body, false),
            "packet" => packet(board, &body),
            _ => nowhere(),
        };
    }
    match path {
        "state" => {
            if let Some(after) = query.number("after") {
                // Nothing new by then is news as well: the page asks again.
                let _ = tokio::time::timeout(NEWS, board.turned_from(after as u64)).await;
            }
            answer::json(StatusCode::OK, &view::state(board))
        }
        "picture" => picture(board, query).await,
        "shop" => shop(board, StatusCode::OK, Value::Null),
        "drawing" => match view::drawn(board) {
            Some(value) => answer::json(StatusCode::OK, &value),
            None => nowhere(),
        },
        "section" | "here" | "why" | "shape" => of_run(board, path, query),
        "near" | "times" | "sets" | "way" | "heights" => super::story::respond(board, path, query).await,
        _ => nowhere(),
    }
}

/// The run that is asked about, if it is still shown or the last.
pub(super) fn run_of(board: &Board, query: &Query<'_>) -> Option<Arc<Run>> {
    let number = query.whole("run")? as u64;
    let now = board.now();
    [&now.shown, &now.sketch, &now.last].into_iter().flatten().find(|r| r.number == number).cloned()
}

fn of_run(board: &Board, path: &str, query: &Query<'_>) -> Answer {
    let Some(run) = run_of(board, query) else { return gone() };
    let place = || Some(Point::new(query.number("x")?, query.number("y")?));
    let found = match path {
        "section" => query.number("at").and_then(|at| view::section(&run, query.whole("along_x") == Some(1), at)),
        "here" => place().and_then(|p| view::here(&run, p)),
        "why" => query.whole("n").and_then(|n| view::why(&run, n)),
        _ => query.whole("area").and_then(|a| view::shape(&run, a)),
    };
    found.map_or_else(nowhere, |value| answer::json(StatusCode::OK, &value))
}

/// The plate has been planned anew since the page was told of that run, which happens at any time while somebody edits: it is no
/// error, which a browser would log, only nothing to show. The page hears of the newer run by itself.
pub(super) fn gone() -> Answer {
    answer::nothing()
}

/// The paper that the page lies on.
pub(super) fn ground(query: &Query<'_>) -> [u8; 3] {
    if query.whole("night") == Some(1) { NIGHT } else { DAY }
}

/// The plate as it is at the end or after a stage, at a size, whole or a window of it.
async fn picture(board: &Board, query: &Query<'_>) -> Answer {
    let Some(run) = run_of(board, query) else { return gone() };
    let Some(width) = query.whole("width").and_then(|w| u32::try_from(w).ok()) else { return nowhere() };
    let bare = ground(query);
    let stage = query.whole("stage");
    let corner = |x: &str, y: &str| Some(Point::new(query.number(x)?, query.number(y)?));
    let asked = corner("x0", "y0").zip(corner("x1", "y1")).map(|(min, max)| Bounds { min, max });
    let drawn = tokio::task::spawn_blocking(move || {
        let (intent, model) = (run.intent()?, run.model(stage)?);
        let window = asked.unwrap_or_else(|| sheet::window(intent));
        // A sketch is looked at for a moment: it shall be there at once.
        let width = if run.computed.is_some() { width } else { width.div_ceil(2) };
        Some(apart(|| sheet::bare_plate(&intent.blank, model, window, width, bare)))
    });
    match drawn.await {
        Ok(Some(bytes)) => answer::png(bytes),
        _ => nowhere(),
    }
}

/// Runs a task on threads of its own, so that it doesn't wait for planning and proving.
fn apart<T: Send>(task: impl FnOnce() -> T + Send) -> T {
    static THREADS: OnceLock<Option<ThreadPool>> = OnceLock::new();
    match THREADS.get_or_init(|| ThreadPoolBuilder::new().build().ok()) {
        Some(threads) => threads.install(task),
        None => task(),
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

/// Changes put in from the page.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ChangesAsked {
    hash: String,
    changes: Value,
}

fn change(board: &Board, body: &[u8]) -> Answer {
    let asked = serde_json::from_slice::<ChangesAsked>(body).ok();
    let Some((hash, changes)) = asked.and_then(|a| Some((a.hash, changes::read(&a.changes)?))) else {
        return unclear();
    };
    edited(board, board.change(&hash, &changes))
}

/// A way out that was pressed.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WayAsked {
    hash: String,
    note: usize,
    way: usize,
}

fn way(board: &Board, body: &[u8]) -> Answer {
    let Ok(asked) = serde_json::from_slice::<WayAsked>(body) else { return unclear() };
    let (way, text, hash) = {
        let now = board.now();
        (view::way(&now, &board.paper.name(), asked.note, asked.way), now.text.clone(), now.hash.clone())
    };
    edited(
        board,
        match way.map(|w| w.does) {
            Some(Does::Change(changes)) => board.change(&asked.hash, &changes),
            // The doubt is of the run of this very plate file; its shop file has one value put in, whatever else was changed there.
            Some(Does::Shop(changes)) if asked.hash == hash => board.change_shop(&board.shop().hash, &changes),
            Some(Does::Shop(_)) => Err(NotEdited::Changed),
            Some(Does::Replace(span, new)) => match (text.get(..span.start), text.get(span.end..)) {
                (Some(before), Some(after)) => board.rewrite(&asked.hash, format!("{before}{new}{after}")),
                _ => Err(NotEdited::Changed),
            },
            None if asked.hash != hash => Err(NotEdited::Changed),
            None => Err(NotEdited::Nothing("this doubt is no longer there")),
        },
    )
}

fn change_shop(board: &Board, body: &[u8]) -> Answer {
    let asked = serde_json::from_slice::<ChangesAsked>(body).ok();
    let Some((hash, changes)) = asked.and_then(|a| Some((a.hash, changes::read(&a.changes)?))) else {
        return unclear();
    };
    let (status, says) = told(board.change_shop(&hash, &changes));
    shop(board, status, says)
}

/// The shop file as it is now, after what came of a change.
fn shop(board: &Board, status: StatusCode, says: Value) -> Answer {
    let shop = board.shop();
    let body = json!({
        "says": says,
        "file": shop.name,
        "hash": shop.hash,
        "built_in": shop.hash.is_empty(),
        "shut": shop.shut,
        "shop": words::shop(&shop.text),
    });
    answer::json(status, &body)
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

/// What came of an edit, and what stands there now.
fn edited(board: &Board, result: Result<(), NotEdited>) -> Answer {
    let (status, says) = told(result);
    answer::json(status, &json!({ "says": says, "state": view::state(board) }))
}

/// The status and the words of what came of an edit.
fn told(result: Result<(), NotEdited>) -> (StatusCode, Value) {
    match result {
        Ok(()) => (StatusCode::OK, Value::Null),
        Err(NotEdited::Changed) => {
            (StatusCode::CONFLICT, json!("the file was changed elsewhere meanwhile; nothing of it was written over"))
        }
        Err(NotEdited::NoLength(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::Nothing(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::System(why)) => {
            (StatusCode::INTERNAL_SERVER_ERROR, json!(format!("the file could not be written: {why}")))
        }
    }
}
