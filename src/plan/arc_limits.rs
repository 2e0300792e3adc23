//! Arcs made as short as a control wants them: at most so far round, or within one quadrant.
//!
//! An arc keeps its centre in every part. It is parted at places of the grid that lie whole words from its start, so that the words
//! that give the centre from there give it from them too; heights are rounded up to the grid, so that the path never falls below. Among
//! the places near the one that is wanted, the one is taken at which the arc nearly meets the grid: rounding up there lifts the path by next to
//! nothing. On the border of a quadrant there is no choice; there the path may rise by one step of the
//! control at that one point, for which the fit leaves room.
//!
//! Where the tolerances leave no room for such a step, the path is laid of arcs that need no parting, and of lines between them ([`ArcTurn`]).

use super::Pass;
use crate::fit::ArcTurn;
use crate::geometry::{Arc, Grid, Piece, Point};
use crate::job::{Arcs, Control, Job, Quadrants, Tool};
use crate::units::Length;

/// Places tried on either side of the one that is wanted.
const PLACES: i32 = 200;

/// Most parts of one arc: 36 of 5 degrees, and some more for ends beside the wanted ones.
const MOST_PARTS: u32 = 80;

/// Share of a part by which its end may move to meet the grid.
const SLIDE: f64 = 0.1;

/// Places that differ by no more than this are one, millimetres: what coordinates are rounded by, far below any step of a control. A top just
/// as far from an arc's end as the control lets pass is parted.
const SAME_PLACE: f64 = 1e-6;

/// How far round one arc may run, on a control that wants its arcs short or within a quadrant.
pub(super) fn turn(control: &Control) -> Option<ArcTurn> {
    let traits = &control.traits;
    // No nearer to the border than the control can name a place does an arc end on it.
    let border = (traits.quadrants == Quadrants::Split).then(|| control.resolution.as_mm() - SAME_PLACE);
    let longest = traits.longest_arc.map_or(std::f64::consts::PI, crate::units::Angle::as_rad);
    traits.parts_arcs().then_some(ArcTurn { longest, border })
}

/// Whether arcs that are too long are parted: a place between two parts is lifted to the grid, by a step at most, and as much again is left for the
/// ends of the whole arc and for the path between.
pub(super) fn parts_arcs(job: &Job) -> bool {
    let control = &job.control;
    has_room(control, control.arc_tolerance) && has_room(control, job.schedule.tolerance)
}

/// By how much the places between the parts of an arc are rounded up to the grid once more, where arcs are parted, millimetres.
pub(super) fn parting(job: &Job, grid: &Grid) -> f64 {
    if parts_arcs(job) { grid.dz } else { 0.0 }
}

/// Whether a control wants arcs parted, and a tolerance leaves room for it.
pub(super) fn has_room(control: &Control, tolerance: Length) -> bool {
    let asked = control.traits.parts_arcs() && control.arcs != Arcs::None;
    asked && tolerance.as_mm() >= 2.0 * control.resolution.as_mm() - SAME_PLACE
}

/// Parts the arcs of a pass as the control wants them.
pub(super) fn split_arcs(pass: &mut Pass, tool: &Tool, job: &Job) {
    let control = &job.control;
    let Some(turn) = turn(control).filter(|_| parts_arcs(job)) else { return };
    let limits = Limits { grid: control.grid(tool), control, turn };
    let motions = std::mem::take(&mut pass.motions);
    for motion in motions {
        match motion.piece {
            Piece::Arc(arc) => {
                let parts = limits.parts(&arc);
                pass.motions
                    .extend(parts.into_iter().map(|arc| super::Motion { piece: Piece::Arc(arc), ..motion }));
            }
            Piece::Line(_) => pass.motions.push(motion),
        }
    }
}

struct Limits<'c> {
    grid: Grid,
    control: &'c Control,
    turn: ArcTurn,
}

