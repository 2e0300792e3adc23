//! Obstacles that no part of the tool may approach: for rapids the metal, and always the keep-outs and the radii that were not measured.
//!
//! The tool is assumed to extend upward without end from its lower outline, so it enters a polygon exactly where
//! it is lower than one of the edges over the radii of that edge, whichever side of the edge the polygon is on. The greatest depth
//! has a closed form for lines and arcs. A rapid in both axes may leave the straight line, each axis at its own speed:
//! it is checked along the two lowest sides of the rectangle between its ends; no other path between them
//! can go lower. At feed the tool may be nearer than the clearance in the zones and beside them, not further away: there it was led astray. Outside the measured radii the wheel is assumed as high as at its ends; where the job says that the metal ends there, as high
//! as that less the nose that rolls over its edge, for motions at feed. What holds in a window between two zones stands in [`window`].

mod window;

use super::allowed_depth::AllowedDepth;
use super::cut::{OUTSIDE, SLACK};
use super::findings::{at_movement, mm, note, radius};
use super::metal::{Metal, RadiusRange};
use super::segment::Segment;
use super::tool_shape::ToolShape;
use super::tree::Tree;
use crate::diagnostics::{Finding, ProgramRule, SweepRule, Unit};
use crate::geometry::{Piece, Point};
use crate::job::{Job, Tool};
use crate::proof::{Movement, MovementKind};
use crate::units::name_as_written;
use geo::Line;
use std::ops::Range;
use window::Window;

/// Rapids may be nearer than the clearance by this much, millimetres: rounding of the words.
const CLEARANCE_SLACK: f64 = 0.01;

/// A lead takes the nose sideways by no more than this, millimetres, or than the clearance (common practice, no source).
const LEAD: f64 = 2.0;

/// A nose that has run off the metal stands clear of its edge by no more than this, millimetres (common practice, no source).
const PAST_EDGE: f64 = 1.0;

/// An obstacle: all that is below its edges.
#[derive(Debug, Clone, PartialEq)]
struct Obstacle {
    name: String,
    edges: Vec<Edge>,
    unmeasured: bool,
}

/// An edge from one radius to a greater one.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Edge {
    radii: [f64; 2],
    /// Its height at the first radius: for movements at feed, and for rapids.
    heights: [f64; 2],
    /// Its slope, outward.
    climb: f64,
}

/// The movements that are checked.
#[derive(Debug, Clone, Copy)]
enum Speed {
    Feed,
    Rapid,
}

impl Edge {
    /// An edge of an outline; none where it is vertical, since its ends also belong to other edges.
    fn of(edge: Line) -> Option<Self> {
        let (a, b) = if edge.start.x < edge.end.x { (edge.start, edge.end) } else { (edge.end, edge.start) };
        let climb = (b.y - a.y) / (b.x - a.x);
        climb.is_finite().then_some(Self { radii: [a.x, b.x], heights: [a.y; 2], climb })
    }

    /// Its highest place, for rapids.
    fn top(&self) -> f64 {
        let [from, to] = self.radii;
        let along = if self.climb == 0.0 { 0.0 } else { self.climb * (to - from) };
        self.height(Speed::Rapid) + along.max(0.0)
    }

    const fn height(&self, speed: Speed) -> f64 {
        let [feed, rapid] = self.heights;
        match speed {
            Speed::Feed => feed,
            Speed::Rapid => rapid,
        }
    }
}

/// A hub or a rim that nobody measured rises less than this above the measured face, millimetres. Common practice, no source.
const RISES: f64 = 15.0;

/// All obstacles.
#[derive(Debug, Clone)]
pub struct Hazards {
    obstacles: Vec<Obstacle>,
    /// The windows between zones.
    windows: Vec<Window>,
    clearance: f64,
    /// The radii within which the tool is fed: those of the zones, and what a lead at their ends takes.
    fed: [f64; 2],
    /// The radii over which somebody knows what stands: those measured, and what a nose and a lead take beside them.
    known: [f64; 2],
    /// The height at which a tool goes over anything: the park's, or so far above the face as no hub or rim rises.
    over_all: f64,
}

/// The tool in force, with its true outline and the one inflated by the clearance.
#[derive(Debug)]
pub struct SweptTool<'a> {
    /// The tool.
    pub tool: &'a Tool,
    /// The true outline.
    pub shape: ToolShape,
    /// The outline inflated by the clearance.
    pub inflated: ToolShape,
}

impl<'a> SweptTool<'a> {
    /// A tool, inflated by the machine's clearance.
    #[must_use]
    pub fn new(tool: &'a Tool, job: &Job) -> Self {
        let outline = tool.outline();
        let by = (job.machine.clearance.as_mm() - CLEARANCE_SLACK).max(0.0);
        Self { tool, shape: ToolShape::new(&outline), inflated: ToolShape::inflated(&outline, by) }
    }

