//! What made a new user of an inch shop stumble: places, tools, zeros and numbers as a shop has them.

use super::journeys::{Bench, text};
use std::fs;

/// The demo in a shop that counts inches.
fn inches() -> Bench {
    let bench = Bench::new();
    bench.change("shop.yaml", "  units: mm\n  unit_word: G71\n", "  units: inch\n  unit_word: G70\n");
    bench.change("shop.yaml", "resolution: 0.001 mm", "resolution: 0.0001 in");
    bench
}

/// Standard output of a command that succeeds.
fn said(bench: &Bench, arguments: &[&str]) -> String {
    let run = bench.run(arguments);
    assert_eq!(run.status.code(), Some(0), "{arguments:?}: {}{}", text(&run.stdout), text(&run.stderr));
    text(&run.stdout)
}

/// Account, program with its comments on one line each, and page of the job.
fn written(bench: &Bench) -> [String; 3] {
    let account = said(bench, &["write", "job.yaml", "-o", "out.nc", "--force"]);
    let program = fs::read_to_string(bench.path("out.nc")).expect("written").replace(")\r\n(- ", " ");
    [account, program, said(bench, &["sheet", "job.yaml"])]
}

/// A nose and edges are what the shop file says, and the same in account, head and page: no place is rounded off.
#[test]
fn a_tool_has_one_figure_everywhere() {
    let bench = inches();
    bench.change("shop.yaml", "nose_radius: 1.2 mm", "nose_radius: 3/64 in");
    bench.change("shop.yaml", "inner_edge: 30 deg", "inner_edge: 27.5 deg");
    let [account, program, page] = written(&bench);
    assert!(account.contains("T1 sweeper, nose radius 0.046875 in: touch off"), "{account}");
    let head = "(TOOL 1 SWEEPER, NOSE RADIUS 0.046875 IN, EDGES INNER 27.5 DEG OUTER 30 DEG, PROGRAMMED";
    assert!(program.contains(head), "{program}");
    assert!(
        page.contains("nose radius 0.046875 in, edges 27.5° inner and 30° outer"),
        "the page says otherwise"
    );
    // The head is the job's.
    said(&bench, &["proof", "out.nc", "--job", "job.yaml"]);
}

/// An operator dials the places of the touch check by hand: X words with one decimal at most, as diameters and as radii.
#[test]
fn touch_places_are_round_in_inches() {
    for words in ["x_words: diameter", "x_words: radius"] {
        let bench = inches();
        bench.change("shop.yaml", "x_words: diameter", words);
        let table = said(&bench, &["touch", "job.yaml", "--tool", "1"]);
        let places: Vec<&str> = table
            .lines()
            .filter_map(|l| l.trim_start().strip_prefix('X')?.split_whitespace().next())
            .filter(|word| word.parse::<f64>().is_ok())
            .collect();
        assert_eq!(places.len(), 4, "{table}");
        for place in places {
            let tenths: f64 = place.parse::<f64>().expect("a number") * 10.0;
            assert!((tenths - tenths.round()).abs() < 1e-9, "{words}: X{place} in\n{table}");
        }
    }
}

/// The stop after the air pass names the tyre where it is on, and not where it is off.
#[test]
fn of_a_tyre_that_is_off_nothing_is_said() {
    let bench = Bench::new();
    let [_, program, _] = written(&bench);
    assert!(program.contains("CLEAR OF FACE, JAWS AND TYRE ALL THE WAY"), "{program}");
    bench.change("job.yaml", "tyre: mounted", "tyre: removed").change("job.yaml", "keep_out:\n", "").change(
        "job.yaml",
        "  - { name: tyre, x: [226 mm, 320 mm], z: [-120 mm, 2 mm] }",
        "",
    );
    let [_, program, _] = written(&bench);
    assert!(program.contains("CLEAR OF FACE AND JAWS ALL THE WAY"), "{program}");
    assert_eq!(program.matches("TYRE").count(), 1, "the head alone: TYRE REMOVED in\n{program}");
}

