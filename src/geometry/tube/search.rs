//! The search: round by round the most promising few ends go on, each by one piece.
//!
//! Among all ends that a round's pieces can have, those count most from which the next piece
//! reaches furthest; the furthest ends themselves lie against an edge of the tube, where the next
//! piece starts badly. So every end is judged by the reach of what can follow it, and only the best
//! are laid out, rounded and checked.

use super::band::Band;
use super::control::{arrives, lay_arc, lay_line, leaves};
use super::fan::{Fan, Ray, Side, bend_to, ending_in, slope_to};
use super::{ArcRule, NOISE, Tube, TubeFault, smooth};
use crate::geometry::{Curve, Piece, Point};

/// How widely a search looks.
#[derive(Debug, Clone, Copy)]
struct Width {
    /// How many states go on from a round, each in a column of its own.
    states: usize,
    /// How many heights of a column are tried as ends.
    heights: usize,
    /// How far back from the furthest column ends are looked for, as shares of a piece's whole reach.
    setbacks: &'static [f64],
}

/// With arcs, which make up for an end that is a little off.
const FOR_ARCS: Width = Width { states: 5, heights: 6, setbacks: &[0.0, 0.02, 0.05, 0.1, 0.17, 0.25, 0.35] };

/// With lines only: the ends decide all, and a fan of lines costs little.
const FOR_LINES: Width =
    Width { states: 10, heights: 12, setbacks: &[0.0, 0.01, 0.02, 0.04, 0.06, 0.08, 0.12, 0.16, 0.2, 0.35] };

/// The same where none of those can be laid out, down to a single column.
const RETREATS: [f64; 9] = [0.0, 0.25, 0.5, 0.7, 0.85, 0.93, 0.97, 0.99, 1.0];

/// Halvings of the gap between two points of the band in which a reach ends: to a sixteenth of it.
const HALVINGS: usize = 4;

/// The steepest tangent that is tried, as a slope: 89.94°, beyond what any edge follows.
const STEEPEST: f64 = 1000.0;

/// A place reached, and the piece that reached it.
#[derive(Debug, Clone, Copy)]
struct State {
    at: Point,
    /// The tangent's angle there, and none at the start.
    heading: Option<f64>,
    piece: Option<Piece>,
    parent: usize,
    /// Sum of the squares of all changes of direction so far.
    bent: f64,
}

/// A place that a piece from a state may end in.
#[derive(Debug, Clone, Copy)]
struct End {
    at: Point,
    parent: usize,
    /// The range of k of the pieces that end there.
    bends: (f64, f64),
    /// How far the piece after it can reach.
    reach: f64,
    /// The angle at which the way goes on: the middle of those that the piece after it may have, or the goal's.
    onward: Option<f64>,
}

/// Whether the limit on changes of direction holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Joints {
    Smooth,
    Free,
}

/// How hard a round tries.
#[derive(Debug, Clone, Copy)]
struct Effort {
    joints: Joints,
    setbacks: &'static [f64],
}

/// Where a way begins or ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Post {
    /// At any height of a column, in any direction.
    Column(f64),
    /// At a place, and there in the direction of the piece that it joins.
    Fixed { at: Point, heading: f64 },
}

impl Post {
    const fn x(self) -> f64 {
        match self {
            Self::Column(x) => x,
            Self::Fixed { at, .. } => at.x,
        }
    }

    const fn heading(self) -> Option<f64> {
        match self {
            Self::Column(_) => None,
            Self::Fixed { heading, .. } => Some(heading),
        }
    }
}

pub(super) struct Search<'a> {
    tube: &'a Tube,
    band: Band,
    width: Width,
    start: Post,
    goal: Post,
    /// The goal's column.
    end: f64,
    states: Vec<State>,
    fan: Fan,
    /// The polygons after each pin, one after the other, and where each stands.
    history: Vec<Ray>,
    marks: Vec<(usize, usize)>,
}

impl<'a> Search<'a> {
    /// A search along a path that reaches from the start to the goal at least.
    pub(super) fn new(path: &Curve, tube: &'a Tube, start: Post, goal: Post) -> Self {
        Self {
            tube,
            band: Band::new(path, tube.tolerance),
            width: if tube.arcs == ArcRule::None { FOR_LINES } else { FOR_ARCS },
            start,
            goal,
            end: goal.x(),
            states: Vec::new(),
            fan: Fan::default(),
            history: Vec::new(),
            marks: Vec::new(),
        }
    }

