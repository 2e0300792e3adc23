//! What a contested stretch is: sound upper lines, damage all round, or lines that stand over the face.
//!
//! Everything that bears on it is weighed together as one likelihood of the depth d of the least damaged line: what the
//! feet say of it ([`super::feet`]), how likely so many upper lines agree if all of them are damaged, and what a person
//! listed there. Sound means d = 0, damage all round any d above it, raised any d below. What remains of the other
//! answers is the uncertainty of the one that is taken: it is told, and never more certain than the readings are.
//!
//! Limits: where the feet tell nothing and nobody lists anything, only the agreement of lines speaks.

/// All that bears on one stretch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Evidence {
    /// Depth of the least damaged line by its feet or by the face carried over, and its standard error.
    pub least: Option<(f64, f64)>,
    /// The chance that it is none of it, and what the depth is then, if anything tells it.
    pub lies: f64,
    pub other: Option<(f64, f64)>,
    /// How much deeper the deepest line is than the least damaged one.
    pub spread: f64,
    /// Upper lines that agree with each other.
    pub agree: usize,
    /// Within how much they would be called so.
    pub within: f64,
    /// Where most lines agree below the upper ones: how many they are, and how deep they lie below.
    pub below: Option<(usize, f64)>,
    /// Within how much those would be called so.
    pub within_below: f64,
    /// Lines that cross the stretch.
    pub lines: usize,
    /// Depth that the job lists there.
    pub listed: Option<f64>,
}

/// What it is, and how certain that is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Weighed {
    /// How likely the upper lines are sound.
    pub sound: f64,
    /// How likely all lines are damaged, and the depth of the least damaged one with its standard deviation if so.
    pub damaged: (f64, f64, f64),
    /// How likely the upper lines stand over the face.
    pub raised: f64,
    /// How likely they stand over a face on which most lines agree.
    pub over: f64,
}

/// Depths that rash and scrapes commonly have, millimetres: any up to here is as likely.
const DEEPEST: f64 = 0.6;
/// From one depth to the next over which likelihoods are summed.
const STEP: f64 = 0.0025;
/// Lines stand over the face seldom: a burr, dirt, tape, or a scan that is upside down.
const RAISED: f64 = 0.01;
/// What stands over the face by less is what its continuation is off, millimetres.
const LEAST_RAISED: f64 = 0.03;
/// The chance that a face carried over a millimetre misses a feature, a step or a ridge, and tells nothing: a face has one in some
/// hundred.
const FEATURES: f64 = 0.01;
/// The chance that feet tell nothing, beyond what their error tells of it: damage is not of one shape.
const FEET_LIE: f64 = 0.0001;
/// The chance that damage is equally deep on lines that do not lie side by side: a scrape with an even floor.
const EVEN: f64 = 0.02;
/// Rash all round changes its depth by some such share of it from line to line; a dip that is the same on all lines is the wheel's shape.
const VARIES: f64 = 0.3;
/// How much less likely each line beyond half of them makes it that the others are sound and this one is damaged too.
const FEW_SOUND: f64 = 0.5;
/// What the terms of the turn leave between the lines, millimetres.
const TURN: f64 = 0.003;
/// The deepest line has commonly this share of the depth that a person listed for the whole turn, with this deviation.
const OF_LISTED: (f64, f64) = (0.85, 0.15);
/// A person finds the deepest place of damage within this share of its depth.
const MORE_THAN_LISTED: f64 = 1.1;
/// The chance that no line crosses damage near where it is deepest.
const MISSED: f64 = 0.3;

/// The chance that a face carried over so many millimetres misses a feature.
pub(super) fn misses(length: f64) -> f64 {
    1.0 - (-FEATURES * length).exp()
}

