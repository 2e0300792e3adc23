//! Passes, spindle, texture, timing, approach and retract: numbers, no G-code.
//!
//! [`plan`] turns a checked job and the face of a wheel into passes: how deep ([`passes`](crate::job::passes)), along which
//! paths ([`pass_paths`], [`surface`]), with what leads and hops ([`approach`]), at what spindle speeds, cost and
//! texture ([`spindle`], [`stepped`], [`texture`]), and in how many programs ([`parts`]). What is not safe as asked comes back as a [`PlanError`] with its numbers.

pub mod approach;
mod arc_limits;
pub mod contact;
pub mod corners;
mod error;
mod figures;
pub mod finished;
mod fitted;
mod motion_builder;
pub mod parts;
pub mod pass_paths;
mod passes;
mod rest;
mod run_off;
pub mod spindle;
pub mod stepped;
pub mod surface;
pub mod texture;
mod tool_context;
pub mod touch_cost;
pub mod touching;
mod trial;

pub use crate::face::touch_check::Choice;
pub use crate::job::{Only, PassKind};
pub use error::PlanError;
pub use figures::time_of;
pub use passes::{Options, plan};

use crate::diagnostics::Finding;
use crate::face::Face;
use crate::face::model::WheelModel;
use crate::face::touch_check;
use crate::geometry::Piece;
use crate::job::passes::Need;
use crate::job::{Job, Tool, TurnPlace};
use crate::units::{FeedPerRev, Length, SpindleSpeed, SurfaceSpeed, Time};
use rayon::prelude::*;
use touching::TouchGround;

/// A whole plan: what the tools do, in order.
///
/// Every coordinate is that of a tool's front point (x of the nose centre, z of the nose's lowest
/// point) in the frame of the measurement, and lies on the control's grid.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// One operation for each stretch of passes with the same tool; at least one. Each begins with an air pass, since
    /// a tool touched off anew is run dry anew.
    pub operations: Vec<Operation>,
    /// The spindle limit in force: the least of machine and wheel.
    pub spindle_limit: SpindleSpeed,
    /// What earlier programs had taken before it, below the surface that passes follow.
    pub already: Length,
    /// What clean-up needs below the surface that passes follow as measured, in all.
    pub needed: Length,
    /// All that the plan takes below the surface that passes follow: the most that comes off the highest place of the turn anywhere.
    pub removed: Length,
    /// What may still be taken after it.
    pub left: Length,
    /// What is left that no nose has reached.
    pub rest: Rest,
    /// What the last pass leaves to be seen.
    pub finished: finished::FinishedFace,
    /// How much deeper than clean-up needs the passes go; none before [`Plan::look_ahead`].
    pub spare: Option<Spare>,
    /// Which face is cut and what it costs, in words; none where nobody chose.
    pub which_face: Option<String>,
    /// Along which place of the turn the face is cut, for the program's head: one that goes on must be cut along the same.
    pub cut_along: Option<TurnPlace>,
    /// Things a person should know that do not stop the plan.
    pub findings: Vec<Finding>,
}

impl Plan {
    /// Adds what the model of the wheel tells beyond its face: where tools may be touched to see whether they were set right, and what
    /// the passes touch.
    pub fn look_ahead(&mut self, job: &Job, model: &WheelModel, face: &Face) {
        contact::add(self, job, model, face);
        self.spare = Some(Spare::of(face.need(&job.zones), self));
        let left = self.left;
        self.operations.par_iter_mut().for_each(|operation| {
            let Some(ground) = operation.ground.take() else { return };
            let ground = ground.surveyed(model);
            operation.check = touching::choose(job, &operation.tool, &ground, model);
            operation.check_leaves =
                operation.check.as_ref().and_then(|check| leaves_too_much(job, &ground, check, face, left));
            operation.ground = Some(ground);
        });
    }
}

/// What places of a check leave open whatever they read, where it is more than the shop's limit.
fn leaves_too_much(
    job: &Job,
    ground: &TouchGround,
    check: &Choice,
    face: &Face,
    left: Length,
) -> Option<Length> {
    let expected: Vec<f64> = check.points.iter().map(|p| p.z).collect();
    let foreseen = touch_check::solve(ground, &check.points, &expected, check.tells).ok()?;
    let judged = touch_cost::judge(job, &face.highest, &foreseen, left);
    judged.never_go(job).then_some(judged.open)
}

impl Plan {
    /// The share of the face that the first pass touches as planned, and with the tool standing higher than it shows by a length in
    /// millimetres; none where the turn is not known.
    #[must_use]
    pub fn contact_if(&self, higher: f64) -> Option<[f64; 2]> {
        let passes = || self.operations.iter().flat_map(|o| &o.passes);
        let first = passes().find_map(|p| p.contact.as_ref())?;
        Some([first.share, first.share_if(higher)])
    }
}

