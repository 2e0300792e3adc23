//! How much of the turn each pass touches: what an operator will see on the face and hear from the tool.
//!
//! The passes begin where nothing of the highest place of the turn stands above what they follow. Where the wheel runs out, the first of them meets metal over part of the
//! turn only, on the high side, and the cut becomes unbroken once it lies below the lowest place. At a radius the tool is in contact where
//! the sound surface stands above what the pass leaves. For a plain tilt t that is the share `arccos(1 − d / (t·r)) / π` of the turn at the
//! depth d below the highest place (plane geometry: the surface stands `t·r·(1 − cos φ)` below its highest).
//!
//! What a pass leaves is what its path leaves as it is written, with the height that the fit of the path gives away (ISO 16610-41: the
//! erosion of the path by the tool's outline). Fillets beside the cut do not count: there the edge touches, not the nose.
//!
//! Damage is left out: where it lies deeper than the pass there is no contact either. What one line cannot show, the turn, is not told.

use super::{Motion, Pass, PassKind, Plan, Role};
use crate::face::Face;
use crate::face::model::WheelModel;
use crate::face::round::Round;
use crate::geometry::{Curve, Outline, Piece, envelope};
use crate::job::Job;
use crate::numeric::grid::interpolate;
use crate::units::{Angle, Length};
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Radii are looked at this far apart, millimetres: less than a picture on a page shows.
const STEP: f64 = 1.0;

/// The touch-off error whose effect is told, millimetres: about one finish cut.
pub const TOUCH_ERROR: f64 = 0.05;

/// Touch-off errors for which the share is kept, millimetres.
const ERRORS: [f64; 13] = [-0.4, -0.2, -0.1, -0.05, -0.03, -0.015, 0.0, 0.015, 0.03, 0.05, 0.1, 0.2, 0.4];

/// Radii without contact are told where they lie together over this length, millimetres: more than a nose leaves in a corner.
const CORNER: f64 = 3.0;

/// A gap in the contact narrower than this share of the turn is rounding.
const BROKEN: f64 = 1e-3;

/// What a pass touches.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// Its number among the passes that cut, from 1.
    pub number: usize,
    /// Share of the area in the zones, from 0 to 1.
    pub share: f64,
    /// Share of the turn at each radius, in rising radius.
    pub at: Vec<(Length, f64)>,
    /// The radii at which any of the turn is touched.
    pub touched: Vec<[Length; 2]>,
    /// The radii at which the cut is unbroken.
    pub unbroken: Vec<[Length; 2]>,
    /// The middle of each arc in contact, at the radius where least of the turn is touched; empty where the cut is unbroken wherever it touches.
    pub sides: Vec<Angle>,
    /// The share of the area with the tool higher by so much (millimetres), in rising height.
    if_higher: Vec<(f64, f64)>,
}

impl Contact {
    /// The share of the area with the tool standing higher than planned by a length in millimetres, lower where it is negative.
    #[must_use]
    pub fn share_if(&self, higher: f64) -> f64 {
        let most = ERRORS.iter().fold(0.0_f64, |a, e| a.max(*e));
        interpolate(&self.if_higher, higher.clamp(-most, most))
    }

    /// Whether the tool is in contact all round at every radius.
    #[must_use]
    pub fn is_unbroken(&self) -> bool {
        self.at.iter().all(|(_, share)| is_whole(*share))
    }

    /// Between which radii it touches at all; none where that is everywhere but for the corners of the zones.
    #[must_use]
    pub fn begins(&self) -> Vec<[Length; 2]> {
        let missed = stretches(&self.at, |share| !is_touched(share));
        let everywhere = missed.iter().all(|[from, to]| to.as_mm() - from.as_mm() < CORNER);
        if everywhere { Vec::new() } else { wide(&self.touched) }
    }

    /// Between which radii it touches all round, but for single ones.
    #[must_use]
    pub fn all_round(&self) -> Vec<[Length; 2]> {
        wide(&self.unbroken)
    }

    /// The sides of the turn that it touches where it is broken, in whole degrees.
    #[must_use]
    pub fn side_degrees(&self) -> Vec<String> {
        self.sides.iter().map(|a| format!("{:.0}", a.as_deg().round() % 360.0)).collect()
    }
}

/// The surface of one radius over the turn.
#[derive(Debug)]
struct Ring {
    r: f64,
    /// How far the surface lies below its highest place in each direction, evenly spaced from angle zero.
    below: Vec<f64>,
    /// The least and the most of these.
    span: [f64; 2],
}

impl Ring {
    /// The turn at a radius.
    fn new(round: &Round<'_>, r: f64) -> Self {
        let heights = round.heights(r);
        let [highest, _] = Round::extremes(&heights);
        let below: Vec<f64> = heights.into_iter().map(|z| highest - z).collect();
        let span = below.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], z| [a.min(*z), b.max(*z)]);
        Self { r, below, span }
    }

    /// The share of the turn where the surface lies above a depth below its highest place.
    fn share(&self, depth: f64) -> f64 {
        match self.span {
            // Most depths lie above or below the whole turn.
            [_, most] if most < depth => 1.0,
            [least, _] if least >= depth => 0.0,
            _ => share(&self.below, depth),
        }
    }
}

