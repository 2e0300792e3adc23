//! Zones that run off the metal: past the rim, past the bore.
//!
//! A zone that ends inside the face ends with a lift, and beside it metal stays as it was. One that runs off ends where the metal does: the
//! tool goes on at feed until its nose is clear. Where the metal ends is a person's word: at the last reading of the face, or at a radius
//! that is given. Beyond, there is nothing to cut, as far as anyone has said; nobody has measured it.
//!
//! Between two zones both run off where a window lies all round: each with the radius of its edge, for no last reading tells it. In the window is no
//! metal, as far as anyone has said.

use super::wheel::Zone;
use super::{Job, fields};
use crate::diagnostics::Mismatch;
use crate::units::{Length, QuantityError};
use serde::{Deserialize, Deserializer};

/// Where the metal ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum MetalEnd {
    /// At the last reading of the face.
    LastReading,
    /// At a radius that a person gave; readings beyond it are not of the face.
    Radius(Length),
}

impl MetalEnd {
    /// The radius that a person gave, if one did.
    pub(super) const fn radius(self) -> Option<Length> {
        match self {
            Self::LastReading => None,
            Self::Radius(radius) => Some(radius),
        }
    }

    /// Whether it is at a radius that a person gave.
    pub(super) fn is_at(self, radius: Length) -> bool {
        self.radius() == Some(radius)
    }
}

/// The ends of the face and the windows where zones run off.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RunsOff {
    /// Where the innermost zone runs off, if it does.
    pub inner: Option<MetalEnd>,
    /// Where the outermost zone runs off, if it does.
    pub outer: Option<MetalEnd>,
    /// The windows between zones, in rising order: from the edge of one zone to that of the next.
    pub windows: Vec<[Length; 2]>,
}

impl RunsOff {
    /// Whether any zone runs off.
    #[must_use]
    pub const fn any(&self) -> bool {
        self.inner.is_some() || self.outer.is_some() || !self.windows.is_empty()
    }

    /// The windows, millimetres.
    pub fn windows_mm(&self) -> impl Iterator<Item = [f64; 2]> + Clone {
        self.windows.iter().map(|window| window.map(Length::as_mm))
    }

    /// Whether a radius, millimetres, lies in a window and not at its edge.
    #[must_use]
    pub fn in_window(&self, x: f64) -> bool {
        self.windows_mm().any(|[from, to]| from < x && x < to)
    }

    /// Between which radii a reading may be of the face, millimetres.
    #[must_use]
    pub fn metal(&self) -> [f64; 2] {
        self.edges([f64::NEG_INFINITY, f64::INFINITY])
    }

    /// Where the metal ends, millimetres: where a person says, else at the ends of the face.
    #[must_use]
    pub fn edges(&self, [first, last]: [f64; 2]) -> [f64; 2] {
        let given = |end: Option<MetalEnd>, otherwise: f64| match end {
            Some(MetalEnd::Radius(radius)) => radius.as_mm(),
            _ => otherwise,
        };
        [given(self.inner, first), given(self.outer, last)]
    }
}

impl Job {
    /// The job with the zones that run off ending where the metal does, millimetres.
    #[must_use]
    pub fn with_metal_between(&self, [first, last]: [f64; 2]) -> Self {
        let mut job = self.clone();
        if let Some(zone) = job.zones.first_mut().filter(|_| self.runs_off.inner.is_some()) {
            zone.from = Length::mm(first);
        }
        if let Some(zone) = job.zones.last_mut().filter(|_| self.runs_off.outer.is_some()) {
            zone.to = Length::mm(last);
        }
        job
    }

    /// Whether the zone of this index runs off at its inner and at its outer end.
    #[must_use]
    pub fn zone_runs_off(&self, index: usize) -> [bool; 2] {
        let last = self.zones.len().saturating_sub(1);
        let RunsOff { inner, outer, windows } = &self.runs_off;
        let zone = self.zones.get(index);
        let behind_window = zone.is_some_and(|zone| windows.iter().any(|[_, to]| *to == zone.from));
        let before_window = zone.is_some_and(|zone| windows.iter().any(|[from, _]| *from == zone.to));
        [inner.is_some() && index == 0 || behind_window, outer.is_some() && index == last || before_window]
    }
}

/// An end of a zone as written: a radius, `edge`, or `edge` with its radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum ZoneEnd {
    At(Length),
    Edge(MetalEnd),
}

/// A zone as written.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub(super) struct ZoneFile {
    pub(super) from: ZoneEnd,
    pub(super) to: ZoneEnd,
}

/// Stands for the radius of an edge until the face is known, millimetres: beyond any wheel, so that no other zone lies farther out.
const OUTSIDE: Length = Length::mm(1e6);

/// The same inside any wheel.
const INSIDE: Length = Length::mm(1.0);

impl ZoneFile {
    /// The zone; an edge whose radius is not known yet lies beyond any other.
    pub(super) fn zone(&self) -> Zone {
        let at = |end: ZoneEnd, unknown: Length| match end {
            ZoneEnd::At(radius) | ZoneEnd::Edge(MetalEnd::Radius(radius)) => radius,
            ZoneEnd::Edge(MetalEnd::LastReading) => unknown,
        };
        Zone { from: at(self.from, INSIDE), to: at(self.to, OUTSIDE) }
    }
}

impl ZoneFile {
    /// Its radii, as far as they are written.
    pub(super) fn radii(&self) -> impl Iterator<Item = Length> {
        [self.from, self.to].into_iter().filter_map(|end| match end {
            ZoneEnd::At(radius) | ZoneEnd::Edge(MetalEnd::Radius(radius)) => Some(radius),
            ZoneEnd::Edge(MetalEnd::LastReading) => None,
        })
    }
}

impl ZoneEnd {
    pub(super) const fn edge(self) -> Option<MetalEnd> {
        match self {
            Self::Edge(end) => Some(end),
            Self::At(_) => None,
        }
    }
}

impl<'de> Deserialize<'de> for ZoneEnd {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let refused = Mismatch::expected(
            "a length above zero, or `edge` where the tool runs off the metal",
            "write for example `216 mm`, `edge` for the last reading of the face, or `edge 221.4 mm`",
        );
        fields::text(from, refused.clone(), |text| {
            if text == "edge" {
                return Ok(Self::Edge(MetalEnd::LastReading));
            }
            if let Some(radius) = fields::length_after("edge", text, &refused) {
                return radius.map(|radius| Self::Edge(MetalEnd::Radius(radius)));
            }
            let radius: Length = text.parse().map_err(|e: QuantityError| Mismatch::from(e))?;
            if radius.as_mm() < 0.0 {
                return Err(Mismatch::expected("a length of zero or more", "write a length of zero or more"));
            }
            Ok(Self::At(radius))
        })
    }
}
