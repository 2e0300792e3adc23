//! Whether a ball of the size that was said can have made a trace.
//!
//! The path of a ball's centre is the dilation of the face by its disk, and opening it by that disk (eroding, then dilating; ISO 16610-41)
//! gives it back. Where the opening stands below the trace by more than noise explains, over several readings in a row, the trace has an edge sharper than that
//! ball's path can have, and none so large has made it. Readings that stand off their neighbours and whatever lies beyond a gap have no say;
//! one place alone may be a sensor whose zero jumped.

use super::line::{MeasuredLine, Reading, Stretch};
use crate::geometry::envelope::{dilate_disk, erode_disk};
use crate::geometry::{Point, Profile};
use crate::numeric::order::median;

/// So many times its noise a trace stands over its opening by the noise alone in no place of several readings.
const NOISES: f64 = 6.0;

/// Less than this tells nothing, millimetres: chords between readings and their last digits.
const LEAST: f64 = 0.02;

/// So many readings in a row are a place.
const IN_A_ROW: usize = 5;

/// So many places on all lines tell.
const PLACES: usize = 2;

/// The median of so many readings in a row stands for the middle one: a false reading has no say.
const OF: usize = 5;

/// A gap of so many usual spacings, and of this length (millimetres), parts a trace.
const GAP: f64 = 4.0;
const LEAST_GAP: f64 = 0.3;

/// How well the largest radius is found: the quotient of its bounds.
const NEAR: f64 = 1.02;

/// Smallest radius that is tried, millimetres.
const SMALLEST: f64 = 0.05;

/// Traces that no ball of the radius said can have made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Impossible {
    /// The line of the place that shows it best, from zero.
    pub line: usize,
    /// That place.
    pub over: Stretch,
    /// How far the trace stands over what that ball could follow, millimetres.
    pub by: f64,
    /// At how many places on all lines.
    pub places: usize,
    /// The largest radius that could have made all traces, millimetres; none where even the smallest could not.
    pub largest: Option<f64>,
}

/// A place at which a trace stands over its opening.
#[derive(Debug, Clone, Copy)]
struct Excess {
    line: usize,
    over: Stretch,
    by: f64,
}

/// What contradicts a ball of a radius, if it is told by several places.
#[must_use]
pub fn impossible(lines: &[&MeasuredLine], radius: f64) -> Option<Impossible> {
    let traces: Vec<Vec<Trace>> = lines.iter().map(|line| traces(line)).collect();
    let all = |radius: f64| -> Vec<Excess> {
        let of_line = |(line, parts): (usize, &Vec<Trace>)| {
            parts.iter().flat_map(|t| t.excesses(line, radius)).collect::<Vec<_>>()
        };
        traces.iter().enumerate().flat_map(of_line).collect()
    };
    let found = all(radius);
    if found.len() < PLACES {
        return None;
    }
    let worst = found.iter().max_by(|a, b| a.by.total_cmp(&b.by))?;
    let possible = |radius: f64| all(radius).len() < PLACES;
    let (mut could, mut could_not) = (SMALLEST.min(radius / 2.0), radius);
    let some = possible(could);
    while some && could_not > NEAR * could {
        let between = (could * could_not).sqrt();
        if possible(between) { could = between } else { could_not = between }
    }
    let Excess { line, over, by } = *worst;
    Some(Impossible { line, over, by, places: found.len(), largest: some.then_some(could) })
}

/// A part of a line without a gap, in rising order, and the noise of its readings.
struct Trace {
    path: Profile,
    noise: f64,
}

/// The parts of a line that can be held against a ball.
fn traces(line: &MeasuredLine) -> Vec<Trace> {
    let mut out = Vec::new();
    for sweep in line.readings.chunk_by(|a, b| a.sweep == b.sweep) {
        let points = rising(sweep);
        let mut steps: Vec<f64> = points.windows(2).map(|w| w[1].x - w[0].x).collect();
        let gap = (GAP * median(&mut steps).unwrap_or(0.0)).max(LEAST_GAP);
        for part in points.chunk_by(|a, b| b.x - a.x <= gap) {
            if let Ok(path) = Profile::new(calmed(part)) {
                out.push(Trace { path, noise: line.noise });
            }
        }
    }
    out
}

/// The readings of a sweep that stand with their neighbours, in rising order; readings at one radius as their mean.
fn rising(sweep: &[Reading]) -> Vec<Point> {
    let mut points: Vec<Point> = sweep.iter().filter(|r| !r.suspect).map(|r| Point::new(r.x, r.z)).collect();
    points.sort_by(|a, b| a.x.total_cmp(&b.x));
    let mean = |same: &[Point]| {
        let heights: f64 = same.iter().map(|p| p.z).sum();
        same.first().map(|p| Point::new(p.x, heights / same.len() as f64))
    };
    points.chunk_by(|a, b| a.x == b.x).filter_map(mean).collect()
}

