//! A new job under a shop file, held against what the scans say of themselves.

use super::journeys::{Bench, text};
use std::fs;

/// A bench whose shop describes its only sensor so.
fn with_sensor(sensor: &str) -> Bench {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    bench.put("shop.yaml", &format!("{shop}\nsensors: {{ probe: {{ kind: spot, {sensor} }} }}\n"));
    bench
}

/// What a file of a job says before its comments, line by line.
fn written(job: &str) -> Vec<&str> {
    job.lines().map(|l| l.split('#').next().unwrap_or_default().trim()).collect()
}

/// Where the headings contradict the shop's only sensor, another one may have measured: nothing of the shop's is taken over, and which
/// sensor it was, where it stood and what gap it may bridge is asked. Where they agree, all of that is the shop's.
#[test]
fn headings_that_contradict_the_shops_sensor_ask_which_one_it_was() {
    for (sensor, header, keys, zone) in [
        (
            "columns: [x, z], x: diameter, unit: mm, z: height",
            "radius_mm;height_um",
            &["x: radius", "z_unit: um", "unit: mm", "columns: [x, z]"][..],
            "from: 81 mm, to: 119 mm",
        ),
        (
            "columns: [x, z], x: radius, unit: inch, z: height",
            "radius_mm;distance_mm",
            &["unit: mm", "z: distance"],
            "from: 81 mm, to: 119 mm",
        ),
        (
            "columns: [x, z], x: radius, unit: mm, z: distance",
            "radius_mm;height_mm",
            &["z: height"],
            "from: 81 mm, to: 119 mm",
        ),
        (
            "columns: [z, x], x: radius, unit: mm, z: height",
            "Radius (mm);Height (mm)",
            &["columns: [x, z]"],
            "from: 81 mm, to: 119 mm",
        ),
        // Of what these headings do not say, the shop's sensor says nothing either.
        (
            "columns: [x, z], x: diameter, unit: mm, z: distance",
            "x;height",
            &["x: ____", "unit: ____", "z: height"],
            "from: ____ mm, to: ____ mm",
        ),
        ("columns: [x, z], x: diameter, unit: mm, z: height", "x;z", &[], "from: 41 mm, to: 59 mm"),
        (
            "columns: [x, z], x: radius, unit: mm, z: height",
            "radius_mm;height_mm",
            &[],
            "from: 81 mm, to: 119 mm",
        ),
    ] {
        let bench = with_sensor(&format!("{sensor}, x_offset: 0.5 mm, longest_gap: 3 mm"));
        bench.put("s.csv", &format!("{header}\n80;1.5\n100;2\n120;1\n"));
        let made = bench.run(&["new", "s.csv", "-o", "new.yaml"]);
        assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
        let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
        let lines = written(&job);
        let asked = ["sensor: ____", "x_offset: ____ mm", "longest_gap: ____ mm"];
        for key in asked.iter().chain(keys) {
            let expected = !keys.is_empty();
            assert_eq!(lines.contains(key), expected, "{header}: `{key}` in\n{job}");
        }
        for key in ["x: ", "unit: ", "z_unit: ", "z: ", "columns: "] {
            let expected = if key == "z_unit: " { keys.contains(&"z_unit: um") } else { !keys.is_empty() };
            assert_eq!(lines.iter().any(|l| l.starts_with(key)), expected, "{header}: {key}\n{job}");
        }
        assert!(job.contains(zone), "{header}: {job}");
        let told = text(&made.stdout);
        assert!(told.contains("shop     shop.yaml"), "{told}");
        assert_eq!(told.contains("caution  "), !keys.is_empty(), "{told}");
        assert_eq!(job.contains("the shop's `probe` says 0.5 mm"), !keys.is_empty(), "{job}");
    }
}

/// The demo's job under a shop that describes its only sensor, with the keys of `measured` written so.
fn measured_so(keys: &str) -> Bench {
    let bench = with_sensor(
        "x: radius, unit: inch, columns: [x, z], z: height, x_offset: 0.03 in, longest_gap: 2 mm",
    );
    let job = fs::read_to_string(bench.path("job.yaml")).expect("it is there");
    let (before, rest) = job.split_once("  sensor: spot").expect("the keys begin");
    let (_, after) = rest.split_once("  lines:").expect("the lines begin");
    bench.put("job.yaml", &format!("{before}{keys}  lines:{after}"));
    bench
}

