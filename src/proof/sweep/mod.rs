//! The sweep: what the tool does to the metal, motion by motion.
//!
//! The metal is a height over the radius ([`metal`]). The motions are split into groups that cross the face one way
//! ([`split`]). For each group, the lowest point that the tool's outline reaches over every radius is found from closed
//! forms for lines and arcs ([`segment`]), many at a time in a tree of boxes ([`tree`]). The group is then judged, and the
//! metal is lowered to the surface that it leaves. Checked are the depth ([`cut`]), the air pass ([`air`]), rapids, keep-outs and
//! radii that were not measured ([`hazard`]), speeds and feeds ([`rate`]), and at the end whether the finished face is what the
//! job asks for ([`job_checks`]). The time is near-linear in motions and radii.
//! What each pass is for, and the stops between them, is judged in [`order`], a part of a divided program in [`part`].
//!
//! Limits: only the measured face is known, nothing else of wheel, jaws and machine. The tool is rigid and has the
//! outline of the job. Between neighbouring radii at most [`metal::MOST_HIDDEN`] of metal can be missed.

mod air;
mod allowed_depth;
mod cut;
mod findings;
mod finish;
mod hazard;
mod job_checks;
mod metal;
mod order;
mod part;
mod rate;
mod reach;
mod segment;
mod split;
mod swept_pass;
mod thinned;
mod tool_shape;
mod touch_said;
mod tree;

pub use air::AirGap;
pub use finish::{FinishedSurface, MotionJoint};
pub(super) use job_checks::PassesBefore;
pub use job_checks::RemainingMetal;
pub(super) use part::{HeadSays, PartTakes};
pub use rate::{Interval, Rates, spindle_at};
pub use swept_pass::{Deepest, DepthAt, PassKind, SweptPass};
pub(super) use touch_said::TouchSaid;

use super::{Circumstances, Movement, MovementKind};
use crate::diagnostics::{Finding, SweepRule};
use crate::face::Face;
use crate::job::{Coolant, Job};
use air::FeedGroup;
use allowed_depth::AllowedDepth;
use cut::{Contact, PassDepth, PassLimits};
use findings::{note, once_for_each_tool};
use hazard::{Hazards, SweptTool, segments};
use metal::{Metal, RadiusRange};
use serde::Serialize;
use split::MovementGroup;
use std::collections::BTreeMap;
use thinned::thinned;
use tool_shape::ToolShape;
use touch_said::Grounds;
use tree::Tree;

/// A pass counts at a radius where its nose stood no further above the metal than it must and this (or the rest limit, if that is
/// greater), millimetres.
const PASS_NEAR: f64 = 0.5;

/// Radii that all crossings of the face may have together: a hundred passes over the finest face have a tenth of it. Each takes some
/// fifty bytes until the end, so that this bounds memory and time of any program.
const MOST_CROSSED: usize = 16_000_000;

/// What a whole program does to the metal.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sweep {
    /// Its passes at feed, in order.
    pub passes: Vec<SweptPass>,
    /// Depth of the finished face below the face as measured, over the radius.
    pub total: Vec<DepthAt>,
    /// The deepest of all.
    pub deepest: Option<Deepest>,
    /// The first movement that meets metal.
    pub first_contact: Option<Deepest>,
    /// The air pass nearest to the metal.
    pub air_pass: Option<AirGap>,
    /// The most damage that remains in the zones.
    pub damage_left: Option<RemainingMetal>,
    /// The most metal in the zones that the tools do not reach.
    pub rest: Option<RemainingMetal>,
    /// The finish that the last pass leaves.
    pub finished: Option<FinishedSurface>,
    /// Depth that the job allows in all, millimetres.
    pub allowed: f64,
    /// The greatest depth that can be missed between the radii checked, millimetres along the normal.
    pub hidden: f64,
    /// Number of radii checked.
    pub radii: usize,
    /// The findings.
    pub findings: Vec<Finding>,
}

