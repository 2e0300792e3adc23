//! The states, column by column: which places are reached in which directions, at what cost, and from where.

use super::super::control::Anchor;
use super::super::corridor::Constraint;
use super::super::feasible::Side;
use super::super::{ArcLimits, Tube};
use super::columns::{Column, Ground, Upright};
use super::lanes::Lanes;
use super::{Direction, Effort, Origin, SMOOTH, Stuck};
use crate::geometry::{Arc, Piece, Point, Turn};

/// Classes of directions on either side of the path's own.
const CLASSES_ASIDE: i16 = 10;

/// All classes.
const CLASSES: usize = 21;

/// What a change of curvature Δκ between pieces of the length L costs, as a share of Δκ·L²/tolerance: arcs that follow an even
/// change of curvature differ by 62 of these. So ways of as many pieces are told apart by it, and no piece is spent on it.
const FAIRNESS: f64 = 0.002;

/// The most that a change of curvature costs.
const MOST_UNFAIR: f64 = 0.3;

/// What a change of direction costs that the path does not ask for: more than going around it with a piece or two.
const EASED: f64 = 3.0;

/// Changes of direction tried where nothing goes on, as shares of the limit.
const EASINGS: [f64; 6] = [-1.0, -0.5, -0.25, 0.25, 0.5, 1.0];

/// How far back from the last column reached the direction may change: as far as a piece reaches, or twice that.
const BACK: [usize; 2] = [1, 2];

/// How often the end is tried for again with other directions before it.
const TRIES_AT_END: usize = 1;

/// A millionth: of five metres five steps of the control.
const HAIR: f64 = 1e-6;

/// No state.
const NONE: u32 = u32::MAX;

/// A place reached in a direction.
#[derive(Debug, Clone, Copy)]
struct State {
    at: Point,
    /// Of its column.
    tube: Upright,
    direction: Direction,
    cost: f64,
    parent: u32,
    piece: Option<Piece>,
    /// Curvature and squared length of the piece.
    curvature: f64,
    square: f64,
    /// The direction may still be chosen: the start, or a corner.
    free: bool,
}

/// The cheapest piece found so far to a place in a class of directions.
#[derive(Debug, Clone, Copy)]
struct Slot {
    cost: f64,
    parent: u32,
    /// Of the arc; zero for a line.
    curvature: f64,
}

const EMPTY: Slot = Slot { cost: f64::INFINITY, parent: NONE, curvature: 0.0 };

/// How a column may be left in another direction than it was reached in.
#[derive(Debug, Clone, Copy)]
enum Leave {
    /// In any direction.
    Freely,
    /// Turned by no more than an angle.
    Turned(f64),
}

/// The pieces of a way.
pub(super) struct Way {
    pub(super) pieces: Vec<Piece>,
    /// Whether the direction changes where the path does not ask for it.
    pub(super) eased: bool,
    /// Columns of the raster.
    pub(super) columns: usize,
}

