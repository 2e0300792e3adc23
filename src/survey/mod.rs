//! What the lines say about this wheel: is the measurement good, does the wheel run true, how deep must
//! it be cut, is there metal enough, how many passes; or send it away.
//!
//! A [`Survey`] holds numbers and findings, and the face. The face is given out for cutting only by
//! [`Survey::cleared`], and only where nothing stands against it: what the survey refuses cannot be planned.

mod again;
mod along;
mod coverage;
pub mod depth;
mod dial;
mod harm;
mod judge;
mod measurement;
mod metal;
mod noise;
mod push;
mod quality;
mod rings;
mod running;

pub use again::{Again, DamageStill, NotTouched, TakenAt};
pub use along::{Along, Cost, Place};
pub use depth::{Kind, Pass, Passes, passes_for};

use crate::diagnostics::SurveyRule;
use crate::diagnostics::text::escaped_json;
pub use crate::diagnostics::{Finding, Rank, Topic};
use crate::face::model::{WheelModel, Witness};
use crate::face::{self, Face, FaceError, OneLine};
use crate::geometry::{Point, Profile};
use crate::job::{Job, Sensor};
use crate::numeric::order::median;
use crate::numeric::waviness::Noise;
use crate::scan::{Cleaned, MeasuredLine, MeasuredLines, Reading, ball};
use crate::units::Length;
use serde::Serialize;

/// Whether the wheel is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// As it is mounted.
    Cut,
    /// Once the job settles what a person must decide.
    DecideFirst,
    /// Only after it has been mounted truer and measured again.
    CutAfterRemounting,
    /// The measurement cannot be believed: nothing is said of the wheel.
    MeasureAgain,
    /// Not.
    DoNotCut,
}

impl Verdict {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::DecideFirst => "decide first",
            Self::CutAfterRemounting => "cut after remounting",
            Self::MeasureAgain => "measure again",
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
    /// Lines of a summary below the readings, left aside.
    #[serde(skip_serializing_if = "is_none_left")]
    pub summary_lines: usize,
    /// Readings that the face was not fitted to, though they stand in calm company: false, or in no scrape.
    pub removed: usize,
    /// Usual distance between neighbouring points, millimetres.
    pub spacing_mm: f64,
    /// Noise of one reading (standard deviation), millimetres.
    pub noise_mm: f64,
    /// How many times the sensor was driven across.
    pub sweeps: usize,
    /// Radii from and to over which it met no metal.
    pub no_metal_mm: Vec<[f64; 2]>,
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
}

/// What is left out where there is none of it.
#[expect(clippy::trivially_copy_pass_by_ref, reason = "as the serializer calls it")]
const fn is_none_left(count: &usize) -> bool {
    *count == 0
}

/// How the wheel runs; all figures are the worst within the zones.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RunOut {
    /// As mounted: the largest over the radii of highest less lowest place of one turn along the axis (ISO 1101), of an eccentric
    /// wall no more than is cut for, millimetres.
    pub as_mounted_mm: f64,
    /// Radius of that, millimetres.
    pub as_mounted_at_mm: f64,
    /// What it stays with the tilt of the mounting taken off: bend, millimetres.
    pub bend_mm: f64,
    /// Radius of that, millimetres.
    pub bend_at_mm: f64,
    /// Uncertainty of the highest and the lowest place (two standard deviations), millimetres.
    pub uncertainty_mm: f64,
    /// How far the face stands off the spindle's axis, where the lines show it, millimetres.
    pub eccentricity_mm: Option<f64>,
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

/// What the sound face beside a dent rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum MendedBy {
    /// Two other lines or more that agree there.
    OtherLines,
    /// One other line, and the face on both sides.
    OneLineAndMargins,
    /// The face on both sides of it.
    Margins,
    /// The face on both sides, and the differences of lines that are all damaged.
    DamageAllRound,
    /// One other line, with nothing to hold it against.
    OneOtherLine,
}