/// Sweeps a program over the face as measured.
#[must_use]
pub fn sweep(movements: &[Movement], job: &Job, face: &Face) -> Sweep {
    sweep_after(movements, job, face, &Circumstances::default())
}

/// Sweeps a program that follows others, which have removed metal from the measured face, or that others follow.
#[must_use]
pub fn sweep_after(movements: &[Movement], job: &Job, face: &Face, circumstances: &Circumstances) -> Sweep {
    sweep_part(movements, job, face, (circumstances, HeadSays::default()))
}

/// Sweeps a part of a divided program.
pub(super) fn sweep_part(
    movements: &[Movement],
    job: &Job,
    face: &Face,
    (circumstances, says): (&Circumstances, HeadSays),
) -> Sweep {
    let already = circumstances.already.as_mm();
    let mut metal = Metal::new(face, job, already);
    let before = part::passes_before(job, movements, circumstances, &says);
    reach::stand_as_left(&mut metal, job, face, (already, before));
    let found = metal.now.clone();
    let allowed = AllowedDepth::new(job, face, already);
    let asked = PartTakes::asked(job, &allowed, circumstances.ends_at);
    let says = HeadSays { takes: says.takes.or(asked), ..says };
    let mut work = Sweeper {
        job,
        face,
        movements,
        hazards: Hazards::new(job, &metal, &allowed),
        allowed: &allowed,
        findings: Vec::new(),
        passes: Vec::new(),
        last_tool: None,
        held_up: BTreeMap::new(),
        at_rapid: metal.now.clone(),
        goes_on: circumstances.goes_on,
        says,
        grounds: Grounds::default(),
        measured_since: face.taken.is_some(),
        crossed: 0,
    };
    rate::judge_spindle(job, movements, &mut work.findings);
    if let Some(broken) = movements.iter().find(|m| !split::finite(&m.piece)) {
        work.findings.push(note(
            SweepRule::NotANumber,
            Some(broken),
            "a coordinate is no finite number".to_owned(),
        ));
    } else if let Some(groups) = split::split(movements) {
        for group in groups {
            if work.crossed > MOST_CROSSED {
                work.too_long(movements.get(group.movements.start));
                break;
            }
            work.group(&group, &mut metal);
        }
    } else {
        work.too_long(None);
    }
    let mut sweep = work.finish(&metal, &found);
    sweep.findings = once_for_each_tool(sweep.findings, SweepRule::EdgeCuts, movements);
    if circumstances.goes_on {
        sweep.findings = sweep.findings.into_iter().map(Finding::before_others).collect();
    }
    sweep
}

/// A pass whose groups are being collected.
struct GatheredPass {
    number: usize,
    tool: Option<u32>,
    groups: Vec<MovementGroup>,
    contacts: Vec<Contact>,
    rates: Rates,
    changed: bool,
    /// Whether it goes deeper anywhere than was allowed before it.
    deeper: bool,
}

struct Sweeper<'a> {
    job: &'a Job,
    face: &'a Face,
    movements: &'a [Movement],
    allowed: &'a AllowedDepth,
    hazards: Hazards,
    findings: Vec<Finding>,
    passes: Vec<GatheredPass>,
    /// The tool that cut last.
    last_tool: Option<u32>,
    /// How far above the face each tool must stay at every radius, by the tool's number.
    held_up: BTreeMap<u32, Vec<f64>>,
    /// Height of the metal when the tool was last at rapid: what goes since is one bite, however often the tool turned back.
    at_rapid: Vec<f64>,
    /// Whether another program finishes the face.
    goes_on: bool,
    /// What the head says of this program and those before it.
    says: HeadSays,
    /// What each tool meets as it comes in.
    grounds: Grounds,
    /// Whether the wheel was measured again after a cut.
    measured_since: bool,
    /// Radii that were crossed, each as often as it was.
    crossed: usize,
}

