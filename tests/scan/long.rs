//! Long files of odd lines: the work must grow as the length does.
//!
//! No clock is read. Each file is so long that work which grew with the square of its length would take many minutes.

use super::plain;
use facewright::diagnostics::InputError;
use facewright::job::{Column, Measured};
use facewright::scan::guess::guess;
use facewright::scan::reader::{Scan, read, read_trace};
use std::fmt::Write as _;
use std::path::Path;

/// Lines of a long file: their square is four times ten to the tenth.
const MANY: u32 = 200_000;

fn scan(text: &str, measured: &Measured) -> Result<Scan, InputError> {
    read(text.as_bytes(), Path::new("scan.csv"), measured)
}

fn lines(line: impl Fn(u32) -> String) -> String {
    (0..MANY).fold(String::new(), |mut all, i| {
        let _ = writeln!(all, "{}", line(i));
        all
    })
}

#[test]
fn text_below_the_readings_is_read_once() {
    let text = ["80;1\n81;2\n".to_owned(), lines(|_| "no reading".to_owned())].concat();
    assert_eq!(scan(&text, &plain()).map(|s| s.points.len()).ok(), Some(2));
}

#[test]
fn lines_above_are_known_again_without_a_search() {
    let above = lines(|i| format!("line {i} of text"));
    let text = [&above, "80;1\n81;2\n", &above, "82;1\n"].concat();
    assert_eq!(scan(&text, &plain()).map(|s| s.points.len()).ok(), Some(3));
}

#[test]
fn zeros_are_told_apart_in_one_pass() {
    let zeros = lines(|_| "0,0".to_owned());
    let Ok(all) = scan(&["80,1\n", &zeros, "81,2\n"].concat(), &plain()) else { panic!() };
    assert_eq!((all.points.len(), all.missing.len()), (2, MANY as usize));
    // Beside a reading that stands at the axis they are readings.
    let Ok(all) = scan(&["1,1\n", &zeros, "81,2\n"].concat(), &plain()) else { panic!() };
    assert_eq!((all.points.len(), all.missing.len()), (2 + MANY as usize, 0));
}

#[test]
fn names_of_traces_are_gathered_in_one_pass() {
    let named = Measured { columns: vec![Column::Trace, Column::X, Column::Z], ..plain() };
    let text = lines(|i| format!("{i};80;1"));
    let refused = scan(&text, &named).err().map(|e| e.to_string()).unwrap_or_default();
    assert!(refused.contains(&format!("found {MANY} traces, `0`, `1`")), "{refused}");
    // One name, however it is written.
    let text = lines(|i| format!("{};80;1", ["30", "30.0", "30 deg", "30,0"][i as usize % 4]));
    let chosen = read_trace(text.as_bytes(), Path::new("scan.csv"), &named, Some("30"));
    assert_eq!(chosen.map(|s| s.points.len()).ok(), Some(MANY as usize));
}

#[test]
fn parts_beside_each_other_are_found_in_one_pass() {
    let part = |i: u32| {
        let from = f64::from(i) * 0.004;
        format!("{from:.4};1\n{:.4};2\n{:.4};1\n", from + 0.001, from + 0.003)
    };
    let text = lines(part);
    assert_eq!(scan(&text, &plain()).map(|s| s.points.len()).ok(), Some(3 * MANY as usize));
    let refused = scan(&[text, part(7)].concat(), &plain()).err().map(|e| e.to_string()).unwrap_or_default();
    assert!(refused.contains("2 traces over the same radii"), "{refused}");
}

/// A row is parted once, and not once for each of its columns.
#[test]
fn wide_rows_are_guessed_in_one_pass() {
    let row = |first: &str, field: &str| [first, &format!(";{field}").repeat(MANY as usize), "\n"].concat();
    let text = [row("x;z", "n"), row("80;1", "7"), row("81;2", "7"), row("120;3", "7")].concat();
    let guess = guess(text.as_bytes(), Path::new("scan.csv"));
    assert_eq!(guess.map(|g| g.reach).ok(), Some(Some([80.0, 120.0, 39.0])));
}
