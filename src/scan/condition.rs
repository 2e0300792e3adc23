//! Conditioning, step by step: from raw points in measured order to a clean profile and the report of what was done.
//!
//! 1. drop-outs that look like numbers go (`stuck`);
//! 2. points become places of a fixed grid (`cells`);
//! 3. spikes go (`chain`);
//! 4. if the scan turned round, hysteresis and drift are measured, taken off, and steps 2 and 3 done again (`revisit`);
//! 5. single outliers from the robust regression go (`filter`), the filter runs and keeps edges (`adapt`);
//! 6. a probe's ball is taken off (`ball`).

use super::cells::{Place, places};
use super::reader::{RawPoint, Scan};
use super::report::{Edge, Found, Noise, Removed, Report, Stretch, Ways, Why};
use super::robust::{median, noise, off_line};
use super::{adapt, ball, chain, filter, revisit, stuck};
use crate::geometry::profile::ProfileError;
use crate::geometry::{Point, Profile};
use crate::job::{Measured, Sensor};
use crate::units::Length;
use std::borrow::Cow;

/// Noise below this is not believed, millimetres: the last digit of a bench sensor.
const LEAST_NOISE: f64 = 0.001;

/// A point this many cuts off the robust regression, each of three standard deviations, is an outlier if it stands alone.
const OUTLIER: f64 = 1.5;

/// Noise is told by stretches of this many places.
const STRETCH: usize = 100;

/// An edge is told if the plain filter would have moved it by at least this much, millimetres: a tenth of a rough cut.
const EDGE: f64 = 0.01;

/// A gap is told if it is at least this long, millimetres, and this many times the usual spacing.
const GAP: (f64, f64) = (0.5, 4.0);

/// The nose radius for which the lift of the path is told, millimetres.
const NOSE: f64 = 1.0;

/// What conditioning gives.
pub(super) struct Clean {
    /// The clean line.
    pub profile: Profile,
    /// What the profile was filtered from; behind a ball's erosion its own points.
    pub places: Vec<Point>,
    /// Noise of one place, millimetres.
    pub noise: f64,
    /// What was found and done.
    pub report: Report,
}

/// A scan made clean.
pub(super) fn condition(scan: &Scan, measured: &Measured) -> Result<Clean, ProfileError> {
    let mut report = Report { measured: scan.points.len(), missing: scan.missing.len(), ..Report::default() };
    let stuck = stuck::runs(&scan.points);
    let points = without(&scan.points, &stuck);
    let (mut kept, mut skipped) = smooth_places(&points);
    let legs = revisit::legs(&points);
    if let Some(told) = revisited(&points, &legs, &kept) {
        (kept, skipped) = smooth_places(&corrected(&points, &legs, &told));
        report.ways = Some(Ways {
            count: legs.len(),
            hysteresis: Length::mm(told.hysteresis),
            drift: Length::mm(told.drift),
            apart: found(told.most),
        });
    }
    report.most_at_one_place = kept.iter().map(|p| p.count as usize).max().unwrap_or(0);
    report.outvoted = kept.iter().map(|p| p.wild as usize).sum();
    let mut row: Vec<Point> = kept.iter().map(|p| p.point).collect();
    let sigma = noise(&row).unwrap_or(0.0);
    let mut outliers = Vec::new();
    if let Some(cutoff) = measured.filter {
        (row, outliers) = without_outliers(row, cutoff.as_mm(), sigma);
    }
    tell_spacing(&row, &mut report);
    report.noise = Length::mm(sigma);
    report.noise_by_stretch = noise_by_stretch(&row);
    let mut clean = row.clone();
    if let Some(cutoff) = measured.filter {
        let filtered = adapt::filter(&row, cutoff.as_mm(), sigma.max(LEAST_NOISE));
        tell_moves(&row, &filtered, &mut report);
        for (p, f) in clean.iter_mut().zip(&filtered) {
            p.z = f.z;
        }
        let mut left: Vec<f64> = filtered.iter().map(|f| f.variance).collect();
        tell_lift(sigma, median(&mut left).unwrap_or(1.0), &mut report);
    } else {
        tell_lift(sigma, 1.0, &mut report);
    }
    reach_ends(&mut clean, &points);
    let mut face = Profile::new(clean)?;
    report.removed = removed(&scan.points, &stuck, &skipped, &outliers, &face);
    if let Sensor::Ball { diameter } = measured.sensor {
        let (surface, unreached) = ball::surface(&face, diameter.as_mm() / 2.0);
        report.unreached = unreached;
        face = Profile::new(surface)?;
        let noise = report.noise_left.as_mm();
        return Ok(Clean { places: face.points().to_vec(), noise, profile: face, report });
    }
    Ok(Clean { profile: face, places: row, noise: sigma, report })
}

