//! What a survey says, held against the truth.
//!
//! Every bound comes from the measurement. With readings `s` apart of independent noise `σ` and texture `τ` alike over `ℓ`,
//! the mean of a line over a width `W` has the variance `v/W`, `v = σ²·s + 2τ²·ℓ`. A filter of cut-off `λ` counts as
//! `W = √2·α·λ` (the integral of the square of the Gaussian of ISO 16610-21, inverted), and the face is the mean of all lines.
//! On top of noise stands what the filter may move a curved face by, `α²λ²/(4π)·z″`, the second moment of the same Gaussian,
//! which a second-order regression does not need and a plain Gaussian uses up.

use super::trial::{FILTER, Trial};
use super::wheel::turned;
use facewright::survey::{Survey, Verdict};
use std::f64::consts::PI;

/// α of ISO 16610-21: `√(ln 2 / π)`.
const ALPHA: f64 = 0.469_718_639_2;
/// So many standard errors hold 99.7 % of the radii.
const MOST: f64 = 3.0;
/// What no bound goes below: the survey's words have a thousandth of a millimetre, and scans five decimals.
const LEAST: f64 = 0.001;
/// At single radii: a fifth of the demo's finish depth. Deeper than this the eye finds a step, and a pass bites more than planned.
const ANYWHERE: f64 = 0.010;
/// A bend begins with this length of the rim at least, and its amplitudes are read off it.
const SHORTEST_BEND: f64 = 15.0;
/// The shape of damage under a kerb is bridged from both sides: known within what a foot tells.
const UNDER_RASH: f64 = 0.02;

/// A complaint: what is wrong and by how much.
#[derive(Debug, Clone)]
pub struct Complaint {
    /// What.
    pub what: &'static str,
    /// By how much, millimetres, and what would be allowed.
    pub is: f64,
    /// The bound.
    pub bound: f64,
    /// The radius, where it has one.
    pub at: f64,
}

impl std::fmt::Display for Complaint {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {:.4} (bound {:.4}) at {:.1}", self.what, self.is, self.bound, self.at)
    }
}

/// The true figures of a trial.
#[derive(Debug, Clone)]
pub struct Truth {
    /// Radii of the zone.
    pub radii: Vec<f64>,
    /// Highest place of the turn.
    pub highest: Vec<f64>,
    /// Lowest sound place.
    pub lowest: Vec<f64>,
    /// Depth of the deepest damage that a line crosses.
    pub damage: Vec<f64>,
    /// From the highest place to the bottom of the damage, on the line where it is.
    pub need: Vec<f64>,
    /// Bound of the highest place at each radius.
    pub bound: Vec<f64>,
}

/// Variance times width of the mean of a line, mm³, averaged over the lines.
fn spread(trial: &Trial) -> f64 {
    let of = |line: &super::trial::Line| {
        let s = line.sensor;
        // Heavy tails of three degrees of freedom: a robust mean loses no more than their variance.
        let noise = s.noise * s.noise * (1.0 + 2.0 * s.tails) + s.quantum * s.quantum / 12.0;
        // Uneven speed and readings set aside cost a half at most.
        1.5 * noise * line.hand.pitch + 2.0 * s.texture[0] * s.texture[0] * s.texture[1]
    };
    trial.lines.iter().map(of).sum::<f64>() / trial.lines.len() as f64
}

/// What the filter may move a face of such a curvature by.
fn bias(curvature: f64) -> f64 {
    ALPHA * ALPHA * FILTER * FILTER / (4.0 * PI) * curvature.abs()
}

