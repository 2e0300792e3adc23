//! Several traces in one scan file: parted by empty lines or by headings ([`super::headed`]), or told apart by a column.
//!
//! A line of the job is one trace. Where a file holds more and the job does not say which, the file is refused: taken for one
//! line, traces at several angles would be averaged. Empty lines alone do not make traces, since some loggers write one after
//! every reading; traces are parts that run over the same radii. A header within a trace, as at the top of every page, parts none: where
//! the radii behind it go on, so does the trace. Those that no line parts are found by [`super::unparted`].

use super::beside;
use super::headed;
use super::reader::{Missing, RawPoint, Reader, Row, Scan};
use super::stated_angle::stated;
use super::trouble::{Trouble, shown};
use super::unparted;
use crate::job::Column;
use std::collections::HashSet;

/// A reading of exactly 0 and 0 that stands farther than this from its neighbours, millimetres of radius, is a logger's empty
/// record: a hand does not move so far between two readings.
const STRAY: f64 = 5.0;

/// So many readings tell which way the radii go.
const WAY: usize = 8;

/// Parts of fewer readings than this are no traces.
pub(super) const LEAST_READINGS: usize = 3;

const EXPECTED: &str = "one trace for a line of the job";

/// One part of the file.
#[derive(Debug, Clone)]
struct Part {
    name: Vec<u8>,
    /// Its first point and drop-out.
    points: usize,
    missing: usize,
    after: After,
    /// The first line behind the readings of the part before, and that of its own first reading.
    above: (u32, u32),
}

/// A trace that lines part from others, for the guess of a job file.
#[derive(Debug)]
pub(super) struct Parted {
    /// What a job writes after `trace`.
    pub name: String,
    /// The radii of its readings, millimetres.
    pub radii: Vec<f64>,
    /// The angle that its headings state, degrees, with the line that does.
    pub angle: Option<(f64, String)>,
}

/// What a part stands behind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum After {
    EmptyLine,
    Header,
    /// Nothing parts it from the readings before.
    Nothing,
}

/// The readings of a file, and where its parts begin.
#[derive(Debug)]
pub(super) struct Traces {
    scan: Scan,
    parts: Vec<Part>,
    named: bool,
    parted: After,
    /// Points that may be strays, in rising order.
    zeros: Vec<usize>,
    /// The line of the last reading.
    last: u32,
}

impl Traces {
    /// None yet, with room for so many points.
    pub fn new(room: usize, columns: &[Column]) -> Self {
        let scan = Scan { points: Vec::with_capacity(room), ..Scan::default() };
        let named = columns.contains(&Column::Trace);
        Self { scan, parts: Vec::new(), named, parted: After::EmptyLine, zeros: Vec::new(), last: 0 }
    }

    /// Here one trace may end and another begin.
    pub fn part(&mut self, after: After) {
        // A header with an empty line before or behind it is a header.
        if self.parted != After::Header {
            self.parted = after;
        }
    }

    /// A line of a summary below the readings is left aside.
    pub const fn summary(&mut self) {
        self.scan.summary += 1;
    }

    /// Adds a reading.
    #[inline]
    pub fn add(&mut self, row: Row<'_>, line: u32) {
        if self.parted != After::Nothing
            || (self.named && self.parts.last().is_none_or(|p| p.name != row.trace))
        {
            self.parts.push(Part {
                name: row.trace.to_vec(),
                points: self.scan.points.len(),
                missing: self.scan.missing.len(),
                after: self.parted,
                above: (self.last.saturating_add(1), line),
            });
            self.parted = After::Nothing;
        }
        self.last = line;
        let Row { x, z, zeros, nines, .. } = row;
        if x.is_finite() && z.is_finite() {
            if nines {
                self.scan.nines.push(line);
            }
            if zeros {
                self.zeros.push(self.scan.points.len());
            }
            self.scan.points.push(RawPoint { x, z, line });
        } else {
            self.scan.missing.push(Missing { x: x.is_finite().then_some(x), line });
        }
    }

