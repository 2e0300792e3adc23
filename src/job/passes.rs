//! The passes of a schedule in their order, the depth of each, and the metal that the wheel may lose.
//!
//! Survey, plan and proof all use this, so a schedule has one meaning. The depth that the face needs
//! comes from [`Face::need`](crate::face::Face::need); here it is divided among passes and compared with the allowance.

use super::{FinishPass, NextPasses, PassCount, RoughPass, Schedule, Wheel};
use crate::units::Length;

/// A remaining depth below this is rounding and does not make a pass: far below what any lathe can cut, far above rounding errors.
const NO_DEPTH: f64 = 1e-9;

/// More passes than this are a misplaced decimal point.
const MOST_PASSES: f64 = 1000.0;

/// What a pass is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PassKind {
    /// The air pass, above the face.
    Air,
    /// Takes metal off.
    Rough,
    /// Takes, with the finish tool, what the rough tool was too round to reach.
    Rest,
    /// Takes the last metal off and leaves the texture.
    Finish,
    /// Goes over the finished path again.
    Spring,
}

impl PassKind {
    /// What people call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Air => "air",
            Self::Rough => "rough",
            Self::Rest => "rest",
            Self::Finish => "finish",
            Self::Spring => "spring",
        }
    }

    /// What the one of so many of its kind is called: `rough 3 of 5`, or `finish` alone.
    #[must_use]
    pub fn numbered(self, number: u32, of: u32) -> String {
        if of > 1 { format!("{} {number} of {of}", self.name()) } else { self.name().to_owned() }
    }

    /// Whether a pass of this kind has the tool, speed and feed of the finish.
    #[must_use]
    pub const fn is_finish(self) -> bool {
        matches!(self, Self::Rest | Self::Finish | Self::Spring)
    }
}

/// A pass to be made: its kind and how much deeper it goes than the one before.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PassDepth {
    /// Kind.
    pub kind: PassKind,
    /// How much deeper.
    pub depth: Length,
}

/// The passes of a schedule that a program has: all, or those of one kind for a program that another follows or precedes.
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

/// From where the passes of a schedule are counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Counted {
    /// From the face as measured: rough passes that earlier programs made are left out.
    #[default]
    FromMeasured,
    /// From the face as it stands: that many more of one kind, whatever was cut before.
    FromHere(NextPasses),
}

impl Counted {
    /// The passes that a program of the schedule has if nothing else is asked for.
    #[must_use]
    pub const fn passes(self) -> Only {
        match self {
            Self::FromMeasured => Only::All,
            Self::FromHere(NextPasses::Rough) => Only::Rough,
            Self::FromHere(NextPasses::Finish) => Only::Finish,
        }
    }
}

/// The depth that clean-up needs, and the radius that determines it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Need {
    /// How far the surface that passes follow must come down.
    pub depth: Length,
    /// The radius.
    pub at: Length,
}

/// Why a schedule has no passes for a wheel.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ScheduleError {
    /// The schedule, or the part of it that was asked for, has no pass.
    #[error(
        "there is nothing to do: the schedule has no pass of the kind asked for, or what was taken already is enough\n  to mend it: ask for the other passes, or add some to the schedule"
    )]
    NothingToDo,
    /// More passes than any schedule has.
    #[error(
        "{depth:.3} in passes of {pass:.3} would take over a thousand passes\n  to mend it: check the depth of the passes and of the damage"
    )]
    TooManyPasses {
        /// What is to be taken.
        depth: Length,
        /// Depth of one pass.
        pass: Length,
    },
    /// The passes take more than the wheel may still lose.
    #[error(
        "the plan takes {take:.3} off the highest place of the face, but the wheel may lose only {:.3} more ({limit:.3} in all, {taken:.3} taken before); clean-up alone needs {need:.3} at radius {at:.1}\n  to mend it: fewer or thinner passes leave damage standing; raise the allowance only where the wheel maker allows it",
        Length::mm(limit.as_mm() - taken.as_mm())
    )]
    Allowance {
        /// What the passes take.
        take: Length,
        /// All that may ever be taken.
        limit: Length,
        /// What earlier jobs took.
        taken: Length,
        /// What clean-up needs.
        need: Length,
        /// Where it needs that.
        at: Length,
    },
}

