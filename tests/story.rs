//! The whole story of a wheel, as docs/guide.md tells it: every command of the guide in its order, from the survey to the year after.
//!
//! `docs::every_output_shown_is_todays` holds what each prints; here the story itself is held: nothing of it is left out, and each
//! step ends as a step that went well.

use std::fs;
use std::path::Path;
use std::process::Command;

/// The steps, each as a beginning and an ending of a command of the guide, in their order.
const STEPS: [(&str, &str); 12] = [
    ("facewright survey demo-data/job.yaml", ""),
    ("facewright write demo-data/job.yaml", "-o target/demo.nc"),
    ("facewright touch demo-data/job.yaml", ""),
    ("facewright write demo-data/job.yaml --next rough", "-o target/next.nc"),
    ("facewright write demo-data/job.yaml --next finish", "-o target/finish.nc"),
    ("facewright survey demo-data/again.yaml", ""),
    ("facewright write demo-data/again.yaml", ""),
    ("facewright ledger confirm target/story/first.nc", ""),
    ("facewright ledger correct", ""),
    ("facewright write target/story/again.yaml", ""),
    ("facewright ledger confirm target/story/rest.nc", ""),
    ("facewright ledger compare target/story/job.yaml", ""),
];

fn commands() -> Vec<String> {
    let guide = fs::read_to_string("docs/guide.md").expect("the guide");
    let blocks = guide.split("```console\n").skip(1).filter_map(|b| b.split("```").next());
    blocks.flat_map(|b| b.lines()).filter_map(|l| l.strip_prefix("$ ")).map(str::to_owned).collect()
}

#[test]
fn the_guide_tells_the_whole_story() {
    let commands = commands();
    let mut from = 0;
    for (begins, ends) in STEPS {
        let found = commands.iter().skip(from).position(|c| c.starts_with(begins) && c.ends_with(ends));
        let found = found.unwrap_or_else(|| panic!("no `{begins}` after command {from} of {commands:#?}"));
        from += found + 1;
    }
}

/// Each step runs, in a folder of its own, one after the other, and ends with exit code 0.
#[test]
fn every_step_of_the_story_goes_well() {
    let folder = tempfile::tempdir().expect("a folder for the test");
    fs::create_dir(folder.path().join("target")).expect("made");
    std::os::unix::fs::symlink(
        Path::new("demo-data").canonicalize().expect("there"),
        folder.path().join("demo-data"),
    )
    .expect("linked");
    let program = Path::new(env!("CARGO_BIN_EXE_facewright")).parent().expect("a folder").to_owned();
    let path = std::env::var("PATH").unwrap_or_default();
    for command in commands() {
        // What a command is told to lead to, not what becomes of its words on the way.
        let told = command.split(" | ").next().unwrap_or_default();
        let output = Command::new("bash")
            .args(["-c", told])
            .env("PATH", format!("{}:{path}", program.display()))
            .current_dir(folder.path())
            .output()
            .expect("bash runs");
        // A bare number is shown to be refused; and the year after the wheel has too little left for as much again.
        let refused = command.contains("depth: 0.1/")
            || command.contains("taken: 0.80 mm")
            || command.contains("survey target/story/job.yaml");
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.success(), !refused, "{command}\n{said}");
    }
}
