//! Standard input in place of a file, and how much is printed.

use super::journeys::{Bench, text};
use std::io::Write;
use std::process::{Command, Output, Stdio};

/// Runs a command with text piped into it.
fn piped(bench: &Bench, arguments: &[&str], input: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_facewright"))
        .args(arguments)
        .current_dir(bench.path("."))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command runs");
    // A command that refuses its arguments reads nothing.
    let _ = child.stdin.take().expect("a pipe").write_all(input.as_bytes());
    child.wait_with_output().expect("the command ends")
}

fn content(bench: &Bench, name: &str) -> String {
    std::fs::read_to_string(bench.path(name)).expect("the file is there")
}

/// What is piped in is read as the file would be: its scans and its shop from the current folder.
#[test]
fn a_dash_is_standard_input() {
    let bench = Bench::new();
    let job = content(&bench, "job.yaml");
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let program = content(&bench, "out.nc");
    for (by_file, dashed, input) in [
        (&["survey", "job.yaml"][..], &["survey", "-"][..], &job),
        (&["survey", "job.yaml", "--format", "json"], &["survey", "-", "--format", "json"], &job),
        (&["write", "job.yaml"], &["write", "-"], &job),
        (&["write", "job.yaml", "--format", "json"], &["write", "-", "--format", "json", "-o", "-"], &job),
        (&["sheet", "job.yaml"], &["sheet", "-"], &job),
        (&["touch", "job.yaml", "--tool", "1"], &["touch", "-", "--tool", "1"], &job),
        (&["proof", "out.nc", "--job", "job.yaml"], &["proof", "-", "--job", "job.yaml"], &program),
        (&["proof", "out.nc", "--job", "job.yaml"], &["proof", "out.nc", "--job", "-"], &job),
        (
            &["proof", "out.nc", "--job", "job.yaml", "--against", "out.nc"],
            &["proof", "out.nc", "--job", "job.yaml", "--against", "-"],
            &program,
        ),
    ] {
        let (expected, got) = (bench.run(by_file), piped(&bench, dashed, input));
        assert_eq!(expected.status.code(), Some(0), "{by_file:?}");
        assert_eq!(got.status.code(), Some(0), "{dashed:?}: {}", text(&got.stderr));
        assert!(expected.stdout.len() > 200 && got.stdout == expected.stdout, "{dashed:?}");
        assert_eq!(text(&got.stderr), text(&expected.stderr), "{dashed:?}");
    }
    let page = piped(&bench, &["sheet", "job.yaml", "--program", "-"], &program);
    assert_eq!(page.status.code(), Some(0), "{}", text(&page.stderr));
    assert!(text(&page.stdout).contains("standard input"));
}

/// A fault of what is piped in has its line and column, as that of a file has.
#[test]
fn a_fault_of_standard_input_has_its_place() {
    let bench = Bench::new();
    let job = content(&bench, "job.yaml");
    let wrong = job.replacen("speed_limit:", "sped_limit:", 1);
    let line = 1 + wrong.lines().position(|l| l.contains("sped_limit")).expect("there");
    for command in
        [&["survey", "-"][..], &["write", "-"], &["sheet", "-"], &["proof", "job.yaml", "--job", "-"]]
    {
        let output = piped(&bench, command, &wrong);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{command:?}: {said}");
        assert!(said.contains(&format!("standard input:{line}:3: ")), "{command:?}: {said}");
        assert!(said.contains("speed_limit"), "{command:?}: {said}");
    }
    // A scan's fault names the line of the job that named the scan.
    let scan = content(&bench, "scan-000.csv");
    bench.put("scan-000.csv", "x,z\n70.0,1.0\n71.0,one\n");
    let said = text(&piped(&bench, &["survey", "-"], &job).stderr);
    assert!(said.contains("scan-000.csv:3:6") && said.contains("named in: standard input:"), "{said}");
    bench.put("scan-000.csv", &scan);
    // Nothing piped in is no program, and no job.
    let empty = piped(&bench, &["proof", "-", "--job", "job.yaml"], "");
    assert_eq!(empty.status.code(), Some(1), "{}", text(&empty.stderr));
    let empty = piped(&bench, &["write", "-"], "");
    assert_eq!(empty.status.code(), Some(2));
    assert!(
        text(&empty.stderr).starts_with("facewright: standard input: found an empty file"),
        "{}",
        text(&empty.stderr)
    );
}