impl Sweeper<'_> {
    /// Says that what follows is not followed.
    fn too_long(&mut self, at: Option<&Movement>) {
        let what = "from here on the motions are not followed: they cross the face too often".to_owned();
        let what =
            if at.is_some() { what } else { "the motions turn back too often to be followed".to_owned() };
        self.findings.push(note(SweepRule::TooLong, at, what));
    }

    fn group(&mut self, group: &MovementGroup, metal: &mut Metal) {
        let (job, movements) = (self.job, self.movements);
        let tool = split::tool_of(job, group.tool).or_else(|| {
            self.unknown_tool(group);
            job.tools.first()
        });
        let Some(tool) = tool else { return };
        self.grounds.met_by(group.tool, metal);
        let swept = SweptTool::new(tool, job);
        let range = group.movements.clone();
        if group.kind == MovementKind::Rapid {
            self.crossed += metal.len() * (split::crossings(movements, group).saturating_sub(1));
            self.hazards.judge_rapids(&swept, range, metal, self.movements, &mut self.findings);
            self.at_rapid.clone_from(&metal.now);
            return;
        }
        self.hazards.judge_feed(&swept, range.clone(), self.movements, &mut self.findings);
        let tree = Tree::new(segments(self.movements, range.clone(), swept.shift()));
        let contact = Contact::new(metal, metal.under(&swept.shape, &tree, RadiusRange::WholeRun));
        self.crossed += contact.lowest.points.len();
        let changed = self.last_tool.is_some_and(|t| Some(t) != group.tool);
        let number = group.pass + 1;
        let mut deeper = false;
        if contact.cuts() {
            let held =
                self.held_up.entry(tool.number).or_insert_with(|| reach::held_up(self.face, tool, metal));
            deeper = metal.count_pass(
                &contact,
                (&swept.shape, held),
                tree.extent(),
                number,
                &|radius| self.allowed.of_tool_at(group.tool, radius),
                job.schedule.rest_limit.as_mm().max(PASS_NEAR),
            );
            let limits = PassLimits {
                job,
                allowed: self.allowed,
                shape: &swept.shape,
                tool: group.tool,
                pass: number,
                changed,
            };
            cut::judge(&limits, metal, &contact, self.movements, &mut self.findings);
            let bite = cut::bite_since(&limits, metal, &contact, &self.at_rapid);
            self.findings.extend(bite.map(|worst| cut::say_bite(&limits, metal, &worst, self.movements)));
            self.check_coolant(&contact);
        }
        metal.cut(&contact.lowest);
        let pass = self.pass(number, group, changed);
        rate::gather(&mut pass.rates, range, movements, tool);
        let cuts = contact.cuts();
        // Each ring of a trial has a depth of its own.
        pass.deeper |= deeper || !job.rings.is_empty();
        pass.groups.push(group.clone());
        pass.contacts.push(contact);
        if cuts {
            self.last_tool = group.tool;
        }
    }

    /// Adds one finding if a cut is made without the coolant that the control's description requires.
    fn check_coolant(&mut self, contact: &Contact) {
        if self.job.control.coolant == Coolant::None
            || self.findings.iter().any(|f| f.rule == SweepRule::NoCoolant.into())
        {
            return;
        }
        let movements = self.movements;
        let cuts = contact.taken().filter_map(|(_, p, _)| movements.get(p.movement));
        if let Some(first) = cuts.filter(|m| !m.coolant).min_by_key(|m| m.line) {
            self.findings.push(note(SweepRule::NoCoolant, Some(first), "cuts without coolant".to_owned()));
        }
    }

    fn pass(&mut self, number: usize, group: &MovementGroup, changed: bool) -> &mut GatheredPass {
        if self.passes.last().is_none_or(|p| p.number != number) {
            let pass = GatheredPass {
                number,
                tool: group.tool,
                groups: Vec::new(),
                contacts: Vec::new(),
                rates: Rates::default(),
                changed,
                deeper: false,
            };
            self.passes.push(pass);
        }
        let last = self.passes.len() - 1;
        &mut self.passes[last]
    }

    fn unknown_tool(&mut self, group: &MovementGroup) {
        if self.findings.iter().any(|f| f.rule == SweepRule::Tool.into()) {
            return;
        }
        let named = group.tool.map_or("no tool".to_owned(), |t| format!("tool {t}"));
        self.findings.push(note(
            SweepRule::Tool,
            self.movements.get(group.movements.start),
            format!("{named} is in force; the job does not name it"),
        ));
    }

    /// Whether a pass is one of the last that cut, as many as the schedule has to finish; without another program behind this one. A finish
    /// of no depth may cut nothing: then those count that run, and the spring passes with them.
    fn finishes(&self, index: usize) -> bool {
        let Some(finish) = &self.job.schedule.finish else { return false };
        let takes = finish.depth.as_mm() > 0.0;
        let count = if takes { finish.passes } else { finish.passes.saturating_add(finish.spring_passes) };
        let counts = |p: &&GatheredPass| !takes || p.contacts.iter().any(Contact::cuts);
        let later = self.passes.iter().skip(index + 1).filter(counts).count();
        !self.goes_on && later < usize::try_from(count).unwrap_or(usize::MAX)
    }

    /// Holds each finish pass of a tool that takes the rough ones too to its own depth. Where the wheel was measured again, what stands is not as even as a
    /// pass leaves it.
    fn judge_finish(&mut self, metal: &Metal, found: &[f64]) {
        if self.measured_since || !self.allowed.has_one_tool() {
            return;
        }
        let worst = |(i, pass): (usize, &GatheredPass)| {
            let shape = ToolShape::new(&split::tool_of(self.job, pass.tool)?.outline());
            let earlier = self.passes.iter().take(i).flat_map(|pass| &pass.contacts);
            let stood = Metal::after(found.to_vec(), earlier);
            let limits = limits(self.job, self.allowed, pass, &shape);
            cut::judge_finish(&limits, (metal, &stood), &pass.contacts, self.movements)
        };
        let finishing = self.passes.iter().enumerate().filter(|(i, _)| self.finishes(*i));
        let found: Vec<Finding> = finishing.filter_map(worst).collect();
        self.findings.extend(found);
    }

    /// The judgements about the whole program, and the result.
    fn finish(mut self, metal: &Metal, found: &[f64]) -> Sweep {
        let (job, face, movements) = (self.job, self.face, self.movements);
        let roles = order::roles(&self.passes, movements);
        let groups = feed_groups(&self.passes, &roles);
        let air_pass = air::judge(job, metal, &groups, movements, &mut self.findings);
        let first_contact = groups
            .iter()
            .find(|s| s.contact.cuts())
            .and_then(|s| s.contact.taken().min_by_key(|(_, p, _)| p.movement))
            .map(|(i, p, taken)| named(taken, metal.radii[i], p.movement, movements));
        drop(groups);
        order::judge(job, metal, (&self.passes, &roles), self.measured_since, movements, &mut self.findings);
        let mut swept = Vec::new();
        let mut cutting = None;
        let pass_depths: Vec<Option<PassDepth>> =
            self.passes.iter().map(|p| pass_depth(p, job, metal)).collect();
        for (i, pass) in self.passes.iter().enumerate() {
            let later = self.passes.iter().zip(&pass_depths).skip(i + 1);
            let next = later.filter(|(p, _)| p.tool == pass.tool).find_map(|(_, own)| *own);
            let depth = PassDepths {
                own: pass_depths[i],
                next: next.map(|o| o.depth),
                finishes: self.finishes(i),
                role: roles[i],
            };
            let earlier = || self.passes.iter().take(i).flat_map(|pass| &pass.contacts);
            let met = || metal.most_before(found, earlier());
            let summary = summary(
                pass,
                depth,
                &mut cutting,
                self.allowed,
                job,
                (metal, &met),
                movements,
                &mut self.findings,
            );
            swept.push(summary);
        }
        let already = self.allowed.already;
        self.judge_finish(metal, found);
        self.grounds.judge(&self.says.touches, (job, face, already), metal, &mut self.findings);
        job_checks::judge_total(metal, self.allowed, movements, &mut self.findings);
        let (allowed, made) = ((self.allowed, self.says.before), (swept.as_slice(), self.goes_on));
        job_checks::judge_job(job, metal, allowed, made, movements, &mut self.findings);
        let part =
            part::Part { job, metal, allowed: self.allowed, says: self.says.takes, goes_on: self.goes_on };
        part.judge(face, movements, &mut self.findings);
        let lies = swept.iter().filter_map(|p| p.lies).fold(0.0, f64::max);
        let climb = tool_shape::climb(job, lies);
        // On the scrap wheel of a trial damage may remain.
        let repairs = job.rings.is_empty();
        let damage_left = repairs.then(|| job_checks::damage_left(metal, job, face, climb)).flatten();
        let asked = |radius: f64| self.allowed.finished_depth(lies, radius);
        let rest = job_checks::rest(metal, job, &asked, climb);
        let last =
            swept.iter().rev().find(|p| p.lies == Some(lies)).and_then(|p| split::tool_of(job, p.tool));
        let reachable = last.map(|tool| reach::reachable(face, (tool, job), &asked, metal));
        let left = reachable.as_ref().and_then(|reachable| {
            job_checks::left(
                metal,
                job,
                &reach::standing_for_rest(reachable, metal, (job, face), &asked),
                climb,
            )
        });
        let finished = reachable.as_ref().and_then(|reachable| {
            let inside = finish::Inside { job, climb };
            finish::finished(inside, metal, reachable, (&swept, &self.passes), movements)
        });
        finish::judge(job, finished, &swept, movements, &mut self.findings);
        job_checks::judge_remaining(job, damage_left, rest, &mut self.findings);
        job_checks::judge_left(job, metal, left, movements, &mut self.findings);
        let depths: Vec<DepthAt> = (0..metal.len())
            .map(|i| DepthAt { radius: metal.radii[i], depth: metal.face[i] - metal.now[i] })
            .collect();
        let deepest = (0..metal.len())
            .max_by(|&a, &b| depths[a].depth.total_cmp(&depths[b].depth))
            .map(|i| named(depths[i].depth, depths[i].radius, metal.by[i], movements));
        Sweep {
            passes: swept,
            total: thinned(&depths),
            deepest,
            first_contact,
            air_pass,
            damage_left,
            rest,
            finished,
            allowed: self.allowed.most,
            hidden: metal::MOST_HIDDEN,
            radii: metal.len(),
            findings: self.findings,
        }
    }
}

