//! How a scan is laid out, guessed from its text, with the reason for each guess: for a job file that a person will complete.
//!
//! Only what the file itself says is guessed. What its numbers cannot tell (radius or diameter, height or distance) is guessed
//! from headings and from the lines above the readings alone, and left open where they are silent: a wrong guess there would
//! cut everything at twice its radius, or hills as valleys.

use super::above::{at_most, begins_with_word, headings, is_passed_over, is_reading_under_word};
use super::as_read::parted_by_lines;
use super::dialect::{Separator, comment_start, decimal_comma, is_number, number, separator_of};
use super::ends::Ends;
use super::guessed_angle::{angle_of_name, angles};
use super::header::{Name, heading, prose, unit_said};
use super::stated_angle::stated;
use super::summary::{Begins, Summary};
use super::text;
use super::told_apart::told_apart;
use super::trouble::{place_in, shown};
use crate::diagnostics::InputError;
use crate::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};
use std::collections::BTreeMap;
use std::path::Path;

/// A face is so many times wider than deep, at least, for its columns to be known by that.
const WIDER: f64 = 2.0;

/// No number of x is greater, as a diameter in millimetres: wheels reach some 32 in across (common practice, no source).
const LARGEST: f64 = 2000.0;

/// The reason for columns that are named by what stands over them.
const THE_HEADINGS: &str = "the headings";

/// A guess and its reason.
pub type Because<T> = (T, String);

/// What a scan seems to hold.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Guess {
    /// The columns.
    pub columns: Option<Because<Vec<Column>>>,
    /// The first reading as it stands.
    pub first_row: String,
    /// What x means.
    pub x: Option<Because<XMeaning>>,
    /// Which way z grows.
    pub z: Option<Because<HeightSense>>,
    /// The unit of x.
    pub unit: Option<Because<LengthUnit>>,
    /// The unit of z, where it is another.
    pub z_unit: Option<Because<LengthUnit>>,
    /// What the headings say, which `write` holds against the job: a shop that says otherwise is wrong of this scan.
    pub over: OverColumns,
    /// The angle that a line above the readings states, degrees.
    pub angle: Option<Because<f64>>,
    /// The last number in the file's name, where it can be an angle in degrees: to be believed only beside those of the other scans,
    /// by [`super::guessed_angle::spread_over_turn`].
    pub in_name: Option<Because<f64>>,
    /// Least and greatest x as they stand in the file, and the widest step between neighbouring ones.
    pub reach: Option<[f64; 3]>,
    /// The heights at both ends of x; none where the columns are not known.
    pub ends: Option<Ends>,
    /// The traces that the column `trace` or lines between them tell apart, in the order of the file; empty where the file is one line.
    pub traces: Vec<Trace>,
    /// Why the file cannot be read as it is guessed, with how to mend it.
    pub refused: Option<String>,
}

/// What stands over the columns of x and z.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct OverColumns {
    /// The columns, where the headings name them.
    pub columns: Option<Vec<Column>>,
    /// What x means.
    pub x: Option<Because<XMeaning>>,
    /// Which way z grows.
    pub z: Option<Because<HeightSense>>,
    /// The unit of x.
    pub unit: Option<Because<LengthUnit>>,
    /// The unit of z.
    pub z_unit: Option<Because<LengthUnit>>,
}

impl OverColumns {
    /// The keys of a job, with their values, that must be otherwise for the headings to be right.
    #[must_use]
    pub fn asks(&self, job: &Measured) -> Vec<String> {
        let mut asks = Vec::new();
        let places =
            |columns: &[Column]| [Column::X, Column::Z].map(|c| columns.iter().position(|&o| o == c));
        let columns = self
            .columns
            .as_deref()
            .filter(|columns| columns.len() != job.columns.len() || places(columns) != places(&job.columns));
        if let Some(columns) = columns {
            let words: Vec<&str> = columns.iter().map(|column| column.word()).collect();
            asks.push(format!("columns: [{}]", words.join(", ")));
        }
        if let Some((x, _)) = self.x.as_ref().filter(|(x, _)| *x != job.x) {
            asks.push(format!("x: {}", x.word()));
        }
        let unit = self.unit.as_ref().map_or(job.unit, |(unit, _)| *unit);
        if unit != job.unit {
            asks.push(format!("unit: {}", unit.key()));
        }
        if let Some((z_unit, _)) = self.z_unit.as_ref().filter(|(z, _)| *z != job.z_unit.unwrap_or(unit)) {
            asks.push(format!("z_unit: {}", z_unit.key()));
        }
        if let Some((z, _)) = self.z.as_ref().filter(|(z, _)| *z != job.z) {
            asks.push(format!("z: {}", z.word()));
        }
        asks
    }
}

