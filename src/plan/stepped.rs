//! Stepped spindle speeds for a control that cannot hold a surface speed.
//!
//! At a radius r the plan allows n(r) = min(limit, v / 2πr). A stretch of path gets one whole spindle
//! speed that is nowhere above n(r) and nowhere more than [`SHORTFALL`] under it; so it is set by the
//! stretch's largest radius whichever way the tool runs. Each change may leave a faint ring, so there are as few as that allows:
//! from the outermost place inward, each speed as far as it is good ([`change_radii`]). The path is fitted so that pieces end at these radii,
//! inside its tolerance like every other end.
//!
//! A pass that was fitted without regard to speeds can be stepped too: there a piece too long for one speed is divided, at a radius on the grid
//! where the piece nearly meets the grid's heights and is rounded up to them. An arc keeps its centre in every part. Radii are those of the nose centre.

use super::{Motion, Pass, PlanError, Role};
use crate::geometry::{Arc, Grid, Piece, Point};
use crate::job::{Control, Tool};
use crate::units::{Length, SpindleSpeed, SurfaceSpeed};

/// How far the surface speed may fall under the plan's, as a share, except where the spindle limit holds.
const SHORTFALL: f64 = 0.05;

/// So much of it is planned; the rest is for pieces that end a little beside, where the grid has a height in the tube.
const PLANNED: f64 = 0.049;

/// Where fewer speeds are asked for, the surface speed falls by so much more at a time until they are enough, and no further than the last: below
/// that a tool rubs rather than cuts (common practice, no source).
const FURTHER_SHORTFALL: f64 = 0.01;
const MOST_SHORTFALL: f64 = 0.8;

/// How much of the stretch that one speed could serve may be given up to divide a piece where it nearly meets the grid.
const SLIDE: f64 = 0.25;

/// Places tried for that: their best lies some thousandth of a step under the grid, far below what a control can name.
const MOST_PLACES: u32 = 1000;

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

    /// The spindle speed at which the pass starts: one that is safe everywhere on it, that of its largest radius at feed.
    #[must_use]
    pub fn start_speed(&self) -> SpindleSpeed {
        let at_feed = self.motions.iter().filter(|m| m.role != Role::Rapid);
        self.allowed_at(at_feed.map(|m| radii(&m.piece)[1]).fold(0.0, f64::max))
    }

    /// The speed at the place where the pass first moves at feed.
    #[must_use]
    pub fn entry_speed(&self) -> SpindleSpeed {
        let entry = self.motions.iter().find(|m| m.role != Role::Rapid);
        self.allowed_at(entry.map_or(0.0, |m| m.piece.from().x.abs()))
    }
}

/// Gives every motion at feed a whole spindle speed where the control cannot hold a surface speed; long pieces are divided.
///
/// Where radii are given at which the speed `changes`, it changes there and nowhere else, and the cuts have pieces that end there.
///
/// # Errors
/// Where no whole speed keeps within its share of the surface speed, or is a speed at all.
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
    if !changes.is_empty() {
        return change_at(pass, &grid, changes);
    }
    let mut motions = Vec::new();
    for motion in &pass.motions {
        if motion.role == Role::Rapid {
            motions.push(*motion);
        } else {
            let parts = divided(pass, &motion.piece, &grid, control.resolution)?;
            motions.extend(parts.into_iter().map(|piece| Motion { piece, ..*motion }));
        }
    }
    assign(pass, &mut motions)?;
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

/// The whole speeds that suit a stretch of radii.
#[derive(Debug, Clone, Copy)]
struct SpeedRange {
    /// Nowhere too slow at this and above.
    least: f64,
    /// Nowhere too fast at this and below; whole.
    most: f64,
}

impl SpeedRange {
    const fn both(self, other: Self) -> Self {
        Self { least: self.least.max(other.least), most: self.most.min(other.most) }
    }

    fn is_met(self) -> bool {
        self.least <= self.most && self.most >= 1.0
    }

    /// The speeds that suit a stretch of radii.
    fn over(pass: &Pass, [low, high]: [f64; 2]) -> Self {
        Self {
            least: (1.0 - SHORTFALL) * pass.allowed_at(low).as_rpm(),
            most: whole(pass.allowed_at(high).as_rpm()),
        }
    }
}