/// The groups of all passes in order, as the check of the air pass needs them.
fn feed_groups<'p>(passes: &'p [GatheredPass], roles: &[order::Role]) -> Vec<FeedGroup<'p>> {
    let each = |(pass, role): (&'p GatheredPass, &order::Role)| {
        let role = *role;
        pass.groups.iter().zip(&pass.contacts).map(move |(group, contact)| FeedGroup {
            tool: group.tool,
            movements: group.movements.clone(),
            pass: group.pass,
            role,
            contact,
        })
    };
    passes.iter().zip(roles).flat_map(each).collect()
}

/// The depth of a pass that cuts, and of its tool's next pass.
#[derive(Debug, Clone, Copy)]
struct PassDepths {
    own: Option<PassDepth>,
    next: Option<f64>,
    /// Whether the pass is one of those that finish the face.
    finishes: bool,
    /// What it is for.
    role: order::Role,
}

/// What is the same for all groups of a pass.
fn limits<'a>(
    job: &'a Job,
    allowed: &'a AllowedDepth,
    pass: &GatheredPass,
    shape: &'a ToolShape,
) -> PassLimits<'a> {
    PassLimits { job, allowed, shape, tool: pass.tool, pass: pass.number, changed: pass.changed }
}

fn pass_depth(pass: &GatheredPass, job: &Job, metal: &Metal) -> Option<PassDepth> {
    let tool = split::tool_of(job, pass.tool)?;
    let shape = ToolShape::new(&tool.outline());
    let tolerance = job.schedule.tolerance.as_mm();
    let cuts = pass.contacts.iter().any(Contact::cuts);
    cuts.then(|| cut::pass_depth(&shape, metal, &pass.contacts, tolerance))?
}

