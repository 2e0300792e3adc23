//! The report of a proof: findings of the simulation, effect of the motions on the metal, and the verdict.

use super::sweep::{Sweep, sweep_part};
use super::{begin_again, head, start};
use crate::diagnostics::{Finding, Place, ProgramRule, Rank, Rule, SweepRule};
use crate::face::Face;
use crate::job::Job;
use crate::simulate::simulation::merge;
use crate::simulate::{Execution, Simulation, simulate};
use crate::units::{Length, Time};
use serde::Serialize;
use std::fmt;

/// The verdict from the findings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    /// Nothing but notes.
    Sound,
    /// Warnings: look before it runs.
    Look,
    /// It must not run.
    Stop,
}

/// The result of the proof of a program.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// The verdict.
    pub verdict: Verdict,
    /// Number of lines that are not empty.
    pub blocks: usize,
    /// Number of motions.
    pub movements: usize,
    /// How long its motions take, seconds; none where a speed or feed is missing.
    pub seconds: Option<f64>,
    /// The lines at which it may be begun again, after a reset, and does what it does as a whole; none where it promises no such place.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub begins_again: Vec<usize>,
    /// What it does to the metal, and all findings: the most serious first, then in the order of the lines.
    #[serde(flatten)]
    pub sweep: Sweep,
}

/// A simulated program with the proof of that simulation.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadBack {
    /// The simulation.
    pub simulation: Simulation,
    /// The proof.
    pub report: Report,
}

/// The other programs of the job, as far as the proof must know them.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Circumstances {
    /// Depth that earlier programs removed from the measured face.
    pub already: Length,
    /// Whether another program of the job follows: what this one leaves undone is then only a note. Stops do not change.
    pub goes_on: bool,
    /// How deep that one takes the face to lie when it begins, below the measured face; none where nobody says it.
    pub ends_at: Option<Length>,
    /// Rest passes that earlier parts of a divided program made. It counts at a control without comments only: elsewhere the program says it.
    pub rest_passes: u32,
}

/// Proves a program against a job and its face.
#[must_use]
pub fn prove(text: &[u8], job: &Job, face: &Face) -> Report {
    prove_in(text, job, face, &Circumstances::default())
}

/// Proves a program that follows another, or that another follows.
#[must_use]
pub fn prove_in(text: &[u8], job: &Job, face: &Face, circumstances: &Circumstances) -> Report {
    read_back(text, job, face, circumstances).report
}

/// Simulates and proves a program, and returns both.
#[must_use]
pub fn read_back(text: &[u8], job: &Job, face: &Face, circumstances: &Circumstances) -> ReadBack {
    let simulation = simulate(text, job);
    let report = judge(&simulation, job, face, circumstances);
    ReadBack { simulation, report }
}

fn judge(simulation: &Simulation, job: &Job, face: &Face, circumstances: &Circumstances) -> Report {
    let says = head::says(&simulation.program, job);
    let swept =
        |execution: &Execution| sweep_part(&execution.movements, job, face, (circumstances, says.clone()));
    let off = &simulation.skip_off;
    let mut sweep = swept(off);
    let mut findings = std::mem::take(&mut sweep.findings);
    if let Some(on) = &simulation.skip_on {
        findings = merge(findings, swept(on).findings);
    }
    let first_turn = start::first_turn_asked(&simulation.program, job, circumstances);
    let started = |execution: &Execution| start::judge(execution, job, first_turn);
    findings.extend(match &simulation.skip_on {
        Some(on) => merge(started(off), started(on)),
        None => started(off),
    });
    findings.retain(|f| !said_before(f, &simulation.findings));
    findings.extend(simulation.findings.iter().cloned());
    findings.extend(head::judge(&simulation.program, job, circumstances.already));
    let begin_again = begin_again::judge(simulation, job);
    findings.extend(begin_again.findings);
    findings.sort_by(|a, b| b.rank.cmp(&a.rank).then(a.line().cmp(&b.line())));
    findings.dedup();
    let findings = limited(findings);
    Report {
        verdict: verdict(&findings),
        blocks: simulation.program.blocks.len(),
        movements: off.movements.len(),
        seconds: off.time.map(Time::as_s),
        begins_again: begin_again.lines,
        sweep: Sweep { findings, ..sweep },
    }
}

/// Most findings of one rule: who has read so many looks for their cause.
const MOST_OF_A_RULE: usize = 200;

/// The findings without those of a rule that are beyond all reading; the last one kept says how many.
fn limited(findings: Vec<Finding>) -> Vec<Finding> {
    let mut counts: Vec<(Rule, usize)> = Vec::new();
    let mut kept: Vec<Finding> = Vec::new();
    for finding in findings {
        let at = counts.iter().position(|(rule, _)| *rule == finding.rule).unwrap_or_else(|| {
            counts.push((finding.rule, 0));
            counts.len() - 1
        });
        let Some((_, count)) = counts.get_mut(at) else { continue };
        *count += 1;
        if *count <= MOST_OF_A_RULE {
            kept.push(finding);
        }
    }
    for (rule, count) in counts.into_iter().filter(|(_, count)| *count > MOST_OF_A_RULE) {
        if let Some(last) = kept.iter_mut().rfind(|f| f.rule == rule) {
            last.what = format!("{}; the same at {} more places", last.what, count - MOST_OF_A_RULE);
        }
    }
    kept
}

/// Whether the simulation already has this finding, at the same or a more serious rank.
fn said_before(finding: &Finding, simulated: &[Finding]) -> bool {
    let Rule::Sweep(rule) = finding.rule else { return false };
    let twins: &[ProgramRule] = match rule {
        SweepRule::FeedThread | SweepRule::FeedSlip | SweepRule::Feed | SweepRule::AirFeed => {
            &[ProgramRule::FeedCoarse, ProgramRule::OtherFeed]
        }
        SweepRule::FeedLow => &[ProgramRule::FeedFine],
        SweepRule::SurfaceSpeedSlip | SweepRule::SurfaceSpeed => {
            &[ProgramRule::OtherSurfaceSpeed, ProgramRule::NoSpeed]
        }
        SweepRule::Tool => &[ProgramRule::NoTool, ProgramRule::OtherTool],
        SweepRule::OverSpeed => &[ProgramRule::OverSpeed, ProgramRule::NoSpindleLimit],
        SweepRule::CutStanding => &[ProgramRule::SpindleOff],
        _ => return false,
    };
    simulated.iter().any(|r| twins.iter().any(|&t| r.rule == t.into()) && r.rank >= finding.rank)
}

fn verdict(findings: &[Finding]) -> Verdict {
    match findings.iter().map(|f| f.rank).max() {
        Some(rank) if !rank.is_told() => Verdict::Stop,
        Some(Rank::Warning) => Verdict::Look,
        _ => Verdict::Sound,
    }
}

impl Report {
    /// The report for a wheel that must not be cut, whatever the program does.
    #[must_use]
    pub fn on_refused_wheel(mut self, why: String) -> Self {
        self.sweep.findings.insert(0, Finding::new(SweepRule::WheelRefused, Place::Whole, why));
        self.verdict = Verdict::Stop;
        self
    }

    /// Of the report only the verdict, the counts of findings and those that are no mere notes, as text for a person.
    #[must_use]
    pub fn brief(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = super::text::write_brief(self, &mut text);
        text
    }

    /// All findings: the most serious first, then in the order of the lines.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.sweep.findings
    }
}

impl fmt::Display for Report {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        super::text::write(self, f)
    }
}
