//! The touch check at the command line: the table, an error put in, the words to enter, and the ledger.

use super::journeys::{Bench, text};
use std::fs;

/// X and Z words of the table, in the control's unit.
fn places(bench: &Bench, more: &[&str]) -> Vec<(f64, f64)> {
    let output = bench.run(&[&["touch", "job.yaml", "--tool", "sweeper"], more].concat());
    let table = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{table}{}", text(&output.stderr));
    let rows = table.lines().filter_map(|l| l.trim_start().strip_prefix('X'));
    let numbers = rows.map(|row| {
        let mut words = row.split_whitespace();
        let number = |word: Option<&str>| word.and_then(|w| w.trim_start_matches('Z').parse().ok());
        (number(words.next()).expect("X"), number(words.next()).expect("Z"))
    });
    numbers.collect()
}

fn read(bench: &Bench, readings: &[f64], more: &[&str]) -> (i32, String) {
    let readings: Vec<String> = readings.iter().map(|z| format!("{z:.4}")).collect();
    let joined = readings.join(",");
    let output = bench
        .run(&[&["touch", "job.yaml", "--tool", "1", "--read", &joined, "--by", "Turner"], more].concat());
    (output.status.code().unwrap_or(-1), text(&output.stdout) + &text(&output.stderr))
}

#[test]
fn a_tool_set_right_may_go_and_one_set_low_may_not() {
    let bench = Bench::new();
    let places = places(&bench, &[]);
    assert!(places.len() >= 3, "{places:?}");
    let shown: Vec<f64> = places.iter().map(|p| p.1).collect();
    let (code, said) = read(&bench, &shown, &[]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("verdict  go"), "{said}");
    // A tool that shows 0.08 mm more than it stands at everywhere stands 0.08 mm lower than it shows.
    let low: Vec<f64> = shown.iter().map(|z| z + 0.08).collect();
    let (code, said) = read(&bench, &low, &[]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("Z        the tool stands 0.08") && said.contains("mm lower than shown"), "{said}");
    assert!(said.contains("verdict  set anew") && said.contains("in offset 01"), "{said}");
    let json = read(&bench, &low, &["--format", "json"]).1;
    let json = json.split("facewright:").next().unwrap_or_default();
    let json: serde_json::Value = serde_json::from_str(json).expect("JSON");
    assert!((json["answer"]["z"]["value_mm"].as_f64().expect("a number") + 0.08).abs() < 0.002, "{json}");
    assert_eq!(json["answer"]["decision"], "set anew");
    // What is to be entered at the last place is where the table has it, to the rounding of its words.
    let last = places.last().expect("a place");
    let enter = |i: usize| json["answer"]["enter"][i].as_str().and_then(|w| w[1..].parse::<f64>().ok());
    assert!((enter(0).expect("X") - last.0).abs() < 0.02, "{json}");
    assert!((enter(1).expect("Z") - last.1).abs() < 0.003, "{json}");
}

/// A tool that stands a little low, within the limit, may go where the wheel can lose that, and not where the plan leaves it nothing to lose.
#[test]
fn a_low_tool_may_not_take_what_the_wheel_has_not() {
    let bench = Bench::new();
    let shown: Vec<f64> = places(&bench, &[]).iter().map(|p| p.1 + 0.006).collect();
    let (code, said) = read(&bench, &shown, &[]);
    assert_eq!(code, 0, "{said}");
    let job = fs::read_to_string(bench.path("job.yaml")).expect("it is there");
    // The demo takes 0.456 mm.
    bench.put("job.yaml", &job.replacen("taken: 0.20 mm", "taken: 0.535 mm", 1));
    let (code, said) = read(&bench, &shown, &[]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("verdict  touch again"), "{said}");
    assert!(said.contains("deeper than planned, and after the plan the wheel may lose 0.009 mm"), "{said}");
    assert!(!said.contains("`repeats`"), "{said}");
}

