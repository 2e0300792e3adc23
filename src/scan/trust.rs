//! Whether a trace can be trusted where it will be cut: gaps, noise, hysteresis, and the places they are found at.

use super::Trace;
use super::report::{Found, Noise, Stretch};
use crate::job::{Job, Zone};
use crate::units::{Length, told_apart};

/// Noise of one place up to this share of the depth of a pass is trusted. The filter takes most of it off; beyond,
/// the depth of a pass would be a matter of chance (common practice, no source).
const NOISE_SHARE: f64 = 0.25;

/// Two ways over one radius may differ by this share of the depth of a pass (common practice, no source).
const WAYS_SHARE: f64 = 0.5;

/// What a trace is held to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// The longest gap in a zone.
    pub gap: Length,
    /// The most noise of one place.
    pub noise: Length,
    /// The most by which two ways over one radius may differ.
    pub ways: Length,
}

impl Limits {
    /// The limits of a job: its longest gap, and shares of its deepest pass.
    #[must_use]
    pub fn of(job: &Job) -> Self {
        let rough = job.schedule.rough.as_ref().map(|r| r.depth.as_mm());
        let depth = rough.or(job.schedule.finish.as_ref().map(|f| f.depth.as_mm())).unwrap_or(0.0);
        Self {
            gap: job.measured.longest_gap,
            noise: Length::mm(NOISE_SHARE * depth),
            ways: Length::mm(WAYS_SHARE * depth),
        }
    }
}

/// Why a trace cannot be trusted.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Distrust {
    /// Nothing was measured over too long a stretch of a zone.
    #[error(
        "nothing was measured from {from:.2} mm to {to:.2} mm, a gap of {}; \
         measure that stretch again",
        against(.at.length(), *.limit, 2),
        from = .at.from.as_mm(), to = .at.to.as_mm()
    )]
    Gap {
        /// Where.
        at: Stretch,
        /// The longest that is bridged.
        limit: Length,
    },
    /// Too noisy.
    #[error(
        "the noise from {from:.2} mm to {to:.2} mm is {} (standard deviation); \
         steady the sensor, or mat the surface, and measure again",
        against(.noise.sigma, *.limit, 4),
        from = .noise.at.from.as_mm(), to = .noise.at.to.as_mm()
    )]
    Noise {
        /// How much and where.
        noise: Noise,
        /// The most that is allowed.
        limit: Length,
    },
    /// The ways out and back disagree.
    #[error(
        "two ways over the radius {at:.1} mm differ by {}; \
         look for play in the slide or a loose sensor, and measure again",
        against(.apart.value, *.limit, 3),
        at = .apart.at.as_mm()
    )]
    Ways {
        /// How much and where.
        apart: Found,
        /// The most that is allowed.
        limit: Length,
    },
}

/// What was found against what is allowed, in as many decimals as tell them apart.
fn against(found: Length, limit: Length, least: usize) -> String {
    let [found, limit] = told_apart(found.as_mm(), limit.as_mm(), least);
    format!("{found} mm where {limit} mm is allowed")
}

/// Every reason not to trust a trace in these zones; none if it can be trusted.
#[must_use]
pub fn doubts(trace: &Trace, zones: &[Zone], limits: &Limits) -> Vec<Distrust> {
    let inside = |s: &Stretch| zones.iter().any(|z| s.meets(&Stretch { from: z.from, to: z.to }));
    let within = |x: Length| zones.iter().any(|z| z.from <= x && x <= z.to);
    let report = &trace.report;
    let gaps =
        gaps(trace, limits.gap).into_iter().filter(inside).map(|at| Distrust::Gap { at, limit: limits.gap });
    let noisy = report.noise_by_stretch.iter().filter(|n| n.sigma > limits.noise && inside(&n.at));
    let noise = noisy.map(|&noise| Distrust::Noise { noise, limit: limits.noise });
    let apart = report.ways.map(|w| w.apart).filter(|a| a.value > limits.ways && within(a.at));
    let ways = apart.map(|apart| Distrust::Ways { apart, limit: limits.ways });
    gaps.chain(noise).chain(ways).collect()
}

/// The gaps of a trace longer than a limit.
fn gaps(trace: &Trace, limit: Length) -> Vec<Stretch> {
    let points = trace.profile.points();
    let long = points.windows(2).filter(|w| w[1].x - w[0].x > limit.as_mm());
    long.map(|w| Stretch { from: Length::mm(w[0].x), to: Length::mm(w[1].x) }).collect()
}
