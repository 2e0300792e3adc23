//! Which readings follow from their neighbours in time, and which stand off them.
//!
//! A line breaks where the height changes by more than noise and slope explain. Long runs without a break are the line, and
//! so are shorter ones that lead on to each other over a spike or a cluster and are long together;
//! what stands between them is suspect: spikes, clusters of wild readings, what a sensor writes over a window. Not
//! all of it is false, so nothing is dropped: short runs on the line between two long ones, and readings that climb from one to
//! the other without turning back (a wall), are calm again, and for the rest the face decides later.

use super::noise::off_line;
use crate::geometry::Point;
use crate::numeric::order::median;

/// Noise explains a difference of two readings up to this many standard deviations of one.
const NOISE: f64 = 6.0;

/// Heights that differ by less than this, millimetres, are never a break: a burr, a grain of dirt.
const LEAST_STEP: f64 = 0.04;

/// The steepest slope that a spot sensor follows on a wall, rise over run: some 79°.
const STEEPEST: f64 = 5.0;

/// So many drop-outs over so many millimetres break a line whatever its slope: nothing is known of the face between.
const DROP_OUTS: (usize, f64) = (5, 0.5);

/// A run of this many readings is the line and no cluster of wild ones.
const LONG: usize = 15;

/// In a scan of few readings a run is long if it holds this share of them.
const LONG_SHARE: usize = 4;

/// A short run within this distance of a long one, millimetres, may lie on the line that leads on from it.
const NEAR: f64 = 1.6;

/// So many readings at the end of a long run may belong to the wild ones beyond the break.
const TAIL: usize = 12;

/// Readings before the tail that tell how the run goes on.
const LEAD: usize = 16;

/// Slope that a short run may have against the straight line between the long runs beside it, rise over run.
const BESIDE: f64 = 0.5;

/// A wall is no wider than this, millimetres.
const WALL: f64 = 3.0;

/// A run of this many readings has a slope of its own and may lead on to another beyond a break.
const LEADS: usize = 3;

/// So many of its readings tell the slope: a wall or a corner further back does not speak.
const LEADING: usize = 6;

/// A run leads on over no more wild readings than a cluster has, and over no more than this, millimetres.
const LEADS_OVER: (usize, f64) = (20, 3.5);

/// Readings nearer to each other than this, millimetres, tell no slope.
const STILL: f64 = 0.05;

/// Change of slope from one reading to the next that a face may make, as rise over run: a corner of some 30°.
const CORNER: f64 = 0.5;

/// A spike makes each neighbour lie off on the other side by the neighbour's share of the way to it; a corner does not.
/// This part of that is asked for, so that noise does not hide one.
const ALTERNATES: f64 = 0.5;

/// Both neighbours' shares together, one at even distances: nearer to the readings beyond them than to the spike, they
/// tell it from a corner no more.
const SHARES: f64 = 0.5;

/// A reading in the order of time, with the drop-outs before it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Known {
    pub point: Point,
    /// Drop-outs between the reading before and this one.
    pub missing_before: usize,
}

/// What became of the readings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Calm {
    /// For each reading whether it stands off its neighbours.
    pub suspect: Vec<bool>,
    /// The long runs, as ranges of readings in the order of time.
    pub long: Vec<(usize, usize)>,
}

/// Tells calm readings from suspects. `sigma` is the noise of one reading.
pub(super) fn calm(readings: &[Known], sigma: f64) -> Calm {
    let longest_short = LONG.min(readings.len().div_ceil(LONG_SHARE));
    let runs = runs(readings, sigma);
    let together = together(readings, sigma, &runs);
    let mut suspect = vec![true; readings.len()];
    let mut mark = |(from, to): (usize, usize), as_suspect: bool| {
        if let Some(part) = suspect.get_mut(from..to) {
            part.fill(as_suspect);
        }
    };
    let mut long: Vec<(usize, usize)> = Vec::new();
    let mut short: Vec<(usize, usize)> = Vec::new();
    for (&run, &together) in runs.iter().zip(&together) {
        if together < longest_short {
            short.push(run);
            continue;
        }
        let mut run = run;
        mark(run, false);
        if let Some(before) = long.last_mut() {
            let tail = tail(readings, sigma, *before);
            let head = head(readings, sigma, run);
            let (left, right) = ((before.0, before.1 - tail), (run.0 + head, run.1));
            // A wall is another level beyond the break; where the line leads on, what stands between is wild.
            let leads = tail + head > 0 && leads_on(readings, sigma, left, right);
            if let Some(wall) = wall(readings, sigma, *before, run).filter(|_| !leads) {
                mark(wall, false);
            } else {
                mark((left.1, before.1), true);
                mark((run.0, right.0), true);
                (*before, run) = (left, right);
                for calm in rejoined(readings, sigma, *before, &short, run) {
                    mark(calm, false);
                }
            }
        }
        short.clear();
        long.push(run);
    }
    for &run in &long {
        for spike in spikes(readings, sigma, run) {
            mark((spike, spike + 1), true);
        }
    }
    Calm { suspect, long }
}

