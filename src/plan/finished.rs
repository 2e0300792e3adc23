//! What the last pass will leave to be seen: waviness, joints, where it begins and ends, where its speed changes; and what to say of it.
//!
//! Waviness has two causes. The written path leaves the exact one by its tolerance: that part is reckoned from the path itself, as
//! the band of wavelengths of their difference ([`RINGS`]). And the face is known no better than its readings: what their noise leaves
//! in the same band is expected by [`Noise`]. The two do not know of each other, so they add as squares.
//!
//! Limits: the machine's own waviness (slides, spindle, chatter) is in neither.

use super::corners::Evidence;
use super::tool_context::Stroke;
use super::{Motion, Operation, Pass, Role, texture};
use crate::diagnostics::{Finding, Place, PlanRule, Unit};
use crate::fit::Corner;
use crate::geometry::joint::joints;
use crate::job::{Job, Tool};
use crate::numeric::waviness::{Noise, RINGS, STEPS_PER_SHORT};
use crate::units::{Angle, Length, SpindleSpeed, Time};

/// A joint this near to a corner of the path stands for it, millimetres: the fit may let a piece end a little beside.
const AT_A_CORNER: f64 = 0.1;

/// What the last pass leaves to be seen.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FinishedFace {
    /// Waviness.
    pub waviness: Waviness,
    /// Where two pieces of its path meet at the greatest angle away from the corners of the face; none where it is one piece.
    pub greatest_joint: Option<GreatestJoint>,
    /// The corners that the exact path has, and that the written one keeps, in rising order of radius.
    pub corners: Vec<PathCorner>,
    /// Between which radii it touches the face of each zone, in rising order.
    pub zones: Vec<[Length; 2]>,
    /// Its fixed spindle speeds, where the control holds no surface speed, in the order in which they come.
    pub speeds: Vec<SteppedSpeed>,
}

/// Waviness from peak to valley, in the band of wavelengths from 0.8 mm to 8 mm.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Waviness {
    /// What the written path adds to the exact one.
    pub path: Length,
    /// What the noise of the readings leaves in the face; none where that is not known.
    pub face: Option<Length>,
}

impl Waviness {
    /// Both together.
    #[must_use]
    pub fn expected(&self) -> Length {
        Length::mm(self.path.as_mm().hypot(self.face.unwrap_or_default().as_mm()))
    }
}

/// Where two pieces of a path meet at an angle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GreatestJoint {
    /// The angle.
    pub turn: Angle,
    /// Radius of the nose centre.
    pub at: Length,
}

/// A corner of the exact path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathCorner {
    /// How much the direction changes, above zero where the path turns upward.
    pub turn: Angle,
    /// Radius of the nose centre.
    pub at: Length,
    /// What shows it.
    pub evidence: Evidence,
}

/// A fixed spindle speed of a pass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SteppedSpeed {
    /// The speed.
    pub speed: SpindleSpeed,
    /// Radius of the nose centre where it begins.
    pub from: Length,
}

/// What the last pass of a plan leaves, run over these strokes.
pub(super) fn finished(pass: &Pass, strokes: &[Stroke], noise: Option<&Noise>) -> FinishedFace {
    let path = strokes.iter().map(path_waviness).fold(0.0, f64::max);
    let face = noise.map(|n| Length::mm(RINGS.expected(n)));
    let zones = strokes.iter().map(|s| [s.touches.from, s.touches.to].map(Length::mm)).collect();
    FinishedFace {
        waviness: Waviness { path: Length::mm(path), face },
        greatest_joint: greatest_joint(strokes),
        corners: corners(strokes),
        zones,
        speeds: speeds(&pass.motions),
    }
}

/// Waviness of what is written above the exact path, along the normal; where the nose climbs the metal that is left alone beside a zone
/// there is no face to wave.
fn path_waviness(stroke: &Stroke) -> f64 {
    let step = RINGS.short / STEPS_PER_SHORT;
    let (exact, written) = (&stroke.fitted.path, &stroke.fitted.fit);
    let (mut from, mut to) = (exact.start().max(written.start()), exact.end().min(written.end()));
    let middle = f64::midpoint(from, to);
    for (corner, _) in stroke.corners.iter().filter(|(_, evidence)| *evidence == Evidence::ZoneEnd) {
        if corner.x < middle {
            from = from.max(corner.x + AT_A_CORNER);
        } else {
            to = to.min(corner.x - AT_A_CORNER);
        }
    }
    let over: Vec<f64> = std::iter::successors(Some(from), |x| Some(x + step))
        .take_while(|x| *x <= to)
        .map(|x| (written.at(x) - exact.at(x)) / exact.slope_at(x).hypot(1.0))
        .collect();
    RINGS.peak_to_valley(&over, step)
}

