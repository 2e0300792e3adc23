//! Rounds speeds and feeds to values that a control's words can express ("nameable").
//!
//! F and S words have few digits, so a requested value is rounded down to the nearest that a word can express.
//! It is rounded once, here, so that the plan's times and speeds are those of the program. Rounding down is safe: a finer feed
//! never leaves a rougher face, and a lower speed never loads wheel or edge more.

use super::Control;
use crate::units::{FeedPerRev, MM_PER_INCH, SpindleSpeed, SurfaceSpeed};

/// Fraction of the last digit by which a value may be below the next whole one and still count as equal: binary rounding.
const WHOLE: f64 = 1e-6;

/// The last digit of a feed word: a tenth of a micrometre per revolution, and a similar step in inches.
const FEED_STEP_MM: f64 = 1e-4;
const FEED_STEP_INCH: f64 = 1e-5 * MM_PER_INCH;

/// Surface speeds are whole metres per minute, in inch programs whole feet.
const MM_PER_METRE: f64 = 1000.0;
const MM_PER_FOOT: f64 = 12.0 * MM_PER_INCH;

impl Control {
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
