//! From many lines to the face and its turn: tilt, slow departure and consensus, each found with the others taken off.
//!
//! 1. the tilt by robust least squares (`harmonic`);
//! 2. each line's slow departure from the face, damage looked through (`smooth`), and its constant
//!    part given back to the face (`turn::Split`);
//! 3. the face that the levelled lines agree on, and the dents in each (`consensus`);
//! 4. twice more, the dents now left out of the tilt and of the slow departures: first the plain ones, then all.
//!
//! Every step is linear in the number of readings.

use super::consensus::{Consensus, Reading, Voucher, Wishes, consensus, middles};
use super::floor::{Depth, floor};
use super::harmonic::{Tilt, TiltFit, fit_tilt};
use super::lines::Lines;
use super::smooth::{Ends, between_knots, knots, slow_part};
use super::turn::{Split, Turn, turn};
use crate::geometry::Point;
use rayon::prelude::*;

/// What the lines say about the wheel.
#[derive(Debug, Clone, PartialEq)]
pub struct Restored {
    /// The lines as measured, on common radii.
    pub lines: Lines,
    /// The lines with tilt and slow departure taken off.
    pub levelled: Vec<Vec<f64>>,
    /// The mended face, middle of the turn.
    pub consensus: Consensus,
    /// The tilt of the mounting, where three lines or more show it.
    pub tilt: Option<TiltFit>,
    /// The whole turn, where lines at two angles or more show it.
    pub turn: Option<Turn>,
    /// Lines at different angles, and the widest angle between neighbours, radians.
    pub spread: (usize, f64),
    /// Depth of each line below the face inside its dents, the readings' noise quieted; zero elsewhere.
    pub depth: Vec<Vec<f64>>,
    /// Dents in the lines, mended in the face.
    pub dents: Vec<Dent>,
    /// Places where a line stands above the face.
    pub raised: Vec<Dent>,
}

/// A stretch in which one line departs from the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dent {
    /// Number of the line.
    pub line: usize,
    /// Where it begins, millimetres.
    pub from: f64,
    /// Where it ends.
    pub to: f64,
    /// The most that the line departs.
    pub depth: f64,
    /// How well that is known: three standard deviations, since the deepest of many places is the one told.
    pub uncertainty: f64,
    /// Where.
    pub deepest: f64,
    /// Who vouches for the face there.
    pub voucher: Voucher,
    /// Whether it runs like a bend: steadily deeper to the end of the line.
    pub bend_like: bool,
}

/// Dents no deeper than this are not told: half a usual finish cut takes them away unasked.
const LEAST_DEPTH: f64 = 0.03;
/// Standard deviations in a dent's uncertainty.
const COVERAGE: f64 = 3.0;
/// Dents nearer than this are one: the floor of a scrape comes up to the face in between.
const ONE_DENT: f64 = 0.5;
/// Curb rash at a lip is a few millimetres wide; from this length on, metal that falls steadily away toward
/// the line's end may be the rim itself, bent.
const BEND_LENGTH: f64 = 12.0;
/// A bent rim's departure leaves a straight line by less than this share of its depth; scraped metal is rougher.
const BEND_ROUGHNESS: f64 = 0.12;

/// Finds face, tilt, turn and dents. There must be a line; `cutoff` is that of the filter it went through.
#[must_use]
pub fn restore(lines: Lines, wishes: &Wishes, cutoff: Option<f64>) -> Restored {
    let spread = lines.spread();
    let (start, end) = (lines.x.first().copied().unwrap_or(0.0), lines.x.last().copied().unwrap_or(0.0));
    let knots = knots(start, end);
    let first = round(&lines, spread.0, &knots, None, wishes);
    let second = round(&lines, spread.0, &knots, Some((&first, Aside::Plain)), wishes);
    let Round { tilt, splits, levelled, consensus } =
        round(&lines, spread.0, &knots, Some((&second, Aside::All)), wishes);
    let plane = tilt.map_or_else(Tilt::default, |t| t.tilt);
    let turn = (spread.0 >= 2).then(|| turn(&knots, &splits, plane, consensus.sigma / WINDOW_AVERAGES));
    let mut dents = departures(&lines.x, &levelled, &consensus, Reading::Low);
    let raised = departures(&lines.x, &levelled, &consensus, Reading::High);
    let depth = depths(&lines, &levelled, &consensus, &mut dents, cutoff);
    dents.retain(|d| d.depth >= LEAST_DEPTH);
    Restored { lines, levelled, consensus, tilt, turn, spread, depth, dents, raised }
}