/// Where touches repeat so badly that the limit is used up by what they leave open, no reading can give go: the table says so, and
/// perfect readings ask for no correction.
#[test]
fn a_limit_that_no_reading_can_meet_is_told() {
    let bench = Bench::new();
    bench.change("shop.yaml", "control:\n", "touch: { repeats: 0.010 mm, limit: 0.004 mm }\n\ncontrol:\n");
    let table = text(&bench.run(&["touch", "job.yaml", "--tool", "1"]).stdout);
    assert!(
        table.contains("caution  no reading at these places could give go") && table.contains("`limit`"),
        "{table}"
    );
    // The program's head and the page do not promise more.
    let head = |bench: &Bench| {
        bench.run(&["write", "job.yaml", "-o", "out.nc", "--force"]);
        let program = fs::read_to_string(bench.path("out.nc")).expect("written");
        program
            .replace(")\r\n(- ", " ")
            .lines()
            .find(|l| l.contains("TOUCH CHECK"))
            .unwrap_or_default()
            .to_owned()
    };
    let says = head(&bench);
    assert!(says.contains("IT CANNOT TELL") && says.contains("THE LIMIT IS 0.004 MM"), "{says}");
    let page = text(&bench.run(&["sheet", "job.yaml"]).stdout);
    assert!(page.contains("no reading of them lets the tool go on"), "the page says no more");
    let shown: Vec<f64> = places(&bench, &[]).iter().map(|p| p.1).collect();
    let (code, said) = read(&bench, &shown, &[]);
    assert_eq!(code, 1, "{said}");
    assert!(
        said.contains("verdict  touch again") && said.contains("decides  ") && said.contains("`repeats`"),
        "{said}"
    );
    assert!(!said.contains("\nenter "), "{said}");
    // A tool that is off in Z alone is not told to be set anew in X.
    bench.change("shop.yaml", "limit: 0.004 mm", "limit: 0.05 mm");
    let says = head(&bench);
    assert!(
        says.contains("X AND Z ARE RIGHT IF TOOL 1 AT THE HIGHEST PLACE") && !says.contains("CANNOT"),
        "{says}"
    );
    let low: Vec<f64> = shown.iter().map(|z| z + 0.08).collect();
    let said = read(&bench, &low, &[]).1;
    let enter = said.lines().find(|l| l.starts_with("enter")).unwrap_or_default();
    assert!(enter.contains("as the Z") && !enter.contains("as the X"), "{said}");
}

#[test]
fn what_cannot_tell_is_refused_with_the_way_to_mend_it() {
    let bench = Bench::new();
    let refused = |arguments: &[&str], word: &str| {
        let output = bench.run(&[&["touch", "job.yaml"], arguments].concat());
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains(word) && said.contains("to mend it"), "no `{word}` in {said}");
    };
    refused(&["--tool", "9"], "no tool `9`");
    refused(&["--tool", "1", "--read", "0.1,0.2"], "2 readings for");
    refused(&["--tool", "1", "--at", "132,142,150", "--read", "0,0,0"], "cannot tell an error in X");
    refused(&["--tool", "1", "--at", "132,142,900", "--read", "0,0,0"], "nothing that was surveyed");
    refused(&["--tool", "1", "--read", "low,0,0,0"], "no Z that a control shows");
}

/// A shim lifts every place by its thickness, on slopes by more, and the head says what to touch.
#[test]
fn a_shim_is_in_the_table_and_in_the_head() {
    let bench = Bench::new();
    let bare = places(&bench, &[]);
    bench.change("shop.yaml", "control:\n", "touch: { shim: 0.05 mm }\n\ncontrol:\n");
    let at: Vec<String> = bare.iter().map(|p| p.0.to_string()).collect();
    let lifted = places(&bench, &["--at", &at.join(",")]);
    for (bare, lifted) in bare.iter().zip(&lifted) {
        let by = lifted.1 - bare.1;
        assert!((0.049..0.056).contains(&by), "{bare:?} {lifted:?}");
    }
    bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    let program = std::fs::read_to_string(bench.path("out.nc")).expect("a program").replace(")\r\n(- ", " ");
    assert!(program.contains("TOUCH A SHIM OF 0.05 MM LAID ON THE FACE, ENTER Z"), "{program}");
}

#[test]
fn an_inch_shop_reads_inches() {
    let bench = Bench::new();
    let millimetres = places(&bench, &[]);
    bench.change("shop.yaml", "  units: mm\n  unit_word: G71\n", "  units: inch\n  unit_word: G70\n");
    bench.change("shop.yaml", "resolution: 0.001 mm", "resolution: 0.0001 in");
    let at: Vec<String> = millimetres.iter().map(|p| format!("{:.4}", p.0 / 25.4)).collect();
    let inches = places(&bench, &["--at", &at.join(",")]);
    for (mm, inch) in millimetres.iter().zip(&inches) {
        // A tenth of a thousandth of an inch, and the slope's share of it.
        assert!((mm.1 - inch.1 * 25.4).abs() < 0.003, "{mm:?} {inch:?}");
    }
}

