//! Compares two programs by how they cut (deeper by, faster by, pass missing), not by their text.
//!
//! A program is divided into feed runs: motions at feed that follow one another without a rapid between. The runs of both
//! programs are paired in order so that the pairing costs least: the edit distance of Levenshtein (1966), with the mean difference
//! in height as the cost of pairing. Each pair is compared over the radii that both cover. No face is needed, so a
//! difference is reported even where both programs run in air.

use crate::geometry::Piece;
use crate::simulate::Execution;
use crate::simulate::interpreter::EventKind;
use crate::simulate::movement::{Feed, Movement, MovementKind, Spindle};

/// One difference between two programs.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
pub struct Difference {
    /// Line in the first program, where the difference has one there.
    pub line: Option<usize>,
    /// Line in the other program, where it has one there.
    pub other_line: Option<usize>,
    /// What the first does compared with the other, such as "deeper by 0.300 mm at radius 142.000 mm".
    pub what: String,
}

/// Differences in height, radius and feed below this are rounding of the words, millimetres.
const SAME_LENGTH: f64 = 0.000_6;
/// Fraction by which two speeds may differ and count as the same: rounding to a whole metre or foot per minute.
const SAME_SPEED: f64 = 0.002;
/// A feed run with no counterpart costs as much as a pair whose heights differ by this, millimetres: twice a rough cut.
const UNPAIRED: f64 = 0.4;
/// What it costs to pair feed runs of different tools, millimetres.
const OTHER_TOOL: f64 = 0.2;
/// Radii at which two feed runs are compared besides the ends of all their motions.
const SAMPLES: u32 = 400;
/// Feed runs of one program times those of the other up to which the best pairing is looked for; beyond it they are paired in their order.
const MOST_PAIRS: usize = 4_000_000;

/// Feed motions that follow one another without a rapid between.
struct FeedRun<'a> {
    moves: &'a [Movement],
    /// Innermost and outermost radius.
    reach: [f64; 2],
    /// Mean height, weighted by the length of the motions.
    height: f64,
}

fn feed_runs(execution: &Execution) -> Vec<FeedRun<'_>> {
    execution
        .movements
        .split(|m| m.kind == MovementKind::Rapid)
        .filter(|moves| !moves.is_empty())
        .map(|moves| {
            let ends = moves.iter().flat_map(|m| [m.piece.from().x, m.piece.to().x]);
            let reach = ends.fold([f64::INFINITY, f64::NEG_INFINITY], |r, x| [r[0].min(x), r[1].max(x)]);
            let (mut sum, mut length) = (0.0, 0.0);
            for piece in moves.iter().map(|m| &m.piece) {
                sum += f64::midpoint(piece.from().z, piece.to().z) * piece.length();
                length += piece.length();
            }
            FeedRun { moves, reach, height: if length > 0.0 { sum / length } else { 0.0 } }
        })
        .collect()
}

impl FeedRun<'_> {
    fn line(&self) -> usize {
        self.moves.first().map_or(0, |m| m.line)
    }

    fn tool(&self) -> Option<u32> {
        self.moves.first().and_then(|m| m.tool)
    }

    fn name(&self) -> String {
        format!(
            "radius {:.3} mm to {:.3} mm at a mean height of {:.3} mm",
            self.reach[0], self.reach[1], self.height
        )
    }

    /// The cost of pairing two feed runs; none where they have no radius in common.
    fn cost(&self, other: &Self) -> Option<f64> {
        let shared = self.reach[1].min(other.reach[1]) - self.reach[0].max(other.reach[0]);
        if shared < 0.0 {
            return None;
        }
        let all = self.reach[1].max(other.reach[1]) - self.reach[0].min(other.reach[0]);
        let missed = if all > 0.0 { 1.0 - shared / all } else { 0.0 };
        let tool = if self.tool() == other.tool() { 0.0 } else { OTHER_TOOL };
        Some((self.height - other.height).abs() + missed * UNPAIRED + tool)
    }

    /// The lowest height at each of some rising radii, and the line of the motion that has it.
    fn heights(&self, at: &[f64]) -> Vec<Option<(f64, usize)>> {
        let mut out: Vec<Option<(f64, usize)>> = vec![None; at.len()];
        for m in self.moves {
            let (a, b) = (m.piece.from().x, m.piece.to().x);
            let (low, high) = (a.min(b), a.max(b));
            let (first, end) = (at.partition_point(|x| *x < low), at.partition_point(|x| *x <= high));
            for (slot, &x) in out.iter_mut().zip(at).take(end).skip(first) {
                let z = lowest(&m.piece, x);
                if slot.is_none_or(|(lowest, _)| z < lowest) {
                    *slot = Some((z, m.line));
                }
            }
        }
        out
    }
}