/// Another sensor than the shop's has another zero, and with it the park is elsewhere: told in account, head and page, once for all rings
/// of a trial, and not where the shop's own measured.
#[test]
fn another_sensors_zero_is_told() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    let sensor =
        "kind: spot, x: radius, unit: mm, columns: [x, z], z: height, x_offset: 0 mm, longest_gap: 2 mm";
    let with = |sensors: &str| bench.put("shop.yaml", &format!("{shop}\nsensors: {{ {sensors} }}\n"));
    let warns = "park, travel and keep-outs in the shop file count from the zero of probe.";
    // The demo's job says all of its own sensor.
    with(&format!("probe: {{ {sensor} }}"));
    let [account, program, page] = written(&bench);
    let line = account.lines().find(|l| l.contains(warns)).unwrap_or_default();
    assert!(line.starts_with("warning  Another sensor than the shop's probe measured:"), "{account}");
    assert!(program.contains("(NOTE ANOTHER SENSOR THAN THE SHOP'S PROBE MEASURED"), "{program}");
    assert!(page.contains(warns), "the page says nothing");
    // The shop's own, or one of several, of which none is the one that the places count from.
    bench.change("job.yaml", "  sensor: spot\n", "  sensor: probe\n");
    for sensors in [format!("probe: {{ {sensor} }}"), format!("probe: {{ {sensor} }}, laser: {{ {sensor} }}")]
    {
        with(&sensors);
        let texts = written(&bench);
        assert!(!texts.iter().any(|t| t.to_lowercase().contains("another sensor")), "{sensors}: {texts:?}");
    }
    bench.change("job.yaml", "  sensor: probe\n", "  sensor: spot\n");
    with(&format!("probe: {{ {sensor} }}"));
    bench.change(
        "job.yaml",
        "damage:\n",
        "trial: [{ name: A, from: 90 mm, to: 98 mm }, { name: B, from: 106 mm, to: 114 mm }]\n\ndamage:\n",
    );
    let trial = said(&bench, &["write", "job.yaml", "--trial", "-o", "trial.nc"]);
    assert_eq!(trial.matches(warns).count(), 1, "{trial}");
}

/// `new` says of scans that contradict the shop's sensor that the shop's places count from that one's zero, and in the job beside the question.
#[test]
fn a_new_job_of_another_sensor_says_whose_zero_it_is() {
    let bench = Bench::new();
    let shop = fs::read_to_string(bench.path("shop.yaml")).expect("it is there");
    bench.put(
        "shop.yaml",
        &format!("{shop}\nsensors: {{ probe: {{ kind: spot, x: diameter, unit: mm }} }}\n"),
    );
    bench.put("s.csv", "radius_mm;height_mm\n80;1.5\n100;2\n120;1\n");
    let told = said(&bench, &["new", "s.csv", "-o", "new.yaml"]);
    let warns = "park, travel and keep-outs of the shop file count from the zero of `probe`";
    assert!(told.contains(&format!("caution  {warns}")), "{told}");
    let job = fs::read_to_string(bench.path("new.yaml")).expect("written");
    assert!(job.contains(&format!("  # {warns}")), "{job}");
    bench.put("s.csv", "diameter_mm;height_mm\n160;1.5\n200;2\n240;1\n");
    let told = said(&bench, &["new", "s.csv", "-o", "same.yaml"]);
    assert!(!told.contains("count from the zero"), "{told}");
}

/// What comes next is said once, for both files: no word that no blank is left while the shop file is full of them.
#[test]
fn what_comes_next_counts_the_blanks_of_both_files() {
    let bench = Bench::new();
    let next = |told: &str| {
        let lines: Vec<&str> = told.lines().filter(|l| l.starts_with("next ")).collect();
        assert_eq!(lines.len(), 1, "{told}");
        assert!(told.ends_with(&format!("{}\n", lines[0])), "{told}");
        lines[0].to_owned()
    };
    let beside = |name: &str| next(&said(&bench, &["new", "scan-000.csv", "-o", name]));
    assert!(beside("a.yaml").starts_with("next     fill in the blanks of a.yaml; "));
    bench.change("shop.yaml", "  clearance: 3 mm ", "  clearance: ____ mm ");
    assert!(beside("b.yaml").starts_with("next     fill in the blanks of b.yaml and shop.yaml; "));
    fs::remove_file(bench.path("shop.yaml")).expect("it was there");
    assert!(beside("c.yaml").starts_with("next     fill in the blanks of c.yaml and shop.yaml; "));
    fs::remove_file(bench.path("shop.yaml")).expect("it was written");
    assert!(next(&said(&bench, &["new", "--shop"])).contains("then make a job"));
}

/// A column that is called no angle but holds numbers that lines counted could not have is one, as a rotary axis `C` (ISO 841) writes it.
#[test]
fn numbers_spread_over_the_turn_are_angles() {
    let bench = Bench::new();
    let angles = |heading: &str, values: &[&str]| {
        let row = |value: &&str| {
            (0..6).map(|i| format!("{value};{};{}\n", 80 + 10 * i, i % 3)).collect::<Vec<_>>().concat()
        };
        bench.put("s.csv", &[heading, &values.iter().map(row).collect::<String>()].concat());
        let job = said(&bench, &["new", "s.csv", "-o", "-"]);
        job.lines()
            .filter_map(|l| Some(l.split_once(", at: ")?.1.split_once(" deg")?.0.to_owned()))
            .collect::<Vec<_>>()
    };
    assert_eq!(angles("C;Radius;Height\n", &["0.0", "120.0", "240.0"]), ["0.0", "120.0", "240.0"]);
    assert_eq!(angles("Line;Radius;Height\n", &["10", "190"]), ["10", "190"]);
    for counted in [&["1", "2", "3"][..], &["10", "20", "30"], &["0", "120", "400"], &["7", "417", "418"]] {
        assert_eq!(angles("C;Radius;Height\n", counted), vec!["____"; counted.len()], "{counted:?}");
    }
}

