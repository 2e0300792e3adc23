//! Several traces in one file that the job takes for one line: refused, with the lines at which they begin and a fix that works.
//!
//! Five traces of a dome that runs out by half a millimetre, as a logger writes them one after another or sorted by radius.

use super::plain;
use facewright::diagnostics::InputError;
use facewright::job::{Column, Measured, RingSource, TurnReadings};
use facewright::scan::open_all;
use facewright::scan::reader::{Scan, read, read_trace};
use facewright::units::Length;
use std::fmt::Write as _;
use std::path::Path;

const ANGLES: [u32; 5] = [0, 72, 144, 216, 288];

/// Readings in each trace.
const ROWS: u32 = 60;

fn columns(list: &[Column]) -> Measured {
    Measured { columns: list.to_vec(), ..plain() }
}

fn with_angles() -> Measured {
    columns(&[Column::Other, Column::X, Column::Z, Column::Other])
}

fn scan(text: &str, measured: &Measured) -> Result<Scan, InputError> {
    read(text.as_bytes(), Path::new("scan.csv"), measured)
}

fn refusal(text: &str, measured: &Measured) -> String {
    match scan(text, measured) {
        Ok(scan) => panic!("read as one line of {} readings", scan.points.len()),
        Err(fault) => fault.to_string(),
    }
}

fn height(x: f64, angle: u32) -> f64 {
    -0.002 * (x - 95.0).powi(2) + 0.25 * f64::from(angle).to_radians().cos()
}

fn at(i: u32) -> f64 {
    80.0 + f64::from(i)
}

/// One row of each trace and radius, in the order of the angles.
fn rows(row: impl Fn(f64, f64, u32) -> String) -> Vec<String> {
    let of = |angle: u32| (0..ROWS).map(move |i| (at(i), angle));
    ANGLES.into_iter().flat_map(of).map(|(x, angle)| row(x, height(x, angle), angle)).collect()
}

fn beside_angle(x: f64, z: f64, angle: u32) -> String {
    format!("7;{x};{z:.4};{angle}\n")
}

fn bare(x: f64, z: f64, _: u32) -> String {
    format!("{x};{z:.4}\n")
}

/// A header at the top of every page parts no trace, and neither does a stray record in its midst; a header before each trace does.
#[test]
fn a_header_within_a_trace_parts_none() {
    let page = |rows: &[String], stray: &str| {
        let (top, rest) = rows.split_at(rows.len() / 3);
        [&top.concat(), "x;z\n", &rest[..5].concat(), stray, &rest[5..].concat()].concat()
    };
    let all = rows(bare);
    for stray in ["", "0;0\n"] {
        let one = ["x;z\n", &page(&all[..60], stray)].concat();
        assert_eq!(scan(&one, &plain()).map(|s| s.points.len()).ok(), Some(60), "{stray}");
        for before in ["x;z\n", "\n", "\nx;z\n"] {
            let five: String = all.chunks(60).map(|trace| [before, &page(trace, stray)].concat()).collect();
            let text = ["x;z\n", &five].concat();
            let said = refusal(&text, &plain());
            assert!(said.contains("5 traces over the same radii"), "{before:?}: {said}");
            for (i, angle) in (1..).zip(ANGLES) {
                let name = format!("{i}");
                let trace = read_trace(text.as_bytes(), Path::new("scan.csv"), &plain(), Some(&name));
                let trace = trace.unwrap_or_else(|f| panic!("{f}"));
                let expected: Vec<f64> = (0..ROWS).map(|i| height(at(i), angle)).collect();
                let near = trace.points.iter().zip(&expected).all(|(p, z)| (p.z - z).abs() < 1e-4);
                assert!(near && trace.points.len() == expected.len(), "{before:?} {name}");
            }
        }
    }
}

/// A summary below, of a mean radius in the middle of the way, hides nothing: neither one that is known nor one that is not.
#[test]
fn a_summary_below_does_not_hide_that_a_column_tells_traces_apart() {
    let all = rows(beside_angle).concat();
    for below in ["", "mean;142.0;-8.5;144\n", "min;80;-2;0\nmax;139;0.3;288\n", "\nresult;100.0;-8.5;144\n"]
    {
        let said = refusal(&[&all, below].concat(), &with_angles());
        for piece in
            ["5 traces, told apart by column 4", "lines 1, 61, 121, 181, 241", "`trace`", "file of its own"]
        {
            assert!(said.contains(piece), "{below}: no `{piece}` in {said}");
        }
        let named = columns(&[Column::Other, Column::X, Column::Z, Column::Trace]);
        let one = read_trace([&all, below].concat().as_bytes(), Path::new("scan.csv"), &named, Some("72"));
        assert_eq!(one.map(|s| s.points.len()).ok(), Some(60), "{below}");
    }
}