impl Evidence {
    /// The answers weighed against each other.
    pub fn weigh(&self) -> Weighed {
        let by = |(found, error): (f64, f64), depth: f64| {
            let error = error.hypot(TURN);
            (-0.5 * ((found - depth) / error).powi(2)).exp() / error
        };
        let any = std::f64::consts::TAU.sqrt() / DEEPEST;
        let feet = |depth: f64| {
            let Some(least) = self.least else { return 1.0 };
            let other = self.other.map_or(any, |other| by(other, depth));
            (1.0 - self.lies - FEET_LIE) * by(least, depth) + self.lies * other + FEET_LIE * any
        };
        // Damage of part of the turn seldom reaches over more than half of the lines.
        let beyond_half = (self.lines as f64 / 2.0 - self.agree as f64).max(0.0);
        let few = FEW_SOUND.powf(beyond_half);
        // Different damage does not make many lines agree: not above, and seldom below.
        let below = self.below.map_or(1.0, |b| self.by_chance(b.0, self.within_below).max(EVEN));
        let sound = few * below * feet(0.0) * self.as_listed(0.0);
        let chance = below * self.by_chance(self.agree, self.within);
        let over = self.by_chance(self.agree, self.within);
        let over = self.below.map_or(0.0, |(_, gap)| over * RAISED * feet(-gap) * self.as_listed(0.0));
        let (mut all, mut first, mut second) = (0.0, 0.0, 0.0);
        let mut depth = STEP / 2.0;
        while depth < DEEPEST {
            let likely = chance * feet(depth) * self.as_listed(depth) * self.as_even(depth);
            all += likely;
            first += likely * depth;
            second += likely * depth * depth;
            depth += STEP;
        }
        let mean = if all > 0.0 { first / all } else { 0.0 };
        let deviation = if all > 0.0 { (second / all - mean * mean).max(0.0).sqrt() } else { 0.0 };
        let damaged = all * STEP / DEEPEST;
        let raised = if self.least.is_none() {
            0.0
        } else {
            let places = (DEEPEST / STEP).round();
            let mut depth = -LEAST_RAISED;
            let mut sum = 0.0;
            while depth > -DEEPEST {
                sum += feet(depth);
                depth -= STEP;
            }
            // What most lines agree on is the wheel.
            let most = self.agree >= 3 && 2 * self.agree > self.lines;
            if most { 0.0 } else { RAISED * sum / places * self.as_listed(0.0) }
        };
        let total = sound + damaged + raised + over;
        let share = |of: f64| if total > 0.0 { of / total } else { 0.0 };
        if total > 0.0 {
            let damaged = (share(damaged), mean, deviation);
            Weighed { sound: share(sound), damaged, raised: share(raised), over: share(over) }
        } else {
            Weighed { sound: 1.0, damaged: (0.0, 0.0, 0.0), raised: 0.0, over: 0.0 }
        }
    }

    /// The chance that so many lines agree within so much though all are damaged by different depths.
    fn by_chance(&self, agree: usize, within: f64) -> f64 {
        let others = self.lines.saturating_sub(1) as f64;
        let one = (others * within / self.spread.max(within)).min(1.0);
        (1..agree).map(|_| one).product()
    }

    /// How likely rash so deep on the least damaged line differs by no more than the lines do; one where a person lists it.
    fn as_even(&self, depth: f64) -> f64 {
        if self.listed.is_some() {
            return 1.0;
        }
        let others = self.lines.saturating_sub(1);
        let one = (self.lines as f64 * self.spread.max(TURN) / (VARIES * depth)).min(1.0);
        (0..others).map(|_| one).product()
    }

