//! What a pass takes, held against what it may take.
//!
//! Three limits hold at every radius, each with its own reason. In a zone the surface may lie below
//! the face by no more than the scheduled depths of the passes that came by (a right path follows the face lowered
//! by that much, and a tool's path never cuts below what it follows). One pass may take no more than its
//! own depth of what stood there. And no place of a pass may lie deeper than the pass itself goes: its own depth is read
//! off the path, as the median over twenty stretches of the deepest place in each, which one wrong block cannot move.
//! Outside the zones nothing may go.

use super::allowed_depth::AllowedDepth;
use super::metal::{HIDDEN, LowestPoints, Metal};
use super::notes::{mm, note, radius};
use super::segment::LowestPoint;
use super::tool_shape::{Part, ToolShape};
use crate::job::{Job, Step};
use crate::proof::{Finding, Movement, Rank, Spindle};

/// Metal below this is a touch, not a cut, millimetres: a tenth of what a hand-held gauge tells.
pub const CUT_LEAST: f64 = 0.002;

/// Deeper than what is right by more than this is a gouge, millimetres. A right path has no reason for any;
/// this leaves room for a control's 0.001 mm and for what the radii can hide.
pub const SLACK: f64 = 0.003 + HIDDEN;

/// Cutting this far outside the zones is a gouge, millimetres.
pub const OUTSIDE: f64 = 0.01;

/// A pass that cuts a ring narrower than this many nose radii is a lead-in that turned back: what its own depth is cannot be told from it.
const NARROW: f64 = 4.0;

/// Number of stretches a pass is looked at in to find its own depth.
const WINDOWS: usize = 20;

/// One stretch at feed with what it contact.
#[derive(Debug)]
pub struct Contact {
    /// Lowest places of the tool.
    pub left: LowestPoints,
    /// What stood there before, over the same radii.
    pub before: Vec<f64>,
    /// Deepest it went into what stood there; zero or less where it cut nothing.
    pub deepest: f64,
}

impl Contact {
    /// Runs a stretch over the metal, without cutting it.
    #[must_use]
    pub fn new(metal: &Metal, left: LowestPoints) -> Self {
        let before: Vec<f64> = left.each().map(|(i, _)| metal.now[i]).collect();
        let deepest = left.points.iter().zip(&before).map(|(p, b)| b - p.z).fold(f64::NEG_INFINITY, f64::max);
        Self { left, before, deepest }
    }

    /// Whether it took metal off.
    #[must_use]
    pub fn cuts(&self) -> bool {
        self.deepest > CUT_LEAST
    }

    /// The places where it took metal: index of the radius, place, depth taken.
    pub fn taken(&self) -> impl Iterator<Item = (usize, &LowestPoint, f64)> {
        self.left.each().zip(&self.before).map(|((i, p), b)| (i, p, b - p.z)).filter(|t| t.2 > CUT_LEAST)
    }
}

/// The worst place by some measure.
#[derive(Debug, Clone, Copy)]
struct WorstPlace {
    excess: f64,
    index: usize,
    point: LowestPoint,
    depth: f64,
    allowed: f64,
}

/// The worst of a stretch by each measure.
#[derive(Debug, Clone, Copy, Default)]
struct WorstPlaces {
    /// Metal outside the zones.
    outside: Option<WorstPlace>,
    /// Below what the schedule comes to.
    below: Option<WorstPlace>,
    /// More in one pass than a pass may take.
    deep: Option<WorstPlace>,
    /// By the straight edge.
    edge: Option<WorstPlace>,
    /// By the holder.
    holder: Option<WorstPlace>,
    /// While the spindle stands.
    standing: Option<WorstPlace>,
}

fn worse(worst: &mut Option<WorstPlace>, new: WorstPlace) {
    if new.excess > worst.map_or(0.0, |w| w.excess) {
        *worst = Some(new);
    }
}

/// What is the same for every stretch of one pass.
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
    /// Whether a different tool cut before: its rest may still stand.
    pub changed: bool,
}

/// Judges one stretch against the schedule, the zones and the tool's parts, before it cuts.
pub fn judge(
    limits: &PassLimits,
    metal: &Metal,
    contact: &Contact,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let PassLimits { job, allowed, .. } = *limits;
    let own = allowed.of_tool(limits.tool);
    let tolerance = job.schedule.tolerance.as_mm();
    let rest = if limits.changed { job.schedule.rest_limit.as_mm() } else { 0.0 };
    let mut found = WorstPlaces::default();
    let WorstPlaces { outside, below, deep, edge, holder, standing } = &mut found;
    for (index, point, taken) in contact.taken() {
        let at = |depth: f64, allowed: f64, slack: f64| WorstPlace {
            excess: depth - allowed - slack,
            index,
            point: *point,
            depth,
            allowed,
        };
        let depth = metal.depth_at(index, point.z);
        if metal.in_zone[index] {
            worse(below, at(depth, metal.allowed[index].min(allowed.most), SLACK));
            let along = match metal.step {
                Step::Axial => 1.0,
                Step::Normal => metal.cosine[index],
            };
            worse(deep, at(taken, own / along, tolerance / metal.cosine[index] + rest + SLACK));
        } else {
            worse(outside, at(depth, 0.0, OUTSIDE));
        }
        match limits.shape.part(point.w) {
            Part::Nose => {}
            Part::Edge => worse(edge, at(taken, 0.0, tolerance + SLACK)),
            Part::Holder => worse(holder, at(taken, 0.0, CUT_LEAST)),
        }
        if movements.get(point.movement).is_some_and(|m| m.spindle == Spindle::Off) {
            worse(standing, at(taken, 0.0, 0.0));
        }
    }
    say(limits, metal, &found, movements, findings);
}

