//! Text for people in the units of their shop: lengths, feeds and speeds that a text gives in millimetres, given in inches.
//!
//! Everything inside is in millimetres, and so is every text as it is composed. In a shop whose control counts inches each number that stands before
//! a metric unit is turned into its inch unit where the text goes out: `0.100 mm` becomes `0.0039 in`. One place more than the
//! millimetres had keeps nearly their resolution, as shops have it (0.001 mm and 0.0001 in); where three figures would not be left, as many as give
//! them. A range `70 to 204 mm` has both its numbers turned. What is quoted as it must be written into a file, between backticks, stays: there either
//! unit may stand.
//!
//! Limits: a number whose unit stands elsewhere, as in the head of a table, is not seen.

use super::text::{MM_PER_FOOT, in_full_places};
use super::{Length, MM_PER_INCH};

/// Metric units with their inch units and what one of these is in the metric one; a longer unit before what it begins with.
const UNITS: [(&str, &str, f64); 8] = [
    ("mm/rev", "in/rev", MM_PER_INCH),
    ("mm/min", "in/min", MM_PER_INCH),
    ("mm", "in", MM_PER_INCH),
    ("m/min", "ft/min", MM_PER_FOOT / 1000.0),
    ("um", "uin", MM_PER_INCH / 1000.0),
    ("µm", "µin", MM_PER_INCH / 1000.0),
    ("m", "ft", MM_PER_FOOT / 1000.0),
    ("cm3", "in3", MM_PER_INCH * MM_PER_INCH * MM_PER_INCH / 1000.0),
];

/// Figures that are left of every number, where it has them.
const FIGURES: i32 = 3;
/// As many places as a shop reads its inches with: more are not added for the sake of figures.
const USUAL_PLACES: i32 = 4;
/// No number has more decimal places: a thousandth of a thousandth of an inch is less than any sensor tells.
const MOST_PLACES: i32 = 6;

/// A text with every metric quantity in inch units.
#[must_use]
pub fn in_inches(text: &str) -> String {
    outside_quotes(text, 0)
}

/// A text that names positions, as the plain words of a block do, with every metric quantity in inch units. A position may be written
/// without the zeros at its end, so its places do not tell how exactly it is known: `71 mm` becomes `2.7953 in`.
#[must_use]
pub fn positions_in_inches(text: &str) -> String {
    outside_quotes(text, USUAL_PLACES)
}

/// Turns what is not quoted; lengths have so many decimal places at least.
fn outside_quotes(text: &str, least: i32) -> String {
    let part = |(i, part): (usize, &str)| if i % 2 == 1 { part.to_owned() } else { turned(part, least) };
    text.split('`').enumerate().map(part).collect::<Vec<_>>().join("`")
}

/// A name as its file has it, in a text that [`in_inches`] may turn: between backticks where it would be changed itself.
///
/// A backtick of its own would end what is quoted, or begin it: it becomes an apostrophe.
#[must_use]
pub fn name_as_written(name: &str) -> String {
    let name = name.replace('`', "'");
    if in_inches(&name) == name { name } else { format!("`{name}`") }
}

/// A text for a shop: as it is, or in inches.
#[must_use]
pub fn for_shop(text: String, inches: bool) -> String {
    if inches { in_inches(&text) } else { text }
}

/// A length in a shop's unit as it is: with every place that its file may have given it, as a nose of 1/32 in or of 0.4 mm, and no more.
/// [`in_inches`] leaves it.
#[must_use]
pub fn as_it_is(length: Length, inches: bool) -> String {
    if inches { format!("{} in", in_full_places(length.as_mm() / MM_PER_INCH)) } else { length.to_string() }
}

fn turned(text: &str, least: i32) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(number) = next_number(rest) {
        let Number { start, end } = number;
        let (before, from) = rest.split_at_checked(start).unwrap_or((rest, ""));
        let written = from.get(..end - start).unwrap_or_default();
        let after = rest.get(end..).unwrap_or_default();
        out.push_str(before);
        let of_range = after.strip_prefix(" to ").and_then(|a| {
            let second = next_number(a).filter(|n| n.start == 0)?;
            unit_after(a.get(second.end..)?)
        });
        if let Some(unit) = unit_after(after) {
            put(&mut out, written, unit, least);
            out.push(' ');
            out.push_str(unit.1);
            rest = after.trim_start_matches(' ').get(unit.0.len()..).unwrap_or_default();
        } else if let Some(unit) = of_range {
            put(&mut out, written, unit, least);
            rest = after;
        } else {
            out.push_str(written);
            rest = after;
        }
    }
    out.push_str(rest);
    out
}