/// `Radius unit` and `Distance unit` above the readings are units as a heading is: taken over with the line that says so.
#[test]
fn a_unit_that_is_said_of_a_column_is_taken_over() {
    let bench = Bench::new();
    let job = |above: &str| {
        bench
            .put("s.txt", &format!("{above}\nTime s\tRadius\tDistance\n0\t3.2\t2.4\n1\t5\t2.5\n2\t8\t2.6\n"));
        said(&bench, &["new", "s.txt", "--inch", "-o", "-"])
    };
    let of_both = job("Radius unit\tin\nDistance unit\tin\n");
    assert!(of_both.contains("unit: inch ") && !of_both.contains("z_unit"), "{of_both}");
    assert!(of_both.contains("a line above the readings says `Radius unit in`"), "{of_both}");
    // The tyre's keep-out is told in the job's frame: a radius, and a height that grows away from the chuck.
    assert!(of_both.contains("the face stands at -2.60 in there at radius 8.00 in;"), "{of_both}");
    let of_each = job("Radius unit: in\nDistance unit: mil\n");
    assert!(of_each.contains("  unit: inch ") && of_each.contains("  z_unit: mil "), "{of_each}");
    let none = job("Sample unit: 3\n");
    assert!(none.contains("unit: ____"), "{none}");
}

/// What hangs on an answer that is still a blank is told for both answers, in the frame of the keep-out and never as the scan has it.
#[test]
fn where_the_face_stands_is_told_for_either_answer() {
    let bench = Bench::new();
    bench.put("s.txt", "X DIA (in);Z (in)\n6.4;0\n8;0.1\n17;0.23713\n");
    let job = said(&bench, &["new", "s.txt", "--inch", "-o", "-"]);
    let stands = "heights (away from the chuck is plus) from the scans' zero, where the scans read 0: the face stands at 0.24 in (or -0.24 in if z is a distance) there at radius 8.50 in;";
    assert!(job.contains(stands), "{job}");
    bench.put("s.txt", "x;height\n6.4;0\n8;0.1\n17;0.5\n");
    let job = said(&bench, &["new", "s.txt", "-o", "-"]);
    let stands = "stands at 0.5 in the scans' unit there at radius 17 in the scans' unit, or 8.5 in the scans' unit if x is a diameter;";
    assert!(job.contains(stands), "{job}");
}

/// Two wheels under one program number would replace each other in the control: where the shop has one, a new job shows how to give its own.
#[test]
fn a_job_may_have_a_program_number_of_its_own() {
    let bench = Bench::new();
    let job = said(&bench, &["new", "scan-000.csv", "-o", "-"]);
    assert!(!job.contains("program_number"), "{job}");
    bench.change("shop.yaml", "program_number: none", "program_number: O1001");
    let job = said(&bench, &["new", "scan-000.csv", "-o", "-"]);
    assert!(job.contains("\n# program_number: O1002 ") && job.contains("under the shop's O1001"), "{job}");
    let [_, program, _] = written(&bench);
    assert!(program.contains("\r\nO1001"), "{program}");
    bench.change("job.yaml", "shop: shop.yaml\n", "shop: shop.yaml\nprogram_number: O1002\n");
    let [_, program, _] = written(&bench);
    assert!(program.contains("\r\nO1002") && !program.contains("O1001"), "{program}");
}

/// A ball may be given as inserts and balls are sold in inches.
#[test]
fn a_ball_of_a_fraction_of_an_inch_is_read() {
    let bench = Bench::new();
    let account = |sensor: &str| {
        let job = fs::read_to_string(bench.path("job.yaml")).expect("it is there");
        let line = job.lines().find(|l| l.starts_with("  sensor: ")).expect("a sensor").to_owned();
        bench.change("job.yaml", &line, &format!("  sensor: {sensor}"));
        said(&bench, &["write", "job.yaml", "-o", "out.nc", "--force"])
    };
    let spot = account("spot");
    let ball = account("ball 1/8 in");
    assert!(ball == account("ball 3.175 mm") && ball != spot, "{ball}");
}
