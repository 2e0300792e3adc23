//! Which room may use which, and the independence of proof.
//!
//! The table of rooms in DEVELOPERS.md is the rule; the sources are held to it, so that data keeps flowing one way. `proof` and
//! `simulate` are the second pair of eyes besides: their code names neither the rooms that plan, fit and write, nor the
//! geometry that computes the planner's paths. A fault in one cannot then hide in the other.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn sources(folder: &Path, out: &mut Vec<PathBuf>) {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    for entry in entries {
        let path = entry.unwrap_or_else(|e| panic!("{}: {e}", folder.display())).path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|e| e == "rs") {
            out.push(path);
        }
    }
}

/// The code of a source text: comments and the insides of string literals are left out.
fn code(source: &str) -> String {
    let mut out = String::new();
    let mut chars = source.chars().peekable();
    while let Some(c) = chars.next() {
        match c {
            '/' if chars.peek() == Some(&'/') => {
                for c in chars.by_ref() {
                    if c == '\n' {
                        out.push('\n');
                        break;
                    }
                }
            }
            '"' => {
                while let Some(c) = chars.next() {
                    match c {
                        '\\' => {
                            chars.next();
                        }
                        '"' => break,
                        _ => {}
                    }
                }
                out.push('"');
            }
            // A quotation mark as a character literal opens no string.
            '\'' if chars.clone().next() == Some('"') => {
                chars.next();
                chars.next();
            }
            _ => out.push(c),
        }
    }
    out
}

/// The first forbidden name in a source text: `plan`, `fit` or `gcode` anywhere in the code, and the modules that compute the planner's paths.
fn forbidden(source: &str) -> Option<String> {
    let code = code(source);
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let words = code.split(|c: char| !is_word(c));
    words.map(str::to_owned).find(|w| matches!(w.as_str(), "plan" | "gcode" | "envelope" | "fit"))
}

#[test]
fn proof_and_simulate_name_neither_plan_nor_fit_nor_gcode() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut files = Vec::new();
    sources(&root.join("proof"), &mut files);
    sources(&root.join("simulate"), &mut files);
    assert!(files.len() > 5, "the sources of proof were not found");
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        assert_eq!(forbidden(&text), None, "{}", file.display());
    }
}

#[test]
fn the_wall_sees_what_climbs_over() {
    for over in [
        "use crate::plan::Pass;",
        "use crate::{job, gcode};",
        "use super::super::plan as p;",
        "let x = facewright::gcode::write(&y);",
        "let q = '\"'; use crate::plan; let s = \"\";",
        "use crate::geometry::envelope::dilation;",
    ] {
        assert!(forbidden(over).is_some(), "{over}");
    }
    for fair in
        ["// the plan\nuse crate::job::Job;", "let s = \"the program \\\" ends\";", "struct ProgramRead;"]
    {
        assert_eq!(forbidden(fair), None, "{fair}");
    }
}

/// What a room may use, by the room's name.
type Rules = BTreeMap<String, BTreeSet<String>>;

/// The words between backticks.
fn quoted(text: &str) -> impl Iterator<Item = String> + '_ {
    text.split('`').skip(1).step_by(2).map(str::to_owned)
}

/// The table of rooms of a page: each row names its room in the first cell and in the last one the rooms that it may use.
/// A last cell of `all above` allows every room of the rows before.
fn rules(page: &str) -> Rules {
    let mut rules = Rules::new();
    let table = page.lines().skip_while(|l| !l.starts_with("| room |")).skip(2);
    for row in table.take_while(|l| l.starts_with('|')) {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        let (Some(first), Some(last)) = (cells.first(), cells.last()) else { continue };
        let Some(room) = quoted(first).next() else { continue };
        let mut may: BTreeSet<String> = quoted(last).collect();
        if last.starts_with("all above") {
            may = rules.keys().filter(|r| !may.contains(*r)).cloned().collect();
        }
        rules.insert(room, may);
    }
    rules
}

