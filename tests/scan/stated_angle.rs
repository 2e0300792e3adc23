//! The angle that a file states of itself, held against the job's.

use super::plain;
use facewright::job::{Measured, ScanLine};
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