/// With a ledger the check is entered once `write` has entered the measurement.
#[test]
fn the_ledger_keeps_the_check() {
    let bench = Bench::new();
    bench.change("shop.yaml", "machine:", "ledger: wheels.db\nmachine:");
    bench.change("job.yaml", "wheel:\n", "wheel:\n  number: R-7\n");
    let shown: Vec<f64> = places(&bench, &[]).iter().map(|p| p.1).collect();
    let (_, said) = read(&bench, &shown, &[]);
    assert!(said.contains("ledger   not entered"), "{said}");
    bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    let low: Vec<f64> = shown.iter().map(|z| z + 0.08).collect();
    let (code, said) = read(&bench, &low, &[]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("ledger   entered"), "{said}");
    let history = text(&bench.run(&["ledger", "show", "R-7", "--ledger", "wheels.db"]).stdout);
    assert!(history.contains("touch check of sweeper") && history.contains("set anew"), "{history}");
    // As of everything that is entered, when and by whom.
    let entered = history.lines().find(|l| l.contains("touch check of")).expect("the check");
    let survey = history.lines().find(|l| l.starts_with("survey ")).expect("its survey");
    let day = survey.split(", ").nth(1).and_then(|d| d.split(':').next()).expect("a day");
    assert!(entered.contains(&format!(", {day} by ")), "{entered} and {survey}");
}

/// A wheel that leans by 0.3 mm more at the rim than it was surveyed is surveyed again: no offset mends that.
#[test]
fn a_wheel_that_leans_is_surveyed_again() {
    let bench = Bench::new();
    // X words of the demo are diameters.
    let leaning: Vec<f64> = places(&bench, &[]).iter().map(|(x, z)| z + 0.3 / 216.0 * x / 2.0).collect();
    let (code, said) = read(&bench, &leaning, &[]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("verdict  survey again"), "{said}");
}

/// Touches that lie 0.2 mm off in any pattern of signs never pass, and where they contradict each other they are to be taken again.
#[test]
fn touches_that_contradict_each_other_are_taken_again() {
    let bench = Bench::new();
    let shown: Vec<f64> = places(&bench, &[]).iter().map(|p| p.1).collect();
    let mut again = 0;
    for signs in 0..1_u32 << shown.len() {
        let off = |i: usize| if signs >> i & 1 == 1 { 0.2 } else { -0.2 };
        let read_off: Vec<f64> = shown.iter().enumerate().map(|(i, z)| z + off(i)).collect();
        let (code, said) = read(&bench, &read_off, &[]);
        assert_eq!(code, 1, "{said}");
        again += usize::from(said.contains("verdict  touch again"));
    }
    assert!(again > 0, "four touches of three unknowns that never contradict each other");
}

/// The table of a program that follows lies on the face as it stands: lower by what is gone.
#[test]
fn the_next_program_is_touched_on_what_stands() {
    let bench = Bench::new();
    bench.change("job.yaml", "touch_off:", "cut_along: highest\ntouch_off:");
    // In the zone, clear of its ends: diameters.
    let at = "152,200,320,360";
    let first = places(&bench, &["--at", at]);
    let next = places(&bench, &["--next", "rough", "--already", "0.30mm", "--at", at]);
    for (first, next) in first.iter().zip(&next) {
        assert!((first.1 - next.1 - 0.3).abs() < 0.002, "{first:?} {next:?}");
    }
    let output =
        bench.run(&["touch", "job.yaml", "--tool", "gleamer", "--next", "finish", "--already", "0.40mm"]);
    let said = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{said}{}", text(&output.stderr));
    assert!(said.contains("T2 gleamer"), "{said}");
    // A tool that the next passes do not use is not touched for them.
    let output =
        bench.run(&["touch", "job.yaml", "--tool", "gleamer", "--next", "rough", "--already", "0.30mm"]);
    assert_eq!(output.status.code(), Some(2), "{}", text(&output.stdout));
}

/// After rough passes the finish is not said to leave what they took: only the plan knows what is gone.
#[test]
fn a_finish_that_cleans_is_not_said_to_leave_damage() {
    let bench = Bench::new();
    let output = bench.run(&["write", "job.yaml", "--next", "finish", "--already", "0.41mm", "-o", "out.nc"]);
    let said = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(!said.contains("stay uncleaned"), "{said}");
    let first = bench.run(&["write", "job.yaml", "--next", "rough", "--passes", "1", "-o", "one.nc"]);
    assert_eq!(first.status.code(), Some(0), "{}", text(&first.stderr));
}