/// The turn of a wheel in its zones, and its highest place.
#[derive(Debug)]
pub struct Turns {
    rings: Vec<Ring>,
    highest: Curve,
}

impl Turns {
    /// The turn of a job's wheel; none where the lines do not show it.
    #[must_use]
    pub fn new(job: &Job, model: &WheelModel, face: &Face) -> Option<Self> {
        (model.angles.len() >= 2 && !model.turn.underdetermined)
            .then(|| Self { rings: rings(job, model), highest: Curve::from(&face.highest) })
    }

    /// What a pass touches that leaves the face at these heights, none where it does not come. None where it comes nowhere.
    #[must_use]
    pub fn contact(&self, number: usize, left: impl Fn(f64) -> Option<f64>) -> Option<Contact> {
        let below = |ring: &Ring| Some(self.highest.at(ring.r) - left(ring.r)?);
        let cut: Vec<(&Ring, f64)> = self.rings.iter().filter_map(|r| Some((r, below(r)?))).collect();
        contact(number, &cut)
    }
}

/// Adds to every pass that takes metal what it touches.
pub(super) fn add(plan: &mut Plan, job: &Job, model: &WheelModel, face: &Face) {
    let Some(turns) = Turns::new(job, model, face) else { return };
    let of_tool = plan.operations.iter_mut().flat_map(|o| {
        let outline = o.tool.outline();
        o.passes.iter_mut().map(move |pass| (outline, pass))
    });
    let takes = |p: &Pass| matches!(p.kind, PassKind::Rough | PassKind::Finish);
    let mut numbered: Vec<_> = (1..).zip(of_tool.filter(|(_, pass)| takes(pass))).collect();
    numbered.par_iter_mut().for_each(|(number, (outline, pass))| {
        let left = LeftByPass::of(&pass.motions, outline);
        pass.contact = turns.contact(*number, |r| left.at(r));
    });
}

/// The surface that the cuts of a pass leave as they are written.
struct LeftByPass {
    /// For each cut from one lead to the next, in any order: between which radii its nose touches, and what it leaves there.
    cuts: Vec<([f64; 2], Curve)>,
}

impl LeftByPass {
    fn of(motions: &[Motion], tool: &Outline) -> Self {
        let together = |a: &Motion, b: &Motion| a.role == b.role;
        let cuts = motions.chunk_by(together).filter(|run| run.iter().all(|m| m.role == Role::Cut));
        Self { cuts: cuts.filter_map(|run| left_by(run, tool)).collect() }
    }

    fn at(&self, r: f64) -> Option<f64> {
        let here = self.cuts.iter().filter(|([from, to], _)| (*from..=*to).contains(&r));
        here.map(|(_, left)| left.at(r)).min_by(f64::total_cmp)
    }
}

/// Between which radii the nose touches along a cut, and what it leaves.
fn left_by(run: &[Motion], tool: &Outline) -> Option<([f64; 2], Curve)> {
    let mut pieces: Vec<_> = run.iter().map(|m| m.piece).collect();
    if pieces.first()?.from().x > pieces.last()?.to().x {
        pieces = pieces.iter().rev().map(Piece::reversed).collect();
    }
    // A cut is the graph of a function; nothing is told of one that is not.
    let path = pieces.iter().all(|p| p.from().x < p.to().x).then(|| Curve::from_pieces(pieces))?;
    // Where the nose's circle touches the face under its centre, at an end of the path.
    let touches = |x: f64| {
        let slope = path.slope_at(x);
        x - tool.nose_radius * slope / slope.hypot(1.0)
    };
    let ends = [path.start(), path.end()];
    let floor = ends.map(touches);
    Some((floor, envelope::erode(&path, tool, floor)?))
}

fn rings(job: &Job, model: &WheelModel) -> Vec<Ring> {
    let round = model.round();
    let mut rings = Vec::new();
    for zone in &job.zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        let steps = ((to - from) / STEP).ceil().max(1.0);
        let mut k = 0.0;
        while k <= steps {
            let r = from + (to - from) * k / steps;
            rings.push(Ring::new(&round, r));
            k += 1.0;
        }
    }
    rings
}

