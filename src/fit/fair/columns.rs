//! The raster of the search: columns in which pieces may end, the heights in each, and how finely directions are told apart there.
//!
//! How far one piece can reach without regard to its direction gives the scale: a piece of length L in a
//! tube of width w bends away from the path by a direction of some w/L, so directions are told apart in shares of that, and
//! columns stand at shares of L. Where the path turns sharply by itself (a corner), columns stand close by, and the direction is
//! free there.

use super::super::corridor::{Constraint, Corridor};
use super::super::feasible::{FeasibleArcs, Side};
use super::super::{ArcLimits, NOISE, Tube};
use super::{Direction, Effort};
use crate::fit::corner::Corner;
use crate::geometry::{Curve, Point};

/// Steepest slope of a piece where the reach is reckoned: beyond what any edge follows.
const STEEPEST: f64 = 1000.0;

/// Columns beside a corner, in steps of the grid: pieces meet it where the grid has a height for both.
const BESIDE_CORNER: [f64; 7] = [-4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0];

/// What a change of direction at a sharp corner costs, so that none is taken in vain.
const SHARP_COST: f64 = 0.05;

/// The same at a blunt one: a piece more, and then some, that goes round it is better.
const BLUNT_COST: f64 = 1.2;

/// How far from a corner the path's direction is its own again, in steps of the grid.
const CLEAR_OF_CORNER: f64 = 4.0;

/// Points watched from one column to the next: so close that a piece strays by less than the room for rounding between two.
const WATCHED: usize = 3;

/// So many steps of the grid on either side a radius is looked for at which pieces can end.
const FURTHEST_BREAK: i32 = 100;

/// A joint of path or roof at which the direction changes by more than this is watched too, radians.
const KINK: f64 = 1.0 * std::f64::consts::PI / 180.0;

/// The tube in a column: its floor and its roof.
#[derive(Debug, Clone, Copy)]
pub(super) struct Upright {
    floor: f64,
    roof: f64,
}

impl Upright {
    /// Whether heights from one to another lie in the tube.
    pub(super) fn holds(self, low: f64, high: f64) -> bool {
        low >= self.floor - NOISE && high <= self.roof + NOISE
    }
}

/// A column of the raster.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) x: f64,
    pub(super) tube: Upright,
    /// Heights on the grid inside the tube.
    pub(super) heights: Vec<f64>,
    /// The path's own direction as a piece arrives.
    pub(super) arriving: Direction,
    /// The path's own direction as a piece leaves.
    pub(super) leaving: Direction,
    /// One class of directions, radians.
    pub(super) unit: f64,
    /// Its reciprocal.
    pub(super) classes_per_radian: f64,
    /// What it costs to leave in another direction than the one in which the piece before arrives, where that may be.
    pub(super) corner: Option<f64>,
    /// No piece runs on over it.
    pub(super) every_piece_ends: bool,
}

/// What the raster is made from.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub(super) path: &'a Curve,
    pub(super) corridor: &'a Corridor,
    pub(super) constraints: &'a [Constraint],
    pub(super) tube: &'a Tube<'a>,
    pub(super) limits: &'a ArcLimits,
    pub(super) corners: &'a [Corner],
    /// Corners of the path that are gone round.
    pub(super) doubted: &'a [Corner],
    pub(super) effort: Effort,
}

/// How fast the scale may grow with the distance from a place where it is small: pieces beside a tight bend are short before they are long.
const GROWTH: f64 = 0.75;

/// The length of piece that fits at each radius: that of the free reach, forward or backward, and growing from where it is small.
#[derive(Debug, Default)]
struct Scale {
    /// Where the reaches end, by x, and the most that the scale may be there.
    bounds: Vec<(f64, f64)>,
    /// The lesser of the two reaches between each bound and the next.
    lengths: Vec<f64>,
}