impl Limits<'_> {
    fn parts(&self, arc: &Arc) -> Vec<Arc> {
        self.at_the_top(arc).iter().flat_map(|arc| self.short(arc)).collect()
    }

    /// Parted where the circle is level: the path is a function of the radius, so it crosses no other border.
    fn at_the_top(&self, arc: &Arc) -> Vec<Arc> {
        if !self.turn.over_border(arc) {
            return vec![*arc];
        }
        cut(arc, [self.point(arc, self.words_from_start(arc, arc.centre.x))])
    }

    /// Parted into as few parts as turn no more than the longest.
    fn short(&self, arc: &Arc) -> Vec<Arc> {
        let whole = ArcTurn::swept(arc);
        let mut parts = vec![*arc];
        // A share more than needed leaves room for ends beside the wanted ones.
        let mut count = 1;
        while parts.iter().any(|a| self.turn.too_long(a)) && count < MOST_PARTS {
            count += 1;
            let share = |i: u32| f64::from(i) / f64::from(count);
            let wanted = (1..count).map(|i| self.near(arc, share(i), SLIDE * whole / f64::from(count)));
            parts = cut(arc, wanted);
        }
        parts
    }

    /// The place near a share of the arc at which it lies least under the grid's heights.
    fn near(&self, arc: &Arc, share: f64, slide: f64) -> Point {
        let (from, to) = (arc.from.x, arc.to.x);
        let angle = |p: Point| (p.z - arc.centre.z).atan2(p.x - arc.centre.x);
        let (start, end) = (angle(arc.from), angle(arc.to));
        let turned = wrapped(end - start);
        let at = |angle: f64| arc.centre.x + arc.radius() * angle.cos();
        let wanted = start + turned * share;
        let reach = [at(wanted - slide), at(wanted + slide)];
        let (low, high) =
            (reach[0].min(reach[1]).max(from.min(to)), reach[0].max(reach[1]).min(from.max(to)));
        let word = self.control.resolution.as_mm();
        let middle = self.words_from_start(arc, at(wanted));
        let lift = |p: &Point| p.z - Piece::Arc(*arc).at(p.x);
        (-PLACES..=PLACES)
            .map(|i| middle + f64::from(i) * word)
            .filter(|x| low <= *x && *x <= high)
            .map(|x| self.point(arc, x))
            .min_by(|a, b| lift(a).total_cmp(&lift(b)))
            .unwrap_or_else(|| self.point(arc, middle))
    }

    /// The radius nearest to a wanted one that lies whole words from the arc's start.
    fn words_from_start(&self, arc: &Arc, x: f64) -> f64 {
        let word = self.control.resolution.as_mm();
        self.grid.nearest_x(arc.from.x + ((x - arc.from.x) / word).round() * word)
    }

    fn point(&self, arc: &Arc, x: f64) -> Point {
        let x = self.grid.nearest_x(x);
        Point::new(x, self.grid.z_not_below(Piece::Arc(*arc).at(x)))
    }
}

fn ends(arc: &Arc) -> [f64; 2] {
    [arc.from.x.min(arc.to.x), arc.from.x.max(arc.to.x)]
}

/// An angle between two directions less than half a turn apart.
fn wrapped(angle: f64) -> f64 {
    angle.sin().atan2(angle.cos())
}

/// An arc cut at points inside it.
fn cut(arc: &Arc, at: impl IntoIterator<Item = Point>) -> Vec<Arc> {
    let mut from = arc.from;
    let mut parts = Vec::new();
    let [low, high] = ends(arc);
    for to in at.into_iter().filter(|p| low < p.x && p.x < high).chain([arc.to]) {
        if to != from {
            parts.push(Arc { from, to, ..*arc });
        }
        from = to;
    }
    parts
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Turn;
    use crate::units::Angle;

    fn control(quadrants: Quadrants, longest: Option<f64>) -> Control {
        let mut control = crate::job::shop::test_control();
        control.traits.quadrants = quadrants;
        control.traits.longest_arc = longest.map(Angle::deg);
        control.arc_tolerance = Length::mm(0.002);
        control
    }

    fn limits(grid: Grid, control: &Control) -> Limits<'_> {
        Limits { grid, control, turn: turn(control).expect("a control that parts arcs") }
    }

    /// Over a ridge from 40 degrees on one side of its top to 60 on the other.
    fn ridge(control: &Control) -> (Arc, Grid) {
        let grid = control.grid(&crate::job::shop::test_tool());
        let centre = Point::new(100.0, 10.0);
        let on = |deg: f64| {
            let (sin, cos) = deg.to_radians().sin_cos();
            Point::new(grid.nearest_x(centre.x + 20.0 * sin), grid.z_not_below(centre.z + 20.0 * cos))
        };
        (Arc { from: on(-40.0), to: on(60.0), centre, turn: Turn::Clockwise }, grid)
    }

    #[test]
    fn an_arc_is_parted_at_the_top_of_its_circle_and_nowhere_else() {
        let control = control(Quadrants::Split, None);
        let (arc, grid) = ridge(&control);
        let parts = limits(grid, &control).parts(&arc);
        assert_eq!(parts.len(), 2);
        assert_eq!(parts[0].to, parts[1].from);
        assert!((parts[0].to.x - 100.0).abs() < 1e-9, "{:?}", parts[0].to);
        // Not below the circle, and no more than a step above it.
        assert!((0.0..0.001).contains(&(parts[0].to.z - arc.centre.z - arc.radius())), "{:?}", parts[0].to);
    }

    #[test]
    fn no_part_turns_further_than_the_longest_and_none_falls_below() {
        for longest in [5.0, 17.0, 45.0, 90.0, 180.0] {
            let control = control(Quadrants::Crossed, Some(longest));
            let (arc, grid) = ridge(&control);
            let parts = limits(grid, &control).parts(&arc);
            assert!(parts.iter().all(|a| ArcTurn::swept(a) <= longest.to_radians()), "{longest}: {parts:?}");
            assert!(parts.len() as f64 <= 100.0 / longest * 1.2 + 2.0, "{longest}: {}", parts.len());
            // The last ends where the arc does.
            for part in parts.iter().rev().skip(1) {
                let lift = part.to.distance(arc.centre) - arc.radius();
                assert!((-1e-6..0.0011).contains(&lift), "{longest}: {lift}");
            }
        }
    }
}