    /// The trace that is wanted; the whole file where none is named and there is but one.
    pub fn select(
        mut self,
        wanted: Option<&str>,
        reader: &Reader<'_>,
        input: &[u8],
    ) -> Result<Scan, Trouble> {
        let strays = self.strays();
        self.join(&strays);
        self.scan.above = self.parts.first().map(|part| part.above);
        let mut above = self.scan.above;
        let chosen: Vec<usize> = if let Some(wanted) = wanted {
            let chosen = self.wanted(wanted, reader, input)?;
            above = match chosen.as_slice() {
                [one] if self.have_headings() => self.parts.get(*one).map(|part| part.above),
                _ => None,
            };
            chosen
        } else {
            self.refuse_several(&strays, reader, input)?;
            (0..self.parts.len()).collect()
        };
        if chosen.len() == self.parts.len() && strays.is_empty() {
            return Ok(Scan { above, ..self.scan });
        }
        let all = &self.scan;
        let mut scan = Scan { nines: all.nines.clone(), summary: all.summary, above, ..Scan::default() };
        for i in chosen {
            let Some(part) = self.parts.get(i) else { continue };
            let end = self.parts.get(i + 1);
            let (points, missing) =
                end.map_or((all.points.len(), all.missing.len()), |p| (p.points, p.missing));
            for (at, &point) in all.points.iter().enumerate().take(points).skip(part.points) {
                if strays.binary_search(&at).is_ok() {
                    scan.missing.push(Missing { x: None, line: point.line });
                } else {
                    scan.points.push(point);
                }
            }
            scan.missing.extend_from_slice(all.missing.get(part.missing..missing).unwrap_or_default());
        }
        scan.missing.sort_by_key(|m| m.line);
        Ok(scan)
    }

    /// Whether each trace stands below headings of its own.
    fn have_headings(&self) -> bool {
        !self.named && self.parts.iter().skip(1).all(|part| part.after == After::Header)
    }

    /// The traces that lines part; none where there is but one.
    pub fn parted(mut self, reader: &Reader<'_>, input: &[u8]) -> Vec<Parted> {
        let strays = self.strays();
        self.join(&strays);
        let starts: Vec<usize> = self.parts.iter().map(|part| part.points).collect();
        if self.named || self.side_by_side(&starts, &strays) < 2 {
            return Vec::new();
        }
        let lines: Vec<&[u8]> = reader.lines(input).collect();
        let names = self.headed_names(&lines);
        let ends = starts.iter().skip(1).copied().chain([self.scan.points.len()]);
        let mut traces = Vec::new();
        for (i, (part, end)) in self.parts.iter().zip(ends).enumerate() {
            let points = self.scan.points.iter().enumerate().take(end).skip(part.points);
            let radii: Vec<f64> =
                points.filter(|(at, _)| strays.binary_search(at).is_err()).map(|(_, p)| p.x).collect();
            if radii.len() < LEAST_READINGS {
                continue;
            }
            let own = || headings_of(&lines, part);
            traces.push(Parted {
                name: names.as_ref().and_then(|n| n.get(i).cloned()).unwrap_or_else(|| (i + 1).to_string()),
                radii,
                angle: own().find_map(|line| Some((stated(&line)?.degrees, line.trim().to_owned()))),
            });
        }
        traces
    }

    /// The names that headings, and no comments, give the traces: none where one has none, or two have the same.
    fn headed_names(&self, lines: &[&[u8]]) -> Option<Vec<String>> {
        if self.parts.len() < 2 || !self.have_headings() {
            return None;
        }
        let name = |part: &Part| {
            let own = headings_of(lines, part).filter(|line| !headed::is_comment(line.as_bytes()));
            own.filter_map(|line| headed::name(&line).map(str::to_owned)).last()
        };
        let names: Vec<String> = self.parts.iter().map(name).collect::<Option<_>>()?;
        let mut known = HashSet::new();
        names.iter().all(|name| known.insert(key(name))).then_some(names)
    }

