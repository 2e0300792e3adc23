//! The table of keys as a person or an editor reads it: an explanation, the page docs/keys.md, a JSON Schema, a file to fill in.

use crate::job::BLANK;
use crate::job::keys::{Absent, Form, Group, Key, groups};
use crate::units::{MM_PER_INCH, Quantity, Speed, in_inches};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What may stand under a key, in words.
pub(super) fn form(form: Form) -> String {
    let words = |all: &[&str]| all.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", ");
    match form {
        Form::Quantity(kind, units) => format!("{kind} in {units}"),
        Form::Text => "text on one line".to_owned(),
        Form::File => "the name of a file, from the folder of this one".to_owned(),
        Form::Flag => "`true` or `false`".to_owned(),
        Form::Count(least, most) => format!("a whole number from {least} to {most}"),
        Form::Words(all) => format!("one of {}", words(all)),
        Form::Or([], other) => other.to_owned(),
        Form::Or(all, other) => format!("{} or {other}", words(all)),
        Form::Range => "two lengths in brackets, the lesser first".to_owned(),
        Form::ListOf(what) => format!("a list of {what}"),
        Form::Group(group) => format!("a group of keys: {}", group.place),
        Form::List(group) => format!("a list of groups: {}", group.place),
        Form::Named(group) => format!("groups, each under a name: {}", group.place),
        Form::TextOr(group) => format!("a name, or the group itself: {}", group.place),
        Form::NamedTexts(what) => format!("{what} under each name"),
    }
}

pub(super) fn absent(key: &Key) -> String {
    match key.absent {
        Absent::Needed => "none: it must be given".to_owned(),
        Absent::Decided => "none: a person decides it".to_owned(),
        Absent::Then(default) => default.to_owned(),
    }
}

/// The tables of docs/keys.md.
#[must_use]
pub fn page() -> String {
    let mut out = String::new();
    for group in groups() {
        let title = group.place;
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "### {title}\n\n| key | may hold | left out | what it is for | if it is wrong |\n|---|---|---|---|---|"
        );
        for key in group.keys {
            let _ = writeln!(
                out,
                "| `{}` | {}; such as `{}` | {} | {} | {} |",
                key.key,
                form(key.form),
                key.example,
                absent(key),
                key.why,
                key.harm
            );
        }
        out.push('\n');
    }
    out
}

/// The keys that a shop may say for its jobs: no editor shall call a short job wrong.
const FROM_SHOP: &[(&str, &str)] = &[
    ("Measured", "sensor"),
    ("Measured", "x"),
    ("Measured", "unit"),
    ("Measured", "columns"),
    ("Measured", "z"),
    ("Measured", "x_offset"),
    ("Measured", "longest_gap"),
    ("Wheel", "run_out_limit"),
    ("ScanLine", "at"),
];

/// A file of a group as JSON Schema (draft 2020-12).
#[must_use]
pub fn schema(root: &'static Group) -> Value {
    let mut defs = Map::new();
    define(root, &mut defs);
    let mut schema = Map::new();
    schema.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".into(), json!(format!("facewright {}", root.place)));
    schema.insert("$ref".into(), json!(format!("#/$defs/{}", root.kind)));
    schema.insert("$defs".into(), Value::Object(defs));
    Value::Object(schema)
}

fn define(group: &'static Group, defs: &mut Map<String, Value>) {
    if defs.contains_key(group.kind) {
        return;
    }
    defs.insert(group.kind.into(), Value::Null);
    let mut properties = Map::new();
    let mut required = Vec::new();
    for key in group.keys {
        if let Form::Group(g) | Form::List(g) | Form::Named(g) | Form::TextOr(g) = key.form {
            define(g, defs);
        }
        let mut value = of_form(key.form);
        value.insert(
            "description".into(),
            json!(format!("{}. Left out: {}. If wrong: {}.", key.why, absent(key), key.harm)),
        );
        value.insert("examples".into(), json!([key.example]));
        properties.insert(key.key.into(), Value::Object(value));
        if !matches!(key.absent, Absent::Then(_)) && !FROM_SHOP.contains(&(group.kind, key.key)) {
            required.push(json!(key.key));
        }
    }
    let object = json!({ "type": "object", "additionalProperties": false, "properties": properties, "required": required });
    defs.insert(group.kind.into(), object);
}

