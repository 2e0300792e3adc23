//! What the traces say about this wheel: is the measurement good, does the wheel run true, how deep must
//! it be cut, is there metal enough, how many passes; or send it away.
//!
//! A [`Survey`] holds numbers and findings, and the face. The face is given out for cutting only by
//! [`Survey::cleared`], and only where nothing stands against it: what the survey refuses cannot be planned.

pub mod depth;
mod judge;
mod running;

pub use depth::{Kind, Pass, Passes, passes_for};

pub use crate::diagnostics::{Finding, Rank, Topic};
use crate::face::restore::Restored;
use crate::face::{self, Face, FaceError, Voucher};
use crate::job::Job;
use crate::scan::Trace;
use serde::Serialize;

/// Whether the wheel is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// As it is mounted.
    Cut,
    /// Only after it has been mounted truer and measured again.
    CutAfterRemounting,
    /// Not.
    DoNotCut,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::CutAfterRemounting => "cut after remounting",
            Self::DoNotCut => "do not cut",
        }
    }
}

/// One measured line.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LineQuality {
    /// Angle of the wheel, degrees.
    pub at_deg: f64,
    /// Points measured.
    pub points: usize,
    /// Readings on which the sensor saw nothing.
    pub missing: usize,
    /// Points removed as stuck, spikes or outliers.
    pub removed: usize,
    /// Usual distance between neighbouring points, millimetres.
    pub spacing_mm: f64,
    /// Noise of one place before the filter (standard deviation), millimetres.
    pub noise_mm: f64,
    /// How far the noise that the filter left lifts the path of a tool of 1 mm nose radius, millimetres.
    pub lift_mm: f64,
    /// The most that the filter moved a place, and the radius there, millimetres.
    pub moved_mm: [f64; 2],
    /// Edges that a plain filter would have rounded and that were kept.
    pub edges_kept: usize,
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
}

/// How the wheel runs; all figures are the worst within the zones.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunOut {
    /// As mounted: the largest over the radii of highest less lowest place of one turn (ISO 1101), millimetres.
    pub as_mounted_mm: f64,
    /// Radius of that, millimetres.
    pub as_mounted_at_mm: f64,
    /// What it stays with the tilt of the mounting taken off: bend, millimetres.
    pub bend_mm: f64,
    /// Radius of that, millimetres.
    pub bend_at_mm: f64,
    /// Uncertainty of the highest and the lowest place (two standard deviations), millimetres.
    pub uncertainty_mm: f64,
    /// Lines beyond what the fit uses up; with none to spare nothing checks it between the lines.
    pub lines_to_spare: usize,
    /// The tilt of the mounting, where three lines show it.
    pub tilt: Option<Tilt>,
}

/// The tilt of the mounting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tilt {
    /// How far the high side stands above the low side at the rim, millimetres.
    pub at_rim_mm: f64,
    /// The rim: the outermost radius of the zones, millimetres.
    pub rim_mm: f64,
    /// Angle of the high side, degrees.
    pub high_side_deg: f64,
    /// Where to shim: the side opposite the high one, degrees.
    pub shim_at_deg: f64,
}

/// A damaged stretch.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DamageFound {
    /// The line that shows it, degrees; none for damage that the job lists.
    pub line_deg: Option<f64>,
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
    /// Depth below the mended face, millimetres.
    pub depth_mm: f64,
    /// How well that is known (three standard deviations), millimetres; none for damage that the job lists.
    pub uncertainty_mm: Option<f64>,
    /// Radius of the deepest place, millimetres; none for damage that the job lists.
    pub deepest_at_mm: Option<f64>,
    /// What the face was mended by, so that the dent is not cut into the whole turn.
    pub mended_by: Option<MendedBy>,
}

/// What a dent was mended by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MendedBy {
    /// Two other lines or more that agree there.
    OtherLines,
    /// The face on both sides of it.
    Margins,
    /// One other line, with nothing to hold it against.
    OneOtherLine,
}

impl From<Voucher> for MendedBy {
    fn from(v: Voucher) -> Self {
        match v {
            Voucher::Lines => Self::OtherLines,
            Voucher::Margins => Self::Margins,
            Voucher::OneLine => Self::OneOtherLine,
        }
    }
}

/// How deep the face must come down, millimetres from the highest place of the turn.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Depth {
    /// Clean-up depth in all: what must come off the highest place for the last damage to go at the lowest.
    pub clean_up_mm: f64,
    /// Radius that asks for the most.
    pub deepest_at_mm: f64,
    /// Run-out there, a part of it.
    pub run_out_there_mm: f64,
    /// Damage there, the other part.
    pub damage_there_mm: f64,
    /// What it would be with the wheel mounted without tilt.
    pub mounted_true_mm: f64,
    /// The passes of the schedule.
    pub passes: Passes,
    /// Why the schedule has no passes for it, if it has none.
    pub refused: Option<String>,
    /// What would remain to be cleaned after all passes; zero where they suffice.
    pub remains_mm: f64,
    /// What would remain if the job stopped one pass early.
    pub remains_one_pass_early_mm: f64,
    /// Clean-up depth over the radius, the deepest of each millimetre.
    pub curve: Vec<CurvePoint>,
}

/// Clean-up depth at a radius.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct CurvePoint {
    /// Radius, millimetres.
    pub r_mm: f64,
    /// Clean-up depth, millimetres.
    pub clean_up_mm: f64,
    /// Run-out in it, millimetres.
    pub run_out_mm: f64,
    /// Damage in it, millimetres.
    pub damage_mm: f64,
}