struct Round {
    tilt: Option<TiltFit>,
    splits: Vec<Split>,
    levelled: Vec<Vec<f64>>,
    consensus: Consensus,
}

/// What a round leaves out of the tilt and of the slow departures, by the readings of the round before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Aside {
    /// Departures of which some part is [`PLAIN`]: the first round's levelling may itself be off by less.
    Plain,
    /// All departures.
    All,
}

/// A departure of this much is damage, whatever a first levelling leaned on: scrapes of a third of a line's last 60 mm
/// were seen to put that off by some 0.05 mm, millimetres.
const PLAIN: f64 = 0.08;

/// For every line, which of its readings are left out.
fn left_out(before: &Round, which: Aside) -> Vec<Vec<bool>> {
    let Round { levelled, consensus, .. } = before;
    let of_line = |(readings, row): (&Vec<Reading>, &Vec<f64>)| {
        let mut out = Vec::with_capacity(row.len());
        for run in readings.chunk_by(|a, b| a == b) {
            let from = out.len();
            let departs = matches!(run.first(), Some(Reading::Low | Reading::High));
            let plain = |i: usize| (consensus.face[i] - row[i]).abs() >= PLAIN;
            let left = departs && (which == Aside::All || (from..from + run.len()).any(plain));
            out.extend(run.iter().map(|_| left));
        }
        out
    };
    consensus.reading.iter().zip(levelled).map(of_line).collect()
}

fn round(
    lines: &Lines,
    distinct: usize,
    knots: &[f64],
    before: Option<(&Round, Aside)>,
    wishes: &Wishes,
) -> Round {
    let left_out = before.map(|(b, which)| left_out(b, which));
    let set_aside =
        |k: usize, i: usize| left_out.as_ref().and_then(|o| o.get(k)?.get(i)).copied().unwrap_or(false);
    let before = before.map(|(b, _)| b);
    let tilt = match before {
        _ if distinct < 3 => None,
        None => fit_tilt(lines, &set_aside, None),
        Some(Round { splits, tilt, .. }) => {
            fit_tilt(&without_lobes(lines, knots, splits), &set_aside, tilt.map(|fit| fit.tilt))
        }
    };
    let flat = without_tilt(lines, tilt.map_or_else(Tilt::default, |t| t.tilt));
    let face = before.map_or_else(|| middles(&flat), |b| b.consensus.face.clone());
    let ends = if before.is_some() { Ends::Half } else { Ends::Whole };
    let slow = slow_parts(lines, &flat, &face, &set_aside, knots, ends);
    let (splits, slow) = split_slow_parts(lines, slow, distinct);
    let levelled: Vec<Vec<f64>> = flat
        .iter()
        .zip(&slow)
        .map(|(z, slow)| z.iter().zip(between_knots(knots, slow, &lines.x)).map(|(z, s)| z - s).collect())
        .collect();
    let consensus = consensus(&lines.x, &levelled, wishes);
    Round { tilt, splits, levelled, consensus }
}

/// A slow part rests on some thirty cells, each a median of many readings; as if on this many squared readings at the least.
const WINDOW_AVERAGES: f64 = 5.0;

fn without_tilt(lines: &Lines, tilt: Tilt) -> Vec<Vec<f64>> {
    lines
        .z
        .iter()
        .zip(&lines.angle)
        .map(|(row, &angle)| row.iter().zip(&lines.x).map(|(z, &r)| z - tilt.at(r, angle)).collect())
        .collect()
}

