//! Rash all the way round, between the lines that show it.
//!
//! Every line shows it, each at its own depth; how deep it is between them is not measured. Two things are known of that:
//!
//! - From line to line the depth changes by so much per angle. A line left out lies off the straight run between the lines beside it; half-way
//!   between two lines, over half the angle, a depth that wanders is off its run by 1/√2 of that, one that bends evenly by a quarter. The first
//!   is taken, once: metal that is cut cannot be put back, and damage that is left is seen and can still be cut.
//! - A person who lists it says how deep it is at its deepest. Where no line shows that much, what lies between the lines is taken to be
//!   deeper than what they show by as much as the deepest listed is deeper than the deepest shown.
//!
//! The depth at an angle is that of the lines on either side, in proportion to the angle, and the greater of the two more. So damage that
//! hardly changes round the wheel is not taken for as deep everywhere as at its worst place, and one that changes much is.
//!
//! Limits: a gouge narrower than the lines stand apart is not seen in what they differ by. It is listed for itself, with its angle.

use super::model::{Dent, WheelModel};
use crate::scan::line::Stretch;
use std::f64::consts::{SQRT_2, TAU};

/// Fewer lines tell nothing of how the depth changes round the wheel: one left out has no two others beside it.
const FEWEST: usize = 3;

/// Lines closer than this show the same place of the turn, radians.
const SAME_ANGLE: f64 = 0.01;

/// Rash that every line with metal shows.
pub(super) struct AllRound<'m> {
    /// The angle of each line, rising from zero to a turn, and what it shows.
    lines: Vec<(f64, &'m Dent)>,
    /// How far the depth may be off the run between two lines, by the angle between them, millimetres per radian.
    off: f64,
}

impl<'m> AllRound<'m> {
    /// The rash of a model over a stretch, of those dents that belong to it; `None` where a line with metal there has none, or too few
    /// lines have.
    pub fn of(model: &'m WheelModel, stretch: Stretch, belongs: impl Fn(&Dent) -> bool) -> Option<Self> {
        let mut lines: Vec<(f64, &Dent)> = Vec::with_capacity(model.angles.len());
        for (k, angle) in model.angles.iter().enumerate() {
            if model.no_metal.get(k).is_some_and(|gone| gone.iter().any(|s| s.meets(&stretch))) {
                continue;
            }
            let of_line = model.damage.iter().filter(|d| d.line == Some(k) && belongs(d));
            let deepest = of_line.max_by(|a, b| a.depth.total_cmp(&b.depth))?;
            lines.push((angle.rem_euclid(TAU), deepest));
        }
        lines.sort_by(|a, b| a.0.total_cmp(&b.0));
        lines.dedup_by(|b, a| {
            let same = b.0 - a.0 < SAME_ANGLE;
            if same && b.1.depth > a.1.depth {
                a.1 = b.1;
            }
            same
        });
        if lines.len() < FEWEST {
            return None;
        }
        let mut all = Self { lines, off: 0.0 };
        all.off = all.left_out();
        Some(all)
    }

    /// The line that is `i` places on from the first, with its angle from zero on over as many turns as that takes.
    fn line(&self, i: usize) -> Option<(f64, &'m Dent)> {
        let n = self.lines.len();
        let (angle, dent) = *self.lines.get(i % n)?;
        Some((angle + TAU * (i / n) as f64, dent))
    }

    /// How far a depth that wanders as the lines show is off the run between two lines, by the angle between them: from the root mean square
    /// of what a line left out lies off the run between those beside it.
    fn left_out(&self) -> f64 {
        let n = self.lines.len();
        let each = (0..n).filter_map(|i| {
            let ((a, before), (b, here), (c, after)) = (self.line(i)?, self.line(i + 1)?, self.line(i + 2)?);
            let share = (b - a) / (c - a);
            let run = before.depth + (after.depth - before.depth) * share;
            Some(((here.depth - run) / (c - a)).powi(2))
        });
        // The run over two gaps is off by √2 times what the run over one is, at twice its angle.
        SQRT_2 * (each.sum::<f64>() / n as f64).sqrt()
    }

    /// The deepest that any line shows, millimetres.
    pub fn deepest(&self) -> f64 {
        self.lines.iter().map(|(_, d)| d.depth).fold(0.0, f64::max)
    }

    /// How deep it is taken to be at an angle, by the depth that each line's dent has there and by how much deeper the deepest place is
    /// known to be than the lines show.
    pub fn depth_at(&self, angle: f64, depth: impl Fn(&Dent) -> f64, deeper: f64) -> f64 {
        let n = self.lines.len();
        let angle = angle.rem_euclid(TAU);
        let after = self.lines.partition_point(|(at, _)| *at <= angle);
        // The one before is the last line a turn earlier where none is.
        let Some((from, to)) = self.line(after + n - 1).zip(self.line(after + n)) else {
            return 0.0;
        };
        let gap = to.0 - from.0;
        let share = (angle + TAU - from.0) / gap;
        let run = depth(from.1) + (depth(to.1) - depth(from.1)) * share;
        run + (self.off * gap).max(deeper)
    }
}

