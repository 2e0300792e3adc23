//! Speeds and feeds: spindle speed, surface speed and feed at the radius of the cut, and the ridges that feed and nose leave.
//!
//! At constant surface speed the control computes the spindle speed from the programmed radius and limits it:
//! `n = min(limit, v / (2·π·x))`. A nose of radius r leaves ridges of `r − √(r² − f²/4)`, with an arithmetic mean of about
//! `f² / (18·√3·r)` (Machinery's Handbook; ISO 4287, from memory).

use super::findings::{note, radius};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::geometry::{Piece, Turn};
use crate::job::{Feed as Wanted, Job, Tool, TrialRing};
use crate::proof::{Feed, Movement, Spindle, time};
use crate::units::{FeedPerRev, Length, SurfaceSpeed, Time};
use std::f64::consts::{PI, TAU};
use std::ops::Range;

/// Factor by which a surface speed may exceed the schedule's without a finding.
const SPEED_OVER: f64 = 1.05;

/// Factor by which a feed or a texture may exceed the schedule's without a finding.
const FEED_OVER: f64 = 1.10;

/// Below this share of the least feed that the schedule gives a tool it rubs instead of cutting, and a pass takes twice as long and more.
const FEED_UNDER: f64 = 0.5;

/// A speed or feed of more than this many times the schedule's is a mistake, not a choice.
const SLIP: f64 = 2.0;

/// Rounding allowed in a spindle speed.
const ROUNDING: f64 = 1.001;

/// The lowest and the highest value.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct Interval {
    /// Lowest.
    pub least: f64,
    /// Highest.
    pub most: f64,
}

/// Speeds and feeds of one pass, and the ridges they leave.
#[derive(Debug, Clone, Default, PartialEq, serde::Serialize)]
pub struct Rates {
    /// Spindle speed, revolutions per minute.
    pub spindle: Option<Interval>,
    /// Surface speed, metres per minute.
    pub surface: Option<Interval>,
    /// Feed, millimetres per revolution.
    pub feed: Option<Interval>,
    /// Height of the ridges that the greatest feed leaves on a flat place (Rz of the ideal scallop), micrometres.
    pub ridges: Option<f64>,
}

/// Spindle speed at a programmed radius; none where the spindle is off or no speed was set.
#[must_use]
pub fn spindle_at(spindle: &Spindle, x: f64) -> Option<f64> {
    match spindle {
        Spindle::Off => None,
        Spindle::Fixed { speed, .. } => speed.map(crate::units::SpindleSpeed::as_rpm),
        Spindle::Surface { speed, limit, .. } => {
            let free = (*speed)?.as_mm_per_min() / (2.0 * PI * x.abs());
            Some(limit.map_or(free, |l| free.min(l.as_rpm())))
        }
    }
}

fn feed_per_rev(feed: &Feed, rpm: Option<f64>) -> Option<f64> {
    match feed {
        Feed::Missing => None,
        Feed::PerRev(f) => Some(f.as_mm_per_rev()),
        Feed::PerMinute(f) => rpm.filter(|&n| n > 0.0).map(|n| f.as_mm_per_min() / n),
    }
}

fn widen(span: &mut Option<Interval>, value: f64) {
    *span = Some(span.map_or(Interval { least: value, most: value }, |s| Interval {
        least: s.least.min(value),
        most: s.most.max(value),
    }));
}

/// Height of the ridges that a feed leaves under a nose; the nose radius where the feed is wider than the nose.
#[must_use]
pub fn ridge(feed: f64, nose_radius: f64) -> f64 {
    nose_radius - (nose_radius * nose_radius - feed * feed / 4.0).max(0.0).sqrt()
}

/// Adds the speeds and feeds of a group at feed to those of a pass.
pub fn gather(rates: &mut Rates, range: Range<usize>, movements: &[Movement], tool: &Tool) {
    for m in movements.get(range).unwrap_or_default() {
        for x in [m.piece.from().x, m.piece.to().x] {
            let rpm = spindle_at(&m.spindle, x).filter(|n| n.is_finite());
            if let Some(n) = rpm {
                widen(&mut rates.spindle, n);
                widen(&mut rates.surface, 2.0 * PI * x.abs() * n / 1000.0);
            }
            if let Some(f) = feed_per_rev(&m.feed, rpm) {
                widen(&mut rates.feed, f);
            }
        }
    }
    rates.ridges = rates.feed.map(|f| ridge(f.most, tool.nose_radius.as_mm()) * 1000.0);
}

/// How long movements take, seconds; none where a speed or feed is missing.
#[must_use]
pub fn seconds(range: Range<usize>, job: &Job, movements: &[Movement]) -> Option<f64> {
    let part = movements.get(range).unwrap_or_default();
    part.iter().map(|m| time(m, job.machine.rapid).map(Time::as_s)).sum()
}

