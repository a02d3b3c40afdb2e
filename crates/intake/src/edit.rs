//! A plate or shop file's text with one thing put in, taken out, added or moved; comments, order and everything else stay.
//!
//! Each change is made twice: in the text, and in the plain values that the old text stands for. Only if the new text stands for
//! those values is it given back, so that an edit can't change anything but what it names.

use crate::floor_edit::{length, unit};
use crate::text_edit::{NoEdit, Spot, plain, rewritten};
use quantity::Unit;
use toml_edit::{Array, ArrayOfTables, Decor, DocumentMut, InlineTable, Item, Table, TableLike, Value};

/// One step to a place in a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Step {
    /// A key of a table.
    Key(String),
    /// An index of a list, from 0.
    At(usize),
}

/// What a place shall hold.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// A length as it was typed; in the file's own unit it becomes a bare number.
    Length(String),
    /// Words.
    Text(String),
    /// A number as it was typed.
    Number(String),
    /// Yes or no.
    Flag(bool),
    /// A list.
    List(Vec<Said>),
    /// A table.
    Table(Vec<(String, Said)>),
}

/// One change of a file.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Puts something in at a place, instead of what was there if something was.
    Put(Vec<Step>, Said),
    /// Takes out what is at a place.
    Take(Vec<Step>),
    /// Adds to the end of the list at a place, which is begun if there is none.
    Add(Vec<Step>, Said),
    /// Moves what is at a place of a list to another index of it.
    Move(Vec<Step>, usize),
}

/// The text with changes made one after another.
///
/// # Errors
/// [`NoEdit`] if words are no length, a place isn't there, or something else would change.
pub fn with_changes(text: &str, changes: &[Change]) -> Result<String, NoEdit> {
    let mut text = text.to_owned();
    for change in changes {
        text = with_change(&text, change)?;
    }
    Ok(text)
}

fn with_change(text: &str, change: &Change) -> Result<String, NoEdit> {
    let unit = unit(text);
    let edited = rewritten(text, |document| make(document, change, unit))?;
    let mut wanted = plain(text).ok_or(NoEdit::NotKept)?;
    mirror(&mut wanted, change, unit)?;
    let mut said = plain(&edited).ok_or(NoEdit::NotKept)?;
    // A list of tables at length can't be written empty; it is not there then, which says the same.
    for values in [&mut said, &mut wanted] {
        values.retain(|_, value| !value.as_array().is_some_and(Vec::is_empty));
    }
    if said == wanted { Ok(edited) } else { Err(NoEdit::NotKept) }
}

/// As the file says it.
fn value(said: &Said, unit: Unit) -> Result<Value, NoEdit> {
    Ok(match said {
        Said::Length(words) => length(words, unit)?,
        Said::Text(words) => Value::from(words.as_str()),
        Said::Flag(flag) => Value::from(*flag),
        Said::Number(words) => {
            let no = || NoEdit::NoLength(format!("`{words}` is no number"));
            let number: Value = words.trim().parse().map_err(|_| no())?;
            let finite = number.as_float().is_some_and(f64::is_finite) || number.is_integer();
            if !finite {
                return Err(no());
            }
            number
        }
        Said::List(list) => {
            let mut array = Array::new();
            for one in list {
                array.push(value(one, unit)?);
            }
            Value::Array(array)
        }
        Said::Table(entries) => {
            let mut table = InlineTable::new();
            for (key, one) in entries {
                table.insert(key, value(one, unit)?);
            }
            Value::InlineTable(table)
        }
    })
}

fn walk<'d>(document: &'d mut DocumentMut, steps: &[Step]) -> Option<Spot<'d>> {
    steps.iter().try_fold(Spot::Item(document.as_item_mut()), |spot, step| match step {
        Step::Key(key) => spot.key(key),
        Step::At(index) => spot.at(*index),
    })
}

