//! What `write` did, as one JSON object for other programs.
//!
//! Lengths are millimetres, speeds rpm and m/min, feeds mm/rev, times seconds, whatever the shop's units are: a script reads one form.

use crate::diagnostics::Finding;
use crate::diagnostics::text::escaped_json;
use crate::job::Job;
use crate::plan::{Operation, Pass, Plan};
use crate::proof::Report;
use serde::Serialize;

/// One file that was written, or the text itself where it went to standard output.
#[derive(Debug, Serialize)]
pub struct WrittenFile<'a> {
    /// The file; none where the program is in `text`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub file: Option<String>,
    /// The program, where no file was named.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<&'a str>,
    /// How many blocks it has.
    pub blocks: usize,
    /// How long it takes, without stops and tool changes, seconds.
    pub time_s: f64,
    /// The passes of a part, and its time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub holds: Option<String>,
    /// What came off before it since the wheel was measured last, millimetres: what `--already` says to prove it alone.
    pub already_mm: f64,
    /// Whether another program of the job follows.
    pub goes_on: bool,
    /// How much will be off when that one begins, as `already_mm` counts it; none where that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ends_at_mm: Option<f64>,
    /// Rest passes of the parts before it.
    pub rest_passes_before: u32,
    /// Its proof.
    pub proof: &'a Report,
}

#[derive(Debug, Serialize)]
struct Written<'a> {
    job: &'a str,
    wheel: &'a str,
    spindle_limit_rpm: f64,
    already_mm: f64,
    removed_mm: f64,
    needed_mm: f64,
    allowance_left_mm: f64,
    passes: Vec<JsonPass<'a>>,
    findings: &'a [Finding],
    programs: &'a [WrittenFile<'a>],
}

#[derive(Debug, Serialize)]
struct JsonPass<'a> {
    tool: &'a str,
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    ring: Option<&'a str>,
    depth_mm: f64,
    total_mm: f64,
    feed_mm_per_rev: f64,
    surface_speed_m_per_min: f64,
    time_s: f64,
}

fn pass<'a>((operation, pass): (&'a Operation, &'a Pass)) -> JsonPass<'a> {
    JsonPass {
        tool: &operation.tool.name,
        kind: pass.kind.name(),
        ring: pass.ring.as_deref(),
        depth_mm: pass.depth.as_mm(),
        total_mm: pass.total.as_mm(),
        feed_mm_per_rev: pass.feed.as_mm_per_rev(),
        surface_speed_m_per_min: pass.surface_speed.as_mm_per_min() / 1000.0,
        time_s: pass.figures.time().as_s(),
    }
}

/// The object.
///
/// # Errors
/// If a number cannot be written as JSON.
pub fn json(job: &Job, plan: &Plan, programs: &[WrittenFile<'_>]) -> Result<String, serde_json::Error> {
    let passes =
        plan.operations.iter().flat_map(|o| o.passes.iter().map(move |p| (o, p))).map(pass).collect();
    let written = Written {
        job: &job.title,
        wheel: &job.wheel.name,
        spindle_limit_rpm: plan.spindle_limit.as_rpm(),
        already_mm: plan.already.as_mm(),
        removed_mm: plan.removed.as_mm(),
        needed_mm: plan.needed.as_mm(),
        allowance_left_mm: plan.left.as_mm(),
        passes,
        findings: &plan.findings,
        programs,
    };
    Ok(escaped_json(&serde_json::to_string_pretty(&written)?) + "\n")
}
