//! The scan reader: what it reads, and what each fault says.

use super::plain;
use facewright::diagnostics::InputError;
use facewright::job::{Column, HeightSense, LengthUnit, Measured, ScanLine, XMeaning};
use facewright::scan::reader::{Scan, read};
use facewright::scan::{ScanError, open_all};
use facewright::units::{Angle, Length};
use proptest::prelude::*;
use std::path::Path;

fn scan(text: &str, measured: &Measured) -> Result<Scan, InputError> {
    read(text.as_bytes(), Path::new("scan.csv"), measured)
}

fn pairs(text: &str, measured: &Measured) -> Vec<(f64, f64)> {
    match scan(text, measured) {
        Ok(s) => s.points.iter().map(|p| (p.x, p.z)).collect(),
        Err(fault) => panic!("{fault}"),
    }
}

fn fault(text: &str) -> InputError {
    match scan(text, &plain()) {
        Ok(s) => panic!("read as {s:?}"),
        Err(fault) => fault,
    }
}

const TWO: [(f64, f64); 2] = [(80.5, -1.25), (81.0, 0.002)];

#[test]
fn every_separator_and_mark_gives_the_same_points() {
    for text in [
        "80.5,-1.25\n81,2e-3\n",
        "80.5;-1.25\n81;0.002\n",
        "80.5\t-1.25\n81\t0.002",
        "80.5 -1.25\n81 0.002\n",
        "  80.5    -1.25  \r\n\r\n81   0.002 \r\n",
        "80,5;-1,25\n81;0,002\n",
        "80,5\t-1,25\n81,0\t2,0E-3\n",
        "80,5 -1,25\n81 0,002\n",
        "80.5, -1.25\n81.0 , 0.002\n",
        "80.5 ;\t-1.25;\n81.0 ; 0.002 ;\n",
        "\u{FEFF}# scan 3\nx;z\n80.5;-1.25 # here\n \t \n81;0.002",
        "radius [mm], height [mm]\n80.5,-1.25\n81,0.002\n",
        "80.5 -1.25\r81 0.002\r",
        "+80.5;-1.25\n81.;.002",
        "a;b\nc;d\n80.5;-1.25\n81;0.002\n",
        "80.5;\"-1.25\"\n81;0.002\n",
    ] {
        assert_eq!(pairs(text, &plain()), TWO, "{text:?}");
    }
}

/// A name before each reading, as a column that is read over holds it, does not make an entry of a header of the first reading; an
/// entry that is followed by readings of another kind is none.
#[test]
fn the_first_reading_under_a_name_is_read() {
    let named = Measured { columns: vec![Column::Other, Column::X, Column::Z], ..plain() };
    for text in [
        "Mon 12:00:01;80.5;-1.25\nMon 12:00:02;81;0.002\n",
        "t=0.1 80.5 -1.25\nt=0.2 81 0.002\n",
        "a;80.5;-1.25\n# the next\n\nb;81;0.002\n",
        "Start;10;20\n1;80.5;-1.25\n2;81;0.002\n",
        "Range: 10 20\nRate: 30 40\n1 80.5 -1.25\n2 81 0.002\n",
    ] {
        assert_eq!(pairs(text, &named), TWO, "{text:?}");
    }
}

#[test]
fn lines_are_counted_from_one_through_comments_and_blanks() {
    let s = scan("# a\nx z\n\n80 1\n#b\n81 NaN\n82 2\n", &plain());
    let Ok(s) = s else { panic!("{s:?}") };
    assert_eq!(s.points.iter().map(|p| p.line).collect::<Vec<_>>(), [4, 7]);
    assert_eq!(s.missing.iter().map(|m| (m.line, m.x)).collect::<Vec<_>>(), [(6, Some(81.0))]);
}

