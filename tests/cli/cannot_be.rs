//! What a job says that cannot be, and what a dead sensor writes: told in words, nothing written.

use super::journeys::{Bench, text};
use std::fs;

const DAMAGE: &str = "{ from: 203 mm, to: 214 mm, depth: 0.35 mm, kind: scrape }";
const TYRE: &str = "x: [226 mm, 320 mm], z: [-120 mm, 2 mm]";
const LINES: [&str; 3] = ["scan-000.csv", "scan-120.csv", "scan-240.csv"];

/// A scan with every reading changed.
fn rewrite(bench: &Bench, scan: &str, z: impl Fn(f64, f64) -> f64) {
    let old = fs::read_to_string(bench.path(scan)).expect("a scan");
    let mut new = String::from("x,z\n");
    for line in old.lines() {
        let Some((x, z_was)) = line.split_once(',') else { continue };
        let (Ok(x), Ok(z_was)) = (x.parse::<f64>(), z_was.parse::<f64>()) else { continue };
        let line = format!("{x:.4},{:.4}\n", z(x, z_was));
        new += &line;
    }
    bench.put(scan, &new);
}

#[test]
fn a_dead_sensor_is_said_to_be_dead() {
    for value in [0.0, -2.5] {
        for lines in [&LINES[..], &LINES[1..2]] {
            let bench = Bench::new();
            for scan in lines {
                rewrite(&bench, scan, |_, _| value);
            }
            bench.turned_away(1, &["the sensor is dead", lines[0]]);
            let survey = bench.run(&["survey", "job.yaml"]);
            assert!(
                text(&survey.stdout).to_lowercase().contains("measure again"),
                "{}",
                text(&survey.stdout)
            );
        }
    }
}

#[test]
fn a_ball_that_cannot_have_made_the_traces_is_told() {
    let bench = Bench::new();
    bench.change("job.yaml", "sensor: spot", "sensor: ball 2000 mm");
    bench.turned_away(1, &["No ball of 2000 mm can have made these traces", "the largest ball that could"]);
}

#[test]
fn what_is_listed_beyond_the_measured_radii_is_refused_with_its_place() {
    let diameters = "{ from: 406 mm, to: 428 mm, depth: 0.35 mm, kind: scrape }";
    let beyond = "{ from: 500 mm, to: 510 mm, depth: 0.35 mm, kind: scrape }";
    for (new, words) in [
        (diameters, ["`damage` from 406 mm to 428 mm", "a diameter? Write the radius"]),
        (beyond, ["`damage` from 500 mm to 510 mm", "correct it (a radius from the axis)"]),
        (
            "{ from: 20 mm, to: 30 mm, depth: 0.35 mm, kind: scrape }",
            ["from 20 mm to 30 mm", "radii that were"],
        ),
    ] {
        let bench = Bench::new();
        bench.change("job.yaml", DAMAGE, new);
        let line = fs::read_to_string(bench.path("job.yaml")).expect("a job");
        let line = line.lines().position(|l| l.contains(new)).expect("it stands there") + 1;
        bench.turned_away(2, &[words[0], words[1], &format!("job.yaml:{line}:")]);
    }
    for (list, words) in [
        ("no_metal: [{ from: 300 mm, to: 310 mm }]", "`no_metal` from 300 mm"),
        ("mend: [{ from: 300 mm, to: 310 mm }]", "`mend` from 300 mm"),
        ("leave: [{ from: 472 mm, to: 480 mm }]", "`leave` from 472 mm"),
        ("no_metal: [{ from: 60 mm, to: 400 mm }]", "`no_metal` over every reading of the zone"),
        (
            "turn: [{ at: 428 mm, every: 45 deg, reads: [0 mm, 0.01 mm, 0.02 mm, 0.01 mm, 0 mm, 0.01 mm, 0.02 mm, 0.01 mm] }]",
            "readings of `turn` at 428 mm",
        ),
    ] {
        let bench = Bench::new();
        let zone = "  - { from: 70 mm, to: 216 mm }\n";
        bench.change("job.yaml", zone, &format!("{zone}\n{list}\n"));
        bench.turned_away(2, &[words, "job.yaml:"]);
    }
}

/// A crack is no reason to list it elsewhere: the wheel is not cut wherever it is.
#[test]
fn a_crack_beyond_the_lines_still_stops_the_wheel() {
    let bench = Bench::new();
    bench.change("job.yaml", DAMAGE, "{ from: 300 mm, to: 310 mm, kind: crack }");
    bench.turned_away(1, &["crack"]);
}

