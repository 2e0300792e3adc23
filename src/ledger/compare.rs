//! A face kept by name, held against a face measured now: the same model, and what is missing where?
//!
//! Both faces are heights over the radius in the middle of the turn, so that the tilt of either mounting is in neither. Their zeros
//! differ from one mounting to the next: the new face is moved along the axis, and along x by what two settings of a sensor may
//! differ, to where the middle (median) of the differences is least. Whatever less than half of the face lost does not move it
//! (the median's breakdown point: Rousseeuw and Leroy, Robust Regression and Outlier Detection, 1987).
//!
//! Limits: metal that went evenly off more than half of the face is taken for a move of the zero; what the ledger holds as cut says
//! that. A loss narrower than [`NARROWEST`] is not told.

use crate::geometry::{Point, Profile};
use crate::units::Length;
use serde::{Deserialize, Serialize};

/// Distance between the radii at which a face is kept, millimetres: lips and lands of wheels are wider, and a face stays a few kilobytes.
const SPACING: f64 = 0.5;

/// A stretch told as missing is at least this wide, millimetres: three kept radii agree.
const NARROWEST: f64 = 1.0;

/// How far two settings of a sensor in x are looked for, and in what steps, millimetres.
const SHIFT: f64 = 1.0;
const SHIFT_STEPS: i32 = 20;

/// Faces of one model agree to within this, millimetres, on three quarters of the radii that both show: turned faces of one
/// drawing differ by tenths, faces of two drawings by millimetres. Our own choice.
const SAME_MODEL: f64 = 0.5;
const SAME_MODEL_SHARE: f64 = 0.75;

/// Least radii in common for an answer: 20 mm of face.
const LEAST_COMMON: usize = 40;

/// A face as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(
    clippy::struct_field_names,
    reason = "each name is a key of the kept text, and a key carries its unit"
)]
pub struct FaceProfile {
    /// Radii, rising, millimetres.
    r_mm: Vec<f64>,
    /// Heights in the middle of the turn, as many, millimetres.
    z_mm: Vec<f64>,
    /// How well the heights are known (two standard deviations), millimetres.
    uncertainty_mm: f64,
}

impl FaceProfile {
    /// The face half way between the highest and the lowest place of the turn, at radii evenly apart; over the radii that both cover.
    #[must_use]
    pub fn between(highest: &Profile, lowest: &Profile, uncertainty: Length) -> Self {
        let (from, to) = (highest.start().max(lowest.start()), highest.end().min(lowest.end()));
        let first = (from / SPACING).ceil();
        let radii = (0..u32::MAX).map(|i| (first + f64::from(i)) * SPACING).take_while(|r| *r <= to);
        let r_mm: Vec<f64> = radii.collect();
        // Kept to the nanometre, as all depths are: the text stays short and the same on every machine.
        let kept = |z: f64| (z * 1e6).round() / 1e6;
        let z_mm = r_mm.iter().map(|&r| kept(f64::midpoint(highest.at(r), lowest.at(r)))).collect();
        Self { r_mm, z_mm, uncertainty_mm: kept(uncertainty.as_mm()) }
    }

    /// The face as a profile; none where it is no such thing.
    fn profile(&self) -> Option<Profile> {
        let points = self.r_mm.iter().zip(&self.z_mm).map(|(&r, &z)| Point::new(r, z));
        (self.r_mm.len() == self.z_mm.len()).then(|| Profile::new(points.collect()).ok()).flatten()
    }
}

/// What two faces say of each other.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Comparison {
    /// Whether they are of one model.
    pub same_model: bool,
    /// Share of the common radii at which they agree as faces of one model do, 0 to 1.
    pub agree: f64,
    /// Innermost and outermost radius that both show, millimetres.
    pub common_mm: [f64; 2],
    /// How far the new face was moved along x and along the axis to lie on the old, millimetres.
    pub moved_mm: [f64; 2],
    /// How well a difference is known (two standard deviations of both faces together), millimetres.
    pub uncertainty_mm: f64,
    /// Where the new face lacks metal that the old one had; empty where the models differ.
    pub missing: Vec<Missing>,
}

/// A stretch that has lost metal.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Missing {
    /// Innermost radius, millimetres.
    pub from_mm: f64,
    /// Outermost radius, millimetres.
    pub to_mm: f64,
    /// The most that is missing, millimetres.
    pub depth_mm: f64,
    /// Where, millimetres.
    pub deepest_at_mm: f64,
}

