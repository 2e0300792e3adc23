//! The texture that feed and nose leave: the ideal scallop, its Rz and Ra, and the feed that a target asks for.
//!
//! A round nose of radius r fed by f for each revolution leaves arcs that meet in cusps, so one period
//! of the surface is `z(t) = r − √(r² − t²)` for |t| ≤ f/2. Everything here is exact for that arc; the
//! handbook forms f²/(8·r) and 0.0321·f²/r are its limits for f ≪ r. Source: standard theory of
//! turning with a round nose; Ra by its definition in ISO 4287 (ISO 21920-2) over one period. A real
//! edge leaves a rougher face than the ideal one, never a finer.

use super::PlanError;
use crate::job::{Feed, UnitWord};
use crate::units::{FeedPerRev, Length, MM_PER_INCH};

/// Halvings that bring a bracket of the feed down to the last bit of an f64.
const HALVINGS: u32 = 60;

/// Feed below which an edge only rubs, mm a revolution; the finest finishing feeds are some ten times that (common practice, no source).
const FINEST_FEED: f64 = 0.005;

/// Share of a step by which a feed may miss the next whole step and still count as it: room for rounding, no more.
const WHOLE_STEP: f64 = 1e-6;

/// The finest Rz that an edge leaves, by its own rounding: about 0.02 of it, whatever the feed.
///
/// Source: T. H. C. Childs and others, Surface finishes from turning and facing with round nosed tools, CIRP Annals 57 (2008), abstract.
#[must_use]
pub fn finest_rz(cutting_edge_radius: Length) -> Length {
    cutting_edge_radius * 0.02
}

/// The feed that a schedule asks for. One that a height of ridges asks for is rounded down to what an F word names, 0.001 mm or
/// 0.0001 in, so that the face turns out no rougher than asked.
///
/// # Errors
/// If the texture needs a feed under that, or the feed only rubs or leaves metal between the turns.
pub fn feed_of(feed: Feed, nose_radius: Length, unit: UnitWord) -> Result<FeedPerRev, PlanError> {
    let feed = feed_asked(feed, nose_radius, unit)?;
    if (FINEST_FEED..=nose_radius.as_mm()).contains(&feed.as_mm_per_rev()) {
        Ok(feed)
    } else {
        Err(PlanError::FeedRange { feed, nose: nose_radius })
    }
}

fn feed_asked(feed: Feed, nose_radius: Length, unit: UnitWord) -> Result<FeedPerRev, PlanError> {
    let exact = match feed {
        Feed::PerRev(feed) => return Ok(feed),
        Feed::Rz(height) => feed_for_scallop(height, nose_radius),
        Feed::Ra(ra) => feed_for_mean_roughness(ra, nose_radius),
        Feed::Grooves(pitch) => FeedPerRev::mm_per_rev(pitch.as_mm()),
    };
    let step = match unit {
        UnitWord::G20 | UnitWord::G70 => 0.0001 * MM_PER_INCH,
        UnitWord::G21 | UnitWord::G71 => 0.001,
    };
    // Grooves are matched to grooves: the nearest feed that a word can name, not the next below, and to one place more.
    let (step, room) = match feed {
        Feed::Grooves(_) => (step / 10.0, 0.5),
        _ => (step, WHOLE_STEP),
    };
    let steps = (exact.as_mm_per_rev() / step + room).floor();
    if steps < 1.0 { Err(PlanError::TextureTooFine) } else { Ok(FeedPerRev::mm_per_rev(steps * step)) }
}

/// Height of the ideal scallop from valley to cusp, `r − √(r² − f²/4)`; with one scallop a feed, Rz and Rt are this.
///
/// A feed of twice the nose radius or more leaves metal between the passes; the height is then the whole nose radius.
#[must_use]
pub fn scallop(feed: FeedPerRev, nose_radius: Length) -> Length {
    let (half, r) = (feed.as_mm_per_rev() / 2.0, nose_radius.as_mm());
    if half >= r {
        return nose_radius;
    }
    // r − √(r² − h²) without the cancellation.
    Length::mm(half * half / (r + (r * r - half * half).sqrt()))
}