#[test]
fn the_job_says_what_columns_hold() {
    let m = Measured {
        columns: vec![Column::Other, Column::Z, Column::X, Column::Other],
        x: XMeaning::Diameter,
        unit: LengthUnit::Inch,
        z: HeightSense::Distance,
        x_offset: Length::mm(1.5),
        ..plain()
    };
    // 25.4 mm to the inch (NIST SP 811): a diameter of 10 in is a radius of 127 mm.
    let got = pairs("12:01;-0.5;10;ok\n12:02;1;12;#\n", &m);
    for (a, b) in got.iter().zip([(128.5, 12.7), (153.9, -25.4)]) {
        assert!((a.0 - b.0).abs() < 1e-12 && (a.1 - b.1).abs() < 1e-12, "{got:?}");
    }
    assert_eq!(got.len(), 2);
}

#[test]
fn drop_outs_are_kept_apart() {
    let m = plain();
    for gone in [
        "",
        "NaN",
        "nan",
        "-inf",
        "inf",
        "---",
        "-999",
        "-999.0",
        "9999",
        "-32768",
        "1.#QNAN",
        "-1.#IND00",
        "-nan(ind)",
        "#N/A",
        "***",
        "n/a",
    ] {
        let text = format!("80;1\n81;{gone}\n82;2\n");
        let s = scan(&text, &m);
        let Ok(s) = s else { panic!("{gone}: {s:?}") };
        assert_eq!((s.points.len(), s.missing.len()), (2, 1), "{gone}");
    }
    let s = scan("80;1\n;1\n82;2\n;\n", &m);
    assert!(s.is_ok_and(|s| s.missing.iter().all(|m| m.x.is_none()) && s.missing.len() == 2));
}

#[test]
fn faults_name_their_place_and_the_fix() {
    // text, line, column, part of what was found, part of the fix
    for (text, line, column, found, fix) in [
        ("80;1\n81;l.5\n", 2, 4, "l.5", "mend the line"),
        ("80;1\n81;1.5mm\n", 2, 4, "1.5mm", "unit stands in the job"),
        ("80;1\n  81 ; '2'\n", 2, 8, "'2'", "quotation marks"),
        ("80;1\n81\n", 2, 3, "1 column in `81`", "columns"),
        ("80 1\n81\n", 2, 3, "1 column in `81`", "columns"),
        ("80;1;5\n", 1, 5, "3 columns", "`other`"),
        ("80,5,1,25\n81,5,1,25\n", 1, 5, "4 columns", "semicolons"),
        ("80,5, 1,25\n", 1, 5, "4 columns", "semicolons"),
        ("80,5 ,1 25\n", 1, 1, "80,5 ,1 25", "semicolons"),
        ("80;1\n-81;1\n", 2, 1, "negative x -81", "outward"),
        ("80.5;1\n81,5;1\n", 2, 1, "81,5", "one decimal mark"),
        ("80,5;1\n81.5;1\n", 2, 1, "81.5", "one decimal mark"),
        ("80;1.234,5\n", 1, 4, "1.234,5", "thousands"),
        ("80;1,234.5\n", 1, 4, "1,234.5", "thousands"),
        ("80;1,234,5\n", 1, 4, "1,234,5", "thousands"),
        ("a;b\n80;d\n80;1\n", 2, 4, "d", "#"),
        ("z;x\n80;1\n", 1, 1, "`z` over column 1", "columns"),
        ("diameter;z\n80;1\n", 1, 1, "`diameter`", "`x: diameter`"),
        ("x [in];z [in]\n80;1\n", 1, 1, "inches", "job"),
        ("3200;1\n", 1, 1, "3200", "`unit`"),
        ("", 0, 0, "an empty scan", "measure"),
        ("80;1\n81;1.#PIC\n", 2, 4, "1.#PIC", "bare number"),
        ("# only a comment\n\n", 0, 0, "an empty scan", "measure"),
        ("x;z\n80;1\n", 2, 1, "a single measured point", "measure"),
        ("80;NaN\n81;\n", 1, 1, "no measured point; 2 lines", "measure"),
        ("80 µ\n81 1\n", 1, 4, "µ", "mend"),
    ] {
        let f = fault(text);
        assert_eq!((f.line, f.column), (line, column), "{text:?}: {f}");
        assert!(f.found.contains(found), "{text:?}: {f}");
        assert!(f.fix.contains(fix), "{text:?}: {f}");
        assert_eq!(f.file, Path::new("scan.csv"));
    }
}