impl MendedBy {
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::OtherLines => "the other lines",
            Self::OneLineAndMargins => "one other line and the face on both sides",
            Self::Margins => "the face on both sides",
            Self::DamageAllRound => "the face on both sides, since every line is damaged",
            Self::OneOtherLine => "one other line",
        }
    }

    const fn of(witness: Witness) -> Self {
        match witness {
            Witness::TwoLines => Self::OtherLines,
            Witness::OneLineAndContinuation => Self::OneLineAndMargins,
            Witness::Continuation | Witness::Listed => Self::Margins,
            Witness::DamageAllRound => Self::DamageAllRound,
            Witness::OneLine => Self::OneOtherLine,
        }
    }
}

/// How deep the face must come down, millimetres below the surface that passes follow.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Depth {
    /// Clean-up depth in all: what must come off the highest place for the last damage to go at the lowest.
    pub clean_up_mm: f64,
    /// Radius that asks for the most.
    pub deepest_at_mm: f64,
    /// Run-out that is cut for there, a part of it.
    pub run_out_there_mm: f64,
    /// Damage there, the other part.
    pub damage_there_mm: f64,
    /// What it would be with the wheel mounted without tilt.
    pub mounted_true_mm: f64,
    /// The depth that is gone already where the wheel was measured again: the passes go on from there.
    pub begins_mm: f64,
    /// The passes of the schedule.
    pub passes: Passes,
    /// Why the schedule has no passes for it, if it has none.
    pub refused: Option<String>,
    /// What would remain to be cleaned after all passes; zero where they suffice.
    pub remains_mm: f64,
    /// What would remain if the job stopped one pass early.
    pub remains_one_pass_early_mm: f64,
    /// What the same clean-up costs along each face that could be cut.
    pub along: Along,
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
    /// Run-out that is cut for, in it, millimetres.
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

/// What the lines say about a wheel.
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
    /// Usual standard error of the face inside the zones, millimetres.
    pub noise_mm: f64,
    /// How the wheel runs, where two lines or more show it.
    pub run_out: Option<RunOut>,
    /// Damage, in the order of radius.
    pub damage: Vec<DamageFound>,
    /// How deep the face must come down.
    pub depth: Depth,
    /// The metal it costs.
    pub allowance: AllowanceUse,
    /// What lines measured again say, if there are any.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub again: Option<Again>,
    #[serde(skip)]
    readings: Vec<Vec<Point>>,
    #[serde(skip)]
    face: Face,
    #[serde(skip)]
    model: WheelModel,
    #[serde(skip)]
    noise: Option<Noise>,
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

    /// What a person must look at before the cut, although nothing stands against it.
    pub fn warnings(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|f| f.rank == Rank::Warning)
    }

    /// Which face is cut, and what that and the others cost, in words.
    #[must_use]
    pub fn which_face(&self) -> Option<&str> {
        self.findings.iter().find(|f| f.rule == SurveyRule::WhichFace.into()).map(|f| f.what.as_str())
    }

    /// The depth from which passes to come are counted, below the highest place as measured at first: what stands after lines were
    /// measured again, or else nothing.
    #[must_use]
    pub fn begins(&self) -> Length {
        again::begins(self.again.as_ref())
    }

    /// The model of the wheel.
    #[must_use]
    pub const fn model(&self) -> &WheelModel {
        &self.model
    }

    /// The noise of the readings as one row, by which the waviness of a finished face is expected; none where it is not known.
    #[must_use]
    pub const fn noise(&self) -> Option<Noise> {
        self.noise
    }

    /// The lines as they are drawn, in the order of the job: radius and height in rising order, a height that is no number
    /// where nothing was measured.
    #[must_use]
    pub fn readings(&self) -> &[Vec<Point>] {
        &self.readings
    }

    /// The documented JSON form, with a line end.
    ///
    /// # Errors
    /// None that is known: the survey holds nothing that JSON lacks.
    pub fn json(&self) -> serde_json::Result<String> {
        serde_json::to_string_pretty(self).map(|text| escaped_json(&text) + "\n")
    }
}

/// Surveys a wheel by its measured lines.
///
/// # Errors
/// If the lines make no model, or a zone reaches beyond what was measured.
pub fn survey(job: &Job, lines: &MeasuredLines) -> Result<Survey, FaceError> {
    // All of it on the threads that share the work: from any other each share would be waited for asleep.
    rayon::scope(|_| surveyed(job, lines))
}