/// Standard input can be read but once.
#[test]
fn only_one_input_is_standard_input() {
    let bench = Bench::new();
    for command in [
        &["proof", "-", "--job", "-"][..],
        &["proof", "out.nc", "--job", "-", "--against", "-"],
        &["sheet", "-", "--program", "-"],
        &["new", "-", "-"],
    ] {
        let output = piped(&bench, command, &content(&bench, "job.yaml"));
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{command:?}: {said}");
        assert!(said.contains("name a file for all but one"), "{command:?}: {said}");
    }
}

/// A scan that is piped in is looked at as any other; its file is a blank, since a job can only name one that stays.
#[test]
fn a_piped_scan_makes_a_job_that_asks_for_its_file() {
    let bench = Bench::new();
    let scan = content(&bench, "scan-120.csv");
    let by_file = text(&bench.run(&["new", "scan-120.csv", "-o", "-"]).stdout);
    let piped = piped(&bench, &["new", "-", "-o", "-"], &scan);
    assert_eq!(piped.status.code(), Some(0), "{}", text(&piped.stderr));
    let asked = text(&piped.stdout);
    assert!(asked.contains("{ file: ____"), "{asked}");
    let apart =
        |text: &str| text.lines().filter(|l| !l.contains("file:")).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(apart(&asked), apart(&by_file));
    bench.put("piped.yaml", &asked);
    let said = text(&bench.run(&["write", "piped.yaml"]).stderr);
    let line = 1 + asked.lines().position(|l| l.contains("file: ____")).expect("there");
    assert!(said.contains(&format!("piped.yaml:{line}:")), "{said}");
}

/// How much is printed can be said before the command or behind it; what must be seen is never left out.
#[test]
fn quiet_and_verbose_stand_before_or_behind_the_command() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    for rest in [
        &["write", "job.yaml", "-o", "out.nc"][..],
        &["survey", "job.yaml"],
        &["proof", "out.nc", "--job", "job.yaml"],
        &["sheet", "job.yaml"],
        &["explain", "gouge"],
    ] {
        for switch in ["-q", "--quiet", "-v", "--verbose"] {
            let (before, behind) =
                (bench.run(&[&[switch], rest].concat()), bench.run(&[rest, &[switch]].concat()));
            assert_eq!(before.status.code(), Some(0), "{switch} {rest:?}: {}", text(&before.stderr));
            assert!(before.stdout == behind.stdout && before.stderr == behind.stderr, "{switch} {rest:?}");
        }
        assert_eq!(bench.run(&[&["-q", "-v"], rest].concat()).status.code(), Some(2), "{rest:?}");
    }
    let survey = text(&bench.run(&["-q", "survey", "job.yaml"]).stdout);
    assert!(survey.starts_with("CUT: Demo 7") && survey.contains("! lines: 3 lines cannot show"), "{survey}");
    assert!(survey.lines().count() < 12, "{survey}");
    let proof = text(&bench.run(&["-q", "proof", "out.nc", "--job", "job.yaml"]).stdout);
    assert_eq!(proof, "SOUND: nothing found that stops it\n0 stops, 0 warnings, 0 notes\n");
    let program = content(&bench, "out.nc").replacen("M30", "", 1);
    let shown = text(&piped(&bench, &["-q", "proof", "-", "--job", "job.yaml"], &program).stdout);
    assert!(shown.starts_with("STOP") && shown.contains("  do:   ") && !shown.contains("ridges"), "{shown}");
}
