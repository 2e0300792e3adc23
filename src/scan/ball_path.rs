//! Whether a ball of the size that was said can have made a trace.
//!
//! The path of a ball's centre is the dilation of the face by its disk, and opening it by that disk (eroding, then dilating; ISO 16610-41)
//! gives it back. Where the opening stands below the trace by more than noise explains, the trace has an edge sharper than that
//! ball's path can have, and none so large has made it. What such an edge weighs is the sum over its readings: beside an edge as high
//! as D the excess falls from D to nothing over √(2·R·D − D²), so that a count of readings over one bound would depend on where they happen to lie.
//!
//! Readings that stand off their neighbours have no say. Over what was not read the trace may be as high as it likes, and nothing
//! else is known: a drop over a gap tells as much as the gap leaves of it. One place alone may be a sensor whose zero jumped.

use super::line::{MeasuredLine, Reading, Stretch};
use crate::geometry::envelope::{dilate_disk, erode_disk};
use crate::geometry::{Point, Profile};
use crate::numeric::order::median;

/// So many times its noise a trace stands over its opening by the noise alone in no place of several readings.
const NOISES: f64 = 6.0;

/// Less than this tells nothing, millimetres: chords between readings and their last digits.
const LEAST: f64 = 0.02;

/// This share of the bound still belongs to a place: twice the noise, where the median of five has half of it.
const FOOT: f64 = 1.0 / 3.0;

/// What a place weighs at least: the sum of the excess of its readings, in bounds, one of which is over it.
const WEIGHT: f64 = 5.0;

/// Beyond a pit so many readings in a row of this weight are a place too: a groove's other edge, of which fewer were read.
const OTHER_EDGE: (usize, f64) = (3, 3.0);

/// Such a pit is no wider than this, in radii of the ball.
const PIT: f64 = 4.0;

/// So many readings in a row are a place, or a pit: fewer may be a cluster of false ones that nobody told.
const IN_A_ROW: usize = 5;

/// So many places on all lines tell.
const PLACES: usize = 2;

/// The median of so many readings in a row stands for the middle one: a false reading has no say.
const OF: usize = 5;

/// Chords that could lie this far below a ball's path, millimetres, are not drawn: nothing is known between their ends.
const CHORD: f64 = 0.01;

/// How far from a gap's ends nothing is known, as a share of the gap.
const WITHIN: f64 = 0.02;

/// A gap of so many usual spacings, and of this length (millimetres), parts the readings of which a median is taken.
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

/// A sweep in rising order, and the noise of its readings.
struct Trace {
    points: Vec<Point>,
    /// From the reading before to the one behind each, the widest of those about it, millimetres.
    strides: Vec<f64>,
    noise: f64,
}

/// What noise makes of a trace, millimetres.
fn least(noise: f64) -> f64 {
    LEAST.max(NOISES * noise)
}

/// The sweeps of a line that can be held against a ball.
fn traces(line: &MeasuredLine) -> Vec<Trace> {
    line.readings.chunk_by(|a, b| a.sweep == b.sweep).map(|sweep| trace(sweep, line.noise)).collect()
}

/// A sweep's readings, each as the median of those about it on its side of a gap; clusters that nobody told are none.
fn trace(sweep: &[Reading], noise: f64) -> Trace {
    let read = steady(&rising(sweep), least(noise));
    let mut steps: Vec<f64> = read.windows(2).map(|w| w[1].x - w[0].x).collect();
    let gap = (GAP * median(&mut steps).unwrap_or(0.0)).max(LEAST_GAP);
    let (mut points, mut strides) = (Vec::new(), Vec::new());
    for part in read.chunk_by(|a, b| b.x - a.x <= gap) {
        let calm = calmed(part);
        let wide: Vec<f64> = part.windows(3).map(|w| w[2].x - w[0].x).collect();
        strides.extend((0..calm.len()).map(|i| greatest(&wide, i, OF)));
        points.extend(calm);
    }
    Trace { points, strides, noise }
}

/// The greatest of the values that lie no further than so many from a place.
fn greatest(values: &[f64], at: usize, reach: usize) -> f64 {
    let near = values.get(at.saturating_sub(reach)..values.len().min(at + reach + 1)).unwrap_or_default();
    near.iter().copied().fold(0.0, f64::max)
}

