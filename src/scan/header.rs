//! What the lines above the readings say, held against what the job says: swapped columns would wreck a wheel.
//!
//! Column headings and units are understood in the words of `NAMES` and `UNITS`; every other line is passed over. A heading is
//! never believed against the job: the two must agree, or the scan is refused with both ways to make them agree. A line such as
//! `Operator; R. Miller` is no header because one word of it is known: [`names_columns`] says which lines are held against the job.

use super::dialect::is_number;
use crate::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};

/// A header and a job that contradict each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Contradiction {
    /// What the header says.
    pub found: String,
    /// What the job says.
    pub expected: String,
    /// What to write in the job, if the header is right.
    pub fix: String,
}

/// What a heading calls its column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Name {
    /// Across the face, as radius or diameter.
    Across,
    Radius,
    Diameter,
    /// Along the spindle.
    Along,
    Height,
    /// From the sensor to the face, or into the face: it grows toward the chuck.
    Distance,
}

/// Headings by their words, in small letters: English, German, French, Italian, Spanish.
const NAMES: &[(Name, &[&str])] = &[
    (Name::Across, &["x"]),
    (Name::Radius, &["r", "radius", "radial", "rayon", "raggio", "radio"]),
    (
        Name::Diameter,
        &["ø", "dia", "diam", "diameter", "durchmesser", "diamètre", "diametre", "diametro", "diámetro"],
    ),
    (Name::Along, &["z"]),
    (Name::Height, &["height", "höhe", "hoehe", "hauteur", "altezza", "altura"]),
    (
        Name::Distance,
        &[
            "distance",
            "dist",
            "depth",
            "range",
            "abstand",
            "tiefe",
            "profondeur",
            "profondità",
            "distanza",
            "distancia",
            "profundidad",
        ],
    ),
];

