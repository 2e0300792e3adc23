//! Several traces in one file that no line parts: radii that begin anew again and again, or rows sorted by radius with several
//! heights at each.
//!
//! Taken for one line, the traces of several angles would be averaged, and what one angle lost would be hidden by the others. Radii
//! that begin anew more often than there and back are several traces; so are two, where a column that is read over tells them apart.
//! Rows sorted by radius show it by their heights: noise about one face leaves means that are as smooth as so many readings make
//! them, and traces of a wheel that runs out lie far apart about a mean that is smooth.
//!
//! Limits: two traces in the same direction that no column tells apart pass as a line measured again, and so do traces taken to and
//! fro without a jump. Mixed traces are known only where most radii hold the same number of heights.

use super::beside;
use super::noise;
use super::reader::{RawPoint, Reader};
use super::traces::LEAST_READINGS;
use super::trouble::Trouble;
use crate::geometry::Point;
use crate::job::Column;
use crate::numeric::order::median;
use std::collections::BTreeMap;

/// A step back, against most others, of this part of the whole way is a new start; and a sweep is a whole one if it covers as much.
const NEW_START: f64 = 0.5;

/// There and back is one line; so many whole sweeps in one direction are not.
const SEVERAL: usize = 3;

/// Fewer readings than this are no sweep: places in no order may rise by chance.
const SWEEP: usize = 20;

/// From the first third of a sweep to its last it is two thirds of the way at an even pace; for places in no order it is about none.
const RUNS_ON: f64 = 0.4;

/// The ends of the whole way are judged without this part of the readings at each: one wild radius is no end.
const WILD: usize = 100;

/// Rows are sorted by radius though one in so many goes back: a line of a foreign summary below them may.
const SORTED: usize = 100;

/// Traces on one grid of radii hold as many heights at this part of the radii; a hand's pace holds now more, now fewer.
const SAME_COUNT: f64 = 0.75;

/// Heights at one radius that scatter by less than this, millimetres (standard deviation), may be a poor sensor's noise.
const FAR_APART: f64 = 0.05;

/// Heights that scatter so many times more than the smoothness of their means allows are no noise: noise gives one.
const NO_NOISE: f64 = 4.0;

/// So many lines are named at most.
const MOST_NAMED: usize = 8;

const EXPECTED: &str = "one trace for a line of the job";

/// Refuses readings that are several traces, in the order of the file.
pub(super) fn refuse(points: &[RawPoint], reader: &Reader<'_>, input: &[u8]) -> Result<(), Trouble> {
    let file = File { points, reader, input };
    file.refuse_new_starts()?;
    file.refuse_sorted()
}

struct File<'a> {
    points: &'a [RawPoint],
    reader: &'a Reader<'a>,
    input: &'a [u8],
}

