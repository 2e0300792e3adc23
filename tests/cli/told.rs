//! What a person is told at once: every fault beside every blank, where the shop file was found, what was written.

use super::journeys::{Bench, text};
use std::fs;
use std::process::Command;

/// Blanks hide no fault, and a key that stands twice hides no blank: all of both files is told in one run, faults first.
#[test]
fn faults_and_blanks_are_told_in_one_run() {
    let bench = Bench::new();
    bench
        .change("job.yaml", "speed_limit: 650 rpm", "speed_limit: ____ rpm")
        .change("job.yaml", "taken: 0.20 mm", "taken: 0.20")
        .change(
            "job.yaml",
            "  material: cast aluminium\n",
            "  material: cast aluminium\n  tyre: removed\n  colour: grey\n",
        )
        .change("job.yaml", "x: [226 mm, 320 mm]", "x: [226 mm, ____ mm]")
        .change("shop.yaml", "  clearance: 3 mm ", "  clearance: ____ mm ")
        .change("shop.yaml", "  rapid: 8 m/min", "  rapid: 8 m/min\n  rapid: 9 m/min")
        .change("shop.yaml", "  x_words: diameter", "  x_words: diametre");
    let run = bench.run(&["write", "job.yaml"]);
    let said = text(&run.stderr);
    assert_eq!(run.status.code(), Some(2), "{said}");
    assert!(said.contains("8 faults in the files, 3 of them blanks that are left to fill in"), "{said}");
    let places: Vec<usize> = [
        "`taken`",
        "`colour`",
        "`tyre`",
        "`rapid`",
        "`x_words`",
        "`speed_limit` is a blank",
        "`clearance` is a blank",
    ]
    .iter()
    .map(|piece| said.find(piece).unwrap_or_else(|| panic!("no {piece} in\n{said}")))
    .collect();
    assert!(places.iter().take(5).max() < places.iter().skip(5).min(), "{said}");
    // Nothing is told of what hangs on a blank: filled in, the blank brings nothing new.
    assert!(!said.contains("____"), "{said}");
}

/// A blank in the name of a sensor asks for no more than that.
#[test]
fn a_sensor_that_is_not_named_yet_misses_nothing_else() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    let sensor =
        "{ kind: spot, x: radius, unit: mm, columns: [x, z], z: height, x_offset: 0 mm, longest_gap: 2 mm }";
    bench.put("shop.yaml", &format!("{shop}\nsensors:\n  a: {sensor}\n  b: {sensor}\n"));
    let job = fs::read_to_string(bench.path("job.yaml")).expect("it is there");
    let (before, rest) = job.split_once("  sensor: spot").expect("the keys begin");
    let (_, after) = rest.split_once("  lines:").expect("the lines begin");
    bench.put("job.yaml", &format!("{before}  sensor: ____\n  lines:{after}"));
    let said = text(&bench.run(&["write", "job.yaml"]).stderr);
    assert!(said.contains("`sensor` is a blank") && !said.contains("without"), "{said}");
}

/// A shop file is found in the folders above the job, as far as the home folder and no farther; `new` says which it took.
#[test]
fn a_shop_file_is_looked_for_as_far_as_the_home_folder() {
    let bench = Bench::new();
    for folder in ["home/jobs/wheel", "other"] {
        fs::create_dir_all(bench.path(folder)).expect("a folder");
    }
    let run = |home: &str| {
        fs::remove_file(bench.path("home/jobs/wheel/job.yaml")).ok();
        fs::remove_file(bench.path("home/jobs/wheel/shop.yaml")).ok();
        let mut command = Command::new(env!("CARGO_BIN_EXE_facewright"));
        command.current_dir(bench.path("home/jobs/wheel")).env("HOME", bench.path(home));
        let out = command.args(["new", "../../../scan-000.csv"]).output().expect("it runs");
        text(&out.stdout) + &text(&out.stderr)
    };
    let found = |said: &str, file: &str| {
        let line = said.lines().find(|l| l.starts_with("shop  ")).unwrap_or_default().to_owned();
        line.contains(&bench.path(file).display().to_string())
            && line.ends_with("taken for what the job leaves out")
    };
    // The bench has a shop file, which is above this home.
    let said = run("home");
    assert!(said.contains("written  shop.yaml") && !said.contains("shop     "), "{said}");
    // A job elsewhere than in the home folder is not held up by it.
    let said = run("other");
    assert!(found(&said, "shop.yaml"), "{said}");
    fs::copy(bench.path("shop.yaml"), bench.path("home/shop.yaml")).expect("copied");
    let said = run("home");
    assert!(found(&said, "home/shop.yaml"), "{said}");
}

/// A page that goes to a file is named, and what it says of the waviness is what the account says.
#[test]
fn a_page_that_was_written_is_named_and_agrees_with_the_account() {
    let bench = Bench::new();
    let run = bench.run(&["sheet", "job.yaml", "-o", "page.html"]);
    assert_eq!(text(&run.stdout), "written  page.html\n", "{}", text(&run.stderr));
    let page = fs::read_to_string(bench.path("page.html")).expect("written");
    let account = text(&bench.run(&["write", "job.yaml", "-o", "out.nc"]).stdout);
    let line = account.lines().find(|l| l.starts_with("waviness ")).expect("a line of it");
    let (sum, parts) =
        line.trim_start_matches("waviness ").split_once(" between 0.8 mm and 8 mm").expect("its parts");
    let parts = parts.split(';').next().unwrap_or_default();
    let shown = format!("{sum}{parts}").replace(" um", " µm");
    assert!(page.contains(&shown), "no `{shown}` in the page");
}

/// What the account says of proving a part alone is what its proof needs, at a control without comments too.
#[test]
fn each_part_is_proved_alone_as_its_account_says() {
    for comments in ["brackets", "none"] {
        let bench = Bench::new();
        bench.change("shop.yaml", "largest_program: 64 kB", "largest_program: 7 kB").change(
            "shop.yaml",
            "\ntools:",
            &format!("  comments: {comments}\n\ntools:"),
        );
        let account = text(&bench.run(&["write", "job.yaml", "-o", "x.nc"]).stdout);
        let mut parts = 0;
        for line in account.lines().filter(|l| l.starts_with("written")) {
            let file = line.split_whitespace().nth(1).expect("a file");
            let (_, alone) = line.split_once("to prove it alone: ").unwrap_or_else(|| panic!("{line}"));
            let more: Vec<&str> = alone.split(' ').collect();
            let run = bench.run(&[["proof", file, "--job", "job.yaml"].as_slice(), &more].concat());
            let said = text(&run.stdout);
            assert!(said.starts_with("SOUND"), "{line}\n{said}");
            let deep = more.iter().any(|m| m.starts_with("--goes-on="));
            assert_eq!(deep, comments == "none" && more.iter().any(|m| m.starts_with("--goes-on")), "{line}");
            parts += 1;
        }
        assert!(parts > 2, "{account}");
        // What the program says itself is not said beside it.
        let first = account.split_whitespace().find(|word| word.starts_with("x-part-1-")).expect("a file");
        let run = bench.run(&["proof", first, "--job", "job.yaml", "--rest-passes", "1"]);
        let refused = text(&run.stderr);
        assert_eq!(refused.contains("--rest-passes"), comments == "brackets", "{refused}");
    }
}