fn make(document: &mut DocumentMut, change: &Change, unit: Unit) -> Result<(), NoEdit> {
    match change {
        Change::Put(path, said) => put(document, path, value(said, unit)?),
        Change::Take(path) => take(document, path),
        Change::Add(path, said) => add(document, path, value(said, unit)?),
        Change::Move(path, to) => shift(document, path, *to),
    }
}

fn put(document: &mut DocumentMut, path: &[Step], new: Value) -> Result<(), NoEdit> {
    let (last, before) = path.split_last().ok_or(NoEdit::NotThere)?;
    // A new table of the file itself is written at length, under its own header.
    if let ([], Step::Key(key), Value::InlineTable(_)) = (before, last, &new)
        && !document.contains_key(key)
    {
        document.insert(key, Item::Table(at_length(new)?));
        return Ok(());
    }
    match (walk(document, before).ok_or(NoEdit::NotThere)?, last) {
        (Spot::Item(item), Step::Key(key)) => put_key(item.as_table_like_mut().ok_or(NoEdit::NotThere)?, key, new),
        (Spot::Table(table), Step::Key(key)) => put_key(table, key, new),
        (Spot::Value(value), Step::Key(key)) => {
            let table = value.as_inline_table_mut().ok_or(NoEdit::NotThere)?;
            let fresh = !table.contains_key(key);
            put_key(table, key, new)?;
            if fresh {
                // The space before the closing brace would stand before the new comma.
                table.iter_mut().for_each(|(_, value)| value.decor_mut().set_suffix(""));
                if let Some(value) = table.get_mut(key) {
                    value.decor_mut().set_suffix(" ");
                }
            }
            Ok(())
        }
        (spot, Step::At(index)) => match spot.at(*index) {
            Some(Spot::Value(place)) => replace(place, new),
            _ => Err(NoEdit::NotThere),
        },
    }
}

fn put_key(table: &mut dyn TableLike, key: &str, new: Value) -> Result<(), NoEdit> {
    match table.get_mut(key) {
        Some(Item::Value(place)) => return replace(place, new),
        // A table of its own, written at length: its header goes, and the value stands among the others.
        Some(other) => {
            if other.to_string().contains('#') || other.as_table().is_some_and(|t| commented(t.decor())) {
                return Err(NoEdit::NotKept);
            }
            table.remove(key);
            table.insert(key, Item::Value(new));
        }
        None => {
            table.insert(key, Item::Value(new));
        }
    }
    Ok(())
}

/// Puts a value in another's place, with the space and the comment round it. Comments inside of what goes would go with it, so
/// then it stays.
fn replace(place: &mut Value, mut new: Value) -> Result<(), NoEdit> {
    if holds_comment(place) {
        return Err(NoEdit::NotKept);
    }
    *new.decor_mut() = place.decor().clone();
    *place = new;
    Ok(())
}

fn commented(decor: &Decor) -> bool {
    [decor.prefix(), decor.suffix()].into_iter().flatten().filter_map(|r| r.as_str()).any(|r| r.contains('#'))
}

fn holds_comment(value: &Value) -> bool {
    let inside = |v: &Value| commented(v.decor()) || holds_comment(v);
    match value {
        Value::Array(array) => array.iter().any(inside) || array.trailing().as_str().is_some_and(|t| t.contains('#')),
        Value::InlineTable(table) => table.iter().any(|(_, v)| inside(v)),
        _ => false,
    }
}

fn take(document: &mut DocumentMut, path: &[Step]) -> Result<(), NoEdit> {
    let (last, before) = path.split_last().ok_or(NoEdit::NotThere)?;
    let gone = match (walk(document, before).ok_or(NoEdit::NotThere)?, last) {
        (Spot::Item(item), Step::Key(key)) => item.as_table_like_mut().and_then(|t| t.remove(key)).is_some(),
        (Spot::Table(table), Step::Key(key)) => table.remove(key).is_some(),
        (Spot::Value(value), Step::Key(key)) => value.as_inline_table_mut().and_then(|t| t.remove(key)).is_some(),
        (Spot::Item(Item::ArrayOfTables(tables)), Step::At(index)) => {
            let there = *index < tables.len();
            if there {
                tables.remove(*index);
            }
            there
        }
        (Spot::Item(Item::Value(Value::Array(array))) | Spot::Value(Value::Array(array)), Step::At(index)) => {
            take_from(array, *index).is_some()
        }
        _ => false,
    };
    if gone { Ok(()) } else { Err(NoEdit::NotThere) }
}

