//! Drop-outs that look like numbers: a sensor that saw nothing may write 0, nines, or the end of its range, again and again.
//!
//! In measured order, a run of heights that are equal to the bit, with a jump on every side where something follows,
//! is such a drop-out if the trace is otherwise lively (noise makes neighbours differ). A trace without noise may
//! hold flat grooves of exactly one height, so there nothing is taken for a drop-out.
//!
//! At an end of a line no reading beyond tells a small jump from an edge of the face. So 0 and nines are drop-outs there as soon as
//! they lie off the line that leads to them by more than noise: a true height that falls among them at a corner costs one reading,
//! a drop-out that is taken for the face would be turned into the wheel.

use super::noise;
use super::reader::RawPoint;
use crate::geometry::Point;
use crate::numeric::order::median;

/// A jump to a drop-out is at least this high, millimetres: lower than any sentinel stands off a face, higher than
/// neighbouring points of a hand-driven scan differ by noise.
const JUMP: f64 = 0.2;

/// So many readings before and after a run show how steep the face is there.
const BESIDE: usize = 10;

/// How steep is told by chords over so many of them: over two that lie close it would be their noise.
const CHORD: usize = 5;

/// A height other than zero, and not written in nines, must repeat this often to be taken for a drop-out; fewer are left to the spike search.
const REPEATS: usize = 3;

/// Noise explains a distance of this many standard deviations of one reading from the line that leads to it: twice the spread of such
/// a distance, three times over.
const NOISE: f64 = 6.0;

/// Neighbours farther apart than this, in millimetres of radius, are no scan but a drawing, whose flats are meant.
const SPARSE: f64 = 0.6;

/// Indices (from, to) of the runs that are drop-outs, in measured order; `nines` are the lines whose height is written in nines alone,
/// in rising order.
pub(super) fn runs(points: &[RawPoint], nines: &[u32]) -> Vec<(usize, usize)> {
    let equal = points.windows(2).filter(|w| w[0].z == w[1].z).count();
    let mut found = Vec::new();
    let mut sigma = None;
    let mut lively = points.len() - equal;
    let mut from = 0;
    for run in points.chunk_by(|a, b| a.z == b.z) {
        let (start, to) = (from, from + run.len());
        from = to;
        let known = run.first().is_some_and(|p| p.z == 0.0 || nines.binary_search(&p.line).is_ok());
        if !(known || run.len() >= REPEATS)
            || run.len() == points.len()
            || !driven(points, start.saturating_sub(1), to + 1)
        {
            continue;
        }
        let before = || points.get(..=start).unwrap_or_default().iter().rev();
        let behind = || points.get(to.saturating_sub(1)..).unwrap_or_default().iter();
        let mut off_its_end = || {
            let noise =
                *sigma.get_or_insert_with(|| noise::sigma(points.iter().map(|p| Point::new(p.x, p.z))));
            (start == 0 && leaves(behind(), noise)) || (to == points.len() && leaves(before(), noise))
        };
        if (jumps(before()) && jumps(behind())) || (known && off_its_end()) {
            found.push((start, to));
            lively -= 1;
        }
    }
    // What is left must differ from neighbour to neighbour more often than not.
    let left = points.len() - found.iter().map(|(a, b)| b - a).sum::<usize>();
    if 2 * lively > left { found } else { Vec::new() }
}

/// Whether a run of one height is entered by a jump from the readings beside it, the nearest first: by more than the face there
/// rises or falls over that distance. Without this a sensor that sticks on a wall would seem to see nothing.
fn jumps<'a>(mut from: impl Iterator<Item = &'a RawPoint>) -> bool {
    let Some(held) = from.next() else { return true };
    let beside: Vec<&RawPoint> = from.take(BESIDE).collect();
    let Some(next) = beside.first() else { return true };
    let steepness = |a: &RawPoint, b: &RawPoint| {
        let over = (b.x - a.x).abs();
        if over > 0.0 { (b.z - a.z).abs() / over } else { 0.0 }
    };
    let chords = beside.windows(CHORD).filter_map(|w| Some(steepness(w.first()?, w.last()?)));
    let steepest = chords.fold(0.0, f64::max);
    (next.z - held.z).abs() > JUMP + steepest * (next.x - held.x).abs()
}