#[cfg(test)]
mod tests {
    use super::super::estimate::fit;
    use super::super::model::{ListedDamage, Measurement, WheelModel};
    use super::super::over_turn::over_turn;
    use super::super::tests::{ZONES, dent, lines, tilted};
    use super::*;
    use crate::job::{Damage, DamageKind};
    use crate::units::Length;
    use std::f64::consts::PI;

    const RASH: Stretch = Stretch { from: 190.0, to: 197.0 };

    /// A rash that is so deep at an angle, as a model of so many lines.
    fn rashed(count: usize, depth: &dyn Fn(f64) -> f64, listed: f64) -> WheelModel {
        let shape = dent(RASH.from, RASH.to, 1.0);
        let lines = lines(count, &|r, at| tilted(r, at) - depth(at) * shape(r));
        let listed = [ListedDamage { stretch: RASH, depth: listed, sector: None }];
        fit(&Measurement { lines: &lines, zones: &ZONES, listed: &listed, ..Measurement::default() }).unwrap()
    }

    fn listed(depth: f64) -> Damage {
        let [from, to, depth] = [RASH.from, RASH.to, depth].map(Length::mm);
        Damage { from, to, depth, kind: DamageKind::Scrape, sector: None }
    }

    /// What comes off the highest place down to the floor, at the middle of the rash; and what must, by the truth.
    fn off_and_needed(model: &WheelModel, damage: &[Damage], depth: &dyn Fn(f64) -> f64) -> [f64; 2] {
        let r = f64::midpoint(RASH.from, RASH.to);
        let face = over_turn(model, damage, None).unwrap();
        let all = || (0..720).map(|i| PI * f64::from(i) / 360.0);
        let highest = all().map(|a| tilted(r, a)).fold(f64::NEG_INFINITY, f64::max);
        let lowest = all().map(|a| tilted(r, a) - depth(a)).fold(f64::INFINITY, f64::min);
        [face.highest.at(r) - face.lowest.at(r) + face.damage.at(r), highest - lowest]
    }

    /// Four lines a quarter turn apart show 0.10, 0.20, 0.30 and 0.20 mm: each left out lies 0.1, 0, 0.1 and 0 mm off the run between
    /// those beside it. Half-way between the first two it is taken for 0.15 mm and the root mean square of that by the square root of two.
    #[test]
    fn between_lines_depth_is_their_run_and_what_a_line_left_out_lies_off_it() {
        let mut model = rashed(4, &|_| 0.3, 0.5);
        model.damage.retain(|d| d.line.is_some() && d.stretch.meets(&RASH));
        for (dent, depth) in model.damage.iter_mut().zip([0.1, 0.2, 0.3, 0.2]) {
            dent.depth = depth;
        }
        assert_eq!(model.damage.len(), 4);
        let rash = AllRound::of(&model, RASH, |_| true).unwrap();
        let angle = |k: usize| model.angles.get(k).copied().unwrap();
        let half_way = f64::midpoint(angle(0), angle(1));
        let off = (2.0 * 0.01_f64 / 4.0 / 2.0).sqrt();
        assert!((rash.depth_at(half_way, |d| d.depth, 0.0) - 0.15 - off).abs() < 1e-9);
        assert!((rash.depth_at(half_way, |d| d.depth, 0.09) - 0.24).abs() < 1e-9);
        assert!((rash.depth_at(angle(2) - TAU, |d| d.depth, 0.09) - 0.39).abs() < 1e-9);
        // A line without rash, and two lines: nothing is known of all round.
        model.damage.pop();
        assert!(AllRound::of(&model, RASH, |_| true).is_none());
        model.angles.pop();
        assert!(AllRound::of(&model, RASH, |_| true).is_some());
        model.damage.pop();
        model.angles.pop();
        assert!(AllRound::of(&model, RASH, |_| true).is_none());
    }

    /// Rash that is deepest somewhere else than where the wheel stands lowest: what is taken off reaches it, and is little more; counted
    /// from the lowest place it would be the whole tilt.
    #[test]
    fn listed_rash_all_round_costs_what_it_needs() {
        for count in [4, 5, 6, 8] {
            for i in 0..4 {
                let deepest_at = 1.1 + 0.7 + 0.4 * f64::from(i);
                let depth = move |at: f64| 0.2 + 0.08 * (at - deepest_at).cos();
                let model = rashed(count, &depth, 0.31);
                let [off, needed] = off_and_needed(&model, &[listed(0.31)], &depth);
                assert!(off > needed - 0.01, "{count} lines, {i}: {off} of {needed}");
                assert!(off < needed + 0.07, "{count} lines, {i}: {off} of {needed}");
            }
        }
    }

    /// Rash that changes from line to line without order may be as deep as listed anywhere, and counts from the lowest place.
    #[test]
    fn rash_without_order_counts_from_the_lowest_place() {
        let depth = |at: f64| if (at * 6.0 / TAU).rem_euclid(2.0) < 1.0 { 0.1 } else { 0.3 };
        let model = rashed(6, &depth, 0.4);
        let face = over_turn(&model, &[listed(0.4)], None).unwrap();
        assert!((face.damage.at(193.5) - 0.4).abs() < 0.03, "{}", face.damage.at(193.5));
    }
}