/// Each reading as the median of those about it.
fn calmed(part: &[Point]) -> Vec<Point> {
    let middle = |w: &[Point]| {
        let mut heights: Vec<f64> = w.iter().map(|p| p.z).collect();
        Some(Point::new(w.get(OF / 2)?.x, median(&mut heights)?))
    };
    part.windows(OF).filter_map(middle).collect()
}

impl Trace {
    /// The places at which no ball of a radius can have been.
    fn excesses(&self, line: usize, radius: f64) -> Vec<Excess> {
        let points = self.path.points();
        let opened = dilate_disk(&erode_disk(&self.path, radius), radius);
        let limit = LEAST.max(NOISES * self.noise);
        let over = |i: usize, p: &Point| {
            // Along the normal: on a wall little along the radius is much in height.
            (p.z - opened.at(p.x)) / (1.0 + steepest(points, i).powi(2)).sqrt()
        };
        let over: Vec<(f64, f64)> = points.iter().enumerate().map(|(i, p)| (p.x, over(i, p))).collect();
        let runs = over.chunk_by(|a, b| (a.1 > limit) == (b.1 > limit));
        runs.filter(|run| run.len() >= IN_A_ROW)
            .filter_map(|run| {
                let (from, to) = (run.first()?.0, run.last()?.0);
                let by = run.iter().map(|r| r.1).fold(0.0, f64::max);
                (by > limit).then_some(Excess { line, over: Stretch { from, to }, by })
            })
            .collect()
    }
}

/// The steepest slope beside a point.
fn steepest(points: &[Point], i: usize) -> f64 {
    let near = points.get(i.saturating_sub(1)..points.len().min(i + 2)).unwrap_or_default();
    near.windows(2).map(|w| ((w[1].z - w[0].z) / (w[1].x - w[0].x)).abs()).fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::noise::tests::normal;
    use crate::scan::reader::{RawPoint, Scan};
    use crate::scan::{MeasuredLine, clean};

    /// A face with a groove, a step down and a lip, its edges sharp.
    fn face(x: f64) -> f64 {
        let dome = -0.0008 * (x - 90.0).powi(2);
        let groove = if (130.0..136.0).contains(&x) { -1.2 } else { 0.0 };
        let lip = if x > 190.0 { 1.5 } else { 0.0 };
        let scrape = if (160.0..166.0).contains(&x) { -0.3 } else { 0.0 };
        dome + groove + lip + scrape
    }

    /// What a ball reads of it: the greatest over the ball's disk, minus its radius.
    // Counts of steps: small, and not negative.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    fn read(radius: f64, noise: f64, seed: u64, spacing: f64) -> MeasuredLine {
        let mut seed = seed;
        let (fine, reach) = (0.01, radius);
        let steps = (reach / fine).ceil() as i32;
        let path = |x: f64| {
            let at = |k: i32| {
                let dx = (f64::from(k) * fine).clamp(-radius, radius);
                face(x + dx) + (radius * radius - dx * dx).sqrt() - radius
            };
            (-steps..=steps).map(at).fold(f64::NEG_INFINITY, f64::max)
        };
        let count = (145.0 / spacing) as u32;
        let point = |i: u32| {
            let x = 60.0 + spacing * f64::from(i);
            let wild = if i % 331 == 330 { -0.4 } else { 0.0 };
            let z = path(x) + noise * normal(&mut seed) + wild;
            RawPoint { x: (x * 1e4).round() / 1e4, z: (z * 1e4).round() / 1e4, line: i + 1 }
        };
        let scan = Scan { points: (0..count).map(point).collect(), ..Scan::default() };
        clean(&scan, 0.0).line
    }

    #[test]
    fn what_a_ball_has_made_is_possible_and_a_ball_three_times_as_large_is_not() {
        for radius in [0.5, 1.0, 2.5, 5.0] {
            for (noise, spacing) in [(0.002, 0.05), (0.005, 0.1), (0.015, 0.1), (0.004, 0.2)] {
                let lines = [1, 2, 3].map(|seed| read(radius, noise, seed, spacing));
                let lines: Vec<&MeasuredLine> = lines.iter().collect();
                let case = format!("radius {radius}, noise {noise}, spacing {spacing}");
                assert_eq!(impossible(&lines, radius), None, "{case}");
                assert_eq!(impossible(&lines, radius / 2.0), None, "{case}");
                let wrong = impossible(&lines, 3.0 * radius).unwrap_or_else(|| panic!("{case}"));
                let largest = wrong.largest.unwrap_or_else(|| panic!("{case}"));
                assert!((0.95 * radius..2.5 * radius).contains(&largest), "{case}: {wrong:?}");
            }
        }
    }

    #[test]
    fn one_jump_of_the_zero_tells_nothing_of_the_ball() {
        let mut line = read(2.5, 0.004, 1, 0.1);
        for r in line.readings.iter_mut().filter(|r| r.x > 100.0) {
            r.z += 0.1;
        }
        assert_eq!(impossible(&[&line], 2.5), None);
    }
}
