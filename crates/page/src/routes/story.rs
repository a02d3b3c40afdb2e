//! What can be asked for to see a plate closely and its cutting over time. All of it is computed when asked for and kept for nobody.

use super::plate::{gone, ground, run_of};
use super::{Query, nowhere};
use crate::answer::{self, Answer};
use crate::board::Board;
use crate::near::{self, Waited};
use crate::run::Run;
use crate::story;
use hyper::StatusCode;
use hyper::header::{HeaderName, HeaderValue};
use plane::{Bounds, Point};
use serde_json::Value;
use std::sync::Arc;

const COLUMNS: &str = "application/octet-stream";
/// Says how fine the heights were that a picture was drawn from, µm.
const PITCH: HeaderName = HeaderName::from_static("x-pitch");

/// Answers a question about a run.
pub(super) async fn respond(board: &Board, path: &str, query: &Query<'_>) -> Answer {
    let Some(run) = run_of(board, query) else { return gone() };
    match path {
        "near" => near(run, query).await,
        "times" => told(run, story::times).await,
        "sets" => told(run, story::sets).await,
        "way" => {
            let Some(index) = query.whole("program") else { return nowhere() };
            columns(run, move |run| story::way(run, index)).await
        }
        _ => {
            let Some((after, cells)) = query.whole("after").zip(query.whole("cells")) else { return nowhere() };
            columns(run, move |run| story::heights(run, after, cells)).await
        }
    }
}

async fn told(run: Arc<Run>, make: fn(&Run) -> Option<Value>) -> Answer {
    match tokio::task::spawn_blocking(move || make(&run)).await {
        Ok(Some(value)) => answer::json(StatusCode::OK, &value),
        _ => nowhere(),
    }
}

async fn columns(run: Arc<Run>, make: impl FnOnce(&Run) -> Option<Vec<u8>> + Send + 'static) -> Answer {
    match tokio::task::spawn_blocking(move || make(&run)).await {
        Ok(Some(bytes)) => answer::of(StatusCode::OK, COLUMNS, bytes),
        _ => nowhere(),
    }
}

/// A window of the plate. Whoever closes the connection stops the work.
async fn near(run: Arc<Run>, query: &Query<'_>) -> Answer {
    let corner = |x: &str, y: &str| Some(Point::new(query.number(x)?, query.number(y)?));
    let Some((min, max)) = corner("x0", "y0").zip(corner("x1", "y1")) else { return nowhere() };
    let Some(width) = query.whole("width").and_then(|w| u32::try_from(w).ok()) else { return nowhere() };
    let (stage, bare) = (query.whole("stage"), ground(query));
    let (waited, waiting) = Waited::new();
    let seen =
        tokio::task::spawn_blocking(move || near::window(&run, stage, Bounds { min, max }, width, bare, &waited)).await;
    drop(waiting);
    let Ok(Some(seen)) = seen else { return nowhere() };
    let mut response = answer::png(seen.png);
    if let Ok(pitch) = HeaderValue::from_str(&format!("{:.4}", seen.pitch * 1000.0)) {
        response.headers_mut().insert(PITCH, pitch);
    }
    response
}
