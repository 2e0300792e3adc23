//! Numbers by which sensors say that they saw nothing, in every unit: common practice, no source.

use super::plain;
use facewright::job::{LengthUnit, Measured};
use facewright::scan::{clean, reader};
use std::fmt::Write;
use std::path::Path;

const READINGS: usize = 300;

/// A gentle face between radius 70 mm and 106 mm, some micrometres of it noise, in units of which one is so many millimetres long.
fn height(i: usize, unit: f64) -> f64 {
    let noise = ((i * 7919) % 101) as f64 / 101.0 - 0.5;
    (2.0 + 0.5 * (i as f64 / 60.0).sin() + 0.02 * noise) / unit
}

/// The readings with a mark in place of some heights.
fn text(mark: &str, marked: &[usize], unit: f64) -> String {
    (0..READINGS).fold(String::new(), |mut text, i| {
        let x = 70.0 + 0.12 * i as f64;
        if marked.contains(&i) {
            let _ = writeln!(text, "{x:.3},{mark}");
        } else {
            let _ = writeln!(text, "{x:.3},{:.4}", height(i, unit));
        }
        text
    })
}

/// At both ends of the line, where no spike could be told from the face, and alone in its middle: each mark is a drop-out, in whatever
/// unit it would be a height that a wheel may have.
#[test]
fn marks_are_drop_outs_in_every_unit() {
    let marked = [0, 1, 130, 297, 298, 299];
    for (z_unit, unit) in [
        (LengthUnit::Millimetre, 1.0),
        (LengthUnit::Micrometre, 0.001),
        (LengthUnit::Mil, 0.0254),
        (LengthUnit::Inch, 25.4),
    ] {
        let measured = Measured { z_unit: Some(z_unit), ..plain() };
        for mark in
            ["-999", "9999", "-999.99", "-9999", "99999", "999.9", "NaN", "-99.99", "-99.9", "-99", "-9.99"]
        {
            let text = text(mark, &marked, unit);
            let scan = reader::read(text.as_bytes(), Path::new("scan.csv"), &measured);
            let cleaned = clean(&scan.unwrap_or_else(|f| panic!("{mark}: {f}")), 0.0);
            let (missing, sound) = (cleaned.cleaning.missing, &cleaned.line.readings);
            assert_eq!(missing, marked.len(), "{mark} in {z_unit:?}");
            assert_eq!(sound.len(), READINGS - marked.len(), "{mark} in {z_unit:?}");
            let first = sound.iter().find(|r| !r.suspect).map(|r| r.x);
            let last = sound.iter().rev().find(|r| !r.suspect).map(|r| r.x);
            assert!(first.is_some_and(|x| (x - 70.24).abs() < 1e-9), "{mark} in {z_unit:?}: {first:?}");
            assert!(last.is_some_and(|x| (x - 105.52).abs() < 1e-9), "{mark} in {z_unit:?}: {last:?}");
        }
    }
}

/// In a small unit a mark may lie a tenth of a millimetre off the face, where an edge could be. Whatever stands at a line's end, once
/// or twice, is no face; that it is one at all could be seen only beyond it.
#[test]
fn a_mark_near_the_face_is_no_face_at_a_lines_end() {
    for (z_unit, unit) in [(LengthUnit::Micrometre, 0.001), (LengthUnit::Mil, 0.0254)] {
        let measured = Measured { z_unit: Some(z_unit), ..plain() };
        for (mark, value) in
            [("-99.99", -99.99), ("99.9", 99.9), ("99", 99.0), ("-9.99", -9.99), ("9.9", 9.9), ("0", 0.0)]
        {
            for off in [-0.5, -0.2, -0.1, -0.08, 0.08, 0.1, 0.2, 0.5] {
                for count in [1, 2, 3] {
                    // The face's ends lie so far off the mark.
                    let face = |i: usize| height(i, unit) + value + (off - 2.0) / unit;
                    let text = (0..READINGS).fold(String::new(), |mut text, i| {
                        let x = 70.0 + 0.12 * i as f64;
                        let first = i < count;
                        let _ = if first {
                            writeln!(text, "{x:.3},{mark}")
                        } else {
                            writeln!(text, "{x:.3},{:.4}", face(i))
                        };
                        text
                    });
                    let scan = reader::read(text.as_bytes(), Path::new("scan.csv"), &measured);
                    let cleaned = clean(&scan.unwrap_or_else(|f| panic!("{mark}: {f}")), 0.0);
                    let what = format!("{count} of {mark} {off} mm off the face in {z_unit:?}");
                    assert_eq!(cleaned.cleaning.missing, count, "{what}");
                    assert_eq!(cleaned.line.readings.len(), READINGS - count, "{what}");
                }
            }
        }
    }
}

