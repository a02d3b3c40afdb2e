//! `reach PLATE`: what each cutter clears of each area, before anything is planned.

use super::show;
use crate::terminal::{DONE, REFUSED, UNREADABLE, say, say_json};
use ::packet::reached;
use serde_json::json;
use std::path::Path;

pub(crate) fn run(plate: &Path, json: bool) -> u8 {
    let mut taken = intake::take(plate);
    let Some(job) = taken.job.take() else {
        let status = if taken.doubts.iter().any(show::unreadable) { UNREADABLE } else { REFUSED };
        if json {
            say_json(&json!({ "command": "reach", "status": status, "doubts": taken.doubts, "areas": null }));
        } else {
            show::doubts(&taken.doubts, &taken.sources);
            say("Refused: there is no plate to tell the reach of.");
        }
        return status;
    };
    let (intent, said) = ::packet::settle(&job.shop, job.intent);
    taken.doubts.extend(said);
    let status = if doubt::any_blocks(&taken.doubts) { REFUSED } else { DONE };
    let table = reached::table(&job.shop, &intent);
    if json {
        say_json(&json!({ "command": "reach", "status": status, "doubts": taken.doubts, "areas": table }));
        return status;
    }
    show::doubts(&taken.doubts, &taken.sources);
    say(reached::text(&table).trim_end());
    status
}
