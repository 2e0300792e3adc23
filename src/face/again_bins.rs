//! Readings measured again, gathered in narrow bins: how they stand to the face as it was, and to the surface that passes follow.

use super::again::{Measured, ZONE_END};
use crate::geometry::Profile;
use crate::numeric::order::median;

/// Width of a bin, millimetres: some readings of a usual scan, and narrower than any scrape worth a pass.
pub const BIN: f64 = 0.5;
/// The slope of the face is taken over this length on both sides, millimetres.
const SLOPE: f64 = 0.25;
/// What a reading may be off along X, one standard deviation, millimetres: on a wall that is height. Our own choice.
const ALONG: f64 = 0.01;
/// Steeper than this a bin says nothing of heights.
const WALL: f64 = 1.0;
/// No bin is known better than this, millimetres: the last digit of a usual scan.
const LEAST_ERROR: f64 = 0.001;

/// Readings of one line over one bin.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bin {
    /// The line.
    pub line: usize,
    /// Its radius, millimetres.
    pub x: f64,
    /// Slope of the followed surface there.
    pub slope: f64,
    /// Median height over the face as it was at the line's angle, millimetres.
    pub over: f64,
    /// Median depth below the followed surface as it was, millimetres.
    pub taken: f64,
    /// Standard error of both, millimetres.
    pub error: f64,
    /// Standard error of the face as it was at that angle, beside those of the readings, millimetres.
    pub round: f64,
    /// The zone it lies in, clear of its ends.
    pub zone: Option<usize>,
    /// Whether it lies so near to a zone's end that a fillet may stand there.
    pub near_end: bool,
    /// Whether it is of metal that no pass could cut.
    pub uncut: bool,
}

impl Bin {
    /// The bin with the sensor's zero and its offset in X taken off.
    pub fn levelled(self, zero: f64, across: f64) -> Self {
        let off = zero - self.slope * across;
        Self { over: self.over - off, taken: self.taken + off, ..self }
    }

    /// Whether metal is gone there.
    pub fn is_cut(&self, least: f64) -> bool {
        -self.over > 3.0 * self.error + least
    }
}

/// The slope of a profile about a radius.
pub(super) fn slope(profile: &Profile, x: f64) -> f64 {
    (profile.at(x + SLOPE) - profile.at(x - SLOPE)) / (2.0 * SLOPE)
}

/// The bins of all lines, in the order of lines and radii; where the face says nothing there is none.
pub(super) fn bins(measured: &Measured<'_>) -> Vec<Bin> {
    let round = measured.model.round();
    let mut all = Vec::new();
    for (k, line) in measured.lines.iter().enumerate() {
        let mut readings: Vec<_> =
            line.readings.iter().filter(|r| !r.suspect && r.x.is_finite() && r.z.is_finite()).collect();
        readings.sort_by(|a, b| a.x.total_cmp(&b.x));
        for group in readings.chunk_by(|a, b| (a.x / BIN).floor() == (b.x / BIN).floor()) {
            let n = group.len() as f64;
            let x = group.iter().map(|r| r.x).sum::<f64>() / n;
            let slope = slope(measured.followed, x);
            let middle = |of: &dyn Fn(f64) -> f64| {
                let mut heights: Vec<f64> = group.iter().map(|r| of(r.x) - r.z).collect();
                median(&mut heights)
            };
            let place = Place::of(measured, k, x, slope);
            let surface = |x: f64| measured.model.surface_at(x, line.at);
            let (Some(below), Some(taken), Some(place)) =
                (middle(&surface), middle(&|x| measured.followed.at(x)), place)
            else {
                continue;
            };
            // The standard error of a median of normal values is √(π/2) times that of their mean.
            let read = line.noise * (std::f64::consts::FRAC_PI_2 / n).sqrt();
            let error = read.hypot(slope * ALONG).hypot(LEAST_ERROR);
            let own = measured.model.face_error_at(x);
            let uncertain = (round.at(x).uncertainty / 2.0).powi(2) - own * own;
            all.push(Bin {
                line: k,
                x,
                slope,
                over: -below,
                taken,
                error,
                round: uncertain.max(0.0).sqrt(),
                zone: place.zone,
                near_end: place.near_end,
                uncut: place.uncut,
            });
        }
    }
    all
}

/// Where a bin lies.
struct Place {
    zone: Option<usize>,
    near_end: bool,
    uncut: bool,
}

impl Place {
    /// None where nothing may be read off the face.
    fn of(measured: &Measured<'_>, line: usize, x: f64, slope: f64) -> Option<Self> {
        let model = measured.model;
        let beyond = x < measured.followed.start() || x > measured.followed.end();
        let own = measured.lines.get(line).is_some_and(|l| l.no_metal.iter().any(|s| s.holds(x)));
        let silent = measured.silent.iter().any(|s| s.holds(x));
        if beyond || own || silent {
            return None;
        }
        let wall = slope.abs() > WALL;
        let ends = |z: &crate::job::Zone| [z.from.as_mm(), z.to.as_mm()];
        let near_end = measured.zones.iter().flat_map(ends).any(|end| (x - end).abs() < ZONE_END);
        let zone = measured.zones.iter().position(|z| z.from.as_mm() <= x && x <= z.to.as_mm());
        let doubtful = model.damage.iter().any(|d| d.stretch.holds(x))
            || model.unwitnessed.iter().any(|u| u.stretch.holds(x))
            || model.contested.iter().any(|c| c.stretch.holds(x));
        let uncut = zone.is_none() && !near_end && !doubtful && !wall;
        Some(Self { zone: zone.filter(|_| !near_end && !wall), near_end, uncut })
    }
}
