//! The face as the last pass leaves it, from the program's motions alone: waviness, and the angles at which motions meet.
//!
//! Waviness is computed from the height of the metal above the face that the tool could have left, in the band of wavelengths from 0.8 mm to
//! 8 mm: the difference of two Gaussian means (ISO 16610-21), its maximum minus its minimum. What the tool could have left is
//! found without any path ([`super::reach`]), so form, edges and grooves do not count as waviness, and deviations of the program's
//! path do. At the ends of a zone the weights inside it are scaled to a sum of one (ISO 16610-28, order 0).
//!
//! Limits: where the real face differs from the measured one, its own waves are not in this number.

use super::findings::{note, radius};
use super::metal::Metal;
use super::{GatheredPass, PassKind, SweptPass};
use crate::diagnostics::{Finding, SweepRule, Unit};
use crate::geometry::{Piece, Point, Turn};
use crate::job::{Job, Tool};
use crate::proof::Movement;
use std::f64::consts::{LN_2, PI};

/// The band's short and long end, millimetres: the usual cut-off of roughness, and ten times that.
const BAND: [f64; 2] = [0.8, 8.0];

/// Distance of the samples, millimetres: eight per short cut-off.
const STEP: f64 = 0.1;

/// The finish that the last pass leaves.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct FinishedSurface {
    /// Number of the pass.
    pub pass: usize,
    /// Waviness that its path adds, from peak to valley, millimetres along the normal; none where it is known nowhere.
    pub waviness_mm: Option<f64>,
    /// The greatest angle at which two of its motions meet inside a zone; none where there is no joint.
    pub greatest_joint: Option<MotionJoint>,
}

/// Where two motions meet at an angle.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize)]
pub struct MotionJoint {
    /// The angle, degrees.
    pub turn_deg: f64,
    /// Radius of the nose centre, millimetres.
    pub radius: f64,
    /// Line of the motion that begins there.
    pub line: usize,
}

/// The zones without their ends, where the nose climbs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Inside<'a> {
    pub job: &'a Job,
    /// Distance from an end within which the nose climbs, millimetres.
    pub climb: f64,
}

impl Inside<'_> {
    /// The parts of the zones between the climbs at their ends.
    fn stretches(self) -> impl Iterator<Item = [f64; 2]> {
        let inner =
            move |zone: &crate::job::Zone| [zone.from.as_mm() + self.climb, zone.to.as_mm() - self.climb];
        self.job.zones.iter().map(inner).filter(|[a, b]| a < b)
    }

    /// Whether a radius of the nose centre is so far inside a zone that motions there are cuts: a nose's width farther in than the
    /// climb, where there are no leads.
    fn cuts_at(self, u: f64, nose_radius: f64) -> bool {
        self.stretches().any(|[a, b]| a + nose_radius <= u && u <= b - nose_radius)
    }
}

/// The finish that the last pass on the face leaves. `reachable` are the heights that its tool could have left at every radius.
pub(super) fn finished(
    inside: Inside<'_>,
    metal: &Metal,
    reachable: &[f64],
    (swept, gathered): (&[SweptPass], &[GatheredPass]),
    movements: &[Movement],
) -> Option<FinishedSurface> {
    let last = swept.iter().rev().find(|p| p.kind != PassKind::Air)?;
    let pass = gathered.iter().find(|p| p.number == last.number)?;
    let tool = super::split::tool_of(inside.job, pass.tool)?;
    let nose = tool.nose_radius.as_mm();
    let over = excess(metal, reachable);
    let waves = inside.stretches().filter_map(|stretch| waviness(&over, stretch));
    let runs = pass.groups.iter().filter_map(|g| movements.get(g.movements.clone()));
    let joint = runs.flat_map(|run| joints(run, tool)).filter(|j| inside.cuts_at(j.radius, nose));
    Some(FinishedSurface {
        pass: last.number,
        waviness_mm: waves.max_by(f64::total_cmp),
        greatest_joint: joint.max_by(|a, b| a.turn_deg.total_cmp(&b.turn_deg)),
    })
}