impl File<'_> {
    /// Traces one after another.
    fn refuse_new_starts(&self) -> Result<(), Trouble> {
        let parts = self.parts();
        if parts.len() < 2 || beside::count(parts.iter().map(|p| trimmed_span(p, usize::MAX)).collect()) < 2 {
            return Ok(());
        }
        let starts: Vec<u32> = parts.iter().filter_map(|p| p.first()).map(|p| p.line).collect();
        let begin = format!("they begin at {}", named(&starts));
        let second = starts.get(1).copied().unwrap_or(0);
        if let Some(column) = self.column_that_tells(&parts) {
            return Err(refused(
                second,
                format!("{} traces, told apart by column {column}; {begin}", parts.len()),
                by_column(column),
            ));
        }
        let way = way(trimmed_span(self.points, WILD));
        let whole = parts.iter().filter(|p| way_of(p) >= NEW_START * way && runs_on(p)).count();
        if whole < SEVERAL {
            return Ok(());
        }
        Err(refused(
            second,
            format!("radii that begin anew again and again: {} traces; {begin}", parts.len()),
            "put an empty line before each of these lines, and name the file once for each trace with `trace: 1` and so on beside it; or write each trace into a file of its own; of one line measured again and again, keep one".into(),
        ))
    }

    /// The readings between new starts, but for parts that are too short to be traces.
    fn parts(&self) -> Vec<&[RawPoint]> {
        let steps = self.points.windows(2).map(|w| if let [a, b] = w { b.x - a.x } else { 0.0 });
        let onward: f64 = steps.map(|s| if s < 0.0 { -1.0 } else { 1.0 }).sum();
        let back = NEW_START * way(trimmed_span(self.points, WILD));
        let goes_on = |a: &RawPoint, b: &RawPoint| onward.signum() * (a.x - b.x) <= back;
        self.points.chunk_by(goes_on).filter(|part| part.len() >= LEAST_READINGS).collect()
    }

    /// The column, from 1, that the job reads over and that holds one name through each part and another in the next. A line or two
    /// of a summary at the end of a part do not hide it.
    fn column_that_tells(&self, parts: &[&[RawPoint]]) -> Option<usize> {
        let lines: Vec<&[u8]> = self.lines_with_others()?;
        let name = |part: &&[RawPoint], column: usize| {
            let field = |at: usize| self.field(&lines, part.get(at)?, column);
            let first = field(0)?;
            let quarters = [part.len() / 4, part.len() / 2, 3 * part.len() / 4];
            quarters.iter().all(|&at| field(at) == Some(first)).then_some(first)
        };
        let tells = |column: &usize| {
            let names: Option<Vec<&[u8]>> = parts.iter().map(|p| name(p, *column)).collect();
            names.is_some_and(|n| n.windows(2).all(|w| matches!(w, [a, b] if a != b)))
        };
        self.others().find(tells).map(|c| c + 1)
    }

    /// Traces mixed by sorting.
    fn refuse_sorted(&self) -> Result<(), Trouble> {
        let Some((count, groups)) = self.radii_of_several() else { return Ok(()) };
        let mut scatter: Vec<f64> = groups.iter().map(|g| deviation(g)).collect();
        let Some(scatter) = median(&mut scatter) else { return Ok(()) };
        let means = groups.iter().filter_map(|g| Some(Point::new(g.first()?.x, mean(g))));
        let noise = noise::sigma(means) * (count as f64).sqrt();
        if scatter < FAR_APART || scatter < NO_NOISE * noise {
            return Ok(());
        }
        let column = self.column_of_groups(&groups);
        if count < SEVERAL && column.is_none() {
            return Ok(());
        }
        let starts: Vec<u32> = groups.first().into_iter().flat_map(|g| g.iter().map(|p| p.line)).collect();
        let told = column.map_or_else(String::new, |c| format!(", told apart by column {c}"));
        Err(refused(
            starts.get(1).copied().unwrap_or(0),
            format!(
                "{count} heights at each radius, which scatter by {scatter:.2} mm: {count} traces sorted by radius{told}; they begin at {}",
                named(&starts)
            ),
            column.map_or_else(
                || "export each trace into a file of its own, in the order in which it was measured; of one line, take the mean of what was read at each radius".into(),
                by_column,
            ),
        ))
    }

    /// How many heights most radii hold, at least two, and the readings at those; none where rows are not sorted by radius.
    fn radii_of_several(&self) -> Option<(usize, Vec<&[RawPoint]>)> {
        let (mut up, mut down) = (0, 0);
        for two in self.points.windows(2) {
            let [a, b] = two else { continue };
            up += usize::from(b.x > a.x);
            down += usize::from(b.x < a.x);
        }
        if up.min(down) > (up + down) / SORTED + 1 {
            return None;
        }
        let groups: Vec<&[RawPoint]> = self.points.chunk_by(|a, b| a.x.total_cmp(&b.x).is_eq()).collect();
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for group in &groups {
            *counts.entry(group.len()).or_default() += 1;
        }
        let (count, radii) = counts.into_iter().max_by_key(|(_, radii)| *radii)?;
        let of_most = radii >= LEAST_READINGS && radii as f64 >= SAME_COUNT * groups.len() as f64;
        (count >= 2 && of_most).then(|| (count, groups.into_iter().filter(|g| g.len() == count).collect()))
    }

    /// The column, from 1, that the job reads over and that holds the same names at each radius, each once.
    fn column_of_groups(&self, groups: &[&[RawPoint]]) -> Option<usize> {
        let lines: Vec<&[u8]> = self.lines_with_others()?;
        let names = |group: &&[RawPoint], column: usize| {
            let mut names: Vec<&[u8]> =
                group.iter().map(|p| self.field(&lines, p, column)).collect::<Option<_>>()?;
            names.sort_unstable();
            Some(names)
        };
        let tells = |column: &usize| {
            let first = groups.first().and_then(|g| names(g, *column));
            let differ = first.iter().all(|n| n.windows(2).all(|w| matches!(w, [a, b] if a != b)));
            first.is_some() && differ && groups.iter().all(|g| names(g, *column) == first)
        };
        self.others().find(tells).map(|c| c + 1)
    }

    /// The columns that the job reads over, from zero.
    fn others(&self) -> impl Iterator<Item = usize> {
        let columns = self.reader.measured.columns.iter().enumerate();
        columns.filter(|(_, c)| **c == Column::Other).map(|(i, _)| i)
    }

    /// The lines of the file, where the job reads over a column; a large file is not looked through for nothing.
    fn lines_with_others(&self) -> Option<Vec<&[u8]>> {
        self.others().next()?;
        Some(self.reader.lines(self.input).collect())
    }

    /// What stands in a column beside a reading.
    fn field<'l>(&self, lines: &[&'l [u8]], point: &RawPoint, column: usize) -> Option<&'l [u8]> {
        let line = usize::try_from(point.line).ok()?.checked_sub(1)?;
        self.reader.fields_of(self.reader.line_of(lines.get(line)?)).get(column).copied()
    }
}