/// The lines with the lobed part of the bend taken off: at uneven angles it would lean on the tilt. The tilt asks for no places.
fn without_lobes(lines: &Lines, knots: &[f64], splits: &[Split]) -> Lines {
    let row = |(row, &angle): (&Vec<f64>, &f64)| {
        let lobes: Vec<f64> = splits.iter().map(|s| s.lobed(angle)).collect();
        row.iter().zip(between_knots(knots, &lobes, &lines.x)).map(|(z, l)| z - l).collect()
    };
    Lines {
        x: lines.x.clone(),
        angle: lines.angle.clone(),
        z: lines.z.iter().zip(&lines.angle).map(row).collect(),
        places: Vec::new(),
        noise: Vec::new(),
    }
}

/// Each line's slow departure from the face at the knots.
fn slow_parts(
    lines: &Lines,
    flat: &[Vec<f64>],
    face: &[f64],
    set_aside: &(dyn Fn(usize, usize) -> bool + Sync),
    knots: &[f64],
    ends: Ends,
) -> Vec<Vec<f64>> {
    let departure = |k: usize, row: &[f64]| -> Vec<f64> {
        let both = row.iter().zip(face).enumerate();
        both.map(|(i, (z, f))| if set_aside(k, i) { f64::NAN } else { z - f }).collect()
    };
    flat.par_iter().enumerate().map(|(k, row)| slow_part(&lines.x, &departure(k, row), knots, ends)).collect()
}

/// The splits at the knots, and each line's slow departure there less the constant.
fn split_slow_parts(lines: &Lines, mut slow: Vec<Vec<f64>>, distinct: usize) -> (Vec<Split>, Vec<Vec<f64>>) {
    let knots = slow.first().map_or(0, Vec::len);
    let splits: Vec<Split> =
        (0..knots).map(|j| Split::new(&lines.angle, slow.iter().map(|line| line[j]), distinct)).collect();
    for line in &mut slow {
        line.iter_mut().zip(&splits).for_each(|(s, split)| *s -= split.constant);
        hold_ends(line);
    }
    (splits, slow)
}

/// Gives the knots before the first known one its value, and those behind the last known one that one's: where damage
/// reaches to the end of a line its slow departure is not known there, and without one its readings would be lost.
fn hold_ends(line: &mut [f64]) {
    let (first, last) = (line.iter().position(|s| s.is_finite()), line.iter().rposition(|s| s.is_finite()));
    let (Some(first), Some(last)) = (first, last) else { return };
    let (at_first, at_last) = (line[first], line[last]);
    line[..first].fill(at_first);
    line[last..].fill(at_last);
}

/// Stretches of readings of one kind, deep enough to tell.
fn departures(x: &[f64], levelled: &[Vec<f64>], consensus: &Consensus, kind: Reading) -> Vec<Dent> {
    let mut found = Vec::new();
    for (line, (row, reading)) in levelled.iter().zip(&consensus.reading).enumerate() {
        let depth_at = |i: usize| (consensus.face[i] - row[i]).abs();
        let last_read = reading.iter().rposition(|r| *r != Reading::Absent).unwrap_or(0);
        let mut i = 0;
        while i < x.len() {
            if reading[i] != kind {
                i += 1;
                continue;
            }
            let mut end = i;
            let mut j = i + 1;
            while j < x.len() && x[j] - x[end] <= ONE_DENT {
                if reading[j] == kind {
                    end = j;
                }
                j += 1;
            }
            let deepest = (i..=end)
                .filter(|&j| reading[j] == kind)
                .max_by(|&a, &b| depth_at(a).total_cmp(&depth_at(b)));
            let deepest = deepest.unwrap_or(i);
            let depth = depth_at(deepest);
            if depth >= LEAST_DEPTH {
                let bend_like =
                    end == last_read && x[end] - x[i] >= BEND_LENGTH && steady(x, &depth_at, i, end);
                let voucher = consensus.voucher[i..=end]
                    .iter()
                    .copied()
                    .max_by_key(|v| match v {
                        Voucher::Lines => 0,
                        Voucher::Margins => 1,
                        Voucher::OneLine => 2,
                    })
                    .unwrap_or(Voucher::Lines);
                found.push(Dent {
                    line,
                    from: x[i],
                    to: x[end],
                    depth,
                    uncertainty: 0.0,
                    deepest: x[deepest],
                    voucher,
                    bend_like,
                });
            }
            i = end + 1;
        }
    }
    found
}

