//! A person's journeys at the command line: what comes out, where, and with which exit code.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A copy of the demo that a test may change.
pub struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder for the test");
        for entry in fs::read_dir("demo-data").expect("the demo is there") {
            let entry = entry.expect("the demo can be read").path();
            if entry.is_file() {
                let name = entry.file_name().expect("a file has a name");
                fs::copy(&entry, folder.path().join(name)).expect("the demo can be copied");
            }
        }
        Self { folder }
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Changes what stands in a file; it must have stood there.
    pub fn change(&self, name: &str, old: &str, new: &str) -> &Self {
        let text = fs::read_to_string(self.path(name)).expect("the file is there");
        assert!(text.contains(old), "{name} holds no `{old}`");
        fs::write(self.path(name), text.replacen(old, new, 1)).expect("the file can be written");
        self
    }

    pub fn put(&self, name: &str, text: &str) -> &Self {
        fs::write(self.path(name), text).expect("the file can be written");
        self
    }

    pub fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_facewright"))
            .args(arguments)
            .current_dir(self.folder.path())
            .output()
            .expect("the command runs")
    }

    /// Writes the program and expects to be turned away: no file, this exit code, these words.
    pub fn turned_away(&self, code: i32, words: &[&str]) {
        let output = self.run(&["write", "job.yaml", "-o", "out.nc"]);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{said}");
        for word in words {
            assert!(said.contains(word), "no `{word}` in:\n{said}");
        }
        assert!(!self.path("out.nc").exists(), "a file all the same");
    }
}

/// Output as text.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn the_demo_goes_from_scan_to_proved_program() {
    let bench = Bench::new();
    let output = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    insta::assert_snapshot!("account", text(&output.stdout));
    let program = fs::read_to_string(bench.path("out.nc")).expect("the program is written");
    // In order: the limit before the first surface speed, the air pass, a stop to look, rough passes, the finish, the end.
    let order = ["G92 S", "G96 S", "AIR PASS", "M00", "ROUGH PASS 1", "M01", "FINISH PASS 1", "M30"];
    let body = &program[program.find("G18").expect("a safe start")..];
    let mut from = 0;
    for word in order.iter().filter(|w| **w != "AIR PASS") {
        from +=
            body[from..].find(word).unwrap_or_else(|| panic!("no {word} where it should be")) + word.len();
    }
    let proof = bench.run(&["proof", "out.nc", "--job", "job.yaml"]);
    assert_eq!(proof.status.code(), Some(0), "{}", text(&proof.stdout));
    let stream = bench.run(&["write", "job.yaml"]);
    assert_eq!(text(&stream.stdout), program, "the same program on standard output");
    assert!(text(&stream.stderr).contains("metal"), "the account on standard error");
}

/// A pass made 0.3 mm deeper at one block, as a hand at the machine might: refused, with the block and the depth there.
#[test]
fn a_program_edited_by_hand_is_refused_at_its_block() {
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let program = fs::read_to_string(bench.path("out.nc")).expect("the program is written");
    let rough = program.rfind("(FINISH PASS 1").expect("a finish pass");
    let at = rough + program[rough..].find("G02 X").expect("an arc in the finish pass");
    let line = program[at..].lines().nth(3).expect("a block after it");
    let z = line.split(' ').find_map(|w| w.strip_prefix('Z')).expect("a Z word");
    let deeper = format!("Z{:.3}", z.parse::<f64>().expect("a number") - 0.3);
    let edited = line.replace(&format!("Z{z}"), &deeper);
    bench.put("edited.nc", &program.replacen(line, &edited, 1));
    let proof = bench.run(&["proof", "edited.nc", "--job", "job.yaml"]);
    assert_eq!(proof.status.code(), Some(1), "{}", text(&proof.stdout));
    let number = line.split(' ').next().expect("a sequence number");
    assert!(text(&proof.stdout).contains(number), "no {number} in:\n{}", text(&proof.stdout));
    let against = bench.run(&["proof", "edited.nc", "--job", "job.yaml", "--against", "out.nc"]);
    assert!(text(&against.stdout).contains("deeper"), "{}", text(&against.stdout));
}

