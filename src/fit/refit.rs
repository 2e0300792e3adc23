//! A fit made again for a path that is, over most of its length, the same one.
//!
//! Passes with one tool that go down along the axis follow one path, each deeper by its depth; only near the
//! zones' ends do walls of metal left alone change it. Where two paths agree, so do their tubes: a piece
//! that keeps the one keeps the other, and on the control's grid it is rounded the same. So the pieces of the known fit that lie in
//! the stretch of agreement are kept, and only what is left at both ends is searched for.

use super::control::{Anchor, arrives, leaves};
use super::fair::{Origin, fair};
use super::search::{EndPoint, Search};
use super::{FitError, NOISE, Tube, fit};
use crate::geometry::envelope::agreement;
use crate::geometry::{Arc, Curve, Grid, Piece, Point};

/// Heights of two paths this close are the same one reckoned twice, millimetres: a tenth of what the fit lets pass as rounding.
const SAME: f64 = NOISE / 10.0;

/// An end best takes no more than this many pieces more than those it replaces, such as a wall.
const FEW_MORE: usize = 1;

/// If need be it takes this many: a wall, its foot and a joint.
const MOST_MORE: usize = 3;

/// For a better joint this many kept pieces are given up, one after the other.
pub(super) const GIVEN_UP: usize = 4;

/// A path and the fit that was found for it.
#[derive(Debug, Clone, PartialEq)]
pub struct Fitted {
    /// The exact path.
    pub path: Curve,
    /// Its lines and arcs.
    pub fit: Curve,
}

impl Fitted {
    /// Both moved along the spindle by whole steps of a grid, as near to `dz` as these come.
    #[must_use]
    pub fn moved(&self, dz: f64, grid: &Grid) -> Self {
        let dz = (dz / grid.dz).round() * grid.dz;
        Self { path: self.path.raised(dz), fit: self.fit.raised(dz) }
    }

    /// Both seen from behind: x becomes −x.
    #[must_use]
    pub fn mirrored(&self) -> Self {
        Self { path: self.path.mirrored(), fit: self.fit.mirrored() }
    }
}

/// As [`fit`], with the pieces of a known fit kept wherever its path agrees with this one.
///
/// The known fit must have been made with the same tube, and its ends must lie on the grid. Where little agrees, or where
/// the ends would need more pieces than those they replace, all is fitted anew.
///
/// # Errors
/// As [`fit`].
pub fn refit(path: &Curve, tube: &Tube, known: &Fitted) -> Result<Curve, FitError> {
    tube.check()?;
    match kept(path, tube, known).and_then(|kept| kept.with_ends(path, tube)) {
        Some(pieces) => Ok(Curve::from_pieces(pieces)),
        None => fit(path, tube),
    }
}

/// The pieces that are kept, on the grid again, and how many stand before and behind them.
struct Kept {
    pieces: Vec<Piece>,
    before: usize,
    behind: usize,
}

/// How far what may be at a joint depends on the path around it: the limit gives way to a turn of the path within tolerance by limit.
fn influence(tube: &Tube) -> f64 {
    tube.tolerance * (1.0 / tube.tangent_jump).max(1.0)
}

/// The known pieces whose tube is that of the path, and so is what may be at the joints between them.
fn kept(path: &Curve, tube: &Tube, known: &Fitted) -> Option<Kept> {
    let [from, to] = agreement(path, &known.path, SAME)?;
    let all = known.fit.pieces();
    let within = |room: f64| {
        [if from > path.start() { from + room } else { from }, if to < path.end() { to - room } else { to }]
    };
    // The roof depends on the path within the tolerance.
    let (roof, joint) = (within(tube.tolerance), within(influence(tube)));
    let before = all.partition_point(|p| p.from().x < roof[0] || p.to().x < joint[0]);
    let end = all.partition_point(|p| p.to().x <= roof[1] && p.from().x <= joint[1]);
    let pieces: Vec<Piece> = all.get(before..end)?.iter().map(|p| on_grid(p, &tube.grid)).collect();
    (!pieces.is_empty()).then(|| Kept { pieces, before, behind: all.len() - end })
}