    /// The shift from the programmed point to the front point.
    #[must_use]
    pub fn shift(&self) -> (f64, f64) {
        let (dx, dz) = self.tool.point_offset();
        (-dx, -dz)
    }
}

impl Hazards {
    /// The job's keep-outs and the radii that were not measured.
    #[must_use]
    pub fn new(job: &Job, metal: &Metal, allowed: &AllowedDepth) -> Self {
        let mut obstacles: Vec<Obstacle> = job
            .keep_out
            .iter()
            .map(|k| Obstacle {
                name: name_as_written(k.name()),
                edges: k.outline().exterior().lines().filter_map(Edge::of).collect(),
                unmeasured: false,
            })
            .collect();
        let widest = job.tools.iter().map(|t| t.nose_radius.as_mm()).fold(0.0, f64::max);
        let mut unmeasured = |from: f64, to: f64, end: usize, metal_ends: bool| {
            let Some(&height) = metal.face.get(end) else { return };
            // Where a zone ends at the last measured radius, its passes may leave the face there at their depth.
            let deep = if metal.in_zone.get(end) == Some(&true) { allowed.most } else { 0.0 };
            // Where a person says that the metal ends, the nose rolls over its edge, and stands by less than itself below it.
            let deep = if metal_ends { deep + widest } else { deep };
            let name = "the part of the wheel that was not measured".to_owned();
            let heights = [height - deep - OUTSIDE, height];
            let edge = Edge { radii: [from, to], heights, climb: 0.0 };
            obstacles.push(Obstacle { name, edges: vec![edge], unmeasured: true });
        };
        if let (Some(&start), Some(&end)) = (metal.radii.first(), metal.radii.last()) {
            unmeasured(f64::NEG_INFINITY, start, 0, job.runs_off.inner.is_some());
            unmeasured(end, f64::INFINITY, metal.len() - 1, job.runs_off.outer.is_some());
        }
        let windows = window::windows(job, metal, allowed);
        obstacles.extend(windows.iter().map(Window::obstacle));
        let clearance = job.machine.clearance.as_mm();
        // From the clearance down to the face the nose comes in beside the zone, and rolls over its edge.
        let lead = clearance.max(LEAD) + 2.0 * widest;
        let mut fed = job.zones.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[from, to], zone| {
            [from.min(zone.from.as_mm() - lead), to.max(zone.to.as_mm() + lead)]
        });
        let mut known = [f64::NEG_INFINITY, f64::INFINITY];
        if let (Some(&start), Some(&end)) = (metal.radii.first(), metal.radii.last()) {
            known = [start - lead - PAST_EDGE, end + lead + PAST_EDGE];
            // Beyond the last reading nobody knows what stands: the nose rolls over the end of what is known, and a lead takes it off.
            let off = widest + LEAD.min(clearance);
            fed = [fed[0].max(start - off), fed[1].min(end + off)];
            // Where a person says that the metal ends, it is known: the nose is clear of it before the way off begins.
            let [inner, outer] = job.runs_off.edges([start, end]);
            let past = widest + PAST_EDGE + lead;
            if job.runs_off.inner.is_some() {
                fed[0] = inner - past;
            }
            if job.runs_off.outer.is_some() {
                fed[1] = outer + past;
            }
        }
        let top = metal.face.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let over_all = job.machine.park_z.as_mm().min(top + RISES) - CLEARANCE_SLACK;
        Self { obstacles, windows, clearance, fed, known, over_all }
    }

    /// Judges a group of motions at feed against the obstacles.
    pub fn judge_feed(
        &self,
        swept: &SweptTool,
        range: Range<usize>,
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let all = segments(movements, range.clone(), swept.shift());
        for window in &self.windows {
            window.judge_feed(&all, movements, findings);
        }
        let astray: Vec<Segment> =
            range.flat_map(|i| beyond(self.fed, movements, i, swept.shift())).collect();
        for obstacle in &self.obstacles {
            if let Some((depth, movement)) = deepest(&all, &swept.shape, obstacle, Speed::Feed) {
                findings.push(entered(obstacle, depth, movements.get(movement)));
            } else if let Some((_, movement)) = deepest(&astray, &swept.inflated, obstacle, Speed::Rapid) {
                let what = format!(
                    "the tool is fed away from the zones, nearer than {} to {}",
                    mm(self.clearance),
                    obstacle.name
                );
                findings.push(note(SweepRule::FedAstray, movements.get(movement), what));
            }
        }
    }

    /// Rapids low over what was not measured, but for those straight up.
    fn judge_over_unmeasured(
        &self,
        swept: &SweptTool,
        range: Range<usize>,
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let low = |m: &Movement| m.piece.from().z.min(m.piece.to().z) < self.over_all;
        let there = |i: &usize| {
            let rapid = movements.get(*i).filter(|m| low(m) && !straight_up(m) && !m.radius_unknown);
            rapid.is_some() && !beyond(self.known, movements, *i, swept.shift()).is_empty()
        };
        // One finding tells of the way.
        let told = findings.iter().any(|f| f.rule == SweepRule::OverUnmeasured.into());
        if let Some(i) = range.clone().find(there).filter(|_| !told) {
            let [from, to] = self.known;
            let what = format!(
                "a rapid at {} goes over radii that nobody measured, inside {} or outside {}",
                movements.get(i).map_or_else(String::new, |m| mm(m.piece.from().z.min(m.piece.to().z))),
                mm(from),
                mm(to)
            );
            findings.push(note(SweepRule::OverUnmeasured, movements.get(i), what));
        }
    }

    /// Judges a group of rapids against the obstacles and the present metal, and removes what they hit.
    pub fn judge_rapids(
        &self,
        swept: &SweptTool,
        range: Range<usize>,
        metal: &mut Metal,
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let all = segments(movements, range.clone(), swept.shift());
        let (up, towards): (Vec<usize>, Vec<usize>) =
            range.clone().partition(|&i| movements.get(i).is_some_and(straight_up));
        let [up, towards] = [up, towards].map(|of| -> Vec<Segment> {
            of.into_iter().flat_map(|i| segments(movements, i..i + 1, swept.shift())).collect()
        });
        self.judge_blind(swept, range.clone(), metal, movements, findings);
        self.judge_over_unmeasured(swept, range, movements, findings);
        for obstacle in &self.obstacles {
            if let Some((depth, movement)) = deepest(&all, &swept.shape, obstacle, Speed::Rapid) {
                findings.push(entered(obstacle, depth, movements.get(movement)));
            } else if let Some((_, movement)) = deepest(&towards, &swept.inflated, obstacle, Speed::Rapid) {
                findings.push(note(
                    TOWARDS.rule,
                    movements.get(movement),
                    format!("{} nearer than {} to {}", TOWARDS.what, mm(self.clearance), obstacle.name),
                ));
            }
        }
        if !rapid_in_metal(swept, all, metal, movements, findings) {
            self.judge_near(&TOWARDS, swept, towards, metal, movements, findings);
            self.judge_near(&UP, swept, up, metal, movements, findings);
        }
    }

    /// Judges rapids down at a radius that nobody knows: the tool may stand over anything, so it must stay clear of the highest.
    fn judge_blind(
        &self,
        swept: &SweptTool,
        range: Range<usize>,
        metal: &Metal,
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let ends = |m: &Movement| m.piece.to().z + swept.shift().1;
        let down = |m: &&Movement| m.radius_unknown && m.piece.to().z < m.piece.from().z;
        let all = range.filter_map(|i| movements.get(i)).filter(down);
        let Some(lowest) = all.min_by(|a, b| ends(a).total_cmp(&ends(b))) else { return };
        let edges = self.obstacles.iter().flat_map(|o| &o.edges);
        let top = edges.map(Edge::top).chain(metal.now.iter().copied()).fold(f64::NEG_INFINITY, f64::max);
        if ends(lowest) < top + self.clearance - CLEARANCE_SLACK {
            let what = format!(
                "a rapid down to height {} at a radius that the program has not stated; wheel and keep-outs stand up to {}",
                mm(ends(lowest)),
                mm(top)
            );
            findings.push(at_movement(ProgramRule::PositionUnknown, Some(lowest), what));
        }
    }

    /// Judges rapids of one kind that are nearer to the metal than the clearance.
    fn judge_near(
        &self,
        nearness: &Nearness,
        swept: &SweptTool,
        segments: Vec<Segment>,
        metal: &Metal,
        movements: &[Movement],
        findings: &mut Vec<Finding>,
    ) {
        let Some((_, index, movement)) = deepest_in(metal, &swept.inflated, segments) else { return };
        let Nearness { rule, what } = nearness;
        let clearance = mm(self.clearance);
        let what = format!("{what} nearer than {clearance} to the face at {}", radius(metal.radii[index]));
        findings.push(note(*rule, movements.get(movement), what));
    }
}

