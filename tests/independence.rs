//! The wall: proof is the second pair of eyes, so its code names neither the room that plans nor the
//! room that writes, nor the planner's geometry. A fault in one cannot then hide in the other.

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