/// Height of the metal above what the tool could have left, along the normal, over the radii where that is known.
fn excess(metal: &Metal, reachable: &[f64]) -> Vec<(f64, f64)> {
    let points: Vec<(f64, f64, f64)> = metal
        .radii
        .iter()
        .zip(reachable)
        .zip(&metal.now)
        .filter(|((_, height), _)| height.is_finite())
        .map(|((u, height), now)| (*u, *height, *now))
        .collect();
    let slope = |i: usize| {
        let before = points.get(i.saturating_sub(1));
        let after = points.get(i + 1).or_else(|| points.get(i));
        before.zip(after).filter(|(a, b)| b.0 > a.0).map_or(0.0, |(a, b)| (b.1 - a.1) / (b.0 - a.0))
    };
    let along_normal =
        |(i, &(u, height, now)): (usize, &(f64, f64, f64))| (u, (now - height) / slope(i).hypot(1.0));
    points.iter().enumerate().map(along_normal).collect()
}

/// Peak to valley in the band over a range of radii.
fn waviness(over: &[(f64, f64)], [from, to]: [f64; 2]) -> Option<f64> {
    let row: Vec<f64> = std::iter::successors(Some(from), |u| Some(u + STEP))
        .take_while(|u| *u <= to)
        .filter_map(|u| between(over, u))
        .collect();
    let [short, long] = BAND.map(|cutoff| mean(&row, cutoff));
    let band = || short.iter().zip(&long).map(|(s, l)| s - l);
    Some(band().max_by(f64::total_cmp)? - band().min_by(f64::total_cmp)?)
}

/// Linear interpolation between two samples.
fn between(points: &[(f64, f64)], u: f64) -> Option<f64> {
    let next = points.partition_point(|p| p.0 < u);
    let (a, b) = (points.get(next.checked_sub(1)?)?, points.get(next)?);
    Some(a.1 + (b.1 - a.1) * (u - a.0) / (b.0 - a.0))
}

/// The Gaussian mean at every sample of a row.
fn mean(row: &[f64], cutoff: f64) -> Vec<f64> {
    // exp(−π·(x/(α·λ))²) with α² = ln 2/π; beyond one cut-off less than a millionth of the middle's weight.
    let mut weights = Vec::new();
    let mut x = 0.0;
    while x <= cutoff {
        weights.push((-(PI * x / cutoff).powi(2) / LN_2).exp());
        x += STEP;
    }
    let reach = weights.len();
    (0..row.len())
        .map(|i| {
            let first = (i + 1).saturating_sub(reach);
            let near = row.iter().enumerate().skip(first).take(i + reach - first);
            let weighed = near.filter_map(|(j, z)| Some((weights.get(j.abs_diff(i))?, z)));
            let (sum, whole) = weighed.fold((0.0, 0.0), |(s, w), (k, z)| (s + k * z, w + k));
            sum / whole
        })
        .collect()
}

/// The angles at which neighbouring motions of a run meet.
fn joints<'a>(run: &'a [Movement], tool: &Tool) -> impl Iterator<Item = MotionJoint> + 'a {
    let offset = tool.point_offset().0;
    run.windows(2).filter_map(move |pair| {
        let [before, after] = pair else { return None };
        let [ends, begins] =
            [heading(&before.piece, before.piece.to())?, heading(&after.piece, after.piece.from())?];
        let turn = (begins - ends).to_degrees().rem_euclid(360.0);
        Some(MotionJoint {
            turn_deg: turn.min(360.0 - turn),
            radius: after.piece.from().x - offset,
            line: after.line,
        })
    })
}

