//! The air pass: before a tool cuts, it must have crossed the same radii above the face, and then stopped (M00) for a look.
//!
//! Each tool needs its own, because each is touched off separately. A tool's air pass is everything it does at feed between its
//! call and the last stop (M00) before its first cut. At every radius that the first pass cuts, the air pass must have been
//! above the metal, and near enough to show that the path is right. If the air pass skips a few
//! millimetres, the tool's flanks are still near the metal, so the distance alone does not reveal the gap. It is found by comparing how far
//! the first pass is below the air pass there and elsewhere.

use super::cut::{Contact, LEAST_CUT};
use super::findings::{mm, note, radius};
use super::metal::Metal;
use super::order::Role;
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::job::Job;
use crate::proof::Movement;
use std::ops::Range;

/// An air pass nearer than this to the highest place may touch: touching off by hand and the measured run-out are no more accurate, millimetres.
/// Common practice, no source.
pub const TOUCH: f64 = 0.05;

/// The distance of the first pass from the air pass may vary by this much, millimetres, and by the tolerance of the written path.
const EVEN: f64 = 0.05;

/// The height of an air pass over the first pass may differ from the one asked for by this share.
const SHARE: f64 = 0.2;

/// An air pass higher than this many times its set height plus a millimetre does not show whether the path is right.
const TOO_HIGH: f64 = 2.0;

/// A group of motions at feed, as the check of the air pass needs it.
#[derive(Debug)]
pub struct FeedGroup<'a> {
    /// Number of its tool.
    pub tool: Option<u32>,
    /// Its movements.
    pub movements: Range<usize>,
    /// Its pass.
    pub pass: usize,
    /// What the pass is for.
    pub role: Role,
    /// Its contact with the metal.
    pub contact: &'a Contact,
}

/// The distance of an air pass from the metal.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct AirGap {
    /// The least distance, millimetres.
    pub nearest: f64,
    /// Radius there, millimetres.
    pub at: f64,
}

/// Judges the air pass of every tool; returns the nearest, if every tool that cuts has one.
pub fn judge(
    job: &Job,
    metal: &Metal,
    groups: &[FeedGroup],
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) -> Option<AirGap> {
    let mut runs = Vec::new();
    for of_tool in groups.chunk_by(|a, b| a.tool == b.tool) {
        if of_tool.iter().any(|s| s.contact.cuts()) {
            runs.push(of_one_tool(job, metal, of_tool, movements, findings));
        }
    }
    let runs: Option<Vec<AirGap>> = runs.into_iter().collect();
    runs?.into_iter().min_by(|a, b| a.nearest.total_cmp(&b.nearest))
}

/// Judges the air pass of one tool, from its call to the next tool's.
fn of_one_tool(
    job: &Job,
    metal: &Metal,
    groups: &[FeedGroup],
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) -> Option<AirGap> {
    let first_cut = groups.iter().position(|s| s.contact.cuts())?;
    let first = groups.get(first_cut)?;
    let cutting = movements.get(first.movements.start)?;
    let lowest = |chosen: &dyn Fn(&FeedGroup) -> bool| {
        let mut low = vec![f64::INFINITY; metal.len()];
        // Behind the look, what may take something of what earlier programs left shows nobody whether the path is right.
        let in_the_air = |s: &&FeedGroup| s.role == Role::Air || !metal.may_be_cut(s.contact);
        for group in groups.iter().take(first_cut).filter(in_the_air).filter(|s| chosen(s)) {
            for (i, point) in group.contact.lowest.each() {
                low[i] = low[i].min(point.z);
            }
        }
        low
    };
    let stops = |s: &FeedGroup| movements.get(s.movements.start).map_or(0, |m| m.stops_before.0);
    let looked_at = lowest(&|s| stops(s) < cutting.stops_before.0);
    let any = lowest(&|_| true);
    // Where the first pass cuts: radius index, height before, height left.
    // Every ring of a trial is a first pass with its own depth.
    let firsts = groups.iter().filter(|s| s.pass == first.pass || !job.rings.is_empty());
    let mut cuts: Vec<(usize, usize, f64, f64)> =
        firsts.flat_map(|s| s.contact.taken().map(|(i, p, taken)| (s.pass, i, p.z + taken, p.z))).collect();
    // Where its groups meet, as beside a narrow rib between two zones, one leaves a fillet that the other takes: the pass goes down to what
    // both leave.
    cuts.sort_by_key(|c| (c.0, c.1));
    cuts.dedup_by(|next, kept| {
        let same = (next.0, next.1) == (kept.0, kept.1);
        if same {
            (kept.2, kept.3) = (kept.2.max(next.2), kept.3.min(next.3));
        }
        same
    });
    let cuts: Vec<(usize, f64, f64)> =
        cuts.into_iter().map(|(_, i, before, left)| (i, before, left)).collect();
    let highest = TOO_HIGH * job.schedule.air.height.as_mm() + 1.0;
    let bare = |low: &[f64]| {
        cuts.iter().filter(|(i, before, _)| low[*i] - before > highest).map(|c| c.0).collect::<Vec<_>>()
    };
    let missing = bare(&looked_at);
    if let Some(&at) = missing.first() {
        let never = bare(&any);
        let (rule, what) = if never.len() * 2 > cuts.len() {
            (
                SweepRule::NoAirPass,
                format!(
                    "cuts at {} without an air pass of this tool above the face before it",
                    radius(metal.radii[at])
                ),
            )
        } else if never.is_empty() {
            (SweepRule::NoStopAfterAir, "cuts without a stop (M00) after the air pass".to_owned())
        } else {
            let at = never.first().map_or(at, |&i| i);
            (
                SweepRule::AirPassShort,
                format!(
                    "the first pass of this tool cuts at {}, where its air pass never was",
                    radius(metal.radii[at])
                ),
            )
        };
        findings.push(note(rule, Some(cutting), what));
        return None;
    }
    nearest(job, metal, groups, first_cut, &looked_at, &cuts, movements, findings)
}

