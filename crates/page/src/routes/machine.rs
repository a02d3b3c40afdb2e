//! What can be asked for at the machine. These few paths, and pictures, are all that a tablet gets.

use super::{Query, nowhere, unclear};
use crate::answer::{self, Answer};
use crate::bench;
use crate::board::{Board, NotEdited};
use hyper::body::Bytes;
use hyper::{Method, StatusCode};
use serde::Deserialize;
use serde_json::{Value, json};
use std::sync::Arc;

/// The page.
const PAGE: &[u8] = include_bytes!("../../web/machine.html");

/// Whether a path of a plate is one of the page at the machine.
pub(crate) fn is_one(rest: &str, method: &Method) -> bool {
    match rest {
        "machine" | "machine/state" | "picture" => *method != Method::POST,
        "machine/tick" | "machine/anew" | "machine/thickness" | "machine/diameter" => *method == Method::POST,
        _ => false,
    }
}

/// Answers a request; `path` is what follows the plate's own.
pub(super) async fn respond(board: &Arc<Board>, method: &Method, path: &str, query: &Query<'_>, body: &[u8]) -> Answer {
    if *method == Method::POST {
        return match path {
            "machine/tick" => tick(board, body),
            "machine/anew" => edited(board, bench::anew(board)),
            "machine/thickness" => thickness(board, body),
            "machine/diameter" => diameter(board, body),
            _ => nowhere(),
        };
    }
    match path {
        "machine" => answer::of(StatusCode::OK, super::HTML, Bytes::from_static(PAGE)),
        "machine/state" => {
            if let Some(after) = query.number("after") {
                let _ = tokio::time::timeout(super::NEWS, board.turned_from(after as u64)).await;
            }
            answer::json(StatusCode::OK, &bench::state(board))
        }
        _ => nowhere(),
    }
}

/// Longest words of a reading, and of a step's name.
const WORDS: usize = 300;

fn plain(words: &str) -> bool {
    words.len() <= WORDS && !words.chars().any(char::is_control)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Tick {
    step: String,
    mark: String,
    ticked: bool,
}

fn tick(board: &Board, body: &[u8]) -> Answer {
    match serde_json::from_slice::<Tick>(body) {
        Ok(asked) => edited(board, bench::tick(board, &asked.step, &asked.mark, asked.ticked)),
        Err(_) => unclear(),
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Thickness {
    hash: String,
    layer: usize,
    readings: String,
}

/// Readings come as they were typed: `2.94, 2.95 mm, 0.116 in`.
fn thickness(board: &Board, body: &[u8]) -> Answer {
    let Ok(asked) = serde_json::from_slice::<Thickness>(body) else { return unclear() };
    if !plain(&asked.readings) {
        return unclear();
    }
    let readings: Vec<&str> = asked.readings.split([',', ';']).map(str::trim).filter(|r| !r.is_empty()).collect();
    edited(board, board.measure_layer(&asked.hash, asked.layer, &readings))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Diameter {
    hash: String,
    cutter: i64,
    diameter: String,
}

fn diameter(board: &Board, body: &[u8]) -> Answer {
    let Ok(asked) = serde_json::from_slice::<Diameter>(body) else { return unclear() };
    if !plain(&asked.diameter) {
        return unclear();
    }
    edited(board, board.measure_cutter(&asked.hash, asked.cutter, &asked.diameter))
}

/// What came of it, and what stands there now.
fn edited(board: &Board, result: Result<(), NotEdited>) -> Answer {
    let (status, says) = match result {
        Ok(()) => (StatusCode::OK, Value::Null),
        Err(NotEdited::Changed) => (
            StatusCode::CONFLICT,
            json!("it was changed meanwhile; nothing was written, look again at what it says now"),
        ),
        Err(NotEdited::NoLength(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::Nothing(why)) => (StatusCode::UNPROCESSABLE_ENTITY, json!(why)),
        Err(NotEdited::System(why)) => {
            (StatusCode::INTERNAL_SERVER_ERROR, json!(format!("the file could not be written: {why}")))
        }
    };
    answer::json(status, &json!({ "says": says, "state": bench::state(board) }))
}
