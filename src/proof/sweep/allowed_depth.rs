//! The depth that the job allows: that of each pass, by its tool, and that of all passes together.

use super::cut::SLACK;
use crate::face::Face;
use crate::job::{Job, TrialRing, passes};
use crate::units::Length;

/// Depths that the job allows, millimetres below the highest place of the face.
#[derive(Debug, Clone, PartialEq)]
pub struct AllowedDepth {
    rough: Option<(u32, f64)>,
    finish: Option<(u32, f64)>,
    /// Total depth of the schedule: of its counted passes, or of as many as the deepest damage needs.
    pub total: f64,
    /// The deepest that a program of this schedule can need to go.
    pub most: f64,
    /// What the wheel may still lose.
    pub allowance: f64,
    /// Depth removed from this face before the program begins.
    pub already: f64,
    /// Total depth of the schedule from the face as measured.
    from_measured: f64,
    /// Least and greatest radius of each ring of a trial, and its depth.
    rings: Vec<([f64; 2], f64)>,
}

impl AllowedDepth {
    /// The depths that the job's schedule gives for the face.
    #[must_use]
    pub fn new(job: &Job, face: &Face, already: f64) -> Self {
        let number = |name: &str| job.tool(name).map(|t| t.number);
        let rough = job.schedule.rough.as_ref();
        let finish = job.schedule.finish.as_ref();
        let need = face.need(&job.zones).depth;
        let asked = passes::depth_asked(&job.schedule, job.control.resolution, need, Length::mm(already));
        let gone = face.taken.as_ref().map_or(0.0, |t| t.most(&job.zones).0);
        let ring = |r: &TrialRing| ([r.zone.from.as_mm(), r.zone.to.as_mm()], r.finish.depth.as_mm());
        Self {
            rings: job.rings.iter().map(ring).collect(),
            rough: rough.and_then(|r| Some((number(&r.tool)?, r.depth.as_mm()))),
            finish: finish.and_then(|f| Some((number(&f.tool)?, f.depth.as_mm()))),
            // What is gone already is not of the program's doing.
            total: asked.total.as_mm().max(gone),
            most: asked.most.as_mm().max(gone),
            allowance: job.wheel.allowance.remaining().as_mm(),
            already,
            from_measured: passes::depth_asked(&job.schedule, job.control.resolution, need, Length::mm(0.0))
                .total
                .as_mm(),
        }
    }

    /// Whether the programs before this one have taken all that the schedule comes to, so that at most spring passes are left.
    #[must_use]
    pub fn all_taken(&self) -> bool {
        self.rings.is_empty() && self.already > 0.0 && self.already > self.from_measured - SLACK
    }

    /// Whether one tool takes rough and finish passes, so that its depth here does not tell them apart.
    #[must_use]
    pub fn has_one_tool(&self) -> bool {
        let tools = self.rough.zip(self.finish);
        self.rings.is_empty() && tools.is_some_and(|(rough, finish)| rough.0 == finish.0)
    }

    /// The scheduled depth of one finish pass; none where it takes nothing.
    #[must_use]
    pub fn of_finish(&self) -> Option<f64> {
        self.finish.map(|(_, depth)| depth).filter(|depth| *depth > 0.0)
    }

    /// The scheduled depth of one pass of a tool at a radius; in a trial, the depth of the ring there.
    #[must_use]
    pub fn of_tool_at(&self, tool: Option<u32>, radius: f64) -> f64 {
        let of_tool = self.of_tool(tool);
        if self.rings.is_empty() { of_tool } else { of_tool.min(self.ring_depth(radius)) }
    }

    /// Depth of the finished face at a radius if the deepest pass is at `lies`; in a trial, the depth of the ring there.
    #[must_use]
    pub fn finished_depth(&self, lies: f64, radius: f64) -> f64 {
        if self.rings.is_empty() { lies } else { self.ring_depth(radius) }
    }

    fn ring_depth(&self, radius: f64) -> f64 {
        let here = self.rings.iter().find(|([from, to], _)| *from <= radius && radius <= *to);
        here.map_or(0.0, |(_, depth)| *depth)
    }

    /// The scheduled depth of one pass of a tool; if one tool makes both kinds, the greater. Zero for a tool that the schedule does not name.
    #[must_use]
    pub fn of_tool(&self, tool: Option<u32>) -> f64 {
        [self.rough, self.finish]
            .into_iter()
            .flatten()
            .filter(|(number, _)| Some(*number) == tool)
            .map(|(_, depth)| depth)
            .fold(0.0, f64::max)
    }
}
