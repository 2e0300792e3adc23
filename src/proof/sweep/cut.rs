//! Compares the depth of a pass with what it may take.
//!
//! Three limits apply at every radius of a zone. First, the surface may lie below the measured face by no more than the sum of the
//! scheduled depths of the passes so far: a correct path follows the face lowered by that sum, and no tool cuts below
//! the face that its path follows. Second, one pass may take no more than its own scheduled depth. Third, no point of a pass may be
//! deeper than the pass as a whole. That depth is measured on the motions: the radii cut are divided into twenty parts,
//! and it is the median of the deepest point in each, which one wrong block cannot move. Outside the zones nothing may be cut.
//!
//! So what counts as a pass at a radius ([`Metal::count_pass`]) lets nothing be cut deeper than the passes as a whole, which the first limit
//! holds wherever they run: it only says where a sound pass may be as deep as it is elsewhere, and one pass still takes its own depth at most.

use super::allowed_depth::AllowedDepth;
use super::findings::{mm, note, radius};
use super::job_checks::near_any_end;
use super::metal::{LowestPoints, MOST_HIDDEN, Metal};
use super::segment::LowestPoint;
use super::tool_shape::{Part, ToolShape};
use super::{reach, split};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::job::Job;
use crate::proof::{Movement, Spindle};

/// Removing less than this counts as touching, not cutting, millimetres: a tenth of what a hand-held gauge can show.
pub const LEAST_CUT: f64 = 0.002;

/// Deeper than allowed by more than this is a gouge, millimetres. A correct path is not deeper at all;
/// this allows for a control's steps of 0.001 mm and for what can be missed between the radii.
pub const SLACK: f64 = 0.003 + MOST_HIDDEN;

/// A tool that turns back within a pass may take so much more than one pass before it is a bite of its own, millimetres: half of a thin finish cut.
const AGAIN: f64 = 0.02;

/// A finish may take this share more than the schedule gives it, beside what paths may lie apart.
const MORE: f64 = 0.5;

/// Cutting this far outside the zones is a gouge, millimetres.
pub const OUTSIDE: f64 = 0.01;

/// A pass that cuts a ring narrower than this many nose radii is a lead-in that turned back: it does not show the depth of the pass.
const NARROW: f64 = 4.0;

/// Number of parts that the radii of a pass are divided into to find its depth.
const DEPTH_PARTS: usize = 20;

/// A group of motions at feed and the metal it meets.
#[derive(Debug)]
pub struct Contact {
    /// Lowest points of the tool.
    pub lowest: LowestPoints,
    /// Height of the metal before, over the same radii.
    pub before: Vec<f64>,
    /// Greatest depth below the metal before; zero or less where it cut nothing.
    pub deepest: f64,
}

impl Contact {
    /// Compares the lowest points of a group with the metal, without removing it.
    #[must_use]
    pub fn new(metal: &Metal, lowest: LowestPoints) -> Self {
        let before: Vec<f64> = lowest.each().map(|(i, _)| metal.now[i]).collect();
        let deepest =
            lowest.points.iter().zip(&before).map(|(p, b)| b - p.z).fold(f64::NEG_INFINITY, f64::max);
        Self { lowest, before, deepest }
    }

    /// Whether it removes metal.
    #[must_use]
    pub fn cuts(&self) -> bool {
        self.deepest > LEAST_CUT
    }

    /// The points where it removes metal: index of the radius, point, depth taken.
    pub fn taken(&self) -> impl Iterator<Item = (usize, &LowestPoint, f64)> {
        self.lowest.each().zip(&self.before).map(|((i, p), b)| (i, p, b - p.z)).filter(|t| t.2 > LEAST_CUT)
    }
}

/// The worst point by some measure.
#[derive(Debug, Clone, Copy)]
pub struct WorstPoint {
    excess: f64,
    index: usize,
    point: LowestPoint,
    depth: f64,
    allowed: f64,
}

/// The worst points of a group, by each measure.
#[derive(Debug, Clone, Copy, Default)]
struct WorstPoints {
    /// Metal outside the zones.
    outside: Option<WorstPoint>,
    /// Below the sum of the scheduled depths.
    below: Option<WorstPoint>,
    /// More in one pass than a pass may take.
    deep: Option<WorstPoint>,
    /// By the straight edge.
    edge: Option<WorstPoint>,
    /// By the holder.
    holder: Option<WorstPoint>,
    /// While the spindle is off.
    standing: Option<WorstPoint>,
}

