//! The search: round by round the most promising few ends go on, each by one piece.
//!
//! Among all ends that a round's pieces can have, those count most from which the next piece
//! reaches furthest; the furthest ends themselves lie against an edge of the tube, where the next
//! piece starts badly. So every end is judged by the reach of what can follow it, and only the best
//! are laid out, rounded and checked.

use super::control::{arrives, lay_arc, lay_line, leaves};
use super::corridor::{Constraint, Corridor};
use super::feasible::{ArcParameter, FeasibleArcs, Side, bend_to, ending_in, slope_to};
use super::index::BucketIndex;
use super::{ArcRule, FitError, NOISE, Tube, smooth};
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
const FOR_ARCS: Width = Width { states: 5, heights: 6, setbacks: &[0.0, 0.02, 0.05, 0.1, 0.17, 0.3] };

/// With lines only: the ends decide all, and a polygon of lines costs little.
const FOR_LINES: Width =
    Width { states: 8, heights: 12, setbacks: &[0.0, 0.03, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5] };

/// The same where none of those can be laid out, down to a single column.
const RETREATS: [f64; 9] = [0.0, 0.25, 0.5, 0.7, 0.85, 0.93, 0.97, 0.99, 1.0];

/// Columns that are looked at, one after the other, until a piece can end in one: pieces that hardly differ pass between the grid's
/// heights in most columns, and on a slope through one of them in some.
const ASIDE: u8 = 24;

/// A round that gets no further than this many columns has lost its way: pieces so short, each within the limit on joints, are a kink
/// in disguise, and a load on the control.
const CRAWL: f64 = 4.0;

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

/// Where a round looks for ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ends {
    /// Near the furthest column, the best of them those from which the next piece reaches furthest.
    Likely,
    /// Anywhere, the best of them the furthest ones.
    Retreat,
}

/// How hard a round tries.
#[derive(Debug, Clone, Copy)]
struct Effort {
    joints: Joints,
    ends: Ends,
}

/// Where a way begins or ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum EndPoint {
    /// At any height of a column, in any direction.
    Column(f64),
    /// At a place, and there in the direction of the piece that it joins.
    Fixed { at: Point, heading: f64 },
}

impl EndPoint {
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
    tube: &'a Tube<'a>,
    corridor: Corridor,
    /// The points that stand for the corridor, by x; the last two stand in the goal's column.
    constraints: BucketIndex<Constraint>,
    width: Width,
    start: EndPoint,
    goal: EndPoint,
    /// The goal's column, and the heights in which a way may end there.
    end: f64,
    goal_heights: Vec<f64>,
    states: Vec<State>,
    feasible: FeasibleArcs,
    /// The polygons after each constraint, one after the other, and where each stands.
    history: Vec<ArcParameter>,
    marks: Vec<(usize, usize)>,
}

impl<'a> Search<'a> {
    /// A search along a path that reaches from the start to the goal at least.
    pub(super) fn new(path: &Curve, tube: &'a Tube<'a>, start: EndPoint, goal: EndPoint) -> Self {
        let (corridor, constraints) = Corridor::new(path, tube.tolerance);
        let mut search = Self {
            tube,
            constraints: constraints_to(goal.x(), constraints, &corridor),
            corridor,
            width: if tube.arcs == ArcRule::None { FOR_LINES } else { FOR_ARCS },
            start,
            goal,
            end: goal.x(),
            goal_heights: Vec::new(),
            states: Vec::new(),
            feasible: FeasibleArcs::default(),
            history: Vec::new(),
            marks: Vec::new(),
        };
        search.goal_heights = match goal {
            EndPoint::Column(x) => search.heights_at(x).collect(),
            EndPoint::Fixed { at, .. } => vec![at.z],
        };
        search
    }

    /// The pieces of the best way from the start to the goal, whatever it takes.
    pub(super) fn run(self) -> Result<Vec<Piece>, FitError> {
        self.run_within(usize::MAX, &[Joints::Smooth, Joints::Free])
    }

    /// The same, given up where it takes more than `most` pieces or a joint beyond the limit.
    pub(super) fn run_smooth(self, most: usize) -> Result<Vec<Piece>, FitError> {
        self.run_within(most, &[Joints::Smooth])
    }