/// Takes a value out of an array; one that comes to stand first stands where the first did.
fn take_from(array: &mut Array, index: usize) -> Option<Value> {
    if index >= array.len() {
        return None;
    }
    let taken = array.remove(index);
    if index == 0
        && let Some(first) = array.get_mut(0)
        && !first.decor().prefix().and_then(|p| p.as_str()).unwrap_or_default().contains('\n')
    {
        first.decor_mut().set_prefix(taken.decor().prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned());
    }
    Some(taken)
}

fn add(document: &mut DocumentMut, path: &[Step], new: Value) -> Result<(), NoEdit> {
    match walk(document, path) {
        Some(Spot::Item(Item::ArrayOfTables(tables))) => {
            tables.push(at_length(new)?);
            Ok(())
        }
        Some(Spot::Item(Item::Value(Value::Array(array))) | Spot::Value(Value::Array(array))) => {
            append(array, new);
            Ok(())
        }
        Some(_) => Err(NoEdit::NotThere),
        None => match (path, &new) {
            // Tables of the file itself are written at length, each under its own header.
            ([Step::Key(key)], Value::InlineTable(_)) => {
                let mut tables = ArrayOfTables::new();
                tables.push(at_length(new)?);
                document.insert(key, Item::ArrayOfTables(tables));
                Ok(())
            }
            _ => put(document, path, Value::Array(Array::from_iter([new]))),
        },
    }
}

/// A table under its own header.
fn at_length(new: Value) -> Result<Table, NoEdit> {
    let Value::InlineTable(inline) = new else { return Err(NoEdit::NotThere) };
    let mut table = Table::new();
    for (key, value) in inline {
        table.insert(&key, Item::Value(value.decorated(" ", "")));
    }
    table.decor_mut().set_prefix("\n");
    Ok(table)
}

/// Adds a value to an array, on a line of its own where the others have one.
fn append(array: &mut Array, mut new: Value) {
    let prefix = |v: &Value| v.decor().prefix().and_then(|p| p.as_str()).unwrap_or_default().to_owned();
    let lines = array.iter().any(|v| prefix(v).contains('\n'));
    let inside = array.trailing().as_str().unwrap_or_default().to_owned();
    if let (true, Some((comment, rest))) = (array.is_empty(), inside.split_once('\n')) {
        new.decor_mut().set_prefix(format!("{comment}\n  "));
        array.push_formatted(new);
        array.set_trailing_comma(true);
        array.set_trailing(format!("\n{rest}"));
        return;
    }
    if lines {
        let indent = array.iter().last().map(prefix).unwrap_or_default();
        let indent = indent.rsplit('\n').next().unwrap_or_default().to_owned();
        let indent: String = indent.chars().take_while(|c| c.is_whitespace()).collect();
        // What follows the last one, a line's end or a comment, stays behind it.
        let after = array.iter_mut().last().map(|last| {
            let suffix = last.decor().suffix().and_then(|s| s.as_str()).unwrap_or_default().to_owned();
            last.decor_mut().set_suffix("");
            suffix
        });
        // With a comma at the end the comment of the last line is the array's own.
        let trailing = array.trailing().as_str().unwrap_or_default().to_owned();
        if array.trailing_comma() {
            let (comment, rest) = trailing.split_once('\n').unwrap_or(("", ""));
            new.decor_mut().set_prefix(format!("{comment}\n{indent}"));
            array.set_trailing(format!("\n{rest}"));
        } else {
            let (comment, rest) = after.as_deref().unwrap_or_default().split_once('\n').unwrap_or(("", ""));
            new.decor_mut().set_prefix(format!("{comment}\n{indent}"));
            new.decor_mut().set_suffix(format!("\n{rest}"));
        }
    } else {
        new.decor_mut().set_prefix(if array.is_empty() { "" } else { " " });
    }
    array.push_formatted(new);
}