/// Rule and text for rapids that are nearer than the clearance.
struct Nearness {
    rule: SweepRule,
    what: &'static str,
}

/// For any rapid that is not straight up.
const TOWARDS: Nearness = Nearness { rule: SweepRule::RapidNear, what: "a rapid comes" };

/// For a rapid straight up, which only moves away: not dangerous, but a correct program leaves the face at feed.
const UP: Nearness = Nearness { rule: SweepRule::RapidOffFace, what: "a rapid straight up begins" };

/// How deep a tool goes into the metal, with the index of the radius and of the movement.
fn deepest_in(metal: &Metal, shape: &ToolShape, segments: Vec<Segment>) -> Option<(f64, usize, usize)> {
    let left = metal.under(shape, &Tree::new(segments), RadiusRange::Metal);
    let all = left.each().map(|(i, p)| (metal.now[i] - p.z, i, p.movement));
    all.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|d| d.0 > SLACK)
}

/// Judges rapids against the metal itself; removes what they hit.
fn rapid_in_metal(
    swept: &SweptTool,
    all: Vec<Segment>,
    metal: &mut Metal,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) -> bool {
    let left = metal.under(&swept.shape, &Tree::new(all), RadiusRange::Metal);
    let deepest = left.each().map(|(i, p)| (metal.now[i] - p.z, i, *p)).max_by(|a, b| a.0.total_cmp(&b.0));
    let Some((depth, index, point)) = deepest.filter(|d| d.0 > SLACK) else { return false };
    let what = format!("a rapid goes {} into the metal at {}", mm(depth), radius(metal.radii[index]));
    findings.push(note(SweepRule::RapidInMetal, movements.get(point.movement), what).measured(
        depth,
        Some(0.0),
        Unit::Mm,
    ));
    metal.cut(&left);
    true
}

