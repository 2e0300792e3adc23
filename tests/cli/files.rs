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

/// A program for a control that reads no comments bears no checksum: it is known as ours only where it is what would be written again.
#[test]
fn a_program_without_comments_may_be_written_again() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("there");
    bench.put("shop.yaml", &shop.replacen("control:\n", "control:\n  comments: none\n", 1));
    let write = ["write", "job.yaml", "-o", "out.nc"];
    for _ in 0..2 {
        assert_eq!(bench.run(&write).status.code(), Some(0));
    }
    let ours = fs::read_to_string(bench.path("out.nc")).expect("written");
    bench.put("out.nc", &ours.replacen("N10 ", "N11 ", 1));
    let output = bench.run(&write);
    let said = text(&output.stderr);
    assert!(output.status.code() == Some(2) && said.contains("say `--force`"), "{said}");
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
    // Nor beside the dry program, which bears the name that the whole one would.
    bench.change("shop.yaml", "largest_program: 8 kB", "largest_program: 64 kB");
    assert!(bench.run(&["write", "job.yaml", "--try-out", "-o", "out.nc"]).status.success());
    assert_eq!(names(), ["out.nc"]);
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
    // Links to a file that is not there yet, one after the other; and those that lead back to themselves.
    symlink("second.nc", bench.path("first.nc")).expect("a link");
    symlink("new.nc", bench.path("second.nc")).expect("a link");
    assert!(bench.run(&["write", "job.yaml", "-o", "first.nc"]).status.success());
    assert!(bench.path("second.nc").symlink_metadata().expect("there").is_symlink());
    assert!(bench.path("new.nc").is_file());
    symlink("own.nc", bench.path("own.nc")).expect("a link");
    let own = bench.run(&["write", "job.yaml", "-o", "own.nc"]);
    assert_eq!(own.status.code(), Some(3), "{}", text(&own.stderr));
    assert!(text(&own.stderr).contains("leads back to itself"), "{}", text(&own.stderr));
    assert!(bench.path("own.nc").symlink_metadata().expect("there").is_symlink());
}

/// Blanks that the checksum passes over were still set by somebody.
#[test]
fn a_program_with_blanks_set_by_hand_is_replaced_only_by_force() {
    let bench = Bench::new();
    let write = ["write", "job.yaml", "-o", "out.nc"];
    assert!(bench.run(&write).status.success());
    assert!(bench.run(&write).status.success());
    let ours = fs::read_to_string(bench.path("out.nc")).expect("written");
    bench.change("shop.yaml", "feed: 0.20 mm/rev", "feed: 0.21 mm/rev");
    for edited in [ours.replace("\r\n", " \r\n"), ours.replace(" G", "  G"), ours.replacen("\r\n", "\n", 3)] {
        assert_ne!(edited, ours);
        bench.put("out.nc", &edited);
        assert_eq!(bench.run(&write).status.code(), Some(2));
        assert_eq!(fs::read_to_string(bench.path("out.nc")).expect("kept"), edited);
    }
    bench.put("out.nc", &ours);
    assert!(bench.run(&write).status.success());
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
    assert_eq!(through_shell("survey /dev/zero 2>/dev/null"), Some(3));
    assert_eq!(through_shell("proof /dev/zero --job job.yaml 2>/dev/null"), Some(3));
    let made = std::process::Command::new("mkfifo").arg(bench.path("waits")).status().expect("a pipe");
    assert!(made.success());
    assert_eq!(through_shell("survey waits 2>/dev/null"), Some(3));
    bench.change("job.yaml", "file: scan-000.csv", "file: /dev/zero");
    assert_eq!(through_shell("survey job.yaml 2>/dev/null"), Some(3));
}

/// What every command prints goes to a full standard output: exit code 3. Where one was closed before the start nothing panics.
#[cfg(target_os = "linux")]
#[test]
fn every_command_bears_a_full_or_closed_output() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    for command in [
        "completions bash",
        "explain gouge",
        "manual",
        "schema job",
        "survey job.yaml",
        "write job.yaml",
        "write job.yaml -o -",
        "proof out.nc --job job.yaml",
        "proof out.nc --job job.yaml --format json",
        "sheet job.yaml",
        "--help",
        "--version",
        "ledger --help",
        "touch --help",
        "new --help",
    ] {
        let code = |outputs: &str| {
            let program = env!("CARGO_BIN_EXE_facewright");
            let line = format!("cd '{}' && '{program}' {command} {outputs}", bench.path(".").display());
            let quiet = std::process::Stdio::null;
            let mut shell = std::process::Command::new("sh");
            shell.args(["-c", &line]).stdin(quiet()).stdout(quiet()).stderr(quiet());
            shell.status().expect("a shell").code()
        };
        assert_eq!(code(">/dev/full"), Some(3), "{command}");
        assert_eq!(code(">/dev/full 2>/dev/full"), Some(3), "{command}");
        // The system's library opens what was closed as a null device.
        for closed in [">&-", "2>&-", "<&- >&- 2>&-"] {
            assert_eq!(code(closed), Some(0), "{command} {closed}");
        }
    }
}