/// A face that passes through such a number, or ends on it, keeps every reading.
#[test]
fn heights_that_are_written_as_marks_are_kept() {
    for (z_unit, unit, at) in [
        (LengthUnit::Micrometre, 0.001, 99.0),
        (LengthUnit::Micrometre, 0.001, -99.9),
        (LengthUnit::Micrometre, 0.001, 0.0),
        (LengthUnit::Mil, 0.0254, 9.9),
        (LengthUnit::Mil, 0.0254, -99.0),
    ] {
        let measured = Measured { z_unit: Some(z_unit), ..plain() };
        let digits = usize::from(at != f64::round(at));
        for middle in [0, 1, 150, READINGS - 2, READINGS - 1] {
            let face = |i: usize| at + height(i, unit) - height(middle, unit);
            let text = (0..READINGS).fold(String::new(), |mut text, i| {
                let _ = writeln!(text, "{:.3},{:.digits$}", 70.0 + 0.12 * i as f64, face(i));
                text
            });
            assert!(text.contains(&format!(",{at:.digits$}\n")), "no {at}: {text}");
            let scan = reader::read(text.as_bytes(), Path::new("scan.csv"), &measured);
            let cleaned = clean(&scan.unwrap_or_else(|f| panic!("{f}")), 0.0);
            assert_eq!(
                (cleaned.cleaning.missing, cleaned.line.readings.len()),
                (0, READINGS),
                "{at} in {z_unit:?}"
            );
        }
    }
}

/// A height written in nines that lies on the face is a reading.
#[test]
fn nines_on_the_face_are_heights() {
    let measured = Measured { z_unit: Some(LengthUnit::Micrometre), ..plain() };
    let face =
        |i: usize| 999.0 + 30.0 * ((i as f64 / 40.0).sin() + 0.1 * (((i * 7919) % 101) as f64 / 101.0 - 0.5));
    let text = (0..READINGS).fold(String::new(), |mut text, i| {
        let _ = writeln!(text, "{:.3},{:.1}", 70.0 + 0.12 * i as f64, face(i));
        text
    });
    assert!(text.contains(",999.0") || text.contains(",999.9"), "no nines: {text}");
    let scan = reader::read(text.as_bytes(), Path::new("scan.csv"), &measured);
    let cleaned = clean(&scan.unwrap_or_else(|f| panic!("{f}")), 0.0);
    assert_eq!((cleaned.cleaning.missing, cleaned.line.readings.len()), (0, READINGS));
}

/// A sensor that saw nothing at first leaves the height behind the tab empty: the tab parts the columns all the same.
#[test]
fn a_first_height_that_is_empty_does_not_hide_the_separator() {
    for rows in ["70.5\t\n70.6\t\n70.7\t1.25\n70.8\t1.26\n", "70,5\t\n70,6\t\n70,7\t1,25\n70,8\t1,26\n"] {
        for above in ["", "Operator;K. Dahl\n", "x\tz\n"] {
            let text = [above, rows].concat();
            let scan = reader::read(text.as_bytes(), Path::new("scan.csv"), &plain());
            let scan = scan.unwrap_or_else(|f| panic!("{text}: {f}"));
            let points: Vec<[f64; 2]> = scan.points.iter().map(|p| [p.x, p.z]).collect();
            assert_eq!((points, scan.missing.len()), (vec![[70.7, 1.25], [70.8, 1.26]], 2), "{text}");
        }
    }
}
