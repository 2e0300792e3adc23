//! The fair fit: arcs whose tangents agree, by dynamic programming over the places that the control can name.
//!
//! From a place in a given direction, one arc leads to a given other place: the frame of the start's tangent has the end at
//! (ξ, η), and the arc's curvature is 2η/(ξ² + η²), its direction at the end that of the start mirrored at the chord. Passing above or
//! below a point of the tube bounds the curvature by the same expression. So from a place and for every direction in
//! which pieces arrive there, one walk along the tube bounds the curvatures, and each place of the columns ahead is reached or not:
//! no rounding is left for later, since every place is one of the control's.
//!
//! A state is a place of the raster (see `columns`) and a class of directions; it keeps the true direction of the piece that
//! reached it at the least cost: 1 a piece, and a little where the curvature changes more than the path asks for. States are laid
//! out column by column. The centre is rounded when a state is laid out, and the direction in which the rounded arc arrives is what goes on.
//!
//! The raster is watched at points (`band`); a way found is checked in closed form, and where a piece leaves the tube between
//! them, the place is watched too and the search made again.

mod columns;

use super::band::{Band, Pin};
use super::control::{Anchor, Rounded};
use super::corner::{Corner, corners};
use super::fan::Side;
use super::{ArcLimits, Tube};
use crate::geometry::{Arc, Curve, Piece, Point, Turn};
use columns::{Column, Ground};

/// How finely the search looks.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effort {
    /// Columns a free reach.
    parts: usize,
    /// Heights a column.
    heights: usize,
    /// One class of directions as a share of tolerance by length.
    quantum: f64,
    /// Share of the tube's width, below and above, that is left for rounding and for what lies between the points watched.
    margin: f64,
}

pub(super) const FULL: Effort = Effort { parts: 8, heights: 5, quantum: 0.5, margin: 1.0 / 64.0 };

/// Classes of directions on either side of the path's own.
const CLASSES_ASIDE: i32 = 10;
const CLASSES: usize = 2 * CLASSES_ASIDE as usize + 1;

/// States dearer than the best of their column by more than this go no further: with two pieces more the best reaches what they reach.
const DEARER: f64 = 0.9;

/// What a change of curvature Δκ between pieces of the length L costs, as a share of Δκ·L²/tolerance: arcs that follow an even
/// change of curvature differ by 62 of these, so ways of as many pieces are told apart by it, and no piece is spent on it.
const FAIRNESS: f64 = 0.002;

/// The most that a change of curvature costs.
const MOST_UNFAIR: f64 = 0.3;

/// How often a way that leaves the tube between the points watched is searched for again.
const ROUNDS: usize = 8;

/// The greatest change of direction at a joint of a smooth stretch, radians: what a control that names 0.001 mm can tell over
/// pieces of some millimetres.
pub(super) const SMOOTH: f64 = 0.05 * std::f64::consts::PI / 180.0;

/// A unit vector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Direction {
    x: f64,
    z: f64,
}

impl Direction {
    fn between(a: Point, b: Point) -> Self {
        let d = a.distance(b);
        Self { x: (b.x - a.x) / d, z: (b.z - a.z) / d }
    }

    fn at(angle: f64) -> Self {
        Self { x: angle.cos(), z: angle.sin() }
    }

    /// Sine of the angle from this direction to another.
    fn sine_to(self, other: Self) -> f64 {
        self.x * other.z - self.z * other.x
    }

    fn turned(self, angle: f64) -> Self {
        let (s, c) = angle.sin_cos();
        Self { x: self.x * c - self.z * s, z: self.z * c + self.x * s }
    }
}

/// Where a fair fit begins.
#[derive(Debug, Clone, Copy)]
pub(super) enum Origin {
    /// In a column, at any height and in any direction.
    Column(f64),
    /// At a place, in a direction.
    Place { at: Point, heading: f64 },
}

const NONE: u32 = u32::MAX;