/// The rooms that a source text names: after `crate::`, in braces after it, or after as many `super::` as lead out of its room.
/// `depth` is how many modules the file lies below the crate's root.
fn named(source: &str, depth: usize, rooms: &Rules) -> BTreeSet<String> {
    let code: String = code(source).split_whitespace().collect::<Vec<_>>().join(" ");
    let code = code.replace(" ::", "::").replace(":: ", "::").replace("{ ", "{").replace(", ", ",");
    let mut found = BTreeSet::new();
    for root in ["crate::", "facewright::"] {
        for rest in code.split(root).skip(1) {
            found.extend(firsts(rest));
        }
    }
    let out = "super::".repeat(depth);
    found.extend(code.split(&out).skip(1).flat_map(|rest| firsts(rest.trim_start_matches("super::"))));
    found.retain(|name| rooms.contains_key(name));
    found
}

/// The first names of a path, or of each path in braces.
fn firsts(path: &str) -> Vec<String> {
    let name = |text: &str| text.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>();
    let Some(list) = path.strip_prefix('{') else { return vec![name(path)] };
    let mut depth = 0_i32;
    let mut names = vec![name(list)];
    for (i, c) in list.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(name(&list[i + 1..])),
            _ => {}
        }
    }
    names
}

/// The room that a file of `src` belongs to, and how many modules it lies below the root.
fn place(file: &Path) -> (String, usize) {
    let parts: Vec<String> =
        file.with_extension("").components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect();
    let depth = if parts.last().is_some_and(|p| p == "mod") { parts.len() - 1 } else { parts.len() };
    (parts.first().cloned().unwrap_or_default(), depth)
}

#[test]
fn every_room_uses_only_what_the_table_of_rooms_allows() {
    let top = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::fs::read_to_string(top.join("DEVELOPERS.md")).expect("the developers' page is there");
    let rules = rules(&page);
    let root = top.join("src");
    let mut files = Vec::new();
    sources(&root, &mut files);
    let mut rooms = BTreeSet::new();
    let mut wrong = Vec::new();
    for file in files {
        let inside = file.strip_prefix(&root).expect("a file of src");
        let (room, depth) = place(inside);
        if ["main", "lib"].contains(&room.as_str()) {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap_or_else(|e| panic!("{}: {e}", file.display()));
        for other in named(&text, depth, &rules) {
            if other != room && !rules.get(&room).is_some_and(|may| may.contains(&other)) {
                wrong.push(format!("{}: `{room}` may not use `{other}`", inside.display()));
            }
        }
        rooms.insert(room);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert_eq!(rooms, rules.keys().cloned().collect(), "the rooms of src and of the table in DEVELOPERS.md");
}

#[test]
fn no_way_into_another_room_is_overlooked() {
    let rules = rules(
        "| room | holds | may use |\n|---|---|---|\n| `a` | x | nothing |\n| `b` | `c` | `a` |\n| `c` | | all above but `a` |\n",
    );
    assert_eq!(rules["a"], BTreeSet::new());
    assert_eq!(rules["b"], BTreeSet::from(["a".to_owned()]));
    assert_eq!(rules["c"], BTreeSet::from(["b".to_owned()]));
    for (text, depth, found) in [
        ("use crate::b::X;", 1, "b"),
        ("let x = crate :: b :: f();", 1, "b"),
        ("use crate::{\n    x::{y, a}, b,\n};", 1, "b"),
        ("use crate::{b::{c}};", 1, "b"),
        ("use super::b;", 1, "b"),
        ("use super::b;", 2, ""),
        ("use super::super::b;", 2, "b"),
        ("mod tests { use super::super::b; }", 1, "b"),
        ("// crate::b\nlet s = \"crate::b\";", 1, ""),
        ("#[doc = \"x\"] use facewright::b;", 1, "b"),
    ] {
        let names: Vec<String> = named(text, depth, &rules).into_iter().collect();
        assert_eq!(names.join(" "), found, "{text}");
    }
    assert_eq!(place(Path::new("b.rs")), ("b".to_owned(), 1));
    assert_eq!(place(Path::new("b/mod.rs")), ("b".to_owned(), 1));
    assert_eq!(place(Path::new("b/x/mod.rs")), ("b".to_owned(), 2));
    assert_eq!(place(Path::new("b/x/y.rs")), ("b".to_owned(), 3));
}
