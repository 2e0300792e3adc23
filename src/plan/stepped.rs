//! Stepped spindle speeds for a control that cannot hold a surface speed.
//!
//! At a radius r the plan allows n(r) = min(limit, v / 2πr). A stretch of path gets one whole spindle
//! speed that is nowhere above n(r) and nowhere more than 5 % under it, unless fewer speeds are asked for; so it is set by the
//! stretch's largest radius whichever way the tool runs. Each change may leave a faint ring, so there are as few as that allows:
//! from the outermost place inward, each speed as far as it is good ([`change_radii`]). The path is fitted so that pieces end at these radii,
//! inside its tolerance like every other end; leads are cut there.
//!
//! A path that turns back over such a radius stays whole, and its outermost place sets its speed. Radii are those of the nose centre.

use super::approach::LONGEST_LEAD;
use super::arc_limits;
use super::passes::Cutting;
use super::run_off;
use super::{Motion, Pass, PlanError, Role};
use crate::geometry::{Arc, Grid, Piece, Point};
use crate::job::{Control, Job, Tool};
use crate::units::{Length, SpindleSpeed, SurfaceSpeed};

/// How far the surface speed may fall under the plan's between two radii, as a share, except where the spindle limit holds. The rest of 5 % is
/// for pieces that end a little beside, where the grid has a height in the tube.
const PLANNED: f64 = 0.049;

/// Where fewer speeds are asked for, the surface speed falls by so much more at a time until they are enough, and no further than the last: below
/// that a tool rubs rather than cuts (common practice, no source).
const FURTHER_SHORTFALL: f64 = 0.01;
const MOST_SHORTFALL: f64 = 0.8;

/// Radii closer than this are one, in millimetres: a thousandth of any control's step.
const SAME_RADIUS: f64 = 1e-6;

/// Room for the rounding of binary numbers where a speed is rounded down to whole revolutions a minute.
const WHOLE: f64 = 1e-6;

impl Pass {
    /// The spindle speed that the pass allows with the nose centre at a radius, millimetres.
    #[must_use]
    pub fn allowed_at(&self, radius: f64) -> SpindleSpeed {
        let limit = self.spindle_limit;
        if radius <= 0.0 {
            return limit;
        }
        let wanted = self.surface_speed.at_radius(Length::mm(radius));
        if wanted < limit { wanted } else { limit }
    }

    /// The speed at the place where the pass first moves at feed.
    #[must_use]
    pub fn entry_speed(&self) -> SpindleSpeed {
        let entry = self.motions.iter().find(|m| m.role != Role::Rapid);
        self.allowed_at(entry.map_or(0.0, |m| m.piece.from().x.abs()))
    }

    /// The speed at the place where the pass last moves at feed.
    #[must_use]
    pub fn exit_speed(&self) -> SpindleSpeed {
        let exit = self.motions.iter().rfind(|m| m.role != Role::Rapid);
        self.allowed_at(exit.map_or(0.0, |m| m.piece.to().x.abs()))
    }
}

/// Gives every motion at feed a whole spindle speed where the control cannot hold a surface speed.
///
/// The speed changes at the radii of `changes`, in rising order, and nowhere else; cuts have pieces that end there. Between two of them the
/// outermost place sets it, so that it is nowhere too fast.
///
/// # Errors
/// Where the surface speed asks for less than one revolution a minute.
pub fn step_speeds(
    pass: &mut Pass,
    tool: &Tool,
    control: &Control,
    changes: &[f64],
) -> Result<(), PlanError> {
    if control.surface_speed {
        return Ok(());
    }
    let grid = control.grid(tool);
    let mut motions = Vec::new();
    for motion in &pass.motions {
        let parts = match motion.role {
            // Cuts have been fitted with these ends.
            Role::Rapid | Role::Cut => vec![motion.piece],
            Role::LeadIn | Role::LeadOut => cut_at(&motion.piece, changes, (&grid, control)),
        };
        motions.extend(parts.into_iter().map(|piece| Motion { piece, ..*motion }));
    }
    let ring = |motion: &Motion| {
        let [low, high] = radii(&motion.piece);
        changes.partition_point(|&x| x <= f64::midpoint(low, high))
    };
    let at_feed = |m: &Motion| m.role != Role::Rapid;
    let mut outermost = vec![0.0_f64; changes.len() + 1];
    for motion in motions.iter().filter(|m| at_feed(m)) {
        if let Some(outermost) = outermost.get_mut(ring(motion)) {
            *outermost = outermost.max(radii(&motion.piece)[1]);
        }
    }
    for motion in motions.iter_mut().filter(|m| at_feed(m)) {
        let radius = outermost.get(ring(motion)).copied().unwrap_or_default();
        let rpm = whole(pass.allowed_at(radius).as_rpm());
        if rpm < 1.0 {
            return Err(PlanError::SpindleSteps { at: Length::mm(radius) });
        }
        motion.speed = Some(SpindleSpeed::rpm(rpm));
    }
    pass.motions = motions;
    Ok(())
}

