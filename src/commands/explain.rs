//! `explain ID`: the page of a kind of doubt.

use super::show;
use crate::terminal::{DONE, say, say_json};
use doubt::Kind;
use serde_json::json;

/// Every kind of doubt in the product.
pub(super) fn kinds() -> Vec<&'static Kind> {
    let crates: [&'static [Kind]; 6] =
        [intake::KINDS, drawing::KINDS, plan::KINDS, read::KINDS, proof::KINDS, ::packet::KINDS];
    let mut kinds: Vec<&Kind> = crates.into_iter().flatten().collect();
    kinds.sort_by_key(|k| k.id);
    kinds
}

pub(crate) fn run(id: Option<&str>, json: bool) -> u8 {
    let kinds = kinds();
    let Some(id) = id else {
        if json {
            say_json(&kinds.iter().map(|k| json!({ "id": k.id, "title": k.title, "page": k.page })).collect());
        } else {
            let widest = kinds.iter().map(|k| k.id.len()).max().unwrap_or(0);
            kinds.iter().for_each(|k| say(&format!("{:widest$}  {}", k.id, k.title)));
        }
        return DONE;
    };
    let Some(kind) = kinds.iter().find(|k| k.id == id) else {
        let near = doubt::nearest(id, kinds.iter().map(|k| k.id));
        let way_out = near.map_or_else(
            || "leave the id out: `explain` alone lists them all".to_owned(),
            |n| format!("did you mean `{n}`? `explain` alone lists them all"),
        );
        return show::refused("explain", &format!("`{id}` is not the id of a doubt"), &way_out, json);
    };
    if json {
        say_json(&json!({ "id": kind.id, "title": kind.title, "page": kind.page }));
    } else {
        say(&format!("{}\n{}\n\n{}", kind.id, kind.title, kind.page));
    }
    DONE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_are_unique_and_pages_say_something() {
        let kinds = kinds();
        assert!(kinds.windows(2).all(|w| w[0].id != w[1].id));
        for kind in kinds {
            assert!(kind.page.len() > 60 && !kind.title.is_empty(), "{}", kind.id);
            assert!(kind.id.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'), "{}", kind.id);
        }
    }
}
