//! How deep, in how many passes: the depth clean-up needs, laid out over rough, finish and spring passes.

use super::{PassKind, PlanError};
use crate::face::Face;
use crate::job::{FinishPass, Job, PassCount, RoughPass, Schedule, Zone};
use crate::units::Length;

/// A depth that rounding may leave over is no pass of its own: far below what any lathe can take, far above rounding.
const NO_DEPTH: f64 = 1e-9;

/// More passes than this are no schedule but a slip of a decimal point.
const MOST_PASSES: f64 = 1000.0;

/// The depth that clean-up needs, and the radius that asks for it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// How far the highest place must come down.
    pub depth: Length,
    /// Where.
    pub at: Length,
}

/// One pass to come: its kind and how much deeper it goes than the one before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DepthOfPass {
    /// Kind.
    pub kind: PassKind,
    /// How much deeper.
    pub depth: Length,
}

/// The passes that a schedule has, limited to those of one kind where a follow-on program is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Only {
    /// All of them.
    #[default]
    All,
    /// The rough passes.
    Rough,
    /// The finish and spring passes.
    Finish,
}

/// The depth that clean-up needs inside the zones: the greatest sum of run-out and damage at one radius.
///
/// Heights are piecewise linear over the same radii, so the greatest stands at one of those or at a zone's end.
#[must_use]
pub fn clean_up(face: &Face, zones: &[Zone]) -> Need {
    let mut need = Need { depth: Length::mm(0.0), at: zones.first().map_or(Length::mm(0.0), |z| z.from) };
    for zone in zones {
        let (from, to) = (zone.from.as_mm(), zone.to.as_mm());
        let radii = face.highest.points().iter().map(|p| p.x);
        let inside: Vec<f64> = radii.filter(|x| (from..=to).contains(x)).collect();
        let depths = face.clean_up_at_each(&inside).zip(inside.iter().copied());
        let ends = [from, to].map(|x| (face.clean_up_at(x), x));
        for (depth, x) in depths.chain(ends) {
            if depth > need.depth {
                need = Need { depth, at: Length::mm(x) };
            }
        }
    }
    need
}

/// Lays the depth out over passes.
///
/// The finish passes go as the schedule says; rough passes take what is left of the depth, each as
/// deep as scheduled, and the last is evened out with the one before so that none is thinner than
/// half the set depth. Depths that are not set but follow from the need are whole steps of the control's `resolution`,
/// rounded up where the set depth allows it: so passes follow the same path, moved down. `already` is what an earlier program took off.
///
/// # Errors
/// If the schedule holds nothing to do, or asks for passes without end.
pub fn lay_out(
    schedule: &Schedule,
    resolution: Length,
    need: Length,
    already: Length,
    only: Only,
) -> Result<Vec<DepthOfPass>, PlanError> {
    let finish = schedule.finish.as_ref().map_or(0.0, |f| f.depth.as_mm() * f64::from(f.passes));
    let left = need.as_mm() - already.as_mm() - finish;
    let mut passes = Vec::new();
    if only != Only::Finish
        && let Some(rough) = &schedule.rough
    {
        passes.extend(
            rough_depths(rough, resolution.as_mm(), left)?.into_iter().map(|d| of_kind(PassKind::Rough, d)),
        );
    }
    if only != Only::Rough
        && let Some(finish) = &schedule.finish
    {
        passes.extend(finish_passes(finish));
    }
    if passes.is_empty() { Err(PlanError::NothingToDo) } else { Ok(passes) }
}

const fn of_kind(kind: PassKind, depth: f64) -> DepthOfPass {
    DepthOfPass { kind, depth: Length::mm(depth) }
}

fn finish_passes(finish: &FinishPass) -> impl Iterator<Item = DepthOfPass> {
    let kind = if finish.depth.as_mm() > 0.0 { PassKind::Finish } else { PassKind::Spring };
    let main = (0..finish.passes).map(move |_| DepthOfPass { kind, depth: finish.depth });
    main.chain((0..finish.spring_passes).map(|_| of_kind(PassKind::Spring, 0.0)))
}

