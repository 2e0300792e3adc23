//! A part of a divided program, held against what its head says.
//!
//! The next part was planned on what this one is to leave, so a part that takes less makes the next one take double. What stands is held at
//! every radius against what the blunter of the job's tools would leave at the depth that the head says: where a sum is right and one
//! place is not, nobody would see it. A program without such a head must at least take something before another goes on.

use super::allowed_depth::AllowedDepth;
use super::findings::{mm, note, radius};
use super::job_checks::{self, PassesBefore, path_tolerance};
use super::metal::Metal;
use super::touch_said::TouchSaid;
use super::{reach, tool_shape};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::face::Face;
use crate::job::Job;
use crate::proof::Movement;

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
        let what = format!(
            "its head says that its passes take {}, and {} of that stays at {}",
            mm(says.depth),
            mm(amount),
            radius(metal.radii[i])
        );
        let at = movements.get(metal.by[i]).or(movements.last());
        findings.push(note(SweepRule::PartTakesLess, at, what).measured(amount, Some(most), Unit::Mm));
    }
}
