//! The first hour: a job made from scans, its blanks told and filled, help that runs.

use super::journeys::{Bench, text};
use std::fs;
use std::path::Path;
use std::process::Command;

/// What a person fills in where the demo's scans say nothing.
const ANSWERS: &[(&str, &str)] = &[
    ("job: ____", "job: made new"),
    ("speed_limit: ____", "speed_limit: 650"),
    ("limit: ____", "limit: 1.0"),
    ("taken: ____", "taken: 0.20"),
    ("run_out_limit: ____", "run_out_limit: 0.30"),
    ("tyre: ____", "tyre: mounted"),
    ("sensor: ____", "sensor: spot"),
    ("x_offset: ____", "x_offset: 0"),
    ("longest_gap: ____", "longest_gap: 2"),
    ("x: [____ mm, ____ mm], z: [____ mm, ____ mm]", "x: [226 mm, 320 mm], z: [-120 mm, 2 mm]"),
];

/// A job made from the demo's scans beside the demo's shop: blanks first, then a program.
#[test]
fn a_new_job_names_its_blanks_and_then_cuts() {
    let bench = Bench::new();
    let made = bench.run(&["new", "scan-000.csv", "scan-120.csv", "scan-240.csv", "-o", "new.yaml"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
    insta::assert_snapshot!(job);
    let again = bench.run(&["new", "scan-000.csv", "-o", "new.yaml"]);
    assert_eq!(again.status.code(), Some(2));
    assert_eq!(fs::read_to_string(bench.path("new.yaml")).expect("kept"), job);

    let refused = bench.run(&["write", "new.yaml", "-o", "new.nc"]);
    let said = text(&refused.stderr);
    assert_eq!(refused.status.code(), Some(2));
    for (number, line) in job.lines().enumerate() {
        let blank = line.split('#').next().is_some_and(|l| l.contains("____"));
        let told = said.contains(&format!("new.yaml:{}:", number + 1));
        assert_eq!(blank, told, "line {}: {line}\n{said}", number + 1);
    }
    let mut filled = job;
    for (blank, value) in ANSWERS {
        assert!(filled.contains(blank), "{blank}");
        filled = filled.replacen(blank, value, 1);
    }
    bench.put("new.yaml", &filled);
    let written = bench.run(&["write", "new.yaml", "-o", "new.nc"]);
    assert_eq!(written.status.code(), Some(0), "{}{filled}", text(&written.stderr));
}

/// Where there is no shop file, one to fill in is written too.
#[test]
fn a_new_job_without_a_shop_gets_one_to_fill_in() {
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    let made = bench.run(&["new", "scan-000.csv", "-o", "new.yaml"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    insta::assert_snapshot!(fs::read_to_string(bench.path("shop.yaml")).expect("written"));
    let refused = bench.run(&["write", "new.yaml"]);
    let said = text(&refused.stderr);
    assert!(
        refused.status.code() == Some(2) && said.contains("shop.yaml:") && said.contains("new.yaml:"),
        "{said}"
    );
    let alone = bench.run(&["new", "--shop", "-o", "other.yaml"]);
    assert_eq!(alone.status.code(), Some(0));
    let alone = fs::read_to_string(bench.path("other.yaml")).expect("written");
    assert!(alone.contains("kind: ____") && alone.contains("columns: [____]"), "{alone}");
}

/// Scans of other layouts: what the file says is taken over, what it does not say is left open.
#[test]
fn what_a_scan_says_of_itself_is_guessed_and_nothing_else() {
    let bench = Bench::new();
    for (name, scan, says, open) in [
        (
            "a 30.csv",
            "Dia. [mm];Depth [um]\n161;1250\n162;-2\n163;3\n",
            &["columns: [x, z]", "x: diameter", "unit: mm", "z_unit: um", "z: distance", "at: 30 deg"][..],
            &[][..],
        ),
        (
            "b.csv",
            "80,5;-1,25\n81;0,002\n82;1\n",
            &["columns: [x, z]"],
            &[
                "x: ____",
                "unit: ____",
                "z: ____",
                "at: ____ deg",
                "radius or diameter? x goes from 80.5 to 82",
                "z is -1.25 at x 80.5 and 1 at x 82: height if the wheel stands out farther from the chuck at x 82, distance if at x 80.5",
            ],
        ),
        (
            "c.csv",
            "time,height,radius\n0.1,-1.25,80.5\n0.2,0.1,81\n",
            &["columns: [other, z, x]", "x: radius", "z: height"],
            &["unit: ____"],
        ),
        ("d.csv", "1 80.5 -1.25\n2 81 0.1\n", &[], &["columns: ____"]),
        (
            "many 30.csv",
            "Line;Radius (in);Height (in)\n1;4.22;0\n1;5;0.1\n1;7;0.2\nb: c;4;0\nb: c;5;0.1\nb: c;6.98;0.2\n",
            &["columns: [trace, x, z]", "unit: inch", "- { from: 109 mm, to: 176 mm }"],
            &[
                "- { file: many 30.csv, trace: 1, at: ____ deg }",
                "- { file: many 30.csv, trace: \"b: c\", at: ____ deg }",
            ],
        ),
    ] {
        bench.put(name, scan);
        let made = bench.run(&["new", name, "-o", "-"]);
        let job = text(&made.stdout);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        for piece in says.iter().chain(open) {
            assert!(job.contains(piece), "{name}: no `{piece}` in\n{job}");
        }
    }
    bench.put("e.xlsx", "PK\u{3}\u{4}");
    let refused = bench.run(&["new", "e.xlsx", "-o", "-"]);
    assert!(refused.status.code() == Some(2) && text(&refused.stderr).contains("spreadsheet"));
}

/// What a shop or a heading says of the heights is shown with both ends of the data, and with what the numbers say against it.
#[test]
fn a_word_for_the_heights_is_shown_with_what_speaks_against_it() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    let says = |word: &str, scan: &str| {
        bench.put("shop.yaml", &format!("{shop}\nsensors: {{ probe: {{ kind: spot, z: {word} }} }}\n"));
        bench.put("s.csv", scan);
        text(&bench.run(&["new", "s.csv", "-o", "-"]).stdout)
    };
    let near = "80.5;-1.25\n81;0.002\n120;0.25\n";
    let far = "80.5;41.25\n81;40.002\n120;39.75\n";
    let against = "THE SCANS SPEAK AGAINST IT";
    for (word, scan, doubted) in
        [("height", near, false), ("distance", near, true), ("height", far, true), ("distance", far, false)]
    {
        let job = says(word, scan);
        let line = job.lines().find(|l| l.contains("the shop's sensor says")).unwrap_or_default();
        assert!(line.contains(&format!("`z: {word}`")) && line.contains("at x 120"), "{job}");
        assert_eq!(line.contains(against), doubted, "{line}");
        assert!(!job.contains("  z: "), "{job}");
    }
    bench.put("shop.yaml", &shop);
    bench.put("h.csv", &["Radius (mm);Distance (mm)\n", near].concat());
    let job = text(&bench.run(&["new", "h.csv", "-o", "-"]).stdout);
    let line = job.lines().find(|l| l.contains("z: distance")).unwrap_or_default();
    assert!(line.contains("`Distance (mm)`") && line.contains(against), "{job}");
}

/// One file of several lines, told apart by a column of angles, with a header of as many words as columns: the angles come from the
/// column, with a shop that names it, reads over it or says nothing.
#[test]
fn angles_come_from_the_column_that_holds_them() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    let rows = |angle: u32, z: f64| {
        let row = |i: u8| format!("{angle} {} {}\n", 6.3 + 1.5 * f64::from(i), z + f64::from(i));
        (0..9).map(row).collect::<Vec<_>>().concat()
    };
    let header =
        "Date: 11/26/2026 16:02\nRange: 10 20\nRate: 200 Hz\nAngle (deg)  Dia (in)  Distance (mil)\n";
    bench.put("wheel18_all.txt", &[header, &rows(0, 41.0), &rows(120, 42.0), &rows(240, 43.0)].concat());
    for sensor in [
        "",
        "columns: [trace, x, z], x: diameter, unit: inch, z_unit: mil, ",
        "columns: [other, x, z], unit: inch, z_unit: mil, ",
    ] {
        bench.put("shop.yaml", &format!("{shop}\nsensors: {{ probe: {{ {sensor}kind: spot }} }}\n"));
        let made = bench.run(&["new", "wheel18_all.txt", "-o", "-"]);
        let job = text(&made.stdout);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        for angle in ["0", "120", "240"] {
            let line = format!("- {{ file: wheel18_all.txt, trace: {angle}, at: {angle} deg }}");
            assert!(job.contains(&line), "{job}");
        }
        assert_eq!(job.contains("columns: [trace, x, z]"), !sensor.contains("trace"), "{job}");
        assert!(job.contains("from: 82 mm") && job.contains("to: 231 mm"), "{job}");
        bench.put(
            "shop.yaml",
            &fs::read_to_string(bench.path("shop.yaml")).unwrap().replace("units: mm", "units: inch"),
        );
        let job = text(&bench.run(&["new", "wheel18_all.txt", "-o", "-"]).stdout);
        assert!(
            job.contains("from: 3.19 in") && job.contains("to: 9.11 in") && !job.contains(" mm,"),
            "{job}"
        );
    }
}

/// A scan that says nothing of itself is read as the shop's sensor says: the ring to cut is guessed in the job's radii. A name that
/// would be read otherwise bare stands in quotation marks.
#[test]
fn what_the_sensor_says_holds_for_a_scan_that_is_silent() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    for (unit, from, to) in [("inch", 82, 231), ("thou", 82, 231), ("mm", 5, 8)] {
        let scale = if unit == "thou" { 1000.0 } else { 1.0 };
        let row = |x: f64| format!("1 {} 0.1 7\n", x * scale);
        bench.put("@s.txt", &[6.3, 12.0, 18.3].map(row).concat());
        bench.put(
            "shop.yaml",
            &format!("{shop}\nsensors: {{ probe: {{ kind: spot, columns: [other, x, z, other], x: diameter, unit: {unit} }} }}\n"),
        );
        let made = bench.run(&["new", "@s.txt", "-o", "-"]);
        let job = text(&made.stdout);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        assert!(job.contains(&format!("- {{ from: {from} mm, to: {to} mm }}")), "{unit}: {job}");
        assert!(job.contains("{ file: \"@s.txt\", at: ____ deg }"), "{job}");
    }
}

/// A unit that is misspelt is told once, with the units that there are, and none is put forward: it would be another size.
#[test]
fn a_unit_that_is_not_known_is_told_once_and_none_is_guessed() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    bench.put(
        "shop.yaml",
        &format!("{shop}\nsensors: {{ probe: {{ kind: spot, unit: mm, z_unit: milli }} }}\n"),
    );
    bench.change("job.yaml", "unit: mm", "# no unit");
    let said = text(&bench.run(&["survey", "job.yaml"]).stderr);
    assert_eq!(said.matches("milli").count(), 2, "{said}");
    assert!(said.contains("`mil`") && !said.contains("if that is meant"), "{said}");
}

