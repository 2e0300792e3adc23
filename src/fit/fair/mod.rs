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
//! Where no arc goes on from any state (the grid is too coarse for the tube, or the path bends back faster than arcs can), the direction
//! may change a little at the last columns reached, within the tube's limit on joints; only if that does not help, freely.
//!
//! The raster is watched at points; a way found is checked in closed form, and where a piece leaves the tube between
//! them, the place is watched too and the search made again.

mod columns;
mod lanes;
mod search;

use super::control::{Anchor, Rounded};
use super::corner::{Corner, corners};
use super::corridor::{Constraint, Corridor};
use super::feasible::Side;
use super::graph::Graph;
use super::{ArcLimits, Tube};
use crate::geometry::{Curve, Piece, Point};
use columns::Ground;
use search::{Search, Way};

/// How finely the search looks.
#[derive(Debug, Clone, Copy)]
struct Effort {
    /// Columns to the length that a piece can reach.
    parts: usize,
    /// Heights a column.
    heights: usize,
    /// One class of directions as a share of tolerance by length.
    quantum: f64,
    /// Share of the tube's width, below and above, that is left for rounding and for what lies between the points watched.
    margin: f64,
    /// States dearer than the cheapest of their column by more than this go no further.
    dearer: f64,
}

/// Ten parts need a piece in thirty less and twice the time; six a piece in fifteen more.
const USUAL: Effort = Effort { parts: 8, heights: 5, quantum: 0.5, margin: MARGIN, dearer: 0.9 };

/// Where the usual effort needs a change of direction that the path does not ask for.
const MORE: Effort = Effort { parts: 14, heights: 6, quantum: 0.4, margin: MARGIN, dearer: 1.9 };

/// On a longer raster a finer look takes too long: a path of so many pieces follows noise, and a change of direction within the limit
/// on joints does not show on it.
const MOST_COLUMNS: usize = 700;

/// Share of the tube's width, below and above, that is left for rounding and for what lies between the points watched: that is
/// some tenth of a step of the control at the usual tolerances.
const MARGIN: f64 = 1.0 / 64.0;

/// How often a way that leaves the tube between the points watched is searched for again.
const ROUNDS: usize = 8;

/// The greatest change of direction at a joint of a smooth stretch, radians: what a control that names 0.001 mm can tell over
/// pieces of some millimetres.
pub(super) const SMOOTH: f64 = 0.05 * std::f64::consts::PI / 180.0;

/// Corners this near to each other are one, in steps of the grid.
const SAME_CORNER: f64 = 2.0;

/// A unit vector.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Direction {
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

/// The search came to no end; a fit with kinks may.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stuck;

/// The pieces of a fair fit from an origin to the path's end.
pub(super) fn fair(
    path: &Curve,
    tube: &Tube,
    limits: &ArcLimits,
    origin: Origin,
    anchor: Anchor,
) -> Result<Vec<Piece>, Stuck> {
    let (corridor, constraints) = Corridor::new(path, tube.tolerance);
    let (_, end) = tube.columns(path);
    let start = match origin {
        Origin::Column(x) => x,
        Origin::Place { at, .. } => at.x,
    };
    let in_doubt = |c: &Corner| tube.doubted.iter().any(|x| (c.x - x).abs() <= SAME_CORNER * tube.grid.dx);
    let (doubted, corners): (Vec<Corner>, Vec<Corner>) = corners(path, tube).into_iter().partition(in_doubt);
    let ground = |effort| Ground {
        path,
        corridor: &corridor,
        constraints: &constraints,
        tube,
        limits,
        corners: &corners,
        doubted: &doubted,
        effort,
    };
    let usual = laid(&ground(USUAL), origin, anchor, [start, end]);
    match usual {
        Ok(way) if !way.eased || way.columns > MOST_COLUMNS => Ok(way.pieces),
        usual => match laid(&ground(MORE), origin, anchor, [start, end]) {
            Ok(way) => Ok(way.pieces),
            Err(Stuck) => usual.map(|way| way.pieces),
        },
    }
}

/// A way that keeps the tube.
fn laid(ground: &Ground, origin: Origin, anchor: Anchor, over: [f64; 2]) -> Result<Way, Stuck> {
    let (columns, mut constraints) = ground.raster(over[0], over[1]);
    for _ in 0..ROUNDS {
        let way = Search::new(ground, &columns, &constraints, anchor).run(origin, over)?;
        let breaches: Vec<Constraint> =
            way.pieces.iter().filter_map(|p| breach(ground.corridor, p)).collect();
        if breaches.is_empty() {
            return Ok(way);
        }
        for constraint in breaches {
            constraints.insert(constraints.partition_point(|p| p.at.x <= constraint.at.x), constraint);
        }
    }
    Err(Stuck)
}

/// Where a piece leaves the tube worst, as a point to pass with room for the rounding that made it leave.
fn breach(corridor: &Corridor, piece: &Piece) -> Option<Constraint> {
    let found = match piece {
        Piece::Line(line) => {
            let graph = Graph::of(piece);
            corridor.breach(&graph, &graph, line.from.x, line.to.x)
        }
        Piece::Arc(arc) => Rounded::of(*arc).breach(corridor),
    };
    let mut constraint = found?;
    let room = (corridor.roof_at(constraint.at.x) - corridor.floor_at(constraint.at.x)) * MARGIN * 2.0;
    constraint.at.z += if constraint.side == Side::Above { room } else { -room };
    Some(constraint)
}