/// What is listed beyond the zones stays, whole or in part: in the survey and in the account of `write`.
#[test]
fn listed_damage_outside_the_zones_is_told() {
    for (zone, damage, words) in [
        (200, "from: 203 mm, to: 214 mm", "from 203.0 mm to 214.0 mm, outside its zones"),
        (216, "from: 212 mm, to: 217.8 mm", "what lies from 216.0 mm to 217.8 mm is outside its zones"),
    ] {
        let bench = Bench::new();
        bench.change("job.yaml", "{ from: 70 mm, to: 216 mm }", &format!("{{ from: 70 mm, to: {zone} mm }}"));
        bench.change("job.yaml", "from: 203 mm, to: 214 mm", damage);
        let survey = bench.run(&["survey", "job.yaml"]);
        // Lines are folded at the page's width.
        let said = text(&survey.stdout).split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(words) && said.contains("!outside the zones"), "{said}");
        let write = bench.run(&["write", "job.yaml", "-o", "a.nc"]);
        let account = format!("{}{}", text(&write.stdout), text(&write.stderr));
        let account = account.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(account.contains("warning") && account.contains("outside its zones"), "{account}");
    }
    // As long as the zone, as well as a person measures.
    let bench = Bench::new();
    bench.change("job.yaml", "from: 203 mm, to: 214 mm", "from: 203 mm, to: 216.6 mm");
    let said = bench.run(&["survey", "job.yaml"]);
    assert!(!text(&said.stdout).contains("outside its zones"));
}

#[test]
fn a_tyre_that_is_nowhere_near_the_rim_is_refused() {
    for (new, words) in [
        ("x: [452 mm, 640 mm], z: [-120 mm, 2 mm]", "half of it, if that is a diameter"),
        ("x: [-320 mm, -226 mm], z: [-120 mm, 2 mm]", "on the far side of the axis"),
        ("x: [226 mm, 320 mm], z: [-500 mm, -300 mm]", "where no tool comes"),
        ("x: [226 mm, 226.001 mm], z: [-120 mm, 2 mm]", "wide in x"),
        ("x: [113 mm, 160 mm], z: [-120 mm, -50 mm]", "begins at the rim"),
        ("x: [350 mm, 390 mm], z: [-120 mm, 2 mm]", "begins at the rim"),
    ] {
        let bench = Bench::new();
        bench.change("job.yaml", TYRE, new);
        bench.turned_away(2, &[words, "job.yaml:"]);
    }
    let bench = Bench::new();
    bench.change(
        "shop.yaml",
        "tools:\n",
        "keep_out:\n  - { name: jaws, x: [600 mm, 700 mm], z: [0 mm, 8 mm] }\n\ntools:\n",
    );
    bench.turned_away(2, &["the keep-out `jaws`", "shop.yaml:"]);
}

#[test]
fn a_feed_that_only_rubs_and_speeds_that_cannot_be_are_refused_when_read() {
    for (file, old, new, words) in [
        ("shop.yaml", "feed: 0.40 mm/rev", "feed: 0.004 mm/rev", "below that an edge only rubs"),
        ("job.yaml", "speed_limit: 650 rpm", "speed_limit: 1 rpm", "slower than that no wheel is cut"),
        ("shop.yaml", "spindle_limit: 1400 rpm", "spindle_limit: 1 rpm", "slower than that no wheel is cut"),
        (
            "shop.yaml",
            "clearance: 3 mm",
            "spin_first: 700 rpm\n  clearance: 3 mm",
            "this wheel may turn 650 rpm",
        ),
    ] {
        let bench = Bench::new();
        bench.change(file, old, new);
        bench.turned_away(2, &[words, &format!("{file}:")]);
    }
}

/// Names, program text and arguments reach the terminal with nothing in them that could steer it, in JSON too.
#[test]
fn nothing_raw_reaches_the_terminal() {
    let raw = ['\u{9B}', '\u{85}', '\u{202E}', '\u{2062}', '\u{180E}', '\u{E0041}'];
    let bench = Bench::new();
    let name: String = raw.iter().collect();
    let escaped = raw.iter().map(|c| format!("\\U{:08X}", u32::from(*c))).collect::<Vec<_>>().concat();
    bench.change("job.yaml", "Demo 7, rear right", &escaped);
    bench.change("job.yaml", "17 x 7, ten spokes", &escaped);
    assert!(bench.run(&["write", "job.yaml", "-o", "out.nc"]).status.success());
    let program = fs::read_to_string(bench.path("out.nc")).expect("written");
    bench.put("other.nc", &program.replacen("WHEEL", &format!("WHEEL {name}"), 1));
    for command in [
        &["survey", "job.yaml"][..],
        &["survey", "job.yaml", "--format", "json"],
        &["write", "job.yaml", "--format", "json", "-o", "out.nc"],
        &["proof", "other.nc", "--job", "job.yaml"],
        &["proof", "other.nc", "--job", "job.yaml", "--format", "json"],
        &[&name],
        &["survey", &format!("--{name}")],
        &["completions", &name],
        &["ledger", &name],
    ] {
        let output = bench.run(command);
        let said = text(&output.stdout) + &text(&output.stderr);
        assert!(!said.is_empty() && !said.contains(raw), "{command:?}: {}", said.escape_unicode());
        if command.contains(&"json") {
            let value: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
            assert!(command[0] != "survey" || value["job"] == name.as_str(), "{value}");
        }
    }
}