/// A disk that is full after any number of bytes: `new` leaves both of its files whole, or neither, and nothing beside them.
#[cfg(target_os = "linux")]
#[test]
fn new_files_are_there_whole_or_not_at_all() {
    let names = |bench: &Bench| {
        let entries = fs::read_dir(bench.path("new")).expect("a folder").filter_map(Result::ok);
        let mut names: Vec<String> = entries.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    };
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("there");
    fs::create_dir(bench.path("new")).expect("a folder");
    for (command, whole) in [
        ("new scan-000.csv -o new/job.yaml", &["job.yaml", "shop.yaml"][..]),
        ("new --shop -o new/shop.yaml", &["shop.yaml"]),
    ] {
        let mut failed = 0;
        // Blocks of 512 bytes (POSIX.1, ulimit).
        for blocks in 0.. {
            let program = env!("CARGO_BIN_EXE_facewright");
            let line = format!("trap '' XFSZ; ulimit -f {blocks}; '{program}' {command}");
            let mut shell = std::process::Command::new("sh");
            let output = shell.args(["-c", &line]).current_dir(bench.path(".")).output().expect("a shell");
            if output.status.success() {
                break;
            }
            assert_eq!(output.status.code(), Some(3), "{}", text(&output.stderr));
            assert_eq!(names(&bench), <[&str; 0]>::default(), "{command}, {blocks} blocks");
            failed += 1;
        }
        assert!(failed > 10 && names(&bench) == whole, "{failed} of {command}: {:?}", names(&bench));
        fs::remove_dir_all(bench.path("new"))
            .and_then(|()| fs::create_dir(bench.path("new")))
            .expect("empty");
    }
    // Both files under one name: neither.
    assert_eq!(bench.run(&["new", "scan-000.csv", "-o", "new/shop.yaml"]).status.code(), Some(2));
    assert_eq!(names(&bench), <[&str; 0]>::default());
}

/// No temporary file of a killed run stays, and a set of parts that it left half in its places is told and completed.
#[test]
fn what_a_killed_run_left_is_told_and_completed() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let whole = fs::read(bench.path("out.nc")).expect("written");
    bench.put(".facewright-a.part", "half a program");
    bench.put(".facewright-b.part", "another");
    bench.put(".facewright-moves", r#"[{"from":".facewright-b.part","to":"b.nc","old":null}]"#);
    let proof = bench.run(&["proof", "out.nc", "--job", "job.yaml"]);
    assert!(text(&proof.stderr).contains("a run was ended here"), "{}", text(&proof.stderr));
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let hidden = fs::read_dir(bench.path(".")).expect("a folder").filter_map(Result::ok);
    let hidden: Vec<String> = hidden.map(|e| e.file_name().to_string_lossy().into_owned()).collect();
    assert!(!hidden.iter().any(|n| n.starts_with(".facewright")), "{hidden:?}");
    assert!(fs::read(bench.path("out.nc")).expect("written") == whole);
    assert_eq!(fs::read_to_string(bench.path("b.nc")).expect("completed"), "another");
}

/// More than any shop or wheel has is refused in words, before time and memory go into it.
#[test]
fn what_no_shop_has_is_refused_when_it_is_read() {
    let zone = "  - { from: 70 mm, to: 216 mm }\n";
    let zones = |n: u32| {
        let from = |k: u32| 70.0 + 0.001 * f64::from(k);
        (0..n).fold(String::new(), |all, k| {
            all + &format!("  - {{ from: {:.4} mm, to: {:.4} mm }}\n", from(k), from(k) + 0.0005)
        })
    };
    let keys: String = (0..100_000).fold(String::new(), |all, k| all + &format!("key{k}: 1\n"));
    let many = |what: &str| format!("{zone}{what}");
    let list = format!("damage: [{}]", "{ from: 80 mm, to: 81 mm, depth: 1 mm, kind: nick }, ".repeat(300));
    let cases: [(&str, &str, String, &str); 11] = [
        ("job.yaml", zone, many(&keys), "more than 20000 keys and values"),
        ("job.yaml", zone, zones(20_000), "more than 20000 keys and values"),
        ("job.yaml", zone, zones(101), "100 zones at most"),
        (
            "job.yaml",
            "damage:\n  - { from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }",
            list,
            "200 stretches of damage at most",
        ),
        ("job.yaml", zone, many(&(0..300).fold(String::new(), |all, k| format!("{all}k{k}: 1\n"))), "more"),
        ("job.yaml", "limit: 1.0 mm", "limit: 1e300 mm".into(), "1e300 mm"),
        ("shop.yaml", "depth: 0.10 mm", "depth: 1e300 mm".into(), "1e300 mm"),
        ("shop.yaml", "280 m/min", "1e6 m/min".into(), "1e6 m/min"),
        ("shop.yaml", "clearance: 3 mm", "clearance: 1e-9 mm".into(), "1e-9 mm"),
        ("shop.yaml", "arcs: centre", "arcs: centre\n  arc_tolerance: 1e9 mm".into(), "1e9 mm"),
        ("shop.yaml", "passes: 1,", "passes: 1, spring_passes: 100,".into(), "0 to 10"),
    ];
    for (file, old, new, word) in cases {
        let bench = Bench::new();
        bench.change(file, old, &new);
        bench.turned_away(2, &[word, file]);
        let said = text(&bench.run(&["survey", "job.yaml"]).stderr);
        assert!(said.len() < 60_000, "{} bytes of {word}", said.len());
    }
    let bench = Bench::new();
    for (name, size) in [("big.yaml", 5 << 20), ("big.nc", 7 << 20), ("big.csv", 65 << 20)] {
        fs::File::create(bench.path(name)).and_then(|f| f.set_len(size)).expect("made");
    }
    assert_eq!(bench.run(&["survey", "big.yaml"]).status.code(), Some(3));
    assert_eq!(bench.run(&["proof", "big.nc", "--job", "job.yaml"]).status.code(), Some(3));
    bench.change("job.yaml", "scan-000.csv", "big.csv");
    assert_eq!(bench.run(&["survey", "job.yaml"]).status.code(), Some(3));
}