/// Length of the spiral that the nose centre of a tool runs over the turning wheel, millimetres: a turn of `2·π·x` for every
/// feed's length of path. Motions with a feed per minute are left out.
#[must_use]
pub fn spiral(range: Range<usize>, tool: Option<&Tool>, movements: &[Movement]) -> f64 {
    let offset = tool.map_or(0.0, |t| t.point_offset().0);
    let part = movements.get(range).unwrap_or_default();
    let length = |m: &Movement| match m.feed {
        Feed::PerRev(f) => TAU * moment(&m.piece.shifted(-offset, 0.0)).abs() / f.as_mm_per_rev(),
        Feed::PerMinute(_) | Feed::Missing => 0.0,
    };
    part.iter().map(length).sum()
}

/// The integral of x over the length of a piece; on a counter-clockwise arc of radius R, dz = (x − cx)·ds/R.
fn moment(piece: &Piece) -> f64 {
    match piece {
        Piece::Line(line) => f64::midpoint(line.from.x, line.to.x) * piece.length(),
        Piece::Arc(arc) => {
            let sense = if arc.turn == Turn::CounterClockwise { 1.0 } else { -1.0 };
            arc.centre.x * piece.length() + sense * arc.radius() * (arc.to.z - arc.from.z)
        }
    }
}

/// Judges the spindle speeds of all movements by the limits of wheel and machine.
pub fn judge_spindle(job: &Job, movements: &[Movement], findings: &mut Vec<Finding>) {
    let limit = job.speed_limit().as_rpm();
    let fastest = movements
        .iter()
        .filter_map(|m| {
            let (a, b) = (m.piece.from().x, m.piece.to().x);
            let nearest = if a * b <= 0.0 { 0.0 } else { a.abs().min(b.abs()) };
            Some((spindle_at(&m.spindle, nearest)?, nearest, m))
        })
        .filter(|(n, ..)| *n > limit * ROUNDING)
        .fold(
            None,
            |best: Option<(f64, f64, &Movement)>, new| {
                if best.is_some_and(|b| b.0 >= new.0) { best } else { Some(new) }
            },
        );
    if let Some((n, x, m)) = fastest {
        let what = format!(
            "the spindle turns at {n:.0} rpm at {}; wheel and machine allow {limit:.0} rpm",
            radius(x)
        );
        findings.push(note(SweepRule::OverSpeed, Some(m), what).measured(n, Some(limit), Unit::Rpm));
    }
}

/// What the job asks of a tool's passes.
#[derive(Debug, Clone, Copy)]
struct Asked {
    /// Fastest surface speed, metres per minute.
    speed: f64,
    /// Least and greatest feed, millimetres per revolution.
    feed: Interval,
}

/// What the schedule, or the ring of a trial, gives for a tool; where one pass may be of two kinds, what holds for both.
fn wanted(job: &Job, tool: &Tool, ring: Option<&TrialRing>, finishes: bool) -> Option<Asked> {
    let asked = |speed: SurfaceSpeed, feed: Wanted| {
        let feed = wanted_feed(feed, tool.nose_radius);
        Asked { speed: speed.as_mm_per_min() / 1000.0, feed: Interval { least: feed, most: feed } }
    };
    if let Some(TrialRing { finish, .. }) = ring {
        return Some(asked(finish.surface_speed, finish.feed));
    }
    let finish = job.schedule.finish.as_ref().map(|f| (&f.tool, f.surface_speed, f.feed));
    // One tool for both: only the place in the order tells which of the two a pass is.
    let roughs = !finishes || finish.is_none_or(|(name, ..)| *name != tool.name);
    let rough = job.schedule.rough.as_ref().filter(|_| roughs).map(|r| (&r.tool, r.surface_speed, r.feed));
    [rough, finish]
        .into_iter()
        .flatten()
        .filter(|(name, ..)| **name == tool.name)
        .map(|(_, v, f)| asked(v, f))
        .reduce(|a, b| Asked {
            speed: a.speed.max(b.speed),
            feed: Interval { least: a.feed.least.min(b.feed.least), most: a.feed.most.max(b.feed.most) },
        })
}

fn wanted_feed(feed: Wanted, nose: Length) -> f64 {
    let r = nose.as_mm();
    match feed {
        Wanted::PerRev(f) => f.as_mm_per_rev(),
        Wanted::Rz(t) => 2.0 * (2.0 * r * t.as_mm() - t.as_mm() * t.as_mm()).max(0.0).sqrt(),
        Wanted::Grooves(pitch) => pitch.as_mm(),
        Wanted::Ra(a) => (18.0 * 3.0_f64.sqrt() * r * a.as_mm()).sqrt(),
    }
}

/// What is judged of a pass.
#[derive(Debug, Clone, Copy)]
pub struct PassRates<'a> {
    /// Its speeds and feeds.
    pub rates: &'a Rates,
    /// Its number among all passes at feed, from 1.
    pub number: usize,
    /// Radius of its deepest cut.
    pub cuts_at: Option<f64>,
    /// Whether it is one of the last of the program, which finish the face.
    pub finishes: bool,
}

