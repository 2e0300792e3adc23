//! Standard output and standard error as places for what a command makes: named in several ways, redirected, full.

#![cfg(target_os = "linux")]

use super::journeys::{Bench, text};
use std::fs;
use std::process::{Command, Stdio};

/// Runs a line of the shell, `F` in it the command, in the bench's folder; its exit code.
fn through_shell(bench: &Bench, line: &str) -> Option<i32> {
    let line = line.replace("F ", concat!("'", env!("CARGO_BIN_EXE_facewright"), "' "));
    let mut shell = Command::new("sh");
    shell.args(["-c", &line]).current_dir(bench.path(".")).stdin(Stdio::null());
    shell.status().expect("a shell").code()
}

/// A program goes nowhere without its account: its warnings are in it.
#[test]
fn an_account_that_cannot_be_told_is_exit_code_3() {
    let bench = Bench::new();
    for command in ["write job.yaml", "write job.yaml --try-out", "write job.yaml -o -"] {
        assert_eq!(through_shell(&bench, &format!("F {command} >out.nc 2>/dev/full")), Some(3), "{command}");
        assert_eq!(fs::read(bench.path("out.nc")).expect("made by the shell"), b"", "{command}");
        // Nobody reads it: as with a pipe of standard output that was closed, that is no fault.
        assert_eq!(through_shell(&bench, &format!("F {command} >out.nc 2>&-")), Some(0), "{command}");
    }
    assert_eq!(through_shell(&bench, "F write job.yaml -o out.nc --force 2>/dev/full >account"), Some(0));
    bench.put(".facewright-a.part", "another");
    bench.put(".facewright-moves", r#"[{"from":".facewright-a.part","to":"b.nc","old":null}]"#);
    assert_eq!(through_shell(&bench, "F proof out.nc --job job.yaml >page 2>/dev/full"), Some(3));
    // A refusal keeps its own code.
    bench.change("job.yaml", "kind: scrape", "kind: crack");
    assert_eq!(through_shell(&bench, "F write job.yaml 2>/dev/full"), Some(1));
}

/// Standard output by its name among the system's files is standard output: nothing takes the place of what it is redirected to, and a
/// pipe will do.
#[test]
fn standard_output_by_any_name_is_standard_output() {
    let bench = Bench::new();
    std::os::unix::fs::symlink("/dev/stdout", bench.path("link-to-it")).expect("a link");
    let names = ["/dev/stdout", "/dev/fd/1", "/proc/self/fd/1", "/dev/../dev/stdout", "link-to-it"];
    for (command, names) in [
        (&["new", "--shop", "-o"][..], &names[..]),
        (&["new", "scan-000.csv", "-o"], &names),
        (&["write", "job.yaml", "--try-out", "-o"], &names),
        (&["write", "job.yaml", "-o"], &names[..1]),
        (&["sheet", "job.yaml", "-o"], &names[1..2]),
        (&["survey", "job.yaml", "--picture"], &names[2..3]),
    ] {
        let dash = bench.run(&[command, &["-"]].concat());
        assert_eq!(dash.status.code(), Some(0), "{command:?}: {}", text(&dash.stderr));
        assert!(dash.stdout.len() > 1000 && !bench.path("-").exists(), "{command:?}");
        for name in names {
            let command = [command, &[*name]].concat();
            let piped = bench.run(&command);
            assert_eq!(piped.status.code(), Some(0), "{command:?}: {}", text(&piped.stderr));
            assert!(piped.stdout == dash.stdout && piped.stderr == dash.stderr, "{command:?}");
            let file = fs::File::create(bench.path("redirected")).expect("a file");
            let mut run = Command::new(env!("CARGO_BIN_EXE_facewright"));
            run.args(&command).current_dir(bench.path(".")).stderr(Stdio::null());
            let open = file.try_clone().expect("a second handle");
            assert_eq!(run.stdout(open).status().expect("runs").code(), Some(0), "{command:?}");
            // The file that was opened, and the one that bears its name now.
            assert_eq!(file.metadata().expect("open").len(), dash.stdout.len() as u64, "{command:?}");
            assert!(fs::read(bench.path("redirected")).expect("there") == dash.stdout, "{command:?}");
        }
    }
}

/// Any other open file has no name to be replaced under; and one stream does not hold two results.
#[test]
fn other_streams_are_refused_as_places_for_files() {
    let bench = Bench::new();
    for name in ["/dev/stderr", "/dev/fd/3"] {
        let line = format!("F write job.yaml -o {name} --force 3>third 2>second");
        assert_eq!(through_shell(&bench, &line), Some(3), "{name}");
        let said = fs::read_to_string(bench.path("second")).expect("there");
        assert!(said.contains("name a file, or `-` for standard output"), "{said}");
        assert_eq!(fs::read(bench.path("third")).expect("there"), b"");
    }
    let both = bench.run(&["survey", "job.yaml", "--format", "json", "--picture", "-"]);
    assert!(both.status.code() == Some(2) && text(&both.stderr).contains("to mend it"));
    assert!(both.stdout.is_empty());
}