fn without<'a>(points: &'a [RawPoint], runs: &[(usize, usize)]) -> Cow<'a, [RawPoint]> {
    if runs.is_empty() {
        return Cow::Borrowed(points);
    }
    let mut keep = vec![true; points.len()];
    for &(a, b) in runs {
        if let Some(run) = keep.get_mut(a..b) {
            run.fill(false);
        }
    }
    points.iter().zip(keep).filter_map(|(p, keep)| keep.then_some(*p)).collect()
}

/// The places of a smooth chain through the points, and those that it skips.
fn smooth_places(points: &[RawPoint]) -> (Vec<Place>, Vec<Place>) {
    let all = places(points);
    let row: Vec<Point> = all.iter().map(|p| p.point).collect();
    let spikes = chain::spikes(&row, noise(&row).unwrap_or(0.0).max(LEAST_NOISE));
    let (skipped, kept): (Vec<_>, Vec<_>) = all.into_iter().zip(spikes).partition(|(_, spike)| *spike);
    let bare = |v: Vec<(Place, bool)>| v.into_iter().map(|(p, _)| p).collect();
    (bare(kept), bare(skipped))
}

/// What the legs say about each other; none for a scan that never turns.
fn revisited(points: &[RawPoint], legs: &[revisit::Leg], kept: &[Place]) -> Option<revisit::Revisit> {
    if legs.len() < 2 {
        return None;
    }
    let row: Vec<Point> = kept.iter().map(|p| p.point).collect();
    let heights = filter::gaussian(&row, revisit::SHAPE, filter::Order::Line);
    let face = Profile::new(row.iter().zip(heights).map(|(p, z)| Point::new(p.x, z)).collect()).ok()?;
    revisit::compare(points, legs, &face)
}

fn corrected(points: &[RawPoint], legs: &[revisit::Leg], told: &revisit::Revisit) -> Vec<RawPoint> {
    let mut leg = legs.iter().peekable();
    let mut out = true;
    let fix = |(i, p): (usize, &RawPoint)| {
        while let Some(next) = leg.next_if(|l| l.start <= i) {
            out = next.out;
        }
        RawPoint { z: p.z - told.error(i, points.len(), out), ..*p }
    };
    points.iter().enumerate().map(fix).collect()
}

/// The row without single points far off the robust regression, and those points.
fn without_outliers(row: Vec<Point>, cutoff: f64, sigma: f64) -> (Vec<Point>, Vec<Point>) {
    let suspects: Vec<usize> = (1..row.len()).filter(|&i| stands_out(&row, i, cutoff, sigma)).collect();
    if suspects.is_empty() {
        return (row, Vec::new());
    }
    let fit = filter::robust(&row, cutoff, filter::Order::Line, filter::SETTLED);
    let limit = OUTLIER * fit.cut.max(3.0 * LEAST_NOISE);
    let wild = |i: usize| row.get(i).zip(fit.heights.get(i)).is_some_and(|(p, z)| (p.z - z).abs() > limit);
    let gone: Vec<usize> =
        suspects.into_iter().filter(|&i| wild(i) && !wild(i - 1) && !wild(i + 1)).collect();
    let (out, kept): (Vec<_>, Vec<_>) =
        row.iter().enumerate().partition(|(i, _)| gone.binary_search(i).is_ok());
    let bare = |v: Vec<(usize, &Point)>| v.into_iter().map(|(_, p)| *p).collect();
    (bare(kept), bare(out))
}

/// Whether a place lies off the line between two near neighbours by more than noise does.
fn stands_out(row: &[Point], i: usize, cutoff: f64, sigma: f64) -> bool {
    let Some(&[before, here, behind]) = i.checked_sub(1).and_then(|j| row.get(j..j + 3)?.first_chunk::<3>())
    else {
        return false;
    };
    let (off, factor) = off_line(before, here, behind);
    behind.x - before.x < cutoff / 2.0 && off.abs() > OUTLIER * 3.0 * factor * sigma.max(LEAST_NOISE)
}

fn tell_spacing(row: &[Point], report: &mut Report) {
    let mut steps: Vec<f64> = row.windows(2).map(|w| w[1].x - w[0].x).collect();
    let spacing = median(&mut steps).unwrap_or(0.0);
    report.spacing = Length::mm(spacing);
    report.gaps = row
        .windows(2)
        .filter(|w| w[1].x - w[0].x > GAP.0.max(GAP.1 * spacing))
        .map(|w| Stretch { from: Length::mm(w[0].x), to: Length::mm(w[1].x) })
        .collect();
}

fn noise_by_stretch(row: &[Point]) -> Vec<Noise> {
    row.chunks(STRETCH)
        .filter_map(|part| {
            let at = stretch(part.first()?.x, part.last()?.x);
            Some(Noise { at, sigma: Length::mm(noise(part)?) })
        })
        .collect()
}