/// Runs without a break, in the order of time.
fn runs(readings: &[Known], sigma: f64) -> Vec<(usize, usize)> {
    let mut from = 0;
    let mut out = Vec::new();
    for (i, pair) in readings.windows(2).enumerate() {
        let [a, b] = pair else { continue };
        if breaks(a, b, sigma) {
            out.push((from, i + 1));
            from = i + 1;
        }
    }
    if from < readings.len() {
        out.push((from, readings.len()));
    }
    out
}

/// Of each run, how many readings it has together with those that lead on to it and from it: a spike or a cluster parts
/// the face in two, but neither part in itself.
fn together(readings: &[Known], sigma: f64, runs: &[(usize, usize)]) -> Vec<usize> {
    let count = |i: usize| runs.get(i).map_or(0, |r| r.1 - r.0);
    let links: Vec<Vec<usize>> = (0..runs.len())
        .map(|i| {
            let Some(&here) = runs.get(i).filter(|_| count(i) >= LEADS) else { return Vec::new() };
            let rest = runs.iter().enumerate().skip(i + 1);
            rest.take_while(|(_, r)| r.0 - here.1 <= LEADS_OVER.0)
                .filter(|(j, r)| count(*j) >= LEADS && leads_on(readings, sigma, here, **r))
                .map(|(j, _)| j)
                .collect()
        })
        .collect();
    let mut before: Vec<usize> = (0..runs.len()).map(count).collect();
    for i in 0..runs.len() {
        for &j in &links[i] {
            before[j] = before[j].max(before[i] + count(j));
        }
    }
    let mut after: Vec<usize> = (0..runs.len()).map(count).collect();
    for i in (0..runs.len()).rev() {
        for &j in &links[i] {
            after[i] = after[i].max(after[j] + count(i));
        }
    }
    (0..runs.len()).map(|i| before[i] + after[i] - count(i)).collect()
}

/// Whether one run leads on to a later one: the straight line on from either meets the other.
fn leads_on(readings: &[Known], sigma: f64, a: (usize, usize), b: (usize, usize)) -> bool {
    let part = |r: (usize, usize)| readings.get(r.0..r.1).unwrap_or_default();
    let (Some(last), Some(first)) = (part(a).last(), part(b).first()) else { return false };
    let (last, first) = (last.point, first.point);
    let dx = first.x - last.x;
    let meets =
        |slope: f64| (first.z - last.z - slope * dx).abs() <= NOISE * sigma + LEAST_STEP + CORNER * dx.abs();
    let lead = |r: &[Known]| slope(&r.iter().map(|k| k.point).collect::<Vec<_>>());
    let a_end = part(a).get(part(a).len().saturating_sub(LEADING)..).unwrap_or_default();
    let b_end = part(b).get(..LEADING.min(part(b).len())).unwrap_or_default();
    dx.abs() <= LEADS_OVER.1 && meets(lead(a_end)) && meets(lead(b_end))
}

/// The slope of points: the median of the slopes of their pairs (H. Theil, 1950), on which a corner among them has no say;
/// none where they stand at one place.
fn slope(points: &[Point]) -> f64 {
    let pairs = points.iter().enumerate().flat_map(|(i, a)| points.iter().skip(i + 1).map(move |b| (a, b)));
    let mut slopes: Vec<f64> =
        pairs.filter(|(a, b)| (b.x - a.x).abs() > STILL).map(|(a, b)| (b.z - a.z) / (b.x - a.x)).collect();
    median(&mut slopes).unwrap_or(0.0)
}