/// Whether a reading, the first, lies off the straight line of those beside it by more than noise of such a standard deviation.
fn leaves<'a>(mut from: impl Iterator<Item = &'a RawPoint>, sigma: f64) -> bool {
    let Some(end) = from.next() else { return false };
    let beside: Vec<&RawPoint> = from.take(BESIDE).collect();
    let Some(next) = beside.first() else { return false };
    let slope = |w: &[&RawPoint]| {
        let (a, b) = (w.first()?, w.last()?);
        (a.x != b.x).then(|| (b.z - a.z) / (b.x - a.x))
    };
    let mut slopes: Vec<f64> = beside.windows(CHORD).filter_map(slope).collect();
    let led_to = next.z + median(&mut slopes).unwrap_or(0.0) * (end.x - next.x);
    (end.z - led_to).abs() > NOISE * sigma
}

/// Whether the points from one index to before the other lie as close as a sensor's that is driven along.
fn driven(points: &[RawPoint], from: usize, to: usize) -> bool {
    let part = points.get(from..to.min(points.len())).unwrap_or_default();
    part.windows(2).all(|w| (w[1].x - w[0].x).abs() <= SPARSE)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::noise::tests::normal;

    /// A line outward over plain ground and then up a wall of 2 mm a millimetre from radius 100 mm on.
    fn walled() -> Vec<RawPoint> {
        let mut seed = 5;
        let mut at = |i: u32| {
            let x = 80.0 + 0.12 * f64::from(i);
            let z = 2.0 * (x - 100.0).max(0.0) + 0.005 * normal(&mut seed);
            RawPoint { x, z, line: i + 2 }
        };
        (0..200).map(&mut at).collect()
    }

    /// Up the wall neighbours differ by 0.24 mm, more than [`JUMP`]: that a sensor sticks there is no drop-out.
    #[test]
    fn a_sensor_that_sticks_on_a_wall_did_not_see_nothing() {
        let mut points = walled();
        assert_eq!(runs(&points, &[]), []);
        let held = points[180].z;
        for p in &mut points[180..] {
            p.z = held;
        }
        assert!(held - points[179].z > JUMP);
        assert_eq!(runs(&points, &[]), []);
        // The value of a sensor that sees nothing lies off the wall.
        for p in &mut points[180..] {
            p.z = -30.0;
        }
        assert_eq!(runs(&points, &[]), [(180, 200)]);
    }

    /// In a small unit -999 is a height that a wheel may have: at the end of a line and alone it is none, where it jumps.
    #[test]
    fn nines_that_jump_are_drop_outs_and_others_are_heights() {
        let mut points = walled();
        for i in [0, 1, 70, 199] {
            points[i].z = -0.999;
        }
        let nines: Vec<u32> = [0, 1, 70, 199].map(|i: usize| points[i].line).into();
        assert_eq!(runs(&points, &nines), [(0, 2), (70, 71), (199, 200)]);
        assert_eq!(runs(&points, &[]), []);
        let ground = points[71].z;
        assert_eq!(runs(&points[71..199], &[points[71].line]), [], "{ground}");
    }

    /// Up a wall a mark that lies less than a step off is none of the face either, and a reading that leads on is.
    #[test]
    fn at_an_end_nines_need_no_jump() {
        let mut points = walled();
        let ends = [points[0].line, points[199].line];
        assert_eq!(runs(&points, &ends), []);
        points[0].z = 0.099;
        points[199].z += 0.1;
        assert_eq!(runs(&points, &ends), [(0, 1), (199, 200)]);
        assert_eq!(runs(&points, &[]), []);
    }

    #[test]
    fn zeros_on_plain_ground_are_drop_outs() {
        let mut points = walled();
        for p in &mut points {
            p.z += 5.0;
        }
        for p in &mut points[50..53] {
            p.z = 0.0;
        }
        assert_eq!(runs(&points, &[]), [(50, 53)]);
    }
}