/// A job that reads its scans otherwise than the shop's only sensor writes them is refused with the places of both, until it names that
/// sensor, or says all of its own: the shop's offset was taken over unseen.
#[test]
fn a_job_that_contradicts_the_shops_sensor_says_which_one_it_was() {
    let refused = |keys: &str, pieces: &[&str]| {
        let bench = measured_so(keys);
        for command in ["write", "survey"] {
            let run = bench.run(&[command, "job.yaml"]);
            let said = text(&run.stderr);
            assert_eq!(run.status.code(), Some(2), "{said}");
            for piece in pieces {
                assert!(said.contains(piece), "{keys}: no `{piece}` in\n{said}");
            }
        }
    };
    refused(
        "  unit: mm\n",
        &[
            "job.yaml:16:9",
            "`unit: mm`, where the shop's only sensor says `unit: inch`, and no `sensor`",
            "`unit` in: shop.yaml:",
            "sensor: probe",
            "    x_offset: ____ ",
        ],
    );
    refused("  z: distance\n", &["`z: distance`, where the shop's only sensor says `z: height`"]);
    refused("  x: diameter\n", &["`x` in: shop.yaml:"]);
    refused("  columns: [z, x]\n", &["`columns` in: shop.yaml:"]);
    refused("  z_unit: um\n", &["`z_unit: um`, where the shop's only sensor says `unit: inch`"]);
    // The scans themselves contradict the shop's sensor: their line, and the line of the shop.
    refused("", &["scan-000.csv:3", "`unit` in: shop.yaml:", "`x_offset` above all"]);
    let own = "  sensor: spot\n  x: radius\n  unit: mm\n  columns: [x, z]\n  z: height\n  x_offset: 0 mm\n  longest_gap: 2 mm\n";
    for said in ["  unit: mm\n  sensor: probe\n", own] {
        let bench = measured_so(said);
        let run = bench.run(&["survey", "job.yaml"]);
        assert_eq!(run.status.code(), Some(0), "{said}: {}", text(&run.stderr));
    }
    // Columns that are read over or tell traces apart say nothing of the sensor.
    let bench = measured_so("  columns: [x, z, other]\n");
    assert!(!text(&bench.run(&["survey", "job.yaml"]).stderr).contains("and no `sensor`"));
}

/// A number in a name is an angle only where those of all files are spread over the turn.
#[test]
fn a_number_in_a_name_is_an_angle_only_beside_others() {
    let bench = Bench::new();
    let scan = "x;z\n80;1\n81;2\n82;1\n";
    let angles = |names: &[&str]| {
        for name in names {
            let above = if name.starts_with("said") { "Angle: 100\n" } else { "" };
            bench.put(name, &[above, scan].concat());
        }
        let job = text(&bench.run(&[&["new", "-o", "-"], names].concat()).stdout);
        let at = |line: &str| Some(line.split_once(", at: ")?.1.split_once(" deg")?.0.to_owned());
        job.lines().filter_map(at).collect::<Vec<_>>()
    };
    assert_eq!(angles(&["s-000.csv", "s-120.csv", "s-240.csv"]), ["0", "120", "240"]);
    assert_eq!(angles(&["0.csv", "q1.txt", "144.csv", "216.csv", "288.csv"]), ["____"; 5]);
    assert_eq!(angles(&["0.csv", "q.txt", "144.csv", "216.csv", "288.csv"]), ["____"; 5]);
    assert_eq!(angles(&["1.csv", "2.csv", "3.csv"]), ["____"; 3]);
    assert_eq!(angles(&["10.csv", "20.csv", "30.csv"]), ["____"; 3]);
    assert_eq!(angles(&["s-000.csv", "said.csv", "s-240.csv"]), ["0", "100", "240"]);
    assert_eq!(angles(&["q1.txt", "said.csv", "q2.csv"]), ["____", "100", "____"]);
}

/// A summary below the readings is no trace, and does not hide those that there are.
#[test]
fn a_summary_below_does_not_hide_the_traces() {
    let bench = Bench::new();
    let rows = |angle: u32| {
        (0..6).map(|i| format!("a,{},{},{angle}\n", 70 + 20 * i, i % 3)).collect::<Vec<_>>().concat()
    };
    let all = ["Name,Radius (mm),Height (mm),Angle (deg)\n", &[0, 120, 240].map(rows).concat()].concat();
    for below in ["min,70,-0.5,0\n", "mean,120.0,1,120\nmax,170,2,240\n"] {
        bench.put("all.csv", &[&all, below].concat());
        let job = text(&bench.run(&["new", "all.csv", "-o", "-"]).stdout);
        for angle in ["0", "120", "240"] {
            let line = format!("- {{ file: all.csv, trace: {angle}, at: {angle} deg }}");
            assert!(job.contains(&line), "{below}: {job}");
        }
    }
}