fn shift(document: &mut DocumentMut, path: &[Step], to: usize) -> Result<(), NoEdit> {
    let (Some(Step::At(from)), before) = path.split_last().map(|(l, b)| (Some(l), b)).ok_or(NoEdit::NotThere)? else {
        return Err(NoEdit::NotThere);
    };
    let array = match walk(document, before) {
        Some(Spot::Item(Item::Value(Value::Array(array))) | Spot::Value(Value::Array(array))) => array,
        _ => return Err(NoEdit::NotThere),
    };
    if *from >= array.len() || to >= array.len() {
        return Err(NoEdit::NotThere);
    }
    // Values change places; the space round each place stays where it is.
    let mut values: Vec<Value> = array.iter().cloned().collect();
    let moved = values.remove(*from);
    values.insert(to, moved);
    for (place, mut value) in array.iter_mut().zip(values) {
        *value.decor_mut() = place.decor().clone();
        *place = value;
    }
    Ok(())
}

/// The same change made to plain values.
fn mirror(root: &mut toml::Table, change: &Change, unit: Unit) -> Result<(), NoEdit> {
    let parsed = |said: &Said| -> Result<toml::Value, NoEdit> {
        let line = format!("v = {}", value(said, unit)?.to_string().trim());
        line.parse::<toml::Table>().ok().and_then(|mut t| t.remove("v")).ok_or(NoEdit::NotKept)
    };
    let mut whole = toml::Value::Table(std::mem::take(root));
    let done = match change {
        Change::Put(path, said) => mirror_put(&mut whole, path, parsed(said)?),
        Change::Take(path) => place(&mut whole, path).and_then(|(parent, last)| match (parent, last) {
            (toml::Value::Table(table), Step::Key(key)) => table.remove(key).map(|_| ()),
            (toml::Value::Array(list), Step::At(at)) if *at < list.len() => {
                list.remove(*at);
                Some(())
            }
            _ => None,
        }),
        Change::Add(path, said) => {
            let new = parsed(said)?;
            match reach(&mut whole, path) {
                Some(toml::Value::Array(list)) => {
                    list.push(new);
                    Some(())
                }
                Some(_) => None,
                None => mirror_put(&mut whole, path, toml::Value::Array(vec![new])),
            }
        }
        Change::Move(path, to) => place(&mut whole, path).and_then(|(parent, last)| match (parent, last) {
            (toml::Value::Array(list), Step::At(from)) if *from < list.len() && *to < list.len() => {
                let moved = list.remove(*from);
                list.insert(*to, moved);
                Some(())
            }
            _ => None,
        }),
    };
    if let toml::Value::Table(table) = whole {
        *root = table;
    }
    done.ok_or(NoEdit::NotThere)
}

fn mirror_put(whole: &mut toml::Value, path: &[Step], new: toml::Value) -> Option<()> {
    match place(whole, path)? {
        (toml::Value::Table(table), Step::Key(key)) => {
            table.insert(key.clone(), new);
        }
        (toml::Value::Array(list), Step::At(at)) => *list.get_mut(*at)? = new,
        _ => return None,
    }
    Some(())
}

fn reach<'v>(from: &'v mut toml::Value, steps: &[Step]) -> Option<&'v mut toml::Value> {
    steps.iter().try_fold(from, |value, step| match step {
        Step::Key(key) => value.as_table_mut()?.get_mut(key),
        Step::At(at) => value.as_array_mut()?.get_mut(*at),
    })
}