    fn run_within(mut self, most: usize, joints: &[Joints]) -> Result<Vec<Piece>, FitError> {
        let places = match self.start {
            EndPoint::Column(x) => self.heights_at(x).map(|z| Point::new(x, z)).collect(),
            EndPoint::Fixed { at, .. } => vec![at],
        };
        let heading = self.start.heading();
        let state = |at| State { at, heading, piece: None, parent: 0, bent: 0.0 };
        self.states.extend(places.into_iter().map(state));
        let mut front: Vec<usize> = (0..self.states.len()).collect();
        for _ in 0..most {
            let next = self.advance(&front, joints);
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
        Err(FitError::Narrow { x })
    }

    /// The states after one piece more: with the least effort that gets on by more than a crawl, else with the least that gets anywhere.
    fn advance(&mut self, front: &[usize], joints: &[Joints]) -> Vec<State> {
        let furthest = front.iter().map(|&i| self.states[i].at.x).fold(self.start.x(), f64::max);
        let gets_on = furthest + CRAWL * self.tube.grid.dx;
        let likely = Effort { joints: Joints::Smooth, ends: Ends::Likely };
        let retreats = joints.iter().map(|&joints| Effort { joints, ends: Ends::Retreat });
        let mut crawl = Vec::new();
        for effort in std::iter::once(likely).chain(retreats) {
            let next = self.round(front, effort);
            if next.iter().any(|s| s.at.x > gets_on || s.at.x == self.end) {
                return next;
            }
            if crawl.is_empty() {
                crawl = next;
            }
        }
        crawl
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
        let setbacks = match effort.ends {
            Ends::Likely => self.width.setbacks,
            Ends::Retreat => &RETREATS,
        };
        let mut ends = Vec::with_capacity(front.len() * setbacks.len() * self.width.heights);
        for (&i, &turn) in front.iter().zip(&turns) {
            self.find_ends(i, turn, setbacks, &mut ends);
        }
        let mut turn = (f64::NAN, 0.0);
        for end in &mut ends {
            if end.at.x != turn.0 {
                turn = (end.at.x, self.turn_at(end.at.x, effort.joints));
            }
            self.judge(end, turn.1);
        }
        let mut best: Vec<&End> = ends.iter().collect();
        best.sort_by(|a, b| {
            let done = |e: &End| e.at.x == self.end;
            let furthest = match effort.ends {
                Ends::Likely => std::cmp::Ordering::Equal,
                // Here a reach has just proved to be one of the polygon only, not of what the control can be told.
                Ends::Retreat => b.at.x.total_cmp(&a.at.x),
            };
            done(b)
                .cmp(&done(a))
                .then(furthest)
                .then(b.reach.total_cmp(&a.reach))
                .then((b.bends.1 - b.bends.0).total_cmp(&(a.bends.1 - a.bends.0)))
        });
        let at_goal = self.turn_at(self.end, effort.joints);
        let mut next: Vec<State> = Vec::with_capacity(self.width.states);
        for end in best {
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
            Joints::Smooth => smooth::allowed(&self.corridor, x, self.tube.tolerance, self.tube.tangent_jump),
            Joints::Free => std::f64::consts::PI,
        }
    }

    /// All places that a piece from a state may end in and that are worth judging.
    fn find_ends(&mut self, parent: usize, turn: f64, setbacks: &[f64], ends: &mut Vec<End>) {
        let state = self.states[parent];
        let headings = state.heading.map(|h| (h - turn, h + turn));
        let (mut history, mut marks) = (std::mem::take(&mut self.history), std::mem::take(&mut self.marks));
        history.clear();
        marks.clear();
        let reach = self.sweep(state.at, headings, |corners, changed| {
            if changed {
                history.extend_from_slice(corners);
            }
            marks.push((history.len() - corners.len(), corners.len()));
        });
        (self.history, self.marks) = (history, marks);
        let dx = self.tube.grid.dx;
        let reach = self.next_break(state.at.x).map_or(reach, |x| reach.min(x));
        let columns = ((reach - state.at.x) / dx).round();
        if columns < 1.0 {
            return;
        }
        let first_constraint = self.constraints.up_to(state.at.x);
        let mut last = f64::INFINITY;
        for &share in setbacks {
            let first = (columns * (1.0 - share)).floor().max(1.0);
            let found =
                (0..ASIDE).map(|aside| first - f64::from(aside)).take_while(|n| *n >= 1.0).find(|&n| {
                    if n >= last {
                        return false;
                    }
                    let x = if n == columns { reach } else { self.tube.grid.nearest_x(state.at.x + n * dx) };
                    let known = ends.len();
                    self.ends_in(x, parent, first_constraint, ends);
                    ends.len() > known
                });
            last = found.unwrap_or(last);
        }
    }

    /// The first radius beyond x at which a piece must end; one within so few columns as are looked at for an end counts as reached.
    fn next_break(&self, x: f64) -> Option<f64> {
        let breaks = self.tube.breaks.iter().copied();
        let dx = self.tube.grid.dx;
        breaks.filter(|b| self.end - b > dx).find(|b| b - x > f64::from(ASIDE) * dx)
    }

    /// The places of a column that a piece from a state may end in, as the polygons' history says.
    fn ends_in(&self, x: f64, parent: usize, first_constraint: usize, ends: &mut Vec<End>) {
        let from = self.states[parent].at;
        let passed = self.constraints.before(x).saturating_sub(first_constraint);
        let Some(&(start, len)) = self.marks.get(passed.min(self.marks.len() - 1)) else { return };
        let corners = &self.history[start..start + len];
        let end_at = |z: f64| {
            let bends = ending_in(corners, Point::new(x - from.x, z - from.z))?;
            Some(End { at: Point::new(x, z), parent, bends, reach: x, onward: None })
        };
        if x == self.end {
            ends.extend(self.goal_heights.iter().copied().filter_map(end_at));
            return;
        }
        let reached = corners.iter().filter_map(|r| r.height(x - from.x)).map(|z| from.z + z);
        let (low, high) =
            reached.fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), z| (lo.min(z), hi.max(z)));
        if self.tube.grid.z_not_below(low) > high + NOISE {
            return;
        }
        let heights = self.heights(low.max(self.corridor.floor_at(x)), high.min(self.corridor.roof_at(x)));
        ends.extend(heights.filter_map(end_at));
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
        end.reach = self.sweep(end.at, Some((a.min(b) - turn, a.max(b) + turn)), |_, _| {});
        let (lo, hi) = self
            .feasible
            .last()
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(lo, hi), r| (lo.min(r.m), hi.max(r.m)));
        end.onward = Some(f64::midpoint(lo, hi).atan());
    }

    /// Clips the feasible arcs of a start until nothing is left, and tells after each constraint what is; about how far its pieces reach.
    ///
    /// The piece that comes nearest to passing the constraint that ends it leaves the corridor between that constraint and the one before it on the
    /// same side, about where its room falls to nothing.
    fn sweep(
        &mut self,
        at: Point,
        headings: Option<(f64, f64)>,
        mut passed: impl FnMut(&[ArcParameter], bool),
    ) -> f64 {
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
        self.feasible.open(slopes, bends);
        passed(self.feasible.corners(), true);
        let mut last: [Option<Constraint>; 2] = [None; 2];
        let mut reached = at.x;
        for constraint in self.constraints.beyond(at.x) {
            let v = constraint.at.shifted(-at.x, -at.z);
            let changed = self.feasible.clip(v, constraint.side);
            if self.feasible.corners().is_empty() {
                let Some((nearest, missed)) = self.feasible.nearest(v, constraint.side) else { break };
                let before = last[constraint.side as usize].map(|p| {
                    let room = nearest.room(p.at.shifted(-at.x, -at.z), p.side).max(0.0);
                    p.at.x + (constraint.at.x - p.at.x) * room / (room - missed)
                });
                return self.tube.grid.column_to(before.unwrap_or(reached).max(reached));
            }
            passed(self.feasible.corners(), changed);
            reached = constraint.at.x;
            last[constraint.side as usize] = Some(*constraint);
        }
        let ends_in =
            |z: &f64| ending_in(self.feasible.corners(), Point::new(self.end - at.x, z - at.z)).is_some();
        if self.goal_heights.iter().any(ends_in) {
            self.end
        } else {
            self.tube.grid.nearest_x(self.end - self.tube.grid.dx)
        }
    }

    /// The state at an end, if a piece to it keeps the corridor and bends by no more than `turns` at its start and at the goal: a line
    /// where one holds.
    fn lay(&self, end: &End, turns: [f64; 2]) -> Option<State> {
        let from = self.states[end.parent];
        let onward = self.goal.heading().filter(|_| end.at.x == self.end);
        let joint = |one: f64, other: Option<f64>| other.map_or(0.0, |other| one - other);
        let joints = |piece: &Piece| [joint(leaves(piece), from.heading), joint(arrives(piece), onward)];
        let smooth = |piece: &Piece| joints(piece).iter().zip(turns).all(|(joint, most)| joint.abs() <= most);
        let line = (end.bends.0 <= 0.0 && end.bends.1 >= 0.0)
            .then(|| lay_line(&self.corridor, from.at, end.at).filter(smooth))
            .flatten();
        let piece = match line {
            Some(line) => line,
            None => lay_arc(&self.corridor, &self.tube.arcs, (from.at, end.at), end.bends, self.wish(end))
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

    /// Heights of the grid from one height to another, all of them or an even choice.
    fn heights(&self, low: f64, high: f64) -> impl Iterator<Item = f64> {
        let grid = &self.tube.grid;
        let low = grid.z_not_below(low);
        let count = ((high - low + NOISE) / grid.dz).floor() + 1.0;
        let stride = (count / self.width.heights as f64).max(1.0);
        (0..self.width.heights)
            .map(move |i| (i as f64 * stride).floor())
            .take_while(move |&i| i < count)
            .map(move |i| grid.nearest_z(low + i * grid.dz))
    }

    /// The same over all of the corridor in a column.
    fn heights_at(&self, x: f64) -> impl Iterator<Item = f64> {
        self.heights(self.corridor.floor_at(x), self.corridor.roof_at(x))
    }
}

/// The constraints before a column, and there the corridor's own heights.
fn constraints_to(x: f64, mut constraints: Vec<Constraint>, corridor: &Corridor) -> BucketIndex<Constraint> {
    constraints.truncate(constraints.partition_point(|p| p.at.x < x));
    let constraint = |z, side| Constraint { at: Point::new(x, z), side };
    constraints.extend([
        constraint(corridor.floor_at(x), Side::Above),
        constraint(corridor.roof_at(x), Side::Below),
    ]);
    BucketIndex::new(constraints)
}

impl Tube<'_> {
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