/// How much deeper than clean-up needs the passes go.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Spare {
    /// How much; below zero where damage stays.
    pub depth: Length,
    /// The radius that determines it.
    pub at: Length,
}

impl Spare {
    fn of(need: Need, plan: &Plan) -> Self {
        let last = plan.operations.last().and_then(|o| o.passes.last());
        let reached = last.map_or(Length::mm(0.0), |p| p.total);
        Self { depth: reached - need.depth, at: need.at }
    }
}

/// The most metal that the last pass leaves above what it aims at on the floors of the zones. Where a zone ends at metal that is left
/// alone, the fillet that the nose leaves against it is not counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// How much, along the axis.
    pub amount: Length,
    /// Where.
    pub at: Length,
}

/// Passes with one tool, from park to park.
#[derive(Debug, Clone, PartialEq)]
pub struct Operation {
    /// The tool.
    pub tool: Tool,
    /// How the tool is touched off before it.
    pub touch_off: TouchOff,
    /// What it is touched on then; none where that is not known.
    pub ground: Option<TouchGround>,
    /// Where it may be touched to see whether it was set right; none before [`Plan::look_ahead`], or where no place tells.
    pub check: Option<Choice>,
    /// What a touch at those places leaves open, where that is so much that no reading could let the tool go on.
    pub check_leaves: Option<Length>,
    /// Its passes, at least one.
    pub passes: Vec<Pass>,
}

/// Touching a tool on the highest place of the face.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchOff {
    /// Radius at which the tool's nose centre stands.
    pub at: Length,
    /// Height of the tool's front point when it touches there.
    pub z: Length,
    /// Radius at which the tool then meets the face.
    pub contact: Length,
    /// Thickness of the lacquer under it; zero where none stands, or none any more.
    pub lacquer: Length,
}

/// One pass over all zones, or over one ring of a trial.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// What it is for.
    pub kind: PassKind,
    /// Its number among the passes of its kind, from 1.
    pub number: u32,
    /// How many passes of its kind there are.
    pub of: u32,
    /// The ring of a trial that it cuts, by the name that the person gave it.
    pub ring: Option<String>,
    /// How much deeper it goes than the pass before it.
    pub depth: Length,
    /// How deep the face lies after it below the surface that passes follow, as measured.
    pub total: Length,
    /// Surface speed.
    pub surface_speed: SurfaceSpeed,
    /// Spindle limit.
    pub spindle_limit: SpindleSpeed,
    /// Feed of cuts, lead-ins and lead-outs.
    pub feed: FeedPerRev,
    /// What the tool does, each motion starting where the one before it ended; the first starts at the park, the last ends there.
    pub motions: Vec<Motion>,
    /// What the pass costs and leaves.
    pub figures: Figures,
    /// What it touches; none before [`Plan::look_ahead`], where it takes no metal, and where the turn is not known.
    pub contact: Option<contact::Contact>,
}

/// What a motion is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Rapid from the park or between zones to above the start, or away again.
    Rapid,
    /// At feed, down to the cut.
    LeadIn,
    /// Cutting.
    Cut,
    /// At feed, off the cut.
    LeadOut,
}

/// One motion; rapids are straight lines along one axis or both.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// What it is for.
    pub role: Role,
    /// Where it runs.
    pub piece: Piece,
    /// The fixed spindle speed at which it runs, where the control cannot hold a surface speed; none for rapids.
    pub speed: Option<SpindleSpeed>,
}

impl Motion {
    /// A motion at whatever spindle speed the pass holds.
    #[must_use]
    pub const fn new(role: Role, piece: Piece) -> Self {
        Self { role, piece, speed: None }
    }
}

/// What a pass costs and leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Time at feed.
    pub feed_time: Time,
    /// Time in rapids.
    pub rapid_time: Time,
    /// Length of the tool's path at feed.
    pub path_length: Length,
    /// Length of the spiral that the nose runs over the turning wheel at feed, leads among it.
    pub spiral_length: Length,
    /// Volume of the chips, cubic millimetres.
    pub chip_volume: f64,
    /// Slowest spindle speed.
    pub slowest: SpindleSpeed,
    /// Fastest spindle speed.
    pub fastest: SpindleSpeed,
    /// Rz of the ideal scallop.
    pub rz: Length,
    /// Ra of the ideal scallop.
    pub ra: Length,
}

impl Figures {
    /// Time at feed and in rapids.
    #[must_use]
    pub fn time(&self) -> Time {
        Time::s(self.feed_time.as_s() + self.rapid_time.as_s())
    }
}