    /// How likely a person lists what is listed, if the least damaged line has a depth; one where nothing is listed.
    fn as_listed(&self, least: f64) -> f64 {
        self.listed.map_or(1.0, |listed| {
            let (share, deviation) = OF_LISTED;
            let share_here = (self.spread + least) / listed;
            if share_here > MORE_THAN_LISTED {
                return (-0.5 * ((share_here - MORE_THAN_LISTED) / 0.05).powi(2)).exp() * MISSED;
            }
            let near = (-0.5 * ((share_here - share) / deviation).powi(2)).exp()
                / (deviation * std::f64::consts::TAU.sqrt());
            (1.0 - MISSED) * near + MISSED
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: Evidence = Evidence {
        least: None,
        lies: 0.0,
        other: None,
        spread: 0.3,
        agree: 2,
        within: 0.01,
        below: None,
        within_below: 0.0005,
        lines: 6,
        listed: None,
    };

    fn with(least: (f64, f64)) -> Weighed {
        Evidence { least: Some(least), ..PLAIN }.weigh()
    }

    #[test]
    fn certain_feet_decide() {
        assert!(with((0.0, 0.005)).sound > 0.9);
        assert!(with((0.15, 0.01)).damaged.0 > 0.99);
        assert!(with((-0.15, 0.01)).raised > 0.99);
    }

    /// What the readings cannot tell is not told as certain: between nothing and a depth both answers live.
    #[test]
    fn uncertain_feet_leave_both_answers() {
        let weighed = with((0.04, 0.014));
        assert!(weighed.damaged.0 > 0.1 && weighed.sound > 0.01, "{weighed:?}");
        assert!((weighed.sound + weighed.damaged.0 + weighed.raised + weighed.over - 1.0).abs() < 1e-12);
        assert!(PLAIN.weigh().damaged.0 > 0.05);
    }

    /// Three that agree where few could by chance are sound, whatever feet that know little say.
    #[test]
    fn many_that_agree_are_sound() {
        let many = Evidence { agree: 4, lines: 5, least: Some((0.05, 0.05)), ..PLAIN };
        assert!(many.weigh().sound > 0.99);
    }

    /// A dip of the same depth on all lines is shape, a turned groove, though the face carried over from both sides knows nothing of it.
    /// Where it differs from line to line, or is listed, it is damage.
    #[test]
    fn a_dip_that_is_the_same_on_all_lines_is_shape() {
        let dip = Evidence { least: Some((0.59, 0.1)), agree: 1, lines: 3, lies: misses(15.0), ..PLAIN };
        let groove = Evidence { spread: 0.005, ..dip };
        assert!(groove.weigh().sound > 0.7, "{:?}", groove.weigh());
        let rash = Evidence { spread: 0.2, ..dip };
        assert!(rash.weigh().damaged.0 > 0.8, "{:?}", rash.weigh());
        let listed = Evidence { listed: Some(0.6), ..groove };
        assert!(listed.weigh().damaged.0 > 0.8, "{:?}", listed.weigh());
    }

    /// A face carried over from both sides that the feet contradict has missed a feature of the face.
    #[test]
    fn many_that_agree_outweigh_a_continuation_that_the_feet_contradict() {
        let feature = Evidence { agree: 6, lines: 7, lies: misses(6.0), ..PLAIN };
        let by_both = Evidence { least: Some((0.5, 0.004)), other: Some((0.03, 0.03)), ..feature };
        assert!(by_both.weigh().sound > 0.9, "{:?}", by_both.weigh());
        let by_one = Evidence { least: Some((0.5, 0.004)), ..feature };
        assert!(by_one.weigh().sound > 0.9, "{:?}", by_one.weigh());
        let all_round = Evidence { agree: 1, lines: 7, ..by_one };
        assert!(all_round.weigh().damaged.0 > 0.9, "{:?}", all_round.weigh());
    }

    /// Where four of five agree below one that stands over them by as much as over the face, that one is off.
    #[test]
    fn one_line_alone_stands_over_the_others_that_agree() {
        let five = Evidence { agree: 1, lines: 5, ..PLAIN };
        let low = Evidence { spread: 0.012, least: Some((-0.009, 0.004)), below: Some((4, 0.012)), ..five };
        assert!(low.weigh().over > 0.5, "{:?}", low.weigh());
        // Others that differ are damaged.
        let scraped = Evidence { below: None, least: Some((0.0, 0.004)), ..five };
        assert!(scraped.weigh().sound > 0.9, "{:?}", scraped.weigh());
    }

    /// A person who measured 0.5 mm where the lines differ by 0.2 mm saw damage that all of them have.
    #[test]
    fn what_is_listed_counts() {
        let listed = Evidence { listed: Some(0.5), spread: 0.2, ..PLAIN };
        assert!(listed.weigh().damaged.0 > PLAIN.weigh().damaged.0);
        let all_there = Evidence { listed: Some(0.2), spread: 0.19, ..PLAIN };
        assert!(all_there.weigh().sound > 0.9);
    }
}
