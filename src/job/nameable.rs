//! Rounds speeds and feeds to values that a control's words can express ("nameable").
//!
//! F and S words have few digits, so a requested value is rounded down to the nearest that a word can express.
//! It is rounded once, here, so that the plan's times and speeds are those of the program. Rounding down is safe: a finer feed
//! never leaves a rougher face, and a lower speed never loads wheel or edge more.

use super::{Arcs, Control, Sequence, XWords};
use crate::units::{FeedPerRev, Length, MM_PER_INCH, SpindleSpeed, SurfaceSpeed};

/// Fraction of the last digit by which a value may be below the next whole one and still count as equal: binary rounding.
const WHOLE: f64 = 1e-6;

/// The last digit of a feed word: a tenth of a micrometre per revolution, and a similar step in inches.
const FEED_STEP_MM: f64 = 1e-4;
const FEED_STEP_INCH: f64 = 1e-5 * MM_PER_INCH;

/// Surface speeds are whole metres per minute, in inch programs whole feet.
const MM_PER_METRE: f64 = 1000.0;
const MM_PER_FOOT: f64 = 12.0 * MM_PER_INCH;

/// The greatest radius of a written arc, millimetres: old controls reckon arcs in few digits, and beyond some metres
/// an arc over a wheel's face is no flatter than the resolution of a line. Common practice, no source.
const FLATTEST_ARC: f64 = 5000.0;

/// Digits of a number beyond any machine's travel.
const MOST_DIGITS: i32 = 9;

/// Characters of an arc's block beside its coordinates: `N99999 `, or nothing without sequence numbers, then `G02`.
const NUMBER_WIDTH: usize = 7;
const MOTION_WIDTH: usize = 3;

impl Control {
    /// The greatest radius of an arc whose block has room in the longest line, where places lie within `furthest` of the axis and of the
    /// height's zero; none where no arc of a lead's size has.
    #[must_use]
    pub fn flattest_arc(&self, furthest: Length) -> Option<Length> {
        let unit = if self.unit_word.is_inch() { MM_PER_INCH } else { 1.0 };
        let x = furthest.as_mm() / unit * if self.x_words == XWords::Diameter { 2.0 } else { 1.0 };
        // A blank, a letter, a sign, a point and decimals, beside the digits before the point.
        let bare = 4 + self.decimals;
        let digits = |value: f64| format!("{:.0}", value.floor()).len();
        let number = if self.sequence == Sequence::None { 0 } else { NUMBER_WIDTH };
        let ends = 2 * bare + digits(x) + digits(furthest.as_mm() / unit);
        let centre_words = if self.arcs == Arcs::Centre { 2 } else { 1 };
        let room = self.longest_line.checked_sub(number + MOTION_WIDTH + ends)? / centre_words;
        let digits = i32::try_from(room.checked_sub(bare)?).ok().filter(|&d| d > 0)?;
        let least_too_long = 10_f64.powi(digits.min(MOST_DIGITS)) * unit;
        Some(Length::mm(FLATTEST_ARC.min(least_too_long - self.resolution.as_mm())))
    }

    /// The greatest feed not above this one that an F word can express.
    #[must_use]
    pub fn nameable_feed(&self, feed: FeedPerRev) -> FeedPerRev {
        let step = if self.unit_word.is_inch() { FEED_STEP_INCH } else { FEED_STEP_MM };
        FeedPerRev::mm_per_rev(not_above(feed.as_mm_per_rev(), step))
    }

    /// The greatest surface speed not above this one that an S word can express.
    #[must_use]
    pub fn nameable_surface_speed(&self, speed: SurfaceSpeed) -> SurfaceSpeed {
        let step = if self.unit_word.is_inch() { MM_PER_FOOT } else { MM_PER_METRE };
        SurfaceSpeed::mm_per_min(not_above(speed.as_mm_per_min(), step))
    }

    /// The greatest whole number of revolutions per minute not above this speed.
    #[must_use]
    pub fn nameable_spindle_speed(&self, speed: SpindleSpeed) -> SpindleSpeed {
        SpindleSpeed::rpm(not_above(speed.as_rpm(), 1.0))
    }
}

/// The greatest multiple of a step not above a value. The value itself where it is a multiple but for rounding,
/// or below one step; the writer refuses the latter.
fn not_above(value: f64, step: f64) -> f64 {
    let steps = (value / step + WHOLE).floor();
    let nearest = steps * step;
    if steps < 1.0 || (nearest - value).abs() < WHOLE * step { value } else { nearest }
}