const UNITS: &[(LengthUnit, &[&str])] = &[
    (LengthUnit::Millimetre, &["mm", "millimetre", "millimetres", "millimeter", "millimeters"]),
    (
        LengthUnit::Micrometre,
        &["um", "µm", "μm", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers"],
    ),
    (LengthUnit::Centimetre, &["cm", "centimetre", "centimetres", "centimeter", "centimeters"]),
    (LengthUnit::Metre, &["m", "metre", "metres", "meter", "meters"]),
    (LengthUnit::Inch, &["in", "inch", "inches", "zoll", INCH_MARK]),
    (LengthUnit::Mil, &["mil", "mils", "thou", "thousandths"]),
];

/// The mark of an inch, as [`super::text`] leaves it.
const INCH_MARK: &str = "\u{2033}";

impl Name {
    /// Whether it is the name of a column of x.
    pub const fn is_x(self) -> bool {
        matches!(self, Self::Across | Self::Radius | Self::Diameter)
    }
}

/// The small words of a heading.
fn words(field: &str) -> Vec<String> {
    let text = field.replace(['\u{2205}', '\u{2300}', 'Ø'], "ø").replace('ø', " ø ").to_lowercase();
    let text = text.replace(INCH_MARK, &format!(" {INCH_MARK} "));
    text.split(|c: char| !c.is_alphanumeric() && !INCH_MARK.contains(c))
        .filter(|w| !w.is_empty())
        .map(str::to_owned)
        .collect()
}

/// What a heading calls its column, and its unit.
pub(super) fn heading(field: &str) -> (Option<Name>, Option<LengthUnit>) {
    meaning(&words(field))
}

fn meaning(words: &[String]) -> (Option<Name>, Option<LengthUnit>) {
    let names: Vec<Name> = words.iter().filter_map(|w| name_of(w)).collect();
    let across = names.contains(&Name::Across);
    // `Z (distance)` says more than `z` does; but an `x distance` is the way along the slide.
    let says_more = |n: &&Name| match n {
        Name::Across | Name::Along => false,
        Name::Distance => !across,
        Name::Radius | Name::Diameter | Name::Height => true,
    };
    let axis = |n: &&Name| matches!(n, Name::Across | Name::Along);
    let name = names.iter().find(says_more).or_else(|| names.iter().find(axis));
    let units: Vec<LengthUnit> = words.iter().filter_map(|w| unit_of(w)).collect();
    // "height in mm": the first is no unit.
    let unit = units.iter().find(|&&u| u != LengthUnit::Inch).or(units.first()).copied();
    (name.copied(), unit)
}

/// Words that prose uses in other senses than a heading does: a measuring range, the depth of a search, a radio link.
const LOOSE: &[&str] =
    &["range", "depth", "dist", "tiefe", "profondeur", "profondità", "profundidad", "radio"];

/// What a word of prose says of a column, and its unit: no single letter, which may be an initial, no word of [`LOOSE`], and no
/// part of a rate such as mm/s.
pub(super) fn prose(word: &str) -> (Option<Name>, Option<LengthUnit>) {
    if word.contains('/') {
        return (None, None);
    }
    let mut words = words(word);
    words.retain(|w| (w.chars().count() > 1 || w == "ø") && !LOOSE.contains(&w.as_str()));
    meaning(&words)
}

fn name_of(word: &str) -> Option<Name> {
    NAMES.iter().find(|(_, all)| all.contains(&word)).map(|n| n.0)
}

fn unit_of(word: &str) -> Option<LengthUnit> {
    UNITS.iter().find(|(_, all)| all.contains(&word)).map(|u| u.0)
}

/// Whether every field of a line is a known heading or unit, or ends in brackets with an unknown one where another is known.
fn is_header(fields: &[String]) -> bool {
    let known = |f: &String| heading(f) != (None, None);
    fields.iter().all(|f| (known(f) || unknown_unit(f).is_some()) && !is_value(f)) && fields.iter().any(known)
}

/// What stands in the brackets of a heading where a unit would, and is none that is known: `foo` of `Height (foo)`.
pub(super) fn unknown_unit(field: &str) -> Option<&str> {
    let (before, rest) = field.split_once(['(', '['])?;
    let (inside, _) = rest.split_once([')', ']'])?;
    let all = words(inside);
    let known = |w: &String| name_of(w).is_some() || unit_of(w).is_some();
    let of_words = |text: &str| words(text).iter().any(|w| unit_of(w).is_some());
    let text = !all.is_empty() && !inside.contains(|c: char| c.is_ascii_digit());
    (text && !all.iter().any(known) && !of_words(before)).then(|| inside.trim())
}

/// The words for the units of length that a heading may have.
fn known_units() -> String {
    UNITS.iter().filter_map(|(_, all)| all.first()).copied().collect::<Vec<_>>().join(", ")
}

/// Whether a line names columns: all its fields are known headings; or, where it is too long for a key and its value, two are, or
/// one says nothing else.
pub(super) fn names_columns(fields: &[String]) -> bool {
    let known = fields.iter().filter(|f| heading(f) != (None, None)).count();
    is_header(fields) || (is_list(fields) && (known >= 2 || fields.iter().any(|f| says_nothing_else(f))))
}

/// Whether a line behind a comment mark names columns: it may be prose, so two of its fields must say nothing else.
pub(super) fn comment_names_columns(fields: &[String]) -> bool {
    let names = fields.iter().filter(|f| says_nothing_else(f)).count();
    is_header(fields) || (is_list(fields) && names >= 2)
}

/// Whether fields are more than a key and its value, and none is a number or a quantity.
fn is_list(fields: &[String]) -> bool {
    fields.len() > 2 && !fields.iter().any(|f| is_value(f) || is_number(f.as_bytes()))
}

/// Whether a field is a number with its unit, such as 50 mm.
fn is_value(field: &str) -> bool {
    matches!(heading(field), (None, Some(_))) && field.contains(|c: char| c.is_ascii_digit())
}

/// Whether a field holds the name of a column and no word that is not known.
fn says_nothing_else(field: &str) -> bool {
    let words = words(field);
    words.iter().any(|w| name_of(w).is_some())
        && words.iter().all(|w| name_of(w).is_some() || unit_of(w).is_some())
}

/// The first contradiction between a header's fields and the job.
pub(super) fn contradiction(fields: &[String], measured: &Measured) -> Option<Contradiction> {
    let headings: Vec<_> = fields.iter().map(|f| heading(f)).collect();
    let of = |wanted: Column| {
        let at = measured.columns.iter().position(|&c| c == wanted)?;
        headings
            .get(at)
            .map(|&(name, unit)| (at + 1, name, unit, fields.get(at).cloned().unwrap_or_default()))
    };
    let (x, z) = (of(Column::X)?, of(Column::Z)?);
    let swapped = "make `columns` in the job name the columns in the order in which they stand";
    // A way along the slide is often called a distance, and then the other column says that it is the height.
    let along = x.1 == Some(Name::Distance) && matches!(z.1, Some(Name::Along | Name::Height));
    if let (number, Some(name), _, text) = &x
        && !name.is_x()
        && !along
    {
        return Some(against(
            format!("`{}` over column {number}", text.trim()),
            format!("x in column {number}, as the job says"),
            swapped,
        ));
    }
    if let (number, Some(name), _, text) = &z
        && name.is_x()
    {
        return Some(against(
            format!("`{}` over column {number}", text.trim()),
            format!("z in column {number}, as the job says"),
            swapped,
        ));
    }
    let meaning = match (x.1, measured.x) {
        (Some(Name::Diameter), XMeaning::Radius) => {
            Some(("x", &x.3, "a radius", "write `x: diameter` in the job"))
        }
        (Some(Name::Radius), XMeaning::Diameter) => {
            Some(("x", &x.3, "a diameter", "write `x: radius` in the job"))
        }
        _ => None,
    };
    let sense = match (z.1, measured.z) {
        (Some(Name::Height), HeightSense::Distance) => {
            Some(("z", &z.3, "a distance", "write `z: height` in the job"))
        }
        (Some(Name::Distance), HeightSense::Height) => {
            Some(("z", &z.3, "a height", "write `z: distance` in the job: it grows toward the chuck"))
        }
        _ => None,
    };
    if let Some((column, text, says, fix)) = meaning.or(sense) {
        return Some(against(
            format!("`{}` over the {column} column", text.trim()),
            format!("{says}, as the job says"),
            fix,
        ));
    }
    if let Some(unknown) = [&x, &z].into_iter().find_map(|(number, _, unit, text)| {
        unknown_unit(text).filter(|_| unit.is_none()).map(|word| not_known(word, text.trim(), *number))
    }) {
        return Some(unknown);
    }
    let z_unit = measured.z_unit.unwrap_or(measured.unit);
    [(&x, measured.unit, "unit"), (&z, z_unit, "z_unit")].into_iter().find_map(
        |((number, _, unit, _), job, key)| {
            let unit = unit.filter(|&u| u != job)?;
            Some(against(
                format!("{} over column {number}", unit.words()),
                format!("{}, as the job says", job.words()),
                format!(
                    "write `{key}: {}` in the job{}",
                    unit.key(),
                    if key == "unit" { " (and `z_unit` where the heights are in another unit)" } else { "" }
                ),
            ))
        },
    )
}

/// Words for the unit of a column or of all.
const UNIT_WORDS: &[&str] = &["unit", "units", "einheit", "unité", "unidad"];

/// What a line such as `Unit: inch` says, or `Radius unit: inch` of one column.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct UnitSaid<'t> {
    /// The column; none where it is said of all.
    pub column: Option<Name>,
    /// The unit, or the word that stands for one and is not known.
    pub unit: Result<LengthUnit, &'t str>,
}