fn contact(number: usize, cut: &[(&Ring, f64)]) -> Option<Contact> {
    if cut.is_empty() {
        return None;
    }
    let area = |deeper: f64| {
        let sums = cut.iter().fold((0.0, 0.0), |(touched, all), (ring, depth)| {
            (touched + ring.r * ring.share(depth + deeper), all + ring.r)
        });
        sums.0 / sums.1
    };
    let at: Vec<(Length, f64)> =
        cut.iter().map(|(ring, depth)| (Length::mm(ring.r), ring.share(*depth))).collect();
    // Where the passes follow a lower place than the highest, the first of them may not reach the face everywhere.
    let touched = cut.iter().zip(&at).filter(|(_, (_, share))| is_touched(*share));
    let least = touched.min_by(|a, b| a.1.1.total_cmp(&b.1.1));
    let broken = least.filter(|(_, (_, share))| !is_whole(*share));
    let sides = broken.map_or_else(Vec::new, |((ring, depth), _)| sides(&ring.below, *depth));
    Some(Contact {
        number,
        share: area(0.0),
        touched: stretches(&at, is_touched),
        unbroken: stretches(&at, is_whole),
        sides,
        if_higher: ERRORS.map(|higher| (higher, area(-higher))).into(),
        at,
    })
}

fn is_whole(share: f64) -> bool {
    share >= 1.0 - BROKEN
}

fn is_touched(share: f64) -> bool {
    share > BROKEN
}

/// The share of the turn where the surface lies above a depth below its highest place: straight between directions.
fn share(below: &[f64], depth: f64) -> f64 {
    let n = below.len();
    let next = below.iter().skip(1).chain(below.first());
    let covered = below.iter().zip(next).map(|(a, b)| match (*a < depth, *b < depth) {
        (true, true) => 1.0,
        (false, false) => 0.0,
        // From the one in contact to where the surface goes under.
        (true, false) => (depth - a) / (b - a),
        (false, true) => (depth - b) / (a - b),
    });
    covered.sum::<f64>() / n.max(1) as f64
}

/// The middles of the arcs that lie above a depth.
fn sides(below: &[f64], depth: f64) -> Vec<Angle> {
    let n = below.len();
    let in_contact = |i: usize| below.get(i % n.max(1)).is_some_and(|b| *b < depth);
    let starts = (0..n).filter(|&i| in_contact(i) && !in_contact(i + n - 1));
    starts
        .map(|start| {
            let length = (0..n).take_while(|k| in_contact(start + k)).count();
            let middle = start as f64 + (length as f64 - 1.0) / 2.0;
            Angle::rad((middle / n as f64 * TAU).rem_euclid(TAU))
        })
        .collect()
}

/// Those stretches that are more than one radius.
fn wide(stretches: &[[Length; 2]]) -> Vec<[Length; 2]> {
    stretches.iter().copied().filter(|[from, to]| from < to).collect()
}

/// Where the share is such, as stretches of radius; none spans what lies between two zones.
fn stretches(at: &[(Length, f64)], is_such: fn(f64) -> bool) -> Vec<[Length; 2]> {
    let beside = |a: &(Length, f64), b: &(Length, f64)| {
        is_such(a.1) == is_such(b.1) && b.0.as_mm() - a.0.as_mm() <= 1.5 * STEP
    };
    at.chunk_by(beside)
        .filter_map(|run| match run {
            [first, ..] if is_such(first.1) => Some([first.0, run.last()?.0]),
            _ => None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A turn that stands `height·(1 − cos(lobes·φ − …))` below its highest place.
    fn waves(height: f64, lobes: f64, high_side: f64) -> Vec<f64> {
        (0..120).map(|i| height * (1.0 - (lobes * (TAU * f64::from(i) / 120.0 - high_side)).cos())).collect()
    }

    proptest! {
        /// Plane geometry, in the module's opening: the share under a plain tilt is an arc cosine, whatever the side.
        #[test]
        fn a_plain_tilt_has_the_share_of_its_arc_cosine(
            height in 0.02..0.5f64,
            part in 0.02..1.98f64,
            side in 0.0..TAU,
        ) {
            let depth = part * height;
            let expected = (1.0 - part).acos() / std::f64::consts::PI;
            let below = waves(height, 1.0, side);
            // Between directions 3 degrees apart the wave bends by 0.00034 of its height at most.
            prop_assert!((share(&below, depth) - expected).abs() < 0.003);
            let sides = sides(&below, depth);
            prop_assert!(sides.len() == 1);
            let off = (sides[0].as_rad() - side + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
            prop_assert!(off.abs() < TAU / 120.0);
        }
    }

    #[test]
    fn two_lobes_have_two_sides() {
        let below = waves(0.1, 2.0, 0.5);
        let degrees: Vec<f64> = sides(&below, 0.05).iter().map(|a| a.as_deg()).collect();
        assert_eq!(degrees.len(), 2, "{degrees:?}");
        assert!((degrees[1] - degrees[0] - 180.0).abs() < 1e-9, "{degrees:?}");
        // 1 − cos 2φ = 1/2 at φ = 30 degrees: four sixths of a quarter turn to each side of both tops.
        assert!((share(&below, 0.05) - 120.0 / 360.0).abs() < 0.002);
    }

    #[test]
    fn deep_enough_is_unbroken() {
        let below = waves(0.1, 1.0, 1.0);
        assert_eq!(share(&below, 0.2001), 1.0);
        assert_eq!(share(&below, 0.0), 0.0);
    }
}