/// The shop file that is written beside a job asks for the same, and in the scans' unit.
#[test]
fn a_shop_file_to_fill_in_asks_with_what_the_scans_hold() {
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    bench.put("s.csv", "x (in);z (in)\n4;-0.125\n4.5;0.0002\n7;0.025\n");
    let made = bench.run(&["new", "s.csv", "-o", "new.yaml"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("written");
    let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
    for piece in [
        "radius or diameter? x goes from 4 to 7",
        "z is -0.125 at x 4 and 0.025 at x 7",
        "clearance: ____ in",
        "rapid: ____ in/min",
        "from the scans' zero (not the machine's)",
    ] {
        assert!(shop.contains(piece), "no `{piece}` in\n{shop}");
    }
    assert!(job.contains("limit: ____ in") && !job.contains(" mm"), "{job}");
    // Each blank is told with its line as before.
    let said = text(&bench.run(&["write", "new.yaml"]).stderr);
    assert!(said.contains("`z` is a blank") && said.contains("`x` is a blank"), "{said}");
}

/// A fault of the columns names the line of the scan, the line of the job that names the scan, and where the columns are named.
#[test]
fn a_fault_of_the_columns_names_all_its_places() {
    let bench = Bench::new();
    let line_of = |file: &str, piece: &str| {
        let text = fs::read_to_string(bench.path(file)).expect("it is there");
        text.lines().position(|l| l.contains(piece)).expect(piece) + 1
    };
    let scan = fs::read_to_string(bench.path("scan-000.csv")).expect("it is there");
    let (columns, named) = (line_of("job.yaml", "columns:"), line_of("job.yaml", "scan-000.csv"));
    let first =
        scan.lines().position(|l| l.starts_with(|c: char| c.is_ascii_digit())).expect("a reading") + 1;
    // A column more; one place only; traces that a column which is read over would tell apart.
    let more = scan.lines().fold(String::new(), |all, line| all + line + ",7\n");
    let still = "80,1\n80,2\n80,3\n";
    let traces = "80,1,a\n85,2,a\n90,3,a\n80,1,b\n85,2,b\n90,3,b\n";
    for (scan, columns_are, line) in
        [(more.as_str(), "[x, z]", first), (still, "[x, z]", 1), (traces, "[x, z, other]", 4)]
    {
        bench.put("scan-000.csv", scan);
        bench.change("job.yaml", "columns: [x, z]", &format!("columns: {columns_are}"));
        let refused = bench.run(&["survey", "job.yaml"]);
        bench.change("job.yaml", &format!("columns: {columns_are}"), "columns: [x, z]");
        let said = text(&refused.stderr);
        assert_eq!(refused.status.code(), Some(2), "{said}");
        for piece in [
            format!("scan-000.csv:{line}"),
            format!("job.yaml:{named}\n"),
            format!("`columns` in: job.yaml:{columns}"),
        ] {
            assert!(said.contains(&piece), "no `{piece}` in\n{said}");
        }
    }
}

/// Travel and park that are counted from the machine's own zero cannot hold the face: that is said with both zeros.
#[test]
fn travel_and_park_that_cannot_hold_the_face_are_told() {
    let bench = Bench::new();
    for (from, to, piece) in [
        ("z: [-150 mm, 400 mm]", "z: [50 mm, 400 mm]", "the machine's travel of z, 50 mm to 400 mm"),
        ("z: 200 mm }", "z: -100 mm }", "the park stands lower, at z -100 mm"),
        ("z: 200 mm }", "z: 600 mm }", "found `600 mm`"),
    ] {
        bench.change("shop.yaml", from, to);
        let refused = bench.run(&["survey", "job.yaml"]);
        bench.change("shop.yaml", to, from);
        let said = text(&refused.stderr);
        assert_eq!(refused.status.code(), Some(2), "{said}");
        assert!(said.contains(piece) && said.contains("scans' zero"), "no `{piece}` in\n{said}");
    }
}

/// Every example that the help shows runs on the demo.
#[test]
fn every_example_of_the_help_runs() {
    let program = Path::new(env!("CARGO_BIN_EXE_facewright"));
    let path = std::env::var("PATH").unwrap_or_default();
    let path = format!("{}:{path}", program.parent().expect("a folder").display());
    let help = |name: &str| Command::new(program).args([name, "--help"]).output().expect("it runs");
    let names = [
        "completions",
        "explain",
        "ledger",
        "manual",
        "new",
        "proof",
        "schema",
        "sheet",
        "survey",
        "touch",
        "write",
    ];
    for name in names {
        let shown = text(&help(name).stdout);
        let examples: Vec<&str> = shown
            .split("Example")
            .nth(1)
            .unwrap_or_default()
            .lines()
            .filter(|l| l.starts_with("  facewright "))
            .collect();
        assert!(!examples.is_empty(), "{name} has no example");
        // What an earlier build wrote is not replaced, so it goes first.
        let script = format!("rm -f {}/help-* && ", env!("CARGO_TARGET_TMPDIR"))
            + &examples
                .join(" && ")
                .replace("| man -l -", "")
                .replace("-o target/", &format!("-o {}/help-", env!("CARGO_TARGET_TMPDIR")))
                .replace("proof target/", &format!("proof {}/help-", env!("CARGO_TARGET_TMPDIR")));
        let ran = Command::new("bash").args(["-c", &script]).env("PATH", &path).output().expect("bash runs");
        assert!(ran.status.success(), "{script}: {}", text(&ran.stderr));
    }
}

/// What `write` did as JSON: the program in it where no file is named, the file's name where one is.
#[test]
fn what_was_written_can_be_read_by_a_script() {
    let bench = Bench::new();
    let read = |arguments: &[&str]| -> serde_json::Value {
        let ran = bench.run(arguments);
        assert_eq!(ran.status.code(), Some(0), "{}", text(&ran.stderr));
        serde_json::from_slice(&ran.stdout).expect("JSON")
    };
    let whole = read(&["write", "job.yaml", "--format", "json"]);
    let program = whole["programs"][0]["text"].as_str().expect("the program").to_owned();
    assert_eq!(program.as_bytes(), bench.run(&["write", "job.yaml", "-o", "-"]).stdout);
    let named = read(&["write", "job.yaml", "--format", "json", "-o", "out.nc"]);
    assert_eq!(named["programs"][0]["file"], "out.nc");
    assert_eq!(fs::read_to_string(bench.path("out.nc")).expect("written"), program);
    let depth: f64 =
        named["passes"].as_array().expect("passes").iter().filter_map(|p| p["depth_mm"].as_f64()).sum();
    assert!((depth - named["removed_mm"].as_f64().expect("a length")).abs() < 2e-3, "{named}");
    assert_eq!(named["programs"][0]["proof"]["verdict"], "sound");
    // What stood off before is counted from the last measurement, as `--already` is: nothing, right after it.
    let again = read(&["write", "again.yaml", "--format", "json"]);
    assert_eq!(again["programs"][0]["already_mm"], 0.0);
}

/// Quiet leaves out all but what a person must see; verbose adds the proof.
#[test]
fn an_account_is_as_long_as_it_is_asked_for() {
    let bench = Bench::new();
    let said = |more: &str| text(&bench.run(&["write", "job.yaml", "-o", "out.nc", more]).stdout);
    let words = |text: &str| {
        text.lines()
            .filter_map(|l| l.split(' ').next().map(str::to_owned))
            .collect::<std::collections::BTreeSet<_>>()
    };
    let quiet = said("--quiet");
    assert!(words(&quiet).iter().all(|w| ["warning", "caution", "written"].contains(&w.as_str())), "{quiet}");
    let usual = said("--force");
    assert_eq!(usual.matches("\nwarning").count(), quiet.matches("warning").count());
    assert!(said("-v").contains("looked at"));
}

/// The schema is JSON, and says of every key what the table says.
#[test]
fn the_schemas_know_every_key() {
    let bench = Bench::new();
    for (file, key) in [("job", "longest_gap"), ("shop", "spindle_limit_word")] {
        let printed = bench.run(&["schema", file]);
        let schema: serde_json::Value = serde_json::from_slice(&printed.stdout).expect("JSON");
        let groups = schema["$defs"].as_object().expect("groups");
        assert!(groups.values().any(|g| g["properties"][key]["description"].is_string()), "{file}: {key}");
        for (kind, group) in groups {
            assert_eq!(group["additionalProperties"], false, "{kind}");
        }
    }
}

/// A pipe that closes early is no fault of any kind.
#[test]
fn a_closed_pipe_is_no_panic() {
    let program = env!("CARGO_BIN_EXE_facewright");
    for command in
        ["write demo-data/job.yaml", "survey demo-data/job.yaml", "explain", "schema job", "--help"]
    {
        let script = format!(
            "set -o pipefail; '{program}' {command} 2>/dev/null | head -c 1 >/dev/null; echo ${{PIPESTATUS[0]}}"
        );
        let ran = Command::new("bash").args(["-c", &script]).output().expect("bash runs");
        assert_eq!(text(&ran.stdout).trim(), "0", "{command}");
    }
}