/// Writes a number in the other unit. A blank is taken off a column for each place that it grows by, but not between the word at the
/// beginning of a line and what is said under it.
fn put(out: &mut String, written: &str, (metric, inch, size): (&str, &str, f64), least: i32) {
    let Ok(value) = written.parse::<f64>() else {
        out.push_str(written);
        return;
    };
    let value = value / size;
    let places = written.split_once('.').map_or(0, |(_, p)| i32::try_from(p.len()).unwrap_or(MOST_PLACES));
    #[allow(clippy::cast_possible_truncation)] // The logarithm of a finite number.
    let leading = if value == 0.0 { 0 } else { value.abs().log10().floor() as i32 + 1 };
    // From a thousandth of an inch up the usual places leave two figures or more.
    let most = if leading > -3 && metric.starts_with("mm") { USUAL_PLACES } else { MOST_PLACES };
    let least = if metric == "mm" { least } else { 0 };
    let figures = (FIGURES - leading).min(USUAL_PLACES);
    let places = match metric {
        // Roughness is told in whole millionths, way in whole feet; a figure more where there is one only.
        "um" | "µm" | "m" => i32::from(leading < 2),
        _ if value == 0.0 && places == 0 && least == 0 => 0,
        // What is there must not look like nothing.
        _ => (places + 1).max(figures).max(least).min(most).max((1 - leading).min(MOST_PLACES)),
    };
    let places = usize::try_from(places).unwrap_or(0);
    let sign = if written.starts_with('+') { "+" } else { "" };
    let number = format!("{sign}{value:.places$}");
    let longer = (number.len() + inch.len()).saturating_sub(written.len() + metric.len());
    let line = out.rfind('\n').map_or(0, |end| end + 1);
    let after_word = out
        .get(line..)
        .is_some_and(|line| line.starts_with(char::is_alphabetic) && !line.trim_end().contains(' '));
    for _ in 0..longer {
        if after_word || !out.ends_with("  ") {
            break;
        }
        out.pop();
    }
    out.push_str(&number);
}

struct Number {
    start: usize,
    end: usize,
}

/// The next number that begins no word and is none's part.
fn next_number(text: &str) -> Option<Number> {
    let bytes = text.as_bytes();
    let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    let mut i = 0;
    while i < bytes.len() {
        if !digit(i) {
            i += 1;
            continue;
        }
        let before = i.checked_sub(1).and_then(|b| bytes.get(b));
        let signed = before.is_some_and(|b| matches!(b, b'-' | b'+'));
        let start = i - usize::from(signed);
        let mut end = i;
        while digit(end) || (bytes.get(end) == Some(&b'.') && digit(end + 1)) {
            end += 1;
        }
        let left = start.checked_sub(1).and_then(|b| bytes.get(b));
        let free = left.is_none_or(|b| !b.is_ascii_alphanumeric() && *b != b'.' && *b != b'_');
        let one = text.get(start..end).is_some_and(|n| n.matches('.').count() < 2);
        if free && one {
            return Some(Number { start, end });
        }
        i = end;
    }
    None
}

