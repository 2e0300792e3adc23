//! The raster of the search: columns in which pieces may end, the heights in each, and how finely directions are told apart there.
//!
//! How far one piece can reach without regard to its direction gives the scale: a piece of length L in a
//! tube of width w bends away from the path by a direction of some w/L, so directions are told apart in shares of that, and
//! columns stand at shares of L. Where the path turns sharply by itself (a corner), columns stand close by, and the direction is
//! free there.

use super::super::band::{Band, Pin};
use super::super::fan::Fan;
use super::super::{ArcLimits, Tube};
use super::{Direction, Effort};
use crate::fit::corner::Corner;
use crate::geometry::{Curve, Point};

/// Steepest slope of a piece where the reach is reckoned: beyond what any edge follows.
const STEEPEST: f64 = 1000.0;

/// Columns beside a corner, in steps of the grid: pieces meet it where the grid has a height for both.
const BESIDE_CORNER: [f64; 7] = [-4.0, -2.0, -1.0, 0.0, 1.0, 2.0, 4.0];

/// A column of the raster.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) x: f64,
    /// Heights on the grid inside the tube.
    pub(super) heights: Vec<f64>,
    /// The path's own direction as a piece arrives.
    pub(super) arriving: Direction,
    /// The path's own direction as a piece leaves.
    pub(super) leaving: Direction,
    /// One class of directions, radians, before and behind.
    pub(super) unit: [f64; 2],
    /// Whether a piece may leave in another direction than the one before it arrives in.
    pub(super) corner: bool,
}

/// What the raster is made from.
pub(super) struct Ground<'a> {
    pub(super) path: &'a Curve,
    pub(super) band: &'a Band,
    pub(super) pins: &'a [Pin],
    pub(super) tube: &'a Tube,
    pub(super) limits: &'a ArcLimits,
    pub(super) corners: &'a [Corner],
    pub(super) effort: Effort,
}

/// A stretch that one piece can reach over.
#[derive(Debug, Clone, Copy)]
struct Reach {
    from: f64,
    to: f64,
    /// Directions are told apart in shares of this.
    unit: f64,
}

impl Ground<'_> {
    /// The columns between two radii of the grid, both included.
    pub(super) fn columns(&self, start: f64, end: f64) -> Vec<Column> {
        let grid = &self.tube.grid;
        let corners: Vec<f64> =
            self.corners.iter().map(|c| c.x).filter(|x| *x > start && *x < end).collect();
        let mut bounds = vec![start];
        bounds.extend(&corners);
        bounds.push(end);
        let mut reaches = Vec::new();
        for pair in bounds.windows(2) {
            self.reaches(pair[0], pair[1], &mut reaches);
        }
        let mut places: Vec<(f64, bool)> = vec![(start, false), (end, false)];
        for r in &reaches {
            let parts = self.effort.parts as f64;
            let inner = (0..=self.effort.parts).map(|i| r.from + (r.to - r.from) * (i as f64 / parts));
            places.extend(inner.map(|x| (grid.nearest_x(x), false)));
        }
        for x in &corners {
            places.extend(BESIDE_CORNER.map(|n| (grid.nearest_x(x + n * grid.dx), true)));
        }
        places.retain(|(x, _)| *x > start - grid.dx / 2.0 && *x < end + grid.dx / 2.0);
        // Of two at one place the corner comes first and stays.
        places.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
        places.dedup_by(|b, a| b.0 - a.0 < grid.dx / 2.0);
        let mut at = 0;
        let columns = places.into_iter().map(|(x, corner)| {
            while reaches.get(at + 1).is_some_and(|r| r.from <= x) {
                at += 1;
            }
            let here = reaches.get(at).copied().unwrap_or(Reach { from: start, to: end, unit: 1e-3 });
            let before = reaches.get(at.saturating_sub(1)).copied().unwrap_or(here);
            self.column(x, corner, before, here, [start, end])
        });
        columns.filter(|c| !c.heights.is_empty() || c.x == start).collect()
    }

    /// How far one piece after the other reaches from one radius to another.
    fn reaches(&self, start: f64, end: f64, reaches: &mut Vec<Reach>) {
        let mut fan = Fan::default();
        let mut x = start;
        while x < end - self.tube.grid.dx / 2.0 {
            let at = Point::new(x, f64::midpoint(self.band.floor_at(x), self.band.roof_at(x)));
            let reached = self.reach(&mut fan, at).min(end);
            let to = self.tube.grid.nearest_x(reached).max(x + self.tube.grid.dx).min(end.max(x + self.tube.grid.dx));
            let length = at.distance(Point::new(to, self.path.at(to)));
            let unit = self.effort.quantum * self.tube.tolerance / length;
            reaches.push(Reach { from: x, to, unit });
            x = to;
        }
    }

    fn reach(&self, fan: &mut Fan, at: Point) -> f64 {
        let most = STEEPEST / self.limits.min_radius;
        fan.open((-STEEPEST, STEEPEST), (-most, most));
        let mut reached = at.x;
        let first = self.pins.partition_point(|p| p.at.x <= at.x);
        for pin in self.pins.get(first..).unwrap_or_default() {
            fan.clip(pin.at.shifted(-at.x, -at.z), pin.side);
            if fan.corners().is_empty() {
                return reached;
            }
            reached = pin.at.x;
        }
        f64::INFINITY
    }

    fn column(&self, x: f64, corner: bool, before: Reach, here: Reach, over: [f64; 2]) -> Column {
        let parts = self.effort.parts as f64;
        let (back, ahead) = ((before.to - before.from) / parts, (here.to - here.from) / parts);
        let back = if x > here.from + self.tube.grid.dx / 2.0 { ahead } else { back };
        let dx = self.tube.grid.dx;
        let towards = |a: f64, b: f64| {
            let (a, b) = (a.max(over[0]), b.min(over[1]));
            Direction::between(Point::new(a, self.path.at(a)), Point::new(b, self.path.at(b)))
        };
        let (back, ahead) = (back.max(dx), ahead.max(dx));
        let (arriving, leaving) = if corner {
            // The columns beside a corner stand within a few steps of it.
            let clear = 4.0 * dx;
            (towards(x - back - clear, x - clear), towards(x + clear, x + ahead + clear))
        } else {
            let both = towards(x - back, x + ahead);
            (both, both)
        };
        let (floor, roof) = (self.band.floor_at(x), self.band.roof_at(x));
        let margin = (roof - floor) * self.effort.margin;
        let heights = self.heights(floor + margin, roof - margin);
        let unit_before = if x > here.from + dx / 2.0 { here.unit } else { before.unit };
        Column { x, heights, arriving, leaving, unit: [unit_before, here.unit], corner }
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