/// How far the filter moved the trace, and the edges that it would have moved had they not been kept.
fn tell_moves(row: &[Point], filtered: &[adapt::Filtered], report: &mut Report) {
    let mut squares = 0.0;
    let mut open: Option<Edge> = None;
    for (p, f) in row.iter().zip(filtered) {
        let moved = f.z - p.z;
        squares += moved * moved;
        if moved.abs() > report.moved_most.value.as_mm() {
            report.moved_most = found((moved.abs(), p.x));
        }
        let rounded = (f.plain - f.z).abs();
        if rounded < EDGE {
            report.edges.extend(open.take());
            continue;
        }
        let edge = open.get_or_insert(Edge { over: stretch(p.x, p.x), plain: Found::default() });
        edge.over.to = Length::mm(p.x);
        if rounded > edge.plain.value.as_mm() {
            edge.plain = found((rounded, p.x));
        }
    }
    report.edges.extend(open);
    report.moved_rms = Length::mm((squares / row.len().max(1) as f64).sqrt());
}

/// How far a tool's path is lifted by noise: by the greatest of the n independent values under the nose.
///
/// The nose rises by three standard deviations within `√(2·r·3σ)` of its lowest point, and the greatest of n normal
/// values lies about `σ·√(2·ln n)` above their mean (Cramér 1946).
fn tell_lift(sigma: f64, variance: f64, report: &mut Report) {
    let left = sigma * variance.sqrt();
    let width = 2.0 * (2.0 * NOSE * 3.0 * left).sqrt();
    let independent = width * variance / report.spacing.as_mm().max(f64::MIN_POSITIVE);
    report.noise_left = Length::mm(left);
    report.lift = Length::mm(left * (2.0 * independent.max(1.0).ln()).sqrt());
}

/// Lets the profile reach as far as was measured in the cells of its first and last place, along its own slope.
fn reach_ends(clean: &mut Vec<Point>, points: &[RawPoint]) {
    let (Some(&[a, b]), Some(&[c, d])) = (clean.first_chunk::<2>(), clean.last_chunk::<2>()) else { return };
    let xs = || points.iter().map(|p| p.x);
    let along = |p: Point, q: Point, x: f64| Point::new(x, p.z + (q.z - p.z) / (q.x - p.x) * (x - p.x));
    let near = |end: f64, x: f64| (end - x).abs() <= super::cells::CELL;
    if let Some(x) = xs().filter(|&x| x < a.x && near(a.x, x)).reduce(f64::min) {
        clean.insert(0, along(a, b, x));
    }
    if let Some(x) = xs().filter(|&x| x > d.x && near(d.x, x)).reduce(f64::max) {
        clean.push(along(d, c, x));
    }
}

/// What was removed, neighbours of one kind together.
fn removed(
    points: &[RawPoint],
    stuck: &[(usize, usize)],
    skipped: &[Place],
    outliers: &[Point],
    face: &Profile,
) -> Vec<Removed> {
    let off = |p: Point| Length::mm(p.z - face.at(p.x));
    let one =
        |p: Point, count: usize, why| Removed { at: stretch(p.x, p.x), points: count, most: off(p), why };
    let mut out: Vec<Removed> = Vec::new();
    for run in stuck.iter().filter_map(|&(a, b)| points.get(a..b)) {
        let (Some(first), Some(last)) = (run.first(), run.last()) else { continue };
        let at = stretch(first.x.min(last.x), first.x.max(last.x));
        out.push(Removed { at, points: run.len(), most: off(Point::new(first.x, first.z)), why: Why::Stuck });
    }
    let mut spikes: Vec<Removed> = Vec::new();
    for place in skipped {
        let next = one(place.point, place.count as usize, Why::Spike);
        match spikes.last_mut() {
            // Nothing was kept between the two: one cluster.
            Some(last) if kept_between(face, last.at.to, next.at.from) == 0 => {
                last.at.to = next.at.to;
                last.points += next.points;
                if next.most.as_mm().abs() > last.most.as_mm().abs() {
                    last.most = next.most;
                }
            }
            _ => spikes.push(next),
        }
    }
    out.extend(spikes);
    out.extend(outliers.iter().map(|&p| one(p, 1, Why::Outlier)));
    out.sort_by(|a, b| a.at.from.as_mm().total_cmp(&b.at.from.as_mm()));
    out
}

fn kept_between(face: &Profile, from: Length, to: Length) -> usize {
    let before = |x: f64| face.points().partition_point(|p| p.x < x);
    before(to.as_mm()) - before(from.as_mm())
}

const fn stretch(from: f64, to: f64) -> Stretch {
    Stretch { from: Length::mm(from), to: Length::mm(to) }
}

const fn found((value, at): (f64, f64)) -> Found {
    Found { value: Length::mm(value), at: Length::mm(at) }
}
