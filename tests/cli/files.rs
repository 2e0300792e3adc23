//! What is written over, what never, and what a full or closed place to write to does.

use super::journeys::{Bench, text};
use std::fs;

/// What facewright wrote may be written anew; what somebody else wrote, or edited since, only by force.
#[test]
fn nothing_that_is_not_ours_is_replaced() {
    let bench = Bench::new();
    for command in [
        ["write", "job.yaml", "-o", "out"].as_slice(),
        &["sheet", "job.yaml", "-o", "out"],
        &["survey", "job.yaml", "--picture", "out"],
    ] {
        let _ = fs::remove_file(bench.path("out"));
        for _ in 0..2 {
            assert_eq!(bench.run(command).status.code(), Some(0), "{command:?}");
        }
        let ours = fs::read_to_string(bench.path("out")).expect("written");
        let edited = ours.replacen("DEMO", "DEMI", 1).replacen("Demo", "Demi", 1);
        assert_ne!(ours.len(), 0);
        for other in [edited.as_str(), "what somebody else wrote\n"] {
            assert!(other != ours);
            bench.put("out", other);
            let output = bench.run(command);
            let said = text(&output.stderr);
            assert!(output.status.code() == Some(2) && said.contains("say `--force`"), "{command:?}: {said}");
            assert!(fs::read_to_string(bench.path("out")).expect("kept") == other);
        }
        assert_eq!(bench.run(&[command, &["--force"]].concat()).status.code(), Some(0), "{command:?}");
    }
}

/// The program that a page is made of is an input.
#[test]
fn a_page_never_takes_the_place_of_its_program() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let before = fs::read(bench.path("out.nc")).expect("written");
    let output = bench.run(&["sheet", "job.yaml", "--program", "out.nc", "-o", "out.nc", "--force"]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(fs::read(bench.path("out.nc")).expect("kept") == before);
}

/// Scans measured again are read too.
#[test]
fn a_program_never_takes_the_place_of_a_scan_measured_again() {
    let bench = Bench::new();
    let before = fs::read(bench.path("again-000.csv")).expect("there");
    let output = bench.run(&["write", "again.yaml", "-o", "again-000.csv", "--force"]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    assert!(fs::read(bench.path("again-000.csv")).expect("kept") == before);
}

/// A dash is standard output for every command, and never a file of that name.
#[test]
fn a_dash_is_standard_output() {
    let bench = Bench::new();
    for command in [
        &["write", "job.yaml", "-o", "-"][..],
        &["write", "job.yaml", "--try-out", "-o", "-"],
        &["sheet", "job.yaml", "-o", "-"],
    ] {
        let output = bench.run(command);
        assert_eq!(output.status.code(), Some(0), "{command:?}: {}", text(&output.stderr));
        assert!(output.stdout.len() > 1000, "{command:?}");
        assert!(!bench.path("-").exists(), "{command:?}");
    }
}

/// Parts of another division do not stay beside the new ones.
#[test]
fn old_parts_do_not_stay_beside_new_ones() {
    let bench = Bench::new();
    let names = || {
        let all = fs::read_dir(bench.path(".")).expect("a folder").filter_map(Result::ok);
        let mut names: Vec<String> = all.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.retain(|n| std::path::Path::new(n).extension().is_some_and(|e| e == "nc"));
        names.sort();
        names
    };
    bench.change("shop.yaml", "largest_program: 64 kB", "largest_program: 8 kB");
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let parts = names();
    assert!(parts.len() > 1 && parts.iter().all(|n| n.starts_with("out-part-")), "{parts:?}");
    bench.change("shop.yaml", "largest_program: 8 kB", "largest_program: 64 kB");
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    assert_eq!(names(), ["out.nc"]);
    bench.change("shop.yaml", "largest_program: 64 kB", "largest_program: 8 kB");
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    assert_eq!(names(), parts);
    bench.put("out-part-1-of-9.nc", "kept by hand\n");
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.code(), Some(2));
    assert_eq!(fs::read_to_string(bench.path("out-part-1-of-9.nc")).expect("kept"), "kept by hand\n");
}

/// A link is followed, permissions are kept, and a file that may not be written to is not replaced.
#[cfg(unix)]
#[test]
fn links_and_permissions_are_respected() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let bench = Bench::new();
    let write = ["write", "job.yaml", "-o", "link.nc"];
    symlink("real.nc", bench.path("link.nc")).expect("a link");
    assert!(bench.run(&write).status.success());
    fs::set_permissions(bench.path("real.nc"), fs::Permissions::from_mode(0o640)).expect("set");
    assert!(bench.run(&write).status.success());
    assert!(bench.path("link.nc").symlink_metadata().expect("there").is_symlink());
    let mode = |name: &str| fs::metadata(bench.path(name)).expect("there").permissions().mode() & 0o777;
    assert_eq!(mode("real.nc"), 0o640);
    fs::set_permissions(bench.path("real.nc"), fs::Permissions::from_mode(0o440)).expect("set");
    assert_eq!(bench.run(&write).status.code(), Some(3));
}

/// No place to complain to is no panic, and an input that never ends is refused.
#[cfg(target_os = "linux")]
#[test]
fn a_full_place_to_write_to_and_an_endless_input() {
    let bench = Bench::new();
    let through_shell = |command: &str| {
        let program = env!("CARGO_BIN_EXE_facewright");
        let line = format!("cd '{}' && '{program}' {command}", bench.path(".").display());
        std::process::Command::new("sh").args(["-c", &line]).status().expect("a shell").code()
    };
    assert_eq!(through_shell("survey no-such.yaml 2>/dev/full"), Some(3));
    assert_eq!(through_shell("survey job.yaml >/dev/full 2>/dev/null"), Some(3));
    assert_eq!(through_shell("write job.yaml >/dev/null 2>/dev/full"), Some(0));
    assert_eq!(through_shell("survey /dev/zero 2>/dev/null"), Some(3));
    assert_eq!(through_shell("proof /dev/zero --job job.yaml 2>/dev/null"), Some(3));
    let made = std::process::Command::new("mkfifo").arg(bench.path("waits")).status().expect("a pipe");
    assert!(made.success());
    assert_eq!(through_shell("survey waits 2>/dev/null"), Some(3));
    bench.change("job.yaml", "file: scan-000.csv", "file: /dev/zero");
    assert_eq!(through_shell("survey job.yaml 2>/dev/null"), Some(3));
}
