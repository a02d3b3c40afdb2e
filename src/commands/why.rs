//! `why PLATE [KEY | NUMBER | PLACE]`: where a number comes from.

use super::show;
use crate::terminal::{DONE, REFUSED, STOPPED, Stop, UNREADABLE, say, say_json};
use ::packet::why::{self, Found};
use proof::Watch;
use serde_json::json;
use std::path::Path;

pub(crate) fn run(plate: &Path, words: &[String], json: bool, watch: &Stop) -> u8 {
    let words = words.join(" ");
    let asked = match why::ask(plate, &|| watch.stopped()) {
        Ok(asked) => asked,
        Err(taken) => {
            let status = if taken.doubts.iter().any(show::unreadable) { UNREADABLE } else { REFUSED };
            if json {
                say_json(&json!({ "command": "why", "status": status, "doubts": taken.doubts, "answers": null }));
            } else {
                show::doubts(&taken.doubts, &taken.sources);
                say("Refused: there is no plate to ask about.");
            }
            return status;
        }
    };
    if watch.stopped() {
        say("Stopped.");
        return STOPPED;
    }
    let found = if words.is_empty() {
        Found::Answers(why::answers(&asked.job, asked.plan.as_ref()))
    } else {
        why::find(&asked, &words)
    };
    let status = if matches!(found, Found::Nothing(_)) { REFUSED } else { DONE };
    if json {
        say_json(&json!({ "command": "why", "status": status, "found": found }));
        return status;
    }
    match found {
        Found::Answers(all) if words.is_empty() => {
            say(&format!(
                "What can be asked of {}: a key, its number, or a place such as \"x 30 y 20\".\n",
                asked.file
            ));
            say(why::index(&all).trim_end());
        }
        Found::Answers(several) if several.len() > FEW => {
            say(&format!("{} numbers by \"{words}\"; ask for one by its key.\n", several.len()));
            say(why::index(&several).trim_end());
        }
        Found::Answers(several) => {
            let texts: Vec<String> = several.iter().map(|a| why::text(a, &asked.file)).collect();
            say(texts.join("\n").trim_end());
        }
        Found::Nothing(near) => {
            say(&format!("There is nothing by \"{words}\"."));
            if near.is_empty() {
                say("Without a key, `why` lists all that can be asked.");
            } else {
                say(&format!("Near it: {}.", near.join(", ")));
            }
        }
    }
    status
}

/// So many answers are printed whole; of more, only their keys.
const FEW: usize = 3;