/// One of several traces in a scan.
#[derive(Debug, Clone, PartialEq)]
pub struct Trace {
    /// What the column `trace` holds, or its name in its headings, or its number.
    pub name: String,
    /// Least and greatest x as they stand in the file, and the widest step between neighbouring ones.
    pub reach: [f64; 3],
    /// Its angle in degrees as it stands, where the heading calls the column an angle, or its own headings state one.
    pub angle: Option<Because<String>>,
}

/// A line that holds at least two numbers.
#[derive(Debug)]
pub(super) struct Row<'a> {
    text: &'a str,
    separator: Separator,
    fields: Vec<&'a str>,
    /// The number in each field.
    pub values: Vec<Option<f64>>,
    /// How many fields there are with the empty ones at the end.
    full: usize,
}

impl<'a> Row<'a> {
    /// A field as it stands.
    pub fn field(&self, column: usize) -> Option<&'a str> {
        self.fields.get(column).copied()
    }
}

/// Guesses how a scan is laid out.
///
/// # Errors
/// If the file is no text of columns, or no line of it holds two numbers.
pub fn guess(bytes: &[u8], file: &Path) -> Result<Guess, InputError> {
    guess_as(bytes, file, None)
}

/// Guesses how a scan is laid out whose columns the shop names: those are taken where the file has as many.
///
/// # Errors
/// As [`guess`].
pub fn guess_as(bytes: &[u8], file: &Path, told: Option<&[Column]>) -> Result<Guess, InputError> {
    unread(bytes, file, told).map(|guess| parted_by_lines(guess, bytes, file))
}