impl Truth {
    /// The truth of a trial.
    pub fn of(trial: &Trial) -> Self {
        let radii = trial.radii();
        let lines = trial.lines.len() as f64;
        let v = spread(trial);
        let face = (v / (2.0_f64.sqrt() * ALPHA * FILTER * lines)).sqrt();
        // Two of n amplitudes make a wave; each is read off the length over which a bend grows.
        let waves = 1.0 + trial.wheel.bends.len() as f64;
        let turn = (v / SHORTEST_BEND * 2.0 * waves / lines).sqrt();
        // The axis is told by slopes: its variance is v over half the lines' summed squares of the slope.
        let shapes: Vec<[f64; 2]> = radii.iter().map(|&r| trial.wheel.slope_and_curvature(r)).collect();
        let steep: f64 = shapes.iter().map(|[s, _]| s * s * 0.25).sum();
        let axis = if trial.wheel.off_centre[0] > 0.0 {
            (v / (steep * lines / 2.0).max(1e-12)).sqrt().min(trial.wheel.off_centre[0])
        } else {
            0.0
        };
        let mut out = Self {
            highest: Vec::new(),
            lowest: Vec::new(),
            damage: Vec::new(),
            need: Vec::new(),
            bound: Vec::new(),
            radii: radii.clone(),
        };
        for (&r, [slope, _]) in radii.iter().zip(&shapes) {
            let turn_at = trial.wheel.turn(r);
            let deepest = trial.lines.iter().fold((0.0, turn_at.highest - turn_at.lowest), |(d, n), line| {
                let depth = trial.wheel.depth(r, line.angle);
                let metal = trial.wheel.height(r, line.angle);
                let need = metal.map_or(0.0, |z| turn_at.highest - z);
                (f64::max(d, if metal.is_some() { depth } else { 0.0 }), f64::max(n, need))
            });
            let curved = (-4..=4)
                .map(|k| trial.wheel.slope_and_curvature(r + 0.25 * f64::from(k))[1].abs())
                .fold(0.0, f64::max);
            out.highest.push(turn_at.highest);
            out.lowest.push(turn_at.lowest);
            out.damage.push(deepest.0);
            out.need.push(deepest.1);
            out.bound.push(LEAST + MOST * (face.hypot(turn).hypot(slope * axis)) + bias(curved));
        }
        out
    }

    fn most(of: &[f64]) -> f64 {
        of.iter().copied().fold(0.0, f64::max)
    }

    /// The run-out as mounted: the largest over the zone.
    pub fn run_out(&self) -> f64 {
        self.highest.iter().zip(&self.lowest).map(|(h, l)| h - l).fold(0.0, f64::max)
    }

    /// What must come off at least for all that the lines show to be gone.
    pub fn clean_up(&self) -> f64 {
        Self::most(&self.need)
    }

    /// What it is at most, the damage taken to lie where the turn is lowest.
    pub fn clean_up_at_most(&self) -> f64 {
        (0..self.radii.len()).map(|i| self.highest[i] - self.lowest[i] + self.damage[i]).fold(0.0, f64::max)
    }
}

/// Whether the wheel stands against the cut: nothing is planned and the person is told why.
pub fn stands(survey: &Survey) -> bool {
    survey.verdict != Verdict::Cut
}

/// What a survey says of itself.
pub fn words(survey: &Survey) -> String {
    let heavy: Vec<String> = survey
        .findings
        .iter()
        .filter(|f| f.rank >= facewright::diagnostics::Rank::Warning)
        .map(|f| format!("{}: {}", f.rank, f.what))
        .collect();
    format!("{}; {}", survey.verdict.words(), heavy.join(" | "))
}

/// Errors of the highest place over the zone: told less true, with each radius's bound.
pub fn off_highest(survey: &Survey, truth: &Truth) -> Vec<(f64, f64, f64)> {
    let told = survey.face().highest.at_each(&truth.radii);
    told.zip(&truth.highest)
        .zip(truth.radii.iter().zip(&truth.bound))
        .map(|((told, &is), (&r, &bound))| (told - is, bound, r))
        .collect()
}

