//! What is guessed of a scan: what its headings say, and of the prose above them only what cannot mean another thing.

use facewright::job::{Column, HeightSense, LengthUnit, XMeaning};
use facewright::scan::guess::{Guess, guess};
use std::path::Path;

fn of(text: &str) -> Guess {
    match guess(text.as_bytes(), Path::new("scan.csv")) {
        Ok(guess) => guess,
        Err(fault) => panic!("{fault}"),
    }
}

const READINGS: &str = "80.5;-1.25\n81;0.002\n120;0.25\n";

#[test]
fn words_that_can_mean_another_thing_are_not_believed() {
    for above in [
        "measuring range 50",
        "search depth 5 of the probe",
        "dist to the chuck noted",
        "made by M. Smith",
        "made by R. Miller",
        "Operator;R. Miller",
        "Operator;M. Smith",
        "Range;50 mm/s",
        "spindle at 5 r/min, 3 m/s",
        "Probe: radio",
    ] {
        let guess = of(&[above, "\n", READINGS].concat());
        let said = (guess.x, guess.z, guess.unit, guess.z_unit);
        assert_eq!(said, (None, None, None, None), "{above}");
    }
}

#[test]
fn words_that_are_plain_are_believed() {
    let guess = of(&["# x is the radius, z the height; in millimetres\nx;z\n", READINGS].concat());
    let said = (guess.x.map(|x| x.0), guess.z.map(|z| z.0), guess.unit.map(|u| u.0));
    assert_eq!(said, (Some(XMeaning::Radius), Some(HeightSense::Height), Some(LengthUnit::Millimetre)));
}

#[test]
fn an_angle_in_radians_is_no_radius() {
    let guess = of("angle (rad);x (mm);z (mm)\n0.1;80.5;-1.25\n0.2;81;0.002\n0.3;120;0.25\n");
    assert_eq!(guess.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z]));
}

#[test]
fn what_an_axis_holds_is_heard_before_its_name() {
    let guess = of("X (diameter);Z (distance)\n161;1.25\n162;-0.002\n240;-0.25\n");
    let said = (guess.columns.map(|c| c.0), guess.x.map(|x| x.0), guess.z.map(|z| z.0));
    let expected = (Some(vec![Column::X, Column::Z]), Some(XMeaning::Diameter), Some(HeightSense::Distance));
    assert_eq!(said, expected);
}

/// Readings that each stand under a time of their own are no entries of a header.
#[test]
fn readings_under_a_name_of_their_own_are_readings() {
    let guess = of("Day;x;z\nMon 12:00:01;80.5;-1.25\nMon 12:00:02;81;0.002\nMon 12:00:03;120;0.25\n");
    assert_eq!(guess.first_row, "Mon 12:00:01;80.5;-1.25");
    assert_eq!(guess.reach, Some([80.5, 120.0, 39.0]));
    let guess = of("Range: 10 20\nRate: 30 40\n1 80.5 -1.25\n2 81 0.002\n");
    assert_eq!(guess.first_row, "1 80.5 -1.25");
}

/// Names and a row of units under them are heard together, each over its column.
#[test]
fn a_row_of_units_under_the_names_is_heard_with_them() {
    let guess = of("Depth;Durchmesser\nthou;mm\n1.25;80.5\n0.002;81\n0.25;120\n");
    assert_eq!(guess.columns.map(|c| c.0), Some(vec![Column::Z, Column::X]));
    assert_eq!(guess.x.map(|x| x.0), Some(XMeaning::Diameter));
    let units = (guess.unit.map(|u| u.0), guess.z_unit.map(|u| u.0));
    assert_eq!(units, (Some(LengthUnit::Millimetre), Some(LengthUnit::Mil)));
}