/// The guess before the reader was asked: that one asks for it where it refuses a scan.
pub(super) fn unread(bytes: &[u8], file: &Path, told: Option<&[Column]>) -> Result<Guess, InputError> {
    let text = text::plain(bytes).map_err(|t| place_in(file, t))?;
    let text = String::from_utf8_lossy(&text).into_owned();
    let lines: Vec<&str> =
        text.split(['\n', '\r']).map(|l| l.trim_matches(' ')).filter(|l| !l.trim().is_empty()).collect();
    let mut rows: Vec<Option<Row<'_>>> = lines.iter().map(|l| row(l)).collect();
    take_entries_out(&mut rows, &lines);
    take_summary_out(&mut rows);
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for row in rows.iter().flatten() {
        *counts.entry(row.values.len()).or_default() += 1;
    }
    let Some((&width, _)) = counts.iter().max_by_key(|(_, count)| **count) else {
        return Err(InputError {
            file: file.to_owned(),
            line: 0,
            column: 0,
            found: "no line with two numbers".into(),
            expected: "columns of numbers".into(),
            fix: "name a scan: a text file with a reading on each line".into(),
            context: None,
        });
    };
    let is_row = |row: &Option<Row<'_>>| row.as_ref().is_some_and(|r| r.values.len() == width);
    let first = rows.iter().position(is_row).unwrap_or(0);
    let above = lines.get(..first).unwrap_or_default();
    let data: Vec<Row<'_>> = rows.into_iter().flatten().filter(|r| r.values.len() == width).collect();
    let parted = data.first().map_or(Separator::Blanks, |row| row.separator);
    let over = |width: usize| {
        let all = above.iter().rev().filter_map(|l| headings(l.as_bytes(), width, parted)).map(Heading::of);
        all.reduce(|nearest, farther| nearest.into_iter().zip(farther).map(Heading::both).collect())
    };
    // A last column that is empty in every row is one, if it has a heading.
    let full = data.iter().map(|row| row.full).min().unwrap_or(width);
    let named = |all: &Vec<Heading>| full > width && all.last().is_some_and(|last| !last.text.is_empty());
    let (width, headings) = match over(full).filter(named) {
        Some(headings) => (full, Some(headings)),
        None => (width, over(width)),
    };
    let said = Said::of(above, width, parted);
    let holds =
        |c: &&[Column]| (c.len() == width || c.len() == full) && !contradicted(c, headings.as_deref());
    let told = told.filter(holds).map(|c| (c.to_vec(), "the shop's sensor says so".to_owned()));
    let mut columns = told.or_else(|| columns(headings.as_deref(), width, &data));
    let traces =
        columns.as_mut().map(|because| traces(because, &data, headings.as_deref())).unwrap_or_default();
    let at = |wanted: Column| columns.as_ref()?.0.iter().position(|&c| c == wanted);
    let of = |wanted: Column| at(wanted).and_then(|i| headings.as_ref()?.get(i).cloned());
    let (x_heading, z_heading) = (of(Column::X), of(Column::Z));
    let says = |text: &str| format!("the heading says `{text}`");
    let over = |h: &Heading| says(&h.text);
    let named = |h: &Option<Heading>, wanted: &[Name]| {
        h.as_ref().filter(|h| h.name.is_some_and(|n| wanted.contains(&n))).map(over)
    };
    let unit_of = |h: &Option<Heading>| {
        let (unit, text) = h.as_ref()?.unit.as_ref()?;
        Some((*unit, says(text)))
    };
    let meaning = |name, x| named(&x_heading, &[name]).map(|why| (x, why));
    let sense = |name, z| named(&z_heading, &[name]).map(|why| (z, why));
    let named_by_headings = columns.as_ref().filter(|(_, why)| why.starts_with(THE_HEADINGS));
    let over = OverColumns {
        columns: named_by_headings.map(|(columns, _)| columns.clone()),
        x: meaning(Name::Radius, XMeaning::Radius).or_else(|| meaning(Name::Diameter, XMeaning::Diameter)),
        z: sense(Name::Height, HeightSense::Height).or_else(|| sense(Name::Distance, HeightSense::Distance)),
        unit: unit_of(&x_heading),
        z_unit: unit_of(&z_heading),
    };
    let x_meaning = over.x.clone().or_else(|| {
        said.one(Name::Radius, Name::Diameter)
            .map(|(r, why)| (if r { XMeaning::Radius } else { XMeaning::Diameter }, why))
    });
    let z_sense = over.z.clone().or_else(|| {
        said.one(Name::Height, Name::Distance)
            .map(|(h, why)| (if h { HeightSense::Height } else { HeightSense::Distance }, why))
    });
    let unit = over.unit.clone().or(said.unit);
    let z_unit =
        over.z_unit.clone().or(said.z_unit).filter(|(z, _)| unit.as_ref().is_none_or(|(x, _)| x != z));
    Ok(Guess {
        first_row: lines.get(first).copied().unwrap_or_default().to_owned(),
        reach: at(Column::X).and_then(|i| reach_of(&data, i)),
        ends: at(Column::X).zip(at(Column::Z)).and_then(|(x, z)| ends_of(&data, x, z)),
        traces,
        columns,
        x: x_meaning,
        z: z_sense,
        unit,
        z_unit,
        over,
        angle: said.angle,
        in_name: angle_of_name(file),
        refused: None,
    })
}