fn worse(worst: &mut Option<WorstPoint>, new: WorstPoint) {
    if new.excess > worst.map_or(0.0, |w| w.excess) {
        *worst = Some(new);
    }
}

/// What is the same for all groups of one pass.
#[derive(Debug, Clone, Copy)]
pub struct PassLimits<'a> {
    /// The job.
    pub job: &'a Job,
    /// What it allows.
    pub allowed: &'a AllowedDepth,
    /// The tool's outline.
    pub shape: &'a ToolShape,
    /// The tool's number.
    pub tool: Option<u32>,
    /// Number of the pass, from 1.
    pub pass: usize,
    /// Whether a different tool cut before: its rest may remain.
    pub changed: bool,
}

impl PassLimits<'_> {
    /// What one pass of the tool may take over a radius, and how much more a sound one may, millimetres.
    ///
    /// A path may lie above the exact one by the tolerance along the normal: along the axis by more, where the face or the fillet
    /// that the nose leaves is steep.
    fn bite(&self, metal: &Metal, index: usize, point: &LowestPoint) -> (f64, f64) {
        let own = self.allowed.of_tool_at(self.tool, metal.radii[index]);
        let cosine = metal.cosine[index].min(self.shape.cosine(point.w));
        let rest = if self.changed { self.job.schedule.rest_limit.as_mm() } else { 0.0 };
        (own, self.job.schedule.tolerance.as_mm() / cosine + rest + SLACK)
    }
}

/// What a point takes below a surface, of which the heights are given. On a slope a pass along the normal takes more along the axis; the
/// nearest way is looked for only where that is more than may be taken.
fn taken_below(metal: &Metal, heights: &[f64], (index, z): (usize, f64), most: f64) -> f64 {
    let down = heights[index] - z;
    if down > most { metal.depth_below(heights, index, z) } else { down }
}

/// Judges one group against the schedule, the zones and the tool's parts, before it cuts.
pub fn judge(
    limits: &PassLimits,
    metal: &Metal,
    contact: &Contact,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let PassLimits { job, allowed, .. } = *limits;
    let tolerance = job.schedule.tolerance.as_mm();
    let (inner, outer) = limits.shape.reach_below(allowed.most);
    let climbs = inner.max(outer);
    let mut found = WorstPoints::default();
    let WorstPoints { outside, below, deep, edge, holder, standing } = &mut found;
    for (index, point, taken) in contact.taken() {
        let at = |depth: f64, allowed: f64, slack: f64| WorstPoint {
            excess: depth - allowed - slack,
            index,
            point: *point,
            depth,
            allowed,
        };
        let depth = metal.depth_at(index, point.z);
        if metal.in_zone[index] {
            worse(below, at(depth, metal.allowed[index].min(allowed.most), SLACK));
            let (own, slack) = limits.bite(metal, index, point);
            worse(deep, at(taken_below(metal, &metal.now, (index, point.z), own + slack), own, slack));
        } else {
            worse(outside, at(depth, 0.0, OUTSIDE));
        }
        match limits.shape.part(point.w) {
            Part::Nose => {}
            // Where a nose climbs out of a zone, the wall that stays is the edge's.
            Part::Edge if near_any_end(job, metal.radii[index], climbs) => {}
            Part::Edge => worse(edge, at(taken, 0.0, tolerance + SLACK)),
            Part::Holder => worse(holder, at(taken, 0.0, LEAST_CUT)),
        }
        if movements.get(point.movement).is_some_and(|m| m.spindle == Spindle::Off) {
            worse(standing, at(taken, 0.0, 0.0));
        }
    }
    say(limits, metal, &found, movements, findings);
}

/// The worst place at which more goes since the tool was last at rapid than one pass may take, where an earlier group of the same bite took part of it.
#[must_use]
pub fn bite_since(
    limits: &PassLimits,
    metal: &Metal,
    contact: &Contact,
    at_rapid: &[f64],
) -> Option<WorstPoint> {
    let mut worst = None;
    for ((index, point), before) in contact.lowest.each().zip(&contact.before) {
        let again = at_rapid.get(index).is_some_and(|since| *since > before + LEAST_CUT);
        if !(again && metal.in_zone[index] && before - point.z > LEAST_CUT) {
            continue;
        }
        let (own, slack) = limits.bite(metal, index, point);
        let most = own + slack + AGAIN;
        let taken = taken_below(metal, at_rapid, (index, point.z), most);
        if taken > most {
            let excess = taken - most;
            worse(&mut worst, WorstPoint { excess, index, point: *point, depth: taken, allowed: own });
        }
    }
    worst
}