/// The depths of the rough passes that take `left` off.
fn rough_depths(rough: &RoughPass, step: f64, left: f64) -> Result<Vec<f64>, PlanError> {
    let depth = rough.depth.as_mm();
    let count = match rough.passes {
        PassCount::Count(n) => return Ok(vec![depth; n as usize]),
        PassCount::Auto => (left / depth - NO_DEPTH).ceil().max(0.0),
    };
    if count > MOST_PASSES {
        return Err(PlanError::TooManyPasses { depth: Length::mm(left), pass: rough.depth });
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // between 0 and MOST_PASSES
    let mut depths = vec![depth; count as usize];
    let whole_steps = |d: f64| ((d / step - NO_DEPTH).ceil() * step).min(depth);
    let over = whole_steps(left - depth * (count - 1.0));
    if over < depth / 2.0 {
        match depths.as_mut_slice() {
            [.., before, last] => {
                *before = whole_steps(f64::midpoint(depth, over));
                *last = *before;
            }
            [only] => *only = whole_steps(depth / 2.0),
            [] => {}
        }
    } else if let Some(last) = depths.last_mut() {
        *last = over;
    }
    Ok(depths)
}

/// Refuses a plan that takes more than the wheel may still lose; gives what is left after it.
///
/// # Errors
/// If `already` and the passes together exceed the allowance.
pub fn within_allowance(
    job: &Job,
    already: Length,
    passes: &[DepthOfPass],
    need: Need,
) -> Result<Length, PlanError> {
    let allowance = job.wheel.allowance;
    let take = already.as_mm() + passes.iter().map(|p| p.depth.as_mm()).sum::<f64>();
    let left = allowance.limit.as_mm() - allowance.taken.as_mm() - take;
    if left < -NO_DEPTH {
        return Err(PlanError::Allowance {
            take: Length::mm(take),
            limit: allowance.limit,
            taken: allowance.taken,
            need: need.depth,
            at: need.at,
        });
    }
    Ok(Length::mm(left.max(0.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{AirPass, Direction, Feed, Step};
    use crate::units::{Angle, FeedPerRev, SurfaceSpeed};
    use proptest::prelude::*;

    const STEP: Length = Length::mm(0.001);

    fn schedule(rough: PassCount, finish_depth: f64) -> Schedule {
        let feed = Feed::PerRev(FeedPerRev::mm_per_rev(0.2));
        let surface_speed = SurfaceSpeed::mm_per_min(280_000.0);
        Schedule {
            name: None,
            air: AirPass { height: Length::mm(1.0), feed: None },
            rough: Some(RoughPass {
                tool: "a".into(),
                depth: Length::mm(0.1),
                passes: rough,
                surface_speed,
                feed,
            }),
            finish: Some(FinishPass {
                tool: "a".into(),
                depth: Length::mm(finish_depth),
                passes: 1,
                spring_passes: 0,
                surface_speed,
                feed,
            }),
            step: Step::Axial,
            direction: Direction::Outward,
            tolerance: Length::mm(0.005),
            tangent_jump: Angle::deg(1.0),
            rest_limit: Length::mm(0.05),
        }
    }

    fn rough(need: f64) -> Vec<f64> {
        let passes =
            lay_out(&schedule(PassCount::Auto, 0.05), STEP, Length::mm(need), Length::mm(0.0), Only::Rough);
        passes.unwrap_or_default().iter().map(|p| p.depth.as_mm()).collect()
    }

    #[test]
    fn the_last_passes_are_evened_out() {
        let close =
            |a: &[f64], b: &[f64]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12);
        assert!(close(&rough(0.35), &[0.1, 0.1, 0.1]));
        assert!(close(&rough(0.41), &[0.1, 0.1, 0.1, 0.06]));
        assert!(close(&rough(0.38), &[0.1, 0.1, 0.065, 0.065]));
        assert!(close(&rough(0.07), &[0.05]));
        // Whole steps of the control: 0.2514 mm of need leave 0.2014 mm, and 0.2286 mm leave 0.1786 mm.
        assert!(close(&rough(0.2514), &[0.1, 0.051, 0.051]));
        assert!(close(&rough(0.2286), &[0.1, 0.079]));
        assert!(rough(0.05).is_empty());
    }

    #[test]
    fn a_count_is_taken_at_its_word() {
        let passes =
            lay_out(&schedule(PassCount::Count(2), 0.0), STEP, Length::mm(0.9), Length::mm(0.0), Only::All);
        let kinds: Vec<_> = passes.unwrap_or_default().iter().map(|p| p.kind).collect();
        assert_eq!(kinds, [PassKind::Rough, PassKind::Rough, PassKind::Spring]);
    }

    proptest! {
        /// Whatever is needed is taken, in passes no thicker than set and no thinner than half.
        #[test]
        fn auto_takes_what_is_needed(need in 0f64..5.0, already in 0f64..1.0) {
            let passes = lay_out(&schedule(PassCount::Auto, 0.05), STEP, Length::mm(need), Length::mm(already), Only::All);
            let passes = passes.unwrap_or_default();
            let take: f64 = passes.iter().map(|p| p.depth.as_mm()).sum();
            prop_assert!(take + already > need - 1e-9);
            for p in passes.iter().filter(|p| p.kind == PassKind::Rough) {
                prop_assert!(p.depth.as_mm() <= 0.1 + 1e-12 && p.depth.as_mm() >= 0.05 - 1e-9);
            }
        }
    }
}