/// A place reached in a direction.
#[derive(Debug, Clone, Copy)]
struct State {
    at: Point,
    direction: Direction,
    cost: f64,
    parent: u32,
    piece: Option<Piece>,
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

/// What the pieces of a fair fit are, or how far it came.
pub(super) fn fair(
    path: &Curve,
    tube: &Tube,
    limits: &ArcLimits,
    origin: Origin,
    anchor: Anchor,
) -> Result<Vec<Piece>, f64> {
    let (band, pins) = Band::new(path, tube.tolerance);
    let corners = corners(path, 2.0 * tube.grid.dx);
    let effort = FULL;
    let (first, end) = tube.columns(path);
    let start = match origin {
        Origin::Column(_) => first,
        Origin::Place { at, .. } => at.x,
    };
    let ground = Ground { path, band: &band, pins: &pins, tube, limits, corners: &corners, effort };
    let (columns, mut pins) = ground.raster(start, end);
    for _ in 0..ROUNDS {
        let mut search = Search::new(tube, limits, &columns, &pins, anchor);
        let way = search.run(origin, end);
        let way = way?;
        let breaches: Vec<Pin> = way.iter().filter_map(|p| breach(&band, p)).collect();
        if breaches.is_empty() {
            return Ok(way);
        }
        for pin in breaches {
            pins.insert(pins.partition_point(|p| p.at.x <= pin.at.x), pin);
        }
    }
    Err(start)
}

/// Where a piece leaves the tube worst, as a point to pass with room for the rounding that made it leave.
fn breach(band: &Band, piece: &Piece) -> Option<Pin> {
    let (from, to) = (piece.from(), piece.to());
    let found = match piece {
        Piece::Line(_) => {
            let graph = super::graph::Graph::of(piece);
            band.breach(&graph, &graph, from.x, to.x)
        }
        Piece::Arc(a) => Rounded::of(*a).breach(band),
    };
    let mut pin = found?;
    let room = (band.roof_at(pin.at.x) - band.floor_at(pin.at.x)) * FULL.margin * 2.0;
    pin.at.z += if pin.side == Side::Above { room } else { -room };
    Some(pin)
}

struct Search<'a> {
    tube: &'a Tube,
    limits: &'a ArcLimits,
    columns: &'a [Column],
    pins: &'a [Pin],
    anchor: Anchor,
    slots: Vec<Vec<Slot>>,
    states: Vec<State>,
    lanes: Lanes,
}

/// The directions that leave one place, side by side, and the range of curvatures that each may have.
#[derive(Default)]
struct Lanes {
    state: Vec<u32>,
    x: Vec<f64>,
    z: Vec<f64>,
    low: Vec<f64>,
    high: Vec<f64>,
}

impl Lanes {
    fn open(&mut self, states: &[State], of: &[u32], most: f64) {
        self.state.clear();
        self.state.extend_from_slice(of);
        let direction = |i: &u32| states[*i as usize].direction;
        self.x.clear();
        self.x.extend(of.iter().map(|i| direction(i).x));
        self.z.clear();
        self.z.extend(of.iter().map(|i| direction(i).z));
        self.low.clear();
        self.low.resize(of.len(), -most);
        self.high.clear();
        self.high.resize(of.len(), most);
    }

    /// Narrows every lane by a point, given from the start.
    fn pass(&mut self, v: Point, side: Side) {
        let twice = 2.0 / (v.x * v.x + v.z * v.z);
        let (a, b) = (v.x * twice, v.z * twice);
        let lanes = self.x.iter().zip(&self.z);
        match side {
            Side::Above => {
                for (low, (x, z)) in self.low.iter_mut().zip(lanes) {
                    let bound = x * b - z * a;
                    *low = if bound > *low { bound } else { *low };
                }
            }
            Side::Below => {
                for (high, (x, z)) in self.high.iter_mut().zip(lanes) {
                    let bound = x * b - z * a;
                    *high = if bound < *high { bound } else { *high };
                }
            }
        }
    }

    /// Leaves away the lanes in which no curvature is left; true if none is.
    fn close(&mut self) -> bool {
        let open = self.low.iter().zip(&self.high).filter(|(low, high)| low <= high).count();
        if open < self.low.len() {
            let mut next = 0;
            for n in 0..self.low.len() {
                if self.low[n] <= self.high[n] {
                    self.state[next] = self.state[n];
                    self.x[next] = self.x[n];
                    self.z[next] = self.z[n];
                    self.low[next] = self.low[n];
                    self.high[next] = self.high[n];
                    next += 1;
                }
            }
            self.state.truncate(next);
            self.x.truncate(next);
            self.z.truncate(next);
            self.low.truncate(next);
            self.high.truncate(next);
        }
        open == 0
    }
}