fn breaks(a: &Known, b: &Known, sigma: f64) -> bool {
    let dx = (b.point.x - a.point.x).abs();
    let unseen = b.missing_before >= DROP_OUTS.0 && dx >= DROP_OUTS.1;
    unseen || (b.point.z - a.point.z).abs() > NOISE * sigma + LEAST_STEP + STEEPEST * dx
}

/// The short runs between two long ones that belong to the face.
fn rejoined(
    readings: &[Known],
    sigma: f64,
    before: (usize, usize),
    short: &[(usize, usize)],
    after: (usize, usize),
) -> Vec<(usize, usize)> {
    let at = |i: usize| readings.get(i).map(|r| r.point);
    let (Some(a), Some(b)) = (before.1.checked_sub(1).and_then(at), at(after.0)) else { return Vec::new() };
    let on_the_line = |p: Point| {
        let t = if a.x == b.x { 0.5 } else { (p.x - a.x) / (b.x - a.x) };
        let beside = (p.x - a.x).abs().min((p.x - b.x).abs());
        let off = p.z - (a.z + (b.z - a.z) * t);
        (0.0..=1.0).contains(&t)
            && beside <= NEAR
            && off.abs() <= NOISE * sigma + LEAST_STEP + BESIDE * beside
    };
    let holds = |run: &&(usize, usize)| {
        readings.get(run.0..run.1).unwrap_or_default().iter().all(|r| on_the_line(r.point))
    };
    short.iter().filter(holds).copied().collect()
}

/// What stands between two long runs, if it is a wall.
fn wall(
    readings: &[Known],
    sigma: f64,
    before: (usize, usize),
    after: (usize, usize),
) -> Option<(usize, usize)> {
    let a = readings.get(before.1.checked_sub(1)?)?.point;
    let b = readings.get(after.0)?.point;
    let between = readings.get(before.1..after.0)?;
    is_wall(a, between, b, sigma).then_some((before.1, after.0))
}

/// How many readings at the end of a run leave it: a wild reading a little off the line is no break by itself, but what
/// follows it may be.
fn tail(readings: &[Known], sigma: f64, run: (usize, usize)) -> usize {
    let part = readings.get(run.0..run.1).unwrap_or_default();
    leaving(part.iter().rev().map(|r| r.point), sigma)
}

/// The same at the beginning of a run.
fn head(readings: &[Known], sigma: f64, run: (usize, usize)) -> usize {
    let part = readings.get(run.0..run.1).unwrap_or_default();
    leaving(part.iter().map(|r| r.point), sigma)
}

/// How many of the first points, from a run's end inward, do not lie on the line that the points behind them make.
fn leaving(from_end: impl Iterator<Item = Point>, sigma: f64) -> usize {
    let points: Vec<Point> = from_end.take(TAIL + LEAD).collect();
    let tail = TAIL.min(points.len() / 2);
    let Some(lead) = points.get(tail..).filter(|lead| lead.len() > 1) else { return 0 };
    let slope = slope(lead);
    // Off the line that leads on from the reading behind: a corner turns the line but breaks it nowhere.
    let left = |k: usize| {
        let (p, behind) = (points.get(k - 1)?, points.get(k)?);
        let off = (p.z - behind.z - slope * (p.x - behind.x)).abs();
        Some(off > NOISE * sigma + LEAST_STEP + CORNER * (p.x - behind.x).abs())
    };
    (1..=tail).rev().find(|&k| left(k) == Some(true)).unwrap_or(0)
}

/// Whether the readings climb, or fall, from one place to another without turning back.
fn is_wall(a: Point, between: &[Known], b: Point, sigma: f64) -> bool {
    let way = (b.z - a.z).signum();
    let seen = between.iter().all(|r| r.missing_before < DROP_OUTS.0);
    let mut last = a;
    let climbs = between.iter().map(|r| r.point).chain([b]).all(|p| {
        let on = way * (p.z - last.z) >= -NOISE * sigma;
        last = p;
        on
    });
    seen && climbs && (b.x - a.x).abs() <= WALL
}