    /// The pieces of the best way from the start to the goal, whatever it takes.
    pub(super) fn run(self) -> Result<Vec<Piece>, TubeFault> {
        self.run_within(usize::MAX, &[Joints::Smooth, Joints::Free])
    }

    /// The same, given up where it takes more than `most` pieces or a joint beyond the limit.
    pub(super) fn run_smooth(self, most: usize) -> Result<Vec<Piece>, TubeFault> {
        self.run_within(most, &[Joints::Smooth])
    }

    fn run_within(mut self, most: usize, joints: &[Joints]) -> Result<Vec<Piece>, TubeFault> {
        let places = match self.start {
            Post::Column(x) => self.heights(x).into_iter().map(|z| Point::new(x, z)).collect(),
            Post::Fixed { at, .. } => vec![at],
        };
        let heading = self.start.heading();
        let state = |at| State { at, heading, piece: None, parent: 0, bent: 0.0 };
        self.states.extend(places.into_iter().map(state));
        let mut front: Vec<usize> = (0..self.states.len()).collect();
        for _ in 0..most {
            let wanted = Effort { joints: Joints::Smooth, setbacks: self.width.setbacks };
            let next = joints.iter().map(|&joints| Effort { joints, setbacks: &RETREATS }).fold(
                self.round(&front, wanted),
                |next, effort| {
                    if next.is_empty() { self.round(&front, effort) } else { next }
                },
            );
            if next.is_empty() {
                break;
            }
            let first = self.states.len();
            self.states.extend(next);
            front = (first..self.states.len()).collect();
            if let Some(&last) = front
                .iter()
                .filter(|&&i| self.states[i].at.x == self.end)
                .min_by(|&&a, &&b| self.states[a].bent.total_cmp(&self.states[b].bent))
            {
                return Ok(self.way_to(last));
            }
        }
        let x = front.iter().map(|&i| self.states[i].at.x).fold(self.start.x(), f64::max);
        Err(TubeFault::Narrow { x })
    }

    fn way_to(&self, last: usize) -> Vec<Piece> {
        let mut way = Vec::new();
        let mut i = last;
        while let Some(piece) = self.states[i].piece {
            way.push(piece);
            i = self.states[i].parent;
        }
        way.reverse();
        way
    }

    /// The states that one piece more leads to, the best few.
    fn round(&mut self, front: &[usize], effort: Effort) -> Vec<State> {
        let turns: Vec<f64> =
            front.iter().map(|&i| self.turn_at(self.states[i].at.x, effort.joints)).collect();
        let mut ends = Vec::new();
        for (&i, &turn) in front.iter().zip(&turns) {
            self.find_ends(i, turn, effort.setbacks, &mut ends);
        }
        let mut turn = (f64::NAN, 0.0);
        for end in &mut ends {
            if end.at.x != turn.0 {
                turn = (end.at.x, self.turn_at(end.at.x, effort.joints));
            }
            self.judge(end, turn.1);
        }
        ends.sort_by(|a, b| {
            let done = |e: &End| e.at.x == self.end;
            done(b)
                .cmp(&done(a))
                .then(b.reach.total_cmp(&a.reach))
                .then((b.bends.1 - b.bends.0).total_cmp(&(a.bends.1 - a.bends.0)))
        });
        let at_goal = self.turn_at(self.end, effort.joints);
        let mut next: Vec<State> = Vec::with_capacity(self.width.states);
        for end in &ends {
            if next.len() == self.width.states {
                break;
            }
            if next.iter().any(|s| s.at.x == end.at.x) {
                continue;
            }
            let turn = front.iter().position(|&i| i == end.parent).map_or(0.0, |i| turns[i]);
            next.extend(self.lay(end, [turn, at_goal]));
        }
        next
    }

    fn turn_at(&self, x: f64, joints: Joints) -> f64 {
        match joints {
            Joints::Smooth => smooth::allowed(&self.band, x, self.tube.tolerance, self.tube.tangent_jump),
            Joints::Free => std::f64::consts::PI,
        }
    }