/// The radii at which the speed changes, in rising order, for paths from one radius to another: from the outermost place
/// inward, each whole speed down to where the surface speed has fallen by its share. Radii of the grid. Where a person wants
/// fewer speeds than that takes, it falls further.
#[must_use]
pub fn change_radii(
    surface_speed: SurfaceSpeed,
    limit: SpindleSpeed,
    grid: &Grid,
    radii: [f64; 2],
    most_speeds: Option<u32>,
) -> Vec<f64> {
    let at = |share: f64| changes_at_share(surface_speed, limit, grid, radii, share);
    let mut share = PLANNED;
    let mut changes = at(share);
    let fits = |changes: &[f64]| {
        most_speeds.is_none_or(|most| changes.len() < usize::try_from(most).unwrap_or(usize::MAX))
    };
    while !fits(&changes) && share < MOST_SHORTFALL {
        share += FURTHER_SHORTFALL;
        changes = at(share);
    }
    changes
}

/// The radii at which the speed changes where the surface speed may fall by a share.
fn changes_at_share(
    surface_speed: SurfaceSpeed,
    limit: SpindleSpeed,
    grid: &Grid,
    [inner, outer]: [f64; 2],
    share: f64,
) -> Vec<f64> {
    let mut changes = Vec::new();
    let mut at = outer;
    loop {
        let wanted = surface_speed.at_radius(Length::mm(at)).as_rpm();
        let rpm = whole(wanted);
        // At the limit one speed serves for all that lies further in.
        if at <= 0.0 || wanted >= limit.as_rpm() || rpm < 1.0 {
            break;
        }
        let next = grid.x_not_below((1.0 - share) * radius_at(surface_speed, rpm));
        if !(next > inner && next < at - SAME_RADIUS) {
            break;
        }
        changes.push(next);
        at = next;
    }
    changes.reverse();
    changes
}

/// Where a fixed spindle speed changes: where a person says, else at as few radii as its share of the surface speed allows.
pub(super) fn speed_changes(job: &Job, cutting: &Cutting<'_>, limit: SpindleSpeed, grid: &Grid) -> Vec<f64> {
    if job.control.surface_speed {
        return Vec::new();
    }
    if cutting.speed_changes.is_empty() {
        let inner = job.zones.iter().map(|z| z.from.as_mm()).fold(f64::INFINITY, f64::min);
        let outer = job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
        let most = job.control.traits.speed_steps;
        // Past an edge that a zone runs off the nose goes until it is clear.
        let [first, last] = job.runs_off.edges([inner, outer]);
        let beyond = BEYOND_ZONE.max(run_off::beyond(cutting.tool.nose_radius.as_mm()) + LONGEST_LEAD);
        let radii = [inner.min(first) - beyond, outer.max(last) + beyond];
        return change_radii(cutting.surface_speed, limit, grid, radii, most);
    }
    let mut changes: Vec<f64> = cutting.speed_changes.iter().map(|r| grid.nearest_x(r.as_mm())).collect();
    changes.sort_by(f64::total_cmp);
    changes
}

/// How far a stroke runs beyond its zone with its leads and the width of most noses, millimetres; one speed serves for that too.
const BEYOND_ZONE: f64 = 4.0;

/// A piece cut at the radii that it crosses, at heights rounded up to the grid; one that turns back over a radius stays whole,
/// and its outermost place sets its speed. So does an arc of which the control would not read the parts, whose ends lie beside its circle.
fn cut_at(piece: &Piece, changes: &[f64], (grid, control): (&Grid, &Control)) -> Vec<Piece> {
    let ([low, high], [from, to]) = (radii(piece), [piece.from(), piece.to()]);
    let folds = low < from.x.min(to.x) - SAME_RADIUS || high > from.x.max(to.x) + SAME_RADIUS;
    let inside = |x: &&f64| !folds && low + grid.dx < **x && **x < high - grid.dx;
    let mut ends: Vec<Point> =
        changes.iter().filter(inside).map(|&x| Point::new(x, grid.z_not_below(piece.at(x)))).collect();
    if to.x < from.x {
        ends.reverse();
    }
    ends.push(to);
    let mut start = from;
    let part = |end| with_ends(piece, std::mem::replace(&mut start, end), end);
    let parts: Vec<Piece> = ends.into_iter().map(part).collect();
    // The words of a centre are rounded from where each part begins; one that is parted once more is lifted by a step at most.
    let beside = |arc: &Arc| (arc.from.distance(arc.centre) - arc.to.distance(arc.centre)).abs();
    let step = control.resolution.as_mm();
    let lifted = if arc_limits::has_room(control, control.arc_tolerance) { step } else { step / 2.0 };
    let most = control.arc_tolerance.as_mm() - lifted;
    let is_read = |part: &Piece| !matches!(part, Piece::Arc(arc) if beside(arc) > most);
    if parts.len() > 1 && !parts.iter().all(is_read) { vec![*piece] } else { parts }
}

fn whole(rpm: f64) -> f64 {
    (rpm + WHOLE).floor()
}

/// The smallest and largest radius of a piece.
fn radii(piece: &Piece) -> [f64; 2] {
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

/// The radius at which a spindle speed gives a surface speed exactly.
fn radius_at(surface_speed: SurfaceSpeed, rpm: f64) -> f64 {
    surface_speed.as_mm_per_min() / SpindleSpeed::rpm(rpm).at_radius(Length::mm(1.0)).as_mm_per_min()
}

fn with_ends(piece: &Piece, from: Point, to: Point) -> Piece {
    match *piece {
        Piece::Line(_) => Piece::line(from, to),
        Piece::Arc(arc) => Piece::Arc(Arc { from, to, ..arc }),
    }
}