/// The finding of such a bite.
#[must_use]
pub fn say_bite(limits: &PassLimits, metal: &Metal, worst: &WorstPoint, movements: &[Movement]) -> Finding {
    let what = format!(
        "pass {} turns back and takes {} at {} without a way up; one pass of this tool may take {}",
        limits.pass,
        mm(worst.depth),
        radius(metal.radii[worst.index]),
        mm(worst.allowed)
    );
    note(SweepRule::PassBite, movements.get(worst.point.movement), what).measured(
        worst.depth,
        Some(worst.allowed),
        Unit::Mm,
    )
}

/// Adds the findings.
fn say(
    limits: &PassLimits,
    metal: &Metal,
    found: &WorstPoints,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let WorstPoints { outside, below, deep, edge, holder, standing } = *found;
    let mut say = |rule: SweepRule, worst: Option<WorstPoint>, what: &dyn Fn(&WorstPoint) -> String| {
        if let Some(w) = worst {
            let finding = note(rule, movements.get(w.point.movement), what(&w));
            findings.push(finding.measured(w.depth, Some(w.allowed), Unit::Mm));
        }
    };
    let u = |w: &WorstPoint| radius(metal.radii[w.index]);
    say(SweepRule::GougeOutside, outside, &|w| {
        format!("cuts {} below the face at {}, outside the zones", mm(w.depth), u(w))
    });
    say(SweepRule::PassTooLow, below, &|w| {
        format!(
            "pass {} lies {} below the face at {}; the schedule allows {} there by now",
            limits.pass,
            mm(w.depth),
            u(w),
            mm(w.allowed)
        )
    });
    say(SweepRule::PassBite, deep, &|w| {
        format!(
            "pass {} takes {} at {}; one pass of this tool may take {}",
            limits.pass,
            mm(w.depth),
            u(w),
            mm(w.allowed)
        )
    });
    say(SweepRule::HolderTouches, holder, &|w| {
        format!("the tool's holder stands {} in the metal at {}", mm(w.depth), u(w))
    });
    say(SweepRule::EdgeCuts, edge, &|w| {
        format!("the straight edge, not the nose, takes {} at {}", mm(w.depth), u(w))
    });
    say(SweepRule::CutStanding, standing, &|w| {
        format!("cuts {} at {} while the spindle stands", mm(w.depth), u(w))
    });
}

/// How deep one pass goes, as a whole and at its worst point.
#[derive(Debug, Clone, Copy)]
pub struct PassDepth {
    /// As a whole, millimetres below the face.
    pub depth: f64,
    /// The deepest point of those where it takes more than paths of one depth differ by.
    worst: Option<(usize, LowestPoint, f64)>,
    narrow: bool,
}

impl PassDepth {
    /// Whether it takes more somewhere than paths of one depth differ by.
    #[must_use]
    pub const fn takes(&self) -> bool {
        self.worst.is_some()
    }
}

/// Finds the depth of a pass that cuts in the zones, along a path of this tolerance.
#[must_use]
pub fn pass_depth(
    shape: &ToolShape,
    metal: &Metal,
    contacts: &[Contact],
    tolerance: f64,
) -> Option<PassDepth> {
    let cuts = || contacts.iter().flat_map(Contact::taken).filter(|(i, ..)| metal.in_zone[*i]);
    let deep = |(i, p, _): (usize, &LowestPoint, f64)| (i, *p, metal.depth_at(i, p.z));
    let depths: Vec<(usize, LowestPoint, f64)> = cuts().map(deep).collect();
    // A spring pass takes a little here and there, in the fillets at a zone's ends above all, which shows no depth of its own; how deep the metal
    // lies there was judged with the pass that cut it.
    let more = |(i, p, taken): &(usize, &LowestPoint, f64)| {
        *taken > tolerance / metal.cosine[*i].min(shape.cosine(p.w)) + SLACK
    };
    let worst = cuts().filter(more).map(deep).max_by(|a, b| a.2.total_cmp(&b.2));
    let at = |d: &(usize, LowestPoint, f64)| metal.radii[d.0];
    let (from, to) = depths.iter().map(at).fold((f64::INFINITY, 0.0_f64), |(a, b), u| (a.min(u), b.max(u)));
    let depth = own_depth(depths, metal)?;
    Some(PassDepth { depth, worst, narrow: to - from < NARROW * shape.nose_radius() })
}