/// The unit that a text begins with, after a blank or none.
fn unit_after(text: &str) -> Option<(&'static str, &'static str, f64)> {
    let text = text.strip_prefix(' ').unwrap_or(text);
    UNITS.into_iter().find(|(metric, ..)| {
        text.strip_prefix(metric)
            .is_some_and(|rest| !rest.starts_with(|c: char| c.is_ascii_alphanumeric() || c == '/'))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn quantities_are_turned_and_nothing_else() {
        for (metric, inch) in [
            ("0.100 mm deep", "0.0039 in deep"),
            ("radius 216.0 mm", "radius 8.50 in"),
            ("from radius 70 to 204 mm, else", "from radius 2.76 to 8.03 in, else"),
            (
                "from radius 70 to 204 mm and from 210 to 215 mm",
                "from radius 2.76 to 8.03 in and from 8.27 to 8.46 in",
            ),
            ("0.2 mm/rev at 280 m/min", "0.0079 in/rev at 918.6 ft/min"),
            ("Rz 2.00 um", "Rz 79 uin"),
            ("Ra 0.05 um", "Ra 2.0 uin"),
            ("  339 m 0.6 m", " 1112 ft 2.0 ft"),
            ("metal    0.456 mm off", "metal    0.0180 in off"),
            ("spindle  0.1 mm  0.456 mm", "spindle  0.0039 in 0.0180 in"),
            ("zero +1.850 mm", "zero +0.0728 in"),
            ("write `run_out: 0.08 mm`", "write `run_out: 0.08 mm`"),
            ("650 rpm, 3 lines, 128 mmx, T1.5mm", "650 rpm, 3 lines, 128 mmx, T1.5mm"),
            ("  0.100 mm  0.200 mm", " 0.0039 in 0.0079 in"),
            ("1.0160 mm of 0.3302 mm", "0.0400 in of 0.0130 in"),
            ("0.0012 mm", "0.00005 in"),
            ("0.001 mm, 0 mm, 0.0 mm", "0.00004 in, 0 in, 0.000 in"),
        ] {
            assert_eq!(in_inches(metric), inch);
        }
    }

    #[test]
    fn positions_keep_their_places() {
        for (metric, inch) in [
            ("rapid to radius 71 mm, height -3.5 mm", "rapid to radius 2.7953 in, height -0.1378 in"),
            ("radius 76.2 mm, height 0 mm", "radius 3.0000 in, height 0.0000 in"),
            ("radius 70.875 mm at 0.2 mm/rev", "radius 2.7904 in at 0.0079 in/rev"),
        ] {
            assert_eq!(positions_in_inches(metric), inch);
        }
    }

    #[test]
    fn a_length_is_shown_as_it_is() {
        for (mm, inches, shown) in [
            (MM_PER_INCH / 32.0, true, "0.03125 in"),
            (MM_PER_INCH / 64.0, true, "0.015625 in"),
            (MM_PER_INCH, true, "1 in"),
            (0.0, true, "0 in"),
            (0.4, true, "0.015748 in"),
            (0.4, false, "0.4 mm"),
            (12.0, false, "12 mm"),
            (MM_PER_INCH / 32.0, false, "0.79375 mm"),
        ] {
            let text = as_it_is(Length::mm(mm), inches);
            assert_eq!(text, shown);
            assert!(!inches || in_inches(&text) == shown);
        }
    }

    #[test]
    fn a_name_is_not_turned() {
        for (name, told) in [
            ("17 mm x 430 mm rim", "`17 mm x 430 mm rim`, 0.0787 in"),
            ("17 x 7, ten spokes", "17 x 7, ten spokes, 0.0787 in"),
            ("3 mm ` deep", "`3 mm ' deep`, 0.0787 in"),
            ("`", "', 0.0787 in"),
        ] {
            assert_eq!(in_inches(&format!("{}, 2 mm", name_as_written(name))), told);
        }
    }

    proptest! {
        /// Read back, a number is what it was, to half of its last place: 25.4 mm are an inch exactly (NIST SP 811).
        #[test]
        fn a_number_is_what_it_was(value in -400.0..400.0f64) {
            let text = in_inches(&format!("{value:.3} mm"));
            let number = text.strip_suffix(" in").unwrap_or_default();
            let places = number.split_once('.').map_or(0, |(_, p)| p.len());
            let half = 0.5 * 10f64.powi(-i32::try_from(places).unwrap_or(0));
            let back = number.parse::<f64>().unwrap_or(f64::NAN);
            prop_assert!((back - value / 25.4).abs() <= half + 0.0005 / 25.4 + 1e-9, "{} became {}", value, text);
        }

        /// What is in inches stays so, and text without quantities is not touched; no text makes it fail.
        #[test]
        fn turning_twice_turns_nothing_more(text in "[0-9a-z .+`-]{0,40}") {
            let once = in_inches(&text);
            prop_assert_eq!(in_inches(&once), once.clone());
        }
    }
}