/// The points without those of pits and peaks of fewer than [`IN_A_ROW`] readings, deeper or higher than a bound: on no slope and on no
/// wall does a point stand under the least of what is highest, or over the greatest of what is lowest, in the windows that hold it.
fn steady(points: &[Point], bound: f64) -> Vec<Point> {
    let over = |w: &[Point], side: f64| w.iter().map(|p| side * p.z).fold(f64::NEG_INFINITY, f64::max);
    let [tops, bottoms]: [Vec<f64>; 2] =
        [1.0, -1.0].map(|side| points.windows(IN_A_ROW).map(|w| over(w, side)).collect());
    let across = |of: &Vec<f64>, i: usize| {
        let holding = of.get(i.saturating_sub(IN_A_ROW - 1)..of.len().min(i + 1)).unwrap_or_default();
        holding.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let stands = |(i, p): (usize, &Point)| {
        (across(&tops, i) - p.z <= bound && across(&bottoms, i) + p.z <= bound).then_some(*p)
    };
    points.iter().enumerate().filter_map(stands).collect()
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
        let points = &self.points;
        let Ok(path) = Profile::new(with_gaps(points, radius)) else { return Vec::new() };
        let opened = dilate_disk(&erode_disk(&path, radius), radius);
        // Along the normal: on a wall little along the radius is much in height.
        let over = |i: usize, p: &Point| (p.z - opened.at(p.x)) / (1.0 + steepest(points, i).powi(2)).sqrt();
        // A median takes off a crest what the arc falls over its readings: a stride and a half, less the half by which the crest lies beside.
        let bound = |stride: f64| least(self.noise) + stride.powi(2) / (4.0 * radius);
        let each = points.iter().zip(&self.strides).enumerate();
        let over: Vec<(f64, f64, f64)> = each.map(|(i, (p, s))| (p.x, over(i, p), bound(*s))).collect();
        let stands = |o: &(f64, f64, f64)| o.1 > FOOT * o.2;
        let mut next = 0;
        let runs = over.chunk_by(|a, b| stands(a) == stands(b)).filter_map(|run| {
            next += run.len();
            Run::of(run, next - run.len())
        });
        let runs: Vec<Run> = runs.collect();
        let firm = |run: &Run| run.weighs((IN_A_ROW, WEIGHT));
        let beside = |run: &Run| runs.iter().any(|other| firm(other) && other.over_a_pit(run, PIT * radius));
        let told = runs.iter().filter(|run| firm(run) || run.weighs(OTHER_EDGE) && beside(run));
        told.map(|run| Excess { line, over: run.over, by: run.by }).collect()
    }
}

/// Readings in a row that stand over the opening.
struct Run {
    over: Stretch,
    by: f64,
    /// The sum of their excess, in bounds.
    weight: f64,
    /// The first of them and how many.
    first: usize,
    count: usize,
}

impl Run {
    /// Readings as radius, excess and bound, from the first on; none where no excess is over its bound.
    fn of(run: &[(f64, f64, f64)], first: usize) -> Option<Self> {
        let (from, to) = (run.first()?.0, run.last()?.0);
        run.iter().any(|o| o.1 > o.2).then_some(Self {
            over: Stretch { from, to },
            by: run.iter().map(|o| o.1).fold(0.0, f64::max),
            weight: run.iter().map(|o| o.1 / o.2).sum(),
            first,
            count: run.len(),
        })
    }

    fn weighs(&self, (readings, weight): (usize, f64)) -> bool {
        self.count >= readings && self.weight > weight
    }

    /// Whether another lies beyond readings that were read and are no cluster, no further away than a width.
    fn over_a_pit(&self, other: &Self, width: f64) -> bool {
        let (a, b) = if self.first < other.first { (self, other) } else { (other, self) };
        b.first >= a.first + a.count + IN_A_ROW && b.over.from - a.over.to <= width
    }
}

/// The points, with room between those that are so far apart that a ball of the radius may have gone otherwise than along their chord:
/// as high as the ball's own size, which asks for nothing.
fn with_gaps(points: &[Point], radius: f64) -> Vec<Point> {
    // A chord of length s lies s²/(8·R) below an arc.
    let longest = (8.0 * radius * CHORD).sqrt();
    let mut out: Vec<Point> = Vec::with_capacity(points.len());
    for &p in points {
        if let Some(&last) = out.last().filter(|last| last.distance(p) > longest) {
            let (within, top) = (WITHIN * (p.x - last.x), last.z.max(p.z) + radius);
            out.extend([Point::new(last.x + within, top), Point::new(p.x - within, top)]);
        }
        out.push(p);
    }
    out
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