/// A search over one raster.
pub(super) struct Search<'a> {
    tube: &'a Tube<'a>,
    limits: &'a ArcLimits,
    columns: &'a [Column],
    constraints: &'a [Constraint],
    anchor: Anchor,
    effort: Effort,
    /// Every arc of a greater curvature can be told, wherever it lies.
    surely_told: f64,
    /// Whether the direction had to change where the path does not ask for it.
    eased: bool,
    /// By column, height and class.
    slots: Vec<Vec<Slot>>,
    states: Vec<State>,
    /// The states of each column, by height.
    found: Vec<Vec<Vec<u32>>>,
    /// The furthest column that a piece has reached.
    furthest: usize,
    lanes: Lanes,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        ground: &'a Ground<'a>,
        columns: &'a [Column],
        constraints: &'a [Constraint],
        anchor: Anchor,
    ) -> Self {
        let heights = columns.iter().flat_map(|c| &c.heights).copied();
        let [low, high] = heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[l, h], z| [l.min(z), h.max(z)]);
        let furthest = columns.iter().map(|c| c.x.abs()).fold(0.0, f64::max);
        let anywhere = [low, high].map(|z| Point::new(furthest, z));
        Self {
            surely_told: curvature_of(ground.limits.flattest(anywhere, 1.0)),
            tube: ground.tube,
            limits: ground.limits,
            columns,
            constraints,
            anchor,
            effort: ground.effort,
            eased: false,
            slots: columns.iter().map(|c| vec![EMPTY; c.heights.len() * CLASSES]).collect(),
            states: Vec::new(),
            found: Vec::new(),
            furthest: 0,
            lanes: Lanes::default(),
        }
    }

    /// The pieces of the cheapest way from an origin to the end.
    pub(super) fn run(&mut self, origin: Origin, [start, end]: [f64; 2]) -> Result<Way, Stuck> {
        if self.columns.len() < 2
            || self.columns.first().is_none_or(|c| c.x != start)
            || self.columns.last().is_none_or(|c| c.x != end)
        {
            return Err(Stuck);
        }
        self.begin(origin);
        let last = self.columns.len() - 1;
        let mut i = 1;
        let mut tries_at_end = 0;
        while tries_at_end <= TRIES_AT_END {
            let found = self.lay_out(i);
            if i == last {
                if let Some(best) = found.iter().flatten().copied().min_by(|a, b| self.by_cost(*a, *b)) {
                    return Ok(Way {
                        pieces: self.way_to(best),
                        eased: self.eased,
                        columns: self.columns.len(),
                    });
                }
                // Reached in a direction in which no arc of the control's words arrives.
                self.furthest = last - 1;
                tries_at_end += 1;
            }
            let column = &self.columns[i];
            if i < last {
                for (z, states) in column.heights.iter().zip(&found) {
                    self.expand(i, Point::new(column.x, *z), states);
                }
                self.found.push(found);
                if let Some(cost) = column.corner {
                    self.leave(i, Leave::Freely, cost);
                }
            }
            if self.furthest <= i && !self.ease(i.min(last - 1)) {
                return Err(Stuck);
            }
            i = (i + 1).min(last);
        }
        Err(Stuck)
    }

    fn begin(&mut self, origin: Origin) {
        let mut found = Vec::new();
        let Some(column) = self.columns.first() else { return };
        match origin {
            Origin::Column(_) => {
                for z in &column.heights {
                    let first = self.index();
                    self.set_out(0, Point::new(column.x, *z), NONE, 0.0);
                    found.push((first..self.index()).collect());
                }
            }
            Origin::Place { at, heading } => {
                let state = State {
                    direction: Direction::at(heading),
                    free: false,
                    ..free_state(at, column.tube, NONE, 0.0)
                };
                self.states.push(state);
                self.expand(0, at, &[0]);
            }
        }
        self.found.push(found);
    }

    /// Lets the direction change at the last columns, so that a piece gets further than the furthest; false if that does not help, or has been
    /// tried there before.
    fn ease(&mut self, last: usize) -> bool {
        self.eased = true;
        let before = self.furthest;
        let limit = (self.tube.tangent_jump - SMOOTH).max(0.0);
        for leave in [Leave::Turned(limit), Leave::Freely] {
            for back in BACK {
                for j in last.saturating_sub(back * self.effort.parts)..=last {
                    self.leave(j, leave, EASED);
                }
                if self.furthest > before.max(last) {
                    return true;
                }
            }
        }
        false
    }

    fn by_cost(&self, a: u32, b: u32) -> std::cmp::Ordering {
        self.states[a as usize].cost.total_cmp(&self.states[b as usize].cost)
    }

    /// Leaves a column in other directions than those in which it was reached.
    fn leave(&mut self, i: usize, leave: Leave, cost: f64) {
        let column = &self.columns[i];
        for (h, z) in column.heights.iter().enumerate() {
            let at = Point::new(column.x, *z);
            let Some(found) = self.found.get(i).and_then(|f| f.get(h)) else { return };
            match leave {
                Leave::Freely => {
                    if let Some(best) = found.iter().copied().min_by(|a, b| self.by_cost(*a, *b)) {
                        self.set_out(i, at, best, self.states[best as usize].cost + cost);
                    }
                }
                Leave::Turned(most) => {
                    let first = self.index();
                    let turned = found.iter().flat_map(|&s| EASINGS.map(|share| (s, share)));
                    let turned: Vec<State> = turned
                        .map(|(s, share)| {
                            let from = self.states[s as usize];
                            let direction = from.direction.turned(share * most);
                            let cost = from.cost + cost + share.abs();
                            State { direction, free: false, ..free_state(at, column.tube, s, cost) }
                        })
                        .collect();
                    self.states.extend(turned);
                    let of: Vec<u32> = (first..self.index()).collect();
                    self.expand(i, at, &of);
                }
            }
        }
    }

    /// Leaves a place in the directions about the path's own.
    fn set_out(&mut self, i: usize, at: Point, parent: u32, cost: f64) {
        let column = &self.columns[i];
        let first = self.index();
        for class in -CLASSES_ASIDE..=CLASSES_ASIDE {
            let direction = column.leaving.turned(f64::from(class) * column.unit);
            self.states.push(State { direction, ..free_state(at, column.tube, parent, cost) });
        }
        let of: Vec<u32> = (first..self.index()).collect();
        self.expand(i, at, &of);
    }

    /// The index of the next state. Their number is bounded by the raster's size, far below four thousand million.
    #[allow(clippy::cast_possible_truncation)]
    fn index(&self) -> u32 {
        self.states.len() as u32
    }

    /// The states of a column, height by height.
    fn lay_out(&mut self, i: usize) -> Vec<Vec<u32>> {
        let column = &self.columns[i];
        let slots = std::mem::take(&mut self.slots[i]);
        let least = slots.iter().map(|s| s.cost).fold(f64::INFINITY, f64::min);
        let mut found = vec![Vec::new(); column.heights.len()];
        for ((found, z), slots) in found.iter_mut().zip(&column.heights).zip(slots.chunks(CLASSES)) {
            let to = Point::new(column.x, *z);
            for slot in slots.iter().filter(|s| s.cost <= least + self.effort.dearer && s.parent != NONE) {
                if let Some(state) = self.lay(slot, to, column.tube) {
                    found.push(self.index());
                    self.states.push(state);
                }
            }
        }
        // Where the direction is eased later, pieces come again.
        self.slots[i] = vec![EMPTY; slots.len()];
        found
    }

    /// The state at the end of a piece as the control runs it, if the piece bends by no more than it may where it starts.
    fn lay(&self, slot: &Slot, to: Point, tube: Upright) -> Option<State> {
        let parent = &self.states[slot.parent as usize];
        let from = parent.at;
        let chord = Direction::between(from, to);
        // An arc leaves its chord by half of what it turns.
        let outset = chord.turned(-(slot.curvature * from.distance(to) / 2.0).clamp(-1.0, 1.0).asin());
        // One that stands for a flatter arc is not the one that the walk along the tube let pass.
        if slot.curvature.abs() <= self.surely_told && !self.passes(from, outset, slot.curvature, to.x) {
            return None;
        }
        let (piece, leaves, direction) = if slot.curvature == 0.0 {
            (Piece::line(from, to), chord, chord)
        } else {
            let radius = 1.0 / slot.curvature;
            let centre = from.shifted(-outset.z * radius, outset.x * radius);
            let turn = if radius > 0.0 { Turn::CounterClockwise } else { Turn::Clockwise };
            let rounded = self.limits.settle(from, to, centre, turn, self.anchor)?;
            // Each circle at the end that it does not go through.
            let ends = [(from.x, parent.tube), (to.x, tube)];
            if ends.iter().any(|(x, tube)| !tube.holds(rounded.low.at(*x), rounded.high.at(*x))) {
                return None;
            }
            let arc = rounded.arc;
            (Piece::Arc(arc), tangent(&arc, from), tangent(&arc, to))
        };
        let jump = parent.direction.sine_to(leaves);
        if !parent.free && jump.abs() > self.smooth() {
            return None;
        }
        let state = State {
            at: to,
            tube,
            direction,
            cost: slot.cost,
            parent: slot.parent,
            piece: Some(piece),
            curvature: slot.curvature,
            square: from.distance(to).powi(2),
            free: false,
        };
        Some(state)
    }

    /// The greatest change of direction where the path is smooth.
    fn smooth(&self) -> f64 {
        self.tube.tangent_jump.min(SMOOTH)
    }

    /// Whether a piece passes every point watched.
    fn passes(&self, from: Point, direction: Direction, curvature: f64, to: f64) -> bool {
        let first = self.constraints.partition_point(|p| p.at.x <= from.x);
        self.constraints.iter().skip(first).take_while(|p| p.at.x < to).all(|p| {
            let v = p.at.shifted(-from.x, -from.z);
            let bound = 2.0 * (direction.x * v.z - direction.z * v.x) / (v.x * v.x + v.z * v.z);
            if p.side == Side::Above { curvature >= bound } else { curvature <= bound }
        })
    }

    /// Takes every piece from a place in the directions of its states to the columns ahead.
    fn expand(&mut self, i: usize, from: Point, of: &[u32]) {
        let mut lanes = std::mem::take(&mut self.lanes);
        lanes.open(of.iter().map(|&i| (i, self.states[i as usize].direction)), 1.0 / self.limits.min_radius);
        let mut constraint = self.constraints.partition_point(|p| p.at.x <= from.x);
        for j in i + 1..self.columns.len() {
            let column = &self.columns[j];
            while let Some(p) = self.constraints.get(constraint).filter(|p| p.at.x < column.x) {
                lanes.pass(p.at.shifted(-from.x, -from.z), p.side);
                constraint += 1;
            }
            if lanes.close() {
                break;
            }
            for (h, z) in column.heights.iter().enumerate() {
                self.reach(&lanes, from, j, h, Point::new(column.x, *z));
            }
            if column.every_piece_ends {
                break;
            }
        }
        self.lanes = lanes;
    }

    /// Takes the pieces of all lanes to one place.
    fn reach(&mut self, lanes: &Lanes, from: Point, j: usize, h: usize, to: Point) {
        let column = &self.columns[j];
        let q = to.shifted(-from.x, -from.z);
        let square = q.x * q.x + q.z * q.z;
        let (a, b) = (2.0 * q.x / square, 2.0 * q.z / square);
        let directions = lanes.x.iter().zip(&lanes.z);
        let ranges = lanes.low.iter().zip(&lanes.high);
        for (((x, z), (low, high)), &state) in directions.zip(ranges).zip(&lanes.state) {
            let curvature = x * b - z * a;
            if curvature < *low || curvature > *high {
                continue;
            }
            let parent = &self.states[state as usize];
            let mut curvature = curvature;
            let along = x * a + z * b;
            // The start's direction mirrored at the chord.
            let mut direction = Direction { x: along * q.x - x, z: along * q.z - z };
            if curvature.abs() < self.surely_told {
                let lean = z.abs().max(direction.z.abs());
                let flattest = curvature_of(self.limits.flattest([from, to], lean));
                if curvature.abs() < flattest {
                    // The nearest that can be told: a line, or the flattest arc.
                    let told =
                        if curvature.abs() < flattest / 2.0 { 0.0 } else { flattest.copysign(curvature) };
                    let turn = (told - curvature) * square.sqrt() / 2.0;
                    if turn.abs() > self.smooth() && !parent.free {
                        continue;
                    }
                    curvature = told;
                    direction = direction.turned(turn);
                }
            }
            let change = if parent.free {
                0.0
            } else {
                ((curvature - parent.curvature).abs() * square.min(parent.square) * FAIRNESS
                    / self.tube.tolerance)
                    .min(MOST_UNFAIR)
            };
            let cost = parent.cost + 1.0 + change;
            // Rounded down from the least class on, which is the nearest one.
            let class = column.arriving.sine_to(direction) * column.classes_per_radian + CLASSES as f64 / 2.0;
            let slot = &mut self.slots[j][h * CLASSES + class_from(class)];
            if cost < slot.cost {
                *slot = Slot { cost, parent: state, curvature };
                self.furthest = self.furthest.max(j);
            }
        }
    }

    fn way_to(&self, last: u32) -> Vec<Piece> {
        let mut way = Vec::new();
        let mut i = last;
        while let Some(state) = self.states.get(i as usize) {
            way.extend(state.piece);
            i = state.parent;
        }
        way.reverse();
        way
    }
}

/// The curvature of an arc of a radius, a hair more for its centre's rounding.
fn curvature_of(radius: f64) -> f64 {
    (1.0 + HAIR) / radius
}

/// The class that a number lies in, the outermost ones beyond them all.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // Below the first is the first.
fn class_from(class: f64) -> usize {
    (class.max(0.0) as usize).min(CLASSES - 1)
}

/// A state from which the direction may be chosen.
const fn free_state(at: Point, tube: Upright, parent: u32, cost: f64) -> State {
    let direction = Direction { x: 1.0, z: 0.0 };
    State { at, tube, direction, cost, parent, piece: None, curvature: 0.0, square: 0.0, free: true }
}

/// The direction of an arc at one of its ends.
fn tangent(arc: &Arc, at: Point) -> Direction {
    let (x, z) = (at.x - arc.centre.x, at.z - arc.centre.z);
    let r = (x * x + z * z).sqrt();
    match arc.turn {
        Turn::Clockwise => Direction { x: z / r, z: -x / r },
        Turn::CounterClockwise => Direction { x: -z / r, z: x / r },
    }
}
