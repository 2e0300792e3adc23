//! A third reader: the `pygcode` package of Python finds in the demo's programs, at every control, the words that the writer meant.
//!
//! With the words as read, [`super::arcs`] and [`super::laws`] say where the motions end: this reader and the writer agree on each of them.

use crate::fixtures::demo::{AtControl, at_controls};
use facewright::gcode::{Block, ProgramText};
use std::path::PathBuf;
use std::process::Command;

/// The Python that tests/run sets up.
fn python() -> PathBuf {
    let venv = std::env::var_os("FACEWRIGHT_VENV").map_or_else(|| PathBuf::from(".venv"), PathBuf::from);
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(venv).join("bin").join("python")
}

/// The words of every block that has any.
fn meant(program: &ProgramText) -> Vec<Vec<(char, f64)>> {
    let words = |block: &Block| match block {
        Block::Words(words) => Some(words.iter().map(|w| (w.address(), w.value())).collect()),
        Block::TapeMark | Block::Comment(_) => None,
    };
    program.blocks.iter().filter_map(words).collect()
}

#[test]
fn pygcode_reads_the_words_that_are_meant_at_every_control() {
    let folder = tempfile::tempdir().expect("a folder for the programs");
    let (mut files, mut expected) = (Vec::new(), Vec::new());
    for AtControl { name, parts, .. } in at_controls() {
        for part in parts {
            let file = folder.path().join(format!("{}.nc", files.len()));
            std::fs::write(&file, &part.text).expect("written");
            files.push(file);
            expected.push((format!("{name}, part {}", part.part), meant(part)));
        }
    }
    let python = python();
    let script = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/reference/words.py");
    let ran = Command::new(&python).arg(script).args(&files).output().unwrap_or_else(|e| {
        panic!(
            "{}: {e}; tests/run sets up this Python, or name its folder in FACEWRIGHT_VENV",
            python.display()
        )
    });
    assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stderr));
    let read: Vec<Vec<Vec<(char, f64)>>> = serde_json::from_slice(&ran.stdout).expect("lists of words");
    assert_eq!(read.len(), expected.len());
    let mut count = 0;
    for (found, (name, meant)) in read.iter().zip(&expected) {
        assert_eq!(found, meant, "{name}");
        count += found.iter().map(Vec::len).sum::<usize>();
    }
    // Thirteen controls, one of them in parts.
    assert!(read.len() > 13 && count > 10_000, "{} programs, {count} words", read.len());
}