impl<'a> Search<'a> {
    fn new(
        tube: &'a Tube,
        limits: &'a ArcLimits,
        columns: &'a [Column],
        pins: &'a [Pin],
        anchor: Anchor,
    ) -> Self {
        let slots = columns.iter().map(|c| vec![EMPTY; c.heights.len() * CLASSES]).collect();
        Self { tube, limits, columns, pins, anchor, slots, states: Vec::new(), lanes: Lanes::default() }
    }

    fn smooth(&self) -> f64 {
        self.tube.tangent_jump.min(SMOOTH)
    }

    fn run(&mut self, origin: Origin, end: f64) -> Result<Vec<Piece>, f64> {
        let Some((last, _)) = self.columns.split_last() else { return Err(end) };
        if last.x != end {
            return Err(last.x);
        }
        match origin {
            Origin::Column(start) => {
                if self.columns.first().is_none_or(|c| c.x != start) {
                    return Err(start);
                }
                self.begin(0, None);
            }
            Origin::Place { at, heading } => {
                let direction = Direction::at(heading);
                self.states.push(State {
                    at,
                    direction,
                    cost: 0.0,
                    parent: NONE,
                    piece: None,
                    curvature: 0.0,
                    square: 0.0,
                    free: false,
                });
                self.expand(0, at, &[0]);
            }
        }
        for i in 1..self.columns.len() {
            let found = self.lay_out(i);
            if i + 1 == self.columns.len() {
                let best = found
                    .iter()
                    .flatten()
                    .min_by(|a, b| self.states[**a as usize].cost.total_cmp(&self.states[**b as usize].cost));
                return best.map(|&i| self.way_to(i)).ok_or_else(|| self.furthest());
            }
            let column = &self.columns[i];
            for (z, states) in column.heights.iter().zip(&found) {
                if !states.is_empty() {
                    self.expand(i, Point::new(column.x, *z), states);
                }
            }
            if let Some(cost) = column.corner {
                self.begin(i, Some((&found, cost)));
            }
        }
        Err(self.furthest())
    }