/// Divides the depth that is needed among passes.
///
/// The finish passes are those of the schedule. Rough passes take what is left of the depth, or of the depth that a
/// counted number of them comes to, each as deep as scheduled; the last is evened out with the one before so
/// that none is thinner than half the set depth. Depths that are computed are whole steps of the control's
/// `resolution`, rounded up where the set depth allows it: so passes follow the same path, moved down.
/// `already` is what earlier programs of this job took off: rough passes that it covers are left out, unless the schedule counts
/// its passes from the face as it stands.
///
/// # Errors
/// If the schedule has no pass to make, or more than any schedule has.
pub fn lay_out(
    schedule: &Schedule,
    resolution: Length,
    need: Length,
    already: Length,
    only: Only,
) -> Result<Vec<PassDepth>, ScheduleError> {
    let finish = schedule.finish.as_ref().map_or(0.0, finish_depth);
    let mut passes = Vec::new();
    if only != Only::Finish
        && let Some(rough) = &schedule.rough
    {
        let left = match (rough.passes, schedule.counted) {
            (PassCount::Count(n), Counted::FromHere(_)) => f64::from(n) * rough.depth.as_mm(),
            (PassCount::Count(n), Counted::FromMeasured) => {
                f64::from(n) * rough.depth.as_mm() - already.as_mm()
            }
            (PassCount::Auto, _) => need.as_mm() - finish - already.as_mm(),
        };
        let depths = rough_depths(rough, resolution.as_mm(), left)?;
        passes.extend(depths.into_iter().map(|d| of_kind(PassKind::Rough, d)));
    }
    if only != Only::Rough
        && let Some(finish) = &schedule.finish
    {
        passes.extend(finish_passes(finish));
    }
    if passes.is_empty() { Err(ScheduleError::NothingToDo) } else { Ok(passes) }
}

const fn of_kind(kind: PassKind, depth: f64) -> PassDepth {
    PassDepth { kind, depth: Length::mm(depth) }
}

fn finish_depth(finish: &FinishPass) -> f64 {
    finish.depth.as_mm() * f64::from(finish.passes)
}

fn finish_passes(finish: &FinishPass) -> impl Iterator<Item = PassDepth> {
    let kind = if finish.depth.as_mm() > 0.0 { PassKind::Finish } else { PassKind::Spring };
    let main = (0..finish.passes).map(move |_| PassDepth { kind, depth: finish.depth });
    main.chain((0..finish.spring_passes).map(|_| of_kind(PassKind::Spring, 0.0)))
}

/// What is missing of a count of passes is worth one more pass from this share of its depth on. The thinnest pass has half of it, so that half
/// of a half is as near to the count with it as without.
const WORTH_A_PASS: f64 = 0.25;

/// The depths of the rough passes that take `left` off.
fn rough_depths(rough: &RoughPass, step: f64, left: f64) -> Result<Vec<f64>, ScheduleError> {
    let depth = rough.depth.as_mm();
    let count = (left / depth - NO_DEPTH).ceil().max(0.0);
    if let PassCount::Count(n) = rough.passes
        && left >= depth * (f64::from(n) - NO_DEPTH)
    {
        // Nothing was taken already: the full count of the schedule.
        return Ok(vec![depth; n as usize]);
    }
    if matches!(rough.passes, PassCount::Count(_)) && left < depth * WORTH_A_PASS {
        return Ok(Vec::new());
    }
    if count > MOST_PASSES {
        return Err(ScheduleError::TooManyPasses { depth: Length::mm(left), pass: rough.depth });
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

/// The total depth of passes , below the surface that they follow.
#[must_use]
pub fn removed(passes: &[PassDepth]) -> Length {
    Length::mm(passes.iter().map(|p| p.depth.as_mm()).sum())
}

/// What the wheel may still lose once `take` is off its highest place; below zero where that is too much.
#[must_use]
pub fn left_after(wheel: &Wheel, take: Length) -> Length {
    let left = wheel.allowance.remaining().as_mm() - take.as_mm();
    Length::mm(if left.abs() < NO_DEPTH { 0.0 } else { left })
}

/// Refuses passes that take more than the wheel may still lose; returns what is left after them.
///
/// # Errors
/// If `already` and the passes together, or what is `gone` somewhere already, exceed the allowance.
pub fn within_allowance(
    wheel: &Wheel,
    [already, gone]: [Length; 2],
    passes: &[PassDepth],
    need: Need,
) -> Result<Length, ScheduleError> {
    let take = Length::mm((already.as_mm() + removed(passes).as_mm()).max(gone.as_mm()));
    let left = left_after(wheel, take);
    if left.as_mm() >= 0.0 {
        return Ok(left);
    }
    Err(ScheduleError::Allowance {
        take,
        limit: wheel.allowance.limit,
        taken: wheel.allowance.taken,
        need: need.depth,
        at: need.at,
    })
}

/// How deep programs of a schedule may go below the surface that passes follow, as measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DepthAsked {
    /// Total depth of the passes: of the whole schedule, or of an earlier program and what follows it.
    pub total: Length,
    /// The deepest that a program of this schedule can need to go, however it divides the depth among its passes.
    pub most: Length,
}

/// The depth that a schedule asks for where the face needs `need` and earlier programs took `already`.
#[must_use]
pub fn depth_asked(schedule: &Schedule, resolution: Length, need: Length, already: Length) -> DepthAsked {
    let finish = schedule.finish.as_ref().map_or(0.0, finish_depth);
    let after = |already: Length| {
        let passes =
            lay_out(schedule, resolution, need, already, schedule.counted.passes()).unwrap_or_default();
        already.as_mm() + removed(&passes).as_mm()
    };
    let total = after(Length::mm(0.0)).max(after(already));
    // If the number of passes is not set, another division may go deeper, by up to one whole pass.
    let most = match &schedule.rough {
        Some(RoughPass { passes: PassCount::Auto, depth, .. }) => need.as_mm().max(finish) + depth.as_mm(),
        // A program that began within a pass goes on in whole ones.
        Some(rough @ RoughPass { passes: PassCount::Count(n), .. })
            if schedule.counted == Counted::FromMeasured =>
        {
            let left = f64::from(*n) * rough.depth.as_mm() - already.as_mm();
            let passes = rough_depths(rough, resolution.as_mm(), left).map_or(0, |depths| depths.len());
            already.as_mm() + passes as f64 * rough.depth.as_mm() + finish
        }
        _ => total,
    };
    DepthAsked { total: Length::mm(total), most: Length::mm(total.max(most)) }
}

/// The least number of passes of each kind still to be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ToCome {
    /// Rough passes; none where their number follows from the face.
    pub rough: u32,
    /// Finish passes.
    pub finish: u32,
}