/// The height of a piece at a radius inside its range; the lower end of one that runs along the axis.
fn lowest(piece: &Piece, x: f64) -> f64 {
    let (a, b) = (piece.from(), piece.to());
    if a.x == b.x { a.z.min(b.z) } else { piece.at(x) }
}

/// The pairing of feed runs of the two programs.
enum Pairing {
    Both(usize, usize),
    First(usize),
    Other(usize),
}

fn pair(first: &[FeedRun<'_>], other: &[FeedRun<'_>]) -> Vec<Pairing> {
    if first.len().saturating_mul(other.len()) > MOST_PAIRS {
        let both = first.len().min(other.len());
        let mut out: Vec<Pairing> = (0..both).map(|i| Pairing::Both(i, i)).collect();
        out.extend((both..first.len()).map(Pairing::First));
        out.extend((both..other.len()).map(Pairing::Other));
        return out;
    }
    // costs[i][j]: the least cost of pairing the first i feed runs with the first j of the other.
    let mut costs = vec![vec![0.0_f64; other.len() + 1]; first.len() + 1];
    let pair_cost = |i: usize, j: usize| match (first.get(i), other.get(j)) {
        (Some(a), Some(b)) => a.cost(b).unwrap_or(f64::INFINITY),
        _ => f64::INFINITY,
    };
    for i in 0..=first.len() {
        for j in 0..=other.len() {
            let mut least = if i == 0 && j == 0 { 0.0 } else { f64::INFINITY };
            if i > 0 {
                least = least.min(costs[i - 1][j] + UNPAIRED);
            }
            if j > 0 {
                least = least.min(costs[i][j - 1] + UNPAIRED);
            }
            if i > 0 && j > 0 {
                least = least.min(costs[i - 1][j - 1] + pair_cost(i - 1, j - 1));
            }
            costs[i][j] = least;
        }
    }
    let (mut i, mut j) = (first.len(), other.len());
    let mut out = Vec::new();
    while i > 0 || j > 0 {
        let here = costs[i][j];
        if i > 0 && j > 0 && here == costs[i - 1][j - 1] + pair_cost(i - 1, j - 1) {
            (i, j) = (i - 1, j - 1);
            out.push(Pairing::Both(i, j));
        } else if i > 0 && here == costs[i - 1][j] + UNPAIRED {
            i -= 1;
            out.push(Pairing::First(i));
        } else {
            j = j.saturating_sub(1);
            out.push(Pairing::Other(j));
        }
    }
    out.reverse();
    out
}

/// The differences of the first program from the other, in the order of its feed runs. Empty where both cut alike.
#[must_use]
pub fn against(first: &Execution, other: &Execution) -> Vec<Difference> {
    let (a, b) = (feed_runs(first), feed_runs(other));
    let mut out = Vec::new();
    for pairing in pair(&a, &b) {
        match pairing {
            Pairing::Both(i, j) => {
                if let (Some(a), Some(b)) = (a.get(i), b.get(j)) {
                    compare(a, b, &mut out);
                }
            }
            Pairing::First(i) => {
                if let Some(s) = a.get(i) {
                    let what = format!("a pass more: {}", s.name());
                    out.push(Difference { line: Some(s.line()), other_line: None, what });
                }
            }
            Pairing::Other(j) => {
                if let Some(s) = b.get(j) {
                    let what = format!("a pass missing: {}", s.name());
                    out.push(Difference { line: None, other_line: Some(s.line()), what });
                }
            }
        }
    }
    stops(first, other, &mut out);
    out
}

