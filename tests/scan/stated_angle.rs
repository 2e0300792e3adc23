//! The angle that a file states of itself, held against the job's.

use super::plain;
use facewright::job::{Measured, ScanLine, TraceName};
use facewright::scan::guess::guess;
use facewright::scan::open_all;
use facewright::units::Angle;
use std::path::Path;

/// The refusal of a file with these lines above, at an angle of the job; empty where it is read.
fn refusal(above: &str, at: f64) -> String {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let file = folder.path().join("scan.csv");
    let readings = (0..50).fold(String::new(), |text, i| text + &format!("{};{}\n", 80 + i, i % 3));
    std::fs::write(&file, [above, &readings].concat()).unwrap_or_else(|e| panic!("{e}"));
    let lines = vec![ScanLine { file, at: Angle::deg(at), trace: None, named: None }];
    open_all(&Measured { lines, ..plain() }).err().map(|e| e.to_string()).unwrap_or_default()
}

#[test]
fn an_angle_that_the_file_states_otherwise_is_refused() {
    for (above, column, number) in [
        ("Angle: 72\nx;z\n", 8, "72"),
        ("angle = 72.0 deg\n", 9, "72.0"),
        ("Angle;72\n", 7, "72"),
        ("Angle 72\n", 7, "72"),
        ("Angle\t72\n", 7, "72"),
        ("# Angle (deg): 72\n", 16, "72"),
        ("Winkel: 72,0°\r\n", 9, "72,0"),
        ("# line at 72 degrees, drawn outward by hand\n", 11, "72"),
        ("# 72 deg\n", 3, "72"),
    ] {
        let said = refusal(&["Points: 50\n", above].concat(), 144.0);
        for piece in [
            &format!("scan.csv:2:{column}"),
            &format!("an angle of {number} deg"),
            "144 deg, the `at` of this line in the job",
            &format!("write `at: {} deg`", number.replace(',', ".")),
        ] {
            assert!(said.contains(piece), "{above}: no `{piece}` in {said}");
        }
        for same in [72.0, 72.9, 71.1, 432.0, -288.0] {
            assert_eq!(refusal(above, same), "", "{above} {same}");
        }
        // What `new` puts into the job is what `write` then reads.
        let text = [above, "80;1\n81;2\n82;1\n"].concat();
        let guessed = guess(text.as_bytes(), Path::new("scan.csv")).ok().and_then(|g| g.angle);
        assert_eq!(guessed.map(|(degrees, _)| degrees.to_string()).as_deref(), Some("72"), "{above}");
    }
    assert!(refusal("Angle: 359.5\n", 0.0).is_empty() && !refusal("Angle: 358\n", 0.0).is_empty());
}

/// Each of several traces in one file is held against the angle in its own headings: two that change places are refused.
#[test]
fn a_trace_is_held_against_the_headings_of_its_own() {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let readings = (0..50).fold(String::new(), |text, i| text + &format!("{}\t{}\n", 80 + i, i % 3));
    let trace = |name: &str, angle: u32| {
        format!("Trace\t{name}\nAngle\t{angle}\nRadius (mm)\tHeight (mm)\n{readings}")
    };
    let refusal = |text: &str, name: &str, at: f64| {
        let file = folder.path().join("scan.txt");
        std::fs::write(&file, text).unwrap_or_else(|e| panic!("{e}"));
        let trace = Some(TraceName(name.to_owned()));
        let lines = vec![ScanLine { file, at: Angle::deg(at), trace, named: None }];
        open_all(&Measured { lines, ..plain() }).err().map(|e| e.to_string()).unwrap_or_default()
    };
    let two = [trace("S1", 0), trace("S2", 120)].concat();
    for (name, at) in [("S1", 0.0), ("1", 0.0), ("S2", 120.0), ("2", 120.0)] {
        assert_eq!(refusal(&two, name, at), "", "{name}");
        let said = refusal(&two, name, 120.0 - at);
        assert!(said.contains(&format!("an angle of {at} deg")), "{name}: {said}");
    }
    assert!(refusal(&two, "S2", 0.0).contains("scan.txt:55:7"));
    assert!(refusal(&two, "S3", 0.0).contains("holds `S1`, `S2`"));
    // What heads a later trace is held against the job as what heads the first.
    let other = two.replacen("Height (mm)", "Height (um)", 2).replacen("Height (um)", "Height (mm)", 1);
    assert!(refusal(&other, "S1", 0.0).contains("write `z_unit: um`"), "{}", refusal(&other, "S1", 0.0));
    // What one file says of an angle above traces that empty lines part is said of none of them.
    let one = format!("Angle\t0\n{readings}\n{readings}");
    assert_eq!(refusal(&one, "2", 120.0), "");
}

/// A guess takes traces apart as the reader does, with what their headings say.
#[test]
fn a_guess_takes_traces_apart_as_the_reader_does() {
    let readings = (0..50).fold(String::new(), |text, i| text + &format!("{};{}\n", 80 + i, i % 3));
    let traces = |text: &str| {
        let guess = guess(text.as_bytes(), Path::new("scan.csv")).unwrap_or_else(|e| panic!("{e}"));
        let of = |t: &facewright::scan::guess::Trace| {
            assert_eq!((t.reach[0], t.reach[1]), (80.0, 129.0));
            (t.name.clone(), t.angle.as_ref().map(|(angle, _)| angle.clone()))
        };
        (guess.traces.iter().map(of).collect::<Vec<_>>(), guess.refused)
    };
    let named = |all: &[(&str, Option<&str>)]| {
        all.iter().map(|(name, angle)| ((*name).to_owned(), angle.map(str::to_owned))).collect::<Vec<_>>()
    };
    let head = |name: &str, angle: &str| format!("Trace;{name}\nAngle;{angle}\n{readings}");
    let two = [head("S1", "0"), head("S2", "120")].concat();
    assert_eq!(traces(&two), (named(&[("S1", Some("0")), ("S2", Some("120"))]), None));
    // Names that are given twice tell nothing apart.
    let twice = [head("S", "0"), head("S", "120")].concat();
    assert_eq!(traces(&twice), (named(&[("1", Some("0")), ("2", Some("120"))]), None));
    let blank = [&readings, "\n", &readings].concat();
    assert_eq!(traces(&blank), (named(&[("1", None), ("2", None)]), None));
    let comments = ["# at 10 deg\n", &readings, "# at 130 deg\n", &readings].concat();
    assert_eq!(traces(&comments), (named(&[("1", Some("10")), ("2", Some("130"))]), None));
    // A file that is one line is no traces; what cannot be read is told.
    assert_eq!(traces(&readings), (Vec::new(), None));
    let (none, refused) = traces(&readings.repeat(4));
    assert!(none.is_empty() && refused.is_some_and(|why| why.contains("begin anew")), "{readings}");
}

#[test]
fn degrees_of_other_things_are_no_angle_of_the_wheel() {
    for above in [
        "Probe angle: 15\n",
        "Probe tilted 15 deg\n",
        "Lip angle = 45 deg\n",
        "Temperature: 21 deg C\n",
        "Angle (rad): 1.2566\n",
        "from 0 deg to 360 deg\n",
        "Angle: none\n",
        "lines at 0, 72 and 144 degrees\n",
    ] {
        assert_eq!(refusal(above, 144.0), "", "{above}");
    }
}