/// Direction of a piece at a point, as an angle; none for a piece without length.
fn heading(piece: &Piece, at: Point) -> Option<f64> {
    let (dx, dz) = match piece {
        Piece::Line(line) => (line.to.x - line.from.x, line.to.z - line.from.z),
        Piece::Arc(arc) => {
            let (rx, rz) = (at.x - arc.centre.x, at.z - arc.centre.z);
            if arc.turn == Turn::CounterClockwise { (-rz, rx) } else { (rz, -rx) }
        }
    };
    (dx != 0.0 || dz != 0.0).then(|| dz.atan2(dx))
}

/// Warns if the path alone causes more waviness than the schedule allows.
pub(super) fn judge(
    job: &Job,
    finished: Option<FinishedSurface>,
    swept: &[SweptPass],
    movements: &[Movement],
    findings: &mut Vec<Finding>,
) {
    let Some((limit, wave)) = job.schedule.waviness.zip(finished.and_then(|f| f.waviness_mm)) else { return };
    let Some(pass) = swept.iter().find(|p| Some(p.number) == finished.map(|f| f.pass)) else { return };
    let finish = job.schedule.finish.as_ref().and_then(|f| job.tool(&f.tool));
    if finish.map(|t| t.number) != pass.tool || wave <= limit.as_mm() {
        return;
    }
    let joint = finished.and_then(|f| f.greatest_joint).map_or_else(String::new, |j| {
        format!("; its motions meet at up to {:.2} deg, {}", j.turn_deg, radius(j.radius))
    });
    let what = format!(
        "the path of pass {} waves by {:.1} um, the schedule allows {:.1} um{joint}",
        pass.number,
        wave * 1000.0,
        limit.as_mm() * 1000.0
    );
    let at = movements.iter().find(|m| m.line == pass.from_line);
    findings.push(note(SweepRule::Waviness, at, what).measured(wave, Some(limit.as_mm()), Unit::Mm));
}

#[cfg(test)]
mod tests {
    use super::{BAND, STEP, mean, waviness};

    /// ISO 16610-21: a wave as long as the cut-off passes by half, one of twice that by 84.09 %, of half by 6.25 %.
    #[test]
    fn waves_pass_the_mean_as_the_standard_says() {
        for (share, kept) in [(1.0, 0.5), (2.0, 0.8409), (0.5, 0.0625)] {
            for cutoff in BAND {
                let wave = |i: i32| (f64::from(i) * STEP / (cutoff * share) * std::f64::consts::TAU).sin();
                let row: Vec<f64> = (0..2000).map(wave).collect();
                let most = mean(&row, cutoff)[200..1800].iter().fold(0.0, |m: f64, z| m.max(z.abs()));
                assert!((most - kept).abs() < 2e-3, "{cutoff}, {share}: {most}");
            }
        }
    }

    /// A wave of 2.5 mm and 2 um from peak to valley: 2^(−(0.8/2.5)²) − 2^(−(8/2.5)²) of it is in the band.
    #[test]
    fn a_wave_inside_the_band_is_told_and_a_slope_is_not() {
        let over = |f: &dyn Fn(f64) -> f64| -> Vec<(f64, f64)> {
            (0..3000).map(|i| 70.0 + f64::from(i) * 0.05).map(|u| (u, f(u))).collect()
        };
        // It rises from nothing and falls to nothing, so that the ends, where the filter has one side alone, have no part in it.
        let swells = |u: f64| {
            (((u - 100.0) / 20.0).min((190.0 - u) / 20.0).clamp(0.0, 1.0) * std::f64::consts::FRAC_PI_2).sin()
        };
        let wave = over(&|u| 0.001 * swells(u) * (u / 2.5 * std::f64::consts::TAU).sin());
        let share = 2f64.powf(-(0.8f64 / 2.5).powi(2)) - 2f64.powf(-(8.0f64 / 2.5).powi(2));
        let told = waviness(&wave, [90.0, 200.0]).unwrap_or_default();
        assert!((told - 0.002 * share).abs() < 0.000_03, "{told}");
        assert!(waviness(&over(&|_| 0.004), [75.0, 200.0]).is_some_and(|w| w < 1e-9));
        assert!(waviness(&[], [75.0, 200.0]).is_none());
    }
}