impl Scale {
    /// From the reaches forward and backward, as the radii at which they end: both from the same start to the same end.
    fn new(forward: &[f64], backward: &[f64]) -> Self {
        let mut xs: Vec<f64> = forward.iter().chain(backward).copied().collect();
        xs.sort_by(f64::total_cmp);
        xs.dedup();
        // The last reach is cut short by the end of the path.
        let (only, whole) = (xs.len() <= 2, xs[xs.len() - 1] - xs[0]);
        let length = |ends: &[f64], x: f64, cut_short: usize| {
            let i = ends.partition_point(|e| *e <= x).clamp(1, ends.len() - 1);
            if i == cut_short && !only { whole } else { ends[i] - ends[i - 1] }
        };
        let lengths: Vec<f64> = xs
            .windows(2)
            .map(|w| {
                let middle = f64::midpoint(w[0], w[1]);
                length(forward, middle, forward.len() - 1).min(length(backward, middle, 1))
            })
            .collect();
        let at = |i: usize| lengths.get(i).copied().unwrap_or(f64::INFINITY);
        let mut bounds: Vec<(f64, f64)> =
            xs.iter().enumerate().map(|(i, x)| (*x, at(i).min(at(i.wrapping_sub(1))))).collect();
        for i in 1..bounds.len() {
            let grown = bounds[i - 1].1 + GROWTH * (bounds[i].0 - bounds[i - 1].0);
            bounds[i].1 = bounds[i].1.min(grown);
        }
        for i in (1..bounds.len()).rev() {
            let grown = bounds[i].1 + GROWTH * (bounds[i].0 - bounds[i - 1].0);
            bounds[i - 1].1 = bounds[i - 1].1.min(grown);
        }
        Self { bounds, lengths }
    }

    fn at(&self, x: f64) -> f64 {
        let last = self.lengths.len() - 1;
        let i = self.bounds.partition_point(|b| b.0 <= x).saturating_sub(1).min(last);
        let (a, b) = (self.bounds[i], self.bounds[i + 1]);
        self.lengths[i].min(a.1 + GROWTH * (x - a.0).max(0.0)).min(b.1 + GROWTH * (b.0 - x).max(0.0))
    }
}

