//! Corrections that are earned but known too badly to be applied.
//!
//! A bend, an eccentricity or what a sensor did is taken off the readings. Where its own standard error, anywhere in the zones on any
//! line, is more than the schedule can bear, taking it off puts that error into the face: it is left out, and told. Of a bend it
//! is the whole departure of a line that counts, tilt and bends together, for shapes that overlap are known badly one by one and
//! well together; the bend whose own part is known worst is left out first. An eccentricity acts across a wall, not along the axis.
//!
//! Limits: tilt is never withheld, for every wheel is mounted somehow; what it leaves open stands in the turn's uncertainty.

use super::columns::{Layout, Terms};
use super::model::{Shape, Withheld, WithheldTerm};
use crate::numeric::cholesky::Symmetric;
use crate::scan::line::Stretch;

/// The term that is known worst, if its standard error is above `tolerated`; and the terms without it.
pub(super) fn worst(
    layout: &Layout,
    terms: &Terms,
    precision: &Symmetric,
    zones: &[Stretch],
    tolerated: f64,
) -> Option<(Withheld, Terms)> {
    let covariance = precision.inverse()?;
    let beyond = |error: f64| (error > tolerated).then_some(error);
    if let Some((index, shape, error)) =
        worst_bend(layout, terms, &covariance, zones).filter(|b| b.2 > tolerated)
    {
        let mut fewer = terms.clone();
        fewer.shapes.remove(index);
        let start = if let Shape::Hinge { start, .. } = shape { start } else { 0.0 };
        return Some((Withheld { term: WithheldTerm::Bend { start }, error }, fewer));
    }
    let mut at = terms.shapes.len() * layout.per_shape();
    let own = |i: usize| covariance.get(i, i).max(0.0).sqrt();
    if terms.eccentric {
        if let Some(error) = beyond(own(at).max(own(at + 1))) {
            let fewer = Terms { eccentric: false, ..terms.clone() };
            return Some((Withheld { term: WithheldTerm::Eccentricity, error }, fewer));
        }
        at += 2;
    }
    let zeros = at + 2 * terms.sensor.len();
    let sensor = terms.sensor.iter().enumerate().map(|(i, &line)| (at + 2 * i, line));
    let zero = terms.zeros.iter().enumerate().map(|(i, &line)| (zeros + i, line));
    // Drift acts up to its whole, hysteresis by its half to either side.
    let errors =
        sensor.map(|(i, line)| (own(i).max(own(i + 1) / 2.0), line)).chain(zero.map(|(i, l)| (own(i), l)));
    let (error, line) = errors.max_by(|a, b| a.0.total_cmp(&b.0)).filter(|e| e.0 > tolerated)?;
    let kept = |of: &[usize]| of.iter().copied().filter(|l| *l != line).collect();
    let fewer = Terms { sensor: kept(&terms.sensor), zeros: kept(&terms.zeros), ..terms.clone() };
    Some((Withheld { term: WithheldTerm::Sensor { line }, error }, fewer))
}

/// The bend that is known worst, where the departures of the lines are: its place among the shapes, itself, and the standard error of
/// a departure there. `None` without a bend.
fn worst_bend(
    layout: &Layout,
    terms: &Terms,
    covariance: &Symmetric,
    zones: &[Stretch],
) -> Option<(usize, Shape, f64)> {
    let per = layout.per_shape();
    let bends: Vec<(usize, Shape)> =
        terms.shapes.iter().copied().enumerate().filter(|(_, s)| matches!(s, Shape::Hinge { .. })).collect();
    // A bend grows outward: where it acts most is the outermost radius of the zones.
    let r = zones.iter().map(|z| z.to).reduce(f64::max).map_or(layout.outermost, |r| r.min(layout.outermost));
    let error_of = |shapes: &[(usize, f64)], line: &[f64]| {
        let mut row = vec![0.0; covariance.size()];
        for &(index, height) in shapes {
            for (c, contrast) in line.iter().enumerate() {
                if let Some(place) = row.get_mut(index * per + c) {
                    *place = height * contrast;
                }
            }
        }
        covariance.quadratic(&row).max(0.0).sqrt()
    };
    let height = |s: &Shape| s.at(r, layout.outermost);
    let all: Vec<(usize, f64)> = terms.shapes.iter().enumerate().map(|(i, s)| (i, height(s))).collect();
    let lines = || layout.contrasts().iter();
    let error = lines().map(|line| error_of(&all, line)).reduce(f64::max)?;
    let own =
        |&(i, s): &(usize, Shape)| lines().map(|line| error_of(&[(i, height(&s))], line)).fold(0.0, f64::max);
    let (index, shape) = bends.into_iter().max_by(|a, b| own(a).total_cmp(&own(b)))?;
    Some((index, shape, error))
}