fn surveyed(job: &Job, lines: &MeasuredLines) -> Result<Survey, FaceError> {
    let model = measurement::fitted(job, lines)?;
    covered(job, &model)?;
    let seen = coverage::spread(&model.angles).distinct;
    let quality: Vec<LineQuality> =
        lines.lines.iter().enumerate().map(|(k, l)| line_quality(&model, k, l)).collect();
    let (face, (rings, noise)) = rayon::join(
        || face::over_turn(&model, &job.damage, one_line(job, seen)),
        || rayon::join(|| rings::rings(job, &model), || noise::row(job, &quality, &model)),
    );
    let mut face = face?;
    let as_seen = face.highest.clone();
    if let Sensor::Ball { diameter } = job.measured.sensor {
        face = under_ball(face, diameter.as_mm() / 2.0)?;
    }
    let round = lines.rings.iter().map(|r| r.heights.len()).max().unwrap_or(0);
    // Chosen by the first lines alone: what was cut since followed the place that they led to.
    let along = along::along(job, &model, &face, seen.max(round));
    if along.cut != Place::Highest {
        face = face.cut_along(along.cut.share(), &job.zones)?;
    }
    let raised = |p: Point| p.z + face.follows().at(p.x) - face.highest.at(p.x);
    let followed = as_seen.map(raised);
    let again = again::look(job, lines, &model, &followed, &mut face)?;
    let run_out = running::run_out(job, &model, &face, &rings, seen.max(round));
    let begins = again::begins(again.as_ref());
    let depth = depth::depth(job, &face, &rings, along, begins);
    let gone = Length::mm(again.as_ref().map_or(0.0, |a| a.most_mm));
    let allowance = depth::allowance(job, &depth.passes, [begins, gone]);
    let case = judge::Case {
        job,
        lines,
        model: &model,
        rings: &rings,
        run_out: run_out.as_ref(),
        depth: &depth,
        allowance: &allowance,
        again: again.as_ref(),
    };
    let findings = judge::findings(&case);
    Ok(Survey {
        job: job.title.clone(),
        wheel: job.wheel.name.clone(),
        verdict: verdict(&findings),
        findings,
        noise,
        lines: quality,
        noise_mm: face_error(job, &model),
        run_out,
        damage: damage(job, &model),
        depth,
        allowance,
        again,
        readings: lines.lines.iter().map(|l| drawn(&l.line)).collect(),
        face: face.with_windows(&job.runs_off.windows_mm().collect::<Vec<_>>())?,
        model,
    })
}

/// The verdict that findings lead to: what cannot be cut before what must be measured again, that before remounting.
fn verdict(findings: &[Finding]) -> Verdict {
    let stopped_by = |measurement: bool| {
        findings.iter().any(|f| f.rank == Rank::Stop && is_of_the_measurement(f) == measurement)
    };
    if stopped_by(false) {
        Verdict::DoNotCut
    } else if stopped_by(true) {
        Verdict::MeasureAgain
    } else if findings.iter().any(|f| f.rank == Rank::Remount) {
        Verdict::CutAfterRemounting
    } else if findings.iter().any(|f| !f.rank.is_told()) {
        Verdict::DecideFirst
    } else {
        Verdict::Cut
    }
}

/// Whether a finding speaks of the measurement and not of the wheel: another measurement can take it away.
fn is_of_the_measurement(finding: &Finding) -> bool {
    let unseen = [SurveyRule::BendUnseen, SurveyRule::IndicatorHidesBend];
    finding.rule.topic() == Topic::Quality || unseen.iter().any(|&rule| finding.rule == rule.into())
}

/// Whether the zones lie within what was measured.
fn covered(job: &Job, model: &WheelModel) -> Result<(), FaceError> {
    let (start, end) = (model.grid.start, model.grid.end());
    match job.zones.iter().find(|z| z.from.as_mm() < start || z.to.as_mm() > end) {
        None => Ok(()),
        Some(zone) => Err(FaceError::NotCovered {
            from: zone.from,
            to: zone.to,
            start: Length::mm(start),
            end: Length::mm(end),
        }),
    }
}