/// What a line says of a unit: the key begins with a word for one, or is the name of a column and that word.
pub(super) fn unit_said(text: &str) -> Option<UnitSaid<'_>> {
    let (key, value) = text.split_once([':', '=', ';', ',', '\t'])?;
    let key = words(key);
    let key: Vec<&str> = key.iter().map(String::as_str).collect();
    let column = match key.as_slice() {
        [name, unit] if UNIT_WORDS.contains(unit) => Some(name_of(name)?),
        [unit, ..] if UNIT_WORDS.contains(unit) => None,
        _ => return None,
    };
    let all = words(value);
    if let Some(unit) = all.iter().find_map(|w| unit_of(w)) {
        return Some(UnitSaid { column, unit: Ok(unit) });
    }
    let one_word = matches!(all.as_slice(), [word] if word.chars().all(char::is_alphabetic));
    one_word.then(|| UnitSaid { column, unit: Err(text_of(value)) })
}

/// The contradiction of a line such as `Unit: inch` above the readings.
pub(super) fn unit_line(text: &str, measured: &Measured) -> Option<Contradiction> {
    let said = unit_said(text)?;
    let of_z = measured.z_unit.unwrap_or(measured.unit);
    let (key, job) = match said.column {
        Some(name) if !name.is_x() => ("z_unit", of_z),
        _ => ("unit", measured.unit),
    };
    match said.unit {
        Ok(unit) if unit == job || (said.column.is_none() && unit == of_z) => None,
        Ok(unit) => Some(against(
            format!("`{}`", text.trim()),
            format!("{}, as the job says", job.words()),
            format!("write `{key}: {}` in the job", unit.key()),
        )),
        Err(word) => Some(Contradiction {
            found: format!("`{word}`, a unit that is not known"),
            expected: format!("a unit of length: {}", known_units()),
            fix: "write the unit that is meant in its place; or put # before the line, if it says nothing of the columns".into(),
        }),
    }
}

fn text_of(value: &str) -> &str {
    value.trim().trim_matches(['(', ')', '[', ']'])
}

/// A heading whose unit is not known: passed over, the heights could be a thousandfold too small.
fn not_known(word: &str, text: &str, number: usize) -> Contradiction {
    Contradiction {
        found: format!("`{text}` over column {number}, where `{word}` is no unit of length that is known"),
        expected: format!("a unit in the brackets: {}", known_units()),
        fix: "write the unit that the column is in between the brackets; or, if what stands there is no unit, take the brackets out"
            .into(),
    }
}

fn against(found: String, expected: String, fix: impl Into<String>) -> Contradiction {
    let fix = format!("{}; or, if the heading is wrong, take it out", fix.into());
    Contradiction { found, expected, fix }
}
