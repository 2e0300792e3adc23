//! What README and docs show is what the commands print today.
//!
//! A block fenced as `console` holds commands after `$ ` and what they print; a line of three dots stands for any
//! lines left out. `DOCS_UPDATE=1 cargo test --test all docs::` writes the outputs anew where none are left out.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// What stands for lines left out.
const LEFT_OUT: &str = "...";

fn pages() -> Vec<PathBuf> {
    let docs = fs::read_dir("docs").expect("docs are there").flatten().map(|e| e.path());
    let mut pages: Vec<PathBuf> = docs.filter(|p| p.extension().is_some_and(|e| e == "md")).collect();
    pages.push("README.md".into());
    pages.sort();
    pages
}

/// What a command prints, run from the top of the repository with the program at hand.
fn printed(command: &str) -> String {
    let program = Path::new(env!("CARGO_BIN_EXE_facewright")).parent().expect("a folder").to_owned();
    let path = std::env::var("PATH").unwrap_or_default();
    let output = Command::new("bash")
        .args(["-c", &format!("{{ {command}; }} 2>&1")])
        .env("PATH", format!("{}:{path}", program.display()))
        .env("COLUMNS", "100")
        .output()
        .expect("bash runs");
    String::from_utf8_lossy(&output.stdout).replace('\r', "")
}

/// Whether what was printed is what is shown, with its lines left out.
fn agree(shown: &[&str], printed: &[&str]) -> bool {
    match shown.split_first() {
        None => printed.is_empty(),
        Some((&LEFT_OUT, rest)) => (0..=printed.len()).any(|skip| agree(rest, &printed[skip..])),
        Some((line, rest)) => printed
            .split_first()
            .is_some_and(|(first, others)| line.trim_end() == first.trim_end() && agree(rest, others)),
    }
}

struct Shown {
    page: PathBuf,
    command: String,
    output: String,
}

fn shown() -> Vec<Shown> {
    let mut all = Vec::new();
    for page in pages() {
        let text = fs::read_to_string(&page).expect("a page can be read");
        for block in text.split("```console\n").skip(1) {
            let block = block.split("```").next().unwrap_or_default();
            for part in block.split("$ ").filter(|p| !p.trim().is_empty()) {
                let (command, output) = part.split_once('\n').unwrap_or((part, ""));
                all.push(Shown { page: page.clone(), command: command.into(), output: output.into() });
            }
        }
    }
    all
}

#[test]
fn every_output_shown_is_todays() {
    let update = std::env::var_os("DOCS_UPDATE").is_some();
    let shown = shown();
    assert!(shown.len() > 5, "the pages show {} commands", shown.len());
    let mut wrong = String::new();
    for Shown { page, command, output } in &shown {
        let now = printed(command);
        let (a, b): (Vec<&str>, Vec<&str>) = (output.lines().collect(), now.lines().collect());
        if agree(&a, &b) {
            continue;
        }
        if update && !a.contains(&LEFT_OUT) {
            let text = fs::read_to_string(page).expect("a page can be read");
            let old = format!("$ {command}\n{output}");
            fs::write(page, text.replace(&old, &format!("$ {command}\n{now}")))
                .expect("a page can be written");
        } else {
            wrong.extend([&page.display().to_string(), ": `", command, "` prints\n", &now, "\n"]);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}