#[test]
fn wrong_input_is_named_with_its_place_and_the_way_to_mend_it() {
    let cases: [(&str, &str, &str, &[&str]); 5] = [
        ("shop.yaml", "depth: 0.10 mm", "depth: 0.1", &["shop.yaml:", "0.1", "mm"]),
        ("job.yaml", "  allowance: { limit: 1.0 mm, taken: 0.20 mm }\n", "", &["job.yaml:", "allowance"]),
        ("job.yaml", "from: 70 mm", "from: -70 mm", &["job.yaml:", "-70 mm"]),
        ("job.yaml", "material:", "materail:", &["job.yaml:", "materail", "material"]),
        ("job.yaml", "scuffed-lip", "scuffed-lipp", &["job.yaml:", "scuffed-lip"]),
    ];
    for (file, old, new, words) in cases {
        let bench = Bench::new();
        bench.change(file, old, new).turned_away(2, words);
    }
    let bench = Bench::new();
    bench.put("scan-120.csv", "").turned_away(2, &["scan-120.csv"]);
    let bench = Bench::new();
    let scan = fs::read_to_string(bench.path("scan-000.csv")).expect("the scan is there");
    let line = scan.lines().nth(50).expect("a long scan").to_owned();
    bench
        .put("scan-000.csv", &scan.replacen(&line, "80.0,dent", 1))
        .turned_away(2, &["scan-000.csv:51:", "dent"]);
}

#[test]
fn what_is_not_safe_is_refused_with_its_numbers() {
    let bench = Bench::new();
    bench.change("job.yaml", "taken: 0.20 mm", "taken: 0.80 mm").turned_away(1, &["0.2"]);
    let bench = Bench::new();
    bench.change("job.yaml", "kind: scrape", "kind: crack").turned_away(1, &["crack", "wheel maker"]);
    let bench = Bench::new();
    bench.change("job.yaml", "to: 216 mm", "to: 240 mm").turned_away(1, &["240"]);
}

#[test]
fn a_file_that_cannot_be_read_or_written_is_exit_code_3() {
    let bench = Bench::new();
    assert_eq!(bench.run(&["write", "nowhere.yaml"]).status.code(), Some(3));
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "no/such/folder.nc"]).status.code(), Some(3));
    assert_eq!(bench.run(&["write"]).status.code(), Some(2));
}

/// A refusal leaves the old file as it was.
#[test]
fn a_refusal_leaves_the_old_program_untouched() {
    let bench = Bench::new();
    bench.put("out.nc", "old").change("job.yaml", "kind: scrape", "kind: bend");
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.code(), Some(1));
    assert_eq!(fs::read_to_string(bench.path("out.nc")).expect("still there"), "old");
    let left: Vec<_> = fs::read_dir(bench.folder.path()).expect("readable").flatten().collect();
    assert!(left.iter().all(|e| Path::new(&e.file_name()).extension().is_some_and(|x| x != "tmp")));
}

/// Nothing that the job is read from is ever written over, and nothing that is no file.
#[test]
fn inputs_are_never_written_over() {
    let bench = Bench::new();
    for input in ["job.yaml", "shop.yaml", "scan-000.csv"] {
        let before = fs::read(bench.path(input)).expect("there");
        let output = bench.run(&["write", "job.yaml", "-o", input]);
        assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
        assert!(fs::read(bench.path(input)).expect("still there") == before, "{input} is lost");
    }
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "."]).status.code(), Some(3));
    assert_eq!(bench.run(&["write", "job.yaml", "-o", "x.nc", "--already=-1mm"]).status.code(), Some(2));
}

/// The program may be read by whoever may read the person's files, as the share by the lathe needs.
#[cfg(unix)]
#[test]
fn a_written_file_has_the_permissions_of_any_other() {
    use std::os::unix::fs::PermissionsExt;
    let bench = Bench::new();
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    bench.put("any.txt", "made as files are made");
    let mode = |name: &str| fs::metadata(bench.path(name)).expect("there").permissions().mode() & 0o777;
    assert_eq!(mode("out.nc"), mode("any.txt"));
}

/// After looking at the wheel: only the finish passes, on what an earlier program has left.
#[test]
fn a_follow_on_program_starts_where_the_first_ended() {
    let bench = Bench::new();
    let rough = bench.run(&["write", "job.yaml", "--only", "rough", "-o", "rough.nc"]);
    assert_eq!(rough.status.code(), Some(0), "{}", text(&rough.stderr));
    let finish =
        bench.run(&["write", "job.yaml", "--only", "finish", "--already", "0.40mm", "-o", "finish.nc"]);
    assert_eq!(finish.status.code(), Some(0), "{}", text(&finish.stderr));
    let rough = fs::read_to_string(bench.path("rough.nc")).expect("written");
    let finish = fs::read_to_string(bench.path("finish.nc")).expect("written");
    assert!(rough.contains("(ROUGH PASS 1") && !rough.contains("(FINISH PASS"));
    assert!(finish.contains("(FINISH PASS 1") && !finish.contains("(ROUGH PASS"));
}