/// Compares the speeds and feeds of a pass in the air with the schedule: faster, nobody could see where it runs, nor stop it. The rings of a
/// trial each have their own.
pub fn judge_air(
    job: &Job,
    tool: &Tool,
    PassRates { rates, number: pass, .. }: PassRates<'_>,
    at: Option<&Movement>,
    findings: &mut Vec<Finding>,
) {
    let Some(asked) = wanted(job, tool, None, false).filter(|_| job.rings.is_empty()) else { return };
    judge_speed(asked, (rates, pass), at, findings);
    let most = job.schedule.air.feed.map_or(asked.feed.most, FeedPerRev::as_mm_per_rev);
    if let Some(f) = rates.feed.map(|s| s.most).filter(|f| *f > most * FEED_OVER) {
        let what = format!(
            "pass {pass}, in the air, feeds up to {f:.3} mm each turn; the job asks for {most:.3} mm"
        );
        findings.push(note(SweepRule::AirFeed, at, what).measured(f, Some(most), Unit::MmPerRev));
    }
}

fn judge_speed(
    asked: Asked,
    (rates, pass): (&Rates, usize),
    at: Option<&Movement>,
    findings: &mut Vec<Finding>,
) {
    let speed = asked.speed;
    if let Some(v) = rates.surface.map(|s| s.most).filter(|v| *v > speed * SPEED_OVER) {
        let slips = v / speed > SLIP;
        let rule = if slips { SweepRule::SurfaceSpeedSlip } else { SweepRule::SurfaceSpeed };
        let what = format!("pass {pass} runs at up to {v:.0} m/min; the schedule says {speed:.0} m/min");
        findings.push(note(rule, at, what).measured(v, Some(speed), Unit::MPerMin));
    }
}

/// Compares the speeds and feeds of a pass that reaches the metal with the schedule, or with the ring of a trial at the radius of its deepest cut.
pub fn judge(
    job: &Job,
    tool: &Tool,
    PassRates { rates, number: pass, cuts_at, finishes }: PassRates<'_>,
    at: Option<&Movement>,
    findings: &mut Vec<Finding>,
) {
    let ring = cuts_at.and_then(|radius| job.ring_at(radius));
    let Some(asked) = wanted(job, tool, ring, finishes) else { return };
    judge_speed(asked, (rates, pass), at, findings);
    let feed = asked.feed.most;
    let Some(Interval { least, most: f }) = rates.feed else { return };
    if least < asked.feed.least * FEED_UNDER {
        let what = format!(
            "pass {pass} feeds down to {least:.4} mm each turn; the schedule says {:.3} mm",
            asked.feed.least
        );
        findings.push(note(SweepRule::FeedLow, at, what).measured(
            least,
            Some(asked.feed.least),
            Unit::MmPerRev,
        ));
    }
    let widest = 2.0 * tool.nose_radius.as_mm();
    if f >= widest {
        let what = format!("pass {pass} feeds {f:.3} mm each turn, more than the nose is wide");
        findings.push(note(SweepRule::FeedThread, at, what).measured(f, Some(widest), Unit::MmPerRev));
    } else if f > feed * FEED_OVER {
        let rule = if f / feed > SLIP { SweepRule::FeedSlip } else { SweepRule::Feed };
        let what = format!(
            "pass {pass} feeds up to {f:.3} mm each turn, ridges of {:.1} um; the schedule says {feed:.3} mm",
            rates.ridges.unwrap_or(0.0)
        );
        findings.push(note(rule, at, what).measured(f, Some(feed), Unit::MmPerRev));
    }
    judge_grooves(job, tool, (rates, ring), (pass, at), findings);
}

/// Grooves that must match others may not be closer either. A tool that also makes rough passes is not checked for its grooves.
fn judge_grooves(
    job: &Job,
    tool: &Tool,
    (rates, ring): (&Rates, Option<&TrialRing>),
    (pass, at): (usize, Option<&Movement>),
    findings: &mut Vec<Finding>,
) {
    let finish = ring.map(|r| &r.finish).or(job.schedule.finish.as_ref()).filter(|f| f.tool == tool.name);
    let finishes_only = job.schedule.rough.as_ref().is_none_or(|r| r.tool != tool.name);
    let Some(Wanted::Grooves(pitch)) = finish.filter(|_| finishes_only).map(|f| f.feed) else { return };
    let pitch = pitch.as_mm();
    if let Some(least) = rates.feed.map(|s| s.least).filter(|least| least * FEED_OVER < pitch) {
        let what =
            format!("pass {pass} lays grooves down to {least:.3} mm apart; the schedule says {pitch:.3} mm");
        findings.push(note(SweepRule::Grooves, at, what).measured(least, Some(pitch), Unit::MmPerRev));
    }
}