/// The mean of all readings is none of them; but a column of words may hold such a word over the whole file.
#[test]
fn a_summary_below_the_readings_is_no_reading() {
    let named = columns(&[Column::Other, Column::X, Column::Z]);
    let below = "a;80;1\na;81;2\n\nMean;80.5;1.5\nstd dev;0.7;0.7\n# end\n";
    assert_eq!(scan(below, &named).map(|s| s.points.len()).ok(), Some(2));
    assert_eq!(scan("max;80;1\na;81;2\na;82;2\n", &named).map(|s| s.points.len()).ok(), Some(3));
}

#[test]
fn radii_that_begin_anew_again_and_again_are_several_traces() {
    let begins = [1, 61, 121, 181, 241];
    for inward in [false, true] {
        let mut all = rows(bare);
        if inward {
            all.reverse();
        }
        let text = all.concat();
        let said = refusal(&text, &plain());
        for piece in
            ["scan.csv:61:", "5 traces", "lines 1, 61, 121, 181, 241", "`trace: 1`", "file of its own"]
        {
            assert!(said.contains(piece), "no `{piece}` in {said}");
        }
        // The fix works.
        let mended = (1..).zip(&all).fold(String::new(), |mut text, (line, row)| {
            let gap = if begins.contains(&line) { "\n" } else { "" };
            let _ = write!(text, "{gap}{row}");
            text
        });
        let one = read_trace(mended.as_bytes(), Path::new("scan.csv"), &plain(), Some("2"));
        assert_eq!(one.map(|s| s.points.len()).ok(), Some(60));
    }
}

/// There and back, a stride back, a logger's empty records, a second sweep: one line, read as it was.
#[test]
fn one_line_measured_more_than_once_is_read() {
    let there: Vec<f64> = (0..ROWS).map(at).collect();
    let back: Vec<f64> = there.iter().rev().copied().collect();
    let to_and_fro = [there.clone(), back.clone(), there.clone(), back.clone()].concat();
    let twice = [there.clone(), there.clone()].concat();
    for radii in [there.clone(), to_and_fro, twice] {
        let text = radii.iter().fold(String::new(), |text, x| text + &bare(*x, height(*x, 0), 0));
        assert_eq!(scan(&text, &plain()).map(|s| s.points.len()).ok(), Some(radii.len()));
    }
    let mut empty = there.iter().map(|x| bare(*x, height(*x, 0), 0)).collect::<Vec<_>>();
    for i in [50, 40, 30, 20] {
        empty.insert(i, "0;0\n".to_owned());
    }
    let read = scan(&empty.concat(), &plain());
    assert_eq!(read.map(|s| (s.points.len(), s.missing.len())).ok(), Some((60, 4)));
}

/// The same rows sorted by radius, with the column that tells them apart and without it.
#[test]
fn several_heights_at_each_radius_are_several_traces() {
    let sorted = |row: fn(f64, f64, u32) -> String| {
        let of = |i: u32| ANGLES.into_iter().map(move |angle| (at(i), angle));
        (0..ROWS).flat_map(of).map(|(x, angle)| row(x, height(x, angle), angle)).collect::<String>()
    };
    let said = refusal(&sorted(bare), &plain());
    for piece in ["5 heights at each radius", "sorted by radius", "lines 1, 2, 3, 4, 5", "file of its own"] {
        assert!(said.contains(piece), "no `{piece}` in {said}");
    }
    let text = sorted(beside_angle) + "mean;109.5;-1.2;144\n";
    let said = refusal(&text, &with_angles());
    assert!(said.contains("told apart by column 4") && said.contains("`trace`"), "{said}");
    let named = columns(&[Column::Other, Column::X, Column::Z, Column::Trace]);
    let one = read_trace(text.as_bytes(), Path::new("scan.csv"), &named, Some("72"));
    assert_eq!(one.map(|s| s.points.len()).ok(), Some(60));
}

