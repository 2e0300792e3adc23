//! The touch check at the command line: the table, an error put in, the words to enter, and the ledger.

use super::journeys::{Bench, text};

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
}