/// Ra of the ideal scallop: the mean distance from the mean line over one feed.
#[must_use]
pub fn mean_roughness(feed: FeedPerRev, nose_radius: Length) -> Length {
    let r = nose_radius.as_mm();
    let half = (feed.as_mm_per_rev() / 2.0).min(r);
    if half <= 0.0 {
        return Length::mm(0.0);
    }
    // ∫₀ᵗ √(r² − s²) ds
    let under_arc = |t: f64| 0.5 * (t * (r * r - t * t).max(0.0).sqrt() + r * r * (t / r).min(1.0).asin());
    let mean = r - under_arc(half) / half;
    let crossing = (r * r - (r - mean) * (r - mean)).max(0.0).sqrt();
    let below = (mean - r) * crossing + under_arc(crossing);
    Length::mm(2.0 * below / half)
}

/// The feed whose ideal scallop is this high: `f = 2·√(2·r·h − h²)`.
#[must_use]
pub fn feed_for_scallop(height: Length, nose_radius: Length) -> FeedPerRev {
    let (h, r) = (height.as_mm(), nose_radius.as_mm());
    let h = h.min(r);
    FeedPerRev::mm_per_rev(2.0 * (2.0 * r * h - h * h).sqrt())
}

/// The feed whose ideal scallop has this Ra, by halving: Ra grows with the feed.
#[must_use]
pub fn feed_for_mean_roughness(ra: Length, nose_radius: Length) -> FeedPerRev {
    let (mut low, mut high) = (0.0, 2.0 * nose_radius.as_mm());
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if mean_roughness(FeedPerRev::mm_per_rev(middle), nose_radius) < ra {
            low = middle;
        } else {
            high = middle;
        }
    }
    FeedPerRev::mm_per_rev(low)
}

#[cfg(test)]
mod tests {
    use super::*;
    use float_cmp::assert_approx_eq;
    use proptest::prelude::*;

    /// f = 0.2 mm, r = 0.8 mm: Rt 6.25 µm by f²/(8·r), Ra 1.6 µm by 0.0321·f²/r.
    /// Source: standard theory of turning; Machinery's Handbook (from memory).
    #[test]
    fn handbook_forms_are_the_limit_for_small_feeds() {
        let (feed, nose) = (FeedPerRev::mm_per_rev(0.2), Length::mm(0.8));
        assert!((scallop(feed, nose).as_mm() - 0.00625).abs() < 0.000_03);
        assert!((mean_roughness(feed, nose).as_mm() - 0.0016).abs() < 0.000_01);
        let small = FeedPerRev::mm_per_rev(0.01);
        let ideal = 0.01 * 0.01 / (18.0 * 3f64.sqrt() * 0.8);
        assert_approx_eq!(f64, mean_roughness(small, nose).as_mm() / ideal, 1.0, epsilon = 1e-4);
    }

    #[test]
    fn a_feed_beyond_the_nose_leaves_the_whole_nose() {
        assert_eq!(scallop(FeedPerRev::mm_per_rev(3.0), Length::mm(0.8)), Length::mm(0.8));
    }

    proptest! {
        /// Feed to roughness and back.
        #[test]
        fn feed_and_texture_are_inverse(feed in 0.01f64..0.8, nose in 0.4f64..2.0) {
            let (f, r) = (FeedPerRev::mm_per_rev(feed), Length::mm(nose));
            prop_assert!((feed_for_scallop(scallop(f, r), r).as_mm_per_rev() - feed).abs() < 1e-9);
            prop_assert!((feed_for_mean_roughness(mean_roughness(f, r), r).as_mm_per_rev() - feed).abs() < 1e-6);
        }

        /// Ra by its definition: the mean distance from the mean line, summed over fine samples.
        #[test]
        fn mean_roughness_is_the_mean_distance(feed in 0.02f64..0.8, nose in 0.4f64..2.0) {
            const SAMPLES: usize = 20_000;
            let r = nose;
            let heights: Vec<f64> = (0..SAMPLES)
                .map(|i| {
                    let t = ((i as f64 + 0.5) / SAMPLES as f64 - 0.5) * feed;
                    r - (r * r - t * t).sqrt()
                })
                .collect();
            let mean = heights.iter().sum::<f64>() / SAMPLES as f64;
            let ra = heights.iter().map(|z| (z - mean).abs()).sum::<f64>() / SAMPLES as f64;
            let exact = mean_roughness(FeedPerRev::mm_per_rev(feed), Length::mm(nose)).as_mm();
            prop_assert!((exact - ra).abs() < 1e-6 * ra.max(1e-3));
        }
    }
}