fn entered(obstacle: &Obstacle, depth: f64, at: Option<&Movement>) -> Finding {
    let rule = if obstacle.unmeasured { SweepRule::Unmeasured } else { SweepRule::KeepOut };
    let what = format!("the tool goes {} into {}", mm(depth), obstacle.name);
    note(rule, at, what).measured(depth, Some(0.0), Unit::Mm)
}

/// How deep the tool goes into an obstacle, and the first movement that goes deepest; none where it does not enter.
fn deepest(
    segments: &[Segment],
    shape: &ToolShape,
    obstacle: &Obstacle,
    speed: Speed,
) -> Option<(f64, usize)> {
    let mut worst: Option<(f64, usize)> = None;
    for segment in segments {
        for edge in &obstacle.edges {
            let depth = edge.height(speed) - segment.lowest_above(shape, edge.radii, edge.climb);
            if depth > worst.map_or(0.0, |w| w.0) {
                worst = Some((depth, segment.movement));
            }
        }
    }
    worst
}

fn straight_up(m: &Movement) -> bool {
    matches!(m.piece, Piece::Line(l) if l.from.x == l.to.x && l.to.z >= l.from.z)
}

/// The segments of movements' front points; rapids in both axes along their lowest path.
#[must_use]
pub fn segments(movements: &[Movement], range: Range<usize>, shift: (f64, f64)) -> Vec<Segment> {
    let mut segments = Vec::new();
    for i in range {
        let Some(m) = movements.get(i) else { continue };
        match (m.kind, m.piece) {
            (MovementKind::Rapid, Piece::Line(l)) if l.from.x != l.to.x && l.from.z != l.to.z => {
                let (a, b) = (l.from.shifted(shift.0, shift.1), l.to.shifted(shift.0, shift.1));
                let low = a.z.min(b.z);
                segments.push(Segment::line(a, Point::new(a.x, low), i));
                segments.push(Segment::line(Point::new(a.x, low), Point::new(b.x, low), i));
                segments.push(Segment::line(Point::new(b.x, low), b, i));
            }
            _ => Segment::push_piece(&m.piece, shift, i, &mut segments),
        }
    }
    segments
}

/// The parts of a movement that lie beyond some radii. Of an arc the whole, where both ends do: leads are short.
fn beyond([from, to]: [f64; 2], movements: &[Movement], index: usize, (dx, dz): (f64, f64)) -> Vec<Segment> {
    let Some(piece) = movements.get(index).map(|m| m.piece.shifted(dx, dz)) else { return Vec::new() };
    let (a, b) = (piece.from(), piece.to());
    let mut parts = Vec::new();
    match piece {
        Piece::Line(_) => {
            // Where the line meets a radius, from its start on.
            let cut = |x: f64| Point::new(x, a.z + (b.z - a.z) * ((x - a.x) / (b.x - a.x)));
            for (beyond, at) in [((a.x < from, b.x < from), from), ((a.x > to, b.x > to), to)] {
                match beyond {
                    (true, true) => parts.push(Segment::line(a, b, index)),
                    (true, false) => parts.push(Segment::line(a, cut(at), index)),
                    (false, true) => parts.push(Segment::line(cut(at), b, index)),
                    (false, false) => {}
                }
            }
        }
        Piece::Arc(_) => {
            let beyond = |p: Point| p.x < from || p.x > to;
            if beyond(a) && beyond(b) {
                Segment::push_piece(&piece, (0.0, 0.0), index, &mut parts);
            }
        }
    }
    parts
}
