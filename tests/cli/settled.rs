//! What the survey says reaches whoever reads the account or the program, and what the job settles is settled there.

use super::journeys::{Bench, text};
use std::fmt::Write;
use std::fs;

/// Letters and digits alone, in capitals: what is left of a sentence after a control's character set and its line length.
fn letters(text: &str) -> String {
    text.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_uppercase()).collect()
}

/// The warnings of `survey --format json`.
fn warnings(bench: &Bench) -> Vec<String> {
    let output = bench.run(&["survey", "job.yaml", "--format", "json"]);
    let survey: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let findings = survey["findings"].as_array().expect("a list").iter();
    let warned = findings.filter(|f| f["rank"] == "warning");
    warned.map(|f| f["what"].as_str().expect("a sentence").to_owned()).collect()
}

/// Every warning of the survey stands in the account and in the head of the program, before its first motion.
#[test]
fn every_warning_of_the_survey_stands_in_the_account_and_in_the_program() {
    let bench = Bench::new();
    // An indicator that read more than the lines show is a second warning beside the few lines.
    bench.change("job.yaml", "  longest_gap: 2 mm\n", "  longest_gap: 2 mm\n  run_out: 0.20 mm\n");
    let warnings = warnings(&bench);
    assert!(warnings.len() >= 2, "{warnings:?}");
    let written = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    let program = fs::read_to_string(bench.path("out.nc")).expect("the program is written");
    let head = &program[..program.find("G18").expect("a safe start")];
    for warning in &warnings {
        let account = text(&written.stdout);
        assert!(account.lines().any(|l| l == format!("warning  {warning}")), "no `{warning}` in:\n{account}");
        assert!(letters(head).contains(&letters(warning)), "no `{warning}` in:\n{head}");
    }
}

/// Two lines wait for a person: exit code 1 and the key; with the key it is written, and still told.
#[test]
fn a_decision_waits_for_its_key() {
    let bench = Bench::new();
    bench.change("job.yaml", "    - { file: scan-240.csv, at: 240 deg }\n", "").change(
        "job.yaml",
        "at: 120 deg",
        "at: 180 deg",
    );
    bench.change("scan-120.csv", "line at 120 degrees", "line at 180 degrees");
    bench.turned_away(1, &["decide first", "`accept: [two-lobe bend unseen]`"]);
    bench.change("job.yaml", "zones:", "accept: [two-lobe bend unseen]\n\nzones:");
    let written = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    assert!(text(&written.stdout).contains("warning  Two lines show what they differ by"));
}

/// The tilt of the demo's wheel as its generator made it: 0.06 mm at 220 mm, high at 40 degrees. Its bend of 0.006 mm a dial hardly shows.
fn turn(degrees: u32) -> f64 {
    let angle = f64::from(degrees).to_radians();
    214.0 / 220.0 * 0.06 * (angle - 40.0_f64.to_radians()).cos()
}

/// Eight dial readings in the job, or a scan round the rim, take the place of more lines.
#[test]
fn readings_round_the_rim_settle_what_three_lines_cannot_show() {
    let reads: Vec<String> = (0..8).map(|i| format!("{:.2} mm", turn(45 * i))).collect();
    let dial = format!("turn: [{{ at: 214 mm, every: 45 deg, reads: [{}] }}]", reads.join(", "));
    let mut ring = String::from("# round the rim\nangle,z\n");
    for degrees in (0..360).step_by(2) {
        let _ = writeln!(ring, "{degrees},{:.4}", -1.5 + turn(degrees));
    }
    for key in [dial.as_str(), "turn: [{ at: 214 mm, file: ring.csv }]"] {
        let bench = Bench::new();
        bench.put("ring.csv", &ring);
        assert!(warnings(&bench).iter().any(|w| w.contains("two lobes")), "the check needs the warning");
        bench.change("job.yaml", "zones:", &format!("{key}\n\nzones:"));
        let written = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
        assert_eq!(written.status.code(), Some(0), "{key}: {}", text(&written.stderr));
        assert!(!warnings(&bench).iter().any(|w| w.contains("two lobes")), "{key}: {:?}", warnings(&bench));
    }
}

/// A dial that shows another wheel than the lines do, here 0.12 mm higher round one of them, is told in the account and in the
/// program's head, and between which lines.
#[test]
fn a_dial_of_another_wheel_is_told() {
    let bench = Bench::new();
    let other = |degrees: u32| if degrees == 225 || degrees == 270 { 0.12 } else { 0.0 };
    let reads: Vec<String> = (0..8).map(|i| format!("{:.3} mm", turn(45 * i) + other(45 * i))).collect();
    let dial = format!("turn: [{{ at: 214 mm, every: 45 deg, reads: [{}] }}]\n\nzones:", reads.join(", "));
    bench.change("job.yaml", "zones:", &dial);
    let found = warnings(&bench).into_iter().find(|w| w.contains("the readings rise by"));
    let found = found.unwrap_or_else(|| panic!("{:?}", warnings(&bench)));
    assert!(found.contains("from 120 deg to 240 deg"), "{found}");
    let written = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    assert!(text(&written.stdout).contains(&found), "{}", text(&written.stdout));
    let program = fs::read_to_string(bench.path("out.nc")).expect("the program is written");
    assert!(letters(&program).contains(&letters(&found)), "{program}");
}