    /// All places that a piece from a state may end in and that are worth judging.
    fn find_ends(&mut self, parent: usize, turn: f64, setbacks: &[f64], ends: &mut Vec<End>) {
        let state = self.states[parent];
        let headings = state.heading.map(|h| (h - turn, h + turn));
        let reach = self.sweep(state.at, headings);
        let dx = self.tube.grid.dx;
        let columns = ((reach - state.at.x) / dx).round();
        if columns < 1.0 {
            return;
        }
        let mut before = 0.0;
        for &share in setbacks {
            let n = (columns * (1.0 - share)).floor().max(1.0);
            if n == before {
                continue;
            }
            before = n;
            let x = if n == columns { reach } else { self.tube.grid.nearest_x(state.at.x + n * dx) };
            let passed =
                self.band.pins.partition_point(|p| p.at.x < x).saturating_sub(self.first_pin(state.at.x));
            let Some(&(start, len)) = self.marks.get(passed.min(self.marks.len() - 1)) else { continue };
            let corners = &self.history[start..start + len];
            for z in self.heights(x) {
                if let Some(bends) = ending_in(corners, Point::new(x - state.at.x, z - state.at.z)) {
                    ends.push(End { at: Point::new(x, z), parent, bends, reach: x, onward: None });
                }
            }
        }
    }