/// Traces that headings, empty lines or comments part are lines of the job, each with the angle that stands above it; what is written
/// so is read so.
#[test]
fn traces_that_lines_part_are_lines_of_the_job() {
    let bench = Bench::new();
    let scan = |angle: &str| {
        let text = fs::read_to_string(bench.path(&format!("scan-{angle}.csv"))).expect("it is there");
        let rows = text.lines().filter(|l| l.starts_with(|c: char| c.is_ascii_digit()));
        rows.map(|row| row.replace(',', "\t") + "\n").collect::<String>()
    };
    let file = |above: fn(usize, &str) -> String| {
        let all = ["000", "120", "240"].iter().enumerate();
        all.map(|(i, angle)| above(i + 1, angle) + &scan(angle)).collect::<String>()
    };
    let headed = |i: usize, angle: &str| {
        format!("Trace\tS{i}\nAngle\t{angle}\nDate\t2026-03-0{i}\nRadius (mm)\tHeight (mm)\n")
    };
    for (text, lines) in [
        (file(headed), [1, 2, 3].map(|i| format!("trace: S{i}, at: {}", 120 * (i - 1)))),
        (
            file(|_, angle| format!("# at {angle} deg\n")),
            [1, 2, 3].map(|i| format!("trace: {i}, at: {}", 120 * (i - 1))),
        ),
        (file(|i, _| "\n".repeat(i.min(2) - 1)), [1, 2, 3].map(|i| format!("trace: {i}, at: ____"))),
    ] {
        bench.put("all.txt", &text);
        fs::remove_file(bench.path("new.yaml")).ok();
        let made = bench.run(&["new", "all.txt", "-o", "new.yaml"]);
        assert_eq!(made.status.code(), Some(0), "{}", text_of(&made));
        let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
        for line in &lines {
            assert!(job.contains(&format!("- {{ file: all.txt, {line} deg }}")), "no `{line}` in\n{job}");
        }
        assert!(!job.contains('\u{FFFD}'), "{job}");
        let mut measured = fs::read_to_string(bench.path("job.yaml")).expect("it is there");
        for (i, angle) in ["000", "120", "240"].iter().enumerate() {
            let line = lines[i].replace("____", &(120 * i).to_string());
            measured = measured.replace(
                &format!("file: scan-{angle}.csv, at: {} deg", 120 * i),
                &format!("file: all.txt, {line} deg"),
            );
        }
        bench.put("traces.yaml", &measured);
        let run = bench.run(&["survey", "traces.yaml"]);
        assert_eq!(run.status.code(), Some(0), "{}", text_of(&run));
    }
}

/// All that a command says.
fn text_of(output: &std::process::Output) -> String {
    text(&output.stdout) + &text(&output.stderr)
}

/// A tab in a heading is shown, where a job's comment says what a guess was made of.
#[test]
fn a_tab_in_a_heading_is_readable_in_the_job() {
    let bench = Bench::new();
    bench.put("s.txt", "Angle\t30\nRadius (mm)\tHeight (mm)\n80\t1\n81\t2\n82\t1\n");
    let made = bench.run(&["new", "s.txt", "-o", "new.yaml"]);
    assert_eq!(made.status.code(), Some(0), "{}", text_of(&made));
    let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
    assert!(job.contains("`Angle 30`") && !job.contains(['\u{FFFD}', '\t']), "{job}");
}

/// What stands in a file before its comments.
fn bare(file: &str) -> String {
    file.lines().map(|l| l.split("  #").next().unwrap_or_default().to_owned() + "\n").collect()
}