impl Ground<'_> {
    /// The columns between two radii of the grid, both included, and the points at which pieces between them are watched.
    pub(super) fn raster(&self, start: f64, end: f64) -> (Vec<Column>, Vec<Constraint>) {
        let dx = self.tube.grid.dx;
        let parts = self.effort.parts as f64;
        // At the ends the direction is free anyway.
        let corners: Vec<&Corner> =
            self.corners.iter().filter(|c| c.x > start + dx && c.x < end - dx).collect();
        let mut bounds = vec![start];
        for c in corners.iter().filter(|c| c.is_sharp()) {
            if bounds.last().is_none_or(|b| c.x > b + dx) {
                bounds.push(c.x);
            }
        }
        bounds.push(end);
        let mut columns = Vec::new();
        let mut watched = Vec::new();
        let inside = self.tube.breaks.iter().filter(|x| **x > start + dx && **x < end - dx);
        let breaks: Vec<f64> = inside.filter_map(|x| self.break_near(*x, [start, end])).collect();
        for (n, pair) in bounds.windows(2).enumerate() {
            let (from, to) = (pair[0], pair[1]);
            let forward = self.reaches(from, to, 1.0);
            let mut backward: Vec<f64> = self.reaches(-to, -from, -1.0).iter().map(|x| -x).collect();
            backward.reverse();
            let scale = Scale::new(&forward, &backward);
            let mut places: Vec<(f64, Option<f64>)> = Vec::new();
            let mut x = from;
            while x < to - dx / 2.0 {
                places.push((self.tube.grid.nearest_x(x), None));
                let step = (self.length_at(&scale, x) / parts).max(dx);
                watched.extend((0..WATCHED).map(|i| x + step * i as f64 / WATCHED as f64));
                x += step;
            }
            places.push((self.tube.grid.nearest_x(to), None));
            places.extend(breaks.iter().filter(|x| **x > from && **x < to).map(|x| (*x, None)));
            let beside = |c: &&Corner, first: bool| {
                let cost = if c.is_sharp() { SHARP_COST } else { BLUNT_COST };
                let on_this_side = move |n: &f64| if first { *n > 0.0 } else { *n <= 0.0 };
                let x = c.x;
                let grid = self.tube.grid;
                BESIDE_CORNER
                    .into_iter()
                    .filter(on_this_side)
                    .map(move |n| (grid.nearest_x(x + n * grid.dx), Some(cost)))
            };
            for c in &corners {
                if c.x == from {
                    places.extend(beside(c, true));
                } else if c.x == to {
                    places.extend(beside(c, false));
                } else if c.x > from && c.x < to {
                    places.push((self.tube.grid.nearest_x(c.x), Some(BLUNT_COST)));
                }
            }
            let (first, last) = (n == 0, n + 2 == bounds.len());
            places.retain(|(x, _)| {
                (*x > start - dx / 2.0 && *x < end + dx / 2.0)
                    && (first || *x > from - dx)
                    && (last || *x < to + dx)
            });
            // Of two at one place the corner comes first and stays.
            places.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.is_some().cmp(&a.1.is_some())));
            places.dedup_by(|b, a| b.0 - a.0 < dx / 2.0);
            for (x, corner) in places {
                let length = self.length_at(&scale, x);
                columns.push(self.column(x, corner, length, [start, end]));
            }
        }
        columns.sort_by(|a: &Column, b: &Column| {
            a.x.total_cmp(&b.x).then(b.corner.is_some().cmp(&a.corner.is_some()))
        });
        columns.dedup_by(|b, a| b.x - a.x < dx / 2.0);
        columns.retain(|c| !c.heights.is_empty() || c.x == start);
        for x in &breaks {
            let nearest = columns.partition_point(|c| c.x < x - dx / 2.0);
            if let Some(column) = columns.get_mut(nearest) {
                column.every_piece_ends = true;
            }
        }
        watched.retain(|x| *x < end);
        watched.push(end);
        let mut constraints: Vec<Constraint> = watched.iter().flat_map(|x| self.constraints_at(*x)).collect();
        constraints.extend(
            self.corridor
                .kinks(KINK)
                .into_iter()
                .filter(|x| *x > start && *x < end)
                .flat_map(|x| self.constraints_at(x)),
        );
        constraints.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
        (columns, constraints)
    }

    /// The length of piece that fits at x: by the scale, and beside a corner that is gone round by the arc that goes round it.
    fn length_at(&self, scale: &Scale, x: f64) -> f64 {
        let round = |c: &Corner| 2.0 * c.tangent(self.tube.tolerance) + GROWTH * (x - c.x).abs();
        self.doubted.iter().map(round).fold(scale.at(x), f64::min)
    }

    /// The points to pass above and below at x, with room for rounding.
    fn constraints_at(&self, x: f64) -> [Constraint; 2] {
        let (floor, roof) = (self.corridor.floor_at(x), self.corridor.roof_at(x));
        let room = (roof - floor) * self.effort.margin;
        let constraint = |z, side| Constraint { at: Point::new(x, z), side };
        [constraint(floor + room, Side::Above), constraint(roof - room, Side::Below)]
    }

    /// Where one piece after the other ends, each as far as it reaches in any direction; seen from behind where `side` is −1.
    fn reaches(&self, start: f64, end: f64, side: f64) -> Vec<f64> {
        let mut feasible = FeasibleArcs::default();
        let mut ends = vec![start];
        let mut x = start;
        let dx = self.tube.grid.dx;
        while x < end - dx / 2.0 {
            let middle = f64::midpoint(self.corridor.floor_at(side * x), self.corridor.roof_at(side * x));
            let reached = self.reach(&mut feasible, Point::new(x, middle), side);
            x = if reached > end - dx / 2.0 { end } else { reached.max(x + dx) };
            ends.push(x);
        }
        ends
    }

    fn reach(&self, feasible: &mut FeasibleArcs, at: Point, side: f64) -> f64 {
        let most = STEEPEST / self.limits.min_radius;
        feasible.open((-STEEPEST, STEEPEST), (-most, most));
        let mut reached = at.x;
        let mut pass = |constraint: &Constraint| {
            let v = Point::new(side * constraint.at.x - at.x, constraint.at.z - at.z);
            feasible.clip(v, constraint.side);
            if !feasible.corners().is_empty() {
                reached = v.x + at.x;
            }
            feasible.corners().is_empty()
        };
        let x = side * at.x;
        let ended = if side > 0.0 {
            let first = self.constraints.partition_point(|p| p.at.x <= x);
            self.constraints.get(first..).unwrap_or_default().iter().any(&mut pass)
        } else {
            let first = self.constraints.partition_point(|p| p.at.x < x);
            self.constraints.get(..first).unwrap_or_default().iter().rev().any(&mut pass)
        };
        if ended { reached } else { f64::INFINITY }
    }

    fn column(&self, x: f64, corner: Option<f64>, length: f64, over: [f64; 2]) -> Column {
        let dx = self.tube.grid.dx;
        let width = (length / self.effort.parts as f64).max(dx);
        let (arriving, leaving) = if corner.is_some() {
            // The columns beside a corner stand within a few steps of it.
            let clear = CLEAR_OF_CORNER * dx;
            (self.one_sided(x - clear, -width, over), self.one_sided(x + clear, width, over))
        } else if let Some(corner) = self.corner_at_start(x, over[0]) {
            let beyond = self.one_sided(corner.x + CLEAR_OF_CORNER * dx, width, over);
            (beyond, beyond)
        } else {
            let both = self.direction(x, width, over);
            (both, both)
        };
        let (floor, roof) = (self.corridor.floor_at(x), self.corridor.roof_at(x));
        let margin = (roof - floor) * self.effort.margin;
        let heights = self.heights(floor + margin, roof - margin);
        let unit = self.effort.quantum * self.tube.tolerance * leaving.x.min(arriving.x) / length;
        Column {
            x,
            tube: Upright { floor, roof },
            heights,
            arriving,
            leaving,
            unit,
            classes_per_radian: 1.0 / unit,
            corner,
            every_piece_ends: false,
        }
    }

    /// The radius nearest to one at which pieces must end that has a height of the grid in the tube.
    fn break_near(&self, x: f64, [start, end]: [f64; 2]) -> Option<f64> {
        let grid = self.tube.grid;
        let aside = (0..FURTHEST_BREAK).flat_map(|n| [f64::from(n), -f64::from(n)]);
        aside.map(|n| grid.nearest_x(x + n * grid.dx)).find(|&x| {
            let (floor, roof) = (self.corridor.floor_at(x), self.corridor.roof_at(x));
            let margin = (roof - floor) * self.effort.margin;
            x > start + grid.dx / 2.0
                && x < end - grid.dx / 2.0
                && !self.heights(floor + margin, roof - margin).is_empty()
        })
    }

    /// The last corner so near the start that no column stands between: the way begins beyond it.
    fn corner_at_start(&self, x: f64, start: f64) -> Option<&Corner> {
        let near = start + CLEAR_OF_CORNER * self.tube.grid.dx;
        self.corners.iter().rev().find(|c| c.x > start && c.x < near).filter(|_| x == start)
    }

    /// The path's direction at x: of the chord over as much on both sides, which an even curve does not turn.
    fn direction(&self, x: f64, width: f64, over: [f64; 2]) -> Direction {
        let next = self.corners.partition_point(|c| c.x <= x);
        let clear = CLEAR_OF_CORNER * self.tube.grid.dx;
        let after = self.corners.iter().skip(next).find(|c| c.is_sharp());
        let after = after.map_or(over[1], |c| c.x - clear).min(over[1]);
        let before = self.corners.iter().take(next).rev().find(|c| c.is_sharp());
        let before = before.map_or(over[0], |c| c.x + clear).max(over[0]);
        let (left, right) = (x - before, after - x);
        let even = width.min(left).min(right);
        if even >= width / 2.0 {
            Direction::between(self.on_path(x - even), self.on_path(x + even))
        } else if left < right {
            self.one_sided(x, width.min(right), over)
        } else {
            self.one_sided(x, -width.min(left), over)
        }
    }

    /// The path's direction at x from one side of it: that of the nearer of two chords, and half of what it turns to the next.
    fn one_sided(&self, x: f64, width: f64, over: [f64; 2]) -> Direction {
        let (x, half) = (x.clamp(over[0], over[1]), width / 2.0);
        let [a, b, c] = [0.0, half, width].map(|d| self.on_path((x + d).clamp(over[0], over[1])));
        let angle = |a: Point, b: Point| ((b.z - a.z) / (b.x - a.x)).atan();
        let (near, far) = (angle(a, b), angle(b, c));
        let near = if near.is_finite() { near } else { 0.0 };
        Direction::at(if far.is_finite() { 1.5 * near - 0.5 * far } else { near })
    }

    fn on_path(&self, x: f64) -> Point {
        Point::new(x, self.path.at(x))
    }

    fn heights(&self, low: f64, high: f64) -> Vec<f64> {
        let grid = &self.tube.grid;
        let low = grid.z_not_below(low);
        let count = ((high - low) / grid.dz).floor() + 1.0;
        let most = self.effort.heights as f64;
        let stride = (count / most).max(1.0);
        // In the middle of each share of the heights.
        let first = ((stride - 1.0) / 2.0).floor();
        (0..self.effort.heights)
            .map(|i| (first + i as f64 * stride).floor())
            .take_while(|i| *i < count)
            .map(|i| grid.nearest_z(low + i * grid.dz))
            .collect()
    }
}