fn one_line(job: &Job, seen: usize) -> Option<OneLine> {
    let run_out = job.measured.run_out.filter(|_| seen < 2)?.as_mm();
    let rim = job.zones.iter().map(|z| z.to.as_mm()).fold(0.0, f64::max);
    Some(OneLine { run_out, touch_off: job.touch_off_radius().as_mm(), rim })
}

/// The face under a ball's readings, which are the dilation of the face by the ball.
fn under_ball(face: Face, radius: f64) -> Result<Face, FaceError> {
    let under = |p: &Profile| Profile::new(ball::surface(p, radius).0);
    Ok(Face {
        highest: under(&face.highest)?,
        followed: None,
        lowest: under(&face.lowest)?,
        damage: face.damage,
        errors: face.errors,
        taken: face.taken,
    })
}

/// The face's usual standard error inside the zones (median), millimetres.
fn face_error(job: &Job, model: &WheelModel) -> f64 {
    let inside = |r: f64| job.zones.iter().any(|z| z.from.as_mm() <= r && r <= z.to.as_mm());
    let all = model.face_error.iter().enumerate().filter(|(i, e)| inside(model.grid.at(*i)) && e.is_finite());
    let mut errors: Vec<f64> = all.map(|(_, e)| *e).collect();
    median(&mut errors).unwrap_or(0.0)
}

fn line_quality(model: &WheelModel, line: usize, l: &Cleaned) -> LineQuality {
    let aside = model.set_aside.iter().filter(|s| s.line == line).map(|s| s.readings).sum::<usize>();
    let radii = l.line.readings.iter().filter(|r| !r.suspect).map(|r| r.x);
    let (from_mm, to_mm) = radii.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(x), b.max(x)));
    LineQuality {
        at_deg: l.line.at.to_degrees(),
        points: l.cleaning.measured,
        missing: l.cleaning.missing,
        summary_lines: l.cleaning.summary,
        removed: aside,
        spacing_mm: l.cleaning.spacing,
        noise_mm: l.line.noise,
        sweeps: l.line.sweeps,
        no_metal_mm: l.line.no_metal.iter().map(|s| [s.from, s.to]).collect(),
        from_mm,
        to_mm,
    }
}

fn damage(job: &Job, model: &WheelModel) -> Vec<DamageFound> {
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
    let seen = harm::seen(model).filter(|d| coverage::in_zones(job, &d.stretch)).map(|d| DamageFound {
        line_deg: d.line.and_then(|line| model.angles.get(line)).map(|a| a.to_degrees()),
        from_mm: d.stretch.from,
        to_mm: d.stretch.to,
        depth_mm: d.depth,
        uncertainty_mm: Some(harm::COVERAGE * d.error),
        deepest_at_mm: Some(harm::deepest_at(d)),
        mended_by: Some(MendedBy::of(d.witness)),
    });
    let mut found: Vec<DamageFound> = listed.chain(seen).collect();
    found.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    found
}

/// From one place of a drawn line to the next, millimetres: finer than a picture shows.
const DRAWN: f64 = 0.2;

/// A line as it is drawn: the mean of the readings that stand, in narrow bins, in rising order; a height that is no
/// number breaks it where nothing was measured.
fn drawn(line: &MeasuredLine) -> Vec<Point> {
    let mut all: Vec<&Reading> = line.readings.iter().filter(|r| !r.suspect).collect();
    all.sort_by(|a, b| a.x.total_cmp(&b.x));
    let mut out: Vec<Point> = Vec::new();
    for bin in all.chunk_by(|a, b| (a.x / DRAWN).floor() == (b.x / DRAWN).floor()) {
        let n = bin.len() as f64;
        let mean = |of: fn(&Reading) -> f64| bin.iter().map(|r| of(r)).sum::<f64>() / n;
        let place = Point::new(mean(|r| r.x), mean(|r| r.z));
        if let Some(last) = out.last()
            && place.x - last.x > BROKEN
        {
            out.push(Point::new(f64::midpoint(last.x, place.x), f64::NAN));
        }
        out.push(place);
    }
    out
}

/// A drawn line breaks over a gap of this length, millimetres.
const BROKEN: f64 = 2.0;