/// A shop that counts inches is asked in inches, with examples in inches, by `--inch` or by its scans.
#[test]
fn an_inch_shop_is_asked_in_inches() {
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    bench.put("s.csv", "Dia. (in);Height (in)\n6.4;0\n8;0.1\n17;0.05\n");
    for arguments in [&["new", "--shop", "--inch", "-o", "-"][..], &["new", "--shop", "s.csv", "-o", "-"]] {
        let shop = text(&bench.run(arguments).stdout);
        let metric = shop.lines().filter(|l| {
            l.split_whitespace().any(|w| w.trim_end_matches(['.', ',', ';', ']']).ends_with("mm"))
        });
        let metric: Vec<&str> =
            metric.filter(|l| !l.contains("may be mixed") && !l.contains("unit")).collect();
        assert!(metric.is_empty(), "{arguments:?}: {metric:#?}");
        for piece in [
            "clearance: ____ in ",
            "feed_limit: ____ in/min",
            "resolution: ____ in ",
            "such as 0.0001 in",
            "rapid: ____ in/min",
        ] {
            assert!(shop.contains(piece), "{arguments:?}: no `{piece}` in\n{shop}");
        }
        assert_eq!(shop.contains("units: inch"), arguments.contains(&"--inch"));
        // Comments stand under each other.
        let machine: Vec<usize> = shop.lines().skip(3).take(8).filter_map(|l| l.find("  # ")).collect();
        assert!(machine.windows(2).all(|w| w[0] == w[1]) && machine.len() == 8, "{machine:?}");
    }
    // Where the tyre's heights count from is told in the shop's terms, whatever the scans are in.
    bench.put("d.csv", "Dia. (in);Depth (mil)\n6.4;0\n8;10\n17;50\n");
    let job = text(&bench.run(&["new", "d.csv", "--inch", "-o", "-"]).stdout);
    assert!(job.contains("the face stands at -0.05 in there at radius 8.50 in"), "{job}");
    let job = text(&bench.run(&["new", "scan-000.csv", "--inch", "-o", "-"]).stdout);
    assert!(job.contains("limit: ____ in") && !bare(&job).contains("mm"), "{job}");
}

