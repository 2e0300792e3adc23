//! A part of a divided program, held against what its head says.
//!
//! The next part was planned on what this one is to leave, so a part that takes less makes the next one take double. What stands is held at
//! every radius against what the blunter of the job's tools would leave at the depth that the head says: where a sum is right and one
//! place is not, nobody would see it. With a holder, which keeps a nose off where nobody but the plan knows, it takes most of the zones.
//! So is one of which whoever asks for the proof says how deep it goes. Any other must at least take something before another goes on.

use super::allowed_depth::AllowedDepth;
use super::cut::SLACK;
use super::findings::{mm, note, radius};
use super::job_checks::{self, PassesBefore, path_tolerance};
use super::metal::Metal;
use super::touch_said::TouchSaid;
use super::{reach, tool_shape};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::face::Face;
use crate::job::{Comments, Counted, Job, NextPasses, PassCount};
use crate::proof::{Circumstances, Movement};
use crate::units::Length;

/// What the head of a part of a divided program says.
#[derive(Debug, Clone, PartialEq, Default)]
pub(in crate::proof) struct HeadSays {
    /// What the parts before it made.
    pub(in crate::proof) before: PassesBefore,
    /// What its own passes take; none where it is no such part.
    pub(in crate::proof) takes: Option<PartTakes>,
    /// Where its tools are to be touched off.
    pub(in crate::proof) touches: Vec<TouchSaid>,
}

/// What the passes of a part take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::proof) struct PartTakes {
    /// All of them together, millimetres.
    pub(in crate::proof) depth: f64,
    /// The least of them, millimetres.
    pub(in crate::proof) least: f64,
    /// Whether the head says it; else whoever asks for the proof.
    pub(in crate::proof) by_head: bool,
}

impl PartTakes {
    /// What whoever asks says: where the next program begins, or that the next rough passes of a job are made; none where that says nothing.
    pub(super) fn asked(job: &Job, allowed: &AllowedDepth, ends_at: Option<Length>) -> Option<Self> {
        let schedule = &job.schedule;
        let next_rough = schedule.counted == Counted::FromHere(NextPasses::Rough);
        let ends = ends_at.map(Length::as_mm).or_else(|| next_rough.then_some(allowed.total))?;
        // Where their number is not set, the last passes are evened out: none has less than half of its depth.
        let rough = schedule.rough.as_ref().map(|r| match r.passes {
            PassCount::Count(_) => r.depth.as_mm(),
            PassCount::Auto => r.depth.as_mm() / 2.0,
        });
        let finish = schedule.finish.as_ref().map(|f| f.depth.as_mm()).filter(|_| !next_rough);
        let least = [rough, finish].into_iter().flatten().filter(|depth| *depth > 0.0).reduce(f64::min)?;
        let depth = ends - allowed.already;
        (depth > SLACK).then_some(Self { depth, least, by_head: false })
    }
}

/// What the programs before made. A control that reads no comments has no head that says it: the rest passes are those of which whoever asks knows, and
/// where nothing but the finish tool comes, there may have been as many finish passes as what is gone already comes to with all rough passes, where it
/// does so exactly.
pub(super) fn passes_before(
    job: &Job,
    movements: &[Movement],
    circumstances: &Circumstances,
    says: &HeadSays,
) -> PassesBefore {
    if job.control.traits.comments != Comments::None {
        return says.before;
    }
    let already = circumstances.already.as_mm();
    let rough = job.schedule.rough.as_ref();
    let tool = rough.and_then(|rough| job.tool(&rough.tool)).map(|tool| tool.number);
    let rough_comes = movements.iter().any(|m| m.tool == tool);
    let before = PassesBefore { rest: circumstances.rest_passes, ..says.before };
    if rough_comes {
        return before;
    }
    let of_rough = rough.map_or(Some(0.0), |r| match r.passes {
        PassCount::Count(n) => Some(f64::from(n) * r.depth.as_mm()),
        PassCount::Auto => None,
    });
    let by_finish = of_rough.zip(job.schedule.finish.as_ref()).and_then(|(of_rough, finish)| {
        let comes_to = |n: &u32| of_rough + f64::from(*n) * finish.depth.as_mm();
        (1..=finish.passes).find(|n| (comes_to(n) - already).abs() <= SLACK)
    });
    PassesBefore { finish: by_finish.unwrap_or(0), ..before }
}

/// A part after it was swept.
#[derive(Clone, Copy)]
pub(super) struct Part<'a> {
    pub job: &'a Job,
    pub metal: &'a Metal,
    pub allowed: &'a AllowedDepth,
    pub says: Option<PartTakes>,
    pub goes_on: bool,
}

impl Part<'_> {
    /// Judges it. The rings of a trial each have a depth of their own.
    pub fn judge(&self, face: &Face, movements: &[Movement], findings: &mut Vec<Finding>) {
        match self.says.filter(|_| self.job.rings.is_empty()) {
            Some(says) => self.judge_depth(says, face, movements, findings),
            None if self.takes_nothing(movements) => {
                let what = "nothing is cut, and another program goes on from here".to_owned();
                findings.push(note(SweepRule::PartTakesNothing, movements.last(), what));
            }
            None => {}
        }
    }

    /// Whether it moves and cuts nothing, though there is something left to take, and another program goes on.
    fn takes_nothing(&self, movements: &[Movement]) -> bool {
        let cuts = self.metal.by.iter().any(|by| *by < movements.len());
        self.goes_on && !movements.is_empty() && !cuts && !self.allowed.all_taken()
    }

    /// By half of its least pass no place may stand higher.
    fn judge_depth(&self, says: PartTakes, face: &Face, movements: &[Movement], findings: &mut Vec<Finding>) {
        let (job, metal) = (self.job, self.metal);
        let ends = self.allowed.already + says.depth;
        let most = says.least / 2.0 + path_tolerance(job);
        let left_by = |tool| reach::reachable(face, (tool, job), &|_| ends, metal);
        let higher = |a: Vec<f64>, b: Vec<f64>| a.iter().zip(&b).map(|(a, b)| a.max(*b)).collect();
        let Some(blunt) = job.tools.iter().map(left_by).reduce(higher) else { return };
        let climb = tool_shape::climb(job, ends);
        let left = job_checks::left(metal, job, &blunt, climb);
        let Some((i, amount)) = left.filter(|left| left.1 > most) else { return };
        // Where a holder may keep the nose off, a place alone shows nothing: then it takes most of the zones.
        if job.tools.iter().any(|tool| tool.holder.is_some()) {
            let zones = || (0..metal.len()).filter(|&i| metal.in_zone[i]);
            let over = |i: &usize| (metal.now[*i] - blunt[*i]) * metal.cosine[*i] > most;
            if 2 * zones().filter(over).count() < zones().count() {
                return;
            }
        }
        let what = format!(
            "{} that its passes take {}, and {} of that stays at {}",
            if self.says.is_some_and(|says| says.by_head) { "its head says" } else { "it is asked for" },
            mm(says.depth),
            mm(amount),
            radius(metal.radii[i])
        );
        let at = movements.get(metal.by[i]).or(movements.last());
        findings.push(note(SweepRule::PartTakesLess, at, what).measured(amount, Some(most), Unit::Mm));
    }
}