/// The piece with its ends on the grid to the bit; the centre goes with the start, from which the control reckons it.
fn on_grid(piece: &Piece, grid: &Grid) -> Piece {
    let (from, to) = (grid.nearest(piece.from()), grid.nearest(piece.to()));
    match *piece {
        Piece::Line(_) => Piece::line(from, to),
        Piece::Arc(a) => {
            let centre = a.centre.shifted(from.x - a.from.x, from.z - a.from.z);
            Piece::Arc(Arc { from, to, centre, ..a })
        }
    }
}

impl Kept {
    /// The kept pieces with what leads to them from the path's start and on to its end.
    fn with_ends(&self, path: &Curve, tube: &Tube) -> Option<Vec<Piece>> {
        let (start, end) = tube.columns(path);
        // A piece at least stays.
        let tries = self.pieces.len().div_ceil(2).min(GIVEN_UP);
        let (head, from) = best(tries, self.before, |n| {
            let first = self.pieces.get(n)?;
            if first.from().x == start {
                return Some(Vec::new());
            }
            let over = [path.start(), first.from().x + influence(tube)];
            let pieces =
                lead_to(&path.slice(over[0], over[1])?, tube, first, start, self.before + n + MOST_MORE)?;
            (pieces.len() <= self.before + n + MOST_MORE).then_some(pieces)
        })?;
        let (tail, given_up) = best(tries, self.behind, |n| {
            let last = self.pieces.iter().rev().nth(n)?;
            if last.to().x == end {
                return Some(Vec::new());
            }
            let over = [last.to().x - influence(tube), path.end()];
            let pieces =
                lead_on(&path.slice(over[0], over[1])?, tube, last, end, self.behind + n + MOST_MORE)?;
            (pieces.len() <= self.behind + n + MOST_MORE).then_some(pieces)
        })?;
        let middle = self.pieces.get(from..self.pieces.len() - given_up)?;
        Some([&head, middle, &tail].concat())
    }
}

/// The pieces from a column to the start of a kept piece, which they meet in its direction.
fn lead_to(path: &Curve, tube: &Tube, first: &Piece, start: f64, most: usize) -> Option<Vec<Piece>> {
    let Some(limits) = tube.fair_arcs() else {
        let goal = EndPoint::Fixed { at: first.from(), heading: leaves(first) };
        return Search::new(path, tube, EndPoint::Column(start), goal).run_smooth(most).ok();
    };
    // Seen from behind, the place to meet is where the search begins; the control still reckons each arc from its end at smaller x.
    let [breaks, doubted] = [tube.breaks, tube.doubted].map(from_behind);
    let grid = Grid { x0: -tube.grid.x0, ..tube.grid };
    let behind = Tube { grid, breaks: &breaks, doubted: &doubted, ..*tube };
    let at = first.from();
    let origin = Origin::Place { at: Point::new(-at.x, at.z), heading: -leaves(first) };
    let pieces = fair(&path.mirrored(), &behind, limits, origin, Anchor::End).ok()?;
    Some(pieces.iter().rev().map(|p| on_grid(&p.mirrored(), &tube.grid)).collect())
}

/// Radii as seen from behind: x becomes −x.
#[must_use]
pub fn from_behind(radii: &[f64]) -> Vec<f64> {
    radii.iter().rev().map(|x| -x).collect()
}

/// The pieces from the end of a kept piece, which they leave in its direction, to a column.
fn lead_on(path: &Curve, tube: &Tube, last: &Piece, end: f64, most: usize) -> Option<Vec<Piece>> {
    let (at, heading) = (last.to(), arrives(last));
    match tube.fair_arcs() {
        None => Search::new(path, tube, EndPoint::Fixed { at, heading }, EndPoint::Column(end))
            .run_smooth(most)
            .ok(),
        Some(limits) => fair(path, tube, limits, Origin::Place { at, heading }, Anchor::Start).ok(),
    }
}

/// The first end that takes hardly more pieces than those it replaces, else the first there is; and how many kept pieces it gives up.
fn best(
    tries: usize,
    replaced: usize,
    end: impl Fn(usize) -> Option<Vec<Piece>>,
) -> Option<(Vec<Piece>, usize)> {
    let mut first = None;
    for n in 0..tries {
        match end(n) {
            Some(pieces) if pieces.len() <= replaced + n + FEW_MORE => return Some((pieces, n)),
            found => first = first.or(found.map(|pieces| (pieces, n))),
        }
    }
    first
}
