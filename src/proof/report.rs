//! The whole proof of a program in one report: read, run, swept, and everything that is to be said of it.

use super::sweep::{Sweep, sweep_after};
use crate::diagnostics::{Finding, Rank};
use crate::face::Face;
use crate::job::Job;
use crate::simulate::simulation::{SkipSwitch, merge, run};
use crate::simulate::{ReaderOptions, read};
use crate::units::{Length, Time};
use serde::Serialize;
use std::fmt;

/// What follows from the findings.
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

/// Everything that proof knows of a program.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Report {
    /// What follows.
    pub verdict: Verdict,
    /// Lines of the program that hold anything.
    pub blocks: usize,
    /// Motions it makes.
    pub movements: usize,
    /// How long its motions take, seconds; none where a speed or feed is missing.
    pub seconds: Option<f64>,
    /// What it does to the metal, and all findings: the heaviest first, then in the order of the lines.
    #[serde(flatten)]
    pub sweep: Sweep,
}

/// What else the proof must know.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Circumstances {
    /// What an earlier program took off the face as measured.
    pub already: Length,
    /// Whether another program of the job follows: what this one leaves undone is then no more than a note. It changes no stop.
    pub goes_on: bool,
}

/// Proves a program against a job and its face.
#[must_use]
pub fn prove(text: &[u8], job: &Job, face: &Face) -> Report {
    prove_in(text, job, face, &Circumstances::default())
}

/// Proves a program that follows on another.
#[must_use]
pub fn prove_in(text: &[u8], job: &Job, face: &Face, circumstances: &Circumstances) -> Report {
    let text = read(text, ReaderOptions::of(&job.control));
    let run = run(&text, job);
    let swept = |switch: SkipSwitch| {
        let way = run.executions.iter().find(|w| w.switch == switch)?;
        Some((way, sweep_after(&way.movements, job, face, circumstances)))
    };
    let none = || sweep_after(&[], job, face, circumstances);
    let (way, mut sweep) = swept(SkipSwitch::Off).map_or_else(|| (None, none()), |(w, s)| (Some(w), s));
    let mut findings = std::mem::take(&mut sweep.findings);
    if let Some((_, other)) = swept(SkipSwitch::On) {
        findings = merge(findings, other.findings);
    }
    let run_findings = run.findings.clone();
    findings.retain(|f| !said_before(f, &run_findings));
    findings.extend(run_findings);
    findings.sort_by(|a, b| b.rank.cmp(&a.rank).then(a.line.cmp(&b.line)));
    findings.dedup();
    Report {
        verdict: verdict(&findings),
        blocks: text.blocks.len(),
        movements: way.map_or(0, |w| w.movements.len()),
        seconds: way.and_then(|w| w.time).map(Time::as_s),
        sweep: Sweep { findings, ..sweep },
    }
}

/// Whether the run has said the same of the same line, or the same kind of warning anywhere.
fn said_before(finding: &Finding, run: &[Finding]) -> bool {
    let twin = match finding.kind {
        "feed" => ["feed-coarse", "other-feed"],
        "surface-speed" => ["other-surface-speed", "no-speed"],
        "tool" => ["no-tool", "other-tool"],
        "over-speed" => ["over-speed", "no-spindle-limit"],
        "cut-standing" => ["spindle-off", "spindle-off"],
        _ => return false,
    };
    run.iter().any(|r| twin.contains(&r.kind) && r.rank >= finding.rank)
}

fn verdict(findings: &[Finding]) -> Verdict {
    match findings.iter().map(|f| f.rank).max() {
        Some(Rank::Stop) => Verdict::Stop,
        Some(Rank::Warning) => Verdict::Look,
        Some(Rank::Note) | None => Verdict::Sound,
    }
}

impl Report {
    /// All findings: the heaviest first, then in the order of the lines.
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