/// Changes the speed at these radii only. Between two of them the outermost place sets it, so that it is nowhere too fast.
fn change_at(pass: &mut Pass, grid: &Grid, changes: &[f64]) -> Result<(), PlanError> {
    let mut motions = Vec::new();
    for motion in &pass.motions {
        let parts = match motion.role {
            // Cuts have been fitted with these ends.
            Role::Rapid | Role::Cut => vec![motion.piece],
            Role::LeadIn | Role::LeadOut => cut_at(&motion.piece, changes, grid),
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

/// A piece cut at the radii that it crosses, at heights rounded up to the grid; one that turns back over a radius stays whole,
/// and its outermost place sets its speed.
fn cut_at(piece: &Piece, changes: &[f64], grid: &Grid) -> Vec<Piece> {
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
    ends.into_iter().map(part).collect()
}

fn whole(rpm: f64) -> f64 {
    (rpm + WHOLE).floor()
}

/// One speed for as many motions in a row as it suits.
fn assign(pass: &Pass, motions: &mut [Motion]) -> Result<(), PlanError> {
    let mut run: Option<SpeedRange> = None;
    let mut run_start = 0;
    for i in 0..motions.len() {
        let Some(motion) = motions.get(i).filter(|m| m.role != Role::Rapid) else { continue };
        let span = radii(&motion.piece);
        let range = SpeedRange::over(pass, span);
        if !range.is_met() {
            return Err(PlanError::SpindleSteps { at: Length::mm(span[0]) });
        }
        let joined = run.map(|r| r.both(range)).filter(|r| r.is_met());
        if joined.is_none() {
            settle(motions.get_mut(run_start..i).unwrap_or_default(), run);
            run_start = i;
        }
        run = Some(joined.unwrap_or(range));
    }
    settle(motions.get_mut(run_start..).unwrap_or_default(), run);
    Ok(())
}

/// Gives the motions at feed of a run its speed.
fn settle(run: &mut [Motion], range: Option<SpeedRange>) {
    for motion in run.iter_mut().filter(|m| m.role != Role::Rapid) {
        motion.speed = range.map(|r| SpindleSpeed::rpm(r.most));
    }
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

/// A piece in parts of which each has a speed that suits it.
fn divided(pass: &Pass, piece: &Piece, grid: &Grid, word: Length) -> Result<Vec<Piece>, PlanError> {
    let [low, high] = radii(piece);
    let refused = |radius| PlanError::SpindleSteps { at: Length::mm(radius) };
    let suits = |low, high| SpeedRange::over(pass, [low, high]).is_met();
    if suits(low, high) {
        return Ok(vec![*piece]);
    }
    let (from, to) = (piece.from(), piece.to());
    let folds = low < from.x.min(to.x) - SAME_RADIUS || high > from.x.max(to.x) + SAME_RADIUS;
    if !(low >= 0.0 && high.is_finite()) || folds {
        return Err(refused(low));
    }
    // From the outside in: each speed is good down to where the surface speed has fallen by its share.
    let mut cuts = Vec::new();
    let mut outer = high;
    while !suits(low, outer) {
        let rpm = whole(pass.allowed_at(outer).as_rpm());
        let furthest = grid.x_not_below((1.0 - SHORTFALL) * radius_at(pass.surface_speed, rpm));
        let inner = nearest_the_grid(piece, grid, word.as_mm(), [furthest, outer]);
        // A comparison with no number, as after a speed of zero, is refused as well.
        let goes_on = inner <= outer - SAME_RADIUS && inner > low;
        if !goes_on {
            return Err(refused(outer));
        }
        cuts.push(Point::new(inner, grid.z_not_below(piece.at(inner))));
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

/// Of the first places of the grid in a stretch of radii, the one at which the piece lies least under the grid's heights: rounding up
/// there lifts the path out of its tolerance by next to nothing.
///
/// The places are whole words from the piece's start: the words that give an arc's centre from there give it from them too.
fn nearest_the_grid(piece: &Piece, grid: &Grid, word: f64, [inner, outer]: [f64; 2]) -> f64 {
    let end = inner + (outer - inner) * SLIDE;
    let start = piece.from().x;
    let first = start + ((inner - start) / word).ceil() * word;
    let places =
        (0..MOST_PLACES).map(|i| grid.nearest_x(first + f64::from(i) * word)).take_while(|&x| x <= end);
    let lift = |x: f64| {
        let z = piece.at(x);
        grid.z_not_below(z) - z
    };
    places.map(|x| (lift(x), x)).min_by(|a, b| a.0.total_cmp(&b.0)).map_or(inner, |(_, x)| x)
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