    /// How far the piece after an end can reach.
    fn judge(&mut self, end: &mut End, turn: f64) {
        if end.at.x == self.end {
            end.onward = self.goal.heading();
            return;
        }
        let from = self.states[end.parent].at;
        let q = end.at.shifted(-from.x, -from.z);
        let chord = q.z.atan2(q.x);
        // A circle meets its chord at both ends at the same angle.
        let arrives = |k: f64| 2.0 * chord - slope_to(q, k).atan();
        let (a, b) = (arrives(end.bends.0), arrives(end.bends.1));
        end.reach = self.sweep(end.at, Some((a.min(b) - turn, a.max(b) + turn)));
        let slopes = match self.marks.iter().rev().find(|m| m.1 > 0) {
            Some(&(start, len)) => &self.history[start..start + len],
            None => return,
        };
        let (lo, hi) =
            slopes.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), r| (lo.min(r.m), hi.max(r.m)));
        end.onward = Some(f64::midpoint(lo, hi).atan());
    }

    /// Clips the fan of a start until it is empty, keeping the polygons; the last column that may be reached.
    fn sweep(&mut self, at: Point, headings: Option<(f64, f64)>) -> f64 {
        let steepest = STEEPEST.atan();
        let slopes = headings
            .map_or((-STEEPEST, STEEPEST), |(lo, hi)| (lo.max(-steepest).tan(), hi.min(steepest).tan()));
        let bends = match self.tube.arcs {
            ArcRule::None => (0.0, 0.0),
            ArcRule::Allowed(limits) => {
                let most = (1.0 + slopes.0.powi(2).max(slopes.1.powi(2))).sqrt() / limits.min_radius;
                (-most, most)
            }
        };
        self.fan.open(slopes, bends);
        self.history.clear();
        self.marks.clear();
        self.history.extend_from_slice(self.fan.corners());
        let mut mark = (0, self.history.len());
        self.marks.push(mark);
        let first = self.first_pin(at.x);
        let mut passed = at.x;
        for pin in self.band.pins.get(first..).unwrap_or_default() {
            if pin.at.x >= self.end {
                break;
            }
            if self.fan.clip(pin.at.shifted(-at.x, -at.z), pin.side) {
                if self.fan.corners().is_empty() {
                    return self.between(at, mark, passed, pin.at.x);
                }
                mark = (self.history.len(), self.fan.corners().len());
                self.history.extend_from_slice(self.fan.corners());
            }
            passed = pin.at.x;
            self.marks.push(mark);
        }
        if self.crosses(at, mark, self.end) { self.end } else { self.between(at, mark, passed, self.end) }
    }

    /// The last column between a place that a polygon's pieces reach and one that they do not, to a part of the gap.
    fn between(&mut self, at: Point, mark: (usize, usize), passed: f64, missed: f64) -> f64 {
        let (mut good, mut bad) = (passed, missed);
        for _ in 0..HALVINGS {
            if bad - good < self.tube.grid.dx {
                break;
            }
            let middle = f64::midpoint(good, bad);
            if self.crosses(at, mark, middle) { good = middle } else { bad = middle }
        }
        self.tube.grid.column_to(good)
    }

    /// Whether any of a polygon's pieces is inside the band at x.
    fn crosses(&mut self, at: Point, mark: (usize, usize), x: f64) -> bool {
        self.fan.refill(&self.history[mark.0..mark.0 + mark.1]);
        for (z, side) in [(self.band.floor_at(x), Side::Above), (self.band.roof_at(x), Side::Below)] {
            self.fan.clip(Point::new(x - at.x, z - at.z), side);
        }
        !self.fan.corners().is_empty()
    }

    /// The first pin beyond x.
    fn first_pin(&self, x: f64) -> usize {
        self.band.pins.partition_point(|p| p.at.x <= x)
    }

    /// The state at an end, if a piece to it keeps the band and bends by no more than `turns` at its start and at the goal: a line
    /// where one holds.
    fn lay(&self, end: &End, turns: [f64; 2]) -> Option<State> {
        let from = self.states[end.parent];
        let onward = self.goal.heading().filter(|_| end.at.x == self.end);
        let joint = |one: f64, other: Option<f64>| other.map_or(0.0, |other| one - other);
        let joints = |piece: &Piece| [joint(leaves(piece), from.heading), joint(arrives(piece), onward)];
        let smooth = |piece: &Piece| joints(piece).iter().zip(turns).all(|(joint, most)| joint.abs() <= most);
        let line = (end.bends.0 <= 0.0 && end.bends.1 >= 0.0)
            .then(|| lay_line(&self.band, from.at, end.at).filter(smooth))
            .flatten();
        let piece = match line {
            Some(line) => line,
            None => lay_arc(&self.band, &self.tube.arcs, (from.at, end.at), end.bends, self.wish(end))
                .filter(smooth)?,
        };
        Some(State {
            at: end.at,
            heading: Some(arrives(&piece)),
            piece: Some(piece),
            parent: end.parent,
            bent: from.bent + joints(&piece).map(|j| j * j).iter().sum::<f64>(),
        })
    }

    /// The k that turns as little as may be at the start and toward the piece after the end, off the range's edges.
    fn wish(&self, end: &End) -> f64 {
        let from = self.states[end.parent];
        let q = end.at.shifted(-from.at.x, -from.at.z);
        let (lo, hi) = end.bends;
        let (middle, inner) = (f64::midpoint(lo, hi), 0.4 * (hi - lo));
        let back = end.onward.map(|onward| 2.0 * q.z.atan2(q.x) - onward);
        let leaves = match (from.heading, back) {
            (Some(h), Some(back)) => f64::midpoint(h, back),
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => return middle,
        };
        bend_to(q, leaves.tan()).clamp(middle - inner, middle + inner)
    }

    /// Heights of the grid inside the band in a column, all of them or an even choice; in the goal's column those of the goal.
    fn heights(&self, x: f64) -> Vec<f64> {
        if let Post::Fixed { at, .. } = self.goal
            && at.x == x
        {
            return vec![at.z];
        }
        let grid = &self.tube.grid;
        let low = grid.z_not_below(self.band.floor_at(x));
        let count = ((self.band.roof_at(x) - low + NOISE) / grid.dz).floor() + 1.0;
        if count < 1.0 {
            return Vec::new();
        }
        let stride = (count / self.width.heights as f64).max(1.0);
        (0..self.width.heights)
            .map(|i| (i as f64 * stride).floor())
            .filter(|&i| i < count)
            .map(|i| grid.nearest_z(low + i * grid.dz))
            .collect()
    }
}

impl Tube {
    /// The first and the last column of the grid on a path.
    pub(super) fn columns(&self, path: &Curve) -> (f64, f64) {
        (self.grid.column_from(path.start()), self.grid.column_to(path.end()))
    }
}

impl super::Grid {
    /// The first radius of the grid that is not before x.
    fn column_from(&self, x: f64) -> f64 {
        self.nearest_x(x + self.dx * (0.5 - ON_COLUMN))
    }

    /// The last radius of the grid that is not beyond x.
    fn column_to(&self, x: f64) -> f64 {
        self.nearest_x(x - self.dx * (0.5 - ON_COLUMN))
    }
}

/// Share of a step by which a radius may miss a column and still count as on it: room for rounding, no more.
const ON_COLUMN: f64 = 1e-6;