#[test]
fn a_column_is_counted_in_characters_and_controls_are_not_shown() {
    let m = Measured { columns: vec![Column::Other, Column::X, Column::Z], ..plain() };
    let f = scan("früh;80;\u{1b}[2J\n", &m);
    assert!(f.is_err_and(|f| f.column == 9 && !f.to_string().contains('\u{1b}')));
}

#[test]
fn an_offset_that_moves_a_radius_below_zero_is_named() {
    let m = Measured { x_offset: Length::mm(-5.0), ..plain() };
    assert!(scan("4;1\n80;1\n", &m).is_err_and(|f| f.fix.contains("x_offset")));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// Whatever stands in a file, the reader ends with points or a fault that names a line of it.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(
        prop_oneof![Just(b'\n'), Just(b';'), Just(b','), Just(b'.'), Just(b' '), Just(b'-'), Just(b'8'), Just(b'#'), any::<u8>()], 0..200)) {
        let lines = bytes.iter().filter(|&&b| b == b'\n' || b == b'\r').count() + 1;
        match read(&bytes, Path::new("s"), &plain()) {
            Ok(s) => prop_assert!(s.points.iter().all(|p| p.x >= 0.0 && p.x.is_finite() && p.z.is_finite())),
            Err(f) => prop_assert!(f.line <= lines && !f.found.is_empty() && !f.fix.is_empty()),
        }
    }

    /// Numbers come back to the bit, however the file is laid out.
    #[test]
    fn numbers_come_back(points in proptest::collection::vec((0.0..999.0_f64, -899.0..899.0_f64), 2..40),
                         layout in 0..5_usize, comma in any::<bool>(), crlf in any::<bool>(), header in any::<bool>()) {
        let sep = [";", "\t", " ", " ; ", ","][layout];
        let comma = comma && sep != ",";
        let end = if crlf { "\r\n" } else { "\n" };
        let mut text = String::new();
        if header { text = ["x", sep, "z", end].concat(); }
        for (x, z) in &points {
            let row = format!("{x:?}{}{z:?}", if comma { "|" } else { sep });
            let row = if comma { row.replace('.', ",").replace('|', sep) } else { row };
            text += &row;
            text += end;
        }
        prop_assert_eq!(pairs(&text, &plain()), points);
    }
}

/// The lines are read side by side; a file that is missing is found out long before a fault at the end of a long scan.
#[test]
fn faulty_lines_are_all_told_in_the_jobs_order() {
    let folder = tempfile::tempdir().unwrap_or_else(|e| panic!("{e}"));
    let line = |name: &str, text: Option<String>| {
        let file = folder.path().join(name);
        if let Some(text) = text {
            std::fs::write(&file, text).unwrap_or_else(|e| panic!("{e}"));
        }
        ScanLine { file, at: Angle::deg(0.0), trace: None, named: None }
    };
    let sound =
        (0..20_000).map(|i| format!("{},0", 70.0 + 0.005 * f64::from(i))).collect::<Vec<_>>().join("\n");
    let lines = vec![
        line("sound.csv", Some(sound.clone())),
        line("late.csv", Some(sound + "\noops,0\n")),
        line("missing.csv", None),
    ];
    let found = |lines| open_all(&Measured { lines, ..plain() });
    let told = |lines: Vec<ScanLine>| {
        let Err(ScanError::Several(errors)) = found(lines) else { panic!("not told") };
        let file = |error: &ScanError| match error {
            ScanError::Input(fault) => fault.file.clone(),
            ScanError::Unreadable { file, .. } => file.clone(),
            ScanError::Several(_) => panic!("several within several"),
        };
        errors
            .iter()
            .map(|e| file(e).file_name().map(ToOwned::to_owned).unwrap_or_default())
            .collect::<Vec<_>>()
    };
    assert_eq!(told(lines.clone()), ["late.csv", "missing.csv"]);
    assert_eq!(told(lines.iter().rev().cloned().collect()), ["missing.csv", "late.csv"]);
    assert!(matches!(found(lines[..2].to_vec()), Err(ScanError::Input(f)) if f.file.ends_with("late.csv")));
    assert_eq!(found(lines[..1].to_vec()).map(|found| found.lines.len()).ok(), Some(1));
}