/// The passes still to be made where `already` has been removed. A pass counts as made if its depth is reached within `slack`.
///
/// The rough passes come first; where their number is not set, the removed depth does not show whether finish passes were made.
#[must_use]
pub fn to_come(schedule: &Schedule, already: Length, slack: Length) -> ToCome {
    let mut gone = match schedule.counted {
        Counted::FromMeasured => already.as_mm(),
        Counted::FromHere(_) => 0.0,
    };
    let mut open = |count: u32, depth: Length| {
        let mut left = count;
        while left > 0 && gone > (depth.as_mm() - slack.as_mm()).max(0.0) {
            gone -= depth.as_mm();
            left -= 1;
        }
        left
    };
    let rough = schedule.rough.as_ref().map_or(Some(0), |r| match r.passes {
        PassCount::Count(n) => Some(open(n, r.depth)),
        PassCount::Auto => None,
    });
    let finish = schedule.finish.as_ref().map_or(0, |f| match rough {
        Some(_) => open(f.passes, f.depth),
        None => f.passes,
    });
    let only = schedule.counted.passes();
    ToCome {
        rough: if only == Only::Finish { 0 } else { rough.unwrap_or(0) },
        finish: if only == Only::Rough { 0 } else { finish },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{AirPass, Direction, Feed, RestPasses, Step};
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
            counted: Counted::FromMeasured,
            finish: Some(FinishPass {
                tool: "a".into(),
                depth: Length::mm(finish_depth),
                passes: 1,
                speed_changes: Vec::new(),
                spring_passes: 0,
                surface_speed,
                feed,
            }),
            step: Step::Axial,
            direction: Direction::Outward,
            tolerance: Length::mm(0.005),
            tangent_jump: Angle::deg(1.0),
            rest_limit: Length::mm(0.05),
            rest_passes: RestPasses::Auto,
            waviness: None,
        }
    }

    fn rough(need: f64) -> Vec<f64> {
        let passes =
            lay_out(&schedule(PassCount::Auto, 0.05), STEP, Length::mm(need), Length::mm(0.0), Only::Rough);
        passes.unwrap_or_default().iter().map(|p| p.depth.as_mm()).collect()
    }

    /// Whatever an earlier program has taken, within a pass or whole ones: each part of the program after it may go as deep as that goes.
    #[test]
    fn a_later_part_may_go_as_deep_as_the_program_it_is_part_of() {
        for (count, gone) in (1..=5).flat_map(|n| (0..100).map(move |k| (n, 0.003 * f64::from(k)))) {
            let schedule = schedule(PassCount::Count(count), 0.05);
            let need = Length::mm(0.4);
            let passes = lay_out(&schedule, STEP, need, Length::mm(gone), Only::All).unwrap_or_default();
            let goes_to = gone + removed(&passes).as_mm();
            let mut before = gone;
            for pass in &passes {
                let most = depth_asked(&schedule, STEP, need, Length::mm(before)).most.as_mm();
                assert!(
                    goes_to <= most + 1e-9,
                    "{count} passes after {gone}: {goes_to} from {before}, {most}"
                );
                before += pass.depth.as_mm();
            }
        }
        // From whole passes on there is no more than the schedule's.
        let whole = depth_asked(&schedule(PassCount::Count(5), 0.05), STEP, Length::mm(0.4), Length::mm(0.3));
        assert!((whole.most.as_mm() - 0.55).abs() < 1e-9, "{whole:?}");
    }

    #[test]
    fn the_last_passes_are_evened_out() {
        let close =
            |a: &[f64], b: &[f64]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-12);
        assert!(close(&rough(0.35), &[0.1, 0.1, 0.1]));
        assert!(close(&rough(0.41), &[0.1, 0.1, 0.1, 0.06]));
        assert!(close(&rough(0.38), &[0.1, 0.1, 0.065, 0.065]));
        assert!(close(&rough(0.07), &[0.05]));
        // Whole steps of the control: a need of 0.2514 mm leaves 0.2014 mm, and 0.2286 mm leave 0.1786 mm.
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

    /// Counted passes go on where an earlier program stopped: those it made are not made again, and one it began is finished.
    #[test]
    fn counted_passes_go_on_after_an_earlier_program() {
        let schedule = schedule(PassCount::Count(4), 0.05);
        let after = |already: f64| {
            let passes = lay_out(&schedule, STEP, Length::mm(0.0), Length::mm(already), Only::Rough);
            passes.unwrap_or_default().iter().map(|p| (p.depth.as_mm() * 1e3).round()).collect::<Vec<_>>()
        };
        assert_eq!(after(0.0), [100.0; 4]);
        assert_eq!(after(0.1), [100.0; 3]);
        assert_eq!(after(0.25), [100.0, 50.0]);
        assert!(after(0.4).is_empty());
    }

    /// However little an earlier program took: counted passes come to their count, but for the control's steps, as long as a whole pass is left.
    #[test]
    fn counted_passes_come_to_their_count() {
        let schedule = schedule(PassCount::Count(4), 0.05);
        for thousandths in 0..=300 {
            let already = Length::mm(f64::from(thousandths) * 1e-3);
            let passes = lay_out(&schedule, STEP, Length::mm(0.0), already, Only::Rough).unwrap_or_default();
            let comes_to = already.as_mm() + removed(&passes).as_mm();
            assert!((comes_to - 0.4).abs() <= 2.0 * STEP.as_mm() + 1e-9, "after {already}: {comes_to}");
        }
    }

    /// Nor do they go beyond it, or stay above it, by more than a quarter of a pass.
    #[test]
    fn a_little_that_is_missing_is_no_pass() {
        let schedule = schedule(PassCount::Count(4), 0.05);
        for thousandths in 300..=400 {
            let already = f64::from(thousandths) * 1e-3;
            let passes = lay_out(&schedule, STEP, Length::mm(0.0), Length::mm(already), Only::All);
            let rough = passes.unwrap_or_default().into_iter().filter(|p| p.kind == PassKind::Rough);
            let comes_to = already + rough.map(|p| p.depth.as_mm()).sum::<f64>();
            assert!((comes_to - 0.4).abs() <= 0.1 * WORTH_A_PASS + 1e-9, "after {already}: {comes_to}");
        }
    }

    /// What the passes take is what the job asks for: the proof's limit is the planner's sum, whatever was taken before.
    #[test]
    fn the_depth_asked_is_what_the_passes_take() {
        for (count, already) in [
            (PassCount::Auto, 0.0),
            (PassCount::Auto, 0.17),
            (PassCount::Count(3), 0.0),
            (PassCount::Count(3), 0.2),
        ] {
            let schedule = schedule(count, 0.05);
            let (need, already) = (Length::mm(0.38), Length::mm(already));
            let passes = lay_out(&schedule, STEP, need, already, Only::All).unwrap_or_default();
            let takes = already.as_mm() + removed(&passes).as_mm();
            let asked = depth_asked(&schedule, STEP, need, already);
            assert!((asked.total.as_mm() - takes).abs() < 1e-9, "{count:?}: {asked:?}, {takes}");
            assert!(asked.most >= asked.total);
        }
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