/// The metal the wheel may lose, millimetres.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AllowanceUse {
    /// All that may ever be taken.
    pub limit_mm: f64,
    /// What earlier jobs took.
    pub taken_mm: f64,
    /// What this job would take.
    pub this_job_mm: f64,
    /// What may still be taken after it; below zero where there is too little.
    pub left_mm: f64,
    /// How many more jobs as deep as this one would fit.
    pub more_such_jobs: u32,
}

/// What the traces say about a wheel.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Survey {
    /// What the person calls the job.
    pub job: String,
    /// The wheel.
    pub wheel: String,
    /// Whether it is cut.
    pub verdict: Verdict,
    /// Everything found, by topic, the heaviest of each first.
    pub findings: Vec<Finding>,
    /// The measured lines.
    pub lines: Vec<LineQuality>,
    /// Noise that is left between the lines (standard deviation), millimetres.
    pub noise_mm: f64,
    /// How the wheel runs, where two lines or more show it.
    pub run_out: Option<RunOut>,
    /// Damage, in the order of radius.
    pub damage: Vec<DamageFound>,
    /// How deep the face must come down.
    pub depth: Depth,
    /// The metal it costs.
    pub allowance: AllowanceUse,
    #[serde(skip)]
    face: Face,
    #[serde(skip)]
    restored: Restored,
}

/// The survey stands against the cut.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{}:\n  {}", verdict.words(), reasons.join("\n  "))]
pub struct NotClearedError {
    /// Its verdict.
    pub verdict: Verdict,
    /// What stands against it, each with what to do.
    pub reasons: Vec<String>,
}

impl Survey {
    /// The face, where nothing stands against cutting it.
    ///
    /// # Errors
    /// Whatever the verdict is but `cut`.
    pub fn cleared(&self) -> Result<&Face, NotClearedError> {
        if self.verdict == Verdict::Cut {
            return Ok(&self.face);
        }
        let against = self.findings.iter().filter(|f| !f.rank.is_told());
        Err(NotClearedError {
            verdict: self.verdict,
            reasons: against.map(|f| format!("{} {}", f.what, f.remedy).trim_end().to_owned()).collect(),
        })
    }

    /// The face as surveyed, to be looked at. To cut, ask for [`Survey::cleared`].
    #[must_use]
    pub const fn face(&self) -> &Face {
        &self.face
    }

    /// All that was found on the way to the face.
    #[must_use]
    pub const fn restored(&self) -> &Restored {
        &self.restored
    }

    /// The documented JSON form, with a line end.
    ///
    /// # Errors
    /// None that is known: the survey holds nothing that JSON lacks.
    pub fn json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self).map(|text| text + "\n")
    }
}

/// Surveys a wheel by its traces.
///
/// # Errors
/// If there is no trace, or a zone is not covered by every line.
pub fn survey(job: &Job, traces: &[Trace]) -> Result<Survey, FaceError> {
    let (face, restored) = face::restored(traces, job)?;
    let run_out = running::run_out(job, &restored);
    let depth = depth::depth(job, &face, &restored);
    let allowance = depth::allowance(job, &depth.passes);
    let damage = damage(job, &restored);
    let noise_mm = restored.consensus.sigma;
    let findings = judge::findings(job, traces, &restored, run_out.as_ref(), &depth, &allowance);
    let verdict = match findings.iter().map(|f| f.rank).max() {
        Some(Rank::Remount) => Verdict::CutAfterRemounting,
        Some(rank) if !rank.is_told() => Verdict::DoNotCut,
        _ => Verdict::Cut,
    };
    Ok(Survey {
        job: job.title.clone(),
        wheel: job.wheel.name.clone(),
        verdict,
        findings,
        lines: traces.iter().map(line_quality).collect(),
        noise_mm,
        run_out,
        damage,
        depth,
        allowance,
        face,
        restored,
    })
}

fn line_quality(t: &Trace) -> LineQuality {
    LineQuality {
        at_deg: t.at.as_deg(),
        points: t.report.measured,
        missing: t.report.missing,
        removed: t.report.outvoted + t.report.removed.iter().map(|r| r.points).sum::<usize>(),
        noise_mm: t.report.noise.as_mm(),
        lift_mm: t.report.lift.as_mm(),
        moved_mm: [t.report.moved_most.value.as_mm(), t.report.moved_most.at.as_mm()],
        edges_kept: t.report.edges.len(),
        spacing_mm: t.report.spacing.as_mm(),
        from_mm: t.profile.start(),
        to_mm: t.profile.end(),
    }
}

fn damage(job: &Job, restored: &Restored) -> Vec<DamageFound> {
    let listed = job.damage.iter().map(|d| DamageFound {
        line_deg: None,
        from_mm: d.from.as_mm(),
        to_mm: d.to.as_mm(),
        depth_mm: d.depth.as_mm(),
        uncertainty_mm: None,
        deepest_at_mm: None,
        mended_by: None,
    });
    // Beyond the zones a line may have run off the face, where nothing is cut.
    let traced = restored.dents.iter().filter(|d| judge::in_zones(job, d)).map(|d| DamageFound {
        line_deg: restored.lines.angle.get(d.line).map(|a| a.to_degrees()),
        from_mm: d.from,
        to_mm: d.to,
        depth_mm: d.depth,
        uncertainty_mm: Some(d.uncertainty),
        deepest_at_mm: Some(d.deepest),
        mended_by: Some(d.voucher.into()),
    });
    let mut found: Vec<DamageFound> = listed.chain(traced).collect();
    found.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    found
}