fn of_form(form: Form) -> Map<String, Value> {
    let reference = |g: &Group| json!({ "$ref": format!("#/$defs/{}", g.kind) });
    let length = json!({ "type": "string", "pattern": quantity("mm, in, um, cm, m") });
    let value = match form {
        Form::Quantity(_, units) => json!({ "type": "string", "pattern": quantity(units) }),
        Form::Text | Form::Or(..) => json!({ "type": ["string", "number"] }),
        Form::File => json!({ "type": "string" }),
        Form::Flag => json!({ "type": "boolean" }),
        Form::Count(least, most) => json!({ "type": "integer", "minimum": least, "maximum": most }),
        Form::Words(words) => json!({ "enum": words }),
        Form::Range => json!({ "type": "array", "items": length, "minItems": 2, "maxItems": 2 }),
        Form::ListOf(_) => json!({ "type": "array" }),
        Form::Group(g) => reference(g),
        // A line may be the bare name of its scan.
        Form::List(g) if g.kind == "ScanLine" => {
            json!({ "type": "array", "items": { "anyOf": [{ "type": "string" }, reference(g)] } })
        }
        Form::List(g) => json!({ "type": "array", "items": reference(g) }),
        Form::Named(g) => json!({ "type": "object", "additionalProperties": reference(g) }),
        Form::TextOr(g) => json!({ "anyOf": [{ "type": "string" }, reference(g)] }),
        Form::NamedTexts(_) => json!({ "type": "object", "additionalProperties": { "type": "string" } }),
    };
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

/// The pattern of a number and one of some units; before `in` it may be a fraction of whole numbers.
fn quantity(units: &str) -> String {
    let units: Vec<&str> = units.split(", ").collect();
    let decimal = format!("[+-]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][+-]?[0-9]+)? *({})", units.join("|"));
    if units.contains(&"in") {
        format!("^({decimal}|[+-]?[0-9]+/0*[1-9][0-9]* *in)$")
    } else {
        format!("^{decimal}$")
    }
}

/// Optional keys that a file to fill in shows as blanks all the same, since nearly every shop wants them.
const USUAL: &[&str] = &[
    "sensors",
    "limits",
    "schedules",
    "rough",
    "finish",
    "run_out",
    "x",
    "unit",
    "columns",
    "z",
    "x_offset",
    "longest_gap",
    "spindle_limit_word",
];

/// What is known already of a file to fill in: the value of a key of a group (by its type), or a blank, and why.
pub type Known = BTreeMap<(&'static str, &'static str), (String, String)>;

/// The kind of a quantity whose unit in an inch shop is inches per minute, as the trade gives a rapid; metres per minute are else those of
/// a surface, and become feet.
const OF_A_SLIDE: &str = Speed::KIND;

/// The example of a key with every metric quantity in inch units.
pub(super) fn example_in_inches(key: &Key) -> String {
    let speed = match key.form {
        Form::Quantity(kind, _) if kind == OF_A_SLIDE => Speed::read(key.example).ok(),
        _ => None,
    };
    let rapid = |speed: Speed| format!("{:.0} in/min", speed.as_mm_per_min() / MM_PER_INCH);
    speed.map_or_else(|| in_inches(key.example), rapid)
}

/// A line of a file to fill in with its quantities and its blanks in inch units.
#[must_use]
pub fn asked_in_inches(line: &str) -> String {
    in_inches(line)
        .replace(&format!("{BLANK} mm"), &format!("{BLANK} in"))
        .replace(&format!("{BLANK} m/min"), &format!("{BLANK} ft/min"))
}

/// A file to fill in, in millimetres or in inches: every key that has no default as a blank, every other behind a comment mark with its
/// default.
#[must_use]
pub fn form_to_fill_in(root: &Group, known: &Known, inches: bool) -> String {
    let mut lines = Vec::new();
    fill(root, 0, (known, inches), &mut lines);
    if inches {
        lines =
            lines.into_iter().map(|(line, comment)| (asked_in_inches(&line), in_inches(&comment))).collect();
    }
    let width = lines.iter().map(|(line, _)| line.chars().count()).filter(|w| *w < 46).max().unwrap_or(0);
    let mut out = String::new();
    for (line, comment) in lines {
        let text = if comment.is_empty() { line } else { format!("{line:width$}  # {comment}") };
        let _ = writeln!(out, "{text}");
    }
    out
}

/// Another tool, behind comment marks: many shops rough with one and finish with another.
fn second(tool: &Group, depth: usize, of: (&Known, bool), lines: &mut Vec<(String, String)>) {
    let indent = "  ".repeat(depth);
    let mut keys = Vec::new();
    fill(tool, 1, of, &mut keys);
    lines.push((
        format!("{indent}# {SECOND_TOOL}:"),
        "another tool, such as one for the finish: take these comment marks out, and name it below"
            .to_owned(),
    ));
    let needed = keys.into_iter().filter(|(line, _)| !line.trim_start().starts_with('#'));
    lines.extend(needed.map(|(line, comment)| (format!("{indent}# {line}"), comment)));
}

/// The tool that the examples of a finish name.
const SECOND_TOOL: &str = "brightener";

/// Writes the keys of a group, by what is known of them; whether in inches. What is written in millimetres is turned later.
fn fill(group: &Group, depth: usize, of: (&Known, bool), lines: &mut Vec<(String, String)>) {
    let (known, inches) = of;
    let indent = "  ".repeat(depth);
    for key in group.keys {
        let name = key.key;
        if let Some((value, why)) = known.get(&(group.kind, name)) {
            lines.push((format!("{indent}{name}: {value}"), why.clone()));
            continue;
        }
        if let (Absent::Then(default), false) = (key.absent, USUAL.contains(&name)) {
            // The feed of a rough pass and the texture of a finish are asked for below.
            let asked = matches!((group.kind, name), ("RoughFile", "feed") | ("FinishFile", "texture"));
            if !asked {
                lines.push((
                    format!("{indent}# {name}: {}", key.example),
                    format!("{}; left out: {default}", key.why),
                ));
                continue;
            }
        }
        if depth == 0 {
            lines.push((String::new(), String::new()));
        }
        let such_as = format!("{}; such as {}", key.why, key.example);
        match key.form {
            Form::Group(g) => {
                lines.push((format!("{indent}{name}:"), key.why.to_owned()));
                fill(g, depth + 1, of, lines);
            }
            Form::Named(g) => {
                let first = key.example.trim_start_matches(['{', ' ']).split(':').next().unwrap_or("one");
                lines.push((format!("{indent}{name}:"), key.why.to_owned()));
                lines.push((format!("{indent}  {first}:"), String::new()));
                fill(g, depth + 2, of, lines);
                if g.kind == "ToolFile" {
                    second(g, depth + 1, of, lines);
                }
            }
            Form::Range => lines.push((format!("{indent}{name}: [{BLANK} mm, {BLANK} mm]"), such_as)),
            Form::Quantity(kind, _) if kind == OF_A_SLIDE && inches => {
                let such_as = format!("{}; such as {}", key.why, example_in_inches(key));
                lines.push((format!("{indent}{name}: {BLANK} in/min"), such_as));
            }
            Form::Quantity(_, units) => {
                let unit = units.split(',').next().unwrap_or_default();
                lines.push((format!("{indent}{name}: {BLANK} {unit}"), such_as));
            }
            Form::ListOf(what) => lines.push((
                format!("{indent}{name}: [{BLANK}]"),
                format!("{}: {what}; such as {}", key.why, key.example),
            )),
            Form::Words(words) => {
                lines
                    .push((format!("{indent}{name}: {BLANK}"), format!("{}: {}", key.why, words.join(", "))));
            }
            _ => lines.push((format!("{indent}{name}: {BLANK}"), such_as)),
        }
    }
}