/// Single readings of a run that stand off the line between their neighbours, as no corner of a face does.
fn spikes(readings: &[Known], sigma: f64, run: (usize, usize)) -> Vec<usize> {
    let part = readings.get(run.0..run.1).unwrap_or_default();
    let mut found = Vec::new();
    for (i, five) in part.windows(5).enumerate() {
        let [a, b, c, d, e] = five else { continue };
        let [a, b, c, d, e] = [a.point, b.point, c.point, d.point, e.point];
        let off = |p: Point, q: Point, r: Point| {
            let (first, last) = if p.x <= r.x { (p, r) } else { (r, p) };
            off_line(first, q, last)
        };
        let allowed = |factor: f64, p: Point, q: Point| {
            NOISE * factor * sigma + LEAST_STEP + CORNER * (q.x - p.x).abs()
        };
        let (here, factor) = off(b, c, d);
        let near = if (c.x - b.x).abs() < (d.x - c.x).abs() { b } else { d };
        if here.abs() <= allowed(factor, c, near) {
            continue;
        }
        // A spike moves the neighbour on the straight line to it by the neighbour's share of the way.
        let share = |from: Point, p: Point, to: Point| ((p.x - from.x) / (to.x - from.x)).clamp(0.0, 1.0);
        let shares = [share(a, b, c), share(e, d, c)];
        let alternates =
            |side: f64, share: f64| side * here.signum() < -ALTERNATES * share * here.abs() + 2.0 * sigma;
        // Without it the line leads on.
        let (left, left_factor) = off(a, b, d);
        let (right, right_factor) = off(b, d, e);
        if shares.iter().sum::<f64>() >= SHARES
            && alternates(off(a, b, c).0, shares[0])
            && alternates(off(c, d, e).0, shares[1])
            && left.abs() <= allowed(left_factor, a, b)
            && right.abs() <= allowed(right_factor, d, e)
        {
            found.push(run.0 + i + 2);
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(points: impl IntoIterator<Item = (f64, f64)>) -> Vec<Known> {
        points.into_iter().map(|(x, z)| Known { point: Point::new(x, z), missing_before: 0 }).collect()
    }

    fn line(n: u32) -> Vec<(f64, f64)> {
        (0..n).map(|i| 60.0 + 0.07 * f64::from(i)).map(|x| (x, 0.3 * x)).collect()
    }

    fn suspects(points: &[(f64, f64)]) -> Vec<usize> {
        let calm = calm(&known(points.iter().copied()), 0.01);
        (0..points.len()).filter(|&i| calm.suspect[i]).collect()
    }

    #[test]
    fn spikes_and_clusters_are_suspect_and_their_surroundings_are_not() {
        let mut points = line(200);
        points[50].1 += 0.3;
        points[80].1 -= 7.0;
        for (k, p) in points[120..130].iter_mut().enumerate() {
            p.1 += if k % 2 == 0 { 3.0 } else { 3.4 };
        }
        assert_eq!(suspects(&points), [50, 80].into_iter().chain(120..130).collect::<Vec<_>>());
    }

    #[test]
    fn what_stands_between_two_spikes_is_the_line() {
        let mut points = line(200);
        points[50].1 += 4.0;
        points[56].1 += 5.0;
        assert_eq!(suspects(&points), [50, 56]);
    }

    #[test]
    fn wild_readings_that_begin_gently_are_suspect_from_the_first() {
        let mut points = line(200);
        points[100].1 -= 0.38;
        points[101].1 -= 0.67;
        for (k, p) in points[102..110].iter_mut().enumerate() {
            p.1 += if k % 2 == 0 { 3.0 } else { -2.0 };
        }
        assert_eq!(suspects(&points), (100..110).collect::<Vec<_>>());
    }

    #[test]
    fn a_wall_a_lip_and_a_step_are_the_face() {
        // 3 mm up over 0.4 mm, steeper than a slope may be, from a sharp foot to a sharp edge.
        let wall: Vec<_> = line(200).iter().map(|&(x, _)| (x, (7.5 * (x - 66.0)).clamp(0.0, 3.0))).collect();
        assert_eq!(suspects(&wall), [] as [usize; 0]);
        let step: Vec<_> = line(200).iter().map(|&(x, _)| (x, if x > 66.0 { 3.0 } else { 0.0 })).collect();
        assert_eq!(suspects(&step), [] as [usize; 0]);
        let lip: Vec<_> = line(200).iter().map(|&(x, _)| (x, (x - 66.0).max(0.0))).collect();
        assert_eq!(suspects(&lip), [] as [usize; 0]);
    }

    #[test]
    fn a_drawn_profile_of_few_points_is_a_line() {
        assert_eq!(
            suspects(&[(60.0, 0.0), (80.0, 5.0), (90.0, 5.0), (91.0, 3.0), (120.0, 3.0)]),
            [] as [usize; 0]
        );
    }
}