    fn furthest(&self) -> f64 {
        self.states.iter().map(|s| s.at.x).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Leaves a column in every direction: the first one, or from the cheapest states of each height of a corner.
    fn begin(&mut self, i: usize, from: Option<(&[Vec<u32>], f64)>) {
        let column = &self.columns[i];
        for (h, z) in column.heights.iter().enumerate() {
            let (parent, cost) = match from {
                None => (NONE, 0.0),
                Some((found, extra)) => {
                    let Some(&best) = found[h].iter().min_by(|a, b| {
                        self.states[**a as usize].cost.total_cmp(&self.states[**b as usize].cost)
                    }) else {
                        continue;
                    };
                    (best, self.states[best as usize].cost + extra)
                }
            };
            let at = Point::new(column.x, *z);
            let first = self.states.len() as u32;
            for class in -CLASSES_ASIDE..=CLASSES_ASIDE {
                let direction = column.leaving.turned(f64::from(class) * column.unit);
                self.states.push(State {
                    at,
                    direction,
                    cost,
                    parent,
                    piece: None,
                    curvature: 0.0,
                    square: 0.0,
                    free: true,
                });
            }
            let of: Vec<u32> = (first..self.states.len() as u32).collect();
            self.expand(i, at, &of);
        }
    }

    /// The states of a column, height by height.
    fn lay_out(&mut self, i: usize) -> Vec<Vec<u32>> {
        let column = &self.columns[i];
        let slots = std::mem::take(&mut self.slots[i]);
        let least = slots.iter().map(|s| s.cost).fold(f64::INFINITY, f64::min);
        let mut found = vec![Vec::new(); column.heights.len()];
        for ((h, z), slots) in column.heights.iter().enumerate().zip(slots.chunks(CLASSES)) {
            let to = Point::new(column.x, *z);
            for slot in slots.iter().filter(|s| s.cost <= least + DEARER && s.parent != NONE) {
                if let Some(state) = self.lay(slot, to) {
                    found[h].push(self.states.len() as u32);
                    self.states.push(state);
                }
            }
        }
        found
    }

    /// The state at the end of a piece as the control runs it, if the piece bends by no more than it may where it starts.
    fn lay(&self, slot: &Slot, to: Point) -> Option<State> {
        let parent = &self.states[slot.parent as usize];
        let from = parent.at;
        let (piece, leaves, direction) = if slot.curvature == 0.0 {
            let direction = Direction::between(from, to);
            if !self.line_passes(from, to) {
                return None;
            }
            (Piece::line(from, to), direction, direction)
        } else {
            let radius = 1.0 / slot.curvature;
            let centre = from.shifted(-parent.direction.z * radius, parent.direction.x * radius);
            let turn = if radius > 0.0 { Turn::CounterClockwise } else { Turn::Clockwise };
            let arc = self.limits.settle(from, to, centre, turn, self.anchor)?.arc;
            (Piece::Arc(arc), tangent(&arc, from), tangent(&arc, to))
        };
        let jump = parent.direction.sine_to(leaves);
        if !parent.free && jump.abs() > self.smooth() {
            return None;
        }
        let state = State {
            at: to,
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

    /// Whether a line passes every point watched: it stands for an arc that hardly differs from it, but differs.
    fn line_passes(&self, from: Point, to: Point) -> bool {
        let first = self.pins.partition_point(|p| p.at.x <= from.x);
        let slope = (to.z - from.z) / (to.x - from.x);
        self.pins.iter().skip(first).take_while(|p| p.at.x < to.x).all(|p| {
            let above = from.z + slope * (p.at.x - from.x) - p.at.z;
            if p.side == Side::Above { above >= 0.0 } else { above <= 0.0 }
        })
    }

    /// Takes every piece from a place in the directions of its states to the columns ahead.
    fn expand(&mut self, i: usize, from: Point, of: &[u32]) {
        let mut lanes = std::mem::take(&mut self.lanes);
        lanes.open(&self.states, of, 1.0 / self.limits.min_radius);
        let mut pin = self.pins.partition_point(|p| p.at.x <= from.x);
        for j in i + 1..self.columns.len() {
            let column = &self.columns[j];
            while let Some(p) = self.pins.get(pin).filter(|p| p.at.x < column.x) {
                lanes.pass(p.at.shifted(-from.x, -from.z), p.side);
                pin += 1;
            }
            if lanes.close() {
                break;
            }
            for (h, z) in column.heights.iter().enumerate() {
                self.reach(&lanes, from, j, h, Point::new(column.x, *z));
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
        let flattest = 1.0 / self.limits.max_radius;
        for (n, (x, z)) in lanes.x.iter().zip(&lanes.z).enumerate() {
            let curvature = x * b - z * a;
            if curvature < lanes.low[n] || curvature > lanes.high[n] {
                continue;
            }
            let state = lanes.state[n];
            let parent = &self.states[state as usize];
            let mut curvature = curvature;
            let along = x * a + z * b;
            // The start's direction mirrored at the chord.
            let mut direction = Direction { x: along * q.x - x, z: along * q.z - z };
            if curvature.abs() < flattest {
                if curvature.abs() * square.sqrt() / 2.0 > self.smooth() && !parent.free {
                    continue;
                }
                curvature = 0.0;
                let length = square.sqrt();
                direction = Direction { x: q.x / length, z: q.z / length };
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
            let class = (class.max(0.0) as usize).min(CLASSES - 1);
            let slot = &mut self.slots[j][h * CLASSES + class];
            if cost < slot.cost {
                *slot = Slot { cost, parent: state, curvature };
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

/// The direction of an arc at one of its ends.
fn tangent(arc: &Arc, at: Point) -> Direction {
    let (x, z) = (at.x - arc.centre.x, at.z - arc.centre.z);
    let r = (x * x + z * z).sqrt();
    match arc.turn {
        Turn::Clockwise => Direction { x: z / r, z: -x / r },
        Turn::CounterClockwise => Direction { x: -z / r, z: x / r },
    }
}

/// The corners of a path, as the fit sees them.
pub(super) fn corners_of(path: &Curve, tube: &Tube) -> Vec<Corner> {
    corners(path, 2.0 * tube.grid.dx)
}