/// A shop file made from scans has the sensor that they show; one that was made without leaves a job made later to say it.
#[test]
fn what_the_scans_say_of_the_sensor_is_never_lost() {
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    let made = bench.run(&["new", "--shop", "scan-000.csv"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("written");
    for piece in ["x: radius ", "unit: mm ", "columns: [x, z] ", "z: height "] {
        assert!(shop.contains(piece), "no `{piece}` in\n{shop}");
    }
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    assert_eq!(bench.run(&["new", "--shop"]).status.code(), Some(0));
    let job = text(&bench.run(&["new", "scan-000.csv", "-o", "-"]).stdout);
    for piece in ["x: radius ", "unit: mm ", "columns: [x, z] ", "z: height "] {
        assert!(job.contains(&format!("  # for the shop's sensor, {piece}")), "no `{piece}` in\n{job}");
    }
}

/// Where a scan says what x means and no column of x is known, the ring to cut is a blank.
#[test]
fn no_ring_is_guessed_where_no_column_is_known() {
    let bench = Bench::new();
    bench.put("s.txt", "Radius in mm\n1 80.5 1.2 4\n2 81 1.3 4\n3 120 1.1 4\n");
    let job = text(&bench.run(&["new", "s.txt", "-o", "-"]).stdout);
    assert!(job.contains("columns: ____") && job.contains("- { from: ____ mm, to: ____ mm }"), "{job}");
    // Heights in a smaller unit have a longer way than radii: nothing tells which column is which.
    bench.put("s.txt", "80.5;1250\n81;3000\n120;250\n");
    let job = text(&bench.run(&["new", "s.txt", "-o", "-"]).stdout);
    assert!(job.contains("columns: ____"), "{job}");
}

/// A second tool and a zone that runs off the rim are shown, ready to be used.
#[test]
fn a_second_tool_and_an_edge_are_ready_to_use() {
    let bench = Bench::new();
    let shop = text(&bench.run(&["new", "--shop", "-o", "-"]).stdout);
    let tools =
        shop.split("\ntools:").nth(1).expect("tools").split("\nschedules:").next().expect("tools").to_owned();
    let first: Vec<&str> = tools.lines().skip_while(|l| !l.starts_with("  rounder:")).skip(1).collect();
    let keys = |lines: &[&str], mark: &str| -> Vec<String> {
        let key = |l: &&str| Some(l.strip_prefix(mark)?.split_once(':')?.0.to_owned());
        lines
            .iter()
            .filter_map(key)
            .filter(|k| k.chars().all(|c| c.is_ascii_lowercase() || c == '_'))
            .collect()
    };
    // Behind its comment marks it is the first, but for what may be left out.
    assert!(tools.contains("\n  # brightener:"), "{tools}");
    assert_eq!(keys(&first, "    "), keys(&first, "  #   "));
    let job = text(&bench.run(&["new", "scan-000.csv", "-o", "-"]).stdout);
    assert!(job.contains("`to: edge`") && job.contains("`from: edge`"), "{job}");
}

/// With the tyre off no one is asked where it stands: the keep-out is to be taken out, and what is said of it is that.
#[test]
fn a_tyre_that_is_off_asks_for_no_keep_out() {
    let bench = Bench::new();
    bench.run(&["new", "scan-000.csv", "-o", "new.yaml"]);
    bench.change("new.yaml", "tyre: ____", "tyre: removed");
    let said = text(&bench.run(&["write", "new.yaml"]).stderr);
    assert_eq!(said.matches("take the tyre's keep-out out, since `tyre: removed`").count(), 2, "{said}");
    let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
    let without: String = job
        .lines()
        .filter(|l| !l.contains("name: tyre") && *l != "keep_out:")
        .map(|l| l.to_owned() + "\n")
        .collect();
    bench.put("new.yaml", &without);
    let said = text(&bench.run(&["write", "new.yaml"]).stderr);
    assert!(said.contains("blanks are left") && !said.contains("keep_out"), "{said}");
}

/// Where a wheel has no name but its job's, and its material is not said, nothing is said twice and nothing of what is not known.
#[test]
fn a_wheel_without_a_name_is_named_once() {
    let bench = Bench::new();
    bench.change("job.yaml", "  name: \"17 x 7, ten spokes\"\n", "").change(
        "job.yaml",
        "  material: cast aluminium\n",
        "",
    );
    let written = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    let account = text(&written.stdout);
    assert_eq!(written.status.code(), Some(0), "{}", text(&written.stderr));
    assert!(account.starts_with("job      Demo 7, rear right\nspindle "), "{account}");
    let program = fs::read_to_string(bench.path("out.nc")).expect("written");
    assert!(
        program.contains("(JOB DEMO 7, REAR RIGHT)\r\n(WHEEL TYRE MOUNTED)"),
        "{}",
        program.lines().take(4).collect::<String>()
    );
    let survey = text(&bench.run(&["survey", "job.yaml"]).stdout);
    assert!(survey.starts_with("CUT: Demo 7, rear right\n"), "{survey}");
    let page = text(&bench.run(&["sheet", "job.yaml"]).stdout);
    assert_eq!(page.matches("<bdi>Demo 7, rear right</bdi>").count(), 1);
    // It is this job's, as it was when the wheel was named twice, and not another's.
    let proved = |program: &str| {
        bench.put("read.nc", program);
        text(&bench.run(&["proof", "read.nc", "--job", "job.yaml"]).stdout)
    };
    let before = program.replace("(WHEEL TYRE", "(WHEEL DEMO 7, REAR RIGHT, NOT SAID, TYRE");
    assert!(!proved(&program).contains("other-wheel") && !proved(&before).contains("other-wheel"));
    assert!(proved(&program.replace("(WHEEL TYRE", "(WHEEL 18 X 8, TYRE")).contains("other-wheel"));
    bench.change("job.yaml", "wheel:\n", "wheel:\n  name: \"17 x 7\"\n");
    assert!(proved(&program).contains("other-wheel"));
}

/// docs/keys.md says how many keys a person fills in: as many as `new` leaves blank.
#[test]
fn the_page_of_keys_says_how_many_are_asked_for() {
    let page = fs::read_to_string("docs/keys.md").expect("the page is there");
    let said = |row: &str| -> usize {
        let line = page.lines().find(|l| l.starts_with(row)).unwrap_or_else(|| panic!("no row `{row}`"));
        line.rsplit('|').nth(1).and_then(|n| n.trim().parse().ok()).unwrap_or_else(|| panic!("{line}"))
    };
    let asked = |text: &str| {
        let keys =
            bare(&text.lines().filter(|l| !l.trim_start().starts_with('#')).collect::<Vec<_>>().join("\n"));
        keys.matches(": ____").count() + keys.matches(": [____").count()
    };
    let bench = Bench::new();
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    bench.run(&["new", "scan-000.csv", "scan-120.csv", "scan-240.csv", "-o", "new.yaml"]);
    let [job, shop] = ["new.yaml", "shop.yaml"].map(|f| fs::read_to_string(bench.path(f)).expect("written"));
    assert_eq!(asked(&shop), said("| the shop file that"));
    assert_eq!(asked(&job), said("| every job from scans"));
    let tyre = job.lines().find(|l| l.contains("name: tyre")).expect("a keep-out");
    assert_eq!(asked(&job) - asked(tyre), said("| the same, with the tyre off"));
}