fn greatest_joint(strokes: &[Stroke]) -> Option<GreatestJoint> {
    let joints = strokes.iter().flat_map(|s| {
        let cornered = |x: f64| s.corners.iter().any(|(c, _)| (c.x - x).abs() <= AT_A_CORNER);
        joints(s.fitted.fit.pieces()).into_iter().filter(move |j| !cornered(j.at.x))
    });
    let greatest = joints.max_by(|a, b| a.turn.abs().total_cmp(&b.turn.abs()))?;
    Some(GreatestJoint { turn: Angle::rad(greatest.turn.abs()), at: Length::mm(greatest.at.x) })
}

fn corners(strokes: &[Stroke]) -> Vec<PathCorner> {
    let corner = |(c, evidence): &(Corner, Evidence)| PathCorner {
        turn: Angle::rad(c.turn),
        at: Length::mm(c.x),
        evidence: *evidence,
    };
    strokes.iter().flat_map(|s| &s.corners).map(corner).collect()
}

/// The fixed speeds of cuts, each where it first differs from the one before.
fn speeds(motions: &[Motion]) -> Vec<SteppedSpeed> {
    let mut speeds: Vec<SteppedSpeed> = Vec::new();
    for motion in motions.iter().filter(|m| m.role == Role::Cut) {
        let Some(speed) = motion.speed else { continue };
        if speeds.last().is_none_or(|last| last.speed != speed) {
            speeds.push(SteppedSpeed { speed, from: Length::mm(motion.piece.from().x) });
        }
    }
    speeds
}

/// What a person should know of the face that the last pass leaves.
pub(super) fn findings(job: &Job, operations: &[Operation], face: &FinishedFace) -> Vec<Finding> {
    let passes = operations.iter().filter_map(|o| o.passes.last().map(|p| (&o.tool, p)));
    let mut findings: Vec<Finding> = passes.filter_map(|(tool, pass)| too_fine(tool, pass)).collect();
    findings.extend(job.schedule.waviness.and_then(|limit| too_wavy(limit, &face.waviness)));
    findings
}

/// A texture that the edge cannot leave, with the time that asking for it takes.
fn too_fine(tool: &Tool, pass: &Pass) -> Option<Finding> {
    let (asked, finest) = (pass.figures.rz, texture::finest_rz(tool.cutting_edge_radius));
    if asked >= finest {
        return None;
    }
    let time = pass.figures.feed_time.as_s();
    let feed = texture::feed_for_scallop(finest, tool.nose_radius);
    let enough = Time::s(time * pass.feed.as_mm_per_rev() / feed.as_mm_per_rev());
    let um = |length: Length| length.as_mm() * 1000.0;
    let what = format!(
        "a feed of {} is for Rz {:.2} um, but an edge rounded to {:.0} um leaves no less than Rz {:.2} um; at {:.3} mm/rev \
         the pass would leave the same in {:.1} min instead of {:.1} min",
        pass.feed,
        um(asked),
        um(tool.cutting_edge_radius),
        um(finest),
        feed.as_mm_per_rev(),
        enough.as_s() / 60.0,
        time / 60.0
    );
    let finding = Finding::new(PlanRule::TextureTooFine, Place::Whole, what);
    Some(finding.measured(asked.as_mm(), Some(finest.as_mm()), Unit::Mm))
}

/// Waviness beyond the schedule's limit, and what would lessen it: by what causes most of it.
fn too_wavy(limit: Length, waviness: &Waviness) -> Option<Finding> {
    let expected = waviness.expected();
    if expected <= limit {
        return None;
    }
    let um = |length: Length| format!("{:.1} um", length.as_mm() * 1000.0);
    let face = waviness.face.unwrap_or_default();
    let what = format!(
        "the face is expected to wave by {}, {} from the readings and {} from the path; the schedule allows {}",
        um(expected),
        waviness.face.map_or_else(|| "an unknown part".to_owned(), um),
        um(waviness.path),
        um(limit)
    );
    let remedy = if face > waviness.path {
        "measure more lines, trace more slowly, or widen the filter; or raise the limit"
    } else {
        "lessen the schedule's tolerance, leave small features out of the zones, or raise the limit"
    };
    let finding = Finding::new(PlanRule::Waviness, Place::Whole, what);
    Some(finding.measured(expected.as_mm(), Some(limit.as_mm()), Unit::Mm).to_do(remedy))
}