fn compare(a: &FeedRun<'_>, b: &FeedRun<'_>, out: &mut Vec<Difference>) {
    let mut say = |line: Option<usize>, other_line: Option<usize>, what: String| {
        out.push(Difference { line, other_line, what });
    };
    let (line, other) = (Some(a.line()), Some(b.line()));
    if a.tool() != b.tool() {
        let name = |t: Option<u32>| t.map_or_else(|| "no tool".to_owned(), |n| format!("tool {n}"));
        say(line, other, format!("{} instead of {}", name(a.tool()), name(b.tool())));
    }
    heights(a, b, &mut say);
    for (end, name, sign) in [(0, "inward", -1.0), (1, "outward", 1.0)] {
        let (Some(x), Some(y)) = (a.reach.get(end), b.reach.get(end)) else { continue };
        let further = (x - y) * sign;
        if further > SAME_LENGTH {
            say(line, other, format!("reaches {further:.3} mm further {name}, to radius {x:.3} mm"));
        } else if further < -SAME_LENGTH {
            say(line, other, format!("stops {:.3} mm short {name}, at radius {x:.3} mm", -further));
        }
    }
    if a.moves.first().map(|m| m.stops_before.0 == 0) != b.moves.first().map(|m| m.stops_before.0 == 0) {
        let before = |s: &FeedRun<'_>| s.moves.first().is_some_and(|m| m.stops_before.0 > 0);
        let what = if before(a) {
            "runs after the first stop, the other before it"
        } else {
            "runs before any stop, the other after one"
        };
        say(line, other, what.to_owned());
    }
    if outward(a) != outward(b) {
        say(line, other, "runs the other way over the face".to_owned());
    }
    for (mine, theirs, name) in [
        (fastest(a, feed), fastest(b, feed), "feed"),
        (fastest(a, speed), fastest(b, speed), "speed"),
        (fastest(a, limit), fastest(b, limit), "spindle limit"),
    ] {
        compare_rates(mine, theirs, name, &mut say);
    }
    if a.moves.iter().any(|m| m.coolant) != b.moves.iter().any(|m| m.coolant) {
        let what = if a.moves.iter().any(|m| m.coolant) { "with coolant" } else { "without coolant" };
        say(line, other, what.to_owned());
    }
}

fn heights(a: &FeedRun<'_>, b: &FeedRun<'_>, say: &mut impl FnMut(Option<usize>, Option<usize>, String)) {
    let [low, high] = [a.reach[0].max(b.reach[0]), a.reach[1].min(b.reach[1])];
    let mut at: Vec<f64> =
        (0..=SAMPLES).map(|i| low + (high - low) * f64::from(i) / f64::from(SAMPLES)).collect();
    let ends = a.moves.iter().chain(b.moves).flat_map(|m| [m.piece.from().x, m.piece.to().x]);
    at.extend(ends.filter(|x| *x >= low && *x <= high));
    at.sort_by(f64::total_cmp);
    at.dedup();
    let mut deepest = (0.0, 0.0, 0, 0);
    let mut highest = (0.0, 0.0, 0, 0);
    for (&x, pair) in at.iter().zip(a.heights(&at).into_iter().zip(b.heights(&at))) {
        let (Some((mine, line)), Some((theirs, other))) = pair else { continue };
        if theirs - mine > deepest.0 {
            deepest = (theirs - mine, x, line, other);
        }
        if mine - theirs > highest.0 {
            highest = (mine - theirs, x, line, other);
        }
    }
    for ((by, x, line, other), name) in [(deepest, "deeper"), (highest, "higher")] {
        if by > SAME_LENGTH {
            say(Some(line), Some(other), format!("{name} by {by:.3} mm at radius {x:.3} mm"));
        }
    }
}

