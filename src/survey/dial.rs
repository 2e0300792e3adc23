//! Whether readings round the wheel and the lines tell of one wheel.
//!
//! A dial indicator and the lines both show how far the rim rises from one angle to another. Where they do not agree the model stands
//! between the two, and calls what is left a bend. Their zeros differ, so only differences between two lines count; between two
//! readings of the dial its height is taken along the chord.
//!
//! Angles may be counted either way round, and a dial counted against the lines shows the wheel mirrored. Where it disagrees as it stands
//! and agrees mirrored, that is said: one of the two was counted the other way round.
//!
//! Limits: at the angles of the lines alone, so a dial that is wrong between them is not seen; and a wheel that runs the same either way
//! round from 0 deg, or true, shows no difference.

use crate::face::model::WheelModel;
use crate::numeric::order::median;
use crate::scan::MeasuredLines;
use crate::scan::ring::RingReadings;
use std::f64::consts::TAU;

/// Dial and lines that differ by less agree, millimetres: a chord between eight readings of a run-out of 0.3 mm is off by a tenth of
/// this on either side, and a dial and a sensor are each known to some 0.01 mm.
const AGREE: f64 = 0.05;

/// Angles counted the other way round fit better where the difference that is left is so many times less: noise and the chords of a
/// dial leave some of it.
const MUCH_BETTER: f64 = 4.0;

/// Readings of a line this near to the dial's radius count, millimetres: about the width of a dial's contact.
const BESIDE: f64 = 1.0;

/// Two lines between which the dial shows another rise than they do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Disagreement {
    /// Radius of the dial, millimetres.
    pub radius: f64,
    /// The angles of the two lines, radians.
    pub between: [f64; 2],
    /// The rise from the first to the second by the dial, millimetres.
    pub dial: f64,
    /// The same by the lines.
    pub lines: f64,
    /// By how much they differ at most where the dial's angles are counted the other way round, millimetres.
    pub mirrored: f64,
}

impl Disagreement {
    /// By how much the two differ, millimetres.
    pub fn by(&self) -> f64 {
        (self.dial - self.lines).abs()
    }

    /// Whether the dial's angles fit the lines counted the other way round, and not as they stand.
    pub fn is_mirrored(&self) -> bool {
        self.mirrored <= AGREE && self.mirrored * MUCH_BETTER <= self.by()
    }
}

/// The two lines and the dial that disagree most, where any do.
pub(super) fn disagreement(lines: &MeasuredLines, model: &WheelModel) -> Option<Disagreement> {
    let of_ring = |ring: &RingReadings| {
        let mirrored = RingReadings {
            heights: ring.heights.iter().map(|&(angle, z)| (-angle, z)).collect(),
            ..ring.clone()
        };
        let found = most(lines, model, ring)?;
        let mirrored = most(lines, model, &mirrored).map_or(f64::INFINITY, |m| m.by());
        Some(Disagreement { mirrored, ..found })
    };
    let all = lines.rings.iter().filter_map(of_ring);
    all.max_by(|a, b| a.by().total_cmp(&b.by())).filter(|d| d.by() > AGREE)
}

/// The two lines between which a ring's rise differs most from theirs.
fn most(lines: &MeasuredLines, model: &WheelModel, ring: &RingReadings) -> Option<Disagreement> {
    let heights: Vec<(f64, f64, f64)> = lines
        .lines
        .iter()
        .zip(&model.angles)
        .filter_map(|(line, &angle)| {
            let beside = line.line.readings.iter().filter(|r| (r.x - ring.radius).abs() <= BESIDE);
            let mut beside: Vec<f64> = beside.map(|r| r.z).collect();
            Some((angle, along(ring, angle)?, median(&mut beside)?))
        })
        .collect();
    let differs = |a: &&(f64, f64, f64), b: &&(f64, f64, f64)| (a.1 - a.2).total_cmp(&(b.1 - b.2));
    let (a, b) = (heights.iter().min_by(differs)?, heights.iter().max_by(differs)?);
    let (a, b) = if a.0 <= b.0 { (a, b) } else { (b, a) };
    let (dial, lines) = (b.1 - a.1, b.2 - a.2);
    Some(Disagreement { radius: ring.radius, between: [a.0, b.0], dial, lines, mirrored: f64::INFINITY })
}

/// The dial's height at an angle, between its two neighbouring readings.
fn along(ring: &RingReadings, angle: f64) -> Option<f64> {
    let mut from: Vec<(f64, f64)> =
        ring.heights.iter().map(|&(at, z)| ((at - angle).rem_euclid(TAU), z)).collect();
    from.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (after, before) = (*from.first()?, *from.last()?);
    let (ahead, behind) = (after.0, TAU - before.0);
    let whole = ahead + behind;
    Some(if whole > 0.0 { (after.1 * behind + before.1 * ahead) / whole } else { after.1 })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::FRAC_PI_4;

    /// Eight readings of a rim that rises by a cosine are met at the readings, and between them along the chord.
    #[test]
    fn the_dial_is_read_along_its_chords() {
        let heights = (0..8).map(|k| f64::from(k) * FRAC_PI_4).map(|a| (a, a.cos())).collect();
        let ring = RingReadings { radius: 200.0, heights, noise: 0.007 };
        for k in 0..16 {
            let angle = f64::from(k) * FRAC_PI_4 / 2.0;
            let expected = if k % 2 == 0 { angle.cos() } else { angle.cos() * (FRAC_PI_4 / 2.0).cos() };
            assert!(along(&ring, angle).is_some_and(|z| (z - expected).abs() < 1e-12), "{angle}");
        }
    }
}
