//! What can be asked for. Every path is one of a fixed list; none of them, and no word of a query or body, ever becomes a
//! path of the disk.

pub(crate) mod machine;
mod plate;
mod story;

use crate::answer::{self, Answer};
use crate::shelf::Shelf;
use base64::Engine as _;
use base64::prelude::BASE64_STANDARD;
use hyper::body::Bytes;
use hyper::{Method, StatusCode, Uri};
use serde::Deserialize;
use serde_json::json;
use std::time::Duration;

/// How long a question for news waits for some.
const NEWS: Duration = Duration::from_secs(20);

const HTML: &str = "text/html; charset=utf-8";
const STYLE: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const FONT: &str = "font/ttf";

/// The page of one plate.
const PLATE: &[u8] = include_bytes!("../web/page.html");
/// The page of the shop that a plate is made in.
const WORKSHOP: &[u8] = include_bytes!("../web/workshop.html");
/// The start page.
const START: &[u8] = include_bytes!("../web/start.html");

/// The page that asks a tablet for its code.
const CODE: &[u8] = include_bytes!("../web/code.html");

/// The files of the pages, all in the program.
const FILES: &[(&str, &str, &[u8])] = &[
    ("/style.css", STYLE, include_bytes!("../web/style.css")),
    ("/page.js", SCRIPT, include_bytes!("../web/page.js")),
    ("/ask.js", SCRIPT, include_bytes!("../web/ask.js")),
    ("/make.js", SCRIPT, include_bytes!("../web/make.js")),
    ("/plate.js", SCRIPT, include_bytes!("../web/plate.js")),
    ("/sentences.js", SCRIPT, include_bytes!("../web/sentences.js")),
    ("/parts.js", SCRIPT, include_bytes!("../web/parts.js")),
    ("/drag.js", SCRIPT, include_bytes!("../web/drag.js")),
    ("/drawn.js", SCRIPT, include_bytes!("../web/drawn.js")),
    ("/workshop.js", SCRIPT, include_bytes!("../web/workshop.js")),
    ("/section.js", SCRIPT, include_bytes!("../web/section.js")),
    ("/seen.css", STYLE, include_bytes!("../web/seen.css")),
    ("/near.js", SCRIPT, include_bytes!("../web/near.js")),
    ("/heights.js", SCRIPT, include_bytes!("../web/heights.js")),
    ("/replay.js", SCRIPT, include_bytes!("../web/replay.js")),
    ("/timeline.js", SCRIPT, include_bytes!("../web/timeline.js")),
    ("/tilt.js", SCRIPT, include_bytes!("../web/tilt.js")),
    ("/sets.js", SCRIPT, include_bytes!("../web/sets.js")),
    ("/start.js", SCRIPT, include_bytes!("../web/start.js")),
    ("/machine.css", STYLE, include_bytes!("../web/machine.css")),
    ("/machine.js", SCRIPT, include_bytes!("../web/machine.js")),
    ("/steps.js", SCRIPT, include_bytes!("../web/steps.js")),
    ("/code.js", SCRIPT, include_bytes!("../web/code.js")),
    ("/mark.svg", "image/svg+xml", include_bytes!("../web/mark.svg")),
    ("/regular.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasR.ttf")),
    ("/italic.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasI.ttf")),
    ("/bold.ttf", FONT, include_bytes!("../../sheet/fonts/GenBkBasB.ttf")),
];

/// Where a new plate is begun; its drawing comes with it.
pub(crate) const NEW: &str = "/plates/new";
/// The page that asks a tablet for its code.
pub(crate) fn code_page() -> Answer {
    answer::of(StatusCode::OK, HTML, Bytes::from_static(CODE))
}

/// Where a tablet that was let in begins.
pub(crate) const MACHINE: &str = "/plate/1/machine";

/// Answers a request that was let in.
pub(crate) async fn respond(shelf: &Shelf, method: &Method, target: &Uri, body: Bytes) -> Answer {
    let query = Query(target.query().unwrap_or_default());
    if let Some((number, rest)) = of_plate(target.path()) {
        let Some(board) = shelf.board(number) else { return nowhere() };
        if rest.is_empty() && *method != Method::POST {
            return answer::of(StatusCode::OK, HTML, Bytes::from_static(PLATE));
        }
        if rest == "workshop" && *method != Method::POST {
            return answer::of(StatusCode::OK, HTML, Bytes::from_static(WORKSHOP));
        }
        if machine::is_one(rest, method) && rest != "picture" {
            return machine::respond(&board, method, rest, &query, &body).await;
        }
        return plate::respond(&board, method, rest, &query, body).await;
    }
    if *method == Method::POST {
        return if target.path() == NEW { new_plate(shelf, &body) } else { nowhere() };
    }
    match target.path() {
        "/" if shelf.is_one() => answer::to("/plate/1/"),
        "/" => answer::of(StatusCode::OK, HTML, Bytes::from_static(START)),
        "/plates" => answer::json(StatusCode::OK, &shelf.list()),
        path => match FILES.iter().find(|f| f.0 == path) {
            Some((_, kind, bytes)) => answer::of(StatusCode::OK, kind, Bytes::from_static(bytes)),
            None => nowhere(),
        },
    }
}

/// A new plate's title, and its drawing: the name of its file and its bytes in base 64 (RFC 4648, section 4).
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct NewAsked {
    title: String,
    file: String,
    bytes: String,
}

fn new_plate(shelf: &Shelf, body: &[u8]) -> Answer {
    let Ok(asked) = serde_json::from_slice::<NewAsked>(body) else { return unclear() };
    let Ok(bytes) = BASE64_STANDARD.decode(&asked.bytes) else { return unclear() };
    if asked.title.len() > 200 || asked.title.chars().any(char::is_control) || asked.file.len() > 200 {
        return unclear();
    }
    match shelf.begin_plate(&asked.title, &asked.file, &bytes) {
        Ok(number) => answer::json(StatusCode::OK, &json!({ "number": number })),
        Err(says) => answer::json(StatusCode::UNPROCESSABLE_ENTITY, &json!({ "says": says })),
    }
}

/// The number of the plate that a path is about, and what follows: `/plate/2/state`.
fn of_plate(path: &str) -> Option<(usize, &str)> {
    let (number, rest) = path.strip_prefix("/plate/")?.split_once('/')?;
    let plain = !number.is_empty() && number.len() < 6 && number.bytes().all(|b| b.is_ascii_digit());
    Some((number.parse().ok().filter(|_| plain)?, rest))
}

fn nowhere() -> Answer {
    answer::words(StatusCode::NOT_FOUND, "there is nothing here")
}

fn unclear() -> Answer {
    answer::json(StatusCode::BAD_REQUEST, &json!({ "says": "that is not what is asked for here" }))
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