/// Compares a pass with its own depth. A narrow one is compared with the tool's next pass instead, where there
/// is one: what is no deeper than that is removed with it.
///
/// In a zone only some noses wide most of what a pass leaves are the fillets against its ends, and the median is one of them; beside a wide holder more
/// still stands. So a pass that seems uneven is looked at again: how far above its deepest point would the metal stand everywhere that one pass of its tool
/// leaves, if it took as much as there wherever it can? `met` are the heights that it met. A pass that is shallower as a whole stays so, by half of the
/// difference at least.
pub fn judge_evenness(
    limits: &PassLimits,
    (own, next): (&PassDepth, Option<f64>),
    (metal, met): (&Metal, &dyn Fn() -> Vec<f64>),
    contacts: &[Contact],
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let slack = limits.job.schedule.tolerance.as_mm() + SLACK;
    let even = next.filter(|_| own.narrow).map_or(own.depth, |next| own.depth.max(next));
    let Some((index, point, deepest)) = own.worst else { return };
    if deepest <= even + slack {
        return;
    }
    let even = split::tool_of(limits.job, limits.tool).map_or(even, |tool| {
        let met = met();
        let taken = metal.depth_below(&met, index, point.z);
        let left = reach::left_by_one_pass(&met, tool, limits.job, taken, metal);
        let cuts = contacts.iter().flat_map(Contact::taken).filter(|(i, ..)| metal.in_zone[*i]);
        // How deep a pass lies that leaves so much above itself.
        let as_deep = cuts.map(|(i, p, _)| {
            let stands = deepest - metal.depth_at(i, left[i].min(met[i]));
            (i, *p, metal.depth_at(i, p.z) + stands.max(0.0))
        });
        own_depth(as_deep.collect(), metal).map_or(even, |depth| even.max(depth))
    });
    if deepest > even + slack {
        let what = format!(
            "cuts {} below the face at {}, where the rest of pass {} goes down to {}",
            mm(deepest),
            radius(metal.radii[index]),
            limits.pass,
            mm(own.depth)
        );
        findings.push(note(SweepRule::GougeGroove, movements.get(point.movement), what).measured(
            deepest,
            Some(own.depth),
            Unit::Mm,
        ));
    }
}

/// A finish that takes more somewhere than the schedule gives it, where one tool makes both kinds of passes: the sweep holds that tool to the deeper of the
/// two, and where a rough or a finish pass was lost, were it over one zone of several, the next finish takes its metal. `stood` is what the passes before it
/// left over all radii.
pub fn judge_finish(
    limits: &PassLimits,
    (metal, stood): (&Metal, &[f64]),
    contacts: &[Contact],
    movements: &[Movement],
) -> Option<Finding> {
    let own = limits.allowed.of_finish()?;
    let mut worst = None;
    for (index, point, _) in contacts.iter().flat_map(Contact::taken).filter(|(i, ..)| metal.in_zone[*i]) {
        // The path of the pass before may lie as far from the exact one as its own.
        let most = own * (1.0 + MORE) + 2.0 * limits.bite(metal, index, point).1;
        let depth = taken_below(metal, stood, (index, point.z), most);
        worse(&mut worst, WorstPoint { excess: depth - most, index, point: *point, depth, allowed: own });
    }
    let w = worst?;
    let what = format!(
        "the finish takes {} at {}; the schedule gives it {}",
        mm(w.depth),
        radius(metal.radii[w.index]),
        mm(own)
    );
    let finding = note(SweepRule::FinishTakesMore, movements.get(w.point.movement), what);
    Some(finding.measured(w.depth, Some(own), Unit::Mm))
}

/// The median of the deepest points in equal parts of the radii cut.
fn own_depth(mut depths: Vec<(usize, LowestPoint, f64)>, metal: &Metal) -> Option<f64> {
    let each = depths.len().div_ceil(DEPTH_PARTS).max(1);
    depths.sort_by(|a, b| metal.radii[a.0].total_cmp(&metal.radii[b.0]));
    let mut deepest: Vec<f64> =
        depths.chunks(each).map(|part| part.iter().map(|d| d.2).fold(0.0, f64::max)).collect();
    deepest.sort_by(f64::total_cmp);
    deepest.get(deepest.len() / 2).copied()
}