/// Says what was found.
fn say(
    limits: &PassLimits,
    metal: &Metal,
    found: &WorstPlaces,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let WorstPlaces { outside, below, deep, edge, holder, standing } = *found;
    let mut say = |worst: Option<WorstPlace>,
                   rank,
                   kind,
                   what: &dyn Fn(&WorstPlace) -> String,
                   why: &str,
                   fix: &str| {
        if let Some(w) = worst {
            findings.push(note(rank, kind, movements.get(w.point.movement), what(&w), why, fix));
        }
    };
    let u = |w: &WorstPlace| radius(metal.radii[w.index]);
    say(
        outside,
        Rank::Stop,
        "gouge",
        &|w| format!("cuts {} below the face at {}, outside the zones", mm(w.depth), u(w)),
        "the face there is to stay as it is",
        "keep the path within the zones, or name the ring as a zone",
    );
    say(
        below,
        Rank::Stop,
        "pass-too-deep",
        &|w| {
            format!(
                "pass {} lies {} below the face at {}; the schedule allows {} there by now",
                limits.pass,
                mm(w.depth),
                u(w),
                mm(w.allowed)
            )
        },
        "metal that is gone cannot be put back, and a deep bite can throw the wheel",
        "mend the block's coordinates, or write the program anew",
    );
    say(
        deep,
        Rank::Stop,
        "pass-too-deep",
        &|w| {
            format!(
                "pass {} takes {} at {}; one pass of this tool may take {}",
                limits.pass,
                mm(w.depth),
                u(w),
                mm(w.allowed)
            )
        },
        "a deep bite can break the edge or throw the wheel",
        "look for a missing pass before this one, or a wrong coordinate in this block",
    );
    say(
        holder,
        Rank::Stop,
        "holder-touches",
        &|w| format!("the tool's holder stands {} in the metal at {}", mm(w.depth), u(w)),
        "the holder does not cut: it rubs, pushes and breaks",
        "choose a tool that reaches, or leave the place out of the zones",
    );
    say(
        edge,
        Rank::Warning,
        "edge-cuts",
        &|w| format!("the straight edge, not the nose, takes {} at {}", mm(w.depth), u(w)),
        "a long straight contact chatters and leaves a poor face",
        "choose a tool with a steeper edge, or lead in more gently",
    );
    say(
        standing,
        Rank::Stop,
        "cut-standing",
        &|w| format!("cuts {} at {} while the spindle stands", mm(w.depth), u(w)),
        "the tool drags over standing metal and breaks",
        "start the spindle before the cut",
    );
}

/// How deep one pass goes, as a whole and at its worst place.
#[derive(Debug, Clone, Copy)]
pub struct PassDepth {
    /// As a whole, millimetres below the face.
    pub depth: f64,
    worst: (usize, LowestPoint, f64),
    narrow: bool,
}

/// Finds the depth of a pass that cuts in the zones.
#[must_use]
pub fn own(shape: &ToolShape, metal: &Metal, contacts: &[Contact]) -> Option<PassDepth> {
    let depths: Vec<(usize, LowestPoint, f64)> = contacts
        .iter()
        .flat_map(|contact| {
            contact
                .taken()
                .filter(|(i, ..)| metal.in_zone[*i])
                .map(|(i, p, _)| (i, *p, metal.depth_at(i, p.z)))
        })
        .collect();
    let worst = *depths.iter().max_by(|a, b| a.2.total_cmp(&b.2))?;
    let at = |d: &(usize, LowestPoint, f64)| metal.radii[d.0];
    let (from, to) = depths.iter().map(at).fold((f64::INFINITY, 0.0_f64), |(a, b), u| (a.min(u), b.max(u)));
    let depth = own_depth(depths, metal)?;
    Some(PassDepth { depth, worst, narrow: to - from < NARROW * shape.nose_radius() })
}

/// Judges a whole pass against its own depth. A narrow one is held against the tool's next pass instead, where there
/// is one: what lies no deeper than that is taken with it.
pub fn judge_evenness(
    limits: &PassLimits,
    own: &PassDepth,
    next: Option<f64>,
    metal: &Metal,
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let slack = limits.job.schedule.tolerance.as_mm() + SLACK;
    let even = next.filter(|_| own.narrow).map_or(own.depth, |next| own.depth.max(next));
    let (index, point, deepest) = own.worst;
    if deepest > even + slack {
        findings.push(note(
            Rank::Stop,
            "gouge",
            movements.get(point.movement),
            format!(
                "cuts {} below the face at {}, where the rest of pass {} goes down to {}",
                mm(deepest),
                radius(metal.radii[index]),
                limits.pass,
                mm(own.depth)
            ),
            "it leaves a groove that later passes must chase, or that stays",
            "mend the block's coordinates, or write the program anew",
        ));
    }
}

/// The median of the deepest places in equal stretches of the radii cut.
fn own_depth(mut depths: Vec<(usize, LowestPoint, f64)>, metal: &Metal) -> Option<f64> {
    let each = depths.len().div_ceil(WINDOWS).max(1);
    depths.sort_by(|a, b| metal.radii[a.0].total_cmp(&metal.radii[b.0]));
    let mut deepest: Vec<f64> =
        depths.chunks(each).map(|part| part.iter().map(|d| d.2).fold(0.0, f64::max)).collect();
    deepest.sort_by(f64::total_cmp);
    deepest.get(deepest.len() / 2).copied()
}
