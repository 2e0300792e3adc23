//! Which face is cut: along the highest, the middle or the lowest place of the turn.
//!
//! A face that is cut is one of the three less a depth, the least that reaches the floor `highest − run-out − damage` everywhere. No
//! pass may bite deeper than its depth at the highest place, so its passes begin where nothing stands above them
//! ([`Face::cut_along`]). What comes off the highest place is least along the highest, always: there it is the clean-up depth itself. The allowance
//! is what a wheel may lose where it loses most, so no other face is taken that costs more there. But where the damage lies
//! at the radius that runs out most, as kerb rash does, all three cost the same there, and the lowest takes less off everywhere else.

use super::{CurvePoint, depth};
use crate::face::Face;
use crate::face::model::WheelModel;
use crate::job::Job;
pub use crate::job::TurnPlace as Place;
use serde::Serialize;

/// So much more may come off the highest place than along the highest, millimetres: less than a hand-held gauge shows. Damage and the greatest
/// run-out seldom lie at the very same radius.
const MOST_MORE: f64 = 0.002;

/// A saving on the mean below this is no reason to leave the highest place, millimetres: the face is known no better.
const LEAST_SAVED: f64 = 0.005;

/// What clean-up costs along each place of the turn, and along which it is cut.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Along {
    /// The one that is cut.
    pub cut: Place,
    /// The highest place at every radius.
    pub highest: Cost,
    /// Half-way between the highest and the lowest.
    pub middle: Cost,
    /// The lowest place.
    pub lowest: Cost,
}

/// Metal that a clean-up costs.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Cost {
    /// What comes off the highest place of the turn where it is most, millimetres.
    pub most_mm: f64,
    /// What comes off on the mean over the face of the zones, from half-way between highest and lowest, millimetres.
    pub mean_mm: f64,
}

impl Along {
    /// What it costs along one of them.
    #[must_use]
    pub const fn cost(&self, place: Place) -> Cost {
        match place {
            Place::Highest => self.highest,
            Place::Middle => self.middle,
            Place::Lowest => self.lowest,
        }
    }
}

/// The costs over a face that is not followed along any place yet, and the choice, which a job may make itself.
///
/// It is the highest where fewer than two of the angles measured show the turn; where the face stands off centre, since the lowest
/// places of the turn are then no face that the wheel ever had: its walls stand at another radius there; and in a trial, whose rings have
/// depths of their own.
pub(super) fn along(job: &Job, model: &WheelModel, face: &Face, angles: usize) -> Along {
    let costs = costs(&depth::zone_points(job, face));
    let highest_alone = angles < 2 || model.eccentricity.is_some() || !job.rings.is_empty();
    if highest_alone {
        costs
    } else {
        Along { cut: job.cut_along.unwrap_or_else(|| chosen(&costs)), ..costs }
    }
}

fn costs(points: &[CurvePoint]) -> Along {
    let most = |of: &dyn Fn(&CurvePoint) -> f64| points.iter().map(of).fold(0.0, f64::max);
    let cost = |place: Place| {
        let share = place.share();
        let depth = most(&|p| (1.0 - share) * p.run_out_mm + p.damage_mm);
        let (sum, area) = points.iter().fold((0.0, 0.0), |(sum, area), p| {
            (sum + p.r_mm * ((share - 0.5) * p.run_out_mm + depth), area + p.r_mm)
        });
        let mean_mm = if area > 0.0 { sum / area } else { depth };
        Cost { most_mm: most(&|p| share * p.run_out_mm) + depth, mean_mm }
    };
    Along {
        cut: Place::Highest,
        highest: cost(Place::Highest),
        middle: cost(Place::Middle),
        lowest: cost(Place::Lowest),
    }
}

/// The one that takes least off on the mean, of those that take no more off the highest place.
fn chosen(costs: &Along) -> Place {
    let worth = |place: &Place| {
        let cost = costs.cost(*place);
        cost.most_mm <= costs.highest.most_mm + MOST_MORE
            && cost.mean_mm <= costs.highest.mean_mm - LEAST_SAVED
    };
    let mean = |place: &Place| costs.cost(*place).mean_mm;
    let other = [Place::Middle, Place::Lowest].into_iter().filter(worth);
    other.min_by(|a, b| mean(a).total_cmp(&mean(b))).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(r: f64, damage: f64) -> CurvePoint {
        CurvePoint { r_mm: r, clean_up_mm: r / 1000.0 + damage, run_out_mm: r / 1000.0, damage_mm: damage }
    }

    fn near(a: f64, b: f64) {
        assert!((a - b).abs() < 1e-12, "{a} and {b}");
    }

    /// A tilt of 0.2 mm from 100 to 200 mm with a scrape of 0.3 mm at 100 mm, by hand: along the highest max(0.1 + 0.3, 0.2);
    /// along the middle the floor asks for 0.05 + 0.3, and 0.1 more stand above it at the rim; along the lowest 0.3, and 0.2.
    #[test]
    fn the_highest_takes_least_off_the_highest_place() {
        let cost = costs(&[at(100.0, 0.3), at(200.0, 0.0)]);
        near(cost.highest.most_mm, 0.4);
        near(cost.middle.most_mm, 0.45);
        near(cost.lowest.most_mm, 0.5);
        // Means over the face, the rim with twice the weight: 0.4 less half the run-out; 0.35; 0.3 and half the run-out.
        near(cost.highest.mean_mm, 0.4 - 0.25 / 3.0);
        near(cost.middle.mean_mm, 0.35);
        near(cost.lowest.mean_mm, 0.3 + 0.25 / 3.0);
        assert_eq!(chosen(&cost), Place::Highest);
    }

    /// The same tilt with the scrape at the rim: all three take 0.2 + 0.3 mm off the highest place, there, and the lowest takes 0.1 mm less
    /// off at 100 mm.
    #[test]
    fn damage_where_the_wheel_runs_out_most_is_cut_along_the_lowest() {
        let cost = costs(&[at(100.0, 0.0), at(200.0, 0.3)]);
        for place in [Place::Highest, Place::Middle, Place::Lowest] {
            near(cost.cost(place).most_mm, 0.5);
        }
        near(cost.highest.mean_mm, 0.5 - 0.25 / 3.0);
        near(cost.lowest.mean_mm, 0.3 + 0.25 / 3.0);
        assert_eq!(chosen(&cost), Place::Lowest);
    }

    /// Where nothing is saved that anybody could see, the highest is cut.
    #[test]
    fn a_wheel_that_runs_true_is_cut_along_the_highest() {
        let still = |r: f64| CurvePoint { r_mm: r, clean_up_mm: 0.3, run_out_mm: 0.0, damage_mm: 0.3 };
        assert_eq!(chosen(&costs(&[still(100.0), still(200.0)])), Place::Highest);
    }
}