fn place<'v, 's>(whole: &'v mut toml::Value, path: &'s [Step]) -> Option<(&'v mut toml::Value, &'s Step)> {
    let (last, before) = path.split_last()?;
    Some((reach(whole, before)?, last))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# A plate.\ntitle = \"One\"   # its name\nunits = \"mm\"\n\n[blank]\nsize = [120, 80]\nlayers = [   # top first\n  \
                        { sheet = \"black\", measured = [2.9, 3.0] },   # upper\n  { sheet = \"ruby\" },   # lower\n]\n\n[[area]]   # first\non = \"field\"\n\
                        floor = { below_face = 0.8 }   # a lip\n\n[[hold]]\nkind = \"screw 4\"\nat = [6, 6]\n";

    fn path(words: &str) -> Vec<Step> {
        words.split('.').map(|w| w.parse().map_or_else(|_| Step::Key(w.into()), Step::At)).collect()
    }

    fn done(change: Change) -> String {
        with_changes(TEXT, &[change]).unwrap()
    }

    fn new_lines(text: &str) -> Vec<&str> {
        text.lines().filter(|l| !TEXT.lines().any(|k| k == *l)).collect()
    }

    fn text(words: &str) -> Said {
        Said::Text(words.into())
    }

    #[test]
    fn puts_keep_what_stands_round_them() {
        let put = |at: &str, said: Said| done(Change::Put(path(at), said));
        assert_eq!(new_lines(&put("title", text("Two \"x\""))), ["title = 'Two \"x\"'   # its name"]);
        assert_eq!(new_lines(&put("blank.size.0", Said::Length("5 in".into()))), ["size = [\"5 in\", 80]"]);
        assert_eq!(new_lines(&put("hold.0.at.1", Said::Length("7.5".into()))), ["at = [6, 7.5]"]);
        assert_eq!(new_lines(&put("blank.layers.1.sheet", text("opal"))), ["  { sheet = \"opal\" },   # lower"]);
        assert_eq!(new_lines(&put("area.0.floor", text("through"))), ["floor = \"through\"   # a lip"]);
        assert_eq!(new_lines(&put("area.0.narrow", text("leave"))), ["narrow = \"leave\""]);
        assert_eq!(new_lines(&put("cutters", Said::List(vec![Said::Number("1".into())]))), ["cutters = [1]"]);
        assert_eq!(new_lines(&put("area.0.seamless", Said::Flag(true))), ["seamless = true"]);
    }

    #[test]
    fn things_are_added_taken_and_moved() {
        let area = Said::Table(vec![("on".into(), text("holes")), ("floor".into(), text("through"))]);
        let added = done(Change::Add(path("area"), area.clone()));
        assert!(added.contains("# a lip\n\n[[area]]\non = \"holes\"\nfloor = \"through\"\n"), "{added}");
        let fresh = with_changes("title = \"x\"\n", &[Change::Add(path("area"), area)]).unwrap();
        assert_eq!(fresh, "title = \"x\"\n\n[[area]]\non = \"holes\"\nfloor = \"through\"\n");
        let layer = Said::Table(vec![("sheet".into(), text("opal"))]);
        let added = done(Change::Add(path("blank.layers"), layer));
        assert!(added.contains("# upper\n  { sheet = \"ruby\" },   # lower\n  { sheet = \"opal\" },\n]\n"), "{added}");
        let reading = done(Change::Add(path("blank.layers.0.measured"), Said::Length("2.95".into())));
        assert!(reading.contains("measured = [2.9, 3.0, 2.95] },   # upper"), "{reading}");
        let empty = "[blank]\nlayers = [   # top first\n]\n";
        let layer = |sheet: &str| Change::Add(path("blank.layers"), Said::Table(vec![("sheet".into(), text(sheet))]));
        assert_eq!(
            with_changes(empty, &[layer("black"), layer("ruby")]).unwrap(),
            "[blank]\nlayers = [   # top first\n  { sheet = \"black\" },\n  { sheet = \"ruby\" },\n]\n"
        );
        let measured = Change::Add(path("blank.layers.1.measured"), Said::Length("3.02".into()));
        assert_eq!(new_lines(&done(measured)), ["  { sheet = \"ruby\", measured = [3.02] },   # lower"]);
        let plate = Said::Table(vec![("within".into(), text("outline"))]);
        assert!(done(Change::Put(path("plate"), plate)).ends_with("\n[plate]\nwithin = \"outline\"\n"));
        let taken = done(Change::Take(path("hold.0")));
        assert!(!taken.contains("hold") && taken.contains("# a lip"), "{taken}");
        let taken = done(Change::Take(path("blank.layers.0")));
        assert!(taken.contains("# lower") && !taken.contains("black"), "{taken}");
        let moved = done(Change::Move(path("blank.layers.1"), 0));
        assert!(moved.find("ruby") < moved.find("black"), "{moved}");
        assert_eq!(with_changes(&moved, &[Change::Move(path("blank.layers.0"), 1)]).unwrap(), TEXT);
    }

    #[test]
    fn what_cant_be_done_says_so() {
        let no = |change: Change| with_changes(TEXT, &[change]).unwrap_err();
        assert!(matches!(no(Change::Put(path("blank.size.0"), Said::Length("1 parsec".into()))), NoEdit::NoLength(_)));
        assert!(matches!(no(Change::Put(path("blank.bow"), Said::Number("nan".into()))), NoEdit::NoLength(_)));
        assert!(matches!(no(Change::Put(path("blank.bow"), Said::Number("1 # x".into()))), NoEdit::NoLength(_)));
        for change in [
            Change::Put(path("blank.size.7"), text("x")),
            Change::Put(path("nothing.here"), text("x")),
            Change::Put(Vec::new(), text("x")),
            Change::Take(path("area.9")),
            Change::Take(path("title.x")),
            Change::Add(path("title"), text("x")),
            Change::Move(path("blank.layers.5"), 0),
            Change::Move(path("hold.0"), 0),
        ] {
            assert_eq!(no(change.clone()), NoEdit::NotThere, "{change:?}");
        }
        let mixed = TEXT.replacen('\n', "\r\n", 2);
        assert_eq!(with_changes(&mixed, &[Change::Take(path("hold.0"))]), Err(NoEdit::NotKept));
    }

    #[test]
    fn other_line_ends_and_tables_at_length() {
        let windows = format!("\u{feff}{}", TEXT.replace('\n', "\r\n"));
        let there = with_changes(&windows, &[Change::Put(path("title"), text("Two"))]).unwrap();
        assert_eq!(there, windows.replace("One", "Two"));
        let long =
            "[[area]]\non = \"a\"\n[area.floor]   # said at length\nbelow_face = 0.8 # why\n[blank]\nsize = [1, 2]\n";
        let put =
            with_changes(long, &[Change::Put(path("area.0.floor.below_face"), Said::Length("1.5".into()))]).unwrap();
        assert_eq!(put, long.replace("0.8", "1.5"));
        let through = Change::Put(path("area.0.floor"), text("through"));
        let bare = long.replace("   # said at length", "").replace(" # why", "");
        let gone = with_changes(&bare, std::slice::from_ref(&through)).unwrap();
        assert!(gone.contains("floor = \"through\""), "{gone}");
        // Comments are never lost: neither of a table at length nor of a list's lines.
        assert_eq!(with_changes(long, &[through]), Err(NoEdit::NotKept));
        let list = "cutters = [ # the wide one\n  1,\n]\n";
        let put = Change::Put(path("cutters"), Said::List(vec![Said::Number("2".into())]));
        assert_eq!(with_changes(list, &[put]), Err(NoEdit::NotKept));
        let colour = "[[sheet]]\ncolour = \"#101010\"\n";
        assert!(with_changes(colour, &[Change::Put(path("sheet.0.colour"), text("#202020"))]).is_ok());
    }
}