fn refused(line: u32, found: String, fix: String) -> Trouble {
    Trouble { left: 0, line, found, expected: EXPECTED.into(), fix }
}

fn by_column(column: usize) -> String {
    format!(
        "name column {column} `trace` in `columns`, and the file once for each trace with `trace: ...` beside it; or write each trace into a file of its own"
    )
}

/// Lines by their numbers, as many as can be read at a glance.
fn named(lines: &[u32]) -> String {
    let numbers: Vec<String> = lines.iter().take(MOST_NAMED).map(u32::to_string).collect();
    let more = if lines.len() > MOST_NAMED { " and more" } else { "" };
    format!("lines {}{more}", numbers.join(", "))
}

/// Least and greatest radius, without one in so many readings at each end.
fn trimmed_span(points: &[RawPoint], one_in: usize) -> (f64, f64) {
    let mut radii: Vec<f64> = points.iter().map(|p| p.x).collect();
    radii.sort_unstable_by(f64::total_cmp);
    let off = radii.len() / one_in.max(1);
    let inner = radii.get(off).copied().unwrap_or(0.0);
    let outer = radii.len().checked_sub(off + 1).and_then(|i| radii.get(i)).copied();
    (inner, outer.unwrap_or(inner))
}

fn way((from, to): (f64, f64)) -> f64 {
    to - from
}

/// Whether a part holds readings enough to tell a sweep from places in no order, and runs on from its first to its last third.
fn runs_on(part: &[RawPoint]) -> bool {
    let third = part.len() / 3;
    let middle = |third: &[RawPoint]| third.iter().map(|p| p.x).sum::<f64>() / third.len() as f64;
    let ends = part.get(..third).zip(part.get(part.len() - third..));
    part.len() >= SWEEP && ends.is_some_and(|(a, b)| (middle(b) - middle(a)).abs() >= RUNS_ON * way_of(part))
}

/// The way that a part covers, wild radii aside.
fn way_of(part: &[RawPoint]) -> f64 {
    way(trimmed_span(part, WILD))
}

fn mean(group: &[RawPoint]) -> f64 {
    group.iter().map(|p| p.z).sum::<f64>() / group.len() as f64
}

/// The standard deviation of the heights of two readings or more.
fn deviation(group: &[RawPoint]) -> f64 {
    let mean = mean(group);
    let squares: f64 = group.iter().map(|p| (p.z - mean).powi(2)).sum();
    (squares / (group.len() as f64 - 1.0)).sqrt()
}