/// The operator looked and wants one more like that: written, proved and shown with the same arguments.
#[test]
fn the_next_pass_in_one_command() {
    let bench = Bench::new();
    let how = ["--next", "rough", "--depth", "0.08mm", "--already", "0.30mm"];
    let with = |first: &[&str], rest: &[&str]| bench.run(&[first, &how, rest].concat());
    let written = with(&["write", "job.yaml"], &["-o", "next.nc"]);
    let said = text(&written.stdout);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    assert!(
        said.contains("gone     0.300 mm before this program, 0.380 mm after it; clean-up needs"),
        "{said}"
    );
    let program = fs::read_to_string(bench.path("next.nc")).expect("written");
    assert!(
        program.contains("(GONE BEFORE THIS PROGRAM 0.3 MM OFF THE HIGHEST PLACE AS MEASURED)"),
        "{program}"
    );
    assert!(program.contains("(AIR PASS 1 OF 1") && program.contains("(ROUGH PASS 1 OF 1, DEPTH 0.08 MM"));
    assert!(!program.contains("(FINISH PASS"));
    let proved = with(&["proof", "next.nc", "--job", "job.yaml"], &[]);
    assert_eq!(proved.status.code(), Some(0), "{}", text(&proved.stdout));
    assert!(text(&proved.stdout).contains("0 stops, 0 warnings"), "{}", text(&proved.stdout));
    let shown = with(&["sheet", "job.yaml"], &["-o", "next.html"]);
    assert_eq!(shown.status.code(), Some(0), "{}", text(&shown.stderr));
    let page = fs::read_to_string(bench.path("next.html")).expect("written");
    assert!(page.contains("Taken off by an earlier program") && page.contains("Touch-off"), "{page}");
    bench.change("shop.yaml", "    rough: {", "    # rough: {");
    let lacking = with(&["write", "job.yaml"], &[]);
    let said = text(&lacking.stderr);
    assert!(lacking.status.code() == Some(2) && said.contains("a schedule without `rough`"), "{said}");
    assert!(said.contains("ask for `finish` passes next"), "{said}");
    // What is varied belongs to the next passes: nothing is varied in silence.
    assert_eq!(bench.run(&["write", "job.yaml", "--depth", "0.08mm"]).status.code(), Some(2));
}

/// The folder that is missing is named, not a file that nobody asked for.
#[test]
fn a_missing_folder_is_named() {
    let bench = Bench::new();
    for arguments in [
        ["write", "job.yaml", "-o", "nodir/out.nc"].as_slice(),
        &["sheet", "job.yaml", "-o", "nodir/out.html"],
        &["survey", "job.yaml", "--picture", "nodir/out.svg"],
    ] {
        let output = bench.run(arguments);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{said}");
        assert!(said.contains("there is no folder nodir\n") && !said.contains(".tmp"), "{said}");
    }
}

/// A mark that turns the direction of writing round reaches no terminal, whichever command repeats it and wherever it stands.
#[test]
fn no_text_from_a_file_steers_the_terminal() {
    let bench = Bench::new();
    bench.change("job.yaml", "Demo 7, rear right", "Demo \u{202E}7");
    bench.change("job.yaml", "17 x 7, ten spokes", "17 \u{2066}x 7");
    bench.change("shop.yaml", "  sweeper:", "  swe\u{202E}eper:").change(
        "shop.yaml",
        "tool: sweeper",
        "tool: swe\u{202E}eper",
    );
    for arguments in [
        ["write", "job.yaml", "-o", "out.nc"].as_slice(),
        &["survey", "job.yaml"],
        &["proof", "out.nc", "--job", "job.yaml", "--explain"],
        &["write", "job.yaml"],
        &["write", "no\u{202E}file.yaml"],
    ] {
        let output = bench.run(arguments);
        let said = text(&output.stdout) + &text(&output.stderr);
        assert!(!said.contains(['\u{202E}', '\u{2066}']), "{arguments:?}: {said}");
    }
    bench.change("job.yaml", "shop: shop.yaml", "shop: \"sh\u{202E}op.yaml\"");
    let output = bench.run(&["write", "job.yaml"]);
    assert!(!text(&output.stderr).contains('\u{202E}'));
}

/// The rings of a trial have a page of their own, with each ring's name; without rings there is none.
#[test]
fn a_trial_has_a_sheet_of_its_own() {
    let bench = Bench::new();
    let none = bench.run(&["sheet", "job.yaml", "--trial", "-o", "trial.html"]);
    assert_eq!(none.status.code(), Some(2), "{}", text(&none.stderr));
    let rings = "trial: [{ name: old grooves, from: 100 mm, to: 108 mm, feed: 0.10 mm/rev }]\n\nzones:";
    let output =
        bench.change("job.yaml", "zones:", rings).run(&["sheet", "job.yaml", "--trial", "-o", "trial.html"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let page = fs::read_to_string(bench.path("trial.html")).expect("written");
    assert!(page.contains("OLD GROOVES") || page.contains("old grooves"));
    assert!(!page.contains("ROUGH PASS"), "the job's own passes are no part of it");
}