/// A sensor that writes faster than the slide moves holds several heights at each radius too: their scatter is noise, and a hand that
/// goes now faster, now slower holds now more of them, now fewer.
#[test]
fn noise_at_each_radius_is_one_line() {
    let mut dice = super::hand::Dice::new(71);
    for noise in [0.0, 0.01, 0.2] {
        let mut text = String::new();
        for i in 0..300 {
            for _ in 0..5 {
                let x = 80.0 + 0.2 * f64::from(i);
                text += &bare(x, height(x, 0) + noise * dice.normal(), 0);
            }
        }
        assert_eq!(scan(&text, &plain()).map(|s| s.points.len()).ok(), Some(1500), "{noise}");
    }
}

/// Round the wheel an angle begins anew with every turn.
#[test]
fn several_turns_of_a_ring_are_one_measurement() {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let file = folder.path().join("ring.csv");
    let turn = (0..36).map(|i| format!("{};{}\n", 10 * i, 0.1 + 0.01 * f64::from(i % 7)));
    let turn = turn.collect::<Vec<_>>().concat();
    std::fs::write(&file, turn.repeat(4)).unwrap_or_else(|e| panic!("{e}"));
    let ring = TurnReadings { at: Length::mm(200.0), source: RingSource::Scan { file, named: None } };
    let read = open_all(&Measured { turn: vec![ring], lines: Vec::new(), ..plain() });
    match read {
        Ok(read) => assert_eq!(read.rings.iter().map(|r| r.heights.len()).collect::<Vec<_>>(), [144]),
        Err(fault) => panic!("{fault}"),
    }
}

/// The headings, and how a pair of readings is written by its number and height.
type Layout = (&'static str, fn(u32, f64) -> String);

/// A scan round the wheel says itself which column holds the angle, in which unit the heights are, and which way they grow: nobody is
/// asked for it, and no key of the job could say it. Without headings it is angle and height.
#[test]
fn a_ring_is_read_by_its_headings() {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let file = folder.path().join("ring.csv");
    let height = |i: u32| 0.25 + 0.01 * f64::from(i % 7);
    let read = |head: &str, row: fn(u32, f64) -> String| {
        let rows = (0..36).map(|i| row(i, height(i)) + "\n").collect::<String>();
        std::fs::write(&file, [head, "\n", &rows].concat()).unwrap_or_else(|e| panic!("{e}"));
        let source = RingSource::Scan { file: file.clone(), named: None };
        let ring = TurnReadings { at: Length::mm(200.0), source };
        open_all(&Measured { turn: vec![ring], lines: Vec::new(), ..plain() })
    };
    let pair: fn(u32, f64) -> String = |i, z| format!("{};{z:.3}", 10 * i);
    let layouts: &[Layout] = &[
        ("", pair),
        ("Angle;Height", pair),
        ("angle (deg);height (mm)", pair),
        ("# Angle [°];z [mm]", pair),
        ("Winkel (Grad);Höhe (mm)", pair),
        ("Height (um);Angle (deg)", |i, z| format!("{:.0};{}", 1000.0 * z, 10 * i)),
        ("Point;Angle (deg);Radius (mm);Distance (mm)", |i, z| format!("{i};{};200;{:.3}", 10 * i, -z)),
    ];
    for (head, row) in layouts {
        let rings = read(head, *row).map_or_else(|fault| panic!("{head}: {fault}"), |read| read.rings);
        let heights = &rings[0].heights;
        assert_eq!(heights.len(), 36, "{head}");
        for ((angle, z), i) in heights.iter().zip(0_u32..) {
            assert!((angle.to_degrees() - 10.0 * f64::from(i)).abs() < 1e-9, "{head}: {angle}");
            assert!((z - height(i)).abs() < 1e-9, "{head}: {z} for {}", height(i));
        }
    }
    for (head, row, piece) in [
        ("Angle (rad);Height (mm)", pair, "export the angles in degrees"),
        (
            "",
            (|i, z| format!("{i};{};{z:.3}", 10 * i)) as fn(u32, f64) -> String,
            "put a line over them that names both",
        ),
    ] {
        let fault = read(head, row).expect_err(head).to_string();
        assert!(fault.contains(piece), "{head}: {fault}");
    }
}
