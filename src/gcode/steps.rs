//! Stepped spindle speeds for a control that cannot hold a surface speed.
//!
//! At a radius r the plan allows n(r) = min(limit, v / 2πr). A stretch of path gets one whole spindle
//! speed that is nowhere above n(r) and nowhere more than [`SHORTFALL`] under it; so it is set by the
//! stretch's largest radius whichever way the tool runs. Speeds change where two pieces of the plan
//! meet; only a piece too long for one speed is parted, at a radius on the grid and at a height
//! rounded up to the grid, so that the path never falls below the plan's. An arc keeps its centre in
//! every part. Radii are those of the nose centre, as under a held surface speed.

use super::GcodeError;
use super::scale::{Frame, whole_rpm};
use crate::geometry::{Arc, Piece, Point};
use crate::plan::{Motion, Pass, Role};
use crate::units::{Length, SpindleSpeed};

/// How far the surface speed may fall under the plan's, as a share, except where the spindle limit holds.
const SHORTFALL: f64 = 0.05;

/// Radii closer than this are one, in millimetres: a thousandth of any control's step.
const SAME_RADIUS: f64 = 1e-6;

/// A motion with the spindle speed at which it runs; rapids run at whatever stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stepped {
    pub(super) motion: Motion,
    pub(super) rpm: Option<i64>,
}

/// The whole speeds that suit a stretch of radii.
#[derive(Debug, Clone, Copy)]
struct Range {
    /// Nowhere too slow at this and above.
    least: f64,
    /// Nowhere too fast at this and below.
    most: i64,
}

impl Range {
    fn both(self, other: Self) -> Self {
        Self { least: self.least.max(other.least), most: self.most.min(other.most) }
    }

    fn suits(self) -> bool {
        self.least <= self.most as f64
    }
}

/// The spindle speed that the plan allows at a radius.
pub(super) fn allowed(pass: &Pass, radius: f64) -> SpindleSpeed {
    let limit = pass.spindle_limit;
    if radius <= 0.0 {
        return limit;
    }
    let wanted = pass.surface_speed.at_radius(Length::mm(radius));
    if wanted < limit { wanted } else { limit }
}

/// The pass with a whole spindle speed for every motion at feed, long pieces parted.
pub(super) fn stepped(pass: &Pass, frame: &Frame, at: &str) -> Result<Vec<Stepped>, GcodeError> {
    let mut motions = Vec::new();
    for motion in &pass.motions {
        if motion.role == Role::Rapid {
            motions.push(*motion);
        } else {
            let parts = parted(pass, &motion.piece, frame, at)?;
            motions.extend(parts.into_iter().map(|piece| Motion { role: motion.role, piece }));
        }
    }
    speeds(pass, &motions, at)
}

/// One speed for as many motions in a row as it suits.
fn speeds(pass: &Pass, motions: &[Motion], at: &str) -> Result<Vec<Stepped>, GcodeError> {
    let mut out: Vec<Stepped> = Vec::with_capacity(motions.len());
    let mut run: Option<Range> = None;
    let mut run_start = 0;
    for motion in motions {
        if motion.role != Role::Rapid {
            let range = range(pass, radii(&motion.piece), at)?;
            let joined = run.map(|r| r.both(range)).filter(|r| r.suits());
            if joined.is_none() {
                settle(&mut out, run_start, run);
                run_start = out.len();
            }
            run = Some(joined.unwrap_or(range));
        }
        out.push(Stepped { motion: *motion, rpm: None });
    }
    settle(&mut out, run_start, run);
    Ok(out)
}

/// Gives the motions at feed from `start` on the speed of their run.
fn settle(out: &mut [Stepped], start: usize, run: Option<Range>) {
    for step in out.iter_mut().skip(start).filter(|s| s.motion.role != Role::Rapid) {
        step.rpm = run.map(|r| r.most);
    }
}

/// The speeds that suit a stretch of radii.
fn range(pass: &Pass, [low, high]: [f64; 2], at: &str) -> Result<Range, GcodeError> {
    let range = Range {
        least: (1.0 - SHORTFALL) * allowed(pass, low).as_rpm(),
        most: whole_rpm(allowed(pass, high))?,
    };
    if range.suits() {
        Ok(range)
    } else {
        Err(GcodeError::SpindleSteps { at: at.to_owned(), radius_mm: low })
    }
}

/// The smallest and largest radius of a piece.
pub(super) fn radii(piece: &Piece) -> [f64; 2] {
    let ends = [piece.from(), piece.to()];
    let mut low = ends[0].x.min(ends[1].x);
    let mut high = ends[0].x.max(ends[1].x);
    if let Piece::Arc(arc) = piece {
        // The circle's innermost and outermost points count where the arc runs over them.
        for side in [-1.0, 1.0] {
            let extreme = Point::new(arc.centre.x + side * arc.radius(), arc.centre.z);
            if runs_over(arc, extreme) {
                low = low.min(extreme.x);
                high = high.max(extreme.x);
            }
        }
    }
    [low, high]
}

/// Whether an arc of less than half a turn passes a point of its circle: it lies on the far side of the chord from the centre.
fn runs_over(arc: &Arc, point: Point) -> bool {
    let side = |p: Point| {
        (arc.to.x - arc.from.x) * (p.z - arc.from.z) - (arc.to.z - arc.from.z) * (p.x - arc.from.x)
    };
    side(point) * side(arc.centre) < 0.0
}

/// A piece in parts of which each has a speed that suits it.
fn parted(pass: &Pass, piece: &Piece, frame: &Frame, at: &str) -> Result<Vec<Piece>, GcodeError> {
    let [low, high] = radii(piece);
    let refused = |radius_mm| GcodeError::SpindleSteps { at: at.to_owned(), radius_mm };
    if range(pass, [low, high], at).is_ok() {
        return Ok(vec![*piece]);
    }
    let (from, to) = (piece.from(), piece.to());
    let folds = low < from.x.min(to.x) - SAME_RADIUS || high > from.x.max(to.x) + SAME_RADIUS;
    if low < 0.0 || folds {
        return Err(refused(low));
    }
    // From the outside in: each speed is good down to where the surface speed has fallen by its share.
    let mut cuts = Vec::new();
    let mut outer = high;
    while range(pass, [low, outer], at).is_err() {
        let rpm = whole_rpm(allowed(pass, outer))?;
        let reach = (1.0 - SHORTFALL) * outer_radius_of(pass, rpm);
        let inner = frame.radius_not_below(reach);
        if inner > outer - SAME_RADIUS || inner <= low {
            return Err(refused(outer));
        }
        cuts.push(Point::new(inner, frame.height_not_below(piece.at(inner))));
        outer = inner;
    }
    if from.x < to.x {
        cuts.reverse();
    }
    cuts.push(to);
    let mut start = from;
    Ok(cuts
        .into_iter()
        .map(|end| {
            let part = with_ends(piece, start, end);
            start = end;
            part
        })
        .collect())
}

/// The radius at which a spindle speed gives the pass's surface speed exactly.
fn outer_radius_of(pass: &Pass, rpm: i64) -> f64 {
    pass.surface_speed.as_mm_per_min()
        / SpindleSpeed::rpm(rpm as f64).at_radius(Length::mm(1.0)).as_mm_per_min()
}

fn with_ends(piece: &Piece, from: Point, to: Point) -> Piece {
    match *piece {
        Piece::Line(_) => Piece::line(from, to),
        Piece::Arc(arc) => Piece::Arc(Arc { from, to, ..arc }),
    }
}