    /// Joins what a header parts, where the radii behind it go on as they went before.
    fn join(&mut self, strays: &[usize]) {
        if self.named {
            return;
        }
        let kept = |i: &usize| strays.binary_search(i).is_err();
        let radius = |i: usize| self.scan.points.get(i).map(|p| p.x);
        let goes_on = |part: &Part| {
            let before: Vec<f64> = (0..part.points).rev().filter(kept).take(WAY).filter_map(radius).collect();
            let behind: Vec<f64> =
                (part.points..self.scan.points.len()).filter(kept).take(WAY).filter_map(radius).collect();
            let ([last, ..], [.., earlier], [first, ..], [.., later]) =
                (before.as_slice(), before.as_slice(), behind.as_slice(), behind.as_slice())
            else {
                return false;
            };
            let way = (last - earlier).signum();
            let onward = |step: f64| (0.0..=STRAY).contains(&(way * step));
            onward(first - last) && way * (later - first) >= 0.0
        };
        let joined: Vec<bool> =
            self.parts.iter().map(|part| part.after == After::Header && goes_on(part)).collect();
        let mut joined = joined.into_iter();
        self.parts.retain(|_| joined.next() != Some(true));
    }

    /// The points at zero that stand far from both neighbours that are none, in rising order.
    fn strays(&self) -> Vec<usize> {
        let points = &self.scan.points;
        if self.zeros.len() == points.len() {
            return Vec::new();
        }
        let far = |i: usize, neighbour: Option<usize>| {
            let both = neighbour.and_then(|n| points.get(n)).zip(points.get(i));
            both.is_none_or(|(a, b)| (a.x - b.x).abs() > STRAY)
        };
        // Zeros that follow each other have the same neighbours, those of their run.
        let mut strays = Vec::new();
        for run in self.zeros.chunk_by(|a, b| a + 1 == *b) {
            let (before, after) = (run.first().and_then(|i| i.checked_sub(1)), run.last().map(|i| i + 1));
            strays.extend(run.iter().copied().filter(|&i| far(i, before) && far(i, after)));
        }
        strays
    }

    fn names(&self) -> Vec<String> {
        let mut known = HashSet::new();
        let names = self.parts.iter().map(|p| String::from_utf8_lossy(&p.name).into_owned());
        names.filter(|name| known.insert(key(name))).collect()
    }

    /// The parts of a trace: by what the column holds, by the name that the headings give it, else by its number.
    fn wanted(&self, wanted: &str, reader: &Reader<'_>, input: &[u8]) -> Result<Vec<usize>, Trouble> {
        let names = if self.have_headings() {
            self.headed_names(&reader.lines(input).collect::<Vec<_>>())
        } else {
            None
        };
        if let Some(at) = names.as_ref().and_then(|all| all.iter().position(|name| key(name) == key(wanted)))
        {
            return Ok(vec![at]);
        }
        let chosen: Vec<usize> = if self.named {
            let wanted = key(wanted);
            let is = |p: &Part| key(&String::from_utf8_lossy(&p.name)) == wanted;
            self.parts.iter().enumerate().filter(|(_, p)| is(p)).map(|(i, _)| i).collect()
        } else {
            let number = wanted.trim().parse::<usize>().ok().and_then(|n| n.checked_sub(1));
            number.filter(|&n| n < self.parts.len()).into_iter().collect()
        };
        if !chosen.is_empty() {
            return Ok(chosen);
        }
        let (holds, fix) = match names {
            _ if self.named => (listed(&self.names()), "write one of those after `trace` in the job"),
            Some(names) => {
                (listed(&names), "write one of those after `trace` in the job, or its number, counted from 1")
            }
            None => (
                format!("traces 1 to {}", self.parts.len()),
                "write the trace's number after `trace`, counted from 1; an empty line or headings begin a new one",
            ),
        };
        let found = format!("no trace `{}` in the file, which holds {holds}", shown(wanted.as_bytes()));
        let fault = whole(found, "a trace of the file", fix);
        Err(Trouble { line: self.line_of(self.parts.last().map(|p| p.points)), ..fault })
    }