/// A unit of a row of units is that of its column, where no heading says which column that is.
#[test]
fn a_row_of_units_says_none_for_all_columns() {
    let guess = of("Angle\tTime\tPosition\tValue\n-\t-\tm\tmil\n0\t1\t0.0805\t1.25\n0\t2\t0.081\t0.002\n");
    assert_eq!((guess.unit, guess.z_unit), (None, None));
    let guess = of("Angle\tPosition\tValue\n-\tmm\tmm\n0\t80.5\t1.25\n0\t81\t0.002\n");
    assert_eq!(guess.unit.map(|u| u.0), Some(LengthUnit::Millimetre));
    let guess = of("_ in \",_ in mil\n3.5,-12\n3.6,4\n4.1,2\n");
    let units = (guess.unit.map(|u| u.0), guess.z_unit.map(|u| u.0));
    assert_eq!(units, (Some(LengthUnit::Inch), Some(LengthUnit::Mil)));
}

/// Of two columns without headings, in units that may differ, x is the one that runs on; heights in micrometres go farther than radii
/// in inches.
#[test]
fn x_is_the_column_that_runs_on() {
    let row = |i: i32| [3.0 + 0.005 * f64::from(i), 300.0 + f64::from((i * 37) % 101)];
    for (first, second, expected) in [(0, 1, [Column::X, Column::Z]), (1, 0, [Column::Z, Column::X])] {
        let text: String = (0..200)
            .map(row)
            .fold(String::new(), |text, r| text + &format!("{:.3}  {:.3}\n", r[first], r[second]));
        assert_eq!(of(&text).columns.map(|c| c.0), Some(expected.to_vec()));
    }
}

/// Empty columns at either end are columns; a last one only where it has a heading, since many programs end each row by a separator.
#[test]
fn columns_at_the_ends_may_be_empty() {
    let named = of("Line\tRadius\tHeight\tnote\n1\t80.5\t-1.25\t\n1\t81\t0.002\t\n");
    assert_eq!(named.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z, Column::Other]));
    let first = of("\tRadius\tHeight\n\t80.5\t-1.25\n\t81\t0.002\n");
    assert_eq!(first.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z]));
    let ended = of("Radius;Height;\n80.5;-1.25;\n81;0.002;\n");
    assert_eq!(ended.columns.map(|c| c.0), Some(vec![Column::X, Column::Z]));
}

/// What parts the rows parts the names: commas in the names over columns that blanks part are theirs, and the other way round.
#[test]
fn names_are_parted_as_the_rows_are() {
    let guess = of("Signal(%) radius_,_mm height_,_um\n92 80.5 -1250\n90 81 2\n90 120 250\n");
    assert_eq!(guess.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z]));
    let units = (guess.unit.map(|u| u.0), guess.z_unit.map(|u| u.0));
    assert_eq!(units, (Some(LengthUnit::Millimetre), Some(LengthUnit::Micrometre)));
    let guess = of("# Point radius,mm height,um\n1 80.5 -1250\n2 81 2\n3 120 250\n");
    assert_eq!(guess.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z]));
    let guess = of("signal of it, radius in mm, height in um\n92, 80.5, -1250\n90, 81, 2\n90, 120, 250\n");
    assert_eq!(guess.columns.map(|c| c.0), Some(vec![Column::Other, Column::X, Column::Z]));
}

/// A unit behind a number is that of the number, and two units in prose may be those of two columns; a line that says the unit is
/// heard before prose.
#[test]
fn a_unit_of_prose_is_believed_only_where_it_is_the_columns() {
    for (above, expected) in [
        ("all in mm", Some(LengthUnit::Millimetre)),
        ("! _ / thou,_ / m,Nr", None),
        ("Start;10;mm", None),
        ("Start: 10 mm", None),
        ("radii in mm and heights in um", None),
        ("probe of 2 inch, data in mm\nUnit: in", Some(LengthUnit::Inch)),
    ] {
        let unit = of(&[above, "\n", READINGS].concat()).unit.map(|u| u.0);
        assert_eq!(unit, expected, "{above}");
    }
}