/// Depth of each line below the face inside its dents; the dents' own depths are set by it.
fn depths(
    lines: &Lines,
    levelled: &[Vec<f64>],
    consensus: &Consensus,
    dents: &mut [Dent],
    cutoff: Option<f64>,
) -> Vec<Vec<f64>> {
    let x = &lines.x;
    (0..lines.count())
        .map(|line| {
            let mut depth = vec![0.0; x.len()];
            if dents.iter().all(|d| d.line != line) {
                return depth;
            }
            let noise = lines.noise.get(line).copied().unwrap_or(0.0);
            let below: Vec<f64> = levelled[line].iter().zip(&consensus.face).map(|(z, f)| f - z).collect();
            let places = cutoff.map(|c| (c, depths_of_places(lines, line, &below)));
            for dent in dents.iter_mut().filter(|d| d.line == line) {
                let from = x.partition_point(|&r| r < dent.from);
                let to = x.partition_point(|&r| r <= dent.to);
                let inside = match &places {
                    Some((cutoff, places)) => floor(places, noise, &x[from..to], *cutoff),
                    None => below[from..to].iter().map(|&d| Depth { depth: d, sigma: noise }).collect(),
                };
                dent.depth = 0.0;
                for (i, d) in (from..).zip(inside).filter(|(_, d)| d.depth > 0.0) {
                    depth[i] = d.depth;
                    if d.depth > dent.depth {
                        let face = consensus.sigma / (sound_at(consensus, i) as f64).sqrt();
                        (dent.depth, dent.deepest) = (d.depth, x[i]);
                        dent.uncertainty = COVERAGE * d.sigma.hypot(face);
                    }
                }
            }
            depth
        })
        .collect()
}

/// How many lines carry the face at a radius, at least one.
fn sound_at(consensus: &Consensus, i: usize) -> usize {
    consensus.reading.iter().filter(|row| row.get(i) == Some(&Reading::Sound)).count().max(1)
}

/// The places of a line as depths below the face: what its filtered height lies below it, and what the filter took.
fn depths_of_places(lines: &Lines, line: usize, below: &[f64]) -> Vec<Point> {
    let (Some(places), Some(z)) = (lines.places.get(line), lines.z.get(line)) else { return Vec::new() };
    let top: Vec<f64> = below.iter().zip(z).map(|(b, z)| b + z).collect();
    let at = |p: &Point| Point::new(p.x, between(&lines.x, &top, p.x) - p.z);
    places.iter().map(at).filter(|p| p.z.is_finite()).collect()
}

/// A value between rising radii, straight from one to the next; not a number beyond them.
fn between(x: &[f64], values: &[f64], at: f64) -> f64 {
    let i = x.partition_point(|&r| r < at);
    match (i.checked_sub(1), x.get(i)) {
        (_, Some(&r)) if r == at => values[i],
        (Some(h), Some(&r)) => values[h] + (values[i] - values[h]) * ((at - x[h]) / (r - x[h])),
        _ => f64::NAN,
    }
}

/// Whether the depth grows from about nothing to its most along a straight line, within the roughness of sound metal.
fn steady(x: &[f64], depth_at: &dyn Fn(usize) -> f64, from: usize, to: usize) -> bool {
    let (a, b) = (x[from], x[to]);
    let most = depth_at(to);
    let left: f64 = (from..=to)
        .map(|i| {
            let straight = most * (x[i] - a) / (b - a);
            (depth_at(i) - straight).powi(2)
        })
        .sum();
    (left / (to - from + 1) as f64).sqrt() <= BEND_ROUGHNESS * most
}