    /// Refuses a file that holds several traces.
    fn refuse_several(&self, strays: &[usize], reader: &Reader<'_>, input: &[u8]) -> Result<(), Trouble> {
        if self.named {
            let names = self.names();
            let [one, other, ..] = names.as_slice() else { return Ok(()) };
            let first = shown(one.as_bytes());
            let fault = whole(
                format!("{} traces, {}", names.len(), listed(&names)),
                EXPECTED,
                format!("name the file once for each trace, with `trace: {first}` and so on beside it"),
            );
            let second = self.parts.iter().find(|p| String::from_utf8_lossy(&p.name) == *other);
            return Err(Trouble { line: self.line_of(second.map(|p| p.points)), ..fault });
        }
        let starts: Vec<usize> = self.parts.iter().map(|p| p.points).collect();
        let traces = self.side_by_side(&starts, strays);
        if traces > 1 {
            let names = self.headed_names(&reader.lines(input).collect::<Vec<_>>());
            let first = names.iter().flatten().next().map_or("1", String::as_str);
            let fault = whole(
                format!("{traces} traces over the same radii, parted by empty lines or headings"),
                EXPECTED,
                format!(
                    "name the file once for each trace, with `trace: {}` and so on beside it; if it is one line measured again, take out what parts it",
                    shown(first.as_bytes())
                ),
            );
            return Err(Trouble { line: self.line_of(starts.get(1).copied()), ..fault });
        }
        if reader.round {
            return Ok(());
        }
        if strays.is_empty() {
            return unparted::refuse(&self.scan.points, reader, input);
        }
        let stray = |i: usize| strays.binary_search(&i).is_ok();
        let all = self.scan.points.iter().enumerate();
        let points: Vec<RawPoint> = all.filter(|(i, _)| !stray(*i)).map(|(_, p)| *p).collect();
        unparted::refuse(&points, reader, input)
    }

    /// The line of a point, from 1; zero where there is none.
    fn line_of(&self, point: Option<usize>) -> u32 {
        point.and_then(|p| self.scan.points.get(p)).map_or(0, |p| p.line)
    }

    /// The least and the greatest radius from one point to before another, strays aside.
    fn span(&self, from: usize, to: usize, strays: &[usize]) -> (f64, f64) {
        let all = self.scan.points.iter().enumerate().take(to).skip(from);
        let radii = all.filter(|(i, _)| strays.binary_search(i).is_err()).map(|(_, p)| p.x);
        radii.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)))
    }

    /// How many parts run over the same radii as another, strays aside.
    fn side_by_side(&self, starts: &[usize], strays: &[usize]) -> usize {
        if starts.len() < 2 {
            return 0;
        }
        let ends = starts.iter().skip(1).copied().chain([self.scan.points.len()]);
        let parts = starts.iter().zip(ends).filter(|(from, to)| to.saturating_sub(**from) >= LEAST_READINGS);
        let spans: Vec<(f64, f64)> = parts.map(|(&from, to)| self.span(from, to, strays)).collect();
        beside::count(spans)
    }
}

/// The lines of headings above a part.
fn headings_of<'l>(
    lines: &[&'l [u8]],
    part: &Part,
) -> impl Iterator<Item = std::borrow::Cow<'l, str>> + use<'l> {
    let index = |line: u32| usize::try_from(line.saturating_sub(1)).unwrap_or(usize::MAX);
    let (from, to) = (index(part.above.0), index(part.above.1));
    let own: Vec<_> = lines.get(from..to.min(lines.len()).max(from)).unwrap_or_default().to_vec();
    own.into_iter().map(String::from_utf8_lossy)
}

fn whole(found: String, expected: &str, fix: impl Into<String>) -> Trouble {
    Trouble { left: 0, line: 0, found, expected: expected.into(), fix: fix.into() }
}

fn listed(names: &[String]) -> String {
    const MOST: usize = 8;
    let quoted: Vec<String> = names.iter().take(MOST).map(|n| format!("`{}`", shown(n.as_bytes()))).collect();
    let more = if names.len() > MOST { " and more" } else { "" };
    quoted.join(", ") + more
}

/// What tells one name from another: its number where it is one (0 and 0.0 are one name), else its text.
#[derive(Debug, PartialEq, Eq, Hash)]
pub(super) enum Key {
    /// The bits of the number.
    Number(u64),
    Text(String),
}

/// A name without the degrees of an angle, with a decimal point for a comma.
pub(super) fn bare(name: &str) -> String {
    name.trim().trim_end_matches("deg").trim_end_matches('°').trim().replace(',', ".")
}

pub(super) fn key(name: &str) -> Key {
    match bare(name).parse::<f64>() {
        // Adding zero takes the sign from a zero.
        Ok(number) => Key::Number((number + 0.0).to_bits()),
        Err(_) => Key::Text(name.trim().to_owned()),
    }
}