/// Lines of a header that hold two numbers, such as `Range: 10 20`, are no readings: those begin at the first that is no entry.
fn take_entries_out(rows: &mut [Option<Row<'_>>], lines: &[&str]) {
    for i in 0..rows.len() {
        let Some(Some(row)) = rows.get(i) else { continue };
        let after = lines.get(i + 1..).unwrap_or_default().iter().map(|l| without_comment(l).as_bytes());
        let width = row.values.len();
        let reads = |fields: &[&[u8]]| {
            let fields = at_most(width, fields.to_vec());
            fields.len() == width && fields.iter().filter(|f| is_number(f)).count() >= 2
        };
        let text = row.text.as_bytes();
        if !begins_with_word(&row.separator.fields(text))
            || is_reading_under_word(text, after, row.separator, reads)
        {
            return;
        }
        if let Some(row) = rows.get_mut(i) {
            *row = None;
        }
    }
}

/// A summary below the readings holds as many numbers as they do.
fn take_summary_out(rows: &mut [Option<Row<'_>>]) {
    let mut summary = Summary::below(Begins::WithAnything);
    for row in rows.iter_mut().rev() {
        match row {
            Some(r) if !summary.goes_on(r.text.as_bytes()) => return,
            _ => *row = None,
        }
    }
}

/// Whether the headings name another order of columns than the shop does.
fn contradicted(told: &[Column], headings: Option<&[Heading]>) -> bool {
    let name = |wanted: Column| headings?.get(told.iter().position(|&c| c == wanted)?)?.name;
    let (x, z) = (name(Column::X), name(Column::Z));
    // A way along the slide may be called a distance.
    let along = x == Some(Name::Distance) && matches!(z, Some(Name::Along | Name::Height));
    x.is_some_and(|n| !n.is_x() && !along) || z.is_some_and(Name::is_x)
}

fn without_comment(line: &str) -> &str {
    line.get(..comment_start(line.as_bytes())).unwrap_or(line).trim()
}

/// The numbers of a line that holds at least two, and is no comment.
fn row(line: &str) -> Option<Row<'_>> {
    let text = without_comment(line);
    if is_passed_over(text.as_bytes()) {
        return None;
    }
    let separator = separator_of(text.as_bytes()).ok()?;
    // Tabs at the ends of a line part fields that are empty.
    let whole = if separator == Separator::Byte(b'\t') {
        line.get(..comment_start(line.as_bytes())).unwrap_or(line).trim_matches(' ')
    } else {
        text
    };
    let fields = separator.fields(whole.as_bytes());
    let full = fields.len();
    let fields = at_most(0, fields);
    let value = |f: &[u8]| {
        let whole = |read: Option<(&[u8], f64)>| {
            read.filter(|(rest, v)| rest.is_empty() && v.is_finite()).map(|r| r.1)
        };
        whole(number(f).ok()).or_else(|| whole(decimal_comma(f)))
    };
    let values: Vec<Option<f64>> = fields.iter().map(|f| value(f)).collect();
    if values.iter().flatten().count() < 2 {
        return None;
    }
    let fields = fields.into_iter().map(std::str::from_utf8).collect::<Result<_, _>>().ok()?;
    Some(Row { text, separator, fields, values, full })
}

/// What stands over a column.
#[derive(Debug, Clone)]
struct Heading {
    text: String,
    name: Option<Name>,
    /// The unit, and the text that says it.
    unit: Option<Because<LengthUnit>>,
}

impl Heading {
    fn of(fields: Vec<String>) -> Vec<Self> {
        let of = |text: String| {
            let (name, unit) = heading(&text);
            let text = text.trim().to_owned();
            Self { name, unit: unit.map(|u| (u, text.clone())), text }
        };
        fields.into_iter().map(of).collect()
    }

    /// What two lines say over a column: the nearer one first, as a row of units under the names.
    fn both((nearer, farther): (Self, Self)) -> Self {
        let says_more = nearer.name.is_none() && farther.name.is_some();
        let (said, other) = if says_more { (farther, nearer) } else { (nearer, farther) };
        Self { unit: said.unit.or(other.unit), ..said }
    }
}

/// What the lines above the readings say in words.
#[derive(Debug, Default)]
struct Said {
    names: Vec<(Name, String)>,
    unit: Option<Because<LengthUnit>>,
    /// That of z alone.
    z_unit: Option<Because<LengthUnit>>,
    angle: Option<Because<f64>>,
}

impl Said {
    /// Of lines above readings of so many columns that a separator parts.
    fn of(above: &[&str], width: usize, parted: Separator) -> Self {
        let mut said = Self::default();
        let mut units: Vec<Because<LengthUnit>> = Vec::new();
        for line in above {
            // Over columns a unit is that of its own.
            let fields = headings(line.as_bytes(), width, parted);
            let quoted = |field: &str| format!("a line above the readings says `{field}`");
            units.extend(
                fields.iter().flatten().filter_map(|f| heading(f).1.map(|unit| (unit, quoted(f.trim())))),
            );
            let words: Vec<&str> = line
                .split(|c: char| {
                    c.is_whitespace() || matches!(c, ';' | ',' | ':' | '=' | '(' | ')' | '[' | ']')
                })
                .filter(|w| !w.is_empty())
                .collect();
            // A single letter beside another unit may be that of another column.
            let doubt = fields.is_none() && words.iter().any(|w| matches!(*w, "m" | "\u{2033}"));
            let before = std::iter::once("").chain(words.iter().copied());
            for (word, before) in words.iter().zip(before) {
                let (name, unit) = prose(word);
                said.names.extend(name.map(|n| (n, quoted(word))));
                // "in" is more often a word than a unit, and behind a number a unit is that of the number.
                let of_columns = fields.is_none()
                    && !doubt
                    && !word.eq_ignore_ascii_case("in")
                    && !is_number(before.as_bytes());
                if let Some(unit) = unit.filter(|_| of_columns) {
                    units.push((unit, quoted(word)));
                }
            }
            if let Some(angle) = stated(line) {
                let why = || format!("a line above the readings says `{}`", shown(line.as_bytes()));
                said.angle.get_or_insert_with(|| (angle.degrees.rem_euclid(360.0), why()));
            }
        }
        let told = |of_z: bool| {
            above.iter().find_map(|line| {
                let said = unit_said(line)?;
                let because =
                    |unit| (unit, format!("a line above the readings says `{}`", shown(line.as_bytes())));
                said.unit.ok().filter(|_| said.column.is_some_and(|name| !name.is_x()) == of_z).map(because)
            })
        };
        // Two units in prose may be those of two columns.
        let one = units.windows(2).all(|w| matches!(w, [(a, _), (b, _)] if a == b));
        said.unit = told(false).or_else(|| units.into_iter().next().filter(|_| one));
        said.z_unit = told(true);
        said
    }

    /// Which of two names was said, where only one was.
    fn one(&self, first: Name, second: Name) -> Option<(bool, String)> {
        let find = |wanted: Name| self.names.iter().find(|(n, _)| *n == wanted).map(|(_, why)| why.clone());
        match (find(first), find(second)) {
            (Some(why), None) => Some((true, why)),
            (None, Some(why)) => Some((false, why)),
            _ => None,
        }
    }
}

fn columns(headings: Option<&[Heading]>, width: usize, data: &[Row<'_>]) -> Option<Because<Vec<Column>>> {
    if let Some(headings) = headings {
        let along = |n: Name| matches!(n, Name::Along | Name::Height | Name::Distance);
        let x = headings.iter().position(|h| h.name.is_some_and(Name::is_x));
        let z = headings.iter().rposition(|h| h.name.is_some_and(along));
        // A way along the slide may be called a distance.
        let x = x.or_else(|| headings.iter().position(|h| h.name == Some(Name::Distance)));
        if let (Some(x), Some(z)) = (x, z)
            && x != z
        {
            let column = |i: usize| {
                if i == x {
                    Column::X
                } else if i == z {
                    Column::Z
                } else {
                    Column::Other
                }
            };
            return Some(((0..width).map(column).collect(), THE_HEADINGS.to_owned()));
        }
    }
    // Radii and diameters are never below zero, and a face is far wider than it is deep.
    let (2, Some(first), Some(second)) = (width, reach_of(data, 0), reach_of(data, 1)) else { return None };
    let way = |[least, most, _]: [f64; 3]| most - least;
    let order = |x_first: bool| if x_first { vec![Column::X, Column::Z] } else { vec![Column::Z, Column::X] };
    let which = |x_first: bool| if x_first { "first" } else { "second" };
    match (first[0] < 0.0, second[0] < 0.0) {
        (true, false) => {
            Some((order(false), "the first column goes below zero, where no radius is".to_owned()))
        }
        (false, true) => {
            Some((order(true), "the second column goes below zero, where no radius is".to_owned()))
        }
        (false, false) if runs_on(data, 0) != runs_on(data, 1) => {
            let x_first = runs_on(data, 0);
            let why = format!(
                "the {} column runs on in one direction, as a sensor that is driven across the face does",
                which(x_first)
            );
            Some((order(x_first), why))
        }
        (false, false) if way(first) > WIDER * way(second) || way(second) > WIDER * way(first) => {
            let x_first = way(first) > way(second);
            // So great a number is no diameter in millimetres: heights in a smaller unit have a longer way than radii.
            let [_, most, _] = if x_first { first } else { second };
            if most > LARGEST {
                return None;
            }
            let (long, short) = (way(first).max(way(second)), way(first).min(way(second)));
            let why =
                format!("the {} column has the longer way, {long:.1} against {short:.1}", which(x_first));
            Some((order(x_first), why))
        }
        _ => None,
    }
}

/// So many readings tell whether a column runs on.
const ENOUGH: usize = 30;

/// Noise makes neighbouring heights change their direction again and again; a hand goes back in no more steps than this part.
const BACK: f64 = 0.02;

/// Whether the numbers of a column rise, or fall, from row to row but for a few.
fn runs_on(data: &[Row<'_>], column: usize) -> bool {
    let values: Vec<f64> = data.iter().filter_map(|row| row.values.get(column).copied().flatten()).collect();
    let steps = || values.windows(2).map(|w| if let [a, b] = w { b - a } else { 0.0 });
    let (up, down) = (steps().filter(|s| *s > 0.0).count(), steps().filter(|s| *s < 0.0).count());
    let most = up.max(down);
    most >= ENOUGH && up.min(down) as f64 <= BACK * most as f64
}

/// The traces that a column which is read over tells apart; the column is named so.
fn traces(
    (columns, why): &mut Because<Vec<Column>>,
    data: &[Row<'_>],
    headings: Option<&[Heading]>,
) -> Vec<Trace> {
    let Some(x) = columns.iter().position(|&c| c == Column::X) else { return Vec::new() };
    let tells = |(_, c): &(usize, &mut Column)| matches!(c, Column::Trace | Column::Other);
    for (i, column) in columns.iter_mut().enumerate().filter(tells) {
        if let Some(mut traces) = told_apart(data, i, x) {
            if *column == Column::Other {
                *column = Column::Trace;
                *why = format!(
                    "{why}; column {} tells {} traces over the same radii apart",
                    i + 1,
                    traces.len()
                );
            }
            angles(&mut traces, i, headings.and_then(|h| h.get(i)).map(|h| h.text.as_str()));
            return traces;
        }
    }
    Vec::new()
}

fn reach_of(data: &[Row<'_>], column: usize) -> Option<[f64; 3]> {
    reach(data.iter().filter_map(|r| r.values.get(column).copied().flatten()).collect())
}

fn ends_of(data: &[Row<'_>], x: usize, z: usize) -> Option<Ends> {
    let of = |row: &Row<'_>, column: usize| row.values.get(column).copied().flatten();
    Ends::of(data.iter().filter_map(|row| Some([of(row, x)?, of(row, z)?])).collect())
}

/// Least, greatest, and the widest step between neighbours.
pub(super) fn reach(mut values: Vec<f64>) -> Option<[f64; 3]> {
    values.sort_by(f64::total_cmp);
    let step = values
        .windows(2)
        .map(|w| w.last().copied().unwrap_or(0.0) - w.first().copied().unwrap_or(0.0))
        .fold(0.0, f64::max);
    Some([*values.first()?, *values.last()?, step])
}
