//! What was done to a scan on its way to a trace: removed, bridged, moved, left in doubt.

use crate::units::Length;

/// A stretch of radius.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Stretch {
    /// Innermost radius.
    pub from: Length,
    /// Outermost radius.
    pub to: Length,
}

impl Stretch {
    /// How long it is.
    #[must_use]
    pub fn length(&self) -> Length {
        Length::mm(self.to.as_mm() - self.from.as_mm())
    }

    /// Whether it shares a length with another.
    #[must_use]
    pub fn meets(&self, other: &Self) -> bool {
        self.from < other.to && other.from < self.to
    }
}

/// Why points were removed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// The sensor wrote one and the same height again and again, away from all around.
    Stuck,
    /// A spike or a cluster of spikes: no smooth chain through the trace needs the points.
    Spike,
    /// A single point far off the robust regression.
    Outlier,
}

/// Points that were removed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Removed {
    /// Where.
    pub at: Stretch,
    /// How many points.
    pub points: usize,
    /// The most that one of them lay above (or, negative, below) the trace that was kept.
    pub most: Length,
    /// Why.
    pub why: Why,
}

/// A value with the radius at which it was found.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Found {
    /// The value.
    pub value: Length,
    /// The radius.
    pub at: Length,
}

/// The noise of one stretch of the trace.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Where.
    pub at: Stretch,
    /// Standard deviation of one place there.
    pub sigma: Length,
}

/// An edge that the plain filter would have rounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Where the plain filter would have moved the trace.
    pub over: Stretch,
    /// The most by which it would have, and where.
    pub plain: Found,
}

/// What two ways over the same radii say about each other.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Ways {
    /// How many ways between two turns there were.
    pub count: usize,
    /// How much higher the way back reads than the way out; taken off.
    pub hysteresis: Length,
    /// How much the reading rose over the whole scan; taken off.
    pub drift: Length,
    /// The greatest difference between two ways at one place, before anything was taken off.
    pub apart: Found,
}

/// What conditioning found and did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Report {
    /// Points measured, without drop-outs.
    pub measured: usize,
    /// Lines on which the sensor saw nothing.
    pub missing: usize,
    /// The most points that were merged into one place: a pause.
    pub most_at_one_place: usize,
    /// Wild points that others at the same place outvoted.
    pub outvoted: usize,
    /// What was removed beside those, from small radius to large.
    pub removed: Vec<Removed>,
    /// The usual distance between neighbouring places (median).
    pub spacing: Length,
    /// Standard deviation of one place before the filter.
    pub noise: Length,
    /// The same by stretches.
    pub noise_by_stretch: Vec<Noise>,
    /// Standard deviation of what noise the filter left.
    pub noise_left: Length,
    /// How far the noise left lifts the path of a tool of 1 mm nose radius, which rides on its peaks.
    pub lift: Length,
    /// Stretches without a measured place that are long for this trace; bridged by a straight line.
    pub gaps: Vec<Stretch>,
    /// The most that the filter moved a place.
    pub moved_most: Found,
    /// Root mean square of how far it moved all places.
    pub moved_rms: Length,
    /// Edges that the plain filter would have rounded and that were kept.
    pub edges: Vec<Edge>,
    /// What going over the same radii again told; none for a scan that does not turn round.
    pub ways: Option<Ways>,
    /// Stretches that the probe's ball could not reach.
    pub unreached: Vec<Stretch>,
}