/// A later part of a program that was divided says where its tool must touch, as the first does, wherever it asks for a touch-off.
#[test]
fn a_later_part_carries_its_table() {
    let bench = Bench::new();
    bench.change("shop.yaml", "largest_program: 64 kB", "largest_program: 9 kB");
    let output = bench.run(&["write", "job.yaml", "-o", "out.nc"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let said = text(&output.stdout);
    let files: Vec<&str> =
        said.lines().filter_map(|l| l.strip_prefix("written  ")?.split(' ').next()).collect();
    assert!(files.len() > 2, "{said}");
    let mut touched = 0;
    for file in files {
        let program = std::fs::read_to_string(bench.path(file)).expect("a part").replace(")\r\n(- ", " ");
        let head = program.split("G18").next().unwrap_or_default();
        // Where the tool goes on from the part before it is not touched.
        if head.contains("(TOUCH-OFF ") && !head.contains("DO NOT TOUCH IT OFF AGAIN") {
            touched += 1;
            assert!(head.contains("(TOUCH CHECK "), "{file} asks for a touch-off and has no table:\n{head}");
        }
    }
    assert!(touched >= 1, "{touched} parts ask for a touch-off");
}

/// In a shop whose control counts inches every text reads inches; JSON keeps its millimetres, with the unit in each key.
#[test]
fn what_an_inch_shop_reads_holds_no_millimetres() {
    let bench = Bench::new();
    bench.change("shop.yaml", "  units: mm\n  unit_word: G71\n", "  units: inch\n  unit_word: G70\n");
    bench.change("shop.yaml", "resolution: 0.001 mm", "resolution: 0.0001 in");
    let metric = |text: &str| {
        let quoted = |line: &str| line.split('`').step_by(2).collect::<String>();
        let units = [" mm", "mm/rev", " um", " m/min", " MM", "cm3"];
        text.lines().map(quoted).filter(|l| units.iter().any(|u| l.contains(u))).collect::<Vec<_>>()
    };
    for arguments in [
        &["survey", "again.yaml"][..],
        &["write", "again.yaml", "-o", "out.nc", "--verbose"],
        &["write", "again.yaml", "-o", "-"],
        &["proof", "out.nc", "--job", "again.yaml", "--explain"],
        &["touch", "job.yaml", "--tool", "1"],
    ] {
        let output = bench.run(arguments);
        let said = text(&output.stdout);
        assert_eq!(output.status.code(), Some(0), "{said}{}", text(&output.stderr));
        let inches = said.contains(" in") || said.contains(" IN");
        assert!(metric(&said).is_empty() && inches, "{arguments:?}: {:?}", metric(&said));
    }
    // Feet for the way of a spiral, whole millionths for what is told in them, and a number as this control would show it.
    let account = text(&bench.run(&["write", "again.yaml", "-o", "out.nc", "--force"]).stdout);
    let after = |word: &str, unit: &str| {
        let line =
            account.lines().find(|l| l.trim_start().starts_with(word)).unwrap_or_else(|| panic!("{account}"));
        let before = line.split(unit).next().unwrap_or_default();
        before.split([' ']).next_back().unwrap_or_default().to_owned()
    };
    for (word, unit) in [("air", " ft"), ("texture", " uin"), ("waviness", " uin")] {
        let number = after(word, unit);
        assert!(number.parse::<u32>().is_ok(), "{word}: {number} of {account}");
    }
    assert!(!account.contains(" m\n") && account.contains("\nmetal    0."), "{account}");
    let asked = text(&bench.run(&["touch", "job.yaml", "--tool", "1", "--read", "a,b,c,d"]).stderr);
    assert!(asked.contains("in inches, such as Z-0.1616"), "{asked}");
    // A block is told with its words' figures: the park's diameter is 23.622 in.
    let explained = text(&bench.run(&["proof", "out.nc", "--job", "again.yaml", "--explain"]).stdout);
    assert!(explained.contains("Rapid to radius 11.811 in, height 7.874 in."), "{explained}");
    // Refusals too; what stands in a file is shown as it stands there.
    bench.change("job.yaml", "limit: 1.0 mm", "limit: 0.3 mm");
    for command in ["write", "survey"] {
        let output = bench.run(&[command, "job.yaml"]);
        let said = text(&output.stderr);
        assert!(output.status.code() == Some(1) && metric(&said).is_empty(), "{said}");
    }
    bench.change("job.yaml", "limit: 0.3 mm", "limit: 1.0 mm");
    let scan = fs::read_to_string(bench.path("scan-000.csv")).expect("it is there");
    bench.put("scan-000.csv", &format!("{scan}80 mm,0\n"));
    let said = text(&bench.run(&["survey", "job.yaml"]).stderr);
    bench.put("scan-000.csv", &scan);
    assert!(said.contains("found 80 mm\n") && said.contains(">>80<< mm,0\n"), "{said}");
    let json = text(&bench.run(&["survey", "again.yaml", "--format", "json"]).stdout);
    let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let taken = json["again"]["taken_mm"].as_f64().expect("a number");
    assert!((taken - 0.276).abs() < 0.02, "{taken}");
}
