//! Corners of a pass's path, and what shows each: the readings, or a zone's end.
//!
//! A nose that leaves one place of the face for another at once turns by the difference of the slopes at the two contacts. What the readings
//! say of that difference is the difference itself over its standard error. Beyond [`SHOWN`] of these the corner is the
//! face's, and the written path keeps it; under that the path goes round with tangents that agree. Where a contact lies outside the zone the
//! corner is that of the metal that is left alone, which the job asks for.

use super::surface;
use crate::face::StandardErrors;
use crate::fit::Corner;
use crate::geometry::{Curve, Outline};
use crate::job::Zone;
use crate::units::Angle;

/// A turn beyond so many standard errors is no noise: of some hundred places that noise could make a corner of, none comes so far.
const SHOWN: f64 = 5.0;

/// A contact this far outside a zone lies on the metal that is left alone, millimetres: less than what any sensor tells.
const OUTSIDE: f64 = 0.01;

/// What shows that a corner of the path is one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Evidence {
    /// The readings, with the standard error of the turn.
    Readings(Angle),
    /// Metal that is left alone where the zone ends.
    ZoneEnd,
    /// The face was given, not measured.
    Given,
}

/// What shows a corner of a path over a face in a zone; none where the readings leave it in doubt.
pub(super) fn evidence(
    corner: &Corner,
    (path, tool): (&Curve, &Outline),
    zone: Zone,
    errors: Option<&StandardErrors>,
    beside: f64,
) -> Option<Evidence> {
    let contacts = [corner.x - beside, corner.x + beside].map(|x| surface::contact_at(path, tool, x));
    let outside = |r: &f64| *r < zone.from.as_mm() + OUTSIDE || *r > zone.to.as_mm() - OUTSIDE;
    if contacts.iter().any(outside) {
        return Some(Evidence::ZoneEnd);
    }
    let Some(errors) = errors else { return Some(Evidence::Given) };
    let headings = [corner.x - beside, corner.x + beside].map(|x| path.slope_at(x).atan());
    // dθ = cos²θ·ds
    let error = |(r, heading): (&f64, &f64)| errors.slope.at(*r) * heading.cos().powi(2);
    let error = contacts.iter().zip(&headings).map(error).fold(0.0_f64, f64::hypot);
    (corner.turn.abs() >= SHOWN * error).then_some(Evidence::Readings(Angle::rad(error)))
}