/// Whether the feed run crosses the face outward, by its longest motion.
fn outward(s: &FeedRun<'_>) -> bool {
    let run = |m: &Movement| m.piece.to().x - m.piece.from().x;
    s.moves.iter().map(run).sum::<f64>() >= 0.0
}

/// A speed or feed of a feed run, with its unit and line.
type Rate = Option<(f64, &'static str, usize)>;

/// The largest of a number over the motions of a feed run.
fn fastest(s: &FeedRun<'_>, of: impl Fn(&Movement) -> Option<(f64, &'static str)>) -> Rate {
    s.moves
        .iter()
        .filter_map(|m| of(m).map(|(v, unit)| (v, unit, m.line)))
        .fold(None, |most: Rate, now| if most.is_some_and(|m| m.0 >= now.0) { most } else { Some(now) })
}

fn feed(m: &Movement) -> Option<(f64, &'static str)> {
    match m.feed {
        Feed::Missing => None,
        Feed::PerRev(f) => Some((f.as_mm_per_rev(), "mm/rev")),
        Feed::PerMinute(f) => Some((f.as_mm_per_min(), "mm/min")),
    }
}

fn speed(m: &Movement) -> Option<(f64, &'static str)> {
    match m.spindle {
        Spindle::Off => Some((0.0, "rpm")),
        Spindle::Fixed { speed, .. } => speed.map(|n| (n.as_rpm(), "rpm")),
        Spindle::Surface { speed, .. } => speed.map(|v| (v.as_mm_per_min() / 1000.0, "m/min")),
    }
}

fn limit(m: &Movement) -> Option<(f64, &'static str)> {
    match m.spindle {
        Spindle::Surface { limit, .. } => limit.map(|n| (n.as_rpm(), "rpm")),
        Spindle::Off | Spindle::Fixed { .. } => None,
    }
}

fn compare_rates(
    mine: Rate,
    theirs: Rate,
    name: &str,
    say: &mut impl FnMut(Option<usize>, Option<usize>, String),
) {
    match (mine, theirs) {
        (Some((a, unit, line)), Some((b, other_unit, other))) => {
            let (line, other) = (Some(line), Some(other));
            if unit != other_unit {
                say(line, other, format!("{name} {a:.3} {unit} instead of {b:.3} {other_unit}"));
            } else if (a - b).abs() > SAME_SPEED * a.max(b) {
                let way = if a > b { "faster" } else { "slower" };
                let by = (a - b).abs();
                say(line, other, format!("{name} {way} by {by:.3} {unit}: {a:.3} instead of {b:.3}"));
            }
        }
        (Some((a, unit, line)), None) => {
            say(Some(line), None, format!("{name} {a:.3} {unit}, the other has none"));
        }
        (None, Some((b, unit, other))) => {
            say(None, Some(other), format!("no {name}, the other has {b:.3} {unit}"));
        }
        (None, None) => {}
    }
}

/// Compares the numbers of stops and dwells, and the end.
fn stops(first: &Execution, other: &Execution, out: &mut Vec<Difference>) {
    let count = |execution: &Execution, of: fn(&EventKind) -> bool| {
        execution.events.iter().filter(|e| of(&e.kind)).count()
    };
    for (name, of) in [
        ("stop", (|k| matches!(k, EventKind::Stop)) as fn(&EventKind) -> bool),
        ("optional stop", |k| matches!(k, EventKind::OptionalStop)),
        ("dwell", |k| matches!(k, EventKind::Dwell { .. })),
        ("end", |k| matches!(k, EventKind::End)),
    ] {
        let (mine, theirs) = (count(first, of), count(other, of));
        if mine != theirs {
            let what = format!("{mine} {name}{} instead of {theirs}", if mine == 1 { "" } else { "s" });
            out.push(Difference { line: None, other_line: None, what });
        }
    }
}