#[allow(clippy::too_many_arguments)]
fn summary(
    pass: &GatheredPass,
    depth: PassDepths,
    cutting: &mut Option<u32>,
    allowed: &AllowedDepth,
    job: &Job,
    (metal, met): (&Metal, &dyn Fn() -> Vec<f64>),
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) -> SweptPass {
    let line = |i: usize| movements.get(i).map_or(0, |m| m.line);
    let first = pass.groups.first().map_or(0, |s| s.movements.start);
    let last = pass.groups.last().map_or(0, |s| s.movements.end.saturating_sub(1));
    let cuts = pass.contacts.iter().any(Contact::cuts);
    let tool = split::tool_of(job, pass.tool);
    if let Some(tool) = tool.filter(|_| cuts) {
        let shape = ToolShape::new(&tool.outline());
        let limits = limits(job, allowed, pass, &shape);
        if let Some(own) = depth.own.filter(|_| pass.deeper) {
            let own = (&own, depth.next);
            cut::judge_evenness(&limits, own, (metal, met), &pass.contacts, movements, findings);
        }
    }
    let mut taken: Vec<(usize, f64, usize)> = pass
        .contacts
        .iter()
        .flat_map(|contact| {
            contact
                .lowest
                .each()
                .zip(&contact.before)
                .map(|((i, p), before)| (i, (before - p.z).max(0.0), p.movement))
        })
        .collect();
    taken.sort_by_key(|t| t.0);
    let deepest = taken.iter().max_by(|a, b| a.1.total_cmp(&b.1)).filter(|_| cuts);
    let deepest = deepest.map(|&(i, d, m)| named(d, metal.radii[i], m, movements));
    if let Some(tool) = tool {
        let cuts_at = deepest.map(|d| d.radius);
        let rates =
            rate::PassRates { rates: &pass.rates, number: pass.number, cuts_at, finishes: depth.finishes };
        match depth.role {
            order::Role::Work => rate::judge(job, tool, rates, movements.get(first), findings),
            order::Role::Air => rate::judge_air(job, tool, rates, movements.get(first), findings),
        }
    }
    let mut curve: Vec<DepthAt> = Vec::new();
    for (i, depth, _) in taken {
        let radius = metal.radii[i];
        match curve.last_mut().filter(|last| last.radius == radius) {
            Some(last) => last.depth += depth,
            None => curve.push(DepthAt { radius, depth }),
        }
    }
    if cuts {
        *cutting = pass.tool;
    }
    SweptPass {
        number: pass.number,
        kind: if cuts && !pass.deeper && depth.own.is_some_and(|own| own.takes()) {
            PassKind::Rest
        } else if cuts {
            PassKind::Cut
        } else if cutting.is_some() && *cutting == pass.tool {
            PassKind::Idle
        } else {
            PassKind::Air
        },
        tool: pass.tool,
        from_line: line(first),
        to_line: line(last),
        direction: pass.groups.iter().find_map(|s| split::direction(movements.get(s.movements.clone())?)),
        taken: if cuts { thinned(&curve) } else { Vec::new() },
        deepest,
        lies: depth.own.map(|o| o.depth),
        seconds: pass.groups.iter().map(|g| rate::seconds(g.movements.clone(), job, movements)).sum(),
        spiral_mm: pass.groups.iter().map(|g| rate::spiral(g.movements.clone(), tool, movements)).sum(),
        rates: pass.rates.clone(),
    }
}

fn named(depth: f64, radius: f64, movement: usize, movements: &[Movement]) -> Deepest {
    let at = movements.get(movement);
    Deepest { depth, radius, block: at.and_then(|m| m.sequence), line: at.map_or(0, |m| m.line) }
}