#[allow(clippy::too_many_arguments)]
fn nearest(
    job: &Job,
    metal: &Metal,
    groups: &[FeedGroup],
    first_cut: usize,
    low: &[f64],
    cuts: &[(usize, f64, f64)],
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) -> Option<AirGap> {
    let gap = |c: &(usize, f64, f64)| low[c.0] - c.1;
    let closest = cuts.iter().min_by(|a, b| gap(a).total_cmp(&gap(b)))?;
    let run = AirGap { nearest: gap(closest), at: metal.radii[closest.0] };
    let block = groups
        .iter()
        .take(first_cut)
        .filter_map(|s| s.contact.lowest.at(closest.0))
        .min_by(|a, b| a.z.total_cmp(&b.z))
        .and_then(|p| movements.get(p.movement));
    if run.nearest < TOUCH {
        let what = format!(
            "the air pass comes within {} of the face at {}",
            mm(run.nearest.max(0.0)),
            radius(run.at)
        );
        findings.push(note(SweepRule::AirPassTouches, block, what).measured(
            run.nearest,
            Some(TOUCH),
            Unit::Mm,
        ));
        return Some(run);
    }
    // Where more may stand than is known, the first pass may have cut before, with what it is compared with here above it.
    let known = |c: &&(usize, f64, f64)| metal.may_stand[c.0] <= LEAST_CUT;
    let mut offs: Vec<(f64, usize)> = cuts.iter().filter(known).map(|c| (low[c.0] - c.2, c.0)).collect();
    offs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (middle, _) = *offs.get(offs.len() / 2)?;
    let even = EVEN + job.schedule.tolerance.as_mm();
    let asked = job.schedule.air.height.as_mm();
    if (middle - asked).abs() > (SHARE * asked).max(even) {
        let what = format!(
            "the air pass runs {} above the first pass; the schedule asks for {}",
            mm(middle),
            mm(asked)
        );
        findings.push(note(SweepRule::AirPassHeight, block, what).measured(middle, Some(asked), Unit::Mm));
    }
    let (most, over) = *offs.last()?;
    if most - middle > job.schedule.air.height.as_mm() {
        let what = format!(
            "the air pass jumps over {}: it stands {} above the first pass there, {} elsewhere",
            radius(metal.radii[over]),
            mm(most),
            mm(middle)
        );
        findings.push(note(SweepRule::AirPassJumps, block, what).measured(most, Some(middle), Unit::Mm));
        return Some(run);
    }
    let odd = [offs.first()?, offs.last()?].into_iter().find(|(off, _)| (off - middle).abs() > even);
    if let Some(&(off, at)) = odd {
        let what = format!(
            "the first pass lies {} under the air pass at {}, {} elsewhere",
            mm(off),
            radius(metal.radii[at]),
            mm(middle)
        );
        findings.push(note(SweepRule::AirPassUneven, block, what).measured(off, Some(middle), Unit::Mm));
    }
    Some(run)
}