/// Holds all figures of a survey against the truth.
pub fn judge(trial: &Trial, truth: &Truth, survey: &Survey) -> Vec<Complaint> {
    let mut out = Vec::new();
    let rash = |r: f64| {
        trial.wheel.damage.iter().any(|d| {
            let [from, to] = d.stretch();
            matches!(d, super::wheel::Damage::Rash { .. }) && r > from - 1.0 && r < to + 1.0
        })
    };
    let mut errors = off_highest(survey, truth);
    for e in &mut errors {
        if rash(e.2) {
            e.1 += UNDER_RASH;
        }
    }
    // 1 % of the radii, and the worst of them.
    let beyond: Vec<&(f64, f64, f64)> = errors.iter().filter(|(off, bound, _)| off.abs() > *bound).collect();
    let share = beyond.len() as f64 / errors.len() as f64;
    if share > 0.01 {
        let worst = beyond.iter().max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
        if let Some(&&(off, bound, at)) = worst {
            out.push(Complaint { what: "highest place, more than 1 % of radii; worst", is: off, bound, at });
        }
    }
    let worst = errors.iter().max_by(|a, b| (a.0.abs() - a.1).total_cmp(&(b.0.abs() - b.1)));
    if let Some(&(off, bound, at)) = worst.filter(|(off, bound, _)| off.abs() > bound + ANYWHERE) {
        out.push(Complaint { what: "highest place, worst radius", is: off, bound: bound + ANYWHERE, at });
    }
    let widest = truth.bound.iter().copied().fold(0.0, f64::max) + ANYWHERE;
    let under = if trial.wheel.damage.iter().any(|d| matches!(d, super::wheel::Damage::Rash { .. })) {
        UNDER_RASH
    } else {
        0.0
    };
    if let Some(run_out) = &survey.run_out {
        let off = run_out.as_mounted_mm - truth.run_out();
        if off.abs() > 2.0 * widest {
            out.push(Complaint {
                what: "run-out",
                is: off,
                bound: 2.0 * widest,
                at: run_out.as_mounted_at_mm,
            });
        }
    }
    judge_damage(trial, survey, widest + under, &mut out);
    let told = survey.depth.clean_up_mm;
    let listed = trial.listed.iter().map(|l| l.depth).fold(0.0, f64::max);
    let bottom = widest + under + bottom_bound(trial);
    let (least, most) = (truth.clean_up(), truth.clean_up_at_most().max(truth.run_out() + listed));
    if told < least - bottom {
        out.push(Complaint {
            what: "clean-up too shallow by",
            is: least - told,
            bound: bottom,
            at: survey.depth.deepest_at_mm,
        });
    }
    if told > most + bottom {
        out.push(Complaint {
            what: "clean-up too deep by",
            is: told - most,
            bound: bottom,
            at: survey.depth.deepest_at_mm,
        });
    }
    out
}

/// The bottom of a dent is read on one line alone, and is curved.
fn bottom_bound(trial: &Trial) -> f64 {
    let one = (spread(trial) / (2.0_f64.sqrt() * ALPHA * FILTER)).sqrt();
    let sharp = trial
        .wheel
        .damage
        .iter()
        .flat_map(|d| {
            let [from, to] = d.stretch();
            trial.lines.iter().map(move |line| (from, to, line.angle))
        })
        .map(|(from, to, angle)| {
            (1..8)
                .map(|k| from + (to - from) * f64::from(k) / 8.0)
                .filter(|&r| trial.wheel.depth(r, angle) > 0.0)
                .map(|r| trial.wheel.sharpest_near(r, angle, 0.3))
                .fold(0.0, f64::max)
        })
        .fold(0.0, f64::max);
    MOST * one + bias(sharp)
}

/// Every true dent that stands out is told with its depth, and no other.
fn judge_damage(trial: &Trial, survey: &Survey, widest: f64, out: &mut Vec<Complaint>) {
    let bound = widest + bottom_bound(trial);
    for told in survey.damage.iter().filter(|d| d.line_deg.is_some() && d.depth_mm > bound) {
        let angle = told.line_deg.unwrap_or_default().to_radians();
        let line = trial
            .lines
            .iter()
            .min_by(|a, b| turned(a.angle - angle).abs().total_cmp(&turned(b.angle - angle).abs()));
        let Some(line) = line else { continue };
        let steps = 60;
        let deepest = (0..=steps)
            .map(|k| told.from_mm + (told.to_mm - told.from_mm) * f64::from(k) / f64::from(steps))
            .map(|r| trial.wheel.depth(r, line.angle))
            .fold(0.0, f64::max);
        let off = told.depth_mm - deepest;
        let in_zone = told.to_mm > trial.zone[0] && told.from_mm < trial.zone[1];
        if in_zone && off.abs() > bound {
            let what = if deepest == 0.0 { "damage that is none" } else { "depth of damage" };
            out.push(Complaint { what, is: off, bound, at: f64::midpoint(told.from_mm, told.to_mm) });
        }
    }
}