/// Holds a new face against an old one; none where they share too few radii for an answer.
#[must_use]
pub fn compare(old: &FaceProfile, new: &FaceProfile) -> Option<Comparison> {
    let (a, b) = (old.profile()?, new.profile()?);
    let (from, to) = (a.start().max(b.start() + SHIFT), a.end().min(b.end() - SHIFT));
    let radii: Vec<f64> = old.r_mm.iter().copied().filter(|r| (from..=to).contains(r)).collect();
    if radii.len() < LEAST_COMMON {
        return None;
    }
    let differences = |dx: f64| -> Vec<f64> { radii.iter().map(|&r| b.at(r - dx) - a.at(r)).collect() };
    let shifts = (-SHIFT_STEPS..=SHIFT_STEPS).map(|i| SHIFT * f64::from(i) / f64::from(SHIFT_STEPS));
    // Of shifts that do equally well the least: on a flat face no shift shows.
    let mut best: Option<(f64, f64, f64)> = None;
    let mut ordered: Vec<f64> = shifts.collect();
    ordered.sort_by(|x, y| x.abs().total_cmp(&y.abs()));
    for dx in ordered {
        let d = differences(dx);
        let dz = median(&d);
        let spread = median(&d.iter().map(|d| (d - dz).abs()).collect::<Vec<_>>());
        if best.is_none_or(|(least, ..)| spread < least - old.uncertainty_mm.min(new.uncertainty_mm) / 10.0) {
            best = Some((spread, dx, dz));
        }
    }
    let (_, dx, dz) = best?;
    let d: Vec<f64> = differences(dx).into_iter().map(|d| d - dz).collect();
    let agree = d.iter().filter(|d| d.abs() <= SAME_MODEL).count() as f64 / d.len() as f64;
    let same_model = agree >= SAME_MODEL_SHARE;
    let uncertainty_mm = old.uncertainty_mm.hypot(new.uncertainty_mm);
    let missing = if same_model { missing(&radii, &d, uncertainty_mm) } else { Vec::new() };
    Some(Comparison {
        same_model,
        agree,
        common_mm: [from, to],
        moved_mm: [dx, -dz],
        uncertainty_mm,
        missing,
    })
}

/// Stretches in which the difference is below nothing by more than its uncertainty.
fn missing(radii: &[f64], differences: &[f64], uncertainty: f64) -> Vec<Missing> {
    let places: Vec<(f64, f64)> = radii.iter().copied().zip(differences.iter().copied()).collect();
    let low = |p: &(f64, f64)| p.1 < -uncertainty;
    let runs = places.chunk_by(|a, b| low(a) == low(b));
    let told = runs.filter(|run| run.first().is_some_and(low)).filter_map(|run| {
        let (first, last) = (run.first()?, run.last()?);
        let deepest = run.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Missing { from_mm: first.0, to_mm: last.0, depth_mm: -deepest.1, deepest_at_mm: deepest.0 })
    });
    told.filter(|m| m.to_mm - m.from_mm >= NARROWEST).collect()
}

/// The middle of values; there must be one.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let half = sorted.len() / 2;
    let upper = sorted.get(half).copied().unwrap_or(0.0);
    if sorted.len() % 2 == 1 {
        return upper;
    }
    f64::midpoint(sorted.get(half.wrapping_sub(1)).copied().unwrap_or(upper), upper)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A made-up face: a land, a flat cone and a lip, in metal.
    fn face(r: f64) -> f64 {
        0.02 * (r - 70.0) + 2.0 * ((r - 70.0) / 25.0).sin()
    }

    fn kept(f: impl Fn(f64) -> f64) -> FaceProfile {
        let points = (0..1500).map(|i| 68.0 + 0.1 * f64::from(i)).map(|r| Point::new(r, f(r)));
        let profile = Profile::new(points.collect()).unwrap();
        FaceProfile::between(&profile.raised(0.1), &profile.raised(-0.1), Length::mm(0.01))
    }

    /// What was moved and what was taken off comes out, whatever the mounting.
    #[test]
    fn what_is_missing_is_told_where_it_is_missing() {
        for (dx, dz) in [(0.0, 0.0), (0.4, -3.0), (-0.65, 12.0)] {
            let old = kept(face);
            let lost = |r: f64| if (200.0..206.0).contains(&r) { 0.35 } else { 0.0 };
            let new = kept(|r| face(r + dx) - lost(r + dx) + dz);
            let said = compare(&old, &new).unwrap();
            assert!(said.same_model, "{said:?}");
            assert!(
                (said.moved_mm[0] - dx).abs() < 0.051 && (said.moved_mm[1] + dz).abs() < 0.01,
                "{said:?}"
            );
            let [m] = said.missing[..] else { panic!("{said:?}") };
            assert!((m.from_mm - 200.0).abs() <= 1.0 && (m.to_mm - 205.5).abs() <= 1.0, "{said:?}");
            assert!((m.depth_mm - 0.35).abs() < 0.02, "{said:?}");
        }
    }

    #[test]
    fn another_model_is_another_model() {
        let said = compare(&kept(face), &kept(|r| face(r) + 3.0 * ((r - 70.0) / 9.0).cos())).unwrap();
        assert!(!said.same_model && said.missing.is_empty(), "{said:?}");
    }

    #[test]
    fn the_same_face_lacks_nothing() {
        let said = compare(&kept(face), &kept(face)).unwrap();
        assert!(said.same_model && said.missing.is_empty() && said.moved_mm == [0.0, 0.0], "{said:?}");
    }

    #[test]
    fn too_little_in_common_is_no_answer() {
        let narrow = |from: f64| {
            let points = (0..100).map(|i| from + 0.1 * f64::from(i)).map(|r| Point::new(r, face(r)));
            let profile = Profile::new(points.collect()).unwrap();
            FaceProfile::between(&profile, &profile, Length::mm(0.01))
        };
        assert_eq!(compare(&kept(face), &narrow(100.0)), None);
    }
}
